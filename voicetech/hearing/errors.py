"""What can go wrong between a sound and its words; every message says what to do next."""


class HearingError(Exception):
    """Hearing does not work as asked; the message names the cause and the remedy."""


class RecogniserError(HearingError):
    """A recogniser cannot work here: a package, a model or a file is missing."""


class SoundFileError(HearingError):
    """A sound file cannot be read."""


class MicrophoneError(HearingError):
    """The microphone cannot be opened or has gone."""


class MicrophoneLostError(MicrophoneError):
    """A microphone that worked has gone; it may come back."""
