"""The job by voice. Nothing here knows what words mean: the job does."""

from voicetech.talking.answers import fit_address_word, heard_for
from voicetech.talking.talk import Talk, asks

__all__ = ["Talk", "asks", "fit_address_word", "heard_for"]
