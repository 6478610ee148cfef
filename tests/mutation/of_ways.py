"""Mutants of when a step comes: its conditions, what it is recorded under, and ways that end nowhere."""

from collections.abc import Iterator
from typing import Final

from tests.mutation.mutant import (
    LEADING,
    Change,
    Maker,
    Mutant,
    Table,
    another,
    at,
    chance_at,
    dropping,
    kind_of,
    listed,
    outcomes_in,
    setting,
    steps_of,
    with_item,
    without_item,
)
from voicetech.authoring.findings import Keys


def conditions(table: Table, seed: int) -> Iterator[Mutant]:
    """A condition of a test is turned round, or loses or changes an answer.

    One that is dropped has a step come more often, which makes the job longer and nothing wrong. When anything else
    than a test comes is the author's word alone, unless safety hangs on it: see `of_safety`.
    """
    for keys, section, step in steps_of(table):
        if not section.get("role") and section.get("phase") == "test":
            yield from _of_one(table, keys, step, seed)
    for section_id, section in table["sections"].items():
        if not section.get("role") and section.get("phase") == "test":
            yield from _of_one(table, ("sections", section_id), section, seed)


def _of_one(table: Table, keys: Keys, written: Table, seed: int) -> Iterator[Mutant]:
    answers_of = _answers(table)
    for key, other_key in (("when", "when_not"), ("when_not", "when")):
        for field, answers in (written.get(key) or {}).items():
            where = (*keys, key, field)
            yield Mutant("condition", False, where, f"{key} becomes {other_key}", _turned(keys, key, other_key, field))
            for number, answer in enumerate(listed(answers)):
                if len(listed(answers)) > 1:
                    says = f"{answer} is taken out of {key}"
                    yield Mutant("condition", False, where, says, without_item(where, number))
                chance = chance_at(seed, (*where, number), "answer")
                other = another(chance, answers_of.get(field, []), *listed(answers))
                if other is not None:
                    says = f"{answer} becomes {other} in {key}"
                    yield Mutant("condition", False, where, says, with_item(where, number, other))


def _turned(keys: Keys, key: str, other: str, field: str) -> Change:
    def change(table: Table) -> None:
        step = at(table, keys)
        answers = step[key].pop(field)
        step.setdefault(other, {})[field] = answers
        if not step[key]:
            del step[key]

    return change


def _answers(table: Table) -> dict[str, list[str]]:
    found: dict[str, list[str]] = {"found": ["yes", "no"]}
    for _keys, _section, step in steps_of(table):
        if kind_of(step) == "ask":
            given = list(step.get("choices") or {}) if step["ask"] == "choice" else ["yes", "no"]
            found.setdefault(step["field"], []).extend(given)
    return found


def fields(table: Table, seed: int) -> Iterator[Mutant]:
    """What is answered or measured is kept under another name, or limits look at another."""
    for keys, _section, step in steps_of(table):
        if step.get("field"):
            place = (*keys, "field")
            yield Mutant("field", False, place, f"{step['field']} is renamed", setting(place, f"{step['field']}_x"))
            if kind_of(step) == "measure":
                yield Mutant("field", False, place, f"{step['field']} is dropped", dropping(place))
        for key, field in (step.get("limits") or {}).items():
            if key not in ("rule", "source", "low", "high"):
                place = (*keys, "limits", key)
                yield Mutant("field", False, place, f"{field} is renamed", setting(place, f"{field}_x"))
                yield Mutant("field", False, place, f"{key} is dropped", dropping(place))


def unreachable(table: Table, seed: int) -> Iterator[Mutant]:
    """A step is made one that nothing leads to."""
    for keys, section, step in steps_of(table):
        if section.get("role"):
            continue
        never = {**(step.get("when") or {}), "complaint": ["never"]}
        place = (*keys, "when")
        yield Mutant("unreachable", False, place, "its conditions never hold", setting(place, never))
        names = list(section["steps"])
        here = names.index(str(keys[-1]))
        outcomes = outcomes_in(step)
        if here + 1 >= len(names) or not outcomes or step.get("when") or step.get("when_not"):
            continue
        after = names[here + 2] if here + 2 < len(names) else "end"
        led = {result: {**outcome, "next": after} if _leads_below(outcome) else outcome
               for result, outcome in outcomes.items()}  # fmt: skip
        if led != outcomes and names[here + 1] not in _named(section):
            says = f"everything leads past {names[here + 1]}"
            yield Mutant("unreachable", False, (*keys, "outcomes"), says, setting((*keys, "outcomes"), led))


def _named(section: Table) -> set[str]:
    outcomes = [outcome for step in section["steps"].values() for outcome in outcomes_in(step).values()]
    return {str(outcome[key]) for outcome in outcomes for key in ("next", "again_by") if key in outcome}


def _leads_below(outcome: Table) -> bool:
    return not LEADING & outcome.keys()


def endless(table: Table, seed: int) -> Iterator[Mutant]:
    """A step leads to nothing but itself, or back to where the section begins."""
    for keys, section, step in steps_of(table):
        outcomes = outcomes_in(step)
        if section.get("role") or not outcomes:
            continue
        place = (*keys, "outcomes")
        itself = {result: {**{key: value for key, value in outcome.items() if key not in LEADING},
                           "next": str(keys[-1])} for result, outcome in outcomes.items()}  # fmt: skip
        yield Mutant("endless", False, place, "every result leads back to it", setting(place, itself))
        first = next(iter(section["steps"]))
        back = {result: {**outcome, "next": first} if _leads_below(outcome) else outcome
                for result, outcome in outcomes.items()}  # fmt: skip
        if back not in (outcomes, itself):
            yield Mutant("endless", False, place, f"it leads back to {first}", setting(place, back))


def twice(table: Table, seed: int) -> Iterator[Mutant]:
    """A step is there twice, under another name."""
    for keys, _section, _step in steps_of(table):
        yield Mutant("twice", False, keys, "the step comes twice", _doubled(keys))


def _doubled(keys: Keys) -> Change:
    def change(table: Table) -> None:
        steps = at(table, keys[:-1])
        made: Table = {}
        for name, step in steps.items():
            made[name] = step
            if name == keys[-1]:
                made[f"{name}-x"] = {**step}
        steps.clear()
        steps.update(made)

    return change


MAKERS: Final[tuple[Maker, ...]] = (conditions, fields, unreachable, endless, twice)
