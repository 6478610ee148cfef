"""From tokens to the items a reading is made of: numbers, units, labels, hedges and the words between them.

At every place the longest known phrase wins; a word that is not known becomes an item of its own, and no reading
is taken while one is left.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from voicetech.language.circumstances import circumstance_length
from voicetech.language.clean import Kind, Token
from voicetech.language.lexicon import Lexicon, UnitWord, Words
from voicetech.language.meaning import Asking
from voicetech.language.numbers import Atom, notation_value, typed_atom
from voicetech.language.phrasing import longest
from voicetech.units import Unit


class ItemKind(StrEnum):
    """What a piece of an answer is."""

    ATOM = "atom"
    UNIT = "unit"
    LABEL = "label"
    HEDGE = "hedge"
    LEAD = "lead"
    FILLER = "filler"
    PAUSE = "pause"
    AND = "and"
    JOIN = "join"
    EACH = "each"
    ALL = "all"
    DECADE = "decade"
    MOVING = "moving"
    DIRECT = "direct"
    BELOW = "below"
    TIME = "time"
    NOT_MEASURED = "not measured"
    OTHER_UNIT = "other unit"
    UNKNOWN = "unknown"
    CURRENCY = "currency"


@dataclass(frozen=True, slots=True)
class Item:
    """One piece: its kind, its words, and what they carry."""

    kind: ItemKind
    text: str
    atom: Atom | None = None
    words: Words = ()
    unit: UnitWord | None = None
    clear: bool = True
    """False where the unit's scale cannot be known ("5 mOhms")."""


_LETTER = {"digit": "D", "teen": "T", "tens": "Y", "hundred": "H", "thousand": "K", "large": "L", "point": "P",
           "comma": "c", "minus": "N", "double": "2", "triple": "3", "fraction": "X", "scale": "S",
           "bare_m": "m"}  # fmt: skip
_LONGEST_PHRASE = 7
_LONGEST_LEAD = 10
_LONGEST_NUMBER = 20
_CASED = frozenset({"mv", "ma", "mohm", "mohms", "mω", "mw", "mhz"})
_DASHES = frozenset("-–—−")
_QUANTITIES = frozenset({"r", "i", "u", "v", "e", "p"})
"""Symbols of quantities that a value is assigned to ("R = 24.6")."""


def items_of(tokens: Sequence[Token], asking: Asking, lexicon: Lexicon) -> list[Item]:
    """Return the items of the tokens, in order, each token in exactly one."""
    items: list[Item] = []
    at = 0
    while at < len(tokens):
        item, at = _next_item(tokens, at, items, asking, lexicon)
        if item is not None:
            items.append(item)
    return items


def _next_item(
    tokens: Sequence[Token], at: int, before: list[Item], asking: Asking, lexicon: Lexicon
) -> tuple[Item | None, int]:
    token = tokens[at]
    match token.kind:
        case Kind.NUMBER:
            return _typed(tokens, at, lexicon)
        case Kind.MARK:
            return _mark(tokens, at, before), at + 1
        case Kind.PICTURE:
            return None, at + 1
        case Kind.UNKNOWN | Kind.JUNK:
            return Item(ItemKind.UNKNOWN, token.text), at + 1
        case Kind.WORD:
            return _word(tokens, at, before, asking, lexicon)


def _typed(tokens: Sequence[Token], at: int, lexicon: Lexicon) -> tuple[Item, int]:
    text = tokens[at].text
    if len(text) > _LONGEST_NUMBER:
        return Item(ItemKind.UNKNOWN, text[:_LONGEST_NUMBER]), at + 1
    label, end = label_at(tokens, at, lexicon)
    if label is not None:
        return Item(ItemKind.LABEL, label), end
    notation = notation_value(text)
    if notation is not None:
        return Item(ItemKind.ATOM, text, Atom("F", notation[0] * notation[1], text)), at + 1
    if "e" in text.lower() and text[0].isdigit():
        power = abs(int(text.lower().partition("e")[2]))
        kind = ItemKind.ATOM if power <= 12 else ItemKind.UNKNOWN
        return Item(kind, text, Atom("F", Decimal(text), "") if power <= 12 else None), at + 1
    fraction = _typed_fraction(tokens, at)
    if fraction is not None:
        return fraction
    atom = typed_atom(text)
    return Item(ItemKind.ATOM if atom else ItemKind.UNKNOWN, text, atom), at + 1


