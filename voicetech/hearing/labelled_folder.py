"""A folder of recordings with what was said in each: `manifest.jsonl`, one object a line, beside the sound files.

A bad line is a problem with its number; the other lines are still good.
"""

import json
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from pathlib import Path
from typing import Final

import numpy as np
import soundfile
from numpy.typing import NDArray
from pydantic import TypeAdapter, ValidationError

from voicetech.hearing.errors import HearingError
from voicetech.hearing.frames import RATE_HZ
from voicetech.language.meaning import Asking, Command, Question
from voicetech.scoring import ALARMS, KINDS, Expected, Limits, MeaningExpected, NothingExpected, WordsExpected
from voicetech.units import Unit

MANIFEST: Final = "manifest.jsonl"
EXAMPLE: Final = '{"file": "answer.wav", "asking": "voltage", "expected": "two thirty eight volts"}'

_ASKINGS: Final = ", ".join(Asking)
_UNITS: Final = {unit.value.lower(): unit for unit in Unit} | {
    "volts": Unit.VOLT,
    "amps": Unit.AMPERE,
    "ohms": Unit.OHM,
    "celsius": Unit.CELSIUS,
    "fahrenheit": Unit.FAHRENHEIT,
    "watts": Unit.WATT,
    "kilowatts": Unit.KILOWATT,
    "seconds": Unit.SECOND,
}
_COMMANDS: Final = frozenset({*(command.value for command in Command), *ALARMS})
_MOST: Final = Decimal(10) ** 12
"""No meter shows more, in any base unit (judgement, no source)."""
_QUESTION: Final = TypeAdapter(Question)
Json = dict[str, object]


class LabelledFolderError(HearingError):
    """A folder cannot be read or written as recordings with labels; the message says what to do."""


class BadLineError(ValueError):
    """A line that cannot be used; the message says what to write instead."""


@dataclass(frozen=True, slots=True)
class Labelled:
    """One recording: its file, the question it answers, what was said, and what it is counted under.

    `line` is its line in the manifest, from 1, and `note` what somebody who goes through it should know.
    """

    path: Path
    question: Question
    expected: Expected
    limits: Limits = None
    speaker: str | None = None
    group: str | None = None
    line: int = 0
    note: str | None = None


@dataclass(frozen=True, slots=True)
class BadLine:
    """A line of the manifest that could not be used, and why."""

    line: int
    why: str


@dataclass(frozen=True, slots=True)
class LabelledFolder:
    """What a folder holds: the recordings of the good lines, and the bad lines."""

    recordings: tuple[Labelled, ...]
    bad_lines: tuple[BadLine, ...]


def read_labelled_folder(folder: Path) -> LabelledFolder:
    """Return the recordings of a folder and the lines of its manifest that cannot be used.

    Raises LabelledFolderError where the folder or its manifest is missing or empty.
    """
    if not folder.is_dir():
        raise LabelledFolderError(f"{folder} is no folder. Name the folder that holds the recordings and {MANIFEST}.")
    path = folder / MANIFEST
    if not path.is_file():
        raise LabelledFolderError(f"{folder} has no {MANIFEST}. {_how_to_write()}")
    try:
        lines = path.read_bytes().removeprefix(b"\xef\xbb\xbf").splitlines()
    except OSError as error:
        raise LabelledFolderError(f"{path} cannot be read ({error.strerror}). Check the rights on it.") from error
    recordings: list[Labelled] = []
    bad: list[BadLine] = []
    for number, line in enumerate(lines, 1):
        if not line.strip():
            continue
        try:
            recordings.append(_labelled(line, folder, number))
        except BadLineError as error:
            bad.append(BadLine(number, str(error)))
    if not recordings and not bad:
        raise LabelledFolderError(f"{path} is empty. {_how_to_write()}")
    return LabelledFolder(tuple(recordings), tuple(bad))


