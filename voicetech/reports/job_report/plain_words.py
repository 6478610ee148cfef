"""What the customer reads first: what was found, whether it is safe, what comes next, in words that need no trade.

It never says that an appliance is safe. It says what was measured and tried, and when to leave it off.
"""

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Final

from voicetech.dialogue.answering import LATER
from voicetech.reports.facts.job import JobFacts
from voicetech.reports.facts.naming import Stage
from voicetech.reports.text import LEFT_OUT
from voicetech.reports.wording import as_sentence, is_nothing

_LEAVE_IT: Final = "Leave it off at its plug or breaker until that is put right."
_ALWAYS: Final = (
    "If it ever sparks, smokes, smells of burning, gives a shock or will not turn off: switch its breaker off, "
    "keep away from it and call for help."
)
"""Source: common practice, no source."""

_TRADE_WORDS: Final[dict[str, str]] = {
    "open": "broken inside, so that no current can pass",
    "welded": "stuck together, so that it cannot switch off",
    "leg": "one of the two live wires that feed the appliance",
    "neutral": "the wire that carries the current back",
    "joint": "a place where wires are connected",
    "sheath": "the metal tube around a heating element",
    "receptacle": "the socket that a part plugs into",
    "terminal block": "where the cord or cable is connected to the appliance",
    "harness": "the bundle of wires inside the appliance",
    "frame": "the metal body of the appliance",
    "relay": "a switch that the control works",
}
"""Words of every appliance; a procedure explains those of its own."""


@dataclass(frozen=True, slots=True)
class PlainWords:
    """The customer's box: sentences under three questions, and what the trade's words in them mean."""

    found: tuple[str, ...]
    safe: tuple[str, ...]
    after: tuple[str, ...]
    words: tuple[tuple[str, str], ...]


def plain_words(facts: JobFacts) -> PlainWords:
    """Return what the customer reads first."""
    found = tuple(_found(facts))
    words = {**_TRADE_WORDS, **facts.explained}
    return PlainWords(found, tuple(_safe(facts)), tuple(_after(facts)), _explained(found, words))


def _found(facts: JobFacts) -> Iterator[str]:
    yield from (as_sentence(cause.says) for cause in facts.found)
    for over in _standing_hand_overs(facts):
        yield f"Work was stopped: {as_sentence(over)}"
    suspected = [cause.says for cause in facts.suspected]
    if facts.found:
        return
    if suspected:
        yield "Nothing is proved. A test points to this, without proving it:"
        yield from (as_sentence(says) for says in suspected)
    elif not facts.hand_overs:
        yield "No fault was proved by the tests that were made."


def _standing_hand_overs(facts: JobFacts) -> list[str]:
    return [over.says for over in facts.hand_overs if over.withdrawn is None]


def _stopped_now(facts: JobFacts) -> bool:
    """Return whether the last danger stop was never ended."""
    stops = [danger for danger in facts.dangers if danger.stopped]
    return bool(stops) and stops[-1].cleared_at_s is None


def _safe(facts: JobFacts) -> Iterator[str]:
    yield "This report does not declare it safe. It tells what was measured and tried."
    if _stopped_now(facts):
        yield f"Work was stopped for danger, and the stop was not ended. {_LEAVE_IT}"
    elif _standing_hand_overs(facts):
        yield f"Work was stopped and handed over. {_LEAVE_IT}"
    elif facts.given("consent") == "leave-safe":
        yield f"It was not repaired. {_LEAVE_IT}"
    elif facts.closed_as == "repaired":
        yield from _tried_again(facts)
    elif facts.given("consent") == "put-back":
        yield "The fault was not found. Use only what the technician tried in front of you."
    else:
        yield "No repair with a test after it is on record. Leave it off until it has been repaired and tested."


def _tried_again(facts: JobFacts) -> Iterator[str]:
    """Yield what was tried and measured after the repair, and that nothing was where that is so."""
    told = [
        as_sentence(answer.sentence)
        for answer in facts.answers
        if answer.stage is Stage.RETEST and answer is facts.answer(answer.field) and answer.sentence is not None
    ]
    measured = [
        f"Measured {'after' if reading.stage is Stage.RETEST else 'before power came back'}: {reading.between} "
        f"{reading.value}, {reading.verdict}."
        for reading in facts.readings
        if reading.stage in (Stage.PUT_BACK, Stage.RETEST) and reading.withdrawn is None and reading.good is not None
    ]
    if not told and not measured:
        yield f"Nothing was tried or measured after the repair. {_LEAVE_IT}"
        return
    yield f"After the repair: {' '.join((*told, *measured))}"
    if facts.given("off_is_off") == "no" or facts.given("complaint_gone") == "no":
        yield _LEAVE_IT


def _after(facts: JobFacts) -> Iterator[str]:
    yield from dict.fromkeys(
        f"Have it looked at by {over.to}." for over in facts.hand_overs if over.withdrawn is None and over.to
    )
    if facts.closed_as != "repaired":
        yield from dict.fromkeys(f"To mend it: {cause.remedy}" for cause in facts.found if cause.remedy)
        yield from (f"Part needed: {part.function}." for part in facts.parts if part.proved)
    if facts.closed_as is None:
        yield "The job is still open."
    yield from (as_sentence(advice) for advice in _advice(facts))
    seen = facts.answer("seen_too")
    if seen is not None and seen.given not in (LATER, LEFT_OUT) and not is_nothing(seen.given):
        yield f"Also seen: {as_sentence(seen.value)}"
    yield _ALWAYS


def _advice(facts: JobFacts) -> Iterator[str]:
    """Yield the advice that was given; what tells the technician to tell something is not the advice itself."""
    for done in facts.done:
        if done.stage is Stage.ADVICE and done.withdrawn is None and not done.what.startswith("Tell "):
            yield done.what


def _explained(sentences: tuple[str, ...], words: Mapping[str, str]) -> tuple[tuple[str, str], ...]:
    text = " ".join(sentences)
    used = {
        word: found.start()
        for word in words
        if (found := re.search(rf"\b{re.escape(word)}s?\b", text, re.IGNORECASE)) is not None
    }
    return tuple((word, words[word]) for word in sorted(used, key=lambda word: used[word]))
