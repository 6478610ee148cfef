"""No text raises, and cleaning is stable."""

import dataclasses

from hypothesis import given, settings
from hypothesis import strategies as st

from voicetech.authoring.lexicon_files import load_lexicon
from voicetech.cli.understand import as_record, as_sentence
from voicetech.language.clean import Kind, clean, words_of
from voicetech.language.meaning import Asking, Flag, Question
from voicetech.language.understand import understand

LEXICON = load_lexicon()
TRADE = st.sampled_from(
    [
        "two",
        "to",
        "for",
        "forty",
        "eight",
        "one",
        "oh",
        "zero",
        "point",
        "and",
        "a",
        "half",
        "k",
        "meg",
        "m",
        "ohms",
        "volts",
        "-",
        "/",
        ".",
        ",",
        ":",
        "no",
        "not",
        "wait",
        "scratch",
        "that",
        "open",
        "beep",
        "L1",
        "between",
        "from",
        "about",
        "over",
        "under",
        "minus",
        "238",
        "1k2",
        "4R7",
        "½",
        "0x10",
        "1e3",
        "[unk]",
        "%",
        "$",
        "±",
        "below",
        "each",
        "all",
        "six",
        "hundred",
        "thousand",
        "million",
        "triple",
        "it's",
        "smoke",
        "stop",
        "next",
        "sorry",
        "2:38",
        "②",
        "١٢٠",
        "Ω",
        "mΩ",
        "MΩ",
    ]
)


@given(
    st.one_of(st.text(max_size=200), st.lists(TRADE, max_size=14).map(" ".join)),
    st.sampled_from(list(Asking)),
    st.booleans(),
)
@settings(max_examples=1500, deadline=None)
def test_no_text_raises(text: str, asking: Asking, after_read_back: bool) -> None:
    question = Question(asking, wording="is the power off?", after_read_back=after_read_back, chat=True)
    meaning = understand(text, question, LEXICON)
    assert dataclasses.is_dataclass(meaning)
    assert as_record(meaning)["kind"]
    assert as_sentence(meaning)


@given(st.text(max_size=200))
@settings(max_examples=300, deadline=None)
def test_words_are_clean_the_second_time_too(text: str) -> None:
    words = words_of(clean(text, LEXICON.contractions, LEXICON.known).tokens)
    plain = [word for word in words if word.isascii() and word.isalpha()]
    again = words_of(clean(" ".join(plain), LEXICON.contractions, LEXICON.known).tokens)
    assert list(again) == plain


def test_invisible_characters_are_dropped_and_noticed() -> None:
    cleaned = clean("240\u202e\u200b")
    assert [t.text for t in cleaned.tokens] == ["240"]
    assert Flag.STRIPPED_CONTROL in cleaned.flags


def test_a_long_text_is_bounded() -> None:
    assert len(clean("two " * 500_000).tokens) <= 2002


def test_pictures_are_no_words() -> None:
    assert [t.kind for t in clean("120 ⚡").tokens] == [Kind.NUMBER, Kind.PICTURE]
