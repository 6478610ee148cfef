"""The conversation told from the record: each line with what it is, whoever reads it and whenever."""

from pathlib import Path

from tests.dialogue.talker import shipped
from voicetech.authoring.shipped import shipped_folder
from voicetech.cli.demo import demo_turns
from voicetech.dialogue.reply import Reply
from voicetech.events import Channel, Event, Replied
from voicetech.heard import Heard
from voicetech.job import Job, open_job
from voicetech.journal.store import open_journal
from voicetech.showing.conversation import Conversation, LineShown


def worked(tmp_path: Path, say: list[str]) -> tuple[tuple[Event, ...], list[Reply]]:
    with open_journal(tmp_path / "jobs.db") as journal:
        job, first = open_job(shipped(), journal, "one", Channel.CHAT, lambda: 1_000_000.0)
        replies = [first, *(job.typed(line) for line in say)]
        return journal.events("one"), [reply for reply in replies if reply.lines]


def demo() -> list[str]:
    return [turn.say for turn in demo_turns(Path(str(shipped_folder("demo_audio"))) / "script.yaml")]


def test_every_line_of_a_whole_job_is_told_as_it_was_said(tmp_path: Path) -> None:
    events, replies = worked(tmp_path, demo())
    lines = Conversation(shipped()).told(events)
    said = [(line.kind.value, line.show) for reply in replies for line in reply.lines]
    assert [(line.kind, line.text) for line in lines if line.who == "program"] == said
    assert [line.text for line in lines if line.who == "technician"] == demo()
    assert {line.kind for line in lines if line.who == "technician"} == {"typed"}


def test_it_is_the_same_told_at_once_or_event_by_event(tmp_path: Path) -> None:
    events, _ = worked(tmp_path, demo()[:30])
    bit_by_bit = Conversation(shipped())
    lines: list[LineShown] = []
    for event in events:
        lines.extend(bit_by_bit.told([event]))
    assert tuple(lines) == Conversation(shipped()).told(events)
    assert len({(line.nr, line.part) for line in lines}) == len(lines)


def test_words_that_a_changed_program_would_choose_otherwise_stand_as_recorded(tmp_path: Path) -> None:
    events, _ = worked(tmp_path, ["no"])
    changed = [Replied("Old words.", ("Old words.",)) if isinstance(e, Replied) else e for e in events]
    lines = [line for line in Conversation(shipped()).told(changed) if line.who == "program"]
    assert [(line.kind, line.text) for line in lines] == [("", "Old words."), ("", "Old words.")]


def test_what_was_not_meant_for_the_program_is_told_apart(tmp_path: Path) -> None:
    with open_journal(tmp_path / "jobs.db") as journal:
        job: Job
        job, _ = open_job(shipped(), journal, "one", Channel.PAGE, lambda: 1_000_000.0)
        job.heard(Heard((), "ear", 0.0, "see you at lunch"), Channel.PAGE)
        (line,) = [each for each in Conversation(shipped()).told(journal.events("one")) if each.who != "program"]
    assert (line.who, line.kind, line.text) == ("overheard", "spoken", "see you at lunch")
