"""How technicians say numbers: from number words and typed digits to decimal values.

A number is read only when one of the forms below takes all of its words; nothing is added up, joined or left over
on the way. Each word is one letter of a short code, each form a pattern over that code, so that "two thirty
eight" and "2 38" are the same form. Where the same words are used for two values, both come back.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from voicetech.language.meaning import Flag

MOST_DIGITS = 12
"""Significant digits that are believed. Common practice, no source: no meter shows more than seven."""


@dataclass(frozen=True, slots=True)
class Atom:
    """One number word or typed number: its letter in the code, its value, and how it was written.

    Letters: Z zero, D 1 to 9, T 10 to 19, Y round tens, W other two-digit, C round hundreds (typed), I other typed
    whole, F typed decimal, H hundred, K thousand, L million and up, P point, c "comma", N minus, V vulgar fraction,
    X fraction word, S scale, m a bare m, 2 double, 3 triple, & and, a an article, o "of", "," a pause.
    """

    letter: str
    value: Decimal = Decimal(0)
    text: str = ""
    sounds_like: bool = False
    radio: bool = False


@dataclass(frozen=True, slots=True)
class Number:
    """A value and what is doubtful about it.

    `unsure` is true where the words have no likeliest value: `value` and `rivals` are then only candidates.
    """

    value: Decimal
    flags: frozenset[Flag] = frozenset()
    confirm: bool = False
    unsure: bool = False
    rivals: tuple[Decimal, ...] = ()
    dropped_point: bool = False
    """True where a decimal point may have been swallowed; the first rival or the value has it."""
    article: bool = False
    fraction: bool = False


_N99 = "(?:YD|Y|T|W|D)"
_H999 = f"(?:(?:(?:{_N99}|a)?H|C),?(?:&?{_N99}|ZD)?|{_N99})"
_CARDINAL = re.compile(
    f"(?:(?:{_H999}|a)L,?&?)*(?:(?:{_H999}|I|a)?K,?&?)?(?:{_H999})?"
)  # fmt: skip
_PAIR = re.compile(r"(D|T|YD|Y|W)(T|YD|Y|W|ZD|ZZ)")
_DIGITS = re.compile(r"(?:[23]?[DZ]){1,12}")
_DECIMAL = re.compile(r"(?P<whole>[^PcFV]*?)[Pc](?P<places>(?:[23]?[DZ]){1,8}|T|YD|Y|W|C|I)")
_FRACTION = re.compile(r"(?P<whole>.*?)&(?P<count>[aDT]?)X")
_BARE_FRACTION = re.compile(r"(?P<count>[aDT]?)X(?:oa|a|o)?")
_LARGE_TAIL = re.compile(r"(?P<part>.*[PcFVX].*)(?P<size>[KL])")
_SWALLOWED = re.compile(
    r"(?P<whole>(?:D(?:T|YD|Y|W)|T|YD|Y|W|(?:D|a)?H(?:&?(?:YD|T|Y|D))?|C(?:&?(?:YD|T|Y))?|DZD|DD[DZ]))(?P<place>[DZ])"
)
_NOTATION = re.compile(r"(\d+)([kKMRr])(\d+)")
_THOUSANDS = re.compile(r"\d{1,3}(?:,\d{3})+(?:\.\d+)?")


def code_of(atoms: Sequence[Atom]) -> str:
    """Return the letters of the atoms."""
    return "".join(atom.letter for atom in atoms)


def typed_atom(text: str) -> Atom | None:
    """Return the atom of a typed number without exponent or notation, or None where it is not a measured number."""
    if text.startswith("\u2044"):
        above, _, below = text[1:].partition("/")
        return Atom("V", Decimal(above) / Decimal(below), text)
    if ":" in text:
        return None
    if _THOUSANDS.fullmatch(text):
        return Atom("I" if "." not in text else "F", Decimal(text.replace(",", "")), text)
    plain = text.replace(",", ".")
    if plain.count(".") > 1:
        return None
    if "." in plain:
        return Atom("F", Decimal(plain if not plain.startswith(".") else "0" + plain), text)
    return Atom(_whole_letter(text), Decimal(text), text)


def _whole_letter(text: str) -> str:
    if len(text) == 1:
        return "Z" if text == "0" else "D"
    if len(text) == 2 and text[0] != "0":
        return "T" if text[0] == "1" else "Y" if text[1] == "0" else "W"
    return "C" if len(text) == 3 and text[0] != "0" and text.endswith("00") else "I"


def notation_value(text: str) -> tuple[Decimal, Decimal] | None:
    """Return value and scale of "1k2" or "4R7" (1.2 and 1000), or None."""
    match = _NOTATION.fullmatch(text)
    if match is None:
        return None
    scale = {"k": "1000", "K": "1000", "M": "1000000"}.get(match[2], "1")
    return Decimal(f"{match[1]}.{match[3]}"), Decimal(scale)


def read_number(atoms: Sequence[Atom]) -> Number | None:
    """Return the number that all of `atoms` say together, or None where they are no single number."""
    code = code_of(atoms).strip(",")
    atoms = [a for a in atoms if a.letter != ","] if "," in code else list(atoms)
    if "," in code and not _CARDINAL.fullmatch(code):
        return None
    code = code_of(atoms)
    if code.startswith("N"):
        number = read_number(atoms[1:]) if "N" not in code[1:] else None
        return None if number is None else _negated(number)
    if not code or len(code) > 16:
        return None
    found = _read(code, atoms)
    if found is None or not _believable(found.value):
        return None
    return found


def _negated(number: Number) -> Number:
    return replace(number, value=-number.value, rivals=tuple(-r for r in number.rivals))


def _believable(value: Decimal) -> bool:
    return len(value.normalize().as_tuple().digits) <= MOST_DIGITS and value.adjusted() < 16


def _read(code: str, atoms: list[Atom]) -> Number | None:
    if len(atoms) == 1 and code in "ZDTYWCIF":
        return _one_atom(atoms[0])
    if code == "V":
        return Number(atoms[0].value, fraction=True)
    if code.endswith("V"):
        whole = read_number(atoms[:-1])
        return None if whole is None else Number(whole.value + atoms[-1].value, fraction=True)
    for form in (_cardinal, _decimal, _pair, _digits, _fraction, _large, _swallowed):
        found = form(code, atoms)
        if found is not None:
            return found
    return None


def _one_atom(atom: Atom) -> Number:
    flags: frozenset[Flag] = frozenset()
    confirm = False
    if re.fullmatch(r"\d{1,3},\d{3}", atom.text):
        confirm = atom.text.startswith(("1,5",)) or int(atom.text[-3:]) % 500 == 0
    if atom.text.startswith("0") and atom.letter == "I":
        flags, confirm = frozenset({Flag.LEADING_ZERO}), len(atom.text) > 4
    if re.fullmatch(r"0,\d{3}", atom.text):
        value = Decimal(atom.text.replace(",", "."))
        return Number(value, confirm=True)
    return Number(atom.value, flags, confirm)


def _cardinal(code: str, atoms: list[Atom]) -> Number | None:
    if not _CARDINAL.fullmatch(code):
        return None
    total, part, floor, started = Decimal(0), Decimal(0), Decimal(0), False
    sizes: list[Decimal] = []
    for atom in atoms:
        match atom.letter:
            case "H":
                part = (part if started else Decimal(1)) * 100
            case "K" | "L":
                if sizes and atom.value >= sizes[-1]:
                    return None
                sizes.append(atom.value)
                total += (part if started else Decimal(1)) * atom.value
                part, started = Decimal(0), False
                continue
            case "a":
                part = Decimal(1)
            case "&":
                continue
            case _:
                part += atom.value
        started = True
    return Number(total + part + floor, article="a" in code)


def _pair(code: str, atoms: list[Atom]) -> Number | None:
    match = _PAIR.fullmatch(code)
    if match is None:
        return None
    cut = len(match[1])
    head = sum((a.value for a in atoms[:cut]), Decimal(0))
    if code[:cut] == code[cut:] == "YD" and head == sum((a.value for a in atoms[cut:]), Decimal(0)):
        # "forty two forty two" is a number said twice far more often than one of four digits.
        return None
    tail = _plain_digits(atoms[cut:]) if match[2][0] == "Z" else sum((a.value for a in atoms[cut:]), Decimal(0))
    value = head * 100 + tail
    yearlike = match[1] == "Y" and match[2] in ("T", "Y")
    rivals, risky = _teen_or_ten(value, atoms[-1]) if match[1] == "D" else ((), False)
    flags = frozenset({Flag.TEEN_TY}) if rivals else frozenset()
    return Number(value, flags, confirm=yearlike or risky, rivals=rivals)


_RISKY = frozenset(map(Decimal, (15, 50)))
"""Tails that recognisers of others swap most, and that are asked about even in text. Source: public reports of fifteen
and fifty swapped in their output. What this program's own recogniser mixes up is told by its rivals."""


