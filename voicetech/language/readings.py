"""From items to readings: one number with its unit and label, a range, or several results in one breath.

Every item must have a use. A word that has none, a rating, a memory, a time of day or a second way to read the
number turns the answer into a question with its candidates.
"""

from collections.abc import Iterable, Sequence
from dataclasses import replace
from decimal import Decimal

from voicetech.language.grouping import Group, grouped
from voicetech.language.items import Item, ItemKind
from voicetech.language.meaning import (
    MEASURED,
    NO_PLACE,
    Asking,
    Flag,
    Meaning,
    Question,
    RangeSaid,
    ReadingSaid,
    SeveralSaid,
    Unclear,
)
from voicetech.language.numbers import Atom, Number, code_of, read_number
from voicetech.units import Unit

ASKED_UNIT = {
    Asking.VOLTAGE: Unit.VOLT,
    Asking.RESISTANCE: Unit.OHM,
    Asking.CONTINUITY: Unit.OHM,
    Asking.CURRENT: Unit.AMPERE,
    Asking.POWER: Unit.WATT,
    Asking.DURATION: Unit.SECOND,
}
_OWES_A_NUMBER = MEASURED | {Asking.ANY}
_UNITS_FIT = {
    Asking.TEMPERATURE: (Unit.CELSIUS, Unit.FAHRENHEIT),
    Asking.POWER: (Unit.WATT, Unit.KILOWATT),
}
_BEYOND = {Unit.VOLT: Decimal(1000), Unit.OHM: Decimal(10) ** 9, Unit.AMPERE: Decimal(1000), None: Decimal(10) ** 9,
           Unit.CELSIUS: Decimal(1500), Unit.FAHRENHEIT: Decimal(2500)}  # fmt: skip
"""Where a value is out of a bench meter's range and is asked about. Common practice, no source."""
_EVERYDAY = frozenset({"to", "too", "for", "fore", "ate", "won", "free", "o", "owe", "tin"})
_LONGEST = 60
_MINUTES_AND_SECONDS = 2
_FAR_LARGER = 10
"""From so many times the other end's number on, a number does not share its scale word. Judgement, no source."""


def read_items(items: Sequence[Item], question: Question) -> Meaning | None:
    """Return the reading, range or list that all items say together; None where no number was said."""
    if len(items) > _LONGEST:
        return None
    groups, trouble = grouped(items)
    if not groups:
        return None
    everything = any(item.kind is ItemKind.ALL for item in items)
    if trouble or (question.asking not in _OWES_A_NUMBER and not any(g.unit for g in groups)):
        alone = trouble == {Flag.PARTIAL} and len(groups) == 1
        return Unclear("What does the meter show?", _candidates(groups, question), frozenset(trouble), offer=alone)
    return _said(groups, items, question, everything)


def _said(groups: list[Group], items: Sequence[Item], question: Question, everything: bool) -> Meaning:
    if len(groups) == 1:
        single = _single(groups[0], items, question)
        if everything and isinstance(single, ReadingSaid):
            return SeveralSaid((single,), single.unit, single.flags, confirm=True, all_pairs=True)
        return single
    between = any(item.text.split()[-1:] == ["between"] for item in items)
    if len(groups) == 2 and (groups[1].joined or between):
        found = _range(groups, items, question)
        if found is not None:
            return found
    return _several(groups, items, question)


def _single(group: Group, items: Sequence[Item], question: Question) -> Meaning:
    number = None if _to_inside(group.atoms) else _scaled(_article_as_one(group))
    if number is None:
        return _not_one_number(group, items, question)
    if len(group.atoms) == 1 and group.atoms[0].text in _EVERYDAY and group.unit is None:
        return Unclear(
            "What does the meter show?", _candidates([group], question), frozenset({Flag.HOMOPHONE}), offer=True
        )
    number = _ranked(number, question)
    if group.unit is not None and not group.unit.clear:
        return Unclear("Milliohms or megohms?", _milli_or_mega(number.value), offer=True)
    if number.unsure:
        return _unsure(number, group, question)
    return _reading(number, group, question)


def _unsure(number: Number, group: Group, question: Question) -> Unclear:
    values = (number.value, *number.rivals)
    texts = " or ".join(f"{value}" for value in values[:2])
    return Unclear(f"{texts}?", tuple(_reading(Number(v), group, question) for v in values), offer=True)


