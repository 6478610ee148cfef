"""Recognisers by name, for the command line."""

import os
from collections.abc import Mapping
from pathlib import Path

from voicetech.hearing.constrained import ENGINE as CONSTRAINED
from voicetech.hearing.constrained import ConstrainedRecogniser
from voicetech.hearing.errors import RecogniserError
from voicetech.hearing.recogniser import Recogniser
from voicetech.hearing.vosk_recogniser import ENGINE as VOSK
from voicetech.hearing.vosk_recogniser import open_vosk
from voicetech.hearing.weights import find_weights

EARS = (CONSTRAINED, VOSK)


def open_ear(
    name: str | None = None, model: Path | None = None, environment: Mapping[str, str] | None = None
) -> Recogniser:
    """Return the recogniser called `name` (default: constrained), its model in the folder `model` if given.

    Raises RecogniserError for an unknown name, WeightsError or RecogniserError where its model is missing.
    """
    variables = os.environ if environment is None else environment
    match name or CONSTRAINED:
        case "constrained":
            return ConstrainedRecogniser(find_weights(model, variables))
        case "vosk":
            return open_vosk(model, variables)
        case other:
            raise RecogniserError(f"There is no ear called {other!r}; use one of: {', '.join(EARS)}")