_TYPED_FRACTIONS = {"1/2": "0.5", "1/4": "0.25", "3/4": "0.75"}


def _typed_fraction(tokens: Sequence[Token], at: int) -> tuple[Item, int] | None:
    if at + 2 < len(tokens) and tokens[at + 1].text == "/" and tokens[at + 1].glued and tokens[at + 2].glued:
        text = f"{tokens[at].text}/{tokens[at + 2].text}"
        value = _TYPED_FRACTIONS.get(text)
        if value is not None:
            return Item(ItemKind.ATOM, text, Atom("V", Decimal(value), text)), at + 3
    return None


def _mark(tokens: Sequence[Token], at: int, before: list[Item]) -> Item | None:
    token = tokens[at]
    number_next = at + 1 < len(tokens) and tokens[at + 1].kind is Kind.NUMBER
    number_before = at > 0 and tokens[at - 1].kind is Kind.NUMBER
    if token.text in _DASHES:
        if token.glued and number_next and tokens[at + 1].glued and before and before[-1].kind is ItemKind.ATOM:
            return Item(ItemKind.JOIN, "-") if number_before else None
        if number_next and not number_before and (tokens[at + 1].glued or not before):
            return Item(ItemKind.ATOM, "-", Atom("N"))
        return None if not (number_next and number_before) else Item(ItemKind.JOIN, "-")
    if token.text == "." and number_before and not token.glued and at + 1 == len(tokens):
        return Item(ItemKind.UNKNOWN, ".")
    match token.text:
        case "," | ";" | ":":
            return Item(ItemKind.PAUSE, ",")
        case "." | "!" | "?" | "…":
            return Item(ItemKind.PAUSE, ".")
        case "~" | "≈":
            return Item(ItemKind.HEDGE, "about")
        case "<" | "≤":
            return Item(ItemKind.HEDGE, "below")
        case ">" | "≥":
            return Item(ItemKind.HEDGE, "above")
        case "+" if number_next and not number_before:
            return None
        case "/" if number_next and number_before and min(len(tokens[at - 1].text), len(tokens[at + 1].text)) > 1:
            return Item(ItemKind.PAUSE, ",")
        case "=" if number_next and before and before[-1].kind in (ItemKind.UNIT, ItemKind.LABEL):
            return None
        case "±":
            return Item(ItemKind.JOIN, "±")
        case "$" | "€" | "£" if number_next:
            return Item(ItemKind.CURRENCY, token.text)
        case '"' | "'" | "(" | ")" | "“" | "”":
            return None
        case "∞":
            return Item(ItemKind.UNKNOWN, "∞")
        case "%":
            return Item(ItemKind.OTHER_UNIT, "%")
        case _:
            return Item(ItemKind.UNKNOWN, token.text)


def _word(
    tokens: Sequence[Token], at: int, before: list[Item], asking: Asking, lexicon: Lexicon
) -> tuple[Item | None, int]:
    if _stammer(tokens, at):
        return None, at + 1
    if tokens[at].text in _QUANTITIES and at + 1 < len(tokens) and tokens[at + 1].text in ("=", ":"):
        return Item(ItemKind.LEAD, tokens[at].text), at + 2
    lead = _lead_length(tokens, at, lexicon)
    if lead > 1:
        return Item(ItemKind.LEAD, tokens[at].text), at + lead
    label, end = label_at(tokens, at, lexicon)
    if label is not None:
        return Item(ItemKind.LABEL, label), end
    if before:
        rest, end = _words_to_mark(tokens, at)
        if circumstance_length(rest, 0, lexicon, of_a_number=True):
            return Item(ItemKind.FILLER, " ".join(rest)), end
    for length in range(min(_LONGEST_PHRASE, len(tokens) - at), 0, -1):
        piece = tokens[at : at + length]
        if any(t.kind is not Kind.WORD for t in piece):
            continue
        words = tuple(t.text for t in piece)
        item = _phrase(words, piece, before, asking, lexicon)
        if item is not None:
            return item, at + length
    return Item(ItemKind.UNKNOWN, tokens[at].text), at + 1


