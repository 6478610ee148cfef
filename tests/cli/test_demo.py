"""`voicetech demo`: the recorded job through the real recogniser, and the same job typed."""

from dataclasses import dataclass
from pathlib import Path

import pytest

from tests.cli.program import run
from voicetech.events import (
    AnswerTaken,
    CausesExcluded,
    CauseShown,
    Channel,
    DeadProved,
    Event,
    InputReceived,
    JobClosed,
    JobOpened,
    PartInspected,
    ReadingTaken,
    SectionEnded,
    StepDone,
    StepEntered,
    SupplyClassified,
    kind_of,
    payload,
)
from voicetech.journal.place import journal_path
from voicetech.journal.store import open_journal

RESULTS = (
    StepEntered,
    ReadingTaken,
    SupplyClassified,
    AnswerTaken,
    PartInspected,
    StepDone,
    SectionEnded,
    CauseShown,
    CausesExcluded,
    DeadProved,
    JobClosed,
)
"""What a job comes to, the way there included."""
OF_THE_CHANNEL = {"at_s", "channel", "words", "unverified"}
"""Fields that tell when and how something was said, not what."""
FREE_WORDS = {"why_it_failed", "seen_too"}
"""Answers that are written down as they were heard, which is not always as they were said."""


@dataclass(frozen=True, slots=True)
class Demo:
    code: int
    shown: list[str]
    errors: str
    events: tuple[Event, ...]


def played(home: Path, *options: str) -> Demo:
    done = run(home, "demo", "--silent", "--plain", *options)
    with open_journal(journal_path(home)) as journal:
        (line,) = journal.jobs()
        events = journal.events(line.job)
    return Demo(done.returncode, done.stdout.splitlines(), done.stderr, events)


@pytest.fixture(scope="module")
def spoken(tmp_path_factory: pytest.TempPathFactory) -> Demo:
    return played(tmp_path_factory.mktemp("spoken") / "home")


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> Demo:
    return played(tmp_path_factory.mktemp("written") / "home", "--text")


@pytest.fixture(params=["spoken", "written"])
def demo(request: pytest.FixtureRequest) -> Demo:
    found = request.getfixturevalue(request.param)
    assert isinstance(found, Demo)
    return found


def results(demo: Demo) -> list[tuple[str, dict[str, object]]]:
    return [(kind_of(event), _what(event)) for event in demo.events if isinstance(event, RESULTS)]


def _what(event: Event) -> dict[str, object]:
    free = isinstance(event, AnswerTaken) and event.field in FREE_WORDS
    left_out = OF_THE_CHANNEL | ({"value"} if free else set())
    return {name: value for name, value in payload(event).items() if name not in left_out}


def test_it_ends_with_a_report_that_says_what_was_found(demo: Demo) -> None:
    assert demo.code == 0, demo.errors
    assert demo.errors == ""
    page = Path(demo.shown[-1]).read_text(encoding="utf-8")
    assert "The bake element is open" in page
    assert "Repaired" in page


def test_the_job_is_on_record_as_repaired(demo: Demo) -> None:
    opened, closed = demo.events[0], [event for event in demo.events if isinstance(event, JobClosed)]
    assert isinstance(opened, JobOpened)
    assert opened.job.startswith("demo-")
    assert [event.outcome for event in closed] == ["repaired"]
    proved = [event.cause for event in demo.events if isinstance(event, CauseShown) and event.proved]
    assert proved == ["bake-open"]


def test_dead_is_proved_before_hands_go_in_each_time(demo: Demo) -> None:
    assert sum(isinstance(event, DeadProved) for event in demo.events) == 2


def test_every_recording_is_heard_by_the_recogniser(spoken: Demo) -> None:
    inputs = [event for event in spoken.events if isinstance(event, InputReceived)]
    assert {event.channel for event in inputs} == {Channel.VOICE}
    assert {event.engine for event in inputs} == {"constrained"}
    assert all(event.alternatives for event in inputs)


def test_spoken_and_typed_come_to_the_same(spoken: Demo, written: Demo) -> None:
    assert results(spoken) == results(written)
    assert {event.channel for event in written.events if isinstance(event, InputReceived)} == {Channel.CHAT}


def test_a_correction_is_part_of_it(demo: Demo) -> None:
    volts = [
        str(event.value)
        for event in demo.events
        if isinstance(event, ReadingTaken) and (event.step, event.label) == ("supply-idle", "L1-N")
    ]
    assert volts == ["120", "121"], "what was corrected stays on record"


def test_a_home_that_is_a_file_is_told(tmp_path: Path) -> None:
    (tmp_path / "home").write_text("a file", encoding="utf-8")
    done = run(tmp_path / "home", "demo", "--text", "--plain")
    assert done.returncode == 1
    assert "is a file, and a folder is needed there" in done.stderr
    assert "Traceback" not in done.stderr
