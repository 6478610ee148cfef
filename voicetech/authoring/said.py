"""Which texts of a procedure are said, shown or heard in a job, and so are put into another language.

The format marks them (`Key.said`); everything else, names, limits, sources and what the report calls fields, is none.
"""

from collections.abc import Iterator
from typing import Final

from voicetech.authoring.findings import Keys
from voicetech.authoring.format import Kinds, Lists, Named, Shape, Tables, Text, Texts, Value
from voicetech.authoring.format_top import TOP
from voicetech.authoring.places import Written

WITH_WORDS: Final = 3
"""A pair that is said in words of its own has two points and these."""
_NO_PART: Final = (["none"], "none")
"""What stands for no part: a name that the program knows, and no word."""


def said_texts(table: dict[str, Written]) -> dict[Keys, Written]:
    """Return every text that is said of a whole procedure's table, or list of them, by the keys that lead to it."""
    return dict(_said(TOP, table, (), said=False))


def holds_said(value: Value) -> bool:
    """Return whether anything that is said may stand in such a value."""
    match value:
        case Shape(keys=keys):
            return any(key.said or holds_said(key.holds) for key in keys.values())
        case Kinds(shapes=shapes):
            return any(map(holds_said, shapes.values()))
        case Named(value=inside):
            return holds_said(inside)
        case _:
            return False


def shape_of(value: Shape | Kinds, table: dict[str, Written]) -> Shape | None:
    """Return what a table like this is, where there are several kinds; None where it is of none."""
    if isinstance(value, Shape):
        return value
    return next((shape for kind, shape in value.shapes.items() if kind in table), None)


def _said(value: Value, written: Written, keys: Keys, *, said: bool) -> Iterator[tuple[Keys, Written]]:
    match value, written:
        case ((Shape() | Kinds()), dict()):
            shape = shape_of(value, written)
            for name, inner in written.items() if shape is not None else ():
                key = None if shape is None else shape.keys.get(name)
                if key is not None:
                    yield from _said(key.holds, inner, (*keys, name), said=key.said)
        case Named(value=inside), dict():
            for name, inner in written.items():
                yield from _said(inside, inner, (*keys, name), said=said)
        case Tables(), _:
            return
        case Lists(), list() if said:
            for number, item in enumerate(written):
                if isinstance(item, list) and len(item) == WITH_WORDS:
                    yield (*keys, number, WITH_WORDS - 1), item[-1]
        case ((Text() | Texts()), _) if said and written and written not in _NO_PART:
            yield keys, written
        case _:
            return
