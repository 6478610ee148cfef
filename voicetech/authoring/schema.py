"""The format of procedures as a JSON Schema, for editors: made from the tables that the reader goes by.

Source: JSON Schema, draft 2020-12 (read).
"""

import json
from typing import Any, Final, assert_never

from voicetech.authoring.format import (
    ANY_TEXT,
    Anything,
    Key,
    Kinds,
    Lists,
    Named,
    Number,
    Shape,
    Span,
    Tables,
    Text,
    Texts,
    Truth,
    Value,
)
from voicetech.authoring.format_top import TOP
from voicetech.authoring.said import holds_said

_DRAFT: Final = "https://json-schema.org/draft/2020-12/schema"
_NAME: Final = "voicetech.procedure"
_SCALAR: Final = ["string", "number", "boolean"]
"""What an editor may take a text for: 1.80 is text to us, and a number to it."""
_PARAMETER: Final = "^<[a-z][a-z0-9_]*>$"
_WORD: Final = r"\S"
_NUMBER: Final = r"^\s*[-+]?(\d+\.?\d*|\.\d+)([eE][-+]?\d+)?\s*$"


def procedure_schema() -> dict[str, Any]:
    """Return the schema of a procedure's file, or of a part that procedures include."""
    defs: dict[str, Any] = {}
    top = _table(TOP, defs)
    needed = top.pop("required")
    return {
        "$schema": _DRAFT,
        "$id": f"urn:{_NAME}",
        "title": "A voicetech procedure",
        **top,
        # What a procedure has to have may stand in a part that it includes.
        "if": {"required": ["procedure"], "not": {"required": ["include"]}},
        "then": {"required": needed},
        "$defs": dict(sorted(defs.items())),
    }


def language_schema() -> dict[str, Any]:
    """Return the schema of a procedure's texts in another language, or of those of a part."""
    defs: dict[str, Any] = {}
    head = {name: Key(TOP.keys[name].holds, TOP.keys[name].says) for name in ("procedure", "revision")}
    values = {"with": Key(Named(ANY_TEXT), "What parameters of the parts stand for in this language.")}
    said = Shape("language", "A procedure's texts in another language.", {**head, **values, **_said_keys(TOP)})
    return {
        "$schema": _DRAFT,
        "$id": f"urn:{_NAME}.language",
        "title": "A voicetech procedure in another language",
        **_table(said, defs),
        "$defs": dict(sorted(defs.items())),
    }


def _said_keys(shape: Shape) -> dict[str, Key]:
    found = {name: _said_only(key) for name, key in shape.keys.items()}
    return {name: key for name, key in found.items() if key is not None}


def _said_only(key: Key) -> Key | None:
    if key.said:
        return Key(key.holds, key.says)
    inside = _holding_said(key.holds)
    return None if inside is None else Key(inside, key.says)


def _holding_said(value: Value) -> Value | None:
    """Return the value with nothing in it but texts that are said; None where it has none."""
    match value:
        case Shape(name=name, says=says) if holds_said(value):
            return Shape(name, says, _said_keys(value))
        case Kinds(name=name, says=says, shapes=shapes):
            # Which kind a step is stands in the procedure alone.
            return Shape(name, says, {key: at for shape in shapes.values() for key, at in _said_keys(shape).items()})
        case Named(value=inside):
            held = _holding_said(inside)
            return None if held is None else Named(held)
        case _:
            return None


def schema_text(*, language: bool = False) -> str:
    """Return the schema as it is committed and printed: of a procedure, or of its texts in another language."""
    schema = language_schema() if language else procedure_schema()
    return f"{json.dumps(schema, indent=2, ensure_ascii=False)}\n"


def _table(shape: Shape, defs: dict[str, Any]) -> dict[str, Any]:
    return {
        "description": shape.says,
        "type": "object",
        "properties": {name: _described(key.holds, key.says, defs) for name, key in shape.keys.items()},
        "required": [name for name, key in shape.keys.items() if key.needed and name not in shape.elsewhere],
        **_together(shape.elsewhere),
        "patternProperties": {_PARAMETER: {"type": "null"}},
        "additionalProperties": False,
    }


