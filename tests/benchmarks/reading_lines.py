"""Lines technicians say or type, what each means, and what became of it once it was read.

The file holds one JSON object a line: `id` (group and number), `text`, `context` and `expected`.
"""

import json
import math
from dataclasses import dataclass, replace
from decimal import Decimal
from enum import StrEnum
from pathlib import Path
from typing import Any, Final

from voicetech.language.lexicon import Lexicon
from voicetech.language.meaning import (
    Asking,
    Command,
    CommandSaid,
    CorrectionSaid,
    DangerSaid,
    Meaning,
    Question,
    RangeSaid,
    ReadingSaid,
    SeveralSaid,
    StateSaid,
    Unclear,
)
from voicetech.scoring import ALARMS, KINDS, MeaningExpected, is_right
from voicetech.units import Unit

VARIABLE: Final = "VOICETECH_UTTERANCES"
TOLERANCE: Final = 1e-4
"""Two values are the same within one part in ten thousand."""

_ASKING: Final = {
    "volts_ac": Asking.VOLTAGE,
    "ohms": Asking.RESISTANCE,
    "amps": Asking.CURRENT,
    "visual": Asking.INSPECTION,
    "yes_no": Asking.YES_NO,
}
"""Names of the file that are not the program's own."""
_UNITS: Final = {"ohm": Unit.OHM, "ohms": Unit.OHM, "degC": Unit.CELSIUS, "degF": Unit.FAHRENHEIT}
_ANSWERS: Final = ("reading", "open", "closed", "beep", "yes", "no")
_HARMLESS: Final = (Command.REPEAT, Command.HOLD, Command.HOWTO, Command.LIMIT, Command.STATUS, Command.NOTE)
"""Requests that cost a sentence and change nothing, where something else was said."""

Json = dict[str, Any]


class BadLinesError(Exception):
    """There are no lines to measure on, or one of them cannot be read; the message says which and why."""


class Became(StrEnum):
    """What became of one line.

    Asked is a question in place of an answer; needless is right, but asked about without a doubt; unconfirmed is
    right and had to be asked about; missed is an emergency that was not heard, alarm one that was none; taken is
    anything else than what was said, taken without asking.
    """

    RIGHT = "right"
    NEEDLESS = "needless"
    UNCONFIRMED = "unconfirmed"
    ASKED = "asked"
    MISSED = "missed"
    ALARM = "alarm"
    TAKEN = "taken"


class Figure(StrEnum):
    """What became of the one number of a line, or of there being none.

    Right has the value and the unit, other unit the value alone. Wrong, other unit and false are put up to be used;
    where the program would ask first, wrong and false are asked. Silent is no number, or several, where one was said;
    quiet is none where none was said. Either is a line of which a number may be taken or not; it is not counted.
    """

    RIGHT = "right"
    OTHER_UNIT = "other unit"
    WRONG = "wrong"
    WRONG_ASKED = "wrong, asked"
    SILENT = "silent"
    FALSE = "false"
    FALSE_ASKED = "false, asked"
    QUIET = "quiet"
    EITHER = "either"


@dataclass(frozen=True, slots=True)
class Number:
    """A number and perhaps its unit: a UCUM code or, where that is none of ours, the name a library has for it."""

    value: Decimal
    unit: str | None = None


@dataclass(frozen=True, slots=True)
class Wanted:
    """One answer that is right: `kind` is one of the kinds of `scoring`, or unclear; what is None is not compared.

    A reading has one `value`, or both `ends` of a range, or several `parts`. Values are in the base unit.
    """

    kind: str
    value: Decimal | None = None
    unit: Unit | None = None
    command: str | None = None
    label: str | None = None
    argument: str | None = None
    ends: tuple[Decimal, Decimal] | None = None
    parts: tuple["Wanted", ...] = ()

    @property
    def is_number(self) -> bool:
        """Return whether this is one number."""
        return self.kind in ("reading", "correction") and self.value is not None


