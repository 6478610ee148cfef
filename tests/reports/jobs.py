"""Jobs to make reports of: those of the chat sessions, replayed, and some that strain a page. All of it is invented."""

import re
from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from pathlib import Path

from tests.dialogue.talker import shipped
from tests.reports.examples import PROCEDURE, START_S, answer, opening, proof, reading, whole_job
from voicetech.events import (
    Channel,
    DangerRecounted,
    DangerStopped,
    Event,
    HandedOver,
    JobClosed,
    NoteTaken,
    PartInspected,
    StepSkipped,
    SupplyClassified,
)
from voicetech.job import open_job
from voicetech.journal.store import open_journal
from voicetech.language.meaning import DangerKind
from voicetech.reports.facts.job import JobFacts, facts_of
from voicetech.units import Unit

SESSIONS = Path(__file__).parents[1] / "sessions"
TURN_S = 20.0
LATER = re.compile(r"# (\d+) minutes later")
FOREIGN = "ожог 電熱線 מסוכן خطر Ω ° ≤ – naïve 🔥 \N{ZERO WIDTH JOINER}\N{RIGHT-TO-LEFT OVERRIDE}abc"
LONG_WORD = "burnt" * 120


def of_session(name: str, folder: Path) -> JobFacts:
    """Return the facts of a chat session, replayed by the shipped procedure."""
    now_s = [START_S]
    with open_journal(folder / f"{name}.db") as journal:
        job, _ = open_job(shipped(), journal, "20261125-0941-k7", Channel.CHAT, lambda: now_s[0])
        for line in (SESSIONS / f"{name}.txt").read_text(encoding="utf-8").splitlines():
            later = LATER.fullmatch(line)
            if later:
                now_s[0] += 60 * int(later[1])
                job.tick()
            elif line.startswith("> "):
                now_s[0] += TURN_S
                job.typed(line[2:])
        events = journal.readable_events("20261125-0941-k7").events
    return facts_of(shipped(), events)


def of(*events: Event) -> JobFacts:
    """Return the facts of the small procedure's job with these events behind its opening."""
    return facts_of(PROCEDURE, (*opening(), *events))


@cache
def whole() -> JobFacts:
    """Return the facts of the job written by hand."""
    return facts_of(PROCEDURE, whole_job())


def many_readings(count: int) -> JobFacts:
    """Return a job of this many readings of the bake element and the supply, the last of which prove nothing."""
    return of(answer(1, "complaint", "bake", START_S), *proof(START_S + 60), *_measured(count))


def _measured(count: int) -> Iterator[Event]:
    for number in range(count):
        at_s = START_S + 400 + 30 * number
        if number % 3:
            yield reading(10 + number, "bake", "end-to-end", "1-2", "21.8", "within", "19.9", "24.4", at_s)
        else:
            yield reading(
                10 + number, "supply", "loaded", "L1-L2", "238.6", "within", "228", "252", at_s, unit=Unit.VOLT
            )


def abandoned() -> JobFacts:
    """Return a job that was left after its first questions."""
    return of(answer(1, "complaint", "bake", START_S), JobClosed("abandoned", START_S + 60))


def stopped_by_danger() -> JobFacts:
    """Return a job that a danger stop ended: nobody went on."""
    return of(
        answer(1, "complaint", "bake", START_S),
        *proof(START_S + 60),
        DangerStopped(DangerKind.SHOCK, "I got shocked", START_S + 400),
        DangerRecounted("touched the terminal block", START_S + 460),
    )


def handed_over() -> JobFacts:
    """Return a job that went to an electrician."""
    return of(
        answer(1, "complaint", "bake", START_S),
        *proof(START_S + 60),
        reading(2, "supply", "loaded", "L1-L2", "238", "within", "0", "300", START_S + 400, unit=Unit.VOLT),
        SupplyClassified(2, "open-neutral", "One leg is up and the other down: the neutral is open.", START_S + 400),
        HandedOver(3, "neutral", START_S + 420),
        JobClosed("handed over", START_S + 600),
    )


def straining(words: str) -> JobFacts:
    """Return the hand-written job with these words wherever somebody's words may stand."""
    job = tuple(_with_words(event, words) for event in whole_job())
    return facts_of(
        PROCEDURE,
        (
            *job[:-1],
            *(NoteTaken(f"{words} {number}", True, START_S + 4300 + number) for number in range(5)),
            StepSkipped(20, "sensor", "sensor", words, START_S + 4350),
            answer(21, "model", words, START_S + 4360),
            answer(22, "why_it_failed", words, START_S + 4360, unverified=True),
            reading(23, "bake", "sheath", words, "1E+9", "above", None, "2", START_S + 4370),
            job[-1],
        ),
    )


def _with_words(event: Event, words: str) -> Event:
    match event:
        case NoteTaken():
            return replace(event, text=words)
        case PartInspected() | DangerStopped() | DangerRecounted():
            return replace(event, words=words)
        case _:
            return event
