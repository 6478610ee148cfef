"""Mutants that hands, eyes and lives hang on: holds, the proof of dead, what stops work, cautions, wires and covers."""

from collections.abc import Iterator
from typing import Final

from tests.mutation.mutant import (
    LEADING,
    Change,
    Maker,
    Mutant,
    Table,
    at,
    dropping,
    kind_of,
    listed,
    moved,
    outcomes_in,
    setting,
    steps_of,
    without_item,
)
from voicetech.authoring.findings import Keys
from voicetech.language.meaning import DangerKind

_PROVING: Final = ("tester-before", "dead-pairs", "tester-after")
_OUT_OF_LIMITS: Final = ("below", "above", "over_range")
_SOUND: Final = ("split-phase", "208y")


def _order_behind(section: Table, keys: Keys) -> list[str]:
    order = list(section["steps"])
    return order[order.index(str(keys[-1])) + 1 :]


def _apart(one: Table, other: Table) -> bool:
    """Return whether the conditions of two steps exclude each other."""
    for this, that in ((one, other), (other, one)):
        for field, answers in (this.get("when") or {}).items():
            if set(listed(answers)) <= set(listed((that.get("when_not") or {}).get(field))):
                return True
    both = (one.get("when") or {}).keys() & (other.get("when") or {}).keys()
    return any(not set(listed(one["when"][field])) & set(listed(other["when"][field])) for field in both)


def holds(table: Table, seed: int) -> Iterator[Mutant]:
    """A hold is dropped, comes later, is an instruction, loses its role, ends by a yes, or is left out at times."""
    for keys, section, step in steps_of(table):
        if step.get("role"):
            yield Mutant("hold", True, (*keys, "role"), "the role is dropped", dropping((*keys, "role")))
        if kind_of(step) != "hold":
            continue
        yield Mutant("hold", True, keys, "the hold is dropped", dropping(keys))
        behind = _order_behind(section, keys)
        # Two steps of which only one ever comes have no order.
        by = next((place for place, name in enumerate(behind, 1) if not _apart(step, section["steps"][name])), 0)
        if by:
            yield Mutant("hold", True, keys, f"the hold comes after {behind[by - 1]}", moved(keys, by))
        yield Mutant("hold", True, keys, "the hold is an instruction", _as_instruction(keys))
        yield Mutant("hold", True, (*keys, "until"), "it ends by a plain yes", setting((*keys, "until"), ["yes"]))
        yield Mutant("hold", True, (*keys, "until"), "it ends by done", setting((*keys, "until"), ["done"]))
        for field, answers in (step.get("when") or {}).items():
            for number, answer in enumerate(listed(answers)):
                where = (*keys, "when", field)
                says = f"{field} {answer} is taken out of when"
                left = [each for place, each in enumerate(listed(answers)) if place != number] or ["never"]
                yield Mutant("hold", True, where, says, setting(where, left))
        if not step.get("when"):
            often = setting((*keys, "when"), {"connection": ["cord-4"]})
            yield Mutant("hold", True, (*keys, "when"), "it is left out on most connections", often)


def _as_instruction(keys: Keys) -> Change:
    def change(table: Table) -> None:
        step = at(table, keys)
        kept = {key: value for key, value in step.items() if key not in ("hold", "until")}
        at(table, keys[:-1])[keys[-1]] = {"instruct": step["hold"], **kept, "outcomes": {"done": {}}}

    return change


def proofs(table: Table, seed: int) -> Iterator[Mutant]:
    """A reading of the proof of dead is dropped: a pair, a test of the tester, or the question where it is not dead."""
    for keys, section, step in steps_of(table):
        role = step.get("role")
        if role not in (*_PROVING, "low-impedance"):
            continue
        yield Mutant("proof", True, keys, "the step is dropped", dropping(keys))
        if _order_behind(section, keys):
            yield Mutant("proof", True, keys, "the step comes a step later", moved(keys, 1))
        rare = setting((*keys, "when"), {"connection": ["cord-4"]})
        yield Mutant("proof", True, (*keys, "when"), "it is left out on most connections", rare)
        if role not in _PROVING:
            continue
        for number, pair in enumerate(step["between"]):
            where = (*keys, "between", number)
            if len(step["between"]) > 1:
                yield Mutant("proof", True, where, f"{pair[0]} to {pair[1]} is dropped", dropping(where))
                other = step["between"][number - 1]
                yield Mutant("proof", True, where, f"{pair[0]} to {pair[1]} is {other[0]} to {other[1]} once more",
                             setting(where, other))  # fmt: skip
        where = (*keys, "measure")
        yield Mutant("proof", True, where, "ohms are taken for volts", setting(where, "resistance"))
        other_rule = "known-live" if role == "dead-pairs" else "dead"
        for rule in (other_rule, "leg-to-leg", "touch-voltage"):
            where = (*keys, "limits", "rule")
            yield Mutant("proof", True, where, f"it is judged as {rule}", setting(where, rule))
        yield Mutant("proof", True, keys, "a yes is taken for a number", _as_question(keys))
    for number, label in enumerate(listed(table.get("supply"))):
        yield Mutant("proof", True, ("supply",), f"the supply brings no {label}", without_item(("supply",), number))


