"""A language that nobody speaks, made of the English by accents: a word without them was not put over."""

import re
from collections.abc import Iterator
from pathlib import Path

from ruamel.yaml import YAML

from voicetech.authoring.findings import Keys
from voicetech.authoring.including import read_written
from voicetech.authoring.places import Written
from voicetech.authoring.said import said_texts

TAG = "en-XA"
"""English of a region of one's own. Source: ISO 3166-1 leaves XA to XZ to its users (from memory)."""
_KEPT = re.compile(r"\{[^}]*\}|<[^>]*>")
_WORD = re.compile(r"[^\W\d_]+")
_ACCENTS = str.maketrans("aeiouyAEIOUY", "áéíóúýÁÉÍÓÚÝ")
_PLAIN = re.compile(r"[aeiouyAEIOUY]")


def marked(text: str) -> str:
    """Return the text with every word marked, and what is filled in later left as it is."""
    parts, at = [], 0
    for kept in _KEPT.finditer(text):
        parts += [text[at : kept.start()].translate(_ACCENTS), kept[0]]
        at = kept.end()
    return "".join([*parts, text[at:].translate(_ACCENTS)])


def unmarked(text: str) -> list[str]:
    """Return the words of a text that are no marked ones."""
    return [word for word in _WORD.findall(text) if _PLAIN.search(word)]


def overlay_of(file: Path) -> dict[str, Written]:
    """Return the overlay of a procedure in one file: each of its texts marked, under its own key."""
    table = read_written(file)[0].table
    said: dict[str, Written] = {"procedure": table["procedure"], "revision": table["revision"]}
    for keys, text in said_texts(table).items():
        put(said, table, keys, _marked(text))
    return said


def _marked(value: Written) -> Written:
    if isinstance(value, list):
        return [_marked(item) for item in value]
    return marked(value) if isinstance(value, str) else value


def put(said: dict[str, Written], table: dict[str, Written], keys: Keys, value: Written) -> None:
    """Put a text into an overlay where its keys say, pairs with the points that they have in the table."""
    inner, base = said, table
    for at, key in enumerate(keys[:-1]):
        if key == "between":
            pairs = base["between"]
            assert isinstance(pairs, list)
            own = inner.setdefault("between", [list(pair[:2]) for pair in pairs if isinstance(pair, list)])
            assert isinstance(own, list)
            number = keys[at + 1]
            assert isinstance(number, int)
            pair = own[number]
            assert isinstance(pair, list)
            pair.append(value)
            return
        assert isinstance(key, str)
        below, known = inner.setdefault(key, {}), base[key]
        assert isinstance(below, dict)
        assert isinstance(known, dict)
        inner, base = below, known
    inner[str(keys[-1])] = value


def write(path: Path, table: dict[str, Written]) -> None:
    """Write a table as YAML."""
    path.parent.mkdir(parents=True, exist_ok=True)
    yaml = YAML(typ="safe", pure=True)
    yaml.default_flow_style = False
    yaml.width = 10_000
    with path.open("w", encoding="utf-8") as out:
        yaml.dump(table, out)


def texts_of(value: Written) -> Iterator[str]:
    """Return the texts in a value, one after the other."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, list):
        for item in value:
            yield from texts_of(item)
    elif isinstance(value, dict):
        for inner in value.values():
            yield from texts_of(inner)
