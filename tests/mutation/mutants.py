"""What a procedure is broken into: one written value changed in each, by kind, the same for the same seed.

Mutants are made from the structure of the files, whatever procedure they are. A change that comes to the same
procedure is none, and is not made.
"""

import copy
import random
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any, Final

from voicetech.authoring.findings import Keys
from voicetech.authoring.format_steps import MEASURED
from voicetech.language.meaning import DangerKind
from voicetech.limit_rules import RULES

Table = dict[str, Any]
"""What stands in a procedure's files, joined: text, lists and tables."""
Change = Callable[[Table], None]


@dataclass(frozen=True, slots=True)
class Mutant:
    """One change: its kind, whether safety hangs on it, where it is, what it is in words, and the table it makes."""

    kind: str
    safety: bool
    keys: Keys
    says: str
    change: Change

    def made_of(self, table: Table) -> Table:
        """Return the table with this change; the other parts are the same objects."""
        made = dict(table)
        # Only the branch that is changed is copied.
        made[str(self.keys[0])] = copy.deepcopy(table.get(str(self.keys[0]), {}))
        self.change(made)
        return made


STEP_KINDS: Final = ("hold", "ask", "inspect", "measure", "instruct")
_PROVING: Final = ("tester-before", "dead-pairs", "tester-after")
_NEEDS: Final = ("dead", "live", "powered")
_FIGURES: Final = ("low", "high")


def mutants(table: Table, seed: int) -> Iterator[Mutant]:
    """Yield every mutant of a procedure as it is written, by kind."""
    for make in (_holds, _proofs, _outliving, _stops, _needs, _retargets, _limits, _units, _sources, _points, _warnings,
                 _flow):  # fmt: skip
        yield from make(table, seed)


def _steps(table: Table) -> Iterator[tuple[Keys, Table, Table]]:
    """Yield every step with the keys to it, and its section."""
    for section_id, section in table["sections"].items():
        for step_id, step in (section.get("steps") or {}).items():
            yield ("sections", section_id, "steps", step_id), section, step


def _at(table: Table, keys: Sequence[str | int]) -> Any:
    for key in keys:
        table = table[key]  # type: ignore[index]  # a list takes a number
    return table


def _setting(keys: Keys, value: object) -> Change:
    def change(table: Table) -> None:
        _at(table, keys[:-1])[keys[-1]] = value

    return change


def _dropping(keys: Keys) -> Change:
    def change(table: Table) -> None:
        del _at(table, keys[:-1])[keys[-1]]

    return change


def _chance(seed: int, keys: Iterable[str | int], what: str) -> random.Random:
    return random.Random(f"{seed}/{'.'.join(map(str, keys))}/{what}")


def _another(chance: random.Random, among: Iterable[str], *but: str | None) -> str | None:
    others = [each for each in among if each not in but]
    return chance.choice(others) if others else None


def _kind(step: Table) -> str:
    return next((kind for kind in STEP_KINDS if kind in step), "")


# --- holds


def _holds(table: Table, seed: int) -> Iterator[Mutant]:
    """A hold is dropped, moved behind the next step, made an instruction, loses its role, or ends by a plain yes."""
    for keys, section, step in _steps(table):
        if _kind(step) != "hold":
            if step.get("role"):
                yield Mutant("hold", True, keys, "the role is dropped", _dropping((*keys, "role")))
            continue
        yield Mutant("hold", True, keys, "the hold is dropped", _dropping(keys))
        order = list(section["steps"])
        if order.index(str(keys[-1])) + 1 < len(order):
            yield Mutant("hold", True, keys, "the hold comes a step later", _moved(keys, 1))
        yield Mutant("hold", True, keys, "the hold is an instruction", _as_instruction(keys))
        if step.get("role"):
            yield Mutant("hold", True, keys, "the role is dropped", _dropping((*keys, "role")))
        yield Mutant("hold", True, (*keys, "until"), "it ends by a plain yes", _setting((*keys, "until"), ["yes"]))
        for when in ("when", "when_not"):
            for field, answers in (step.get(when) or {}).items():
                for number, answer in enumerate(answers if isinstance(answers, list) else [answers]):
                    where = (*keys, when, field)
                    says = f"{field} {answer} is taken out of {when}"
                    if when == "when":
                        yield Mutant("hold", True, where, says, _without_item(where, number))


