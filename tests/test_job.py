"""A job on a real record: recorded before it is answered, taken up only where it fits, heard in every step."""

from collections.abc import Callable, Iterator
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import pytest

from tests.dialogue.talker import shipped
from voicetech.dialogue.reply import Reply
from voicetech.events import (
    Channel,
    Event,
    InputReceived,
    JobOpened,
    Paused,
    ProgramTold,
    ProofEnded,
    Replied,
    StepEntered,
    TimePassed,
)
from voicetech.events import (
    TesterProved as ProvedTester,
)
from voicetech.heard import Alternative, Heard
from voicetech.job import Job, JobError, open_job, take_up_job
from voicetech.journal.errors import JournalError, LostRaceError
from voicetech.journal.store import Journal, open_journal
from voicetech.language.meaning import Asking
from voicetech.procedure import Ask, Hold, Measure, Needs, Procedure, Step
from voicetech.session import Cursor, Session, opened
from voicetech.turn import Turn
from voicetech.units import Quantity


def clock() -> float:
    return 1_000_000.0


@pytest.fixture
def journal(tmp_path: Path) -> Iterator[Journal]:
    with open_journal(tmp_path / "jobs.db") as opened_journal:
        yield opened_journal


def begun(journal: Journal, procedure: Procedure | None = None) -> tuple[Job, Reply]:
    return open_job(procedure or shipped(), journal, "one", Channel.CHAT, clock)


def taken_up(journal: Journal, procedure: Procedure | None = None) -> tuple[Job, Reply]:
    return take_up_job(procedure or shipped(), journal, "one", Channel.CHAT, clock)


