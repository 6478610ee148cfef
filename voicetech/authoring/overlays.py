"""A procedure's texts in another language: files of the same shape that hold nothing but texts.

They stand in a folder beside the procedure that is called by the language's tag (BCP 47), under the names of the files
they go with, those of shared parts in its `shared/`. A text of a shared part may have that part's parameters in it;
the procedure's own overlay gives them under `with`, and may say any text of the whole procedure itself.
"""

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Final

from voicetech.authoring.filling import Parameters, filled
from voicetech.authoring.findings import Keys, Notes, Place
from voicetech.authoring.format import Kinds, Lists, Named, Shape, Value
from voicetech.authoring.format_top import TOP
from voicetech.authoring.naming import instead
from voicetech.authoring.places import FileTable, Written, read_file
from voicetech.authoring.said import WITH_WORDS, holds_said, said_texts, shape_of
from voicetech.language.tags import ENGLISH, wrong_with_tag
from voicetech.procedure import WrittenFile

GRAMMAR: Final = "grammar"
"""The folder of a language's own vocabulary, beside its texts."""
_SHARED: Final = "shared"
_WITH: Final = "with"
_OWN_KEYS: Final = ("procedure", "revision", _WITH)
_MAY_BE_ADDED: Final = "short"
"""What is short enough in English may need shorter words beside it in another language."""
_LISTS: Final = ("call", "choices", "parts", "until")
"""Keys behind which a language may have several phrases where English has one."""
_MARK: Final = re.compile(r"<([a-z][a-z0-9_]*)>")


def languages_of(path: Path) -> tuple[str, ...]:
    """Return the tags of the languages that a procedure is there in, English first."""
    beside = sorted(folder.name for folder in path.parent.glob("*/") if folder.name not in (_SHARED, ENGLISH))
    return (ENGLISH, *(tag for tag in beside if (path.parent / tag / path.name).is_file()))


@dataclass(slots=True)
class _Text:
    """A text in the language, or a list of them, and where it is written."""

    value: Written
    place: Place


@dataclass(slots=True)
class Overlay:
    """The texts of one language for one procedure, gathered while its files are read.

    `notes` are the findings in them, at their places.
    """

    language: str
    folder: Path
    path: Path
    notes: Notes
    texts: list[WrittenFile]
    own: FileTable
    _said: dict[Keys, _Text] = field(default_factory=dict)
    _shared: dict[str, FileTable] = field(default_factory=dict)
    _lacking: dict[str, str] = field(default_factory=dict)
    _broken: set[Keys] = field(default_factory=set)

    def add_part(self, file: str, table: dict[str, Written], parameters: Parameters) -> None:
        """Take the texts of a shared part that was just filled in, `table` being all that it says."""
        path = self.folder / _SHARED / file
        if not path.is_file():
            return
        own = self._shared.get(file)
        if own is None:
            own = self._shared[file] = read_file(path, f"{self.language}/{_SHARED}/{file}", self.notes, self.texts)
        notes = Notes(top=Place(path, 1, 1), places=dict(own.places))
        values = self._values(file, own.table, parameters)
        found = filled(own.table, own.places, values, notes)
        notes.places = found.places
        self._take(dict(_texts(TOP, table, found.table, (), notes)), found.places, Place(path, 1, 1))
        self._broken.update(notes.noted)
        self.notes.found.extend(notes.found)

    def _values(self, file: str, table: dict[str, Written], parameters: Parameters) -> Parameters:
        """Return what parameters are in this language, those that stand for names unchanged."""
        given = self.own.table.get(_WITH)
        known = given if isinstance(given, dict) else {}
        used = {name for text in _every_text(table) for name in _MARK.findall(text)}
        for name in sorted(used & parameters.declared - known.keys()):
            if isinstance(parameters.values.get(name), str):
                self._lacking.setdefault(name, file)
        here = {name: value for name, value in known.items() if name in parameters.declared}
        return replace(parameters, declared=parameters.declared & (used | _named(table)), said=here)

    def _take(self, texts: Mapping[Keys, Written], places: Mapping[Keys, Place], top: Place) -> None:
        for keys, value in texts.items():
            self._said[keys] = _Text(value, _nearest(places, keys, top))

    def put_over(self, table: dict[str, Written], notes: Notes) -> None:
        """Put the texts of this language in the place of those of the whole procedure; what is missing is noted."""
        if wrong_with_tag(self.language) is not None:
            # In a language that is none nothing is missing.
            notes.found.extend(self.notes.found)
            return
        top = Place(self.path, 1, 1)
        own = Notes(top=top, places=dict(self.own.places))
        _own_head(self.own.table, table, own)
        rest = {key: value for key, value in self.own.table.items() if key not in _OWN_KEYS}
        self._take(dict(_texts(TOP, table, rest, (), own)), self.own.places, top)
        for name, file in self._lacking.items():
            message = f"{file} says <{name}> in this language; write what it stands for under `with`"
            own.add((_WITH, name), message, "untranslated")
        for keys, text in said_texts(table).items():
            if keys not in self._said and keys not in self._broken | own.noted.keys():
                own.add(keys, f"is not said in {self.language}; put into words: {_shown(text)}", "untranslated")
        self.notes.found.extend(own.found)
        looked_at = _looks(table)
        for keys, said in self._said.items():
            if _put(table, keys, said.value):
                notes.places[keys] = said.place
        _rename_looks(table, looked_at)
        notes.found.extend(self.notes.found)