def _ranked(number: Number, question: Question) -> Number:
    """Put the likelier of two values first where a decimal point may have been swallowed."""
    if not number.dropped_point:
        return number
    if question.likely is None:
        doubtful = question.asking in (Asking.VOLTAGE, Asking.CURRENT, Asking.ANY) or number.value < 10
        return replace(number, unsure=number.unsure or (doubtful and number.value < 100))
    low, high = question.likely
    values = (number.value, *number.rivals)
    fitting = [value for value in values if low <= value <= high]
    if not fitting:
        return replace(number, unsure=True)
    others = tuple(value for value in values if value != fitting[0])
    return replace(number, value=fitting[0], rivals=others, unsure=False, confirm=True)


def _scaled(atoms: list[Atom]) -> Number | None:
    """Return the number of atoms that may hold one scale word ("one point two k", "one k two")."""
    code = code_of(atoms)
    while code.endswith(","):
        atoms, code = atoms[:-1], code[:-1]
    if "m" in code:
        return None
    if "S" not in code:
        return read_number(atoms)
    cut = code.index("S")
    scale = atoms[cut].value
    part = read_number(_without_article(atoms[:cut])) if cut else None
    if part is None or part.unsure or (part.dropped_point and part.value < 1):
        return None
    tail = atoms[cut + 1 :]
    asked = (
        part.confirm
        or (" " in atoms[cut].text and atoms[cut].text.startswith("my"))
        or atoms[cut].text in ("mike", "mic")
    )
    if not tail:
        return replace(part, value=part.value * scale, rivals=tuple(r * scale for r in part.rivals), confirm=asked)
    tail_code = code[cut + 1 :]
    if scale > 1 and part.value == int(part.value) and set(tail_code) <= {"D", "Z"} and len(tail_code) <= 3:
        digits = "".join(str(int(a.value)) for a in tail)
        return Number(Decimal(f"{int(part.value)}.{digits}") * scale, part.flags)
    rest = read_number(tail)
    hundreds = "H" in tail_code or tail_code in ("C", "I")
    if rest is None or rest.unsure or not hundreds or scale != 1000:
        return None
    fits = rest.value < scale and part.value == int(part.value)
    return Number(part.value * scale + rest.value) if fits else None


def _to_inside(atoms: list[Atom]) -> bool:
    """Return whether a "to" stands after a number word: it is then never the digit it sounds like."""
    return any(atom.text == "to" and at and atoms[at - 1].letter != "P" for at, atom in enumerate(atoms))


def _article_as_one(group: Group) -> list[Atom]:
    """Return the atoms with "an ohm" as one ohm and "point eight of an amp" without what joins its unit.

    An article without a unit stays no number.
    """
    if group.unit is None:
        return group.atoms
    code = code_of(group.atoms)
    if ("P" in code or "F" in code) and code.endswith(("oa", "o")):
        return group.atoms[: code.rindex("o")]
    return _without_article(group.atoms)


def _without_article(atoms: list[Atom]) -> list[Atom]:
    """Return the atoms with an article as one, alone ("a meg") or before a fraction ("an ohm and a half")."""
    code = code_of(atoms)
    return [Atom("D", Decimal(1)), *atoms[1:]] if code == "a" or code.startswith("a&") else atoms


def _milli_or_mega(value: Decimal) -> tuple[Meaning, ...]:
    return (ReadingSaid(value / 1000, Unit.OHM), ReadingSaid(value * 1000000, Unit.OHM))


def _reading(number: Number, group: Group, question: Question) -> ReadingSaid:
    unit, factor, flags = _unit(group, question)
    value, rivals = number.value * factor, tuple(r * factor for r in number.rivals)
    if group.below_zero:
        value, rivals = -value, tuple(-r for r in rivals)
    flags = flags | number.flags | group.flags
    confirm = number.confirm or Flag.DC_NOT_AC in flags or Flag.RECOGNISER_ITN in flags
    sounds = [atom for atom in group.atoms if atom.sounds_like]
    if sounds or (group.unit is not None and group.unit.unit is not None and group.unit.unit.sounds_like):
        flags |= {Flag.HOMOPHONE}
    if any(atom.text == "for" and at and group.atoms[at - 1].letter != "P" for at, atom in enumerate(group.atoms)):
        confirm = True
    lone = len([a for a in group.atoms if a.letter not in ",a"]) == 1
    if sounds and sounds[0].text in _EVERYDAY and (lone or group.atoms[0].text in ("to", "for", "fore")):
        confirm = True
    beyond = _BEYOND.get(unit)
    confirm = confirm or (number.fraction and abs(number.value) < 1 and group.unit is None)
    negative_ohms = value < 0 and unit in (Unit.OHM, Unit.AMPERE, Unit.WATT)
    if negative_ohms or (beyond is not None and abs(value) >= beyond):
        flags, confirm = flags | {Flag.OUT_OF_RANGE}, True
    if Flag.UNIT_MISMATCH in flags and unit not in (Unit.HERTZ, Unit.FARAD):
        confirm = True
    if Flag.LEADING_ZERO in flags:
        confirm = not (unit is Unit.VOLT and 50 <= abs(value) < 1000)
    return ReadingSaid(value, unit, group.label, frozenset(flags), confirm, rivals)


