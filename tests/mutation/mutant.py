"""One written value of a procedure changed: what is changed, where, and whether safety hangs on it."""

import copy
import random
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any, Final

from voicetech.authoring.findings import Keys

Table = dict[str, Any]
"""What stands in a procedure's files, joined: text, lists and tables."""
Change = Callable[[Table], None]

STEP_KINDS: Final = ("hold", "ask", "inspect", "measure", "instruct")
LEADING: Final = frozenset({"next", "again_by", "hand_over", "danger", "cause"})
"""Keys of an outcome that say where it leads."""


@dataclass(frozen=True, slots=True)
class Mutant:
    """One change: its kind, whether safety hangs on it, where it is, what it is in words, and how it is made."""

    kind: str
    safety: bool
    keys: Keys
    says: str
    change: Change

    def made_of(self, table: Table) -> Table:
        """Return the table with this change; the sections and other branches it does not touch are the same objects."""
        made = dict(table)
        branch = str(self.keys[0])
        if branch == "sections" and len(self.keys) > 1:
            made[branch] = dict(table[branch])
            made[branch][self.keys[1]] = copy.deepcopy(table[branch][self.keys[1]])
        else:
            made[branch] = copy.deepcopy(table.get(branch, {}))
        self.change(made)
        return made


Maker = Callable[[Table, int], Iterator[Mutant]]
"""What makes mutants of one sort of a procedure's table, the same ones for the same seed."""


def steps_of(table: Table) -> Iterator[tuple[Keys, Table, Table]]:
    """Yield every step with the keys to it, its section, and the step."""
    for section_id, section in table["sections"].items():
        for step_id, step in (section.get("steps") or {}).items():
            yield ("sections", section_id, "steps", step_id), section, step


def outcomes_in(step: Table) -> dict[str, Table]:
    return {result: outcome or {} for result, outcome in (step.get("outcomes") or {}).items()}


def kind_of(step: Table) -> str:
    return next((kind for kind in STEP_KINDS if kind in step), "")


def listed(value: object) -> list[Any]:
    """Return a list that may be written as one text alone."""
    if value is None:
        return []
    return list(value) if isinstance(value, list) else [value]


def at(table: Table, keys: Sequence[str | int]) -> Any:
    """Return what stands at these keys."""
    found: Any = table
    for key in keys:
        found = found[key]
    return found


# --- changes


def setting(keys: Keys, value: object) -> Change:
    def change(table: Table) -> None:
        at(table, keys[:-1])[keys[-1]] = copy.deepcopy(value)

    return change


def dropping(keys: Keys) -> Change:
    def change(table: Table) -> None:
        del at(table, keys[:-1])[keys[-1]]

    return change


def without_item(keys: Keys, number: int) -> Change:
    """A list, or a text that stands for one, loses an item; the key goes with the last."""

    def change(table: Table) -> None:
        left = [item for place, item in enumerate(listed(at(table, keys))) if place != number]
        if left:
            at(table, keys[:-1])[keys[-1]] = left
        else:
            del at(table, keys[:-1])[keys[-1]]

    return change


def with_item(keys: Keys, number: int, value: object) -> Change:
    """An item of a list, or a text that stands for one, is another."""

    def change(table: Table) -> None:
        items = listed(at(table, keys))
        items[number] = value
        at(table, keys[:-1])[keys[-1]] = items

    return change


def moved(keys: Keys, by: int) -> Change:
    """A step comes so many places later."""

    def change(table: Table) -> None:
        steps = at(table, keys[:-1])
        order = list(steps)
        place = order.index(keys[-1])
        order.insert(place + by, order.pop(place))
        at(table, keys[:-2])["steps"] = {name: steps[name] for name in order}

    return change


def renamed(keys: Keys, name: str) -> Change:
    """A key is called otherwise, at the same place."""

    def change(table: Table) -> None:
        above = at(table, keys[:-1])
        made = {name if key == keys[-1] else key: value for key, value in above.items()}
        above.clear()
        above.update(made)

    return change


def all_of(*changes: Change) -> Change:
    def change(table: Table) -> None:
        for each in changes:
            each(table)

    return change


# --- chance


def chance_at(seed: int, keys: Iterable[str | int], what: str) -> random.Random:
    """Return chance that depends on the place alone, so that other mutants change none of it."""
    return random.Random(f"{seed}/{'.'.join(map(str, keys))}/{what}")


def another(chance: random.Random, among: Iterable[str], *but: object) -> str | None:
    """Return one of these but not those, or None where there is no other."""
    others = [each for each in among if each not in but]
    return chance.choice(others) if others else None
