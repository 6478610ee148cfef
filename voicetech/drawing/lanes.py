"""Jumps beside the steps: one upright line for each step that is jumped to, as near to the steps as is free."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Jump:
    """From where on the sheet ways lead to a step, and where that is entered, by height."""

    step: str
    starts: tuple[float, ...]
    end: float

    @property
    def top(self) -> float:
        """Return how far up its line reaches."""
        return min(*self.starts, self.end)

    @property
    def bottom(self) -> float:
        """Return how far down its line reaches."""
        return max(*self.starts, self.end)


def in_lanes(jumps: Sequence[Jump], most: int) -> Mapping[str, int]:
    """Return the lane of each jump's step, 0 nearest to the steps, the shortest jumps nearest.

    A step that would need a lane beyond `most` has none: its number in words has to do.
    """
    taken: list[list[Jump]] = []
    lanes: dict[str, int] = {}
    for jump in sorted(jumps, key=lambda each: (each.bottom - each.top, each.top)):
        free = next((n for n, others in enumerate(taken) if _fits(jump, others)), len(taken))
        if free >= most:
            continue
        if free == len(taken):
            taken.append([])
        taken[free].append(jump)
        lanes[jump.step] = free
    return lanes


def _fits(jump: Jump, others: Sequence[Jump]) -> bool:
    return not any(jump.top <= other.bottom and other.top <= jump.bottom for other in others)