def write_labelled_folder(folder: Path, recordings: Iterable[tuple[Labelled, NDArray[np.int16]]]) -> int:
    """Write recordings as FLAC (mono, 16 kHz) with their manifest, and return how many.

    The path of each is its name in the folder. The manifest comes last: a folder without one is not whole. Without a
    recording nothing is made. Raises LabelledFolderError where the folder holds something already or cannot be written.
    """
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise LabelledFolderError(
            f"{folder} is there already and is not empty. Nothing was written. Name a new folder, or move it aside."
        )
    lines = []
    try:
        for labelled, samples in recordings:
            folder.mkdir(exist_ok=True)
            soundfile.write(folder / labelled.path, samples, RATE_HZ, format="FLAC", subtype="PCM_16")
            lines.append(json.dumps(_as_line(labelled), ensure_ascii=False) + "\n")
        if lines:
            (folder / MANIFEST).write_text("".join(lines), encoding="utf-8")
    except FileNotFoundError:
        raise LabelledFolderError(
            f"{folder} cannot be made: {folder.parent} is not there. Make that folder first, or name another."
        ) from None
    except (OSError, soundfile.LibsndfileError) as error:
        raise LabelledFolderError(
            f"{folder} cannot be written ({error}). Free some space, or name a folder you may write to."
        ) from error
    return len(lines)


def asking_from(raw: object) -> Asking:
    """Return what was asked. Raises BadLineError."""
    try:
        return Asking(str(raw))
    except ValueError:
        raise BadLineError(f"unknown asking {raw!r}; use one of {_ASKINGS}") from None


def limits_from(raw: object) -> Limits:
    """Return the limits that two numbers give. Raises BadLineError."""
    if raw is None:
        return None
    numbers = raw if isinstance(raw, list) else []
    if len(numbers) != 2 or any(isinstance(n, bool) or not isinstance(n, int | float) for n in numbers):
        raise BadLineError(f"limits {raw!r} are not two numbers; write [low, high] in the base unit")
    low, high = (Decimal(str(number)) for number in numbers)
    if not low.is_finite() or not high.is_finite() or low > high:
        raise BadLineError(f"limits {raw!r} are reversed or not finite; write [low, high]")
    return low, high


def _how_to_write() -> str:
    return (
        f"Write one line for each recording, as in: {EXAMPLE}\n"
        'expected is the words that were said, or their meaning, as in {"kind": "reading", "value": 238, "unit": "V"}, '
        "or null where nobody spoke to the program. limits ([low, high]), after (read-back), speaker and group may "
        f"be added. asking is one of {_ASKINGS}."
    )


def _labelled(line: bytes, folder: Path, number: int) -> Labelled:
    raw = _object(line)
    file = raw.get("file")
    if not isinstance(file, str) or not file:
        raise BadLineError(f"no file; write a line such as {EXAMPLE}")
    _shown(file)
    if "asking" not in raw:
        raise BadLineError(f"no asking; say what was asked, one of {_ASKINGS}")
    if "expected" not in raw:
        raise BadLineError("no expected; write the words that were said, or null where nobody spoke to the program")
    if raw["asking"] == Asking.NOTE:
        raise BadLineError("notes are written down as they come and are not judged; take the line out")
    if not _is_there(folder / file):
        raise BadLineError(f"{file} is not there; put it into the folder, or take the line out")
    return Labelled(
        folder / file,
        _question(raw),
        _expected(raw["expected"]),
        limits_from(raw.get("limits")),
        _text(raw, "speaker"),
        _text(raw, "group"),
        number,
        _text(raw, "note"),
    )


def _is_there(path: Path) -> bool:
    try:
        return path.is_file()
    except OSError:
        # A name that no file can have, such as one that is too long.
        return False


def _object(line: bytes) -> Json:
    try:
        raw = json.loads(line.decode())
    except UnicodeDecodeError:
        raise BadLineError("not UTF-8 text; save the file as UTF-8") from None
    except (ValueError, RecursionError) as error:
        raise BadLineError(f"not JSON ({error}); write a line such as {EXAMPLE}") from None
    if not isinstance(raw, dict):
        raise BadLineError(f"not an object; write a line such as {EXAMPLE}")
    return raw


