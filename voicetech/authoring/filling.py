"""What a shared file leaves open, filled in: `<block>` becomes what the procedure that includes it calls the block.

A parameter may be words inside a text, a whole value, several items of a list, or several entries of a table.
"""

import re
from collections.abc import Mapping
from copy import deepcopy
from dataclasses import dataclass, field
from typing import Final

from voicetech.authoring.findings import Keys, Notes, Place, Places
from voicetech.authoring.places import FileTable, Written

NAME: Final = re.compile(r"[a-z][a-z0-9_]*")
_MARK: Final = re.compile(rf"<({NAME.pattern})>")


@dataclass(frozen=True, slots=True)
class Parameters:
    """The values of a file's parameters, where each is written, and the names of all that are declared.

    `said` are values that hold in texts alone and not in keys: what parameters are called in another language.
    """

    values: Mapping[str, Written]
    at: Mapping[str, tuple[Keys, FileTable]]
    declared: frozenset[str]
    said: Mapping[str, Written] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Filled:
    """A file's table with its parameters filled in, where each value of it is written, and the values left open."""

    table: dict[str, Written]
    places: dict[Keys, Place]
    open: set[Keys]


def filled(table: dict[str, Written], places: Places, parameters: Parameters, notes: Notes) -> Filled:
    """Return the table with its parameters filled in; what cannot be, and a parameter that fills nothing, is noted."""
    filling = _Filling(places, parameters, notes)
    found = filling.table(table, (), ())
    for name in sorted(parameters.declared - filling.used):
        message = f"nothing in this file uses <{name}>; use it or take it out"
        notes.add(("parameters", name), message, "unused-parameter")
    return Filled(found, filling.found, filling.open)


class _Filling:
    """One file on its way: `old` are the keys a value is written under, `new` those it has when it is filled in."""

    def __init__(self, places: Places, parameters: Parameters, notes: Notes) -> None:
        self._places, self._parameters, self._notes = places, parameters, notes
        self.found: dict[Keys, Place] = {}
        self.open: set[Keys] = set()
        self.used: set[str] = set()

    def table(self, table: Mapping[str, Written], old: Keys, new: Keys) -> dict[str, Written]:
        self._note_place(old, new)
        found: dict[str, Written] = {}
        for key, value in table.items():
            whole = _MARK.fullmatch(key)
            if whole is not None and value is None:
                if self._left_open(key):
                    self.open.add(new)
                entries = self._value(whole[1], (*old, key))
                for name, entry in self._as_table(whole[1], entries, (*old, key)).items():
                    self._enter(found, name, entry, (*old, key), new)
                    self._place_value(whole[1], (name,), (*new, name))
                continue
            name = self._text(key, (*old, key), as_key=True)
            if self._left_open(key):
                self.open.add((*new, name))
            self._enter(found, name, self._written(value, (*old, key), (*new, name)), (*old, key), new)
        return found

    def _enter(self, found: dict[str, Written], name: str, value: Written, old: Keys, new: Keys) -> None:
        if name in found:
            self._notes.add(old, f"gives {name!r} a second time; keep one", "duplicate-key")
            return
        found[name] = value
        self._note_place(old, (*new, name))

    def _written(self, value: Written, old: Keys, new: Keys) -> Written:
        match value:
            case str():
                if self._left_open(value):
                    self.open.add(new)
                whole = _MARK.fullmatch(value)
                if whole is None or whole[1] in self._parameters.said:
                    self._note_place(old, new)
                    return self._text(value, old)
                found = self._value(whole[1], old)
                self._place_value(whole[1], (), new)
                return found
            case list():
                return self._list(value, old, new)
            case dict():
                return self.table(value, old, new)
            case None:
                self._note_place(old, new)
                return None

    def _list(self, items: list[Written], old: Keys, new: Keys) -> list[Written]:
        self._note_place(old, new)
        if any(isinstance(item, str) and self._left_open(item) for item in items):
            self.open.add(new)
        found: list[Written] = []
        for number, item in enumerate(items):
            whole = _MARK.fullmatch(item) if isinstance(item, str) else None
            several = None if whole is None else self._parameters.values.get(whole[1])
            if whole is not None and isinstance(several, list):
                self.used.add(whole[1])
                for position, one in enumerate(several):
                    self._place_value(whole[1], (position,), (*new, len(found)))
                    found.append(deepcopy(one))
                continue
            found.append(self._written(item, (*old, number), (*new, len(found))))
        return found

    def _text(self, text: str, old: Keys, *, as_key: bool = False) -> str:
        def said(mark: re.Match[str]) -> str:
            value = self._value(mark[1], old)
            if not as_key:
                value = self._parameters.said.get(mark[1], value)
            if isinstance(value, str):
                return value
            if mark[1] in self._parameters.values:
                where = "a key" if as_key else "other words"
                self._notes.add(old, f"<{mark[1]}> is no text, and stands inside {where}; give it as text", "shape")
            return mark[0]

        return _MARK.sub(said, text)

    def _left_open(self, text: str) -> bool:
        """Return whether a parameter in this text has no value: what is read of it is not what will be written."""
        named = _MARK.findall(text)
        return any(name in self._parameters.declared and name not in self._parameters.values for name in named)

    def _value(self, name: str, old: Keys) -> Written:
        self.used.add(name)
        if name not in self._parameters.declared:
            message = f"<{name}> is no parameter of this file; write it under `parameters`, or correct it"
            self._notes.add(old, message, "unknown-parameter")
        return deepcopy(self._parameters.values.get(name))

    def _as_table(self, name: str, value: Written, old: Keys) -> dict[str, Written]:
        if isinstance(value, dict):
            return value
        if value is not None:
            self._notes.add(old, f"<{name}> stands for entries of this table, and is none; give a table", "shape")
        return {}

    def _note_place(self, old: Keys, new: Keys) -> None:
        if old in self._places:
            self.found.setdefault(new, self._places[old])

    def _place_value(self, name: str, below: Keys, new: Keys) -> None:
        """Note where a parameter's value is written, and everything in it."""
        if name not in self._parameters.at:
            return
        at, file = self._parameters.at[name]
        start = (*at, *below)
        for keys, place in file.places.items():
            if keys[: len(start)] == start:
                self.found[(*new, *keys[len(start) :])] = place
