"""Deciding on verdicts: each row is what was heard, and what must be done with it."""

from collections.abc import Hashable
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from voicetech.heard import Alternative, Heard
from voicetech.language.meaning import (
    AnswerSaid,
    ChoiceSaid,
    Command,
    CommandSaid,
    DangerKind,
    DangerSaid,
    Flag,
    Meaning,
    ReadingSaid,
    State,
    StateSaid,
    Unclear,
    WordsSaid,
)
from voicetech.units import Unit
from voicetech.weigh import WRONG_COST, Accepted, AskWhich, Ignored, Outcome, SayAgain, insisted_on, weigh

LOW, HIGH = 108, 132


def volts(value: int) -> ReadingSaid:
    return ReadingSaid(Decimal(value), Unit.VOLT)


def side(meaning: Meaning) -> Hashable:
    if isinstance(meaning, ReadingSaid):
        return (meaning.value > HIGH) - (meaning.value < LOW)
    return meaning


def weighed(*said: tuple[Meaning, float], for_us: float = 1.0) -> Outcome:
    alternatives = tuple(Alternative(f"words {index}", chance) for index, (_, chance) in enumerate(said))
    return weigh(Heard(alternatives, "test", for_us), tuple(meaning for meaning, _ in said), side)


def test_sure_of_value_and_verdict() -> None:
    outcome = weighed((volts(119), 0.97), (volts(190), 0.02))
    assert isinstance(outcome, Accepted)
    assert outcome.meaning == volts(119)
    assert outcome.text == "words 0"


def test_rivals_across_a_limit_are_asked_about() -> None:
    outcome = weighed((volts(119), 0.6), (volts(190), 0.4))
    assert isinstance(outcome, AskWhich)
    assert set(outcome.rivals) == {volts(119), volts(190)}
    assert outcome.texts == ("words 0", "words 1")


def test_rivals_on_one_side_of_the_limits_do_not_matter() -> None:
    assert isinstance(weighed((volts(119), 0.8), (volts(118), 0.19)), Accepted)


def test_the_value_has_to_be_likely_too() -> None:
    assert isinstance(weighed((volts(119), 0.4), (volts(118), 0.35), (volts(117), 0.25)), AskWhich)


def test_many_faint_rivals_are_said_again() -> None:
    assert isinstance(weighed(*((volts(100 + 20 * n), 0.2) for n in range(5))), SayAgain)


def test_the_same_value_in_other_words_is_added_up() -> None:
    outcome = weighed((volts(119), 0.5), (volts(119), 0.48))
    assert isinstance(outcome, Accepted)
    assert outcome.probability == pytest.approx(0.98)


def test_a_serial_number_is_the_same_however_it_is_said() -> None:
    one, other = WordsSaid("ten thirty one", confirm=True), WordsSaid("one oh three one", confirm=True)
    outcome = weighed((one, 0.55), (other, 0.44))
    assert isinstance(outcome, Accepted)
    assert outcome.meaning == one


@pytest.mark.parametrize("faint", [StateSaid(State.BEEP), CommandSaid(Command.WHY), AnswerSaid(yes=False)])
def test_what_hardly_answers_the_question_yields_to_a_number(faint: Meaning) -> None:
    outcome = weighed((volts(119), 0.6), (faint, 0.4))
    assert isinstance(outcome, Accepted)
    assert outcome.meaning == volts(119)


def test_a_digit_is_likelier_in_a_serial_number_than_a_letter_that_sounds_alike() -> None:
    letter, digit = WordsSaid("one five two one l", confirm=True), WordsSaid("one five two one oh", confirm=True)
    assert isinstance(weighed((letter, 0.6), (digit, 0.4)), AskWhich)
    clearer = weighed((letter, 0.97), (digit, 0.03))
    assert isinstance(clearer, Accepted)
    assert clearer.meaning == letter


def test_a_doubt_that_it_was_an_answer_is_a_doubt_of_the_value() -> None:
    assert isinstance(weighed((volts(119), 0.95), (volts(190), 0.02), for_us=0.95), Accepted)
    doubtful = weighed((volts(119), 0.95), (volts(190), 0.02), for_us=0.8)
    assert isinstance(doubtful, SayAgain)


@pytest.mark.parametrize("for_us", [0.0, 0.3])
def test_what_is_not_for_the_program_is_ignored(for_us: float) -> None:
    assert isinstance(weighed((volts(119), 1.0), for_us=for_us), Ignored)


def test_nothing_heard() -> None:
    assert isinstance(weighed(for_us=1.0), Ignored)


def test_what_cannot_be_used_is_never_taken() -> None:
    unclear = Unclear("What does the meter show?")
    assert weighed((unclear, 1.0)) == SayAgain("What does the meter show?", unclear), "sure words tell what to ask"
    unsure = weighed((unclear, 0.4))
    assert unsure == SayAgain("What does the meter show?", None)


