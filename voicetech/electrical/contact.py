"""Limits for contacts, fuses, wires, meter leads, the earth path and the frame strap.

Ohms can condemn a contact; they never prove it under load, because a meter tests with milliamps.
"""

from decimal import Decimal

from voicetech.electrical.limits import Hint, Limits
from voicetech.units import Unit

CLOSED_BELOW_OHM = Decimal(1)
"""A closed contact with the leads nulled. Source: common practice, no source."""
LOADED_DROP_V = Decimal("0.5")
"""More than this across a closed contact under load condemns it. Source: common practice, no source."""
LEADS_TYPICAL_OHM = Decimal("0.5")
"""Test leads together read 0.2 to 0.5 ohm. Source: a public page on meter accuracy (read)."""
LEADS_REPLACE_OHM = Decimal(1)
"""Replace leads over this. Source: the same page."""
EARTH_OHM = Decimal("0.1")
"""Frame to the ground terminal. Source: EN 50106:2008, extract (read)."""
EARTH_WITH_CORD_OHM = Decimal("0.2")
"""Frame to the ground pin of the cord. Source: the same extract."""
STRAP_BELOW_OHM = Decimal(10)
"""From here up what joins neutral and frame is a leak and no strap. Source: judgement, no source."""
STRAP_SOURCE = (
    "NEC 250.140 and 250.142 (from memory): the frame is bonded to neutral on a three wire cord only; "
    "local code outranks it"
)


def contact_limits() -> Limits:
    """Return what a closed switch, thermostat, fuse or wire may read, leads nulled, one wire off."""
    return Limits(
        low=Decimal(0),
        high=CLOSED_BELOW_OHM,
        unit=Unit.OHM,
        safety=False,
        source="common practice, no source: closed is under 1 ohm with the leads nulled",
        reason="for a closed contact with the leads nulled",
    )


def open_contact_limits() -> Limits:
    """Return what a switch that should be open may read: over range only, one wire off."""
    return Limits(
        low=None,
        high=None,
        unit=Unit.OHM,
        expect_open=True,
        safety=False,
        source="common practice, no source: an open contact shows over range",
        reason="for a contact that should be open",
    )


def contact_drop_limits() -> Limits:
    """Return what may be lost across a closed contact while it carries its load."""
    return Limits(
        low=Decimal(0),
        high=LOADED_DROP_V,
        unit=Unit.VOLT,
        safety=False,
        source="common practice, no source: under 0.5 volt across a loaded contact",
        reason="across a closed contact under load",
        hints=(
            Hint(
                Decimal(90),
                Decimal(300),
                "full voltage across a switch that should be closed means it is open",
            ),
        ),
    )


def lead_limits() -> Limits:
    """Return what the meter's leads may read when touched together."""
    return Limits(
        low=Decimal(0),
        high=LEADS_TYPICAL_OHM,
        marginal_high=LEADS_REPLACE_OHM,
        unit=Unit.OHM,
        safety=False,
        source="public page on meter accuracy (read): 0.2 to 0.5 ohm is typical, replace leads over 1 ohm",
        reason="for test leads touched together",
        guarded=False,
        less_leads=False,
    )


def earth_limits(with_cord: bool) -> Limits:
    """Return what the path from the frame to ground may read, leads nulled.

    The standard asks for 10 amps through the path; a handheld meter tests with milliamps, so a pass shows a
    connection and proves no more. No band is added: a handheld meter's last digit is the whole limit.
    """
    return Limits(
        low=Decimal(0),
        high=EARTH_WITH_CORD_OHM if with_cord else EARTH_OHM,
        unit=Unit.OHM,
        safety=True,
        source="EN 50106:2008, extract (read): 0.1 ohm, or 0.2 ohm with the cord, at 10 amps or more",
        reason=f"from frame to ground {'pin, cord included' if with_cord else 'terminal'}",
        guarded=False,
    )


def strap_limits(four_wire: bool) -> Limits:
    """Return what neutral to frame may read at the block, unplugged: apart with four wires, joined with three.

    No band is added to the three-wire figure, for the reason given at `earth_limits`.

    Source: NEC 250.140 and 250.142 (from memory); EN 50106:2008, extract (read), for 0.1 ohm.
    """
    if four_wire:
        return Limits(
            low=None,
            high=None,
            marginal_low=STRAP_BELOW_OHM,
            unit=Unit.OHM,
            expect_open=True,
            safety=False,
            source=STRAP_SOURCE,
            reason="from neutral to frame, which a four wire cord keeps apart",
            hints=(
                Hint(
                    STRAP_BELOW_OHM,
                    Decimal(1_000_000_000),
                    "that is no strap: an element or a wire leaks to the frame",
                ),
            ),
        )
    return Limits(
        low=Decimal(0),
        high=EARTH_OHM,
        unit=Unit.OHM,
        safety=True,
        source=f"{STRAP_SOURCE}; EN 50106:2008, extract (read): 0.1 ohm",
        reason="from neutral to frame, which the strap of a three wire cord joins",
        guarded=False,
    )
