"""A procedure's file with the shared parts that it includes, as one table.

A shared part says what it leaves open under `parameters`; the procedure that includes it fills that in, leaves out what
its appliance has not, and puts steps of its own where a shared section has a place for them. A part may fill in what
the parts after it leave open, so that appliances that stand alike say so once.
"""

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import Final

from voicetech.authoring.filling import NAME, Filled, Parameters, filled
from voicetech.authoring.findings import Keys, Notes, Place
from voicetech.authoring.naming import nearest, slipped
from voicetech.authoring.overlays import Overlay, overlay_for
from voicetech.authoring.places import FileTable, Written, read_file
from voicetech.language.tags import ENGLISH
from voicetech.procedure import WrittenFile

INCLUDED_FROM: Final = "shared"
OWN: Final = "own"
"""The key with nothing behind it, among the steps of a shared section, at which the procedure's own steps come."""
_INCLUDE: Final = "include"
_WITH: Final = "with"
"""Values of parameters: at the top for every shared file that leaves them open, at an include for that one, and in a
shared file for those that are included after it, unless the procedure says otherwise."""
_PARAMETERS: Final = "parameters"
_OF_AN_INCLUDE: Final = ("file", _WITH, "without")
_JOINED_DEEPER: Final = "circuit"
"""The table whose own tables are joined entry by entry: each part of an appliance brings its wires and its faults."""


@dataclass(frozen=True, slots=True)
class WrittenProcedure:
    """A procedure's files as one table in one language, with their texts in the order they were read."""

    table: dict[str, Written]
    texts: tuple[WrittenFile, ...]
    language: str = ENGLISH

    @property
    def digest(self) -> str:
        """Return the SHA-256 of the texts, one after the other."""
        return hashlib.sha256("".join(file.text for file in self.texts).encode()).hexdigest()


@dataclass(frozen=True, slots=True)
class _Include:
    """One entry under `include`, at these keys: the file, what its parameters are filled with, what is left out.

    `for_all` are the values that the procedure gives to whichever file leaves them open.
    """

    keys: Keys
    file: str
    given: dict[str, Written]
    without: tuple[str, ...]
    for_all: dict[str, Written]


_ByParts = dict[str, tuple[Written, FileTable]]
"""Values that included files give to those after them, each with its file."""


def read_written(path: Path, language: str = ENGLISH) -> tuple[WrittenProcedure, Notes]:
    """Return the file with everything it includes as one table, in this language, and what was noted on the way.

    `include:` names files in the folder `shared` beside the file. A file may be included more than once, with other
    parameters. A value at the include holds before one at the top of the procedure, that before a part's, and that
    before what holds where none is given.
    """
    notes = Notes(top=Place(path, 1, 1))
    texts: list[WrittenFile] = []
    own = read_file(path, path.name, notes, texts)
    notes.places.update(own.places)
    joining = _Joining(notes)
    left_open: set[str] = set()
    lost = False
    by_parts: _ByParts = {}
    overlay = None if language == ENGLISH else overlay_for(path, language)
    for include in _includes(own, notes):
        if PurePosixPath(include.file).name != include.file or "\\" in include.file or ":" in include.file:
            message = (
                f"{include.file!r} is no file of the folder {INCLUDED_FROM}; keep what is included there, and name it "
                "alone"
            )
            notes.add(include.keys, message, "file-elsewhere")
            continue
        other = path.parent / INCLUDED_FROM / include.file
        if not other.is_file():
            lost = True
            guess = slipped(include.file, sorted(each.name for each in other.parent.glob("*.yaml")))
            do = f"did you mean {guess}?" if guess else "correct the name or write the file"
            message = f"{INCLUDED_FROM}/{include.file} does not exist; {do}"
            notes.add(include.keys, message, "no-such-file")
            continue
        shared = read_file(other, f"{INCLUDED_FROM}/{include.file}", notes, texts)
        left_open.update(_declared(shared))
        joining.add(f"{INCLUDED_FROM}/{include.file}", _included(include, other, shared, own, by_parts, notes, overlay))
    for name in sorted(_for_all(own, notes).keys() - left_open) if not lost else ():
        guess = nearest(name, left_open)
        do = f"did you mean {guess}?" if guess else "take it out"
        notes.add((_WITH, name), f"no file that is included has a parameter {name!r}; {do}", "unknown-parameter")
    said = {key: value for key, value in own.table.items() if key not in (_INCLUDE, _WITH)}
    joining.add(path.name, said, own=True)
    _take_marks_out(joining.table)
    if overlay is not None:
        overlay.put_over(joining.table, notes)
        texts += overlay.texts
    return WrittenProcedure(joining.table, tuple(texts), language), notes


def _for_all(own: FileTable, notes: Notes) -> dict[str, Written]:
    given = own.table.get(_WITH) or {}
    if not isinstance(given, dict):
        notes.add((_WITH,), "is not a table; write {parameter: value}", "shape")
        return {}
    return given