def test_a_command_that_sounds_like_the_number_owed_has_to_be_clear() -> None:
    why = CommandSaid(Command.WHY)
    assert not isinstance(weighed((why, 0.8), (volts(1), 0.2)), Accepted)
    assert isinstance(weighed((why, 0.97), (CommandSaid(Command.HOLD), 0.03)), Accepted)


def test_another_unit_yields_to_the_one_asked_for() -> None:
    amps = ReadingSaid(Decimal(44), Unit.AMPERE, flags=frozenset({Flag.UNIT_MISMATCH}))
    outcome = weighed((amps, 0.5), (volts(44), 0.5))
    assert isinstance(outcome, Accepted)
    assert outcome.meaning == volts(44)


def test_yes_beside_a_reading() -> None:
    outcome = weighed((AnswerSaid(yes=True), 0.4), (volts(119), 0.6))
    assert isinstance(outcome, Accepted)
    assert outcome.meaning == volts(119)


SMOKE = DangerSaid(DangerKind.FIRE, present=True, words="smoke")
STOP = DangerSaid(DangerKind.STOP, present=True, words="stop")


@pytest.mark.parametrize(
    ("said", "for_us"),
    [
        (((volts(119), 0.7), (STOP, 0.3)), 1.0),
        (((volts(119), 0.7), (STOP, 0.15), (SMOKE, 0.15)), 1.0),
        (((STOP, 0.9),), 0.3),
    ],
)
def test_danger_is_taken_at_a_low_chance(said: tuple[tuple[Meaning, float], ...], for_us: float) -> None:
    outcome = weighed(*said, for_us=for_us)
    assert isinstance(outcome, Accepted)
    assert isinstance(outcome.meaning, DangerSaid)


@pytest.mark.parametrize(("chance", "for_us"), [(0.02, 1.0), (1.0, 0.05)])
def test_but_not_out_of_nothing(chance: float, for_us: float) -> None:
    outcome = weighed((volts(119), 1.0 - chance), (STOP, chance), for_us=for_us)
    assert not (isinstance(outcome, Accepted) and isinstance(outcome.meaning, DangerSaid))


def test_every_alternative_needs_its_meaning() -> None:
    with pytest.raises(ValueError, match="needs its meaning"):
        weigh(Heard((Alternative("one", 1.0),), "test"), (), side)


@given(
    st.lists(st.tuples(st.integers(90, 150), st.floats(0.001, 1.0)), min_size=1, max_size=8),
    st.floats(0.0, 1.0),
)
def test_an_accepted_value_is_the_likeliest_and_its_verdict_sure(said: list[tuple[int, float]], for_us: float) -> None:
    whole = sum(chance for _, chance in said)
    chances = [(volts(value), chance / whole) for value, chance in said]
    outcome = weighed(*chances, for_us=for_us)
    if isinstance(outcome, Accepted):
        verdict = side(outcome.meaning)
        assert sum(chance for meaning, chance in chances if side(meaning) == verdict) >= 1 - 1 / WRONG_COST - 1e-9
        totals = {value: sum(c for m, c in chances if m == volts(value)) for value, _ in said}
        assert isinstance(outcome.meaning, ReadingSaid)
        assert totals[int(outcome.meaning.value)] == pytest.approx(max(totals.values()))


def insisted(meaning: Meaning, for_us: float, *before: Meaning) -> Meaning | None:
    heard = Heard((Alternative("words", 1.0),), "test", for_us)
    return insisted_on(heard, (meaning,), side, before)


def test_what_is_said_again_and_again_is_read_back_in_the_end() -> None:
    choice = ChoiceSaid("bake")
    assert insisted(choice, 0.2) is None
    assert insisted(choice, 0.2, ChoiceSaid("broil")) is None
    assert insisted(choice, 0.2, choice) == ChoiceSaid("bake", confirm=True)
    assert insisted(choice, 0.02, choice) is None
    assert insisted(choice, 0.02, choice, choice) == ChoiceSaid("bake", confirm=True)
    assert insisted(volts(119), 0.2, volts(119)) == ReadingSaid(Decimal(119), Unit.VOLT, confirm=True)
    assert insisted(volts(119), 0.2, volts(190)) is None


@pytest.mark.parametrize(
    "meaning", [CommandSaid(Command.SKIP), WordsSaid("it is safe again"), Unclear(), DangerSaid(DangerKind.STOP, True)]
)
def test_only_answers_are_read_back_for_being_said_again(meaning: Meaning) -> None:
    assert insisted(meaning, 0.4, meaning, meaning) is None


@given(st.floats(0.0, 1.0), st.integers(0, 3))
def test_saying_it_again_never_makes_it_less_likely(for_us: float, times: int) -> None:
    fewer = insisted(volts(119), for_us, *[volts(119)] * times)
    assert fewer is None or insisted(volts(119), for_us, *[volts(119)] * (times + 1)) is not None
