"""Numbers as technicians say them, as a phrase tree over the lexicon's spoken number words.

"two thirty eight", "two three eight", "two hundred and thirty eight", "eleven hundred", "point five", "two and a
half", "one point two". The parser in `numbers` reads everything this tree can say.
"""

from decimal import Decimal

from voicetech.language.lexicon import Lexicon
from voicetech.language.phrases import Choice, Maybe, Phrase, Repeat, Rule, Sequence, Word
from voicetech.language.templates import one_of, words_phrase

_MOST_DIGITS = 5
_MOST_DECIMALS = 4


def _said(lexicon: Lexicon, role: str, values: frozenset[int] | None = None) -> Phrase:
    """Return the spoken words of a role, of some values or of all."""
    words = [
        " ".join(words)
        for words, number in lexicon.numbers.items()
        if number.role == role and number.spoken and (values is None or number.value in map(Decimal, values))
    ]
    return one_of([words_phrase(text) for text in words])


def spoken_digits(lexicon: Lexicon) -> Phrase:
    """Return every piece of a number that may stand in a spelled model or serial number."""
    below_hundred = Choice(tuple(_said(lexicon, role) for role in ("digit", "teen", "tens")))
    joined = Sequence((Word("and"), below_hundred))
    hundreds = Sequence((Choice((_said(lexicon, "hundred"), _said(lexicon, "thousand"))), Maybe(joined)))
    others = Choice(tuple(_said(lexicon, role) for role in ("double", "triple", "point")))
    return Choice((below_hundred, Word("niner"), hundreds, others))


def spoken_number(lexicon: Lexicon) -> Phrase:
    """Return the numbers that may be said, from millis to millions, with decimals and simple fractions."""
    digit = Rule("digit", _said(lexicon, "digit", frozenset(range(1, 10))))
    any_digit = Choice((_said(lexicon, "digit", frozenset((0,))), digit))
    zero = Word("zero")
    teen = _said(lexicon, "teen")
    tens = Sequence((_said(lexicon, "tens"), Maybe(digit)))
    two_digits = Choice((teen, tens))
    tail = Choice((two_digits, digit))
    hundred, thousand = _said(lexicon, "hundred"), _said(lexicon, "thousand")
    under_hundred = Sequence((Maybe(Word("and")), tail))
    hundreds = Sequence((Choice((tail, Word("a"))), hundred, Maybe(under_hundred)))
    bare_hundreds = Sequence((hundred, Maybe(under_hundred)))
    under_thousand = Choice((under_hundred, Sequence((digit, hundred, Maybe(under_hundred)))))
    thousands = Sequence((Choice((tail, Word("a"))), thousand, Maybe(under_thousand)))
    pair = Sequence((Choice((digit, two_digits)), Choice((two_digits, Sequence((Word("oh"), digit))))))
    digits = Repeat(any_digit, 3, _MOST_DIGITS)
    whole = Choice((zero, tail, pair, digits, hundreds, bare_hundreds, thousands))
    decimals = Sequence((_said(lexicon, "point"), Choice((Repeat(any_digit, 1, _MOST_DECIMALS), two_digits))))
    half = Choice((words_phrase("and a half"), words_phrase("and a quarter")))
    oh_point = Sequence((Word("oh"), decimals))
    unsigned = Choice((Sequence((whole, Maybe(Choice((decimals, half))))), decimals, oh_point))
    return Rule("number", Sequence((Maybe(_said(lexicon, "minus")), unsigned)))