def _teen_or_ten(value: Decimal, tail: Atom) -> tuple[tuple[Decimal, ...], bool]:
    """Return what the number is where its teen was a ten or the reverse, and whether to ask at once."""
    if tail.text.isdigit():
        return (), False
    if tail.letter == "T" and tail.value >= 13:
        return (value - tail.value + (tail.value - 10) * 10,), tail.value in _RISKY
    if tail.letter == "Y" and tail.value >= 30:
        return (value - tail.value + tail.value / 10 + 10,), tail.value in _RISKY
    return (), False


def _plain_digits(atoms: Sequence[Atom]) -> Decimal:
    return Decimal(_digit_text(atoms) or "0")


def _digit_text(atoms: Sequence[Atom]) -> str:
    text, times = "", 1
    for atom in atoms:
        if atom.letter in "23":
            times = int(atom.letter)
        else:
            text += (atom.text if atom.text.isdigit() else str(int(atom.value))) * times
            times = 1
    return text


def _digits(code: str, atoms: list[Atom]) -> Number | None:
    if not _DIGITS.fullmatch(code):
        return None
    text = _digit_text(atoms)
    if not 1 < len(text) <= 6:
        return None
    value = Decimal(text)
    if len(text) == 2:
        spelled = any(atom.radio or atom.letter in "23" for atom in atoms)
        if spelled and text[0] != "0":
            return Number(value)
        return Number(value, confirm=True, rivals=(Decimal(f"{text[0]}.{text[1]}"),), dropped_point=True)
    if text[0] == "0" and value:
        flags = frozenset({Flag.LEADING_ZERO})
        return Number(value, flags, confirm=True)
    return Number(value)