def _words_to_mark(tokens: Sequence[Token], at: int) -> tuple[list[str], int]:
    """Return the words up to the next mark and the place of that mark; a hyphen inside a word ("low-Z") is none."""
    words: list[str] = []
    while at < len(tokens):
        hyphen = tokens[at].text in _DASHES and tokens[at].glued and at + 1 < len(tokens) and tokens[at + 1].glued
        if tokens[at].kind is Kind.MARK and not (hyphen and words):
            break
        if not hyphen:
            words.append(tokens[at].text)
        at += 1
    return words, at


def _lead_length(tokens: Sequence[Token], at: int, lexicon: Lexicon) -> int:
    """Return the length of the longest lead-in at a place ("right at", which is not a right-hand terminal)."""
    words = [token.text for token in tokens[at : at + _LONGEST_LEAD]]
    return longest(lexicon.leads, words, 0) or _part_reads(words, lexicon)


_DETERMINERS = frozenset({"the", "this", "that", "my"})
_READS = frozenset({"reads", "shows", "measures"})
_LONGEST_NAME = 4


def _part_reads(words: Sequence[str], lexicon: Lexicon) -> int:
    """Return the length of "the gas valve coil reads": any name of a part, by its last word, and what it does."""
    if words[0] not in _DETERMINERS:
        return 0
    for verb in range(2, min(_LONGEST_NAME + 2, len(words))):
        if words[verb] in _READS and words[verb - 1] in lexicon.findings.parts:
            printed = any((word,) in lexicon.not_measured for word in words[1 : verb - 1])
            return 0 if printed else verb + 1
    return 0


def _stammer(tokens: Sequence[Token], at: int) -> bool:
    """Return whether this is the first sound of the next word, said twice ("t-two")."""
    if at + 2 >= len(tokens) or len(tokens[at].text) > 2 or tokens[at + 1].text != "-":
        return False
    return tokens[at + 1].glued and tokens[at + 2].glued and tokens[at + 2].text.startswith(tokens[at].text)


def _phrase(words: Words, tokens: Sequence[Token], before: list[Item], asking: Asking, lexicon: Lexicon) -> Item | None:
    text = " ".join(words)
    after_number = bool(before) and (
        before[-1].kind is ItemKind.ATOM or (before[-1].kind is ItemKind.UNIT and before[-1].unit is None)
    )
    if len(words) == 1:
        single = _single(words[0], tokens[0], after_number, before, asking, lexicon)
        if single is not None:
            return single
    number = lexicon.numbers.get(words)
    if number is not None:
        letter = "Z" if number.role == "digit" and number.value == 0 else _LETTER[number.role]
        atom = Atom(letter, number.value, text, number.sounds_like, number.radio)
        return Item(ItemKind.ATOM, text, atom)
    if words == ("plus", "or", "minus"):
        return Item(ItemKind.JOIN, "±")
    after_unit = bool(before) and before[-1].kind is ItemKind.UNIT
    if words in lexicon.cues.alternating and (after_number or after_unit):
        return Item(ItemKind.FILLER, text)
    if (after_number or after_unit) and _in(lexicon.trailing, words):
        return Item(ItemKind.FILLER, text)
    if words in lexicon.approximations:
        return Item(ItemKind.HEDGE, lexicon.approximations[words], words=words)
    for kind, matches in _SETS:
        if matches(words, lexicon):
            return Item(kind, text)
    return None


