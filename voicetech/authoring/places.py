"""YAML as plain text, lists and tables, with a side map of where each value stands.

Scalars stay text: `1.80` keeps its zero and `on` is no truth value. Duplicate keys and anchors are dealt with here;
what is included in `including`, and what the values mean is read elsewhere.
"""

from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from ruamel.yaml.nodes import MappingNode, Node, ScalarNode, SequenceNode

from voicetech.authoring.findings import Keys, Notes, Place, Places
from voicetech.authoring.quick_yaml import UnlikeError, comes_along, quick_node
from voicetech.authoring.yaml_errors import BadLine, composed
from voicetech.procedure import WrittenFile

Written = str | None | list["Written"] | dict[str, "Written"]
"""What stands in a file: text, nothing, a list or a table."""

_OWN_TAGS: Final = "tag:yaml.org,2002:"
"""What every plain text, list and table is tagged with; any other tag was written."""
_NULL_TAG: Final = "tag:yaml.org,2002:null"


@dataclass(frozen=True, slots=True)
class FileTable:
    """What stands in one file: its table, and where each value of it is."""

    table: dict[str, Written]
    places: Places


def read_file(path: Path, name: str, notes: Notes, texts: list[WrittenFile]) -> FileTable:
    """Return the table in a file; its text is added to `texts` under this name, what is wrong with it is noted."""
    own = Notes(top=Place(path, 1, 1))
    value = _compose(path, name, own, texts)
    if value is not None and not isinstance(value, dict):
        own.add((), "is not a table of keys; begin with `key: value` lines", "shape")
    elif value is None and not own.found:
        own.add((), "is empty; begin with what it is, as in `procedure: heater`", "missing-key")
    notes.found.extend(own.found)
    for keys, rules in own.noted.items():
        if "duplicate-key" in rules:
            notes.noted.setdefault(keys, set()).update(rules)
    return FileTable(value if isinstance(value, dict) else {}, own.places)


def _compose(path: Path, name: str, notes: Notes, texts: list[WrittenFile]) -> Written:
    try:
        data = path.read_bytes()
        text = data.decode("utf-8")
        if all(other.name != name for other in texts):
            texts.append(WrittenFile(name, text))
        node, bad_lines = _nodes(path, text)
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


def _nodes(path: Path, text: str) -> tuple[Node | None, tuple[BadLine, ...]]:
    if comes_along(path):
        with suppress(UnlikeError):
            return quick_node(text), ()
    return composed(text)


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
    tag = node.tag or _OWN_TAGS
    if not tag.startswith(_OWN_TAGS) or "/" in tag:
        notes.add(keys, "begins with ! and is taken for a tag; put the text in quotes, or remove the tag", "shape")
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
