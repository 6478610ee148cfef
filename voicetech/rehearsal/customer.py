"""What the customer complains of, from what the appliance does."""

from voicetech.rehearsal.appliance_at_hand import COLD_SHARE, WRONG_SHARE, AtHand, touches

_OF_ELEMENT = {"surface": "one-coil", "bake": "bake", "broil": "broil"}


def complaint(at_hand: AtHand) -> str:
    """Return the complaint's key: what is cold, or where nothing is, what a fault is nearest to."""
    if at_hand.has_tripped:
        return "nothing-heats"
    heats = at_hand.heats()
    cold = {name for name, share in heats.items() if share < COLD_SHARE}
    if len(cold) == len(heats):
        return "nothing-heats"
    if {"surface", "other-coil"} <= cold:
        return "all-coils"
    if {"bake", "broil"} <= cold:
        return "oven"
    for name, key in _OF_ELEMENT.items():
        if name in cold:
            return key
    low, high = WRONG_SHARE
    if any(not low <= share <= high for share in heats.values()):
        return "wrong-heat"
    effects = [effect for fault in at_hand.faults for effect in fault.effects]
    return next((key for name, key in _OF_ELEMENT.items() if touches(effects, name)), "wrong-heat")


def is_mended(at_hand: AtHand, complained_of: str) -> bool:
    """Return whether what was complained of is gone, tried for a while."""
    return not at_hand.faults or complaint(at_hand) != complained_of
