"""How far words are apart by their sound, on pairs that people and recognisers do and do not mix up."""

from itertools import permutations

import pytest

from voicetech.hearing.checks_hearing import ALIKE
from voicetech.hearing.phones import ADDED, LOST, Pronunciations, apart, load_dictionary

FAR = 9.0


@pytest.fixture(scope="module")
def known() -> Pronunciations:
    found = load_dictionary()
    if found is None:
        pytest.skip("no pronouncing dictionary for this Python")
    return found


def distance(known: Pronunciations, one: str, other: str) -> float:
    mine, its = known.of_text(one.split()), known.of_text(other.split())
    assert mine is not None
    assert its is not None
    return apart(mine, its, FAR)


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("four", "for"),
        ("two", "too"),
        ("bake", "make"),
        ("coil", "foil"),
        ("coil", "oil"),
        ("broil", "boil"),
        ("fifteen", "fifty"),
        ("left", "lift"),
        ("open", "opened"),
        ("single", "singles"),
        ("hot", "pot"),
        ("the low side", "the no side"),
    ],
)
def test_what_one_phone_that_noise_takes_tells_apart_is_alike(known: Pronunciations, one: str, other: str) -> None:
    assert distance(known, one, other) <= ALIKE


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("on", "off"),
        ("yes", "no"),
        ("bake", "broil"),
        ("it's on", "it's off"),
        ("three wire cord", "four wire cord"),
        ("at once", "faded"),
        ("house", "apartment"),
        ("one of the burners", "none of the burners"),
    ],
)
def test_what_people_tell_apart_is_not(known: Pronunciations, one: str, other: str) -> None:
    assert distance(known, one, other) > ALIKE


def test_it_is_as_far_there_as_back_and_nowhere_from_itself(known: Pronunciations) -> None:
    words = ["bake", "make", "broil", "boil", "fifteen", "fifty"]
    for one, other in permutations(words, 2):
        assert distance(known, one, other) == pytest.approx(distance(known, other, one))
    assert all(distance(known, word, word) == 0.0 for word in words)


def test_a_phone_more_counts_by_how_easily_it_is_lost() -> None:
    assert apart(("IY",), ("IY", "N"), FAR) == LOST
    assert apart(("IY",), ("IY", "B"), FAR) == ADDED
    assert apart(("IY", "B", "M", "V"), ("AA",), 1.0) == 1.0, "no further than asked"


def test_words_are_looked_up_whole_owned_and_in_two(known: Pronunciations) -> None:
    assert known.of_word("breaker's") == (*(known.of_word("breaker") or ()), "Z")
    assert known.of_word("cooktop") == (*(known.of_word("cook") or ()), *(known.of_word("top") or ()))
    assert known.of_word("unplugs") is not None
    assert known.of_word("amps") == ("AE", "M", "P", "S"), "from our own table"
    assert known.of_word("quadrifilar") is None
    assert known.of_text(["a", "quadrifilar"]) is None