def _without_item(keys: Keys, number: int) -> Change:
    def change(table: Table) -> None:
        found = _at(table, keys)
        left = [item for at, item in enumerate(found if isinstance(found, list) else [found]) if at != number]
        _at(table, keys[:-1])[keys[-1]] = left or ["never"]

    return change


def _moved(keys: Keys, by: int) -> Change:
    def change(table: Table) -> None:
        steps = _at(table, keys[:-1])
        order = list(steps)
        at = order.index(keys[-1])
        order.insert(at + by, order.pop(at))
        _at(table, keys[:-2])["steps"] = {name: steps[name] for name in order}

    return change


def _as_instruction(keys: Keys) -> Change:
    def change(table: Table) -> None:
        step = _at(table, keys)
        made = {"instruct": step["hold"], **{key: value for key, value in step.items() if key not in ("hold", "until")}}
        _at(table, keys[:-1])[keys[-1]] = {**made, "outcomes": {"done": {}}}

    return change


# --- the proof of dead


def _proofs(table: Table, seed: int) -> Iterator[Mutant]:
    """A reading of the proof of dead is dropped: a pair, a test of the tester, or what is asked where it is not dead."""
    for keys, section, step in _steps(table):
        role = step.get("role")
        if role not in (*_PROVING, "low-impedance"):
            continue
        yield Mutant("proof", True, keys, "the step is dropped", _dropping(keys))
        order = list(section["steps"])
        if order.index(str(keys[-1])) + 1 < len(order):
            yield Mutant("proof", True, keys, "the step comes a step later", _moved(keys, 1))
        yield Mutant("proof", True, (*keys, "when"), "it is left out on some supplies",
                     _setting((*keys, "when"), {"connection": ["cord-4"]}))  # fmt: skip
        if role not in _PROVING:
            continue
        for number, pair in enumerate(step["between"]):
            if len(step["between"]) > 1:
                where = (*keys, "between", number)
                yield Mutant("proof", True, where, f"{pair[0]} to {pair[1]} is dropped", _dropping(where))
        yield Mutant("proof", True, (*keys, "measure"), "ohms are taken for volts",
                     _setting((*keys, "measure"), "resistance"))  # fmt: skip
        other = "known-live" if role == "dead-pairs" else "dead"
        where = (*keys, "limits", "rule")
        yield Mutant("proof", True, where, f"it is judged as {other}", _setting(where, other))
        yield Mutant("proof", True, keys, "a yes is taken for a number", _as_question(keys))


def _as_question(keys: Keys) -> Change:
    def change(table: Table) -> None:
        step = _at(table, keys)
        kept = {key: step[key] for key in ("say", "short", "how", "why", "role") if key in step}
        made = {"ask": "yes-no", "field": f"{keys[-1]}-is", **kept, "outcomes": {"yes": {}, "no": {}}}
        _at(table, keys[:-1])[keys[-1]] = made

    return change


def _outliving(table: Table, seed: int) -> Iterator[Mutant]:
    """A proof of dead stands for longer than the trade lets it."""
    keys: Keys = ("settings", "proof_minutes")
    written = float(table.get("settings", {}).get("proof_minutes", 30))
    for says, minutes in (("twice as long", written * 2), ("ten times as long", written * 10), ("a day", 24 * 60.0)):
        yield Mutant("proof outlives", True, keys, f"it stands {says}", _setting(keys, f"{minutes:g}"))


# --- what stops the work


def _stops(table: Table, seed: int) -> Iterator[Mutant]:
    """The job goes on after what stops the work."""
    for keys, section, step in _steps(table):
        for result, outcome in (step.get("outcomes") or {}).items():
            for key in ("hand_over", "danger"):
                if key not in outcome:
                    continue
                where = (*keys, "outcomes", result)
                yield Mutant("stop", True, where, f"{key} is dropped", _dropping((*where, key)))
                yield Mutant("stop", True, where, "nothing follows from it", _setting(where, {}))
                if section.get("role") is None:
                    yield Mutant("stop", True, where, "the section just ends", _setting(where, {"next": "end"}))


