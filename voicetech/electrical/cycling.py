"""How much of the time an infinite switch heats, from the clicks of its contact.

Below its highest position such a switch passes the full voltage for a while and none for a while. What an element
makes over a minute is its power times the share of the time that it is on.
"""

from decimal import Decimal

from voicetech.electrical.element import power_at_w
from voicetech.electrical.limits import Limits
from voicetech.electrical.words import plain
from voicetech.units import Unit

SHARE_ON_MEDIUM = (Decimal("0.20"), Decimal("0.65"))
SHARE_ON_MEDIUM_MARGINAL = (Decimal("0.10"), Decimal("0.80"))
SHARE_ON_LOW = (Decimal("0.02"), Decimal("0.20"))
SHARE_ON_LOW_MARGINAL = (Decimal("0.01"), Decimal("0.30"))
"""The share of the time that a sound switch is on, and where it is marginal. Source: common practice, no source; the
maker's sheet outranks it."""
SOURCE = "common practice, no source: on medium an infinite switch is on a fifth to two thirds of the time"
SOURCE_ON_LOW = "common practice, no source: on low an infinite switch is on up to a fifth of the time"
LONGEST_S = Decimal(3600)
_ON_NOT_KNOWN = Limits(
    low=Decimal(1),
    high=Decimal(300),
    unit=Unit.SECOND,
    safety=False,
    guarded=False,
    source="common practice, no source: without the time on only a contact that never comes back can be told",
    reason="for an infinite switch whose time on is not known",
)


def share_on(on_s: Decimal, off_s: Decimal) -> Decimal:
    """Return the part of the time that the contact is closed, 0 to 1.

    Raises ValueError where a time is not from 0 to 3600 seconds, or both are 0.
    """
    for name, value_s in (("time on", on_s), ("time off", off_s)):
        if not value_s.is_finite() or not 0 <= value_s <= LONGEST_S:
            raise ValueError(f"the {name} must be from 0 to 3600 seconds ({value_s}); time one whole cycle")
    if on_s + off_s == 0:
        raise ValueError("one of the two times must be more than 0 seconds; time one whole cycle")
    return on_s / (on_s + off_s)


def mean_power_w(watts: Decimal, rated_v: Decimal, measured_v: Decimal, on_s: Decimal, off_s: Decimal) -> Decimal:
    """Return the watts that an element makes over whole cycles at the measured voltage.

    Raises ValueError for figures that cannot be a plate's, and for times as `share_on` does.
    """
    return power_at_w(watts, rated_v, measured_v) * share_on(on_s, off_s)


def off_limits(on_s: Decimal | None, *, low_position: bool = False) -> Limits:
    """Return how long the contact of a sound switch stays open between two times of `on_s` closed, in seconds.

    Without `on_s` the limits are so wide that only a contact that never comes back is told. Raises ValueError as
    `share_on` does.
    """
    if on_s is None:
        return _ON_NOT_KNOWN
    share_on(on_s, Decimal(1))
    if on_s == 0:
        raise ValueError("the time on must be more than 0 seconds; a contact that never closes has no cycle")
    low, high = SHARE_ON_LOW if low_position else SHARE_ON_MEDIUM
    marginal_low, marginal_high = SHARE_ON_LOW_MARGINAL if low_position else SHARE_ON_MEDIUM_MARGINAL
    return Limits(
        low=_off_s(on_s, high),
        high=_off_s(on_s, low),
        marginal_low=_off_s(on_s, marginal_high),
        marginal_high=_off_s(on_s, marginal_low),
        unit=Unit.SECOND,
        safety=False,
        source=SOURCE_ON_LOW if low_position else SOURCE,
        reason=f"with {plain(on_s)} seconds on and the knob on {'low' if low_position else 'medium'}",
    )


def _off_s(on_s: Decimal, share: Decimal) -> Decimal:
    return (on_s / share - on_s).quantize(Decimal("0.1"))
