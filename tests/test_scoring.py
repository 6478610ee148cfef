"""What became of an answer, the bounds of a count, and the words that fail."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.dialogue.talker import lexicon
from voicetech.heard import Alternative, Heard
from voicetech.language.meaning import (
    AnswerSaid,
    Asking,
    Command,
    CommandSaid,
    CorrectionSaid,
    DangerKind,
    DangerSaid,
    Meaning,
    Question,
    ReadingSaid,
    State,
    StateSaid,
    Unclear,
    WordsSaid,
)
from voicetech.language.understand import understand
from voicetech.scoring import (
    NOTHING,
    Expected,
    MeaningExpected,
    NothingExpected,
    Result,
    Tally,
    WordsExpected,
    WordTrial,
    aligned,
    at_least,
    at_most,
    changes_verdict,
    is_right,
    likeliest,
    plain_words,
    result_of,
    verdict,
    word_failures,
)
from voicetech.units import Unit
from voicetech.weigh import Accepted, AskWhich, Ignored, Outcome, SayAgain

VOLTAGE = Question(Asking.VOLTAGE)
LIMITS = (Decimal(216), Decimal(264))


def volts(value: str) -> ReadingSaid:
    return ReadingSaid(Decimal(value), Unit.VOLT)


def right(expected: Expected, meaning: Meaning, question: Question = VOLTAGE) -> bool:
    return is_right(expected, meaning, question, lexicon())


class TestTheResult:
    @pytest.mark.parametrize(
        ("outcome", "spoken", "overheard"),
        [
            (Accepted(volts("238"), "two thirty eight", 0.9), Result.RIGHT, Result.WRONG),
            (Accepted(volts("230"), "two thirty", 0.9), Result.WRONG, Result.WRONG),
            (AskWhich((volts("230"), volts("213")), ("two thirty", "two thirteen")), Result.ASKED, Result.ASKED),
            (SayAgain("too unsure"), Result.AGAIN, Result.RIGHT),
            (Ignored("not an answer"), Result.IGNORED, Result.RIGHT),
        ],
    )
    def test_of_an_answer_and_of_what_was_not_meant_for_the_program(
        self, outcome: Outcome, spoken: Result, overheard: Result
    ) -> None:
        assert result_of(WordsExpected("two thirty eight volts"), outcome, VOLTAGE, lexicon()) is spoken
        assert result_of(NothingExpected(), outcome, VOLTAGE, lexicon()) is overheard

    @pytest.mark.parametrize(
        ("expected", "meaning"),
        [
            (WordsExpected("two thirty eight"), volts("238")),
            (WordsExpected("two three eight volts"), volts("238.0")),
            (WordsExpected("stop"), DangerSaid(DangerKind.FIRE, words="fire")),
            (MeaningExpected("reading", Decimal(238), Unit.VOLT), volts("238.0")),
            (MeaningExpected("reading", Decimal(238)), volts("238")),
            (MeaningExpected("reading", Decimal("12"), Unit.KILOWATT), ReadingSaid(Decimal(12000), Unit.WATT)),
            (MeaningExpected("open"), StateSaid(State.OPEN)),
            (MeaningExpected("yes"), AnswerSaid(yes=True)),
            (MeaningExpected("command", command="emergency"), DangerSaid(DangerKind.STOP, words="stop")),
            (MeaningExpected("command", command="repeat"), CommandSaid(Command.REPEAT)),
            (MeaningExpected("correction", Decimal(240), Unit.VOLT), CorrectionSaid(volts("240"))),
            (MeaningExpected("correction"), CorrectionSaid(None)),
            (MeaningExpected("words", note="m seven four two"), WordsSaid("mike seven forty two")),
        ],
    )
    def test_the_same_meaning_is_right_in_any_words(self, expected: Expected, meaning: Meaning) -> None:
        assert right(expected, meaning)

    @pytest.mark.parametrize(
        ("expected", "meaning"),
        [
            (WordsExpected("two thirty eight"), volts("230")),
            (WordsExpected("two thirty eight volts"), ReadingSaid(Decimal(238), Unit.OHM)),
            (WordsExpected("no two forty"), volts("240")),
            (WordsExpected("mumble grumble"), Unclear("Say again?")),
            (MeaningExpected("reading", Decimal(238), Unit.VOLT), ReadingSaid(Decimal(238), Unit.OHM)),
            (MeaningExpected("reading", Decimal(240), Unit.VOLT), CorrectionSaid(volts("240"))),
            (MeaningExpected("yes"), AnswerSaid(yes=False)),
            (MeaningExpected("closed"), StateSaid(State.OPEN)),
            (MeaningExpected("command", command="repeat"), CommandSaid(Command.NEXT)),
            (MeaningExpected("command", command="stop"), DangerSaid(DangerKind.FIRE, present=False, words="smoke")),
            (MeaningExpected("command", command="stop"), CommandSaid(Command.HOLD)),
            (NothingExpected(), volts("238")),
        ],
    )
    def test_another_meaning_is_not(self, expected: Expected, meaning: Meaning) -> None:
        assert not right(expected, meaning)

    def test_a_state_needs_a_question_that_has_it(self) -> None:
        assert right(WordsExpected("open"), StateSaid(State.OPEN), Question(Asking.RESISTANCE))
        assert not right(WordsExpected("open"), StateSaid(State.OPEN), VOLTAGE)

    def test_a_correction_is_one_after_a_read_back(self) -> None:
        after = Question(Asking.VOLTAGE, after_read_back=True)
        assert right(WordsExpected("no two forty"), CorrectionSaid(volts("240")), after)


class TestVerdicts:
    def test_which_meanings_come_to_one(self) -> None:
        assert verdict(volts("230"), LIMITS) == verdict(volts("240"), LIMITS)
        assert verdict(volts("215"), LIMITS) != verdict(volts("216"), LIMITS)
        assert verdict(volts("119"), None) != verdict(volts("190"), None)
        assert verdict(volts("119"), None) == verdict(volts("119.0"), None)
        assert verdict(CorrectionSaid(volts("230")), LIMITS) != verdict(volts("230"), LIMITS)
        assert verdict(ReadingSaid(Decimal(230), Unit.OHM), LIMITS) != verdict(volts("230"), LIMITS)

    @pytest.mark.parametrize("said", [WordsExpected("two forty"), MeaningExpected("reading", Decimal(240), Unit.VOLT)])
    def test_a_wrong_reading_on_the_same_side_changes_none(self, said: Expected) -> None:
        assert not changes_verdict(said, volts("230"), LIMITS, VOLTAGE, lexicon())
        assert changes_verdict(said, volts("190"), LIMITS, VOLTAGE, lexicon())
        assert changes_verdict(said, volts("230"), None, VOLTAGE, lexicon())
        assert changes_verdict(said, CommandSaid(Command.NEXT), LIMITS, VOLTAGE, lexicon())

    def test_taking_what_was_not_meant_for_the_program_may_always_change_one(self) -> None:
        assert changes_verdict(NothingExpected(), volts("230"), LIMITS, VOLTAGE, lexicon())


def test_alternatives_that_mean_the_same_are_one() -> None:
    texts = ("two thirty", "two three zero", "two thirteen")
    heard = Heard(tuple(map(Alternative, texts, (0.35, 0.25, 0.4))), "ear")
    found = likeliest(heard, [understand(text, VOLTAGE, lexicon()) for text in texts])
    assert found is not None
    assert isinstance(found[0], ReadingSaid)
    assert found[0].value == 230
    assert found[1] == pytest.approx(0.6)
    assert likeliest(Heard((), "ear"), []) is None


class TestBounds:
    @pytest.mark.parametrize(
        ("count", "trials", "low", "high"),
        [(5, 10, 0.187086, 0.812914), (0, 10, 0.0, 0.308497), (10, 10, 0.691503, 1.0), (2, 20, 0.012349, 0.316983)],
    )
    def test_two_one_sided_bounds_are_the_exact_two_sided_interval(
        self, count: int, trials: int, low: float, high: float
    ) -> None:
        """Source: binom.test of R, whose interval is Clopper and Pearson's (figures from memory)."""
        assert at_least(count, trials, 0.975) == pytest.approx(low, abs=2e-5)
        assert at_most(count, trials, 0.975) == pytest.approx(high, abs=2e-5)

    @pytest.mark.parametrize("trials", [1, 30, 300, 3000])
    def test_none_of_many(self, trials: int) -> None:
        """The closed form for none of n, about 3 / n ("the rule of three")."""
        assert at_most(0, trials) == pytest.approx(1 - 0.05 ** (1 / trials), rel=1e-6)
        assert at_least(trials, trials) == pytest.approx(0.05 ** (1 / trials), rel=1e-6)

    def test_nothing_counted_tells_nothing(self) -> None:
        assert (at_least(0, 0), at_most(0, 0)) == (0.0, 1.0)

    @given(st.integers(0, 200), st.integers(0, 200))
    def test_the_share_lies_between_and_more_trials_tell_more(self, count: int, more: int) -> None:
        trials = count + more
        share = count / trials if trials else 0.5
        assert 0 <= at_least(count, trials) <= share <= at_most(count, trials) <= 1
        assert at_most(2 * count, 2 * trials) <= at_most(count, trials) + 1e-9

    def test_no_share(self) -> None:
        with pytest.raises(ValueError, match="no share"):
            at_most(3, 2)