def _includes(own: FileTable, notes: Notes) -> Iterator[_Include]:
    for_all = _for_all(own, Notes(top=notes.top))
    entries = own.table.get(_INCLUDE) or []
    if not isinstance(entries, list):
        notes.add((_INCLUDE,), "is not a list of files; write [making-safe.yaml, …]", "shape")
        return
    for position, entry in enumerate(entries):
        keys: Keys = (_INCLUDE, position)
        if isinstance(entry, str):
            yield _Include(keys, entry, {}, (), for_all)
        elif isinstance(entry, dict):
            yield from _with_more(entry, keys, for_all, notes)
        else:
            notes.add(keys, "is no file's name; write making-safe.yaml, or {file: …, with: {…}}", "shape")


def _with_more(entry: dict[str, Written], keys: Keys, for_all: dict[str, Written], notes: Notes) -> Iterator[_Include]:
    for key in entry:
        if key not in _OF_AN_INCLUDE:
            known = ", ".join(_OF_AN_INCLUDE)
            notes.add((*keys, key), f"the key `{key}` is not known here; correct it to one of {known}", "unknown-key")
    file, given, without = entry.get("file"), entry.get(_WITH) or {}, entry.get("without") or []
    if not isinstance(file, str):
        notes.add(keys, "has no `file`; write the name of a shared file", "missing-key")
        return
    if not isinstance(given, dict):
        notes.add((*keys, "with"), "is not a table; write {parameter: value}", "shape")
        given = {}
    if not isinstance(without, list) or not all(isinstance(way, str) for way in without):
        notes.add((*keys, "without"), "is not a list; write [sections.cord, causes.cord-open]", "shape")
        without = []
    yield _Include(keys, file, given, tuple(way for way in without if isinstance(way, str)), for_all)


def _included(
    include: _Include,
    path: Path,
    shared: FileTable,
    own: FileTable,
    by_parts: _ByParts,
    notes: Notes,
    overlay: Overlay | None,
) -> dict[str, Written]:
    """Return what a shared file says for this procedure, with the places of its values noted.

    What it gives to the files after it is put into `by_parts`.
    """
    inside = Notes(top=Place(path, 1, 1), places=dict(shared.places))
    parameters = _parameters(include, shared, own, by_parts, inside, notes)
    if _INCLUDE in shared.table:
        inside.add((_INCLUDE,), "a shared file includes no other; name that one in the procedure", "shape")
    said = {key: value for key, value in shared.table.items() if key not in (_PARAMETERS, _INCLUDE)}
    found = filled(said, shared.places, parameters, inside)
    given = found.table.pop(_WITH, None) or {}
    if isinstance(given, dict):
        by_parts.update({name: (value, FileTable({}, found.places)) for name, value in given.items()})
    else:
        inside.add((_WITH,), "is not a table; write {parameter: value}", "shape")
    notes.found.extend(inside.found)
    for keys, rules in inside.noted.items():
        if keys[:1] not in ((_PARAMETERS,), (_WITH,), ()):
            notes.noted.setdefault(keys, set()).update(rules)
    if overlay is not None:
        overlay.add_part(include.file, found.table, parameters)
    _leave_out(include, found, notes)
    for keys, place in found.places.items():
        if keys[:1] != (_WITH,):
            notes.places.setdefault(keys, place)
    notes.open.update(found.open)
    return found.table


def _parameters(
    include: _Include, shared: FileTable, own: FileTable, by_parts: _ByParts, inside: Notes, notes: Notes
) -> Parameters:
    declared = _declared(shared)
    if not isinstance(shared.table.get(_PARAMETERS) or {}, dict):
        inside.add((_PARAMETERS,), "is not a table; write `name:`, or `name: what holds where none is given`", "shape")
    for name in declared:
        if not NAME.fullmatch(name):
            inside.add((_PARAMETERS, name), "is no name for a parameter; write small letters, such as block", "shape")
    for name in include.given.keys() - declared.keys():
        guess = nearest(name, declared.keys() - include.given.keys())
        known = f"it has {', '.join(declared)}" if declared else "it has none"
        known = f"did you mean {guess}?" if guess else known
        message = f"{include.file} has no parameter {name!r}; {known}"
        notes.add((*include.keys, _WITH, name), message, "unknown-parameter")
    values: dict[str, Written] = {}
    at: dict[str, tuple[Keys, FileTable]] = {}
    for name, otherwise in declared.items():
        emptied = name in include.given and include.given[name] is None
        if emptied or (name not in include.given and name in include.for_all and include.for_all[name] is None):
            keys = (*include.keys, _WITH, name) if emptied else (_WITH, name)
            notes.add(keys, "has nothing behind it; write what stands for it, or leave it out", "missing-parameter")
        elif name in include.given:
            values[name], at[name] = include.given[name], ((*include.keys, _WITH, name), own)
        elif name in include.for_all:
            values[name], at[name] = include.for_all[name], ((_WITH, name), own)
        elif name in by_parts:
            value, part = by_parts[name]
            values[name], at[name] = value, ((_WITH, name), part)
        elif otherwise is not None:
            values[name], at[name] = otherwise, ((_PARAMETERS, name), shared)
        else:
            message = f"{include.file} leaves {name!r} open; write it under `with`"
            notes.add(include.keys, message, "missing-parameter")
    return Parameters(values, at, frozenset(declared))