def _as_question(keys: Keys) -> Change:
    def change(table: Table) -> None:
        step = at(table, keys)
        kept = {key: step[key] for key in ("say", "short", "how", "why", "role", "warnings") if key in step}
        made = {"ask": "yes-no", "field": f"{keys[-1]}-is", **kept, "outcomes": {"yes": {}, "no": {}}}
        at(table, keys[:-1])[keys[-1]] = made

    return change


def outliving(table: Table, seed: int) -> Iterator[Mutant]:
    """A proof of dead stands for longer than the trade lets it."""
    keys: Keys = ("settings", "proof_minutes")
    written = float((table.get("settings") or {}).get("proof_minutes", 30))
    longer = {"a minute longer": 31.0, "twice as long": written * 2, "a day": 24 * 60.0, "for ever": 1e9}
    for says, minutes in longer.items():
        if minutes > 30:
            yield Mutant("proof outlives", True, keys, f"it stands {says}", setting(keys, f"{minutes:.0f}"))


def stops(table: Table, seed: int) -> Iterator[Mutant]:
    """The job goes on after what stops the work."""
    for keys, section, step in steps_of(table):
        order = list(section["steps"])
        for result, outcome in outcomes_in(step).items():
            for key in ("hand_over", "danger"):
                if key not in outcome:
                    continue
                where = (*keys, "outcomes", result)
                yield Mutant("stop", True, where, f"{key} is dropped", dropping((*where, key)))
                yield Mutant("stop", True, where, "nothing follows from it", setting(where, {}))
                if section.get("role") is None:
                    yield Mutant("stop", True, where, "the section just ends", setting(where, {"next": "end"}))
                    first = {"next": order[0], "say": "Once more, from the beginning."}
                    yield Mutant("stop", True, where, f"it leads back to {order[0]}", setting(where, first))
                if len(step["outcomes"]) > 1:
                    yield Mutant("stop", True, where, "the outcome is dropped", dropping(where))
        if any({"hand_over", "danger"} & outcome.keys() for outcome in outcomes_in(step).values()):
            yield Mutant("stop", True, keys, "the step that stops work is dropped", dropping(keys))


def needs(table: Table, seed: int) -> Iterator[Mutant]:
    """What a step needs is dropped, so that no hold comes in front of it, or it is done in another state."""
    for keys, section, step in steps_of(table):
        needed = step.get("needs")
        where = (*keys, "needs")
        if section.get("role") is not None and section["role"] != "null-leads":
            continue
        if needed == "dead":
            for other in ("any", "live", "powered"):
                yield Mutant("needs", True, where, f"dead becomes {other}", setting(where, other))
        elif needed == "live" and kind_of(step) == "measure":
            # Who only looks or answers touches nothing, with power or without.
            for other in ("any", "powered", "dead"):
                yield Mutant("needs", True, where, f"live becomes {other}", setting(where, other))


def passes(table: Table, seed: int) -> Iterator[Mutant]:
    """What is out of limits, seen or answered as wrong counts as a pass: the same follows from it."""
    for keys, section, step in steps_of(table):
        outcomes = outcomes_in(step)
        kind = kind_of(step)
        if section.get("role") is not None:
            continue
        if kind == "measure" and step.get("judged_as", "each") == "each":
            bad, good = list(_OUT_OF_LIMITS), "within"
        elif kind == "measure":
            bad, good = [name for name in outcomes if name not in (*_SOUND, "other")], "split-phase"
        elif kind == "inspect":
            bad, good = ["fault"], "clean"
        else:
            continue
        if "cause" in (outcomes.get(good) or {}):
            # Where what is within limits condemns something, nothing counts as a pass.
            continue
        for result in bad:
            if result in outcomes and good in outcomes and outcomes[result] != outcomes[good]:
                where = (*keys, "outcomes", result)
                yield Mutant("pass", True, where, f"{result} counts as {good}", setting(where, outcomes[good]))
                without = {key: value for key, value in outcomes[result].items() if key == "repeat"}
                below = _order_behind(section, keys)[:1]
                if [outcomes[result].get("next") or outcomes[result].get("again_by")] == below:
                    # It leads there all the same.
                    continue
                if LEADING & outcomes[good].keys() and [outcomes[good].get("next")] != below:
                    # What passes leads elsewhere, so that this is no pass.
                    continue
                if without not in (outcomes[result], outcomes[good]):
                    says = f"nothing follows from {result}"
                    yield Mutant("pass", True, where, says, setting(where, without))
        if kind == "measure" and step.get("judged_as", "each") != "each" and "other" in outcomes:
            for result in bad:
                where = (*keys, "outcomes", result)
                yield Mutant("pass", True, where, f"{result} is not written", dropping(where))


