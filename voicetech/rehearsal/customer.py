"""What the customer complains of, from what the appliance does."""

from voicetech.procedure import Complaint
from voicetech.rehearsal.appliance_at_hand import COLD_SHARE, WRONG_SHARE, AtHand, touches


def complaint(at_hand: AtHand) -> str:
    """Return the complaint's key: what a fault says, what is out, or where nothing is, what a fault is nearest to."""
    told = next((fault.complaint for fault in at_hand.faults if fault.complaint is not None), None)
    if told is not None:
        return told
    complaints = tuple(at_hand.procedure.complaints.values())
    works = at_hand.works()
    tripped = at_hand.has_tripped
    out = {name for name, share in works.items() if tripped or share < COLD_SHARE}
    fitting = {each.id: set(each.out) & works.keys() for each in complaints}
    fitting = {key: told for key, told in fitting.items() if told and told <= out}
    if fitting:
        return max(fitting, key=lambda key: len(fitting[key]))
    low, high = WRONG_SHARE
    if any(not low <= share <= high for share in works.values()):
        return _wrong(complaints)
    effects = [effect for fault in at_hand.faults for effect in fault.effects]
    near = (each.id for each in complaints if len(each.out) == 1 and touches(effects, each.out[0]))
    return next(near, _wrong(complaints))


def _wrong(complaints: tuple[Complaint, ...]) -> str:
    return next((each.id for each in complaints if each.wrong), complaints[0].id)


def is_mended(at_hand: AtHand, complained_of: str) -> bool:
    """Return whether what was complained of is gone, tried for a while."""
    return not at_hand.faults or complaint(at_hand) != complained_of
