"""Captions beside the joined sound of a job, as WebVTT: what the program said last, then what was answered.

The program's words are not in the sound. They stand from the end of one utterance to the end of the next, with the
answer below them while it is heard, so that each cue reads as a question and its answer.

Source: WebVTT, the Web Video Text Tracks Format, W3C (from memory): cues in the order of their start, no two at once,
"&", "<" and ">" escaped, which leaves no "-->" in a text, and no line of it empty.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from html import escape
from typing import Final

from voicetech.events import Event, InputReceived, Replied
from voicetech.marks import Mark, Misheard, heard_by_reviewers

NO_WORDS: Final = "(not understood)"
NO_ANSWER: Final = "(no answer to the program)"


@dataclass(frozen=True, slots=True)
class Span:
    """From where to where an utterance is heard, in seconds."""

    start_s: float
    end_s: float


def captions(
    numbered: Sequence[tuple[int, Event]],
    heard: Mapping[int, Span],
    marks: tuple[Mark, ...],
    length_s: float,
    taken: Mapping[int, str] | None = None,
) -> str:
    """Return the captions of a sound of this length in which the events of these numbers are `heard`, in order.

    `taken` are the words that were acted on, where that is known; what a reviewer says was said stands before them, and
    what was likeliest by its sound behind them.
    """
    reviewed = {seq: _reviewed(answers) for seq, answers in heard_by_reviewers(marks).items()}
    said = {number: plain for number, words in (taken or {}).items() if (plain := _plain(words))} | reviewed
    return "".join(["WEBVTT\n", *(f"\n{cue}" for cue in _cues(numbered, heard, said, length_s))])


def _cues(
    numbered: Sequence[tuple[int, Event]], heard: Mapping[int, Span], said: Mapping[int, str], length_s: float
) -> Iterator[str]:
    program = ""
    before_s = 0.0
    for number, event in numbered:
        if isinstance(event, Replied):
            program = event.speak or " ".join(event.show)
        elif isinstance(event, InputReceived) and number in heard:
            span = heard[number]
            asked = _voice("Program", program)
            if asked and span.start_s > before_s:
                yield _cue(f"before-e{number}", before_s, span.start_s, asked)
            answered = _voice("Technician", said.get(number) or _words(event))
            yield _cue(f"e{number}", span.start_s, span.end_s, asked + answered)
            program, before_s = "", span.end_s
    ended = _voice("Program", program)
    if ended and length_s > before_s:
        yield _cue("end", before_s, length_s, ended)


def _reviewed(answers: Sequence[Misheard]) -> str:
    told = (_plain(mark.said) or NO_ANSWER for mark in answers)
    if len(answers) == 1:
        return next(told)
    return " / ".join(f"{words} ({_plain(mark.reviewer)})" for words, mark in zip(told, answers, strict=True))


def _words(event: InputReceived) -> str:
    likeliest = event.alternatives[0].text if event.alternatives else ""
    return next(filter(None, map(_plain, (event.text, likeliest, event.free_text or ""))), NO_WORDS)


def _cue(name: str, start_s: float, end_s: float, text: str) -> str:
    return f"{name}\n{_time(start_s)} --> {_time(end_s)}\n{text}"


def _voice(who: str, words: str) -> str:
    plain = _plain(words)
    return f"<v {who}>{escape(plain, quote=False)}\n" if plain else ""


def _plain(words: str) -> str:
    return " ".join("".join(sign if sign.isprintable() else " " for sign in words).split())


def _time(at_s: float) -> str:
    whole, thousandths = divmod(round(at_s * 1000), 1000)
    minutes, seconds = divmod(whole, 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours:02}:{minutes:02}:{seconds:02}.{thousandths:03}"
