"""What a part, a wire or a supply may read.

A record only: the modules beside this one make limits from nameplates, temperatures and nominal volts, and
`judge` compares a reading with them.
"""

from dataclasses import dataclass
from decimal import Decimal

from voicetech.units import Unit


@dataclass(frozen=True, slots=True)
class Hint:
    """Words that help to explain a reading outside its limits, for readings from `low` up to `high`."""

    low: Decimal
    high: Decimal
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """What passes, what is marginal, and for what.

    Figures are in the base unit of `unit`; None leaves that side without a limit. From `low` to `high`
    passes; out to `marginal_low` and `marginal_high` is marginal; beyond fails. Where `expect_open` is true
    only over range passes, and a number from `marginal_low` up is marginal; with `open_proves` false over range is
    marginal too, because what is looked for does not show on a handheld meter. `safety` puts the whole guard
    band on the safe side. `guarded` false says that the figures are already what the meter must show, so
    that no band is added. `repeat_below`, for a proof of dead, is the reading up to which a high-impedance
    meter may be showing a coupled voltage. `less_leads` false says that the leads are what is measured.
    `reason` ends the spoken reason ("for a 2600 watt element at 240 volts").

    Raises ValueError where the figures are out of order, or where nothing is limited.
    """

    low: Decimal | None
    high: Decimal | None
    marginal_low: Decimal | None = None
    marginal_high: Decimal | None = None
    unit: Unit
    expect_open: bool = False
    open_proves: bool = True
    safety: bool
    source: str
    reason: str
    guarded: bool = True
    repeat_below: Decimal | None = None
    less_leads: bool = True
    hints: tuple[Hint, ...] = ()

    def __post_init__(self) -> None:
        if self.low is None and self.high is None and not self.expect_open:
            raise ValueError("limits need a low or a high figure, or to expect over range")
        ordered = [
            figure for figure in (self.marginal_low, self.low, self.high, self.marginal_high) if figure is not None
        ]
        if any(not figure.is_finite() for figure in ordered):
            raise ValueError("limits must be finite numbers; leave a side out with None")
        if ordered != sorted(ordered):
            figures = ", ".join(str(figure) for figure in ordered)
            raise ValueError(f"limits out of order ({figures}); give them from the lowest to the highest")
