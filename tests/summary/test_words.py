"""Words as they are looked for: whatever is typed, there are only words in it."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from voicetech.summary.records import Line, Who
from voicetech.summary.words import AROUND, LONGEST, found_in, wanted, words_in


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("Bake element, OPEN!", ["bake", "element", "open"]),
        ("Prüfung Straße café", ["prufung", "strasse", "cafe"]),
        ("Pru\u0308fung", ["prufung"]),
        ("it won't bake", ["it", "wont", "bake"]),
        ("it won\u2019t bake", ["it", "wont", "bake"]),
        ('AND "OR* NOT) (NEAR', ["and", "or", "not", "near"]),
        ("12.5 ohms", ["12", "5", "ohms"]),
        ("under_score L1-N", ["under", "score", "l1", "n"]),
        ("ﬁne ½", ["fine", "12"]),
        ("* \" ' -- ;", []),
        ("", []),
    ],
)
def test_words_are_folded_and_signs_are_none_of_them(text: str, words: list[str]) -> None:
    assert [*words_in(text)] == words


@given(st.text())
def test_any_text_gives_words_of_letters_and_digits_that_stay_the_same_when_folded_again(text: str) -> None:
    for word in words_in(text):
        assert word.isalnum()
        assert len(word) <= LONGEST
        assert [*words_in(word)] == [word]


@given(st.text(min_size=1))
def test_every_word_of_a_line_is_found_in_it(text: str) -> None:
    for word in words_in(text):
        found = found_in([Line(Who.PROGRAM, 1, None, text)], wanted(word))
        assert found is not None
        assert found.spans


def test_a_word_is_wanted_once_and_the_last_one_stays_last() -> None:
    assert wanted("bake the bake element the") == ("bake", "element", "the")
    assert wanted('"*') == ()


def line(event: int, text: str, who: Who = Who.TECHNICIAN) -> Line:
    return Line(who, event, 10.0 * event, text)


def test_the_line_with_most_of_the_words_is_shown_and_the_words_are_marked() -> None:
    lines = [line(1, "the element"), line(2, "Bake element burnt"), line(3, "burnt bake elements")]
    found = found_in(lines, wanted("burnt element"))
    assert found is not None
    assert (found.event, found.at_s, found.text) == (2, 20.0, "Bake element burnt")
    assert [found.text[first:end] for first, end in found.spans] == ["element", "burnt"]


def test_only_the_last_word_may_go_on() -> None:
    lines = [line(1, "elements burning")]
    assert found_in(lines, wanted("element")) is not None
    found = found_in(lines, wanted("element burn"))
    assert found is not None
    assert [found.text[first:end] for first, end in found.spans] == ["burning"]
    assert found_in(lines, wanted("burn element x")) is None


def test_a_long_line_is_shortened_between_words_around_the_first_one_found() -> None:
    text = "before " * 40 + "Thermostat " + "behind " * 40
    found = found_in([line(1, text)], wanted("thermostat"))
    assert found is not None
    assert len(found.text) <= 2 * AROUND + len("Thermostat") + 6
    assert found.text.startswith("… before")
    assert found.text.endswith("behind …")
    ((first, end),) = found.spans
    assert found.text[first:end] == "Thermostat"