def test_a_tally_counts() -> None:
    counts = Tally()
    for result in (Result.RIGHT, Result.RIGHT, Result.WRONG, Result.ASKED, Result.AGAIN, Result.IGNORED):
        counts = counts.counting(result)
    counts = counts.counting(Result.WRONG, other_verdict=True)
    assert counts == Tally(right=2, asked=1, again=1, ignored=1, wrong=2, other_verdict=1)
    assert (counts.trials, counts.share(Result.WRONG)) == (7, 2 / 7)
    assert counts.right_at_least == at_least(2, 7)
    assert counts.wrong_at_most == at_most(2, 7)
    assert Tally().share(Result.RIGHT) == 0


class TestWords:
    def test_alignment(self) -> None:
        assert aligned(("two", "thirty", "volts"), ("two", "thirteen", "volts")) == [
            ("two", "two"),
            ("thirty", "thirteen"),
            ("volts", "volts"),
        ]
        assert aligned(("two", "thirty"), ("thirty", "volts")) == [
            ("two", NOTHING),
            ("thirty", "thirty"),
            (NOTHING, "volts"),
        ]
        assert aligned((), ("a",)) == [(NOTHING, "a")]
        assert aligned((), ()) == []

    @given(st.lists(st.sampled_from("abc"), max_size=6), st.lists(st.sampled_from("abc"), max_size=6))
    def test_alignment_keeps_every_word_in_order(self, said: list[str], heard: list[str]) -> None:
        pairs = aligned(said, heard)
        assert [a for a, _ in pairs if a != NOTHING] == said
        assert [b for _, b in pairs if b != NOTHING] == heard
        assert ([a for a, _ in pairs] == [b for _, b in pairs]) == (said == heard)

    def test_what_fails_most_comes_first(self) -> None:
        said = ("two", "thirty", "volts")
        failures = word_failures(
            [
                WordTrial(said, ("two", "thirteen", "volts"), right=False),
                WordTrial(said, ("two", "thirteen", "bolts"), right=False),
                WordTrial(said, ("two", "three", "zero"), right=True),
                WordTrial(said, (), right=False),
            ]
        )
        assert [(each.word, each.said, each.failed) for each in failures] == [
            ("thirty", 4, 3),
            ("volts", 4, 2),
            ("two", 4, 1),
        ]
        assert failures[0].instead == (("thirteen", 2), (NOTHING, 1))

    def test_plain_words(self) -> None:
        assert plain_words("It's two-forty, volts.") == ("it's", "two", "forty", "volts")
