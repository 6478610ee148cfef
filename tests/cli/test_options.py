"""Options that would do nothing, days that are none and files that cannot be written: refused before any work."""

import os
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from tests.replay.jobs import session_lines, typed_job
from voicetech.cli import app
from voicetech.journal.place import journal_path
from voicetech.journal.store import open_journal

BOOK = "model,function,part_number\nZQ*,bake element,INV-1\n"
OUTPUTS = (
    ["report", "one", "--out"],
    ["report", "one", "--pdf"],
    ["report", "one", "--csv"],
    ["report", "one", "--json"],
    ["review", "one", "--out"],
    ["jobs", "--plots"],
)


FOLDERS = (["recordings", "one", "--out"], ["review", "one", "--captions"])


@pytest.fixture
def home(job_home: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    with open_journal(journal_path(job_home)) as journal:
        typed_job(journal, "one", session_lines("lost-leg-handed-over")[:12])
    (tmp_path / "work").mkdir()
    monkeypatch.chdir(tmp_path / "work")
    monkeypatch.setenv("COLUMNS", "200")
    return job_home


def run(*arguments: str) -> Result:
    return CliRunner().invoke(app, list(arguments))


def refused(result: Result, says: str, code: int = 2) -> None:
    assert result.exit_code == code, result.output
    assert says in " ".join(result.stderr.replace("│", " ").split())


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["jobs", "--json", "--plots", "x.html"], "--json is for a list"),
        (["jobs", "--figures", "--limit", "3"], "--limit is for the list"),
        (["jobs", "--plots", "x.html", "--limit", "0"], "--limit is for the list"),
        (["jobs", "--shared", "--archive", "sqlite:////x"], "give one of them"),
        (["replay", "one", "--ear", "vosk"], "add --rehear"),
        (["replay", "one", "--model", "folder"], "add --rehear"),
        (["report", "--schema", "--json", "x"], "--json does nothing beside --schema"),
        (["report", "one", "--csv", "x", "--paper", "a4"], "--paper is for a page or a PDF"),
        (["report", "one", "--csv", "x", "--parts", "b.csv"], "--parts is not used"),
        (["review", "one", "--out", "x", "--port", "8000"], "--port is for a page that is shown"),
        (["review", "one", "--out", "x", "--no-browser"], "--no-browser is for a page that is shown"),
        (["review", "one", "--marks", "x", "--without-sound"], "--without-sound is for a page"),
        (["hear", "--check", "folder", "--asking", "voltage"], "the manifest says what was asked"),
        (["hear", "--json", "--asking", "voltage"], "in lines each says what was asked"),
        (["understand", "--json", "--asking", "voltage"], "each line says what was asked"),
        (["rehearse", "--names", "--seed", "0"], "--seed does nothing beside --names"),
        (["rehearse", "--json", "--plain"], "--plain is for practising yourself"),
        (["talk", "--audio", "x.wav", "--push-to-talk"], "--push-to-talk is for a microphone"),
    ],
)
def test_an_option_that_would_do_nothing_is_refused(home: Path, arguments: list[str], says: str) -> None:
    refused(run(*arguments), says)
    assert list(Path.cwd().iterdir()) == []


@pytest.mark.parametrize("option", ["--since", "--until"])
@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("yesterday", "Write year, month and day"),
        ("2026-1-1", "Write year, month and day"),
        ("20261101", "Write year, month and day"),
        ("2026-02-30", "There is no day '2026-02-30' in the calendar"),
        ("9999-12-31", "cannot be right"),
        ("0001-01-01", "cannot be right"),
        ("", "is not a day"),
    ],
)
def test_a_day_that_is_none_is_told_in_plain_words(home: Path, option: str, text: str, says: str) -> None:
    refused(run("jobs", option, text), says)


def test_days_the_wrong_way_round_are_told_and_one_day_is_a_span(home: Path) -> None:
    refused(run("jobs", "--since", "2026-11-27", "--until", "2026-11-26"), "Exchange the two days")
    assert run("jobs", "--since", "2026-11-26", "--until", "2026-11-26").exit_code == 0


@pytest.mark.parametrize("output", OUTPUTS, ids=" ".join)
@pytest.mark.parametrize(
    ("path", "says", "code"),
    [
        ("", "The name of the file is empty", 2),
        ("-", "A file is written, and - is none", 2),
        ("no/where", "There is no folder no", 1),
        ("a-file/x", "a-file is a file, and a folder is needed there", 1),
        (".", "is a folder", 1),
    ],
)
def test_every_output_has_the_same_rule(home: Path, output: list[str], path: str, says: str, code: int) -> None:
    Path("a-file").write_text("kept", encoding="utf-8")
    refused(run(*output, path), says, code)
    assert [each.name for each in Path.cwd().iterdir()] == ["a-file"]
    assert Path("a-file").read_text(encoding="utf-8") == "kept"