@dataclass(frozen=True, slots=True)
class Line:
    """One line, the question it answers and every answer that is right, the best first.

    `doubtful` lines have to be asked about before their answer is used.
    """

    name: str
    text: str
    question: Question
    wanted: tuple[Wanted, ...]
    doubtful: bool = False

    @property
    def group(self) -> str:
        """Return the group it counts under."""
        return self.name.rpartition("-")[0] or self.name

    @property
    def number(self) -> Wanted | None:
        """Return the one number that is expected, None where none or more than one is."""
        return self.wanted[0] if self.wanted[0].is_number else None

    @property
    def emergency(self) -> bool:
        """Return whether an emergency is called."""
        return self.wanted[0].command == "emergency"

    @property
    def forbids_number(self) -> bool:
        """Return whether any number taken from it is wrong."""
        return not any(wanted.is_number for wanted in self.wanted)


def read_lines(file: Path) -> tuple[Line, ...]:
    """Return the lines of a file. Raises BadLinesError."""
    try:
        rows = file.read_text(encoding="utf-8").splitlines()
    except (OSError, UnicodeDecodeError) as error:
        raise BadLinesError(
            f"{file} cannot be read ({error}). Name a file of JSON lines with --lines, or in the environment "
            f"variable {VARIABLE}."
        ) from None
    found = []
    for place, row in enumerate(rows, 1):
        if row.strip():
            try:
                found.append(_line(json.loads(row, parse_float=Decimal, parse_int=Decimal)))
            except (ValueError, LookupError, TypeError, AttributeError, ArithmeticError) as error:
                raise BadLinesError(f"{file}, line {place}, is not one of these lines: {error!r}.") from None
    if not found:
        raise BadLinesError(f"{file} holds no lines.")
    return tuple(found)


def became(line: Line, meaning: Meaning, lexicon: Lexicon) -> Became:
    """Return what became of a line that was read as this meaning."""
    confirm = bool(getattr(meaning, "confirm", False))
    asks = confirm or isinstance(meaning, Unclear) or (isinstance(meaning, DangerSaid) and not meaning.present)
    alarms = isinstance(meaning, DangerSaid) and meaning.present
    if any(fits(wanted, meaning, line.question, lexicon) for wanted in line.wanted):
        if line.doubtful:
            return Became.RIGHT if asks or alarms or isinstance(meaning, CommandSaid) else Became.UNCONFIRMED
        return Became.NEEDLESS if confirm and line.wanted[0].kind in _ANSWERS else Became.RIGHT
    if line.emergency:
        return Became.MISSED
    if alarms:
        return Became.ALARM
    if asks or (isinstance(meaning, CommandSaid) and meaning.command in _HARMLESS):
        return Became.ASKED
    return Became.TAKEN


def figure_of_meaning(line: Line, meaning: Meaning, lexicon: Lexicon) -> Figure:
    """Return what became of the number of a line that was read as this meaning; its kind has to be right as well.

    Ranges and several readings are numbers too, where none may be taken.
    """
    asked = bool(getattr(meaning, "confirm", False))
    if line.number is None:
        if not line.forbids_number:
            return Figure.EITHER
        if not gives_numbers(meaning) or any(fits(each, meaning, line.question, lexicon) for each in line.wanted):
            return Figure.QUIET
        return Figure.FALSE_ASKED if asked else Figure.FALSE
    said = offered(meaning)
    if said is None:
        return Figure.SILENT
    if fits_number(line.number, meaning, line.question, lexicon):
        return Figure.RIGHT
    if asked:
        return Figure.WRONG_ASKED
    return Figure.OTHER_UNIT if _same_but_unit(line.number, said.value) else Figure.WRONG


def figure_of_number(line: Line, number: Number | None) -> Figure:
    """Return what became of the number of a line of which a library gave this one, or none."""
    if line.number is None:
        if not line.forbids_number:
            return Figure.EITHER
        return Figure.QUIET if number is None else Figure.FALSE
    if number is None:
        return Figure.SILENT
    if not _same_but_unit(line.number, number.value):
        return Figure.WRONG
    return Figure.RIGHT if line.number.unit in (None, number.unit) else Figure.OTHER_UNIT


def _same_but_unit(wanted: Wanted, value: Decimal) -> bool:
    return wanted.value is not None and same_value(wanted.value, value)


