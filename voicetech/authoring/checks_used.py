"""What is described and nothing uses: often a name that was mistyped where it should be used."""

from collections.abc import Iterable, Iterator
from typing import Final

from voicetech.authoring.checking import Breach, Check, every_outcome, every_step
from voicetech.authoring.naming import nearest
from voicetech.procedure import Measure, Procedure


def never_used(procedure: Procedure) -> Iterator[Breach]:
    """Points, warnings, remedies, hand-overs and accesses are used somewhere."""
    steps = [step for _keys, _section, step in every_step(procedure)]
    measured = {
        point for step in steps if isinstance(step, Measure) for p in step.pairs for point in (p.first, p.second)
    }
    described: dict[str, tuple[Iterable[str], set[str]]] = {
        "points": (procedure.points, measured),
        "warnings": (procedure.warnings, {name for step in steps for name in step.warnings}),
        "remedies": (procedure.remedies, {cause.remedy for cause in procedure.causes.values()}),
        "hand_overs": (
            procedure.hand_overs,
            {outcome.hand_over for _keys, _section, outcome in every_outcome(procedure) if outcome.hand_over},
        ),
        "access": (procedure.access, {name for section in procedure.sections for name in section.access}),
    }
    for key, (names, used) in described.items():
        for name in names:
            if name in used:
                continue
            mistyped = nearest(name, used - set(names))
            do = f"is it {mistyped} elsewhere?" if mistyped else "use it or remove it"
            yield Breach((key, name), f"nothing uses this; {do}", "never-used")


CHECKS: Final[tuple[Check, ...]] = ()
ADVICE: Final[tuple[Check, ...]] = (never_used,)
"""What is told by the check alone."""
