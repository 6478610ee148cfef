"""References: skipped where they are not installed, judged like typed text, and grammars cut to the words they know."""

from importlib import import_module
from pathlib import Path

import numpy as np
import pytest

from tests.benchmarks.references import (
    FreeText,
    PocketsphinxGrammar,
    SkippedError,
    known_part,
    references,
    result_with,
)
from tests.benchmarks.trials import Trial
from tests.hearing.recordings import EAR, LEXICON
from voicetech.hearing.frames import Utterance
from voicetech.language.grammar import compile_words, spoken_grammar
from voicetech.language.meaning import Asking, Question
from voicetech.language.phrases import Choice, Maybe, Sequence, Word
from voicetech.scoring import Expected, MeaningExpected, NothingExpected, Result, WordsExpected

SOUND = [Utterance(np.zeros(16_000, np.float32))]


class Written:
    """A reference that always writes the same."""

    name = "written"

    def __init__(self, text: str) -> None:
        self.text = text

    def write(self, utterance: Utterance, question: Question) -> str:
        return self.text

    def same(self, heard: str, said: str) -> bool:
        return heard == said


def trial(expected: Expected, asking: Asking = Asking.VOLTAGE, exact: tuple[str, ...] = ()) -> Trial:
    return Trial("numbers", (Path("a.wav"),), Question(asking), expected, "", "set", exact=exact)


@pytest.mark.parametrize(
    ("text", "expected", "result"),
    [
        ("238 volts", WordsExpected("two thirty eight"), Result.RIGHT),
        ("230 volts", WordsExpected("two thirty eight"), Result.WRONG),
        ("volts and jolts", WordsExpected("two thirty eight"), Result.AGAIN),
        ("", WordsExpected("two thirty eight"), Result.IGNORED),
        ("", NothingExpected(), Result.RIGHT),
        ("238 volts", NothingExpected(), Result.WRONG),
        ("repeat", MeaningExpected("command", command="repeat"), Result.RIGHT),
    ],
)
def test_what_it_writes_is_judged_like_typed_text(text: str, expected: Expected, result: Result) -> None:
    assert result_with(Written(text), SOUND, trial(expected), LEXICON) is result


def test_spelled_words_are_compared_word_by_word() -> None:
    spelled = trial(WordsExpected("five six"), Asking.SERIAL, ("five", "six"))
    assert result_with(Written("five six"), SOUND, spelled, LEXICON) is Result.RIGHT
    assert result_with(Written("fifty six"), SOUND, spelled, LEXICON) is Result.WRONG


def test_a_grammar_is_cut_to_the_words_that_are_known() -> None:
    phrase = Choice(
        (Sequence((Word("two"), Maybe(Word("kilohms")))), Word("stop"), Sequence((Word("a"), Word("xray"))))
    )
    known = known_part(phrase, {"two", "stop", "a"}.__contains__)
    assert known is not None
    automaton = compile_words(known)
    assert automaton.words() == {"two", "stop"}
    assert automaton.accepts(["two"])
    assert not automaton.accepts(["a"])
    assert known_part(phrase, lambda _word: False) is None


@pytest.mark.parametrize("asking", [Asking.VOLTAGE, Asking.YES_NO, Asking.SERIAL])
def test_with_every_word_known_nothing_is_lost(asking: Asking) -> None:
    whole = spoken_grammar(Question(asking), LEXICON)
    known = known_part(whole, lambda _word: True)
    assert known is not None
    assert compile_words(known) == compile_words(whole)


def test_free_text_is_made_plain_before_it_is_put_into_digits() -> None:
    seen: list[str] = []

    def digits(text: str) -> str:
        seen.append(text)
        return text

    free = FreeText("free", EAR, digits)
    assert free.same("1 0 5", "1 oh 5") is False
    assert seen == ["1 zero 5"]


def test_what_is_not_installed_is_skipped_with_the_reason(monkeypatch: pytest.MonkeyPatch) -> None:
    def nothing(name: str) -> object:
        raise ModuleNotFoundError(f"No module named {name!r}")

    monkeypatch.setattr(import_module("tests.benchmarks.references").importlib, "import_module", nothing)
    with pytest.raises(SkippedError, match=r"pocketsphinx is not installed here.*pip install pocketsphinx"):
        PocketsphinxGrammar(LEXICON)
    skipped = list(references(EAR, LEXICON))
    assert all(isinstance(each, SkippedError) for each in skipped)
    assert len(skipped) == 4


@pytest.mark.parametrize("asking", [Asking.VOLTAGE, Asking.YES_NO, Asking.SERIAL])
def test_pocketsphinx_takes_the_grammar_of_every_kind_of_question(asking: Asking) -> None:
    pytest.importorskip("pocketsphinx", reason="no wheel of pocketsphinx for this Python")
    assert isinstance(PocketsphinxGrammar(LEXICON).write(SOUND[0], Question(asking)), str)
