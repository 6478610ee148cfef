"""One job at work: what was heard goes through the core, is committed to the journal, and only then answered.

The only place where words become meanings, meanings events and events a reply. Every channel uses it alike.
"""

from collections.abc import Callable, Hashable, Sequence
from dataclasses import replace
from typing import Protocol

from voicetech.authoring.lexicon_files import lexicon_for
from voicetech.dialogue.decide import decide
from voicetech.dialogue.given import ELSEWHERE, Given, KeepSound, Listening, Opening, Reopening, Tick, Weighed, Words
from voicetech.dialogue.questions import question_for
from voicetech.dialogue.reply import Reply, reply
from voicetech.dialogue.standing import said_of_what_stands
from voicetech.events import (
    Channel,
    Event,
    ProgramTold,
    Replied,
)
from voicetech.heard import Heard, typed
from voicetech.journal.errors import LostRaceError
from voicetech.journal.store import Journal
from voicetech.language.grammar import compile_words, spoken_grammar
from voicetech.language.lexicon import Lexicon
from voicetech.language.meaning import Asking, DangerSaid, Question
from voicetech.language.phrases import Phrase, WordAutomaton
from voicetech.procedure import Procedure
from voicetech.sense import made_of
from voicetech.session import Session, evolve, fold, opened
from voicetech.turn import Turn


class JobError(Exception):
    """A job cannot be taken up; the message says why and what to do."""


class Record(Protocol):
    """What the events of a job at work are written to."""

    def append(self, job: str, expected_seq: int, events: Sequence[Event]) -> int:
        """Return the number of the job's last event, all of `events` being on record by then, or none of them.

        Raises LostRaceError where the record has another count of events by now.
        """

    def since(self, job: str, seq: int) -> Sequence[Event]:
        """Return the job's events after that number: what somebody else has gone on with."""


class Job:
    """A job that is open in this program."""

    def __init__(
        self,
        procedure: Procedure,
        journal: Record,
        session: Session,
        events_on_record: int,
        clock: Callable[[], float],
        lexicon: Lexicon | None = None,
    ) -> None:
        self.procedure = procedure
        self.session = session
        self._journal = journal
        self._on_record = events_on_record
        self._clock = clock
        self._lexicon = lexicon or lexicon_for(procedure)
        self._automata: dict[Hashable, WordAutomaton] = {}
        self._compiled: dict[Phrase, WordAutomaton] = {}
        self._caused: tuple[Event, ...] = ()

    @property
    def id(self) -> str:
        """Return the job's name in the journal."""
        return self.session.job

    @property
    def closed(self) -> bool:
        """Return whether the job is over."""
        return self.session.turn is Turn.CLOSED

    @property
    def caused(self) -> tuple[Event, ...]:
        """Return the events of the last input, for what listens or speaks and has to follow them."""
        return self._caused

    @property
    def lexicon(self) -> Lexicon:
        """Return the vocabulary the job is worked in."""
        return self._lexicon

    @property
    def question(self) -> Question:
        """Return the question that stands open."""
        return question_for(self.procedure, self.session)

    @property
    def wants_free_words(self) -> bool:
        """Return whether the open question is answered in free words, which no grammar constrains."""
        return self.question.asking is Asking.NOTE

    def grammar(self) -> WordAutomaton:
        """Return what may be said to the open question, for the recogniser."""
        question = self.question
        found = self._automata.get(question)
        if found is None:
            # Half of the questions are answered in the same words as another one. What a recogniser works out of an
            # automaton, it keeps for that one.
            phrase = self._sayable(question)
            found = self._compiled.get(phrase)
            if found is None:
                found = self._compiled[phrase] = compile_words(phrase)
            self._automata[question] = found
        return found

    def prompt(self) -> Reply:
        """Return what the job waits for, in full: the open prompt, a read-back, a stop that still stands."""
        return said_of_what_stands(self.procedure, self.session)

    def typed(self, line: str, channel: Channel = Channel.CHAT, seen: Hashable | None = None) -> Reply:
        """Take a typed line and return the reply; `seen` as in `heard`."""
        return self.heard(typed(line), channel, None, seen)

    def heard(
        self,
        heard: Heard,
        channel: Channel = Channel.VOICE,
        sound_sha256: str | None = None,
        seen: Hashable | None = None,
    ) -> Reply:
        """Take what was heard and return the reply; it is on record before this returns.

        `seen` is what was open in the session that whoever said it saw, where that may have changed meanwhile. Where
        somebody else has gone on with the job, what was said answered another question: unless it is danger it is
        kept and not taken, and the reply is what stands open now.
        """
        asked = self.session.open if seen is None else seen
        while True:
            self.look()
            words = self.weighed(heard, channel, sound_sha256)
            late = self.session.open != asked and not isinstance(words.meaning, DangerSaid)
            try:
                return self._too_late(words) if late else self._given(words)
            except LostRaceError:
                if not self.look():
                    raise

    def _too_late(self, words: Words) -> Reply:
        """Keep words whose question is no longer open, and return what is."""
        kept = decide(self.procedure, self.session, replace(words, weighed=Weighed.LATE, meaning=None, rivals=None))
        after = self.session
        for event in kept:
            after = evolve(after, event)
        opened_again = decide(self.procedure, after, Reopening(words.channel, ELSEWHERE, words.at_s))
        self._caused = (*kept, *opened_again)
        return self._commit(self._caused)

    def look(self) -> tuple[Event, ...]:
        """Return what somebody else has gone on with meanwhile; the job stands after it from here on."""
        others = tuple(self._journal.since(self.id, self._on_record))
        for event in others:
            self.session = evolve(self.session, event)
        self._on_record += len(others)
        return others

    def tick(self) -> Reply:
        """Let time pass and return what that changes, if anything."""
        self.look()
        return self._given(Tick(self._clock()))

    def take_up(self, channel: Channel, reason: str, keep_sound: KeepSound = KeepSound.OFF) -> Reply:
        """Go on with the job on this channel and return the prompt it now stands at.

        Making safe starts again where the open step needs it.
        """
        self.look()
        if self.closed:
            return Reply(())
        answer = self._given(Reopening(channel, reason, self._clock(), keep_sound))
        return answer if answer.lines else self.prompt()

    def listen(self, channel: Channel, keep_sound: KeepSound) -> Reply:
        """Begin to listen on a channel where answers are typed; the open question stays as it is."""
        self.look()
        return self._given(Listening(channel, self._clock(), keep_sound))

    def remark(self, words: str) -> Reply:
        """Return a reply that says something about the program itself; the job does not change, but it is on record."""
        self.look()
        self._caused = (ProgramTold(words),)
        return self._commit(self._caused)

    def weighed(self, heard: Heard, channel: Channel, sound_sha256: str | None = None) -> Words:
        """Return what the open question makes of the words heard."""
        return made_of(self.procedure, self.session, self._lexicon, heard, channel, self._clock(), sound_sha256)

    def _sayable(self, question: Question) -> Phrase:
        return spoken_grammar(question, self._lexicon)

    def _given(self, given: Given) -> Reply:
        self._caused = decide(self.procedure, self.session, given)
        return self._commit(self._caused) if self._caused else Reply(())

    def _commit(self, events: tuple[Event, ...]) -> Reply:
        after = self.session
        for event in events:
            after = evolve(after, event)
        answer = reply(self.procedure, after, events)
        record: list[Event] = [*events]
        if answer.lines:
            record.append(Replied(answer.speak, answer.show))
        self._on_record = self._journal.append(self.id, self._on_record, record)
        self.session = after
        return answer