def _unit(group: Group, question: Question) -> tuple[Unit | None, Decimal, frozenset[Flag]]:
    """Return the unit, the factor its word carries, and flags; the spoken unit wins, else the asked one."""
    asked = ASKED_UNIT.get(question.asking)
    if group.unit is not None and group.unit.unit is not None:
        said = group.unit.unit
        fits = said.unit in _UNITS_FIT.get(question.asking, (asked,)) or question.asking is Asking.ANY
        if question.asking is Asking.POWER and said.unit is Unit.WATT:
            return Unit.WATT, said.scale, frozenset()
        return said.unit, said.scale, frozenset() if fits else frozenset({Flag.UNIT_MISMATCH})
    if group.degrees and asked is not None:
        return None, Decimal(1), frozenset({Flag.UNIT_MISMATCH, Flag.UNIT_MISSING})
    if asked is None:
        return None, Decimal(1), frozenset({Flag.UNIT_MISSING})
    return asked, Decimal(1), frozenset()


def _not_one_number(group: Group, items: Sequence[Item], question: Question) -> Meaning:
    atoms = group.atoms
    while atoms and atoms[-1].letter == ",":
        atoms = atoms[:-1]
    halves = _repeated(atoms)
    if halves is not None:
        typed = all(a.text.replace(".", "").isdigit() for a in halves)
        number = _scaled(halves)
        if number is not None and not number.unsure:
            said = _reading(number, replace(group, atoms=halves), question)
            return replace(said, flags=said.flags | {Flag.REPEATED}, confirm=said.confirm or not typed)
    for separator in ("to", "&", ","):
        pieces = _parted(atoms) if separator == "&" else _split(atoms, separator)
        if len(pieces) < 2:
            continue
        groups = [replace(group, atoms=piece, flags=set(group.flags), label=None) for piece in pieces]
        numbers = [_scaled(piece) for piece in pieces]
        if any(n is None or n.unsure or (n.dropped_point and n.value < 100) for n in numbers):
            continue
        if separator == "to" or (separator == "&" and any(i.text == "between" for i in items)):
            if len(groups) == 2:
                groups[1].joined = True
                found = _range(groups, items, question)
                if found is not None:
                    return found
            continue
        if len(groups) > 2 and separator == ",":
            break
        several = _several(groups, items, question)
        if isinstance(several, SeveralSaid) and separator == ",":
            return replace(several, confirm=True)
        return several
    if "m" in code_of(atoms):
        number = read_number([a for a in atoms if a.letter != "m"])
        return Unclear("Milli or mega?", _milli_or_mega(number.value) if number else (), offer=number is not None)
    dangling = bool(atoms) and atoms[-1].text in ("to", "and", "point", "a")
    flags = frozenset({Flag.PARTIAL}) if dangling else frozenset()
    return Unclear("Say the number again?", _candidates([group], question), flags)


def _repeated(atoms: list[Atom]) -> list[Atom] | None:
    plain = [a for a in atoms if a.letter != ","]
    half = len(plain) // 2
    if len({a.value for a in plain}) == 1 and len(plain) > 4:
        return None
    if half < 1 or len(plain) % 2 or [a.value for a in plain[:half]] != [a.value for a in plain[half:]]:
        return None
    whole_typed = half == 1 and len(plain[0].text) > 1
    return plain[:half] if half > 1 or whole_typed or plain[0].letter in "TYW" else None


def _parted(atoms: list[Atom]) -> list[list[Atom]]:
    """Return two numbers around the first "and" that leaves a whole number on either side, else every part."""
    for at, atom in enumerate(atoms):
        if atom.letter == "&":
            pieces = [atoms[:at], atoms[at + 1 :]]
            if all(piece and _scaled(piece) is not None for piece in pieces):
                return pieces
    return _split(atoms, "&")


def _split(atoms: list[Atom], separator: str) -> list[list[Atom]]:
    pieces: list[list[Atom]] = [[]]
    for atom in atoms:
        if (separator == "to" and atom.text == "to") or atom.letter == separator:
            pieces.append([])
        else:
            pieces[-1].append(atom)
    return [piece for piece in pieces if piece]


