"""Whatever stands behind a command: it works, or one sentence says what is wrong with it."""

import shutil
from functools import cache
from pathlib import Path
from typing import Any

import pytest
import typer
from hypothesis import given
from hypothesis import strategies as st
from typer.testing import CliRunner

from tests.faults.bounds import bounded
from tests.faults.test_fuzz_record import JOB, made
from voicetech.cli import COMMANDS, app
from voicetech.journal.place import journal_path

TOLD_ELSEWHERE = frozenset({"demo"})
"""Commands without anything to say wrong that would be quick to run."""
NAMES = frozenset({"push", "jobs", "replay", "report", "review", "recordings", "forget", "upkeep", "serve"})
"""Commands in which an address of an archive may stand, or be put in a wrong place."""
WORDS = st.one_of(
    st.sampled_from(
        ["", " ", "-", "--", "-1", "0", "1e400", "nan", "inf", "9" * 5_000, "x" * 5_000, "last", JOB, "two", "..", "/",
         "/dev/null", "/proc/self/mem", "\ud800", "\udcff", "a\nb", "[red]x[/red]", "%s%n{}", "~nobody", "./-", "*",
         "2026-13-45", "2026-11-01", "1:2", "=", "a=b", "field=", "=value", "range", "dryer", "oven", "bake-open", "-0",
         "240", "240 V", "1/0", "½", "٣", "\u202e", "postgresql://ann:hunter2@[", "sqlite://", "sqlite:///{0}/x.db",
         "tcp://nowhere:1", "{0}/file", "{0}/folder", "{0}/new", "{0}/none/x", "{0}/sound.wav", "{0}/own.yaml"]
    ),
    st.text(max_size=12),
)  # fmt: skip


@cache
def options_of(command: str) -> tuple[tuple[str, bool], ...]:
    """Return the options of a command and its own commands, each with whether a value follows."""
    found: Any = typer.main.get_command(app)
    context = typer.Context(found)
    _, loaded, _ = found.resolve_command(context, [command])
    inner = getattr(loaded, "commands", {})
    told = [(name, False) for name in inner]
    for each in (loaded, *inner.values()):
        for parameter in each.params:
            told += [(name, not parameter.is_flag) for name in parameter.opts if name.startswith("-")]
    return tuple(told)


@st.composite
def arguments(draw: st.DrawFn, command: str) -> list[str]:
    words: list[str] = []
    options = options_of(command)
    for _ in range(draw(st.integers(0, 5))):
        as_option = draw(st.booleans())
        if options and as_option:
            name, wants_value = options[draw(st.integers(0, len(options) - 1))]
            words.append(name)
            if wants_value or draw(st.integers(0, 9)) == 0:
                words.append(draw(WORDS))
        else:
            words.append(draw(WORDS))
    return words


@pytest.fixture
def place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with a record and files to name; what would go on for ever, or take minutes, ends at once."""
    for name, value in {"VOICETECH_HOME": str(tmp_path / "home"), "COLUMNS": "100", "HOME": str(tmp_path)}.items():
        monkeypatch.setenv(name, value)
    monkeypatch.setattr("voicetech.web.local.LocalServer.serve", lambda _self, _app: None)
    monkeypatch.setattr("webbrowser.open", lambda _address: True)
    monkeypatch.chdir(tmp_path)
    return tmp_path


def refill(place: Path) -> None:
    for each in list(place.iterdir()):
        shutil.rmtree(each) if each.is_dir() else each.unlink()
    (place / "home").mkdir()
    shutil.copy(made(), journal_path(place / "home"))
    (place / "file").write_text("a file", encoding="utf-8")
    (place / "folder").mkdir()
    (place / "sound.wav").write_bytes(b"RIFF")
    (place / "own.yaml").write_text("procedure: own\n", encoding="utf-8")


@pytest.mark.parametrize("command", sorted(set(COMMANDS) - TOLD_ELSEWHERE))
@bounded(12)
@given(data=st.data())
def test_whatever_is_said_to_a_command(place: Path, command: str, data: st.DataObject) -> None:
    refill(place)
    words = [word.replace("{0}", str(place)) for word in data.draw(arguments(command))]
    if command == "prove":
        # A walk of a shipped procedure takes minutes.
        words = [*(word for word in words if word not in ("range", "dryer", "oven")), str(place / "own.yaml")]
    done = CliRunner().invoke(app, [command, *words], input="status\n")
    if done.exception is not None and not isinstance(done.exception, SystemExit):
        raise done.exception
    assert done.exit_code in (0, 1, 2), words
    assert done.exit_code == 0 or done.output.strip(), words
    # The others take words and names of files, and show them as they were given.
    assert command not in NAMES or "hunter2" not in done.output