def _needs(table: Table, seed: int) -> Iterator[Mutant]:
    """What a step needs is dropped, so that no hold comes in front of it, or it is done live."""
    for keys, section, step in _steps(table):
        needs = step.get("needs")
        if needs not in _NEEDS or section.get("role"):
            continue
        where = (*keys, "needs")
        hands_in = needs == "dead" or _kind(step) == "measure"
        yield Mutant("needs", hands_in, where, f"needs {needs} is dropped", _dropping(where))
        if needs == "dead":
            yield Mutant("needs", True, where, "it is done live", _setting(where, "live"))
            yield Mutant("needs", True, where, "it is done with power", _setting(where, "powered"))


# --- outcomes that lead elsewhere


def _retargets(table: Table, seed: int) -> Iterator[Mutant]:
    """Each thing that an outcome names is another: where it leads, what it shows, who takes over."""
    causes, hand_overs = list(table.get("causes", {})), list(table.get("hand_overs", {}))
    for keys, section, step in _steps(table):
        names = list(section["steps"])
        for result, outcome in (step.get("outcomes") or {}).items():
            where = (*keys, "outcomes", result)
            chance = _chance(seed, where, "retarget")
            for key, among in (
                ("next", [*names, "end"]),
                ("again_by", names),
                ("cause", causes),
                ("hand_over", hand_overs),
                ("danger", [kind.value for kind in DangerKind]),
            ):
                if key not in outcome:
                    continue
                other = _another(chance, among, outcome[key], str(keys[-1]) if key == "again_by" else None)
                if other is not None:
                    yield _retarget((*where, key), outcome[key], other)
            for key in ("suspects", "excludes"):
                named = outcome.get(key) or []
                for number, cause in enumerate(named if isinstance(named, list) else [named]):
                    other = _another(chance, causes, *(named if isinstance(named, list) else [named]))
                    if other is not None:
                        yield _retarget((*where, key, number), cause, other)
            yield from _led_on(where, section, str(keys[-1]), outcome, chance)


def _retarget(keys: Keys, was: str, now: str) -> Mutant:
    key = next(str(each) for each in reversed(keys) if isinstance(each, str))
    return Mutant(f"retarget {key}", False, keys, f"{was} becomes {now}", _setting_item(keys, now))


def _setting_item(keys: Keys, value: str) -> Change:
    def change(table: Table) -> None:
        above = _at(table, keys[:-1])
        if isinstance(keys[-1], int) and not isinstance(above, list):
            _at(table, keys[:-2])[keys[-2]] = [value]
        else:
            above[keys[-1]] = value

    return change


def _led_on(where: Keys, section: Table, step_id: str, outcome: Table, chance: random.Random) -> Iterator[Mutant]:
    """Yield an outcome that went to the step below and goes elsewhere."""
    stops = {"next", "again_by", "hand_over", "danger", "cause"} & outcome.keys()
    names = list(section["steps"])
    at = names.index(step_id)
    below = names[at + 1] if at + 1 < len(names) else "end"
    if stops or section.get("role") in ("make-safe", "go-live", "power-up"):
        return
    other = _another(chance, [*names, "end"], below)
    if other is not None:
        yield Mutant("retarget next", False, where, f"the step below becomes {other}", _setting((*where, "next"), other))


# --- limits, units, sources, points, warnings