def open_job(
    procedure: Procedure,
    journal: Journal,
    job_id: str,
    channel: Channel,
    clock: Callable[[], float],
    keep_sound: KeepSound = KeepSound.OFF,
) -> tuple[Job, Reply]:
    """Open a new job and return it with its first prompt, both already on record."""
    events = decide(procedure, None, Opening(job_id, channel, clock(), keep_sound))
    first, *rest = events
    session = opened(first)  # type: ignore[arg-type]  # an opening's first event is the job's opening
    for event in rest:
        session = evolve(session, event)
    answer = reply(procedure, session, events)
    journal.keep_written(procedure.digest, procedure.id, procedure.texts)
    on_record = journal.append(job_id, 0, [*events, Replied(answer.speak, answer.show)])
    return Job(procedure, journal, session, on_record, clock), answer


def take_up_job(
    procedure: Procedure,
    journal: Journal,
    job_id: str,
    channel: Channel,
    clock: Callable[[], float],
    keep_sound: KeepSound = KeepSound.OFF,
) -> tuple[Job, Reply]:
    """Take up a job from the journal and return it with the prompt it now stands at.

    Making safe starts again where the open step needs it. Raises JobError where the job follows another procedure.
    """
    job = job_on_record(procedure, journal, job_id, clock)
    return job, job.take_up(channel, "the program was started again", keep_sound)


def job_on_record(procedure: Procedure, journal: Journal, job_id: str, clock: Callable[[], float]) -> Job:
    """Return a job as it stands in the journal, only to be looked at until it is taken up.

    Raises JobError where there is none of this name, or it follows another procedure.
    """
    events = journal.events(job_id)
    if not events:
        raise JobError(f"There is no job {job_id}. See the list with: voicetech jobs")
    session = fold(events)
    if session.procedure != procedure.id:
        raise JobError(f"Job {job_id} follows the procedure {session.procedure}, not {procedure.id}.")
    _check_step(procedure, session)
    return Job(procedure, journal, session, len(events), clock)


def _check_step(procedure: Procedure, session: Session) -> None:
    for cursor in (session.at, session.resume):
        if cursor is None:
            continue
        try:
            procedure.step(cursor.section, cursor.step)
        except KeyError:
            raise JobError(
                f"Job {session.job} stands at the step {cursor.section}/{cursor.step}, which revision "
                f"{procedure.revision} of {procedure.id} does not have. Take it up with the revision it was begun with."
            ) from None