def overlay_for(path: Path, language: str) -> Overlay:
    """Return the texts of that language beside a procedure's file, to be put over those of its parts and its own."""
    folder = path.parent / language
    notes = Notes(top=Place(folder / path.name, 1, 1))
    texts: list[WrittenFile] = []
    wrong = wrong_with_tag(language)
    if wrong is not None:
        notes.add((), wrong, "language-tag")
    own = read_file(folder / path.name, f"{language}/{path.name}", notes, texts)
    overlay = Overlay(language, folder, folder / path.name, notes, texts, own)
    for file in sorted((folder / GRAMMAR).glob("*.yaml")):
        read_file(file, f"{language}/{GRAMMAR}/{file.name}", notes, texts)
    return overlay


def _own_head(own: dict[str, Written], table: dict[str, Written], notes: Notes) -> None:
    for key in ("procedure", "revision"):
        if own.get(key) is None:
            notes.add((key,), f"has no `{key}`; write that of the procedure: {table.get(key)}", "missing-key")
        elif own[key] != table.get(key):
            message = f"is for {key} {own[key]}, and the procedure's is {table.get(key)}; look at what changed"
            notes.add((key,), message, "stale-language")
    given = own.get(_WITH)
    if given is not None and not isinstance(given, dict):
        notes.add((_WITH,), "is not a table; write {parameter: words}", "shape")
    for name, value in given.items() if isinstance(given, dict) else ():
        if not isinstance(value, str):
            notes.add((_WITH, name), "is no text; texts with more in them are said under their own keys", "shape")


def _texts(value: Value, base: Written, over: Written, keys: Keys, notes: Notes) -> Iterator[tuple[Keys, Written]]:
    """Return the texts of a table in another language by their keys; what is no text of `base` is noted."""
    if not isinstance(over, dict) or not isinstance(base, dict):
        notes.add(keys, "is not a table; write the texts below it by their keys", "shape")
        return
    shape = shape_of(value, base) if isinstance(value, (Shape, Kinds)) else None
    for name, inner in over.items():
        at = (*keys, name)
        key = None if shape is None else shape.keys.get(name)
        inside = value.value if isinstance(value, Named) else None if key is None else key.holds
        said = key is not None and key.said
        if inside is None or (name not in base and name != _MAY_BE_ADDED):
            notes.add(at, f"the procedure has no {name!r} here; {instead(name, list(base))}", "unknown-text")
        elif said and isinstance(inside, Named):
            yield from _entries(base[name], inner, at, notes)
        elif said and isinstance(inside, Lists):
            yield from _pairs(base[name], inner, at, notes)
        elif said:
            yield from _leaf(base.get(name), inner, at, notes)
        elif holds_said(inside):
            yield from _texts(inside, base[name], inner, at, notes)
        else:
            notes.add(at, "is nothing that is said; leave it to the procedure", "not-said")