def _declared(shared: FileTable) -> dict[str, Written]:
    declared = shared.table.get(_PARAMETERS) or {}
    return declared if isinstance(declared, dict) else {}


def _leave_out(include: _Include, found: Filled, notes: Notes) -> None:
    for position, way in enumerate(include.without):
        *before, last = way.split(".")
        table: Written = found.table
        for key in before:
            table = table.get(key) if isinstance(table, dict) else None
        if not isinstance(table, dict) or last not in table:
            message = f"{include.file} has no {way}; correct it, or take it out"
            notes.add((*include.keys, "without", position), message, "nothing-left-out")
            continue
        del table[last]
        _leave_out_stops(found, way)


def _leave_out_stops(found: Filled, way: str) -> None:
    """What is left out stops no work either: `stop_work` names steps as section.step."""
    stops = found.table.get("stop_work")
    gone = way.removeprefix("sections.").replace(".steps.", ".")
    if isinstance(stops, dict) and way.startswith("sections."):
        for name in [name for name in stops if name == gone or name.startswith(f"{gone}.")]:
            del stops[name]


class _Joining:
    """The tables of the files on their way to one; where two of them say something, both are named."""

    def __init__(self, notes: Notes) -> None:
        self.table: dict[str, Written] = {}
        self._notes = notes
        self._files: list[tuple[str, dict[str, Written]]] = []

    def add(self, file: str, said: dict[str, Written], *, own: bool = False) -> None:
        """Join what a file says; `own` where it is the procedure's own."""
        for key, added in said.items():
            present = self.table.get(key)
            if key not in self.table:
                self.table[key] = added
            elif isinstance(present, dict) and isinstance(added, dict):
                self.table[key] = self._joined(file, (key,), present, added, own=own)
            else:
                self._twice(file, (key,), "keep one")
        self._files.append((file, said))

    def _joined(
        self, file: str, keys: Keys, present: dict[str, Written], added: dict[str, Written], *, own: bool
    ) -> dict[str, Written]:
        found = dict(present)
        for name, value in added.items():
            mine = found.get(name)
            if name not in found:
                found[name] = value
            elif mine == value and self._first((*keys, name), file) == file:
                # A file that is included twice says the same where nothing of its own stands.
                continue
            elif isinstance(mine, dict) and isinstance(value, dict) and keys == (_JOINED_DEEPER,):
                found[name] = self._joined(file, (*keys, name), mine, value, own=own)
            elif isinstance(mine, dict) and isinstance(value, dict) and own and _has_place(mine):
                found[name] = _with_own_steps((*keys, name), mine, value, self._notes)
            else:
                self._twice(file, (*keys, name), "keep one or rename it")
                # The later one is looked at too: it has mistakes of its own.
                found[name] = value
        return found

    def _twice(self, file: str, keys: Keys, what_to_do: str) -> None:
        first = self._first(keys, file)
        where = f"twice by {file}" if first == file else f"in {first} and in {file}"
        self._notes.add(keys, f"is written {where}; {what_to_do}", "duplicate-key")

    def _first(self, keys: Keys, file: str) -> str:
        """Return the file that said this first; the given one where none before it did."""
        return next((name for name, said in self._files if _says(said, keys)), file)


def _says(said: Written, keys: Keys) -> bool:
    for key in keys:
        if not isinstance(said, dict) or key not in said:
            return False
        said = said[str(key)]
    return True


def _has_place(section: dict[str, Written]) -> bool:
    steps = section.get("steps")
    return isinstance(steps, dict) and OWN in steps and steps[OWN] is None


def _with_own_steps(
    keys: Keys, shared: dict[str, Written], own: dict[str, Written], notes: Notes
) -> dict[str, Written]:
    """Return the shared section with the procedure's own steps where it has the place for them."""
    steps, mine = shared["steps"], own.get("steps")
    if not isinstance(steps, dict) or not isinstance(mine, dict):
        notes.add((*keys, "steps"), "is not a table of steps; write the steps that come into this section", "shape")
        return shared
    for name in own.keys() - {"steps"}:
        if name in shared:
            notes.add((*keys, name), "is written in the shared section already; leave it out", "duplicate-key")
    for name in mine.keys() & steps.keys():
        notes.add((*keys, "steps", name), "is a step of the shared section already; rename it", "duplicate-key")
    placed: dict[str, Written] = {}
    for name, step in steps.items():
        placed.update(mine if name == OWN and step is None else {name: step})
    return {**own, **shared, "steps": placed}


def _take_marks_out(table: dict[str, Written]) -> None:
    sections = table.get("sections")
    for section in sections.values() if isinstance(sections, dict) else ():
        if isinstance(section, dict) and _has_place(section) and isinstance(section["steps"], dict):
            del section["steps"][OWN]