def _decimal(code: str, atoms: list[Atom]) -> Number | None:
    match = _DECIMAL.fullmatch(code)
    if match is None:
        return None
    places = _digit_text(atoms[match.start("places") :])
    if match["places"] == "YD":
        places = str(int(sum((a.value for a in atoms[match.start("places") :]), Decimal(0))))
    nothing = not match["whole"].strip("Z")
    whole = Number(Decimal(0)) if nothing else read_number(atoms[: match.end("whole")])
    if whole is None or whole.value != int(whole.value) or match["whole"] == "a":
        return None
    if whole.unsure or (whole.dropped_point and whole.value < 10):
        return None
    value = Decimal(f"{int(whole.value)}.{places}")
    return Number(value, whole.flags - {Flag.TEEN_TY})


def _fraction(code: str, atoms: list[Atom]) -> Number | None:
    match = _BARE_FRACTION.fullmatch(code)
    if match is not None:
        fraction = _share(match["count"], atoms[0], atoms[len(match["count"])])
        approximate = (
            frozenset({Flag.APPROX})
            if fraction.normalize().adjusted() and len(fraction.as_tuple().digits) > 6
            else frozenset()
        )
        return Number(fraction, approximate, fraction=True)
    match = _FRACTION.fullmatch(code)
    if match is None or not match["whole"]:
        return None
    whole = read_number(atoms[: match.end("whole")])
    if whole is None or whole.unsure or whole.fraction or whole.value != int(whole.value):
        return None
    return Number(whole.value + _share(match["count"], atoms[match.start("count")], atoms[-1]), fraction=True)


def _share(count: str, counter: Atom, word: Atom) -> Decimal:
    return (counter.value if count in ("D", "T") else Decimal(1)) * word.value


def _large(code: str, atoms: list[Atom]) -> Number | None:
    match = _LARGE_TAIL.fullmatch(code)
    if match is None:
        return None
    part = read_number(atoms[:-1])
    return None if part is None or part.unsure else replace(part, value=part.value * atoms[-1].value)


def _swallowed(code: str, atoms: list[Atom]) -> Number | None:
    """Return "twelve eight" and "two thirty eight six" as what they may be: with and without a point."""
    match = _SWALLOWED.fullmatch(code)
    if match is None:
        return None
    whole = read_number(atoms[:-1])
    if whole is None:
        return None
    digit = int(atoms[-1].value)
    with_point = Decimal(f"{int(whole.value)}.{digit}")
    return Number(with_point, confirm=True, unsure=True, rivals=(whole.value * 10 + digit,), dropped_point=True)
