"""The English words of whole numbers below a hundred, for writing and spelling; what may be said is in `grammars/`."""

from typing import Final

UNDER_TWENTY: Final = (
    "zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine",
    "ten", "eleven", "twelve", "thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen",
)  # fmt: skip
"""The word of each number from 0 to 19, at its place."""
DIGITS: Final = UNDER_TWENTY[:10]
TEENS: Final = UNDER_TWENTY[10:]
TENS: Final = ("twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety")
"""The words of 20, 30 and so on to 90."""
