"""What the record tells of danger: what was said, whether the job stopped, and what had happened."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from voicetech.events import DangerDenied, DangerDoubted, DangerRecounted, DangerStopped, Event, StopCleared
from voicetech.language.meaning import DangerKind


@dataclass(frozen=True, slots=True)
class DangerFact:
    """One time danger words were heard.

    `stopped` is whether the job stopped at once; where it did not, the technician said it was not happening.
    `words` and `account` are the technician's own, unverified.
    """

    kind: DangerKind
    words: str
    at_s: float
    stopped: bool
    denied: bool = False
    cleared_at_s: float | None = None
    account: str | None = None


def dangers_of(events: Sequence[Event]) -> tuple[DangerFact, ...]:
    """Return every time danger words were heard, in order."""
    facts: list[DangerFact] = []
    for event in events:
        match event:
            case DangerDoubted(kind=kind, words=words, at_s=at_s):
                facts.append(DangerFact(kind, words, at_s, stopped=False))
            case DangerStopped(kind=kind, words=words, at_s=at_s):
                facts.append(DangerFact(kind, words, at_s, stopped=True))
            case DangerDenied() if facts:
                facts[-1] = replace(facts[-1], denied=True)
            case StopCleared(at_s=at_s) if facts:
                facts[-1] = replace(facts[-1], cleared_at_s=at_s)
            case DangerRecounted(words=words) if facts:
                facts[-1] = replace(facts[-1], account=words)
            case _:
                pass
    return tuple(facts)
