"""Jobs on record gone through again, one or all of them: folded, decided and heard anew."""

from voicetech.replay.material import Material, material_of
from voicetech.replay.replayed import Missing, Reheard, Replayed
from voicetech.replay.work import replay

__all__ = ["Material", "Missing", "Reheard", "Replayed", "material_of", "replay"]
