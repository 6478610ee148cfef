"""What somebody wrote who had only the guide: a wash-house copper, checked, proved, rehearsed and worked by voice."""

import json
import shutil
from pathlib import Path

import pytest

from tests.authoring.checking import found_in
from tests.cli.program import run
from voicetech.authoring.procedure_files import load_procedure
from voicetech.authoring.shipped import shipped_folder
from voicetech.cli.demo import demo_turns
from voicetech.events import CauseShown, Channel, DeadProved, Event, InputReceived, JobClosed, PowerRestored
from voicetech.hearing.phones import load_dictionary
from voicetech.journal.place import journal_path
from voicetech.journal.store import open_journal
from voicetech.proof.proving import prove
from voicetech.session import Session, followed

HERE = Path(__file__).parent
SHIPPED = Path(str(shipped_folder("dialogs")))
CLIPS = Path(str(shipped_folder("demo_audio")))
SPOKEN = HERE / "spoken"
NOTES = {"decide/why-it-failed"}
"""Where free words are taken down as they are heard, which is not always as they were said."""


@pytest.fixture(scope="module")
def copper(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The procedure in a folder of its own beside the shared parts, as the guide says."""
    folder = tmp_path_factory.mktemp("procedures")
    shutil.copytree(SHIPPED / "shared", folder / "shared")
    for own in (HERE / "shared").iterdir():
        assert not (folder / "shared" / own.name).exists(), "it has its own parts and changes none"
        shutil.copy(own, folder / "shared")
    return Path(shutil.copy(HERE / "washhouse-copper.yaml", folder))


@pytest.mark.skipif(load_dictionary() is None, reason="no pronouncing dictionary for this Python")
def test_nothing_is_found_in_it(copper: Path) -> None:
    assert [str(finding) for finding in found_in(copper)] == []


def test_no_rule_of_safety_is_broken_whatever_is_said(copper: Path) -> None:
    found = prove(load_procedure(copper))
    assert found.broken == ()
    assert found.asked == found.steps, "no step that nothing leads to"


def test_every_fault_is_found(copper: Path, tmp_path: Path) -> None:
    procedure = load_procedure(copper)
    assert procedure.circuit is not None
    done = run(tmp_path / "home", "rehearse", "--procedure", str(copper), "--fault", "all")
    jobs = [json.loads(line) for line in done.stdout.splitlines()]
    assert {job["fault"] for job in jobs} == {fault.id for fault in procedure.circuit.faults}
    assert [job["fault"] for job in jobs if not (job["found"] and job["proved"])] == []
    assert {job["unsafe_steps"] for job in jobs} == {0}
    assert {job["complaint"] for job in jobs} == procedure.complaints.keys(), "each complaint leads somewhere"


def test_a_whole_job_is_worked_by_voice(copper: Path, tmp_path: Path) -> None:
    turns = demo_turns(SPOKEN / "script.yaml")
    folder = tmp_path / "answers"
    folder.mkdir()
    for number, turn in enumerate(turns):
        clip = f"{turn.clip}.flac"
        own = SPOKEN / clip
        shutil.copy(own if own.exists() else CLIPS / clip, folder / f"{number:03}-{clip}")
    home = tmp_path / "home"
    done = run(home, "talk", "--procedure", str(copper), "--audio", str(folder), "--silent", "--plain")
    assert (done.returncode, done.stderr) == (0, "")

    with open_journal(journal_path(home)) as journal:
        (line,) = journal.jobs()
        events = journal.events(line.job)
    answered = _answered(events)
    assert [at for at, _ in answered] == [turn.at for turn in turns]
    assert {event.channel for _, event in answered} == {Channel.VOICE}
    assert {event.engine for _, event in answered} == {"constrained"}
    heard = [(at, event.alternatives[0].text) for at, event in answered if at not in NOTES]
    assert heard == [(turn.at, turn.say) for turn in turns if turn.at not in NOTES]
    assert [event.cause for event in events if isinstance(event, CauseShown) and event.proved] == ["cut-out-tripped"]
    assert sum(isinstance(event, DeadProved) for event in events) == 2
    assert sum(isinstance(event, PowerRestored) for event in events) == 3
    assert [event.outcome for event in events if isinstance(event, JobClosed)] == ["repaired"]


def _answered(events: tuple[Event, ...]) -> list[tuple[str, InputReceived]]:
    """Return each answer with the step that stood open when it came in."""
    session: Session | None = None
    found = []
    for event in events:
        if isinstance(event, InputReceived):
            assert session is not None
            assert session.at is not None
            found.append((f"{session.at.section}/{session.at.step}", event))
        session = followed(session, event)
    return found
