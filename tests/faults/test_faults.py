"""A few of the faults that `python -m tests.faults` puts the real program under; what they found stands here."""

import shutil
from collections.abc import Sequence
from pathlib import Path

import pytest

from tests.faults.bench import DONE, HALF, Bench, made_bench
from tests.faults.company import two_programs
from tests.faults.ends import ctrl_c_at_every_prompt
from tests.faults.homes import try_command
from tests.faults.packages import hidden
from tests.faults.running import ROOT, Surroundings
from tests.faults.terminal import CTRL_D, Terminal


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory) -> Bench:
    return made_bench(tmp_path_factory.mktemp("faults"))


@pytest.mark.parametrize(
    ("package", "command", "says"),
    [
        ("numpy", "chat --resume", "Install voicetech again"),
        ("typer", "jobs", "Install voicetech again"),
        ("onnxruntime", "hear", "voicetech chat"),
        ("typst", "report --pdf", "a page can be made without it"),
        ("uvicorn", "serve", "No page can be shown"),
        ("websockets", "review", "No page can be shown"),
    ],
)
def test_without_a_package_it_is_told_what_to_do(bench: Bench, package: str, command: str, says: str) -> None:
    bench.out()
    around = Surroundings(bench.home(), hidden(bench.folder, package))
    ran = around.run(*bench.words(command), given="status\n", longest_s=60.0)
    assert ran.status == 1
    assert says in ran.err
    assert package in ran.err
    assert ran.err.count("\n") == 1
    assert "http://" not in ran.out, "nobody is given an address where nothing is served"


def test_without_the_ear_the_page_goes_on(bench: Bench) -> None:
    line = try_command(bench, "", "serve", Surroundings(bench.home(), hidden(bench.folder, "onnxruntime")))
    assert line.wrong == ()
    assert "a turn worked" in line.happened


@pytest.mark.parametrize("name", ["home", "home/jobs.db"])
def test_a_link_that_leads_nowhere_is_no_empty_record(tmp_path: Path, name: str) -> None:
    link = tmp_path / name
    link.parent.mkdir(exist_ok=True)
    link.symlink_to(tmp_path / "not-plugged-in")
    for words in (("jobs",), ("chat", "--plain", "--procedure", "range")):
        ran = Surroundings(tmp_path / "home").run(*words, given="status\n")
        assert ran.status == 1
        assert "is a link to a place that is not there" in ran.err


@pytest.mark.parametrize("words", [("chat", "--resume", HALF), ("rehearse", "--fault", "bake-open"), ("chat",)])
def test_bytes_that_are_no_text_are_asked_about(bench: Bench, words: Sequence[str]) -> None:
    with Terminal(Surroundings(bench.home(), {"VOICETECH_PROCEDURE": None}), words) as terminal:
        assert terminal.waits()
        terminal.type(b"\xff\xc3(\n")
        assert terminal.waits()
        terminal.type(CTRL_D)
        ran = terminal.ended()
    assert (ran.status, ran.trace) == (0, False)


@pytest.mark.parametrize("closed", ["<&-", ">&-", "<&- >&- 2>&-"])
def test_with_streams_closed_the_work_is_done(bench: Bench, closed: str) -> None:
    around = Surroundings(bench.home(), before=("sh", "-c", f'exec "$@" {closed}', "sh"))
    for words in (("chat", "--plain", "--resume", HALF), ("report", DONE)):
        ran = around.run(*words)
        assert (ran.status, ran.err) == (0, "")


def test_a_paused_job_says_so_to_whatever_it_does_not_understand(bench: Bench) -> None:
    ran = Surroundings(bench.home()).run("chat", "--plain", "--resume", HALF, given="pause\nxyzzy\n")
    assert ran.out.count("Say resume to go on") == 2


def test_ctrl_c_at_the_first_prompts_loses_nothing(tmp_path: Path) -> None:
    assert ctrl_c_at_every_prompt(tmp_path / "home", most=3).wrong == ()


def test_two_programs_on_one_job_lose_and_double_nothing(tmp_path: Path) -> None:
    assert two_programs(tmp_path / "home", turns=8).wrong == ()


def test_a_program_of_which_a_vocabulary_is_broken_says_which(bench: Bench, tmp_path: Path) -> None:
    for folder in ("voicetech", "dialogs", "grammars", "demo_audio"):
        shutil.copytree(ROOT / folder, tmp_path / folder, ignore=shutil.ignore_patterns("__pycache__", "_shipped"))
    (tmp_path / "grammars" / "danger.yaml").write_bytes(b"\xff")
    around = Surroundings(bench.home(), program=tmp_path)
    for words in (("understand", "two forty"), ("check", str(tmp_path / "dialogs" / "electric-range-no-heat.yaml"))):
        ran = around.run(*words)
        assert ran.status == 1
        assert "danger.yaml: is not UTF-8 text; mend it, or install the program again" in ran.err
