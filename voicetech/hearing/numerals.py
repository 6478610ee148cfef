"""Numerals a recogniser may write, each with the ways people say it; whole numbers below 10,000 by their parts."""

from itertools import product

_ONE_WORDS = "zero one two three four five six seven eight nine"
_TEEN_WORDS = "ten eleven twelve thirteen fourteen fifteen sixteen seventeen eighteen nineteen"
_TENS_WORDS = "twenty thirty forty fifty sixty seventy eighty ninety"
_ONES, _TEENS, _TENS = _ONE_WORDS.split(), _TEEN_WORDS.split(), _TENS_WORDS.split()


def _below_hundred(value: int) -> tuple[str, ...]:
    if value < 10:
        return (_ONES[value],)
    if value < 20:
        return (_TEENS[value - 10],)
    tens, ones = divmod(value, 10)
    return (_TENS[tens - 2], _ONES[ones]) if ones else (_TENS[tens - 2],)


def _table() -> tuple[tuple[str, tuple[str, ...]], ...]:
    rows: list[tuple[str, tuple[str, ...]]] = [("0", ("oh",))]
    rows += [(str(value), _below_hundred(value)) for value in range(100)]
    for hundreds, rest in product(range(1, 10), range(100)):
        head, numeral = (_ONES[hundreds], "hundred"), str(hundreds * 100 + rest)
        if not rest:
            rows.append((numeral, head))
            continue
        rows.append((numeral, head + _below_hundred(rest)))
        rows.append((numeral, (*head, "and", *_below_hundred(rest))))
    rows += [(f"{value}000", (_ONES[value], "thousand")) for value in range(1, 10)]
    return tuple(rows)


NUMERALS = _table()
"""Pairs of a numeral and the spoken words it stands for. Longer numerals are read as two or more of these."""
