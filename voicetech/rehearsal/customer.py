"""What the customer complains of, from what the appliance does."""

from dataclasses import replace

from voicetech.procedure import Complaint
from voicetech.rehearsal.appliance_at_hand import COLD_SHARE, WRONG_SHARE, AtHand, touches


def complaint(at_hand: AtHand) -> str:
    """Return the complaint's key: what is out, what a fault says, or where nothing is, what a fault is nearest to.

    What a fault says comes before what is out because of that fault itself.
    """
    told = next((fault.complaint for fault in at_hand.faults if fault.complaint is not None), None)
    rest = tuple(fault for fault in at_hand.faults if fault.complaint is None)
    out = _out(replace(at_hand, faults=rest) if told is not None else at_hand)
    if out is not None or told is not None:
        return out or told or ""
    complaints = tuple(at_hand.procedure.complaints.values())
    works = at_hand.works()
    low, high = WRONG_SHARE
    if any(not low <= share <= high for share in works.values()):
        return _wrong(complaints)
    effects = [effect for fault in at_hand.faults for effect in fault.effects]
    near = (each.id for each in complaints if len(each.out) == 1 and touches(effects, each.out[0]))
    return next(near, _wrong(complaints))


def _out(at_hand: AtHand) -> str | None:
    """Return the complaint of which most is out, or None where nothing that a customer sees is."""
    works = at_hand.works()
    tripped = at_hand.has_tripped
    out = {name for name, share in works.items() if tripped or share < COLD_SHARE}
    fitting = {each.id: set(each.out) & works.keys() for each in at_hand.procedure.complaints.values()}
    fitting = {key: told for key, told in fitting.items() if told and told <= out}
    return max(fitting, key=lambda key: len(fitting[key])) if fitting else None


def _wrong(complaints: tuple[Complaint, ...]) -> str:
    return next((each.id for each in complaints if each.wrong), complaints[0].id)


def is_mended(at_hand: AtHand, complained_of: str) -> bool:
    """Return whether what was complained of is gone, tried for a while."""
    return not at_hand.faults or complaint(at_hand) != complained_of