class TestTheRecord:
    def test_the_opening_and_its_reply_are_on_record(self, journal: Journal) -> None:
        job, first = begun(journal)
        events = journal.events("one")
        assert isinstance(events[0], JobOpened)
        assert events[-1] == Replied(first.speak, first.show)
        assert job.id == "one"
        assert journal.written(events[0].digest) == shipped().texts

    def test_what_time_alone_changed_says_so(self, journal: Journal) -> None:
        now_s = 1_000_000.0
        job, _ = open_job(shipped(), journal, "one", Channel.CHAT, lambda: now_s)
        job._commit((ProvedTester(True, Decimal(120), now_s),))
        assert job.tick().lines == ()
        now_s += 31 * 60
        job.tick()
        kinds = [type(event) for event in job.caused]
        assert kinds[:2] == [TimePassed, ProofEnded]

    def test_what_the_program_tells_of_itself_is_on_record(self, journal: Journal) -> None:
        job, _ = begun(journal)
        job.remark("The microphone is back.")
        told, replied = journal.events("one")[-2:]
        assert told == ProgramTold("The microphone is back.")
        assert isinstance(replied, Replied)

    def test_every_reply_is_on_record_with_what_led_to_it(self, journal: Journal) -> None:
        job, _ = begun(journal)
        for line in ("no", "bake", "repeat", "mumble", "note: chafed cord", "stop"):
            answer = job.typed(line)
            last = journal.events("one")[-1]
            assert last == Replied(answer.speak, answer.show)
            assert journal.events("one")[-1 - len(job.caused) : -1] == job.caused

    def test_what_cannot_be_recorded_is_not_answered_and_moves_nothing(
        self, journal: Journal, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        job, _ = begun(journal)
        before, events = job.session, journal.events("one")

        def full(_self: Journal, _job: str, _at: int, _events: list[Event]) -> int:
            raise JournalError("The disk is full.")

        with monkeypatch.context() as patch:
            patch.setattr(Journal, "append", full)
            for line in ("no", "stop", "pause"):
                with pytest.raises(JournalError, match="full"):
                    job.typed(line)
        assert job.session == before
        assert journal.events("one") == events
        assert "What is cold" in job.typed("no").speak, "once there is room the job goes on"

    def test_what_is_not_meant_for_the_program_is_kept_and_not_answered(self, journal: Journal) -> None:
        job, _ = open_job(shipped(), journal, "one", Channel.VOICE, clock)
        answer = job.heard(Heard((Alternative("no", 0.9),), "ear", for_us=0.0))
        assert answer == Reply(())
        assert not isinstance(journal.events("one")[-1], Replied)
        assert any(isinstance(event, InputReceived) for event in job.caused)

    def test_sure_words_that_answer_nothing_are_told_what_is_needed(self, journal: Journal) -> None:
        job, _ = begun(journal)
        job.typed("no")
        assert "Say one of: nothing heats" in job.typed("mumble").speak
        unsure = Heard((Alternative("mumble", 0.4),), for_us=1.0, engine="made up")
        assert job.heard(unsure).speak == "Say again?"

    def test_of_two_programs_on_one_job_each_goes_on_from_the_other(self, journal: Journal, tmp_path: Path) -> None:
        job, _ = begun(journal)
        with open_journal(tmp_path / "jobs.db") as other_journal:
            other, _ = taken_up(other_journal)
            other.typed("no")
            late = job.typed("yes")
            assert "gone on elsewhere" in late.speak
            assert "What is cold" in late.speak
            assert job.session.answers == {"urgent": "no"}, "what was said to a question that is closed is not taken"
            job.typed("bake")
            assert "Did it stop at once" in other.typed("broil").speak
            assert other.session.answers == job.session.answers == {"urgent": "no", "complaint": "bake"}
        words = [event.text for event in journal.events("one") if isinstance(event, InputReceived)]
        assert words == ["no", "yes", "bake", "broil"], "and none of it is lost"

    def test_an_answer_to_what_still_stands_open_is_taken(self, journal: Journal, tmp_path: Path) -> None:
        job, _ = begun(journal)
        with open_journal(tmp_path / "jobs.db") as other_journal:
            taken_up(other_journal)
        assert "What is cold" in job.typed("no").speak
        assert job.session.answers == {"urgent": "no"}

    def test_danger_is_never_late(self, journal: Journal, tmp_path: Path) -> None:
        job, _ = begun(journal)
        with open_journal(tmp_path / "jobs.db") as other_journal:
            other, _ = taken_up(other_journal)
            other.typed("no")
        job.typed("it's on fire")
        assert job.session.turn is Turn.STOPPED

    def test_of_two_that_write_at_the_same_moment_one_wins(
        self, journal: Journal, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        job, _ = begun(journal)
        with open_journal(tmp_path / "jobs.db") as other_journal:
            other, _ = taken_up(other_journal)
            job.look()
            looked = Job.look
            once = iter([True])

            def just_after_the_look(self: Job) -> tuple[Event, ...]:
                seen = looked(self)
                if self is job and next(once, False):
                    other.typed("no")
                return seen

            monkeypatch.setattr(Job, "look", just_after_the_look)
            assert "What is cold" in job.typed("yes").speak
        assert job.session.answers == {"urgent": "no"}

    def test_another_record_in_its_place_is_told(self, journal: Journal) -> None:
        job, _ = begun(journal)
        job._on_record += 5
        with pytest.raises(LostRaceError, match="changed by another voicetech"):
            job.typed("no")

    def test_nothing_happens_while_nothing_changes(self, journal: Journal) -> None:
        job, _ = begun(journal)
        events = journal.events("one")
        assert job.tick() == Reply(())
        assert journal.events("one") == events


class TestSaidAgain:
    """In noise an answer may be heard and not be taken for one; who says it again means it."""

    @pytest.fixture
    def heard(self, journal: Journal) -> Callable[..., Reply]:
        now_s = [1_000_000.0]
        job, _ = open_job(shipped(), journal, "one", Channel.VOICE, lambda: now_s[0])
        job.typed("no")

        def heard(words: str, for_us: float, after_s: float = 8.0) -> Reply:
            now_s[0] += after_s
            return job.heard(Heard((Alternative(words, 1.0),), "constrained", for_us), Channel.VOICE)

        return heard

    def test_it_is_read_back_in_the_words_it_is_said_in_and_taken_with_a_yes(
        self, heard: Callable[..., Reply], journal: Journal
    ) -> None:
        assert heard("it won't broil", 0.3).lines == ()
        assert heard("it won't broil", 0.3).speak == "Broil. Right?"
        assert heard("yes", 1.0).speak.startswith("Broil.")
        outcomes = [event.outcome for event in journal.events("one") if isinstance(event, InputReceived)]
        assert outcomes == ["accepted", "ignored", "accepted", "accepted"]

    def test_something_else_is_not_the_same(self, heard: Callable[..., Reply]) -> None:
        assert heard("it won't broil", 0.3).lines == ()
        assert heard("it won't bake", 0.3).lines == ()
        assert heard("it won't broil", 0.02).lines == ()

    def test_long_after_it_is_nothing_said_again(self, heard: Callable[..., Reply]) -> None:
        assert heard("it won't broil", 0.3).lines == ()
        assert heard("it won't broil", 0.3, after_s=60).lines == ()

    def test_what_moves_the_job_is_never_taken_so(self, heard: Callable[..., Reply]) -> None:
        for _ in range(4):
            assert heard("skip this", 0.3).lines == ()


class TestTakingUp:
    def test_it_stands_where_it_was(self, journal: Journal) -> None:
        job, _ = begun(journal)
        last = job.typed("no")
        again, answer = taken_up(journal)
        assert again.session.at == job.session.at
        assert answer.lines[-1] == last.lines[-1]
        assert not again.closed

    def test_an_unknown_job(self, journal: Journal) -> None:
        with pytest.raises(JobError, match=r"no job one\. See the list with: voicetech jobs"):
            taken_up(journal)

    def test_another_procedure(self, journal: Journal) -> None:
        begun(journal)
        before = journal.events("one")
        with pytest.raises(JobError, match=r"follows the procedure electric-range-no-heat, not dryer\."):
            taken_up(journal, replace(shipped(), id="dryer"))
        assert journal.events("one") == before

    def test_a_step_that_is_gone(self, journal: Journal) -> None:
        begun(journal)
        before = journal.events("one")
        sections = tuple(
            replace(section, steps=section.steps[1:]) if section.id == "intake" else section
            for section in shipped().sections
        )
        gone = replace(shipped(), sections=sections, revision=9)
        with pytest.raises(JobError, match=r"stands at the step intake/urgent, which revision 9 .* does not have"):
            taken_up(journal, gone)
        assert journal.events("one") == before

    def test_a_step_that_waits_and_is_gone(self, journal: Journal) -> None:
        job, _ = begun(journal)
        job.typed("go to the bake element")
        sections = tuple(section for section in shipped().sections if section.id != "bake")
        with pytest.raises(JobError, match="bake/bake-look"):
            taken_up(journal, replace(shipped(), sections=sections))

    def test_a_record_with_an_event_of_a_newer_program(self, journal: Journal) -> None:
        begun(journal)
        journal._connection.execute(  # what a newer program would have written
            "INSERT INTO event (job, seq, kind, at_s, body) VALUES ('one', ?, 'told-future/1', 1, '{}')",
            (len(journal.events("one")) + 1,),
        )
        with pytest.raises(JournalError, match="newest voicetech"):
            taken_up(journal)

    @pytest.mark.parametrize(
        ("lines", "says"),
        [
            (("i smell gas",), "When all is safe, say: everything is safe start again."),
            (("stop", "everything is safe start again"), "What happened? Say it in your own words."),
            (("the other day it sparked",), "Is it happening now? Yes or no."),
            (("pause",), "Paused. Say resume to go on."),
            (("call mode",), "Paused. I hear only resume and danger words."),
        ],
    )
    def test_what_it_waits_for_is_said_in_full(self, journal: Journal, lines: tuple[str, ...], says: str) -> None:
        job, _ = begun(journal)
        for line in lines:
            job.typed(line)
        turn = job.session.turn
        again, answer = taken_up(journal)
        assert says in answer.speak
        assert again.session.turn is turn

    def test_asking_again_repeats_a_read_back(self, journal: Journal) -> None:
        job, _ = begun(journal)
        for line in ("go to the bake element", "four wire cord", "plug is out", "one twenty"):
            answer = job.typed(line)
        assert job.session.turn is Turn.CONFIRMING
        assert job.prompt().speak == answer.speak

    def test_prompting_changes_nothing(self, journal: Journal) -> None:
        job, _ = begun(journal)
        job.typed("pause")
        before = journal.events("one")
        assert job.prompt().speak.startswith("Paused.")
        assert journal.events("one") == before
        assert isinstance(job.caused[-1], Paused)

    def test_a_closed_job_says_nothing(self, journal: Journal) -> None:
        job, _ = begun(journal)
        for line in ("go to the bake element", "four wire cord", "plug is out", "one twenty", "yes"):
            job.typed(line)
        for line in ("zero", "yes", "thirty", "yes", *("zero", "yes") * 4, "yes", "close the job"):
            job.typed(line)
        assert job.closed
        again, answer = taken_up(journal)
        assert again.closed
        assert answer == Reply(())
        assert again.prompt() == Reply(())


def steps() -> list[tuple[str, Step]]:
    return [(section.id, step) for section in shipped().sections for step in section.steps]


def standing_at(section: str, step: Step, turn: Turn = Turn.ASKING) -> Session:
    first = JobOpened("one", shipped().id, 1, shipped().digest, Channel.VOICE, clock())
    return replace(opened(first), at=Cursor(section, step.id, 0, 1), turn=turn)


Accepts = Callable[[Session, str], bool]


@pytest.fixture(scope="module")
def accepts(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Accepts]:
    """Give what one job hears wherever it stands; it keeps the grammars it has made."""
    with open_journal(tmp_path_factory.mktemp("job") / "jobs.db") as opened_journal:
        job, _ = begun(opened_journal)

        def accepts(session: Session, said: str) -> bool:
            job.session = session
            return job.grammar().accepts(said.lower().split())

        yield accepts


ALWAYS = (
    "stop",
    "smoke",
    "it's sparking",
    "i got shocked",
    "i smell gas",
    "fire",
    "repeat",
    "how",
    "where",
    "why",
    "what's the limit",
    "status",
    "undo",
    "pause",
    "slower",
    "go to the bake element",
)
READINGS = {
    Quantity.VOLTAGE: ("two hundred forty volts", "two forty one", "zero", "one twenty point five volts"),
    Quantity.RESISTANCE: ("twenty two ohms", "twenty two point one", "open", "over limit", "two point two megohms"),
    Quantity.CONTINUITY: ("point four ohms", "it beeps", "open"),
    Quantity.CURRENT: ("twenty one point seven amps", "ten"),
    Quantity.POWER: ("twelve kilowatts", "two thousand six hundred watts"),
    Quantity.TEMPERATURE: ("three fifty five", "seventy two degrees fahrenheit"),
    Quantity.DURATION: ("twelve seconds", "two minutes", "eighteen"),
}
OWED = {
    Asking.VOLTAGE: READINGS[Quantity.VOLTAGE],
    Asking.POWER: READINGS[Quantity.POWER],
    Asking.TEMPERATURE: READINGS[Quantity.TEMPERATURE],
    Asking.DURATION: READINGS[Quantity.DURATION],
    Asking.RESISTANCE: READINGS[Quantity.RESISTANCE],
    Asking.CURRENT: READINGS[Quantity.CURRENT],
    Asking.YES_NO: ("yes", "no"),
    Asking.SERIAL: ("m seven four two", "alpha two dash nine"),
}


def answers(step: Step) -> tuple[str, ...]:
    """Return what has to be hearable in answer to the step."""
    match step:
        case Hold(until=until):
            return until
        case Measure(quantity=quantity):
            return READINGS[quantity]
        case Ask(asking=Asking.CHOICE, choices=choices):
            return tuple(choice.hear[0] for choice in choices)
        case Ask(asking=asking):
            return OWED.get(asking, ())
        case _:
            return ("done", "looks good", "it's burnt") if hasattr(step, "part") else ("done",)


@pytest.mark.parametrize(("section", "step"), steps(), ids=[f"{s}/{step.id}" for s, step in steps()])
class TestEveryStepIsHearable:
    def test_its_answers_danger_and_the_commands(self, section: str, step: Step, accepts: Accepts) -> None:
        session = standing_at(section, step)
        assert [said for said in (*answers(step), *ALWAYS) if not accepts(session, said)] == []

    def test_what_stands_between(self, section: str, step: Step, accepts: Accepts) -> None:
        expected = {
            Turn.STOPPED: ("everything is safe start again", "smoke"),
            Turn.SAFETY_QUESTION: ("yes", "no", "smoke"),
            Turn.PAUSED: ("resume", "i got shocked"),
            Turn.ON_CALL: ("resume", "i got shocked"),
            Turn.CONFIRMING: ("yes", "no", "stop"),
        }
        if isinstance(step, Measure) and step.needs is Needs.LIVE:
            expected[Turn.PROBES_ON] = ("probes off", "no two thirty nine", "stop", "i got shocked")
        for turn, said in expected.items():
            session = standing_at(section, step, turn)
            assert [words for words in said if not accepts(session, words)] == [], turn


def test_the_walk_sees_every_kind_of_question() -> None:
    asked = {step.asking for _, step in steps() if isinstance(step, Ask)}
    assert {Asking.CHOICE, Asking.YES_NO, Asking.SERIAL, Asking.NOTE, Asking.VOLTAGE, Asking.POWER} <= asked
    assert {type(step).__name__ for _, step in steps()} == {"Hold", "Ask", "Inspect", "Measure", "Instruct"}


def test_the_grammar_of_a_question_is_made_once(journal: Journal) -> None:
    job, _ = begun(journal)
    first = job.grammar()
    assert job.grammar() is first
    job.typed("no")
    assert job.grammar() is not first


def test_free_words_are_wanted_where_a_note_is_owed(journal: Journal) -> None:
    job, _ = begun(journal)
    assert not job.wants_free_words
    job.typed("stop")
    job.typed("everything is safe start again")
    assert job.wants_free_words
    assert any(isinstance(event, StepEntered) for event in journal.events("one"))