@pytest.mark.parametrize("output", FOLDERS, ids=" ".join)
@pytest.mark.parametrize(
    ("path", "says", "code"),
    [
        ("", "The name of the folder is empty", 2),
        ("-", "A folder is written, and - is none", 2),
        ("no/where", "There is no folder no", 1),
        ("a-file/x", "a-file is a file, and a folder is needed there", 1),
    ],
)
def test_every_folder_to_write_has_the_same_rule(
    home: Path, output: list[str], path: str, says: str, code: int
) -> None:
    Path("a-file").write_text("kept", encoding="utf-8")
    journal_path(home).unlink()  # it is refused before the record is looked for
    refused(run(*output, path), says, code)
    assert [each.name for each in Path.cwd().iterdir()] == ["a-file"]


@pytest.mark.parametrize("output", OUTPUTS, ids=" ".join)
def test_what_is_no_file_is_never_replaced(home: Path, output: list[str]) -> None:
    os.mkfifo("pipe")
    refused(run(*output, "pipe"), "is a device or a pipe", 1)
    assert Path("pipe").is_fifo()


def test_a_link_is_followed(home: Path) -> None:
    Path("link").symlink_to("target.csv")
    assert run("report", "one", "--csv", "link").exit_code == 0
    assert Path("link").is_symlink()
    assert Path("target.csv").stat().st_size > 0


@pytest.mark.parametrize("other", ["a", "sub/../a", "link/a", "./a", "to-a"])
def test_two_outputs_are_never_one_file(home: Path, other: str) -> None:
    Path("sub").mkdir()
    Path("link").symlink_to(Path.cwd(), target_is_directory=True)
    Path("to-a").symlink_to("a")
    refused(run("report", "one", "--csv", "a", "--json", other), "name the same file")
    assert not Path("a").exists()


@pytest.mark.parametrize("where", ["own.csv", "link.csv"])
def test_what_is_read_is_not_written_over(home: Path, where: str) -> None:
    Path("own.csv").write_text(BOOK, encoding="utf-8")
    Path("link.csv").symlink_to("own.csv")
    refused(run("report", "one", "--parts", "own.csv", "--pdf", "p.pdf", "--csv", where), "would write over own.csv")
    assert Path("own.csv").read_text(encoding="utf-8") == BOOK
    (home / "parts.csv").write_text(BOOK, encoding="utf-8")
    refused(run("report", "one", "--csv", str(home / "parts.csv")), "the shop's part book")
    assert (home / "parts.csv").read_text(encoding="utf-8") == BOOK


def test_lines_of_the_part_book_that_no_report_uses_are_told(home: Path) -> None:
    Path("own.csv").write_text(f"{BOOK}ZQ*,bake elemant,INV-2\nZQ*,flux box,INV-3\n", encoding="utf-8")
    done = run("report", "one", "--parts", "own.csv", "--out", "r.html")
    assert done.exit_code == 0
    assert (
        "own.csv:3: no part is called 'bake elemant', so it is never used; did you mean 'bake element'?" in done.stderr
    )
    assert "own.csv:4: no part is called 'flux box', so it is never used; write it as a report names it" in done.stderr
    assert "own.csv:2" not in done.stderr
    assert "oven sensor" in done.stderr
    assert Path("r.html").exists()


@pytest.mark.parametrize("named", [True, False])
def test_lines_that_no_report_uses_are_told_beside_what_is_wrong_with_the_part_book(home: Path, named: bool) -> None:
    book = Path("own.csv") if named else home / "parts.csv"
    book.write_text(f"{BOOK}ZQ[9-0],bake elemant,INV-2\nZQ*,flux box,INV-3\n[Z,oven sensor,INV-4\n", encoding="utf-8")
    done = run("report", "one", "--out", "r.html", *(("--parts", str(book)) if named else ()))
    *told, parts = done.stderr.splitlines()[:5]
    assert [line.removeprefix(f"{book}:").split(" ")[0] for line in told] == ["3:", "3:", "4:", "5:"]
    assert "did you mean 'bake element'?" in done.stderr
    assert "goes from 9 back to 0" in done.stderr
    assert "no part is called 'flux box'" in done.stderr
    assert "opens a bracket and does not close it" in done.stderr
    assert parts.startswith("The parts that reports name: ")
    assert done.exit_code == int(named)
    assert Path("r.html").exists() is not named
    assert ("written without the part book" in done.stderr) is not named


def test_a_job_named_in_several_ways_is_gone_through_once(home: Path) -> None:
    done = run("replay", "one", "last", "all", str(home))
    assert done.stdout.count("one: ") == 1
    assert "1 job, " in done.stdout


def test_a_procedure_that_is_not_there_is_told_by_replay_too(home: Path) -> None:
    refused(run("replay", "one", "--procedure", "foo"), "There is no procedure called 'foo'", 1)
