"""Mutants of what follows from a result: each thing that an outcome names is another, or is dropped."""

import random
from collections.abc import Iterator
from typing import Final

from tests.mutation.mutant import (
    LEADING,
    Maker,
    Mutant,
    Table,
    another,
    chance_at,
    dropping,
    kind_of,
    listed,
    outcomes_in,
    setting,
    steps_of,
    with_item,
)
from voicetech.authoring.findings import Keys
from voicetech.language.meaning import DangerKind


def retargets(table: Table, seed: int) -> Iterator[Mutant]:
    """Each thing that an outcome names is another: where it leads, what it shows, who takes over.

    What an answer makes likely is the author's judgement, so that only what is measured or seen suspects another.
    """
    causes, hand_overs = list(table.get("causes") or {}), list(table.get("hand_overs") or {})
    for keys, section, step in steps_of(table):
        names = list(section["steps"])
        for result, outcome in outcomes_in(step).items():
            where = (*keys, "outcomes", result)
            chance = chance_at(seed, where, "retarget")
            for key, among in (
                ("next", [*names, "end"]),
                ("again_by", [name for name in names if name != keys[-1]]),
                ("cause", causes),
                ("hand_over", hand_overs),
                ("danger", [kind.value for kind in DangerKind]),
            ):
                if key not in outcome:
                    continue
                other = another(chance, among, outcome[key])
                # With a cause the test is over, wherever it leads: a repair follows.
                over = key == "next" and "cause" in outcome
                if other is not None and not over:
                    says = f"{outcome[key]} becomes {other}"
                    place = (*where, key)
                    yield Mutant(f"{key} retargeted", key == "danger", place, says, setting(place, other))
            for key in ("suspects", "excludes") if kind_of(step) in ("measure", "inspect") else ():
                for number, cause in enumerate(listed(outcome.get(key))):
                    other = another(chance, causes, *listed(outcome[key]))
                    if other is not None:
                        change = with_item((*where, key), number, other)
                        yield Mutant(f"{key} retargeted", False, (*where, key), f"{cause} becomes {other}", change)
            yield from _led_on(where, section, str(keys[-1]), outcome, chance)


def _led_on(where: Keys, section: Table, step_id: str, outcome: Table, chance: random.Random) -> Iterator[Mutant]:
    """Yield an outcome that went to the step below and goes elsewhere."""
    names = list(section["steps"])
    place = names.index(step_id)
    below = names[place + 1] if place + 1 < len(names) else "end"
    if LEADING & outcome.keys() or section.get("role") in ("make-safe", "go-live", "power-up"):
        return
    other = another(chance, [*names, "end"], below)
    if other is not None:
        says = f"the step below becomes {other}"
        yield Mutant("next retargeted", False, where, says, setting((*where, "next"), other))


def dropped(table: Table, seed: int) -> Iterator[Mutant]:
    """An outcome, or something that it names, is dropped.

    A suspicion less, or a cause less that is ruled out, makes the job longer and nothing wrong. Only what a meter shows
    as failed is read twice: a watch or a thermometer slips nowhere.
    """
    for keys, _section, step in steps_of(table):
        metered = step.get("measure") not in ("duration", "temperature")
        for result, outcome in outcomes_in(step).items():
            where = (*keys, "outcomes", result)
            for key in ("next", "again_by", "cause", "repeat"):
                # With a cause the test is over, wherever it leads.
                over = key == "next" and "cause" in outcome
                if key in outcome and not over and (key != "repeat" or (metered and result != "marginal")):
                    says = f"{outcome[key]} is dropped"
                    yield Mutant(f"{key} dropped", False, (*where, key), says, dropping((*where, key)))
            if len(outcomes_in(step)) > 1:
                yield Mutant("outcome dropped", False, where, f"{result} is dropped", dropping(where))


MAKERS: Final[tuple[Maker, ...]] = (retargets, dropped)
