"""YAML as plain text, lists and tables, with a side map of where each value stands.

Scalars stay text: `1.80` keeps its zero and `on` is no truth value. Duplicate keys, anchors and included files are
dealt with here; what the values mean is read elsewhere.
"""

import hashlib
from dataclasses import dataclass
from pathlib import Path, PurePosixPath

from ruamel.yaml.nodes import MappingNode, Node, ScalarNode, SequenceNode

from voicetech.authoring.findings import Keys, Notes, Place
from voicetech.authoring.yaml_errors import composed
from voicetech.procedure import WrittenFile

Written = str | None | list["Written"] | dict[str, "Written"]
"""What stands in a file: text, nothing, a list or a table."""

INCLUDED_FROM = "shared"
_NULL_TAG = "tag:yaml.org,2002:null"
_MERGED = "include"


@dataclass(frozen=True, slots=True)
class WrittenProcedure:
    """A procedure's files as one table, with their texts in the order they were read."""

    table: dict[str, Written]
    texts: tuple[WrittenFile, ...]

    @property
    def digest(self) -> str:
        """Return the SHA-256 of the texts, one after the other."""
        return hashlib.sha256("".join(file.text for file in self.texts).encode()).hexdigest()


def read_written(path: Path) -> tuple[WrittenProcedure, Notes]:
    """Return the file with everything it includes as one table, and what was noted on the way.

    `include:` names files in the folder `shared` beside the file; their tables are joined entry by entry.
    """
    notes = Notes(top=Place(path, 1, 1))
    texts: list[WrittenFile] = []
    own = _read_file(path, path.name, notes, texts)
    table: dict[str, Written] = {}
    for position, name in enumerate(_included(own, notes)):
        if PurePosixPath(name).name != name or "\\" in name or ":" in name:
            message = (
                f"{name!r} is no file of the folder {INCLUDED_FROM}; keep what is included there, and name it alone"
            )
            notes.add((_MERGED, position), message, "file-elsewhere")
            continue
        other = path.parent / INCLUDED_FROM / name
        if not other.is_file():
            message = f"{INCLUDED_FROM}/{name} does not exist; correct the name or write the file"
            notes.add((_MERGED, position), message, "no-such-file")
            continue
        _join(table, _read_file(other, f"{INCLUDED_FROM}/{name}", notes, texts), notes)
    _join(table, own, notes)
    return WrittenProcedure(table, tuple(texts)), notes


def _included(table: dict[str, Written], notes: Notes) -> list[str]:
    names = table.get(_MERGED) or []
    if not isinstance(names, list) or not all(isinstance(name, str) for name in names):
        notes.add((_MERGED,), "is not a list of file names; write [making-safe.yaml, …]", "shape")
        return []
    return [name for name in names if isinstance(name, str)]


def _read_file(path: Path, name: str, notes: Notes, texts: list[WrittenFile]) -> dict[str, Written]:
    own = Notes(top=Place(path, 1, 1))
    value = _compose(path, name, own, texts)
    if value is not None and not isinstance(value, dict):
        own.add((), "is not a table of keys; begin with `key: value` lines", "shape")
    notes.found.extend(own.found)
    for keys, place in own.places.items():
        notes.places.setdefault(keys, place)
    return value if isinstance(value, dict) else {}


def _compose(path: Path, name: str, notes: Notes, texts: list[WrittenFile]) -> Written:
    try:
        data = path.read_bytes()
        text = data.decode("utf-8")
        texts.append(WrittenFile(name, text))
        node, bad_lines = composed(text)
    except OSError as error:
        notes.add((), f"cannot be read ({error.strerror}); check the path", "no-such-file")
        return None
    except UnicodeDecodeError as error:
        notes.places[()] = Place(path, data.count(b"\n", 0, error.start) + 1, 1)
        notes.add((), "is not UTF-8 text; save it as UTF-8", "not-yaml")
        return None
    except RecursionError:
        notes.add((), "is nested too deeply; write it flatter", "not-yaml")
        return None
    for bad in bad_lines:
        notes.places[()] = Place(path, bad.line, bad.column)
        notes.add((), bad.message, "not-yaml")
    notes.places.pop((), None)
    return None if node is None else _plain(node, (), path, notes, {})


def _plain(node: Node, keys: Keys, path: Path, notes: Notes, anchored: dict[int, Written]) -> Written:
    notes.places.setdefault(keys, Place(path, node.start_mark.line + 1, node.start_mark.column + 1))
    if node.anchor is not None:
        notes.add(keys, "uses an anchor or alias; write it out, or move it to an included file", "anchor")
        if id(node) not in anchored:
            # None stands for it where it holds itself.
            anchored[id(node)] = None
            anchored[id(node)] = _value(node, keys, path, notes, anchored)
        return anchored[id(node)]
    return _value(node, keys, path, notes, anchored)


def _value(node: Node, keys: Keys, path: Path, notes: Notes, anchored: dict[int, Written]) -> Written:
    match node:
        case ScalarNode():
            return None if node.tag == _NULL_TAG and not node.style else str(node.value)
        case SequenceNode():
            return [_plain(item, (*keys, number), path, notes, anchored) for number, item in enumerate(node.value)]
        case MappingNode():
            return _plain_table(node, keys, path, notes, anchored)
        case _:
            notes.add(keys, "is neither text, list nor table; write one of these", "shape")
            return None


def _plain_table(
    node: MappingNode, keys: Keys, path: Path, notes: Notes, anchored: dict[int, Written]
) -> dict[str, Written]:
    table: dict[str, Written] = {}
    for key_node, value_node in node.value:
        place = Place(path, key_node.start_mark.line + 1, key_node.start_mark.column + 1)
        if not isinstance(key_node, ScalarNode):
            notes.places[*keys, "?"] = place
            notes.add((*keys, "?"), "a key must be plain text; give it a name", "shape")
            continue
        key = str(key_node.value)
        if key in table:
            first = notes.places[*keys, key]
            notes.places[*keys, key] = place
            notes.add((*keys, key), f"is written twice, first in line {first.line}; keep one", "duplicate-key")
            notes.places[*keys, key] = first
            continue
        notes.places[*keys, key] = place
        table[key] = _plain(value_node, (*keys, key), path, notes, anchored)
    return table


def _join(table: dict[str, Written], other: dict[str, Written], notes: Notes) -> None:
    for key, added in other.items():
        present = table.get(key)
        if key not in table:
            table[key] = added
        elif isinstance(present, dict) and isinstance(added, dict):
            for name in present.keys() & added.keys():
                notes.add((key, name), "is written in two files; keep one or rename it", "duplicate-key")
            table[key] = {**present, **added}
        else:
            notes.add((key,), "is written in two files; keep one", "duplicate-key")
