"""How long a prompt takes to say."""

import re

WORDS_PER_MINUTE = 160
"""An unhurried speaking rate. Source: common practice, no source."""
SHORT_AT_MOST_S = 4.0
FULL_AT_MOST_S = 8.0
SCRIPT_AT_MOST_S = 20.0
"""Danger scripts and hand-overs. Source: judgement, no source."""

_WORD = re.compile(r"[^\s—–-]*\w[^\s—–-]*")
_DIGIT = re.compile(r"\d")


def spoken_length_s(text: str) -> float:
    """Return how long the text takes at 160 words a minute, in seconds; each digit counts as a word."""
    words = sum(max(1, len(_DIGIT.findall(word))) for word in _WORD.findall(text))
    return words * 60.0 / WORDS_PER_MINUTE
