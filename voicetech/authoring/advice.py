"""The checks beside those that every job is begun behind: what makes a procedure worse than it could be."""

from typing import Final

from voicetech.authoring import (
    checks_circuit,
    checks_failing,
    checks_leading,
    checks_listed,
    checks_phrases,
    checks_physics,
    checks_probed,
    checks_sound,
    checks_standing,
    checks_told,
    checks_told_to_do,
    checks_trade,
    checks_used,
    checks_waiting,
    checks_wording,
)
from voicetech.authoring.checking import Check

ADVICE: Final[tuple[Check, ...]] = (
    *checks_trade.ADVICE,
    *checks_failing.ADVICE,
    *checks_leading.ADVICE,
    *checks_waiting.ADVICE,
    *checks_listed.ADVICE,
    *checks_told.ADVICE,
    *checks_told_to_do.ADVICE,
    *checks_probed.ADVICE,
    *checks_standing.ADVICE,
    *checks_wording.ADVICE,
    *checks_used.ADVICE,
    *checks_circuit.ADVICE,
    *checks_phrases.ADVICE,
    *checks_sound.ADVICE,
    *checks_physics.ADVICE,
)
"""Rules that only the check of procedures goes by."""
