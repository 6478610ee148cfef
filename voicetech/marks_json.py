"""Marks of a review as JSON: as the page shows and sends them, and as a file that was saved from a page.

Times are by ISO 8601 with their zone. A file holds the marks that were made in its page, in order; `mark` of a
taken-back one counts among those of the file, from 1.
"""

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from typing import Final, assert_never

from voicetech.events import InputReceived
from voicetech.language.plural import so_many
from voicetech.marks import Commented, Mark, Misheard, SignedOff, TakenBack, doubled, standing

REVIEWER_SIGNS: Final = 80
"""The longest name of a reviewer."""
TEXT_SIGNS: Final = 2000
"""The longest comment, and the most words for one answer."""
AHEAD_S: Final = 300.0
"""How far another computer's clock may be ahead of this one's (judgement, no source)."""
MARKS: Final = 20_000
"""More marks than anybody makes in one job."""

_KINDS: Final = "misheard, commented, signed-off, taken-back"

Json = Mapping[str, object]


class BadMarkError(Exception):
    """A mark cannot be taken; the message says what is wrong and what to do."""


@dataclass(frozen=True, slots=True)
class Marked:
    """What marks of a job are held against: the numbers of its events and of those where words came in, its marks.

    `events` is how many events the job has, those that cannot be read included.
    """

    job: str
    events: int
    inputs: frozenset[int]
    marks: tuple[Mark, ...]


@dataclass(frozen=True, slots=True)
class MarksFile:
    """The marks that were saved from a page of this job of this record."""

    job: str
    record: str
    marks: tuple[Mark, ...]


def inputs_of(numbered: Sequence[tuple[int, object]]) -> frozenset[int]:
    """Return the numbers of the events where words came in."""
    return frozenset(number for number, event in numbered if isinstance(event, InputReceived))


def marks_as_json(marks: tuple[Mark, ...]) -> list[dict[str, object]]:
    """Return all marks of a job as the page shows them, those that no longer stand included."""
    stand = {nr for nr, _ in standing(marks)}
    return [{"nr": nr, **mark_as_json(mark), "standing": nr in stand} for nr, mark in enumerate(marks, start=1)]


def mark_as_json(mark: Mark) -> dict[str, object]:
    """Return a mark as a file of marks holds it."""
    match mark:
        case Misheard(seq=seq, said=said):
            told: dict[str, object] = {"kind": "misheard", "seq": seq, "said": said}
        case Commented(seq=about, text=text):
            told = {"kind": "commented", "seq": about, "text": text}
        case SignedOff(events=events):
            told = {"kind": "signed-off", "events": events}
        case TakenBack(mark=number):
            told = {"kind": "taken-back", "mark": number}
        case _:
            assert_never(mark)
    return {**told, "reviewer": mark.reviewer, "at": _as_text(mark.at_s)}


def mark_from_json(raw: object, at_s: float | None = None) -> Mark:
    """Return the mark that JSON tells; `at_s` is its time, told by `at` where that is None. Raises BadMarkError."""
    if not isinstance(raw, dict):
        raise BadMarkError("A mark is a JSON object. Reload the page and mark it again.")
    reviewer = _reviewer(raw)
    when_s = _at_s(raw) if at_s is None else round(at_s, 3)
    match raw.get("kind"):
        case "misheard":
            said = " ".join(_text(raw, "said", "what was said").split())
            return Misheard(_number(raw, "seq"), said, reviewer, when_s)
        case "commented":
            text = _text(raw, "text", "the comment").strip()
            if not text:
                raise BadMarkError("The comment is empty. Write something, or leave it.")
            return Commented(None if raw.get("seq") is None else _number(raw, "seq"), text, reviewer, when_s)
        case "signed-off":
            return SignedOff(_number(raw, "events"), reviewer, when_s)
        case "taken-back":
            return TakenBack(_number(raw, "mark"), reviewer, when_s)
        case kind:
            raise BadMarkError(
                f"There is no kind of mark {json.dumps(kind)[:40]}; it is one of {_KINDS}. "
                "Reload the page, or install the newest voicetech."
            )


def fitting(mark: Mark, marked: Marked) -> Mark:
    """Return the mark where it may be added to the job now. Raises BadMarkError."""
    match mark:
        case Misheard(seq=seq):
            if seq not in marked.inputs:
                raise BadMarkError(
                    f"Event {seq} of job {marked.job} holds no words that were heard. "
                    "Reload the page and mark it again."
                )
        case Commented(seq=seq):
            if seq is not None and not 1 <= seq <= marked.events:
                raise BadMarkError(f"Job {marked.job} has no event {seq}. Reload the page and comment again.")
        case SignedOff(events=events):
            if events != marked.events:
                raise BadMarkError(
                    f"Job {marked.job} has {so_many(marked.events, 'event')}, and the page showed {events}. "
                    "Reload the page, look through what is new, then sign off."
                )
        case TakenBack(mark=number):
            _can_be_taken_back(number, marked)
        case _:
            assert_never(mark)
    return mark


def _can_be_taken_back(number: int, marked: Marked) -> None:
    if not 1 <= number <= len(marked.marks):
        raise BadMarkError(f"Job {marked.job} has no mark {number}. Reload the page to see its marks.")
    if isinstance(marked.marks[number - 1], TakenBack):
        raise BadMarkError(f"Mark {number} takes another one back. Mark that one again instead.")
    if any(isinstance(mark, TakenBack) and mark.mark == number for mark in marked.marks):
        raise BadMarkError(f"Mark {number} was taken back already. Reload the page to see its marks.")


