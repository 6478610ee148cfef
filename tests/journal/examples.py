"""An example of every kind of event, found through `KINDS`, so that a new kind cannot go untested."""

from decimal import Decimal

from hypothesis import strategies as st

from voicetech.events import KINDS, AnswerTaken, Event, JobClosed, JobOpened, NoteTaken, Replied
from voicetech.events import Channel as Through

_PLAIN = st.decimals(allow_nan=False, allow_infinity=False)
_COUNTS = st.integers(-(2**63) + 1, 2**63 - 1)
_TIMES = st.floats(min_value=0, max_value=4e9)


def any_event() -> st.SearchStrategy[Event]:
    """Return events of every kind."""
    return st.one_of([an_event_of(kind) for kind in sorted(KINDS)])


def an_event_of(kind: str) -> st.SearchStrategy[Event]:
    """Return events of one kind, with any text, digits and times."""
    return st.builds(KINDS[kind])


def register_plain_numbers() -> None:
    """Make every decimal finite, every float a time and every count one: what meters, clocks and programs can give."""
    st.register_type_strategy(int, _COUNTS)
    st.register_type_strategy(Decimal, _PLAIN)
    st.register_type_strategy(float, _TIMES)


def opened(job: str, at_s: float = 1_700_000_000.0) -> JobOpened:
    """Return the opening of a job."""
    return JobOpened(job, "range-no-heat", 3, "d" * 64, Through.CHAT, at_s)


def complaint(seq: int, value: str, at_s: float = 1_700_000_010.0) -> AnswerTaken:
    """Return the answer to the question what is cold."""
    return AnswerTaken(seq, "intake", "complaint", "complaint", value, unverified=False, at_s=at_s)


def note(text: str, at_s: float = 1_700_000_020.0) -> NoteTaken:
    """Return a spoken note."""
    return NoteTaken(text, unverified=True, at_s=at_s)


def reply(speak: str) -> Replied:
    """Return what the program said; it carries no time."""
    return Replied(speak, (speak,))


def closed(outcome: str, at_s: float = 1_700_000_030.0) -> JobClosed:
    """Return the end of a job."""
    return JobClosed(outcome, at_s)