def _in(index: Mapping[str, tuple[Words, ...]], words: Words) -> bool:
    return words in index.get(words[0], ())


_SETS: tuple[tuple[ItemKind, Callable[[Words, Lexicon], bool]], ...] = (
    (ItemKind.DIRECT, lambda w, x: w in x.cues.direct),
    (ItemKind.ALL, lambda w, x: w in x.all_of_them),
    (ItemKind.EACH, lambda w, x: w in x.each),
    (ItemKind.MOVING, lambda w, x: w in x.cues.moving),
    (ItemKind.LEAD, lambda w, x: x.leads.accepts(w)),
    (ItemKind.NOT_MEASURED, lambda w, x: w in x.not_measured),
    (ItemKind.TIME, lambda w, x: w in x.times),
    (ItemKind.OTHER_UNIT, lambda w, x: len(w) == 1 and w[0] in x.other_units),
    (ItemKind.FILLER, lambda w, x: _in(x.fillers, w)),
    (ItemKind.FILLER, lambda w, x: len(w) == 1 and w[0] in x.cues.leading),
)


def _single(
    word: str, token: Token, after_number: bool, before: list[Item], asking: Asking, lexicon: Lexicon
) -> Item | None:
    """Return the item of a word whose meaning hangs on what stands before it."""
    match word:
        case "a":
            amps = after_number and (token.glued or token.typed == "A" or asking is Asking.CURRENT)
            if amps and before[-1].atom is not None and before[-1].atom.letter not in "&X":
                return Item(ItemKind.UNIT, word, unit=lexicon.units["a"])
            return Item(ItemKind.ATOM, word, Atom("a"))
        case "an":
            return Item(ItemKind.ATOM, word, Atom("a"))
        case "and":
            return Item(ItemKind.ATOM, word, Atom("&"))
        case "of" if after_number:
            return Item(ItemKind.ATOM, word, Atom("o"))
        case "degrees" | "degree" | "deg":
            return Item(ItemKind.UNIT, word)
        case "below" if after_number or (before and before[-1].text in ("degrees", "degree")):
            return Item(ItemKind.BELOW, word)
        case "m" if after_number and token.typed == "M":
            return Item(ItemKind.ATOM, word, Atom("S", Decimal(1000000), "M"))
        case "r" if after_number and token.glued:
            return Item(ItemKind.UNIT, word, unit=lexicon.units["ohm"])
        case "c" | "f" | "w" if not after_number:
            return None
        case "is" | "are" if not before:
            return Item(ItemKind.UNKNOWN, word)
    if word in lexicon.cues.decades:
        return Item(ItemKind.DECADE, word)
    unit = lexicon.units.get(word)
    if unit is not None and unit.unit is Unit.SECOND and asking is not Asking.DURATION:
        return None
    if unit is not None and not (unit.sounds_like and not after_number):
        if unit.scale == 1 and len(word) == 1 and not after_number and word not in "ωv":
            return None
        return Item(ItemKind.UNIT, word, unit=_cased(word, token, unit), clear=_clear(word, token, unit))
    if word in _CASED:
        base = {"h": Unit.OHM, "o": Unit.OHM, "ω": Unit.OHM, "v": Unit.VOLT, "a": Unit.AMPERE}[word[1]]
        scale = Decimal(1000000) if token.typed[0] == "M" else Decimal("0.001")
        return Item(ItemKind.UNIT, word, unit=UnitWord(base, scale, spoken=False), clear=token.typed[0] == "M")
    return None


def _cased(word: str, token: Token, unit: UnitWord) -> UnitWord:
    if word in _CASED and token.typed[0] == "M" and not token.typed.isupper():
        return UnitWord(unit.unit, Decimal(1000000), spoken=False)
    return unit


def _clear(word: str, token: Token, unit: UnitWord) -> bool:
    return not (word in _CASED and unit.unit is Unit.OHM and token.typed[0] == "m")