def _range(groups: list[Group], items: Sequence[Item], question: Question) -> Meaning | None:
    ends = [_scaled(g.atoms) for g in groups]
    if any(n is None or n.unsure for n in ends):
        return None
    ends = [_with_scale_of(groups[1], ends[0], groups[0]), ends[1]]
    unit_from = groups[1] if groups[1].unit else groups[0]
    low, high = (
        _reading(n, replace(g, unit=g.unit or unit_from.unit, degrees=unit_from.degrees), question)
        for n, g in zip(ends, groups, strict=True)
        if n is not None
    )
    if any(item.kind is ItemKind.MOVING for item in items):
        return SeveralSaid((low, high), low.unit, frozenset({Flag.SEQUENCE}))
    if groups[1].spread:
        around = abs(high.value)
        return RangeSaid(low.value - around, low.value + around, low.unit or high.unit, frozenset({Flag.APPROX}))
    if high.value <= low.value:
        return None
    return RangeSaid(low.value, high.value, high.unit, low.flags | {Flag.RANGE})


def _with_scale_of(last: Group, number: Number | None, group: Group) -> Number | None:
    """Return the number with the scale word of the one behind it: "three to four k" is thousands at both ends.

    "900 to 1.2 k" is not: there the first number is far larger than the one before the scale word.
    """
    code = code_of(last.atoms)
    if number is None or group.unit is not None or "S" not in code or "S" in code_of(group.atoms):
        return number
    cut = code.index("S")
    part, scale = read_number(last.atoms[:cut]), last.atoms[cut].value
    if part is None or number.value >= part.value * _FAR_LARGER:
        return number
    return replace(number, value=number.value * scale, rivals=tuple(rival * scale for rival in number.rivals))


def _several(groups: list[Group], items: Sequence[Item], question: Question) -> Meaning:
    numbers = [_scaled(g.atoms) for g in groups]
    known = next((g for g in groups if g.unit is not None), None)
    readings: list[ReadingSaid] = []
    if any(_with_scale_of(groups[-1], n, g) != n for n, g in zip(numbers, groups, strict=True)):
        return Unclear("One at a time, please, each with its unit.", _candidates(groups, question))
    for number, group in zip(numbers, groups, strict=True):
        if number is None or number.unsure or (group.unit is not None and not group.unit.clear):
            return Unclear("One at a time, please.", _candidates(groups, question))
        if group.unit is None and known is not None:
            group = replace(group, unit=known.unit)
        readings.append(_reading(_ranked(number, question), group, question))
    if question.asking is Asking.DURATION and len(readings) == _MINUTES_AND_SECONDS:
        minutes, seconds = groups[0].unit, groups[1].unit
        if minutes is not None and minutes.unit is not None and minutes.unit.scale > 1 and seconds != minutes:
            whole = sum((number.value for number in numbers[1:] if number is not None), readings[0].value)
            return replace(readings[0], value=whole, rivals=())
    asked = [r for r in readings if Flag.UNIT_MISMATCH not in r.flags]
    if len(asked) == 1 and all(r.unit in (Unit.HERTZ, None) for r in readings if r not in asked):
        return replace(asked[0], flags=asked[0].flags | {Flag.EXTRA_QUANTITY})
    if len({(r.value, r.unit) for r in readings}) == 1 and len({r.label for r in readings}) == 1:
        return replace(readings[0], flags=readings[0].flags | {Flag.REPEATED})
    moving = any(i.kind is ItemKind.MOVING for i in items) or any(Flag.UNSTABLE in r.flags for r in readings)
    kind = Flag.SEQUENCE if moving else Flag.MULTIPLE
    unit = readings[0].unit if len({r.unit for r in readings}) == 1 else None
    many = len(readings) > 2 and not any(r.label for r in readings)
    told_apart = moving or all(r.label for r in readings) or all(g.unit for g in groups) or _listed(items)
    confirm = many or not told_apart or any(r.confirm or r.label in NO_PLACE for r in readings)
    return SeveralSaid(tuple(readings), unit, frozenset({kind}), confirm)


def _listed(items: Sequence[Item]) -> bool:
    """Return whether an "and" says that there is more than one."""
    return any(item.atom is not None and item.atom.letter == "&" for item in items)


def _candidates(groups: Iterable[Group], question: Question) -> tuple[Meaning, ...]:
    found: list[Meaning] = []
    for group in groups:
        number = _scaled(group.atoms)
        if number is not None:
            found += [_reading(Number(v), group, question) for v in (number.value, *number.rivals)]
    return tuple(found[:4])
