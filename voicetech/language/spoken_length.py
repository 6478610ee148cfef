"""How long a prompt will take to say, judged from its text alone."""

import re

SHORT_PROMPT_S = 4.0
FULL_PROMPT_S = 8.0
"""Source: common practice, no source: what is still held in the head with both hands busy."""
SCRIPT_S = 20.0
"""Danger scripts and hand-overs. Source: judgement, no source."""

_REFERENCE_WORDS_PER_MINUTE = 175
_LETTER_S, _DIGIT_S, _PAUSE_S, _STOP_S = 0.057, 0.35, 0.35, 0.49
"""Source: least squares over 20 prompts at five rates, spoken by eSpeak NG 1.52 (US English): mean error
5 %, largest 18 %; over the 345 prompts of the first procedures 5 % and 20 %. A digit weighs that much because
"240" is said "two hundred forty"."""

_LETTER = re.compile(r"[^\W\d_]")
_DIGIT = re.compile(r"\d")
_PAUSE = re.compile(r"[,:;](?=\s)")
_STOP = re.compile(r"[.?!](?=\s|$)")


def spoken_length_s(text: str, words_per_minute: int = _REFERENCE_WORDS_PER_MINUTE) -> float:
    """Return about how many seconds the text takes to say at that rate, its pauses included."""
    at_reference_s = (
        len(_LETTER.findall(text)) * _LETTER_S
        + len(_DIGIT.findall(text)) * _DIGIT_S
        + len(_PAUSE.findall(text)) * _PAUSE_S
        + len(_STOP.findall(text)) * _STOP_S
    )
    return at_reference_s * _REFERENCE_WORDS_PER_MINUTE / words_per_minute