def _entries(base: Written, over: Written, keys: Keys, notes: Notes) -> Iterator[tuple[Keys, Written]]:
    if not isinstance(over, dict) or not isinstance(base, dict):
        notes.add(keys, "is not a table; write the texts below it by their keys", "shape")
        return
    for name, inner in over.items():
        if name in base:
            yield from _leaf(base[name], inner, (*keys, name), notes)
        else:
            notes.add((*keys, name), f"the procedure has no {name!r} here; {instead(name, list(base))}", "unknown-text")


def _leaf(base: Written, over: Written, keys: Keys, notes: Notes) -> Iterator[tuple[Keys, Written]]:
    several = isinstance(base, list) or any(key in _LISTS for key in keys[-2:])
    listed = over if isinstance(over, list) and several else [over]
    if listed and all(isinstance(item, str) and item.strip() for item in listed):
        yield keys, over
    else:
        notes.add(keys, "is no text; write the words in this language", "shape")


def _pairs(base: Written, over: Written, keys: Keys, notes: Notes) -> Iterator[tuple[Keys, Written]]:
    known = base if isinstance(base, list) else []
    for number, item in enumerate(over if isinstance(over, list) else []):
        points = known[number] if number < len(known) else None
        if not isinstance(item, list) or not isinstance(points, list) or item[:2] != points[:2]:
            notes.add((*keys, number), "is no pair of the procedure; repeat its points, in its order", "unknown-text")
        elif len(item) == WITH_WORDS and len(points) == WITH_WORDS:
            yield (*keys, number, WITH_WORDS - 1), item[-1]


def _put(table: dict[str, Written], keys: Keys, value: Written) -> bool:
    """Put a text in its place, and return whether there is one."""
    inner: Written = table
    *before, last = keys
    for key in before:
        inner = _within(inner, key)
    match inner, last:
        case dict(), str() if last in inner or last == _MAY_BE_ADDED:
            inner[last] = value
            return True
        case list(), int() if last < len(inner):
            inner[last] = value
            return True
        case _:
            return False


def _within(value: Written, key: str | int) -> Written:
    match value, key:
        case dict(), str():
            return value.get(key)
        case list(), int() if key < len(value):
            return value[key]
        case _:
            return None


def _looks(table: dict[str, Written]) -> dict[Keys, str]:
    """Return the parts that are looked at, by the keys they are written under."""
    return {keys: text for keys, text in said_texts(table).items() if keys[-1] == "inspect" and isinstance(text, str)}


def _rename_looks(table: dict[str, Written], before: Mapping[Keys, str]) -> None:
    """The circuit tells what a look shows by the part's words, so that they change there too."""
    now = _looks(table)
    words: dict[str, list[Written]] = {}
    for keys, old in before.items():
        here = words.setdefault(old, [])
        here.extend([now[keys]] if now[keys] not in here else [])
    circuit = table.get("circuit")
    faults = circuit.get("faults") if isinstance(circuit, dict) else None
    for fault in faults.values() if isinstance(faults, dict) else ():
        seen = fault.get("seen") if isinstance(fault, dict) else None
        if isinstance(fault, dict) and seen is not None:
            parts = seen if isinstance(seen, list) else [seen]
            fault["seen"] = [
                one for part in parts for one in (words.get(part, [part]) if isinstance(part, str) else [])
            ]


def _every_text(value: Written) -> Iterator[str]:
    match value:
        case str():
            yield value
        case list():
            for item in value:
                yield from _every_text(item)
        case dict():
            for inner in value.values():
                yield from _every_text(inner)
        case None:
            return


def _named(value: Written) -> frozenset[str]:
    """Return the parameters that stand in keys."""
    if not isinstance(value, dict):
        return frozenset()
    inside = (_named(inner) for inner in value.values())
    return frozenset(name for key in value for name in _MARK.findall(key)).union(*inside)


def _nearest(places: Mapping[Keys, Place], keys: Keys, top: Place) -> Place:
    return next((places[keys[:length]] for length in range(len(keys), 0, -1) if keys[:length] in places), top)


def _shown(text: Written) -> str:
    words = text if isinstance(text, str) else ", ".join(map(str, text)) if isinstance(text, list) else ""
    return words if len(words) <= 60 else f"{words[:57]}…"