def _question(raw: Json) -> Question:
    more = raw.get("question", {})
    if not isinstance(more, dict):
        raise BadLineError(f"question {more!r} is no object; take it out")
    asked = {**more, "asking": asking_from(raw["asking"]), "after_read_back": raw.get("after") == "read-back"}
    try:
        return _QUESTION.validate_python(asked)
    except ValidationError as error:
        first = error.errors()[0]
        where = ".".join(str(part) for part in first["loc"])
        raise BadLineError(f"question: {where}: {first['msg']}; take it out, or write it anew") from None


def _expected(raw: object) -> Expected:
    match raw:
        case None:
            return NothingExpected()
        case str() if raw.strip():
            return WordsExpected(_shown(raw.strip()))
        case dict():
            return _meaning(raw)
        case _:
            raise BadLineError(
                f"expected {raw!r} is neither words nor a meaning; write the words that were said, "
                '{"kind": "reading", "value": 238, "unit": "V"}, or null where nobody spoke to the program'
            )


def _meaning(raw: Json) -> MeaningExpected:
    kind, command, note = raw.get("kind"), raw.get("command"), raw.get("note")
    if kind not in KINDS:
        raise BadLineError(f"unknown kind {kind!r} in expected; use one of {', '.join(KINDS)}")
    if kind == "command" and str(command) not in _COMMANDS:
        raise BadLineError(f"unknown command {command!r} in expected; use one of {', '.join(sorted(_COMMANDS))}")
    value = _number(raw.get("value"))
    if kind == "reading" and value is None:
        raise BadLineError('no value in expected; write {"kind": "reading", "value": 238, "unit": "V"}')
    return MeaningExpected(
        str(kind),
        value,
        _unit(raw.get("unit")),
        None if command is None else str(command),
        None if note is None else _shown(str(note)),
    )


def _number(raw: object) -> Decimal | None:
    if raw is None:
        return None
    try:
        value = Decimal(str(raw))
    except InvalidOperation:
        value = Decimal("NaN")
    if isinstance(raw, bool) or not value.is_finite() or abs(value) > _MOST:
        raise BadLineError(
            f"value {str(raw)[:40]!r} in expected is no number that a meter shows; write it in the base unit, as in 238"
        )
    return value


def _unit(raw: object) -> Unit | None:
    if raw is None:
        return None
    unit = _UNITS.get(str(raw).lower())
    if unit is None:
        raise BadLineError(f"unknown unit {raw!r} in expected; use one of {', '.join(Unit)}")
    return unit


def _text(raw: Json, key: str) -> str | None:
    value = raw.get(key)
    return None if value is None else _shown(str(value))


def _shown(text: str) -> str:
    """Return the text, which is shown to people later; BadLineError where it cannot be."""
    if not text.isprintable():
        raise BadLineError(f"{text!r} holds characters that cannot be shown; write it in plain text")
    return text


def _as_line(labelled: Labelled) -> Json:
    question = _QUESTION.dump_python(labelled.question, mode="json", exclude_defaults=True)
    asking, after = question.pop("asking"), question.pop("after_read_back", False)
    line: Json = {
        "file": labelled.path.name,
        "asking": asking,
        "expected": _as_json(labelled.expected),
        "after": "read-back" if after else None,
        "limits": None if labelled.limits is None else [float(limit) for limit in labelled.limits],
        "speaker": labelled.speaker,
        "group": labelled.group,
        "question": question or None,
        "note": labelled.note,
    }
    return {key: value for key, value in line.items() if value is not None or key == "expected"}


def _as_json(expected: Expected) -> object:
    match expected:
        case WordsExpected(text=text):
            return text
        case MeaningExpected(kind=kind, value=value, unit=unit, command=command, note=note):
            number = None if value is None else f"{value:f}"
            told = {"kind": kind, "value": number, "unit": unit, "command": command, "note": note}
            return {key: each for key, each in told.items() if each is not None}
        case NothingExpected():
            return None
