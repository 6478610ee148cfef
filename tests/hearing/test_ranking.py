"""Scores to probabilities, with a made-up search."""

import math

import pytest

from tests.hearing.recordings import loop, sentences
from voicetech.hearing.beam import Search, Written
from voicetech.hearing.ranking import rank
from voicetech.hearing.spellings import Spellings
from voicetech.hearing.token_acceptor import TokenAcceptor

GRAMMAR = sentences("fire", "five", "thirty one", "three one", "two ohms", "two")
ACCEPTOR = TokenAcceptor(GRAMMAR, Spellings({"ohms": ("homes",)}, {"five": ("fire", "bye"), "thirty": ("dirty",)}), [])


def found(*written: tuple[str, float, float], free: float = -0.5, tokens: int = 2) -> Search:
    return Search(tuple(Written(*row) for row in written), "free", free, tokens, free_ended=True)


def chances(search: Search) -> dict[str, float]:
    return {a.text: a.probability for a in rank(search, ACCEPTOR).alternatives}


def test_spellings_of_the_same_words_are_added_up() -> None:
    together = chances(found((" Two homes", -1.0, 0.0), (" two ohms.", -1.0, 0.0), (" Two.", -1.0, 0.0)))
    assert together["two ohms"] > together["two"]
    assert sum(together.values()) == pytest.approx(1.0)


def test_a_danger_word_is_never_given_away_to_a_mishearing() -> None:
    assert set(chances(found((" Fire.", -0.5, 0.0)))) == {"fire"}


def test_a_mishearing_costs_probability() -> None:
    both = chances(found((" bye", -1.0, 0.0), (" five", -1.0, 0.0), (" two", -1.0, 0.0)))
    alone = chances(found((" bye", -1.0, 0.0), (" two", -1.0, 0.0)))
    assert alone["two"] > alone["five"] > 0.0
    assert both["five"] > both["two"]


def test_a_text_of_two_meanings_goes_to_the_words_it_was_also_written_as() -> None:
    either = (" dree one", -0.1, 0.0)
    shared = chances(found(either, (" three one", -3.0, 0.0)))
    assert set(shared) == {"three one"}


def test_a_bad_ending_counts_more_than_a_bad_middle() -> None:
    ends = chances(found((" two", -3.0, -3.0), (" two ohms", -3.0, 0.0)))
    assert ends["two ohms"] > ends["two"]


def test_sound_that_fits_badly_makes_all_words_less_sure() -> None:
    well = chances(found((" two", -0.2, 0.0), (" five", -3.2, 0.0)))
    badly = chances(found((" two", -4.2, 0.0), (" five", -7.2, 0.0)))
    assert well["two"] > badly["two"] > 0.5


def test_a_long_number_in_figures_is_read_digit_by_digit() -> None:
    numbers = loop(["two", "six", "eight", "three", "oh", "seven", "twenty", "sixty", "thirty"])
    acceptor = TokenAcceptor(numbers, Spellings({}, {}), [])

    def first(text: str) -> set[str]:
        return {a.text for a in rank(found((text, -1.0, 0.0)), acceptor).alternatives}

    assert first(" 2683027") == {"two six eight three oh two seven"}
    assert first(" 26 83 027") > {"two six eight three oh two seven"}


@pytest.mark.parametrize(("score", "tokens", "fits"), [(-0.6, 2, True), (-7.0, 2, False), (-4.5, 8, True)])
def test_what_the_grammar_may_cost(score: float, tokens: int, fits: bool) -> None:
    assert (rank(found((" two", score, 0.0), tokens=tokens), ACCEPTOR).fits > 0.5) == fits


def test_chatter_that_free_writing_fits_no_better_is_not_an_answer() -> None:
    assert rank(found((" two", -11.0, 0.0), free=-25.0, tokens=40), ACCEPTOR).fits < 0.1


def test_nothing_found() -> None:
    ranked = rank(found(), ACCEPTOR)
    assert ranked.alternatives == ()
    assert ranked.fits == 0.0


def test_scores_far_apart_stay_numbers() -> None:
    wide = chances(found((" two", -700.0, 0.0), (" five", -0.1, 0.0)))
    assert all(math.isfinite(chance) for chance in wide.values())