def marks_file_from(text: str) -> MarksFile:
    """Return what a file of marks holds. Raises BadMarkError, which names line and column, or the mark."""
    try:
        raw = json.loads(text)
    except json.JSONDecodeError as error:
        raise BadMarkError(
            f"{error.lineno}:{error.colno}: not JSON ({error.msg}). Save the marks from the page again."
        ) from None
    except (RecursionError, ValueError):
        raise BadMarkError("1:1: not JSON that a page has saved. Save the marks from the page again.") from None
    if not isinstance(raw, dict) or not isinstance(raw.get("marks"), list):
        raise BadMarkError("1:1: no marks in it. Name a file that was saved with the page's own button.")
    job, record = raw.get("job"), raw.get("record")
    if not isinstance(job, str) or not isinstance(record, str):
        raise BadMarkError("1:1: it does not say of which job and record. Save the marks from the page again.")
    if len(raw["marks"]) > MARKS:
        raise BadMarkError(f"1:1: more than {MARKS} marks. Save the marks from the page again.")
    marks: list[Mark] = []
    for nr, each in enumerate(raw["marks"], start=1):
        try:
            marks.append(mark_from_json(each))
        except BadMarkError as error:
            raise BadMarkError(f"mark {nr}: {error}") from None
    return MarksFile(job, record, tuple(marks))


def new_marks(saved: MarksFile, marked: Marked, now_s: float) -> tuple[Mark, ...]:
    """Return the marks of a file that are not on record yet, ready to be added behind those that are.

    What a reviewer says twice is one mark. Marks that were taken back get the number they have on record. Raises
    BadMarkError where one does not fit the job or is dated later than `now_s`.
    """
    marks = list(marked.marks)
    places: dict[int, int] = {}
    for nr, mark in enumerate(saved.marks, start=1):
        told = mark_as_json(_renumbered(mark, places, nr))
        place = next((place for place, known in enumerate(marks, start=1) if mark_as_json(known) == told), None)
        fresh = _renumbered(mark, places, nr)
        if place is None:
            try:
                _not_ahead(fresh, now_s)
                place = doubled(fresh, tuple(marks))
                if place is None:
                    marks.append(_fitting_saved(fresh, replace(marked, marks=tuple(marks))))
                    place = len(marks)
            except BadMarkError as error:
                raise BadMarkError(f"mark {nr}: {error}") from None
        places[nr] = place
    return tuple(marks[len(marked.marks) :])


def _not_ahead(mark: Mark, now_s: float) -> None:
    if mark.at_s > now_s + AHEAD_S:
        raise BadMarkError(
            f"it is dated {_as_text(mark.at_s)}, and here it is {_as_text(round(now_s))}: it lies in the future. Set "
            "the clock right that is wrong, on the computer of the reviewer or on this one, then mark or take it again."
        )


def _renumbered(mark: Mark, places: Mapping[int, int], nr: int) -> Mark:
    if not isinstance(mark, TakenBack):
        return mark
    if mark.mark not in places:
        raise BadMarkError(
            f"mark {nr}: it takes back mark {mark.mark}, which does not stand before it in the file. "
            "Save the marks from the page again."
        )
    return replace(mark, mark=places[mark.mark])


def _fitting_saved(mark: Mark, marked: Marked) -> Mark:
    # The job may have gone on since the page was made; what was looked through stays looked through.
    if isinstance(mark, SignedOff) and 1 <= mark.events <= marked.events:
        return mark
    return fitting(mark, marked)


def _reviewer(raw: Json) -> str:
    name = raw.get("reviewer")
    if not isinstance(name, str) or not name.strip():
        raise BadMarkError("Who is reviewing? Write your name at the head of the page, then save again.")
    if len(name.strip()) > REVIEWER_SIGNS:
        raise BadMarkError(f"The reviewer's name is longer than {REVIEWER_SIGNS} signs. Write a shorter one.")
    return _plain(" ".join(name.split()), "the reviewer's name")


def _text(raw: Json, name: str, what: str) -> str:
    text = raw.get(name)
    if not isinstance(text, str):
        raise BadMarkError(f"There is no {name} in it, which is {what}. Reload the page and save again.")
    if len(text) > TEXT_SIGNS:
        raise BadMarkError(f"It is {len(text)} signs long, and {TEXT_SIGNS} is the most for {what}. Shorten it.")
    return _plain(text, what)


def _plain(text: str, what: str) -> str:
    try:
        text.encode()
    except UnicodeEncodeError:
        raise BadMarkError(f"There are characters that are not text in {what}. Write it again.") from None
    return text


def _number(raw: Json, name: str) -> int:
    number = raw.get(name)
    if isinstance(number, bool) or not isinstance(number, int):
        raise BadMarkError(f"Its {name} is no whole number. Reload the page and mark it again.")
    return number


def _at_s(raw: Json) -> float:
    at = raw.get("at")
    try:
        moment = datetime.fromisoformat(at if isinstance(at, str) else "")
        if moment.tzinfo is None:
            raise ValueError
        return moment.astimezone(UTC).timestamp()
    except (ValueError, OverflowError):
        raise BadMarkError(
            "Its time (at) is not like 2026-11-26T09:41:00+00:00. Save the marks from the page again."
        ) from None


def _as_text(at_s: float) -> str:
    return datetime.fromtimestamp(at_s, UTC).isoformat()
