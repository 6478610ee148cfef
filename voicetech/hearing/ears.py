"""Recognisers by name, for the command line. Nothing of a recogniser is loaded before it is asked for."""

import os
from collections.abc import Mapping
from pathlib import Path

from voicetech.hearing.errors import RecogniserError
from voicetech.hearing.recogniser import Recogniser

EARS = ("constrained", "vosk")
"""The first is the default."""
MODEL_HELP = (
    "The folder of the recogniser's model; without it, the folder named by VOICETECH_MODEL (constrained, which "
    "brings one) or VOICETECH_VOSK_MODEL (vosk, which does not)."
)
"""What a command says of the option that `open_ear` takes as `model`."""


def open_ear(
    name: str | None = None, model: Path | None = None, environment: Mapping[str, str] | None = None
) -> Recogniser:
    """Return the recogniser called `name` (default: constrained), its model in the folder `model` if given.

    Raises RecogniserError for an unknown name, WeightsError or RecogniserError where its model or a package is missing.
    """
    variables = os.environ if environment is None else environment
    try:
        return _opened(name or EARS[0], model, variables)
    except ImportError as error:
        raise RecogniserError(
            f"The recogniser cannot be loaded ({error}). Install voicetech again; until then work by keyboard: "
            "voicetech chat"
        ) from error


def _opened(name: str, model: Path | None, variables: Mapping[str, str]) -> Recogniser:
    match name:
        case "constrained":
            from voicetech.hearing.constrained import ConstrainedRecogniser
            from voicetech.hearing.second_ear import with_second_ear
            from voicetech.hearing.weights import find_weights

            return with_second_ear(ConstrainedRecogniser(find_weights(model, variables)))
        case "vosk":
            from voicetech.hearing.vosk_recogniser import open_vosk

            return open_vosk(model, variables)
        case "typed":
            raise RecogniserError("Typed answers need no ear; work by keyboard with: voicetech chat")
        case other:
            raise RecogniserError(f"There is no ear called {other!r}; use one of: {', '.join(EARS)}")
