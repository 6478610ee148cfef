"""General libraries that find numbers in text, each in a process of its own.

A number and perhaps a unit is all they give. Each is read as it is, and through a thin wrapper that is the same for
all: what somebody in a hurry would build round it. A library that is not installed is skipped, with the reason.
"""

import importlib
import importlib.metadata
import multiprocessing
import os
import re
import sys
import time
import unicodedata
import warnings
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from decimal import Decimal, InvalidOperation
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess
from typing import Any, Final

from tests.benchmarks.reading_lines import Number
from tests.benchmarks.references import SkippedError
from voicetech.language.meaning import Asking
from voicetech.language.readings import ASKED_UNIT
from voicetech.units import Unit

LINE_S: Final = 10.0
"""A line that takes longer is counted as a hang."""
START_S: Final = 120.0
"""A library that is not ready by then is skipped."""


Found = str | tuple[Number, ...]
"""What a library makes of a text: the text with its numbers in figures, or the numbers, in the base unit if any."""
Reader = Callable[[str], Found]


@dataclass(frozen=True, slots=True)
class Peer:
    """A library by its name in the package index, None where it needs none, and how to open it."""

    name: str
    open: Callable[[], Reader]
    package: str | None = None


@dataclass(frozen=True, slots=True)
class Answer:
    """What a library made of one line, nothing where it refused, hung or crashed, and how long it took."""

    found: Found = ()
    took_s: float = 0.0
    hung: bool = False
    crashed: bool = False


@dataclass(slots=True)
class PeerProcess:
    """A library in a process of its own, started again after a hang or the end of it. Raises SkippedError."""

    peer: Peer
    line_s: float = LINE_S
    version: str = ""
    _process: BaseProcess | None = None
    _connection: "Connection[Any, Any] | None" = field(default=None)

    def __enter__(self) -> "PeerProcess":
        self._start()
        return self

    def __exit__(self, *_: object) -> None:
        self._stop()

    def answer(self, text: str) -> Answer:
        """Return what the library makes of a line."""
        connection = self._connection or self._start()
        try:
            connection.send(text)
            if not connection.poll(self.line_s):
                self._stop()
                return Answer(took_s=self.line_s, hung=True)
            answer = connection.recv()
        except (EOFError, OSError):
            self._stop()
            return Answer(crashed=True)
        return answer if isinstance(answer, Answer) else Answer(crashed=True)

    def _start(self) -> "Connection[Any, Any]":
        # A fresh process: a copy of this one would bring its threads and what it has imported.
        fresh = multiprocessing.get_context("spawn")
        connection, theirs = fresh.Pipe()
        self._process = fresh.Process(target=_serve, args=(theirs, self.peer), daemon=True)
        self._process.start()
        theirs.close()
        self._connection = connection
        try:
            ready, told = connection.recv() if connection.poll(START_S) else (False, "it does not get ready")
        except EOFError:
            ready, told = False, "its process ended"
        if not ready:
            self._stop()
            install = f"; pip install {self.peer.package}" if self.peer.package else ""
            raise SkippedError(f"{self.peer.name} cannot be used here ({told}){install}")
        self.version = told
        return connection

    def _stop(self) -> None:
        if self._process is not None:
            self._process.kill()
            self._process.join()
        if self._connection is not None:
            self._connection.close()
        self._process = self._connection = None


def _serve(connection: "Connection[Any, Any]", peer: Peer) -> None:
    warnings.simplefilter("ignore")
    sys.addaudithook(_offline)
    with open(os.devnull, "w", encoding="utf-8") as nowhere:  # noqa: PTH123 - a device, not a path of ours
        sys.stdout = sys.stderr = nowhere
        try:
            read = peer.open()
            version = importlib.metadata.version(peer.package) if peer.package else ""
        except Exception as error:  # noqa: BLE001 - whatever keeps a library from being used is a reason to skip it
            connection.send((False, f"{type(error).__name__}: {error}"))
            return
        connection.send((True, version))
        while True:
            try:
                text = connection.recv()
            except EOFError:
                return
            connection.send(_timed(read, text))


def _timed(read: Reader, text: str) -> Answer:
    started_s = time.perf_counter()
    try:
        found, crashed = read(text), False
    except ValueError:
        found, crashed = (), False
    except Exception:  # noqa: BLE001 - anything but a plain refusal counts as a crash, whatever it is
        found, crashed = (), True
    return Answer(found, time.perf_counter() - started_s, crashed=crashed)


def _offline(event: str, _arguments: object) -> None:
    if event in ("socket.connect", "socket.getaddrinfo"):
        raise PermissionError("nothing may be downloaded while this runs")


def plain_number(found: Found, asking: Asking) -> Number | None:
    """Return the one number a library gave, None for none or several; without a unit it is in the one asked for."""
    return _one(_numbers(found) if isinstance(found, str) else found, None, asking)


def wrapped_number(found: Found, text: str, asking: Asking) -> Number | None:
    """Return the one number after the wrapper: neighbours joined, unit and scale looked for in the text itself."""
    numbers = _numbers(_joined(found)) if isinstance(found, str) else _joined_numbers(found)
    return _one(numbers, said_unit(text), asking)


