"""`voicetech understand`: what the program makes of typed words, one line or many."""

import json
import sys
from collections.abc import Iterable
from decimal import Decimal
from typing import Annotated, TextIO, assert_never

import typer

from voicetech.authoring.lexicon_files import load_lexicon
from voicetech.cli.options import refuse
from voicetech.language.lexicon import Lexicon
from voicetech.language.meaning import (
    AnswerSaid,
    Asking,
    ChoiceSaid,
    CommandSaid,
    CorrectionSaid,
    DangerKind,
    DangerSaid,
    Meaning,
    Question,
    RangeSaid,
    ReadingSaid,
    SeveralSaid,
    StateSaid,
    Unclear,
    WordsSaid,
)
from voicetech.language.understand import understand as understood
from voicetech.language.wording import shown
from voicetech.units import Reading

Json = dict[str, object]
_ASKINGS = ", ".join(Asking)


class BadLineError(ValueError):
    """An input line that cannot be answered; the message says what to write instead."""


def understand(
    text: Annotated[
        str | None, typer.Argument(metavar="TEXT", help="The words. Without them, lines are read from standard input.")
    ] = None,
    asking: Annotated[
        str | None, typer.Option("--asking", metavar="KIND", help=f"What was asked: {_ASKINGS}; any unless told.")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Read and write one JSON object a line.")] = False,
) -> None:
    """Show what the program makes of typed words.

    With --json each line of standard input is an object with text, and where it helps id, asking, partial (more may
    follow), after (read-back) and question (the wording).

    Example: voicetech understand --asking voltage "two thirty eight"
    """
    if as_json and text is None:
        refuse({"--asking": asking}, "is for plain lines; with --json each line says what was asked: leave it out")
    asking = asking or "any"
    if asking not in list(Asking):
        raise typer.BadParameter(f"unknown asking {asking!r}; use one of {_ASKINGS}", param_hint="--asking")
    lexicon = load_lexicon()
    if text is not None:
        lines: Iterable[str] = [json.dumps({"text": text, "asking": asking})]
    elif as_json:
        lines = typed_lines()
    else:
        lines = (json.dumps({"text": line.rstrip("\n"), "asking": asking}) for line in typed_lines())
    if not answer_lines(lines, sys.stdout, lexicon, as_json=as_json):
        raise typer.Exit(1)


def typed_lines() -> TextIO:
    """Return standard input as text; bytes that are no UTF-8 become question marks instead of a traceback."""
    return typer.get_text_stream("stdin", encoding="utf-8", errors="replace")


def answer_lines(lines: Iterable[str], out: TextIO, lexicon: Lexicon, *, as_json: bool) -> bool:
    """Write what each line means; return whether every line could be answered."""
    all_good = True
    for line in lines:
        if not line.strip():
            continue
        request: Json = {}
        try:
            request = _request(line)
            meaning = understood(str(request["text"]), _question(request), lexicon)
            record, sentence = as_record(meaning), as_sentence(meaning)
        except BadLineError as error:
            all_good = False
            record, sentence = {"error": str(error)}, str(error)
        known = {"id": request["id"]} if "id" in request else {}
        print(json.dumps({**known, **record}) if as_json else sentence, file=out)
        out.flush()
    return all_good


def _request(line: str) -> Json:
    try:
        request = json.loads(line)
    except (ValueError, RecursionError) as error:
        raise BadLineError(f'not JSON ({error}); write one object a line, as in {{"text": "two forty"}}') from None
    if not isinstance(request, dict):
        raise BadLineError('not an object; write {"text": ..., "asking": ...}')
    if not isinstance(request.get("text"), str):
        raise BadLineError('no text; write {"text": "two forty", "asking": "voltage"}')
    return request


def _question(request: Json) -> Question:
    asking = request.get("asking", "any")
    try:
        kind = Asking(str(asking))
    except ValueError:
        raise BadLineError(f"unknown asking {asking!r}; use one of {_ASKINGS}") from None
    wording = request.get("question")
    return Question(
        kind,
        wording=wording if isinstance(wording, str) else "",
        after_read_back=request.get("after") == "read-back",
        partial=request.get("partial") is True,
    )


_EMPTY: Json = {
    "kind": "unclear", "value": None, "unit": None, "command": None, "label": None, "note": None,
    "confirm": False, "readings": [], "range": [],
}  # fmt: skip


def as_record(meaning: Meaning) -> Json:
    """Return the meaning as plain values: kind, value, unit, command, label, note, confirm, readings, range, ask."""
    return {**_EMPTY, **_fields(meaning)}


def _fields(meaning: Meaning) -> Json:
    match meaning:
        case ReadingSaid():
            return _reading(meaning)
        case StateSaid():
            return {"kind": str(meaning.state), "label": meaning.label, "confirm": meaning.confirm}
        case RangeSaid():
            ends = [_text(meaning.low), _text(meaning.high)]
            return {"kind": "reading", "unit": _unit(meaning.unit), "range": ends, "confirm": False}
        case SeveralSaid():
            return _several(meaning)
        case AnswerSaid():
            kind = "yes" if meaning.yes else "no"
            return {"kind": kind, "note": meaning.finding, "confirm": meaning.confirm}
        case ChoiceSaid():
            return {"kind": "choice", "note": meaning.key, "confirm": meaning.confirm}
        case WordsSaid():
            return {"kind": "words", "note": meaning.text, "confirm": meaning.confirm}
        case CommandSaid():
            record: Json = {"kind": "command", "command": str(meaning.command), "note": meaning.argument}
            return {**record, "confirm": meaning.confirm}
        case DangerSaid():
            if not meaning.present:
                return {"kind": "unclear", "ask": "Is it happening now?", "note": meaning.words}
            command = "stop" if meaning.kind is DangerKind.STOP else "emergency"
            return {"kind": "command", "command": command, "note": meaning.words}
        case CorrectionSaid():
            value = {} if meaning.replacement is None else _fields(meaning.replacement)
            return {**value, "kind": "correction", "confirm": meaning.confirm}
        case Unclear():
            return {"kind": "unclear", "ask": meaning.ask, "candidates": [as_record(c) for c in meaning.candidates]}
        case _:
            assert_never(meaning)


def _reading(said: ReadingSaid) -> Json:
    return {
        "kind": "reading", "value": _text(said.value), "unit": _unit(said.unit), "label": said.label,
        "confirm": said.confirm, "flags": sorted(said.flags), "rivals": [_text(r) for r in said.rivals],
    }  # fmt: skip


def _several(said: SeveralSaid) -> Json:
    record: Json = {"kind": "reading", "unit": _unit(said.unit), "confirm": said.confirm}
    if said.all_pairs:
        return {**record, **_fields(said.parts[0]), "confirm": said.confirm, "label": "all"}
    return {**record, "readings": [as_record(part) for part in said.parts]}


def _text(value: Decimal) -> str:
    return f"{value:f}"


def _unit(unit: object) -> str | None:
    return None if unit is None else str(unit)


def as_sentence(meaning: Meaning) -> str:
    """Return the meaning as a line for people."""
    match meaning:
        case ReadingSaid(value, unit, label):
            where = f" at {label}" if label else ""
            return _asked(f"reading: {shown(Reading(value, unit))}{where}", meaning.confirm)
        case StateSaid(state, label):
            return _asked(f"{state}{f' to {label}' if label else ''}", meaning.confirm)
        case RangeSaid(low, high, unit):
            return f"range: {shown(Reading(low, unit))} to {shown(Reading(high, unit))}"
        case SeveralSaid(parts):
            text = "; ".join(as_sentence(part) for part in parts)
            return _asked(f"of every pair: {text}" if meaning.all_pairs else text, meaning.confirm)
        case AnswerSaid(yes, finding):
            return _asked(("yes" if yes else "no") + (f": {finding}" if finding else ""), meaning.confirm)
        case ChoiceSaid(key):
            return _asked(f"choice: {key}", meaning.confirm)
        case WordsSaid(text):
            return _asked(f"words: {text}", meaning.confirm)
        case CommandSaid(command, argument):
            return _asked(f"command: {command}{f': {argument}' if argument else ''}", meaning.confirm)
        case DangerSaid(kind, present, words):
            return f"danger: {kind} ({words})" if present else f"asks: is it happening now? ({words})"
        case CorrectionSaid(replacement):
            return "correction" + (f": {as_sentence(replacement)}" if replacement else ": the last answer is withdrawn")
        case Unclear(ask):
            return f"not understood{f'; asks: {ask}' if ask else ''}"
        case _:
            assert_never(meaning)


def _asked(text: str, confirm: bool) -> str:
    return f"{text} (asks first)" if confirm else text