def _limits(table: Table, seed: int) -> Iterator[Mutant]:
    """Limits are swapped, reversed, scaled or dropped, or computed by another rule."""
    for keys, _section, step in _steps(table):
        limits = step.get("limits")
        if not limits:
            continue
        where = (*keys, "limits")
        low, high = (limits.get(key) for key in _FIGURES)
        if low is not None and high is not None:
            swapped = {**limits, "low": high, "high": low}
            yield Mutant("limit", False, where, "low and high are swapped", _setting(where, swapped))
        for key in _FIGURES:
            if limits.get(key) is None:
                continue
            for factor in (0.1, 0.5, 2, 10):
                value = float(limits[key]) * factor
                if value != float(limits[key]):
                    yield Mutant("limit", False, (*where, key), f"{key} {limits[key]} becomes {value:g}",
                                 _setting((*where, key), f"{value:g}"))  # fmt: skip
            if low is not None and high is not None:
                yield Mutant("limit", False, (*where, key), f"{key} is dropped", _dropping((*where, key)))
        rule = limits.get("rule")
        chance = _chance(seed, where, "rule")
        other = _another(chance, sorted(RULES - {"dead", "known-live"}), rule)
        if step.get("role") is None and other is not None:
            yield Mutant("limit", False, (*where, "rule"), f"{rule} becomes {other}",
                         _setting((*where, "rule"), other))  # fmt: skip
        if step.get("likely"):
            swapped_likely = list(reversed(step["likely"]))
            yield Mutant("limit", False, (*keys, "likely"), "what is likely is reversed",
                         _setting((*keys, "likely"), swapped_likely))  # fmt: skip


_UNITS: Final = {"watt": "kilowatt", "kilowatt": "watt", "fahrenheit": "celsius", "celsius": "fahrenheit",
                 "volt": "ampere"}  # fmt: skip


def _units(table: Table, seed: int) -> Iterator[Mutant]:
    """A unit, a quantity, or the unit that limits are in is another."""
    for keys, _section, step in _steps(table):
        unit = step.get("unit")
        if unit in _UNITS:
            yield Mutant("unit", False, (*keys, "unit"), f"{unit} becomes {_UNITS[unit]}",
                         _setting((*keys, "unit"), _UNITS[unit]))  # fmt: skip
        if unit is not None:
            yield Mutant("unit", False, (*keys, "unit"), f"{unit} is dropped", _dropping((*keys, "unit")))
        quantity = step.get("measure")
        if quantity and step.get("role") is None:
            chance = _chance(seed, keys, "quantity")
            other = _another(chance, [each.value for each in MEASURED], quantity)
            if {quantity, other} != {"resistance", "continuity"} and other is not None:
                yield Mutant("unit", False, (*keys, "measure"), f"{quantity} becomes {other}",
                             _setting((*keys, "measure"), other))  # fmt: skip
        limits = step.get("limits") or {}
        for key, other in (("volt", "second"), ("second", "volt"), ("fahrenheit", "celsius"), ("watts", "volts")):
            if key in limits:
                where = (*keys, "limits")
                renamed = {other if name == key else name: value for name, value in limits.items()}
                yield Mutant("unit", False, (*where, key), f"{key} becomes {other}", _setting(where, renamed))


def _sources(table: Table, seed: int) -> Iterator[Mutant]:
    """A source is dropped."""
    for keys, _section, step in _steps(table):
        if "source" in step:
            yield Mutant("source", False, (*keys, "source"), "the source is dropped", _dropping((*keys, "source")))
        if "source" in (step.get("limits") or {}):
            where = (*keys, "limits", "source")
            yield Mutant("source", False, where, "the source is dropped", _dropping(where))
    for name in ("warnings", "hand_overs", "danger_scripts"):
        for key, entry in table.get(name, {}).items():
            if "source" in entry:
                where = (name, key, "source")
                yield Mutant("source", False, where, "the source is dropped", _dropping(where))


def _points(table: Table, seed: int) -> Iterator[Mutant]:
    """A test point is another where it is measured, or is called by another's name."""
    points = table.get("points", {})
    for keys, _section, step in _steps(table):
        for number, pair in enumerate(step.get("between") or []):
            for end in (0, 1):
                where = (*keys, "between", number, end)
                chance = _chance(seed, where, "point")
                other = _another(chance, list(points), pair[0], pair[1])
                if other is not None:
                    yield Mutant("point", step.get("role") in _PROVING, where, f"{pair[end]} becomes {other}",
                                 _setting(where, other))  # fmt: skip
    for name, point in points.items():
        chance = _chance(seed, ("points", name), "label")
        other = _another(chance, [each["label"] for each in points.values()], point["label"])
        where = ("points", name, "label")
        if other is not None:
            yield Mutant("point", False, where, f"it is labelled {other}", _setting(where, other))
        yield Mutant("point", False, ("points", name), "it has another name", _renamed(("points", name), f"{name}-x"))