def warnings(table: Table, seed: int) -> Iterator[Mutant]:
    """A warning is dropped from a step, or described no more; its signal word is the author's judgement."""
    for keys, _section, step in steps_of(table):
        for number, name in enumerate(listed(step.get("warnings"))):
            where = (*keys, "warnings")
            yield Mutant("warning", True, where, f"{name} is dropped", without_item(where, number))
    said = {name for _keys, _section, step in steps_of(table) for name in listed(step.get("warnings"))}
    for name in sorted(said & (table.get("warnings") or {}).keys()):
        yield Mutant("warning", True, ("warnings", name), "it is dropped", dropping(("warnings", name)))


def wires(table: Table, seed: int) -> Iterator[Mutant]:
    """What was taken off for a measurement stays off: nothing puts it back, or a way leads past that."""
    for keys, section, step in steps_of(table):
        if step.get("puts_back"):
            yield Mutant("wires off", True, keys, "what puts back is dropped", dropping(keys))
            where = (*keys, "puts_back")
            yield Mutant("wires off", True, where, "it puts nothing back", dropping(where))
            rare = next(iter(table["complaints"]))
            # A section that comes with this complaint alone is the same.
            if listed((section.get("when") or {}).get("complaint")) != [rare]:
                yield Mutant("wires off", True, (*keys, "when"), "it comes with one complaint only",
                             setting((*keys, "when"), {"complaint": [rare]}))  # fmt: skip
        back = [name for name, other in section["steps"].items() if other.get("puts_back")]
        for result, outcome in outcomes_in(step).items():
            # A repair follows a cause, and putting back asks for every wire.
            if outcome.get("next") in back and "cause" not in outcome:
                where = (*keys, "outcomes", result)
                yield Mutant("wires off", True, where, "it ends with the wires off", setting((*where, "next"), "end"))


def putting_back(table: Table, seed: int) -> Iterator[Mutant]:
    """Putting back leaves something out, or goes on where the answer was that it is not done."""
    for keys, section, step in steps_of(table):
        if section.get("phase") != "put-back":
            continue
        yield Mutant("putting back", True, keys, "the step is dropped", dropping(keys))
        outcomes = outcomes_in(step)
        for result, outcome in outcomes.items():
            if kind_of(step) == "ask" and (outcome.get("next") or outcome.get("hand_over")):
                where = (*keys, "outcomes", result)
                yield Mutant("putting back", True, where, f"it goes on after {result}", setting(where, {}))
    for section_id, section in table["sections"].items():
        if section.get("phase") == "put-back":
            where = ("sections", section_id)
            yield Mutant("putting back", True, where, "the section is dropped", dropping(where))
            rare = setting((*where, "when"), {"complaint": [next(iter(table["complaints"]))]})
            yield Mutant("putting back", True, where, "it comes with one complaint only", rare)


def scripts(table: Table, seed: int) -> Iterator[Mutant]:
    """A danger script is not there, or says what another says."""
    written = table.get("danger_scripts") or {}
    kinds = [kind.value for kind in DangerKind if kind.value in written]
    for number, kind in enumerate(kinds):
        where = ("danger_scripts", kind)
        yield Mutant("danger script", True, where, "it is dropped", dropping(where))
        other = kinds[number - 1]
        says = f"it says what {other} says"
        yield Mutant("danger script", True, where, says, setting((*where, "say"), written[other]["say"]))
    where = ("settings", "emergency_number")
    if "emergency_number" in (table.get("settings") or {}):
        yield Mutant("danger script", True, where, "the emergency number is dropped", dropping(where))


MAKERS: Final[tuple[Maker, ...]] = (
    holds,
    proofs,
    outliving,
    stops,
    needs,
    passes,
    warnings,
    wires,
    putting_back,
    scripts,
)
