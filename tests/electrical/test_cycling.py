"""The time an infinite switch is on, against figures worked out by hand beside each."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from voicetech.electrical.cycling import mean_power_w, off_limits, share_on
from voicetech.electrical.meter import HANDHELD
from voicetech.judge import VerdictWord, judge_reading
from voicetech.units import Reading, Unit

SECONDS = st.decimals(min_value=1, max_value=600, places=1)


def verdict(on_s: str, off_s: str, *, low_position: bool = False) -> VerdictWord:
    limits = off_limits(Decimal(on_s), low_position=low_position)
    return judge_reading(Reading(Decimal(off_s), Unit.SECOND), limits, HANDHELD, None).word


def test_the_share_is_the_time_on_over_the_whole_cycle() -> None:
    """12 seconds on and 18 off: 12 / 30."""
    assert share_on(Decimal(12), Decimal(18)) == Decimal("0.4")


def test_the_mean_power_is_the_share_of_the_power_at_the_voltage() -> None:
    """2100 W at 240 V is 27.43 ohms; at 208 V it makes 1577.3 W, and two fifths of the time 630.9 W."""
    assert mean_power_w(Decimal(2100), Decimal(240), Decimal(240), Decimal(12), Decimal(18)) == Decimal(840)
    at_208 = mean_power_w(Decimal(2100), Decimal(240), Decimal(208), Decimal(12), Decimal(18))
    assert abs(at_208 - Decimal("630.9")) < Decimal("0.1")


@pytest.mark.parametrize(
    ("on_s", "off_s", "word"),
    [
        ("12", "18", VerdictWord.WITHIN),
        ("40", "4", VerdictWord.BELOW),
        ("3", "60", VerdictWord.ABOVE),
        ("12", "4.5", VerdictWord.MARGINAL),
        ("12", "70", VerdictWord.MARGINAL),
    ],
)
def test_medium_is_neither_nearly_always_on_nor_hardly_ever(on_s: str, off_s: str, word: VerdictWord) -> None:
    assert verdict(on_s, off_s) is word


def test_what_is_right_on_low_is_hardly_on_on_medium() -> None:
    assert verdict("2", "40", low_position=True) is VerdictWord.WITHIN
    assert verdict("2", "40") is VerdictWord.ABOVE


def test_half_a_second_of_the_hand_decides_nothing_at_a_limit() -> None:
    limits = off_limits(Decimal(12))
    assert limits.low is not None
    assert verdict("12", f"{limits.low}") is VerdictWord.MARGINAL


@given(SECONDS, SECONDS)
def test_a_longer_time_off_is_never_a_larger_share(on_s: Decimal, off_s: Decimal) -> None:
    assert share_on(on_s, off_s + 1) < share_on(on_s, off_s) < 1


@pytest.mark.parametrize(("on_s", "off_s"), [("0", "0"), ("-1", "5"), ("5", "3601"), ("NaN", "5")])
def test_times_that_are_no_cycle_are_refused(on_s: str, off_s: str) -> None:
    with pytest.raises(ValueError, match="time one whole cycle"):
        share_on(Decimal(on_s), Decimal(off_s))


def test_a_contact_that_never_closes_has_no_cycle() -> None:
    with pytest.raises(ValueError, match="has no cycle"):
        off_limits(Decimal(0))


def test_without_the_time_on_only_a_contact_that_never_comes_back_is_told() -> None:
    limits = off_limits(None)
    words = [judge_reading(Reading(Decimal(s), Unit.SECOND), limits, HANDHELD, None).word for s in ("18", "301")]
    assert words == [VerdictWord.WITHIN, VerdictWord.ABOVE]
