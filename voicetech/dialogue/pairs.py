"""Which pair of test points a technician means: "L1 to N", "hot to hot", "to the sheath", "left"."""

from collections.abc import Sequence
from typing import Final

from voicetech.procedure import Measure, Pair

_SAME_POINT: Final = (
    frozenset({"hot", "live", "phase", "black", "red", "l1", "l2", "x", "y"}),
    frozenset({"neutral", "n", "white", "w", "common", "com"}),
    frozenset({"frame", "chassis", "case", "casing", "cabinet", "body", "housing", "tank", "metal", "sheath", "ground",
               "earth", "g", "pe", "stove", "cooker"}),
    frozenset({"fridge", "refrigerator", "sink", "hood", "other metal"}),
    frozenset({"terminal", "pin", "blade"}),
)  # fmt: skip
"""Names that technicians give to the same kind of point. Common practice, no source."""
_OF_ONE_KIND: Final = frozenset({"l1", "l2", "x", "y"})
_SIDES: Final = frozenset({
    "left", "right", "one", "other", "top", "bottom", "upper", "lower", "first", "second", "left leg", "right leg",
    "left side", "right side", "left hot", "right hot", "one side", "other side", "the other", "the other side",
    "one leg", "other leg", "first leg", "second leg",
})  # fmt: skip
_MOST_ENDS: Final = 2
_OF_METAL_AND_MAINS: Final = 4
"""Kinds of points, the first of those above, that are never the end of a part."""


def plain_label(label: str) -> str:
    """Return a label without case, spaces or hyphens, so that "L1 to N" and "L1-N" are the same."""
    return "".join(c for c in label.lower().replace(" to ", "") if c.isalnum())


def only_a_side(label: str | None) -> bool:
    """Return whether a label says left or first and no point: which pair it is, only the open question tells."""
    return label is not None and label.lower() in _SIDES


def named_pair(step: Measure, label: str) -> Pair | None:
    """Return the pair of a step that is named in full, in either order, or None."""
    wanted = plain_label(label)
    for pair in step.pairs:
        ends = pair.label.split("-")
        if wanted in {plain_label(pair.label), plain_label("-".join(reversed(ends)))}:
            return pair
    return None


def names_another(step: Measure, label: str) -> bool:
    """Return whether a label names a point that none of the step's pairs has: the sheath, asked end to end."""
    ends = [end for end in label.lower().replace(" to ", "-").split("-") if end]
    return any(
        any(kind.intersection((end, *end.split())) for kind in _SAME_POINT[:_OF_METAL_AND_MAINS])
        and not any(_same(end, other.lower()) for pair in step.pairs for other in pair.label.split("-"))
        for end in ends
    )


def meant_pair(step: Measure, owed: Sequence[Pair], label: str) -> Pair | None:
    """Return the pair that a label means while `owed` are still to be measured, or None where it could be none or more.

    The pair that is asked for now is meant where the label fits it; another one only where both its points are named.
    """
    if only_a_side(label):
        return owed[0]
    named = named_pair(step, label)
    if named is not None:
        return named
    ends = [end for end in label.lower().replace(" to ", "-").split("-") if end]
    fitting = [pair for pair in owed if _fits(ends, pair)]
    if owed[0] in fitting:
        return owed[0]
    return fitting[0] if len(fitting) == 1 and len(ends) == _MOST_ENDS else None


def _fits(said: Sequence[str], pair: Pair) -> bool:
    ends = [end.lower() for end in pair.label.split("-")]
    if not 1 <= len(said) <= _MOST_ENDS or len(ends) != _MOST_ENDS:
        return False
    if len(said) == 1:
        return any(_same(said[0], end) for end in ends)
    return any(_same(said[0], one) and _same(said[1], other) for one, other in (ends, ends[::-1]))


def _same(said: str, end: str) -> bool:
    if said == end or set(said.split()) <= set(end.split()):
        return True
    if said in _OF_ONE_KIND and end in _OF_ONE_KIND:
        return False
    one, other = {said, *said.split()}, {end, *end.split()}
    return any(kind & one and kind & other for kind in _SAME_POINT)