def _renamed(keys: Keys, name: str) -> Change:
    def change(table: Table) -> None:
        above = _at(table, keys[:-1])
        made = {name if key == keys[-1] else key: value for key, value in above.items()}
        above.clear()
        above.update(made)

    return change


def _warnings(table: Table, seed: int) -> Iterator[Mutant]:
    """A warning is dropped from a step, or described no more."""
    for keys, _section, step in _steps(table):
        named = step.get("warnings") or []
        for number, name in enumerate(named if isinstance(named, list) else [named]):
            left = [each for at, each in enumerate(named if isinstance(named, list) else [named]) if at != number]
            where = (*keys, "warnings")
            change = _setting(where, left) if left else _dropping(where)
            yield Mutant("warning", True, where, f"{name} is dropped", change)
    for name in table.get("warnings", {}):
        yield Mutant("warning", True, ("warnings", name), "it is dropped", _dropping(("warnings", name)))


# --- ways


def _flow(table: Table, seed: int) -> Iterator[Mutant]:
    """A step is made one that nothing leads to, or one that leads to nothing but itself."""
    for keys, section, step in _steps(table):
        if section.get("role") in ("make-safe", "go-live", "power-up"):
            continue
        outcomes = step.get("outcomes") or {}
        never = {**(step.get("when") or {}), "complaint": ["never"]}
        yield Mutant("unreachable", False, (*keys, "when"), "its conditions never hold",
                     _setting((*keys, "when"), never))  # fmt: skip
        names = list(section["steps"])
        at = names.index(str(keys[-1]))
        if at + 1 < len(names) and outcomes and not step.get("when"):
            after = names[at + 2] if at + 2 < len(names) else "end"
            led = {result: {**outcome, "next": after} if _leads_below(outcome) else outcome
                   for result, outcome in outcomes.items()}  # fmt: skip
            named = {o.get(key) for s in section["steps"].values() for o in (s.get("outcomes") or {}).values()
                     for key in ("next", "again_by")}  # fmt: skip
            passed_by = names[at + 1] not in named and all(
                _leads_below(outcome) or "next" in outcome or _ends(outcome) for outcome in outcomes.values()
            )
            if led != outcomes and passed_by and not _fallen_to(section, names, at):
                yield Mutant("unreachable", False, (*keys, "outcomes"), f"everything leads past {names[at + 1]}",
                             _setting((*keys, "outcomes"), led))  # fmt: skip
        if outcomes:
            itself = {result: {**{k: v for k, v in outcome.items() if k not in ("cause", "again_by", "hand_over", "danger")},
                               "next": str(keys[-1])} for result, outcome in outcomes.items()}  # fmt: skip
            yield Mutant("endless", False, (*keys, "outcomes"), "every result leads back to it",
                         _setting((*keys, "outcomes"), itself))  # fmt: skip
            if at > 0:
                back = {result: {**outcome, "next": names[0]} if _leads_below(outcome) else outcome
                        for result, outcome in outcomes.items()}  # fmt: skip
                if back != outcomes:
                    yield Mutant("endless", False, (*keys, "outcomes"), f"it leads back to {names[0]}",
                                 _setting((*keys, "outcomes"), back))  # fmt: skip


def _leads_below(outcome: Table) -> bool:
    return not ({"next", "again_by", "hand_over", "danger", "cause"} & outcome.keys())


def _ends(outcome: Table) -> bool:
    return bool({"again_by", "hand_over", "danger", "cause"} & outcome.keys())


def _fallen_to(section: Table, names: list[str], at: int) -> bool:
    """Return whether a step before leads to the one below this, because this one may be left out."""
    return bool(section["steps"][names[at]].get("when") or section["steps"][names[at]].get("when_not"))