def label_at(tokens: Sequence[Token], at: int, lexicon: Lexicon) -> tuple[str | None, int]:
    """Return the terminals named at a place ("L one to L two": L1-L2) and where their names end."""
    start = at
    pair, end = _named_pair(tokens, at)
    if pair is not None:
        return pair, end
    if tokens[at].text in ("between", "from", "across", "at", "on", "to") and at + 1 < len(tokens):
        at += 1
    legs = _both_legs(tokens, at)
    if at > start and legs:
        return "hot-hot", legs
    if tokens[at].text in ("terminals", "pins", "points") and at + 1 < len(tokens):
        return _numbered(tokens, at + 1, start)
    first, end = _point(tokens, at, lexicon)
    if first is None or (tokens[at].text == "right" and end < len(tokens) and tokens[end].text in _EXACTLY):
        return None, start
    joined = _join_end(tokens, end, lexicon)
    if joined is not None:
        second, after = _point(tokens, joined, lexicon, plain=first not in lexicon.legs.values())
        if second is not None:
            neutral = second in _NEUTRAL and first in lexicon.legs.values()
            return f"{first}-{'N' if neutral else second}", after
    if tokens[start].text in ("between", "from") or (
        tokens[start].text == "to" and start + 1 < end and first[-1].isdigit()
    ):
        return None, start
    return first, end


def _both_legs(tokens: Sequence[Token], at: int) -> int:
    """Return where "the two hots" or "both legs" ends, or 0: the pair from one leg to the other."""
    words = [token.text for token in tokens[at : at + 3]]
    for ends in (("the", "two"), ("the",), ("two",), ("both",), ("both", "the")):
        length = len(ends)
        if tuple(words[:length]) == ends and words[length : length + 1] in (["hots"], ["legs"]):
            return at + length + 1
    return 0


_EXACTLY = frozenset({"across", "through", "there", "here", "in", "behind", "where", "by", "next"})
"""What follows a "right" that is no right-hand terminal ("right across the element")."""
_NAMING = frozenset({":", "=", "is", "reads", "shows", "measures", "read", "showed", "measured", "gives"})
_WITH_LETTER = 2


def _named_pair(tokens: Sequence[Token], at: int) -> tuple[str | None, int]:
    """Return two terminals of a digit or a letter each that something is said of ("1-2: 19.6", "a to b is 30").

    With digit and letter ("2a to 2b") they are no numbers, whatever follows.
    """
    first, end = _terminal(tokens, at)
    if first is None or end >= len(tokens) or tokens[end].text not in ("-", "to", "/"):
        return None, at
    second, after = _terminal(tokens, end + 1)
    if second is None:
        return None, at
    named = after < len(tokens) and tokens[after].text in _NAMING
    plain = len(first) < _WITH_LETTER or len(second) < _WITH_LETTER
    return (None, at) if plain and not named else (f"{first}-{second}".upper(), after)


def _terminal(tokens: Sequence[Token], at: int) -> tuple[str | None, int]:
    """Return a terminal of one digit, one letter, or a digit with a letter behind it, and where it ends."""
    if at >= len(tokens) or len(tokens[at].text) != 1 or not tokens[at].text.isalnum():
        return None, at
    after = at + 1
    lettered = tokens[at].text.isdigit() and after < len(tokens) and tokens[after].glued
    if lettered and len(tokens[after].text) == 1 and tokens[after].text.isalpha():
        return tokens[at].text + tokens[after].text, after + 1
    return tokens[at].text, after


_NEUTRAL = frozenset({"neutral", "n"})
_PAIR = 2
_TERMINALS = frozenset("bcdefghjlnpqstuwxyz")
"""Letters that name terminals, without those of units, scales and notations (5k6, 4R7), and i."""
_SMALL = {"one": "1", "two": "2", "three": "3", "four": "4", "five": "5", "six": "6", "seven": "7", "eight": "8",
          "nine": "9"}  # fmt: skip


def _small(text: str) -> str | None:
    """Return the number or letter of a terminal."""
    return _SMALL.get(text, text if len(text) == 1 and text.isalnum() else None)


