"""Which appliance it is: asked for by keyboard and by voice, named, or set; never guessed."""

from collections.abc import Callable
from pathlib import Path

import pytest
import typer
from typer.testing import CliRunner, Result

from tests.cli.program import run
from tests.cli.voices import END, Ears, Playing, plug_in
from voicetech.authoring.headings import Heading, heading_in
from voicetech.authoring.procedure_files import load_shipped, shipped_headings, shipped_names, shipped_titles
from voicetech.choosing import Choosing
from voicetech.cli import app
from voicetech.cli.appliance import PROCEDURE_VARIABLE, procedure_chosen, procedure_known
from voicetech.cli.joining import UnknownProcedureError
from voicetech.events import Channel, JobOpened
from voicetech.heard import typed
from voicetech.hearing.ears import open_ear
from voicetech.hearing.sound_file import whole_utterance
from voicetech.journal.place import journal_path
from voicetech.journal.store import open_journal
from voicetech.talking import heard_for

SPOKEN = Path(__file__).parent / "spoken_names"
DRYER = "electric-dryer-no-heat"
COOKTOPS = ("electric-coil-cooktop-no-heat", "electric-radiant-cooktop-no-heat")

Typing = Callable[..., list[str]]


@pytest.fixture(autouse=True)
def _none_is_set(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv(PROCEDURE_VARIABLE)


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    folder = tmp_path / "home"
    monkeypatch.setenv("VOICETECH_HOME", str(folder))
    monkeypatch.setenv("COLUMNS", "120")
    return folder


@pytest.fixture
def typing(monkeypatch: pytest.MonkeyPatch) -> Typing:
    """Somebody at a terminal who types these lines, and then leaves."""

    def types(*lines: str) -> list[str]:
        left = list(lines)

        def line(_prompt: str) -> str:
            if not left:
                raise EOFError
            return left.pop(0)

        monkeypatch.setattr("sys.stdin.isatty", lambda: True, raising=False)
        monkeypatch.setattr("builtins.input", line)
        return left

    return types


def begun(home: Path) -> list[str]:
    with open_journal(journal_path(home)) as journal:
        jobs = [journal.events(line.job)[0] for line in journal.jobs()]
    return [event.procedure for event in jobs if isinstance(event, JobOpened)]


@pytest.mark.parametrize(
    "command",
    [("chat", "--plain"), ("talk", "--silent", "--audio", "x.wav"), ("rehearse", "--names"), ("rehearse",)],
    ids=" ".join,
)
def test_a_script_that_names_none_is_told_what_is_worked_and_how_to_name_another(
    tmp_path: Path, command: tuple[str, ...]
) -> None:
    done = run(tmp_path / "home", *command, procedure=None, given=b"no\n")
    told = done.stderr.splitlines()[0]
    assert told.startswith("No appliance was named, so this is electric-range-no-heat.")
    assert "--procedure" in told
    assert PROCEDURE_VARIABLE in told
    assert "Which appliance" not in done.stdout, "nobody is there to be asked"


def test_a_script_that_names_none_works_the_range(tmp_path: Path) -> None:
    home = tmp_path / "home"
    done = run(home, "chat", "--plain", procedure=None, given=b"no\n")
    assert (done.returncode, begun(home)) == (0, ["electric-range-no-heat"])


def test_nobody_is_asked_where_lines_of_json_are_wanted(
    home: Path, typing: Typing, capsys: pytest.CaptureFixture[str]
) -> None:
    left = typing("dryer")
    assert not home.exists()
    assert procedure_chosen(None, asks=False) == "electric-range-no-heat"
    assert left == ["dryer"]
    assert capsys.readouterr().out == ""


def test_the_help_says_so() -> None:
    for command in ("chat", "talk", "rehearse", "serve"):
        shown = " ".join(CliRunner().invoke(app, [command, "--help"], env={"COLUMNS": "200"}).output.split())
        assert PROCEDURE_VARIABLE in shown, command


def test_a_script_names_it_or_sets_it(tmp_path: Path) -> None:
    home = tmp_path / "home"
    named = run(home, "chat", "--plain", "--procedure", "dryer", procedure=None, given=b"no\n")
    fixed = run(home, "chat", "--plain", procedure="dryer", given=b"no\n")
    assert (named.returncode, fixed.returncode) == (0, 0)
    assert begun(home) == [DRYER, DRYER]
    assert (named.stderr, fixed.stderr) == ("", "")


def test_a_job_that_is_taken_up_asks_nothing(tmp_path: Path) -> None:
    home = tmp_path / "home"
    run(home, "chat", "--plain", "--procedure", "dryer", procedure=None, given=b"no\n")
    again = run(home, "chat", "--plain", "--resume", "last", procedure=None, given=b"repeat\n")
    assert again.returncode == 0, again.stderr
    assert begun(home) == [DRYER]


def test_what_is_set_and_is_none_is_told_with_where_it_is_set(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(PROCEDURE_VARIABLE, "kettle")
    with pytest.raises(UnknownProcedureError, match=f"{PROCEDURE_VARIABLE}: .*'kettle'"):
        procedure_known(None)
    assert procedure_known("dryer") == "dryer", "what is named comes first"


def test_the_only_one_there_is_is_not_asked_for(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("voicetech.authoring.procedure_files.shipped_names", lambda: (DRYER,))
    assert procedure_chosen(None) == DRYER


@pytest.mark.parametrize(
    ("lines", "chosen"),
    [
        (["2"], 1),
        (["dryer"], DRYER),
        (["the clothes dryer"], DRYER),
        (["stove"], "electric-range-no-heat"),
        (["0", "99", "", "kettle", "yes", "2"], 1),
        (["cooktop", "the coil cooktop"], COOKTOPS[0]),
        (["cooktop", "radiant cooktop"], COOKTOPS[1]),
        (["electric", "wall"], "electric-wall-oven-no-heat"),
        (["the oven in the wall"], "electric-wall-oven-no-heat"),
        (["it is the customer's oven, built in"], "electric-wall-oven-no-heat"),
        (["one with a glass top"], COOKTOPS[1]),
        (["Electric dryer does not heat or dry as it should"], DRYER),
        (["in the", "dryer range", "skip", "no reason", "number two"], 1),
        (["it sparked last night", "no", "range"], "electric-range-no-heat"),
    ],
)
def test_it_is_asked_at_the_terminal(typing: Typing, lines: list[str], chosen: str | int) -> None:
    left = typing(*lines)
    name = list(shipped_names())[chosen] if isinstance(chosen, int) else chosen
    assert procedure_chosen(None) == name
    assert left == []


def test_the_titles_are_listed_with_their_numbers(typing: Typing, capsys: pytest.CaptureFixture[str]) -> None:
    typing()
    with pytest.raises(typer.Exit):
        procedure_chosen(None)
    shown = " ".join(capsys.readouterr().out.split())
    for number, title in enumerate(shipped_titles().values(), start=1):
        assert f"{number}: {title}" in shown


def test_a_name_of_several_is_asked_about_with_those_alone(typing: Typing, capsys: pytest.CaptureFixture[str]) -> None:
    typing("the electric one, a cooktop that does not heat", "cooktop with a coil")
    assert procedure_chosen(None) == COOKTOPS[0]
    _, shown = capsys.readouterr().out.split("Which one?")
    offered = [line for line in shown.splitlines() if line[:1].isdigit()]
    assert offered == [f"{shipped_names().index(name) + 1}: {shipped_titles()[name]}" for name in COOKTOPS]


@pytest.mark.parametrize(
    ("words", "told"),
    [
        ("smoke", "call 9 1 1"),
        ("stop", "Stopped."),
        ("I got shocked", "doctor"),
        ("I smell gas", "Touch no switch"),
        ("the range is on fire", "Get everybody out"),
        ("the dryer is sparking", "Hands off"),
    ],
)
def test_danger_is_answered_at_once_and_no_job_is_begun(
    typing: Typing, capsys: pytest.CaptureFixture[str], words: str, told: str
) -> None:
    left = typing(words, "range")
    with pytest.raises(typer.Exit):
        procedure_chosen(None)
    shown = " ".join(capsys.readouterr().out.split())
    assert "Stopped." in shown
    assert told.lower() in shown.lower()
    assert "No job was begun" in shown
    assert "start again" not in shown.split("No job was begun")[0], "there is no job to go on with"
    assert left == ["range"]


def talk(*arguments: str) -> Result:
    return CliRunner().invoke(app, ["talk", "--silent", "--plain", "--no-sound", *arguments])


def test_it_is_asked_aloud_where_the_job_is_worked_by_voice(
    home: Path, ears: Ears, monkeypatch: pytest.MonkeyPatch
) -> None:
    ears("the dryer", "yes", "no")
    plug_in(monkeypatch, Playing(END, "no", "no"), Playing(END, "no"))
    result = talk()
    assert begun(home) == [DRYER]
    said = ("Which appliance: ", "technician: the dryer", "Dryer. Is that right?", "technician: yes", "technician: no")
    where = [result.output.index(each) for each in said]
    assert where == sorted(where)


def test_what_was_misheard_is_asked_again_and_begins_nothing(
    home: Path, ears: Ears, monkeypatch: pytest.MonkeyPatch
) -> None:
    ears("dryer", "no", "the wall oven", "yes", "no")
    plug_in(monkeypatch, Playing(END, "no", "no", "no", "no"), Playing(END, "no"))
    result = talk()
    assert result.output.count("Which appliance: ") == 2
    assert begun(home) == ["electric-wall-oven-no-heat"]


def test_a_name_that_nobody_confirmed_begins_nothing(home: Path, ears: Ears, monkeypatch: pytest.MonkeyPatch) -> None:
    ears("dryer", "skip it", "because", "dryer", "no")
    plug_in(monkeypatch, Playing(END, "no", "no", "no", "no", "no"))
    assert talk().exit_code == 1, "the microphone ends"
    assert begun(home) == []


@pytest.mark.parametrize("instead", [["no, the water heater", "water heater"], ["no", "the water heater"]])
def test_a_name_is_corrected_where_it_is_read_back(instead: list[str]) -> None:
    offered = shipped_headings()
    choosing = Choosing(offered, Channel.VOICE, lambda: 1.0)
    choosing.heard(typed("dryer"))
    for words in instead:
        choosing.heard(typed(words))
        assert choosing.chosen is None, "what it was corrected to is read back too"
    assert "Water heater. Is that right?" in choosing.prompt().speak
    assert choosing.heard(typed("yes")).lines == ()
    assert choosing.chosen == "electric-water-heater-no-heat"


def test_people_nearby_choose_nothing(home: Path, ears: Ears, monkeypatch: pytest.MonkeyPatch) -> None:
    ears("what are we having for lunch", "range", "yes")
    plug_in(monkeypatch, Playing(END, "no", "no", "no"), Playing(END, "no"))
    result = talk()
    assert "overheard: what are we having for lunch" in result.output
    assert begun(home) == ["electric-range-no-heat"]


@pytest.mark.parametrize("turns", [("smoke",), ("dryer", "I smell gas")])
def test_danger_is_heard_while_it_is_asked(
    home: Path, ears: Ears, monkeypatch: pytest.MonkeyPatch, turns: tuple[str, ...]
) -> None:
    ears(*turns)
    plug_in(monkeypatch, Playing(END, *("no" for _ in turns)))
    result = talk()
    assert "danger: Stopped." in result.output
    assert "No job was begun" in result.output
    assert begun(home) == []


@pytest.fixture(scope="module")
def by_name() -> dict[str, Path]:
    return {path.stem: path for path in sorted(SPOKEN.glob("*.flac"))}


def test_each_appliance_is_understood_by_the_recogniser(by_name: dict[str, Path]) -> None:
    """Said by a synthetic voice (demo_audio/README.md): each name as it is read out, the coil cooktop as "it is a"."""
    ear = open_ear(None, None)
    offered = shipped_headings()
    assert by_name.keys() == offered.keys()
    for name, path in by_name.items():
        choosing = Choosing(offered, Channel.VOICE, lambda: 1.0)
        choosing.heard(heard_for(choosing, ear, whole_utterance(path)))
        choosing.typed("yes")
        assert choosing.chosen == name


def test_a_heading_is_what_the_whole_procedure_says() -> None:
    for name, heading in shipped_headings().items():
        whole = load_shipped(name)
        said = Heading(whole.title, whole.appliance, whole.call, whole.settings["emergency_number"])
        assert heading == said


@pytest.mark.parametrize("text", ["", "- a list", "title: [a", "title: {a: b}\ncall: x", "just words", "\xff"])
def test_a_heading_of_what_is_no_procedure_is_empty(tmp_path: Path, text: str) -> None:
    (tmp_path / "x.yaml").write_bytes(text.encode("latin-1"))
    heading = heading_in(tmp_path / "x.yaml")
    assert (heading.title, heading.appliance, heading.emergency_number) == ("", "", "")
    assert heading_in(tmp_path / "none.yaml") == Heading()


def test_every_name_that_is_shipped_leads_to_one_appliance_or_to_a_question_between_them() -> None:
    offered = shipped_headings()
    for name, heading in offered.items():
        for called in (*heading.call, heading.appliance):
            choosing = Choosing(offered, Channel.CHAT, lambda: 1.0)
            choosing.typed(called)
            if choosing.chosen is None:
                choosing.typed(heading.call[0])
            assert choosing.chosen == name, called