def _one(numbers: Sequence[Number], said: "SaidUnit | None", asking: Asking) -> Number | None:
    if len(numbers) != 1:
        return None
    only = numbers[0]
    if only.unit is not None:
        return only
    scale, unit = (0, None) if said is None else (said.power_of_ten, said.unit)
    return Number(only.value.scaleb(scale), unit or ASKED_UNIT.get(asking))


_FIGURES: Final = re.compile(r"(?<![\d.])[-+]?(?:\d+(?:\.\d+)?|\.\d+)(?:e[-+]?\d+(?!\w))?", re.IGNORECASE)
_DIGIT_GROUPS: Final = re.compile(r"(?<![\d.])\d+(?: +\d+)*(?:\.\d+(?: +\d+)*)?(?![\d.])")


def _numbers(text: str) -> tuple[Number, ...]:
    return tuple(Number(Decimal(figures)) for figures in _FIGURES.findall(text.replace("−", "-")))


def _joined(text: str) -> str:
    text = re.sub(r"(?<=\d),(?=\d{3}(?!\d))", "", text)
    text = re.sub(r"(?<=\d) +point +(?=\d)", ".", text)
    text = re.sub(r"\bpoint +(?=\d)", "0.", text)
    return _DIGIT_GROUPS.sub(lambda group: group[0].replace(" ", ""), text)


def _joined_numbers(numbers: Sequence[Number]) -> Sequence[Number]:
    written = "".join(f"{number.value.normalize():f}" for number in numbers)
    if len(numbers) < 2 or any(number.unit for number in numbers) or not re.fullmatch(r"-?\d+(?:\.\d+)?", written):
        return numbers
    return (Number(Decimal(written)),)


@dataclass(frozen=True, slots=True)
class SaidUnit:
    """A unit that is named in a text, None for a bare "k" or "meg", and the power of ten in front of it."""

    unit: Unit | None
    power_of_ten: int


_UNIT_WORDS: Final = {
    "volt": Unit.VOLT,
    "ohm": Unit.OHM,
    "amp": Unit.AMPERE,
    "ampere": Unit.AMPERE,
    "watt": Unit.WATT,
    "farad": Unit.FARAD,
    "hertz": Unit.HERTZ,
    "fahrenheit": Unit.FAHRENHEIT,
    "celsius": Unit.CELSIUS,
}
_SYMBOLS: Final = {
    "v": Unit.VOLT,
    "vac": Unit.VOLT,
    "vdc": Unit.VOLT,
    "ω": Unit.OHM,
    "a": Unit.AMPERE,
    "w": Unit.WATT,
    "hz": Unit.HERTZ,
    "f": Unit.FARAD,
    "c": Unit.CELSIUS,
}
_DEGREES: Final = {"f": Unit.FAHRENHEIT, "c": Unit.CELSIUS}
_POWERS: Final = dict.fromkeys(("kilo", "kil", "kay", "k"), 3) | dict.fromkeys(("mega", "meg", "M"), 6)
_POWERS.update({"": 0, "milli": -3, "m": -3, "micro": -6, "u": -6, "μ": -6})
_BY_DEGREE: Final = re.compile(r"(?:degrees?|°) ?([fc])(?![a-z])", re.IGNORECASE)
_BY_WORD: Final = re.compile(
    rf"(?<![a-z])(milli|micro|kilo|kil|kay|k|mega|meg|m|)[ -]?({'|'.join(_UNIT_WORDS)})s?(?![a-z])", re.IGNORECASE
)
_BY_SYMBOL: Final = re.compile(rf"(?<=\d) ?([mkuμ]?)({'|'.join(_SYMBOLS)})(?![a-z])", re.IGNORECASE)
_BY_SYMBOL_ALONE: Final = re.compile(r"(?<![a-z])([mk]?)(v|vac|vdc|hz|c)(?![a-z])", re.IGNORECASE)
_BY_SCALE: Final = re.compile(r"(?<![a-z])(kay|k|meg|mega)(?![a-z])|(?<=\d) ?(?-i:(M))(?![a-z])", re.IGNORECASE)


def said_unit(text: str) -> SaidUnit | None:
    """Return the first unit or scale that a text names: a word before a symbol, a symbol before a bare scale."""
    text = unicodedata.normalize("NFKC", text)
    degrees = _BY_DEGREE.search(text)
    if degrees is not None:
        return SaidUnit(_DEGREES[degrees[1].lower()], 0)
    for pattern, names in ((_BY_WORD, _UNIT_WORDS), (_BY_SYMBOL, _SYMBOLS), (_BY_SYMBOL_ALONE, _SYMBOLS)):
        # "Forty ohms, no, kilohms": a unit with a scale goes before one without.
        found = max(pattern.finditer(text), key=lambda each: bool(each[1]), default=None)
        if found is not None:
            return SaidUnit(names[found[2].lower()], _power(found[1]))
    scale = _BY_SCALE.search(text)
    return None if scale is None else SaidUnit(None, _power(scale[1] or scale[2]))