def _numbered(tokens: Sequence[Token], at: int, start: int) -> tuple[str | None, int]:
    first = _small(tokens[at].text)
    if first is None:
        return None, start
    if at + 2 < len(tokens) and tokens[at + 1].text in ("and", "to", "-"):
        second = _small(tokens[at + 2].text)
        if second is not None:
            return f"{first}-{second}", at + 3
    return first, at + 1


def _point(tokens: Sequence[Token], at: int, lexicon: Lexicon, *, plain: bool = False) -> tuple[str | None, int]:
    """Return the terminal named at a place; `plain` ones are tried first after a plain one ("line to line one …")."""
    if at + 1 < len(tokens) and tokens[at].text in ("terminal", "pin"):
        number = _small(tokens[at + 1].text)
        return (number, at + 2) if number is not None else (None, at)
    if plain and " ".join(t.text for t in tokens[at : at + 1]) in lexicon.points and len(tokens[at].text) > 1:
        return tokens[at].text, _behind_noun(tokens, at + 1, lexicon, pronoun=False)
    if at < len(tokens) and tokens[at].text == "the":
        at += 1
    for length in (2, 1):
        words = tuple(t.text for t in tokens[at : at + length])
        if len(words) == length and words in lexicon.legs:
            return lexicon.legs[words], at + length
    if at + 1 < len(tokens) and tokens[at].text == "l" and tokens[at + 1].text in "123":
        return f"L{tokens[at + 1].text}", at + 2
    numbered = _lettered(tokens, at)
    if numbered is not None:
        return numbered
    for length in (2, 1):
        text = " ".join(t.text for t in tokens[at : at + length])
        if text in lexicon.points and (len(text) > 1 or _stands_alone(tokens, at)):
            return text, _behind_noun(tokens, at + length, lexicon, pronoun=text in lexicon.ordinals)
    return None, at


_NOUNS = frozenset({
    "leg", "wire", "side", "hot", "conductor", "pin", "post", "terminal", "screw", "lug", "stud", "bar",
})  # fmt: skip


def _behind_noun(tokens: Sequence[Token], at: int, lexicon: Lexicon, *, pronoun: bool) -> int:
    """Return the place behind "leg" in "the red leg", or "one" in "the other one", which add nothing to the name."""
    if at >= len(tokens):
        return at
    number_next = at + 1 < len(tokens) and (
        tokens[at + 1].kind is Kind.NUMBER or (tokens[at + 1].text,) in lexicon.numbers
    )
    named = tokens[at].text in _NOUNS or (pronoun and tokens[at].text == "one" and not number_next)
    return at + 1 if named else at


def _lettered(tokens: Sequence[Token], at: int) -> tuple[str, int] | None:
    """Return a terminal of one letter and one number ("H 1") that is joined to another ("L1 to H1")."""
    pair = [token.text for token in tokens[at : at + 2]]
    if len(pair) < _PAIR:
        return None
    first, second = pair[0], _small(pair[1])
    if len(first) != 1 or first not in _TERMINALS or second is None or not second.isdigit():
        return None
    if not _joined(tokens, at, at + 2):
        return None
    return f"{first}{second}".upper(), at + 2


def _joined(tokens: Sequence[Token], start: int, end: int) -> bool:
    joins = ("to", "-", "/")
    return (end < len(tokens) and tokens[end].text in joins) or (start > 0 and tokens[start - 1].text in joins)


def _stands_alone(tokens: Sequence[Token], at: int) -> bool:
    """Return whether a one-letter terminal is named beside another ("n to ground"), not just said."""
    joins = ("to", "and", "-", "/")
    after = at + 1 < len(tokens) and tokens[at + 1].text in joins
    return after or (at > 0 and tokens[at - 1].text in joins)


def _join_end(tokens: Sequence[Token], at: int, lexicon: Lexicon) -> int | None:
    for length in (2, 1):
        words = tuple(t.text for t in tokens[at : at + length])
        if len(words) == length and words in lexicon.joins:
            return at + length
    return None
