"""Events that cannot be read, in words: runs of them together, as in "events 1 to 43 are missing"."""

from collections.abc import Iterable, Iterator, Sequence
from itertools import groupby

from voicetech.journal.store import LeftOut


def numbers_told(numbers: Iterable[int]) -> str:
    """Return numbers of events in words, runs together: "event 5", "events 1 to 43, 50 and 61 to 63"."""
    parts = [str(first) if first == last else f"{first} to {last}" for first, last in _runs(sorted(set(numbers)))]
    if len(parts) == 1 and " " not in parts[0]:
        return f"event {parts[0]}"
    return f"events {', '.join(parts[:-1])} and {parts[-1]}" if len(parts) > 1 else f"events {parts[0]}"


def gaps_told(left_out: Sequence[LeftOut]) -> Iterator[str]:
    """Yield what was left out of a job in words, one line for each run of missing events and each unreadable one."""
    for missing, run in groupby(left_out, key=lambda left: not left.kind):
        if missing:
            numbers = [left.seq for left in run]
            for first, last in _runs(numbers):
                yield f"event {first} is missing" if first == last else f"events {first} to {last} are missing"
        else:
            yield from (f"event {left.seq} ({left.kind}): {left.why}" for left in run)


def _runs(numbers: Sequence[int]) -> Iterator[tuple[int, int]]:
    """Yield the first and last of each run; `numbers` rise."""
    for _, run in groupby(enumerate(numbers), key=lambda placed: placed[1] - placed[0]):
        inside = [number for _, number in run]
        yield inside[0], inside[-1]