def fits(wanted: Wanted, meaning: Meaning, question: Question, lexicon: Lexicon) -> bool:
    """Return whether a meaning is the one that is wanted."""
    if isinstance(meaning, SeveralSaid) and meaning.all_pairs:
        meaning = replace(meaning.parts[0], label="all")
    if wanted.kind == "unclear":
        return isinstance(meaning, Unclear) or (isinstance(meaning, DangerSaid) and not meaning.present)
    if wanted.label and _plain(wanted.label) != _plain(_label(meaning)):
        return False
    if wanted.argument and wanted.argument.lower() not in (getattr(meaning, "argument", None) or "").lower():
        return False
    if wanted.parts:
        return (
            isinstance(meaning, SeveralSaid)
            and len(meaning.parts) == len(wanted.parts)
            and all(fits(w, m, question, lexicon) for w, m in zip(wanted.parts, meaning.parts, strict=True))
        )
    if wanted.ends:
        return (
            isinstance(meaning, RangeSaid)
            and wanted.unit in (None, meaning.unit)
            and all(map(same_value, wanted.ends, (meaning.low, meaning.high)))
        )
    return fits_number(wanted, meaning, question, lexicon)


def fits_number(wanted: Wanted, meaning: Meaning, question: Question, lexicon: Lexicon) -> bool:
    """Return whether a meaning is of the kind that is wanted, with its value and unit; names and notes apart."""
    said = offered(meaning)
    if said is not None and wanted.value is None:
        return False
    if said is not None and wanted.value is not None and same_value(said.value, wanted.value):
        meaning = _with_value(meaning, wanted.value)
    return is_right(MeaningExpected(wanted.kind, wanted.value, wanted.unit, wanted.command), meaning, question, lexicon)


def offered(meaning: Meaning) -> ReadingSaid | None:
    """Return the one number that a meaning puts up to be used, None where it has none or several."""
    match meaning:
        case ReadingSaid() as said:
            return said
        case CorrectionSaid(replacement=ReadingSaid() as said):
            return said
        case _:
            return None


def gives_numbers(meaning: Meaning) -> bool:
    """Return whether a meaning puts up any number: one, a range or several."""
    if isinstance(meaning, SeveralSaid):
        return any(isinstance(part, ReadingSaid) for part in meaning.parts)
    return isinstance(meaning, RangeSaid) or offered(meaning) is not None


def same_value(one: Decimal, other: Decimal) -> bool:
    """Return whether two values are the same within the tolerance."""
    return math.isclose(one, other, rel_tol=TOLERANCE, abs_tol=1e-12)


def _with_value(meaning: Meaning, value: Decimal) -> Meaning:
    match meaning:
        case ReadingSaid():
            return replace(meaning, value=value)
        case CorrectionSaid(replacement=ReadingSaid() as said):
            return replace(meaning, replacement=replace(said, value=value))
        case _:
            return meaning


def _label(meaning: Meaning) -> str:
    match meaning:
        case ReadingSaid(label=label) | StateSaid(label=label):
            return label or ""
        case CorrectionSaid(replacement=ReadingSaid(label=label) | StateSaid(label=label)):
            return label or ""
        case _:
            return ""


def _plain(label: str) -> str:
    return "".join(letter for letter in label.lower() if letter.isalnum())


def _line(row: Json) -> Line:
    context, expected = row["context"], row["expected"]
    expect = context["expect"]
    question = Question(
        _ASKING.get(expect) or Asking(expect),
        wording=context.get("question") or "",
        after_read_back=context.get("after") == "read-back",
        partial=context.get("asr") == "partial",
    )
    first = _wanted(expected)
    others = [_wanted(other) for other in expected.get("accept", ())]
    if first.command == "emergency":
        others.append(Wanted("command", command="stop"))
    doubtful = "confirm" in expected.get("flags", ())
    return Line(str(row["id"]), str(row["text"]), question, (first, *others), doubtful)


def _wanted(row: Json) -> Wanted:
    kind = row.get("kind", "reading")
    if kind not in (*KINDS, "unclear"):
        raise ValueError(f"unknown kind {kind!r}")
    unit, ends, value, command = row.get("unit"), row.get("range"), row.get("value"), row.get("command")
    if command not in (None, *ALARMS, *Command):
        raise ValueError(f"unknown command {command!r}")
    return Wanted(
        kind,
        None if value is None else Decimal(str(value)),
        None if unit is None else _UNITS.get(unit) or Unit(unit),
        command,
        row.get("label"),
        row.get("arg"),
        None if ends is None else (ends[0], ends[1]),
        tuple(_wanted(part) for part in row.get("readings") or ()),
    )