def _power(prefix: str) -> int:
    # Only the capital tells mega from milli.
    return _POWERS[prefix if prefix == "M" else prefix.lower()]


def _as_written() -> Reader:
    return str


def _text2num() -> Reader:
    module = _module("text_to_num")
    # With the threshold it comes with, "one", "two" and "three" alone stay words.
    return lambda text: str(module.alpha2digit(text, "en", threshold=0.0))


def _word2number() -> Reader:
    module = _module("word2number.w2n")
    return lambda text: _list([module.word_to_num(text)])


def _numerizer() -> Reader:
    module = _module("numerizer")
    return lambda text: str(module.numerize(text))


def _quantulum3() -> Reader:
    module = _module("quantulum3.parser")
    return lambda text: tuple(
        _in_base(number.value, str(found.unit.name)) for found in module.parse(text) for number in _list([found.value])
    )


def _number_parser() -> Reader:
    module = _module("number_parser")
    return lambda text: str(module.parse(text))


def _text2digits() -> Reader:
    converter = _module("text2digits.text2digits").Text2Digits()
    return lambda text: str(converter.convert(text))


def _lingua_franca() -> Reader:
    _module("lingua_franca").load_language("en")
    module = _module("lingua_franca.parse")
    return lambda text: _list(module.extract_numbers(text))


def _ovos_number_parser() -> Reader:
    module = _module("ovos_number_parser")
    return lambda text: str(module.numbers_to_digits(text, lang="en"))


def _recognizers_text() -> Reader:
    emoji = _module("emoji")
    # It reads a table that the second version of emoji calls otherwise.
    if not hasattr(emoji, "UNICODE_EMOJI"):
        emoji.UNICODE_EMOJI = emoji.EMOJI_DATA
    module = _module("recognizers_number")
    return lambda text: _list(
        [found.resolution["value"] for found in module.recognize_number(text, module.Culture.English)]
    )


def _whisper_normalizer() -> Reader:
    normalizer = _module("whisper_normalizer.english").EnglishTextNormalizer()
    return lambda text: str(normalizer(text))


def _itntext() -> Reader:
    normalizer = _module("itntext").Normalizer(lang="en", operator="itn")
    return lambda text: str(normalizer.normalize(text))


def _pint() -> Reader:
    module = _module("pint")
    registry = module.UnitRegistry()

    def read(text: str) -> Found:
        try:
            found = registry.parse_expression(text)
        except module.PintError:
            return ()
        if not hasattr(found, "units"):
            return _list([found])
        for name in ("volt", "ohm", "ampere", "watt", "farad", "hertz"):
            if found.is_compatible_with(name):
                return tuple(Number(n.value, _UNIT_WORDS[name]) for n in _list([found.to(name).magnitude]))
        return tuple(Number(number.value, str(found.units)) for number in _list([found.magnitude]))

    return read


_QUANTULUM: Final = {"degree fahrenheit": Unit.FAHRENHEIT, "degree Celsius": Unit.CELSIUS}
_NAMED: Final = re.compile(r"(milli|micro|kilo|kil|mega|meg)?(volt|ohm|ampere|watt|farad|hertz)")


def _in_base(value: Decimal, name: str) -> Number:
    """Return a number with a unit of quantulum3 in ours, in its own name where we have none."""
    if name == "dimensionless":
        return Number(value)
    if name in _QUANTULUM:
        return Number(value, _QUANTULUM[name])
    found = _NAMED.fullmatch(name)
    return Number(value, name) if found is None else Number(value.scaleb(_power(found[1] or "")), _UNIT_WORDS[found[2]])


def _list(values: Sequence[object]) -> tuple[Number, ...]:
    """Return numbers as decimals, without what is none or has no end."""
    found = []
    for value in values:
        try:
            decimal = Decimal(str(value))
        except InvalidOperation:
            continue
        if decimal.is_finite():
            found.append(Number(decimal))
    return tuple(found)


def _module(name: str) -> Any:
    return importlib.import_module(name)


AS_WRITTEN: Final = Peer("figures as written", _as_written)
PEERS: Final = (
    AS_WRITTEN,
    Peer("text2num", _text2num, "text2num"),
    Peer("word2number", _word2number, "word2number"),
    Peer("numerizer", _numerizer, "numerizer"),
    Peer("quantulum3", _quantulum3, "quantulum3"),
    Peer("number-parser", _number_parser, "number-parser"),
    Peer("text2digits", _text2digits, "text2digits"),
    Peer("lingua-franca", _lingua_franca, "lingua-franca"),
    Peer("ovos-number-parser", _ovos_number_parser, "ovos-number-parser"),
    Peer("recognizers-text", _recognizers_text, "recognizers-text-suite"),
    Peer("whisper-normalizer", _whisper_normalizer, "whisper-normalizer"),
    Peer("itntext", _itntext, "itntext"),
    Peer("pint", _pint, "pint"),
)
"""The first is a floor: what the wrapper does where nothing turns words into figures."""