def _together(names: tuple[str, ...]) -> dict[str, Any]:
    """Return that whoever writes one of these keys has to write the others."""
    others = {name: [other for other in names if other != name] for name in names}
    return {"dependentRequired": others} if others else {}


def _described(value: Value, says: str, defs: dict[str, Any]) -> dict[str, Any]:
    return {"description": says, **_open(value, defs)}


def _open(value: Value, defs: dict[str, Any]) -> dict[str, Any]:
    """Return the schema of a value that a part may leave open by naming one of its parameters."""
    whole = _schema(value, defs)
    if isinstance(value, Anything) or (isinstance(value, Text) and not value.words):
        return whole
    return {"anyOf": [whole, {"type": "string", "pattern": _PARAMETER}]}


def _schema(value: Value, defs: dict[str, Any]) -> dict[str, Any]:
    match value:
        case Anything():
            return {}
        case Text(words=words):
            return {"enum": list(words)} if words else {"type": _SCALAR, "pattern": _WORD}
        case Truth():
            return {"enum": ["yes", "no", "true", "false", True, False]}
        case Number(above=above, whole=whole):
            return _number(above, whole)
        case Texts(words=words, count=count, least=least):
            return _texts(_schema(Text(words), defs), count, least)
        case Span():
            return {"type": "array", "items": _open(Number(), defs), "minItems": 2, "maxItems": 2}
        case Lists(least=fewest, most=most):
            inner = {"type": "array", "items": {"type": _SCALAR}, "minItems": fewest, "maxItems": most}
            return {"type": "array", "items": inner, "minItems": 1}
        case Named(value=inside, names=names, place=place):
            return _named(_open(inside, defs), names, place)
        case Shape() | Kinds():
            return _reference(value, defs)
        case Tables(shape=shape, or_text=or_text):
            one = _reference(shape, defs)
            if or_text:
                one = {"anyOf": [{"type": "string", "pattern": _WORD}, one]}
            return {"anyOf": [{"type": "array", "items": one}, one]}
        case _:
            assert_never(value)


def _number(above: float | None, whole: bool) -> dict[str, Any]:
    number: dict[str, Any] = {"type": "integer" if whole else "number"}
    if above is not None:
        number["exclusiveMinimum"] = above
    return {"anyOf": [number, {"type": "string", "pattern": _NUMBER}]}


def _texts(item: dict[str, Any], count: int | None, least: int) -> dict[str, Any]:
    fewest, most = (least, None) if count is None else (count, count)
    several: dict[str, Any] = {"type": "array", "items": item}
    if fewest:
        several["minItems"] = fewest
    if most is not None:
        several["maxItems"] = most
        return several
    return {"anyOf": [several, item]}


def _named(inside: dict[str, Any], names: tuple[str, ...], place: str) -> dict[str, Any]:
    # A parameter stands for several entries, or for the name of one.
    either = {"anyOf": [{"type": "null"}, inside]}
    filled: dict[str, Any] = {"type": ["object", "null"], "patternProperties": {_PARAMETER: either}}
    if names:
        return {**filled, "properties": dict.fromkeys(names, inside), "additionalProperties": False}
    if place:
        filled["properties"] = {place: {"type": "null"}}
    return {**filled, "additionalProperties": inside}


def _reference(value: Shape | Kinds, defs: dict[str, Any]) -> dict[str, Any]:
    if value.name not in defs:
        defs[value.name] = {}
        defs[value.name] = _table(value, defs) if isinstance(value, Shape) else _kinds(value, defs)
        if isinstance(value, Shape) and not any(key.needed for key in value.keys.values()):
            defs[value.name] = {**defs[value.name], "type": ["object", "null"]}
    return {"$ref": f"#/$defs/{value.name}"}


def _kinds(kinds: Kinds, defs: dict[str, Any]) -> dict[str, Any]:
    """Return one table of several, told by its first key, so that an editor shows what is wrong with that kind."""
    return {
        "description": kinds.says,
        "type": "object",
        "oneOf": [{"required": [kind]} for kind in kinds.shapes],
        "allOf": [
            {"if": {"required": [kind]}, "then": _reference(shape, defs)} for kind, shape in kinds.shapes.items()
        ],
    }
