"""Whatever is typed, in whatever state the job is: it is answered, it goes on record, and can be gone through again."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cache

from hypothesis import given
from hypothesis import strategies as st
from pydantic import TypeAdapter

from tests.dialogue.talker import shipped
from tests.faults.bounds import bounded
from tests.language.test_any_text import LEXICON, TRADE
from tests.replay.jobs import session_lines
from voicetech.dialogue.decide import decide
from voicetech.dialogue.given import KeepSound, Opening
from voicetech.events import Channel, Event, decoded, encoded
from voicetech.job import Job, Record
from voicetech.replaying import differences, turns_of
from voicetech.session import fold
from voicetech.showing import View, view_of

RANGE_SESSIONS = ("bake-element-repaired", "lost-leg-handed-over", "danger-and-the-way-back")
"""Jobs on the range, as they were typed."""
VIEWS: TypeAdapter[View] = TypeAdapter(View)
AT_WORK = st.sampled_from(
    ["stop", "undo", "repeat", "pause", "resume", "status", "how", "where", "why", "yes", "no", "done", "open", "zero",
     "it beeps", "probes off", "all six zero", "skip", "go to the supply", "skip because it rains", "note: it sags",
     "no, two forty", "close the job", "nobody is hurt and it is safe", "I got shocked", "it smelled burnt yesterday",
     "hand over", "type later"]
)  # fmt: skip
ANY_LINE = st.one_of(
    AT_WORK,
    st.text(st.characters(exclude_categories=["Cs"]), min_size=1, max_size=120),
    st.lists(TRADE, min_size=1, max_size=12).map(" ".join),
    st.sampled_from([1, 40, 5_000]).map(lambda times: "one " * times),
    st.sampled_from(
        ["9" * 5_000, "0." + "0" * 4_000 + "1", "1e999999 ohms", "-" * 3_000, "\u202e\u200b\u0000", "½" * 99]
    ),
).filter(lambda line: bool(line.strip()))
LATER_S = st.sampled_from([0.0, 7.0, 1_900.0, -5_000.0, 4e9, -1e6])
"""By how much the clock goes on before a line; it may be set back too."""


@dataclass
class Kept:
    """A record in memory, which keeps events as they are stored."""

    stored: list[tuple[str, str]] = field(default_factory=list)

    def append(self, job: str, expected_seq: int, events: Sequence[Event]) -> int:
        assert expected_seq == len(self.stored)
        written = [encoded(event) for event in events]
        for kind, body in written:
            assert (kind, body.encode().decode()) == (kind, body), "what is kept is text"
        self.stored += written
        return len(self.stored)

    def since(self, job: str, seq: int) -> Sequence[Event]:
        return [decoded(kind, body) for kind, body in self.stored[seq:]]


def _keeps(record: Kept) -> Record:
    return record


@cache
def states() -> tuple[tuple[tuple[str, str], ...], ...]:
    """Return the jobs as far as each of their answers."""
    found = []
    for name in RANGE_SESSIONS:
        kept = Kept()
        events = decide(shipped(), None, Opening("one", Channel.CHAT, 1_000_000.0, KeepSound.OFF))
        kept.append("one", 0, events)
        job = Job(shipped(), kept, fold(events), len(events), Clock())
        for line in session_lines(name):
            found.append(tuple(kept.stored))
            job.typed(line)
        found.append(tuple(kept.stored))
    return tuple(found)


@dataclass
class Clock:
    """A clock that goes on by what it is told."""

    now_s: float = 1_000_000.0

    def __call__(self) -> float:
        self.now_s += 1.0
        return self.now_s


@bounded(150)
@given(st.integers(0, 10_000), st.lists(st.tuples(LATER_S, ANY_LINE), min_size=1, max_size=4), st.booleans())
def test_every_line_is_answered_in_every_state(state: int, lines: list[tuple[float, str]], spoken_before: bool) -> None:
    kept = Kept([*states()[state % len(states())]])
    before = len(kept.stored)
    clock = Clock()
    job = Job(shipped(), _keeps(kept), fold(kept.since("one", 0)), before, clock, LEXICON)
    for later_s, line in lines:
        clock.now_s += later_s
        closed = job.closed
        reply = job.typed(line, Channel.PAGE if spoken_before else Channel.CHAT)
        assert reply.lines or job.prompt().lines or closed, f"{line!r} is not answered"
        VIEWS.dump_json(view_of(shipped(), job.session, clock.now_s))
    events = kept.since("one", 0)
    assert fold(events) == job.session, "the job comes out of its record as it is"
    turns = turns_of(events)[-len(lines) :]
    assert [found for found in differences(shipped(), LEXICON, turns) if found is not None] == []
