"""The speech model's files: where they are, and proof that they are the ones the recogniser was calibrated on.

Looks in a given folder, in the folder named by VOICETECH_MODEL, or inside the installed moonshine-voice package
(found without importing it). Downloads nothing.
"""

import hashlib
import importlib.util
import os
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from voicetech.hearing.errors import HearingError

FOLDER_VARIABLE = "VOICETECH_MODEL"
"""The folder of the recogniser's model; without it, the one in the package `moonshine-voice`."""
PACKAGE = "moonshine_voice"
REQUIREMENT = "moonshine-voice==0.1.0"

ENCODER = "encoder_model.ort"
DECODER = "decoder_model_merged.ort"
TOKENIZER = "tokenizer.bin"

SHA256 = {
    ENCODER: "94e90a4654fc45cdfedb77c4c08e1739f48862998e58fada384b25118134f221",
    DECODER: "cf524c4862d36e9e5ab032eddc73637efd822d70e868ac575cf1a46e1e4708a0",
    TOKENIZER: "6884b35fd6377d4c4d32336a0bc152f36b64d1e45b6503683cdc238250a8472d",
}
"""Source: computed from the files in the wheel moonshine_voice 0.1.0 (assets/tiny-en)."""

_HOW = (
    f"Install them with: pip install {REQUIREMENT} (later releases do not carry them), or name a folder that "
    f"holds {ENCODER}, {DECODER} and {TOKENIZER} in the environment variable {FOLDER_VARIABLE}."
)


class WeightsError(HearingError):
    """The weights are missing or not the expected ones; the message says both ways to get them."""


@dataclass(frozen=True, slots=True)
class Weights:
    """Checked paths of the three files."""

    encoder: Path
    decoder: Path
    tokenizer: Path


def find_weights(folder: Path | None = None, environment: Mapping[str, str] | None = None) -> Weights:
    """Return the checked files from `folder`, else from VOICETECH_MODEL, else from the installed package.

    Raises WeightsError when a file is missing, unreadable or has another SHA-256 than the one calibrated on.
    """
    variables = os.environ if environment is None else environment
    named = folder or (Path(variables[FOLDER_VARIABLE]) if variables.get(FOLDER_VARIABLE) else None)
    place = named if named is not None else _package_folder()
    if not place.is_dir():
        raise WeightsError(f"The speech model's folder {place} does not exist. {_HOW}")
    for name, digest in SHA256.items():
        _check(place / name, digest)
    return Weights(place / ENCODER, place / DECODER, place / TOKENIZER)


def _package_folder() -> Path:
    spec = importlib.util.find_spec(PACKAGE)
    if spec is None or not spec.submodule_search_locations:
        raise WeightsError(f"The speech model's weights are not installed. {_HOW}")
    return Path(spec.submodule_search_locations[0]) / "assets" / "tiny-en"


def _check(path: Path, digest: str) -> None:
    try:
        with path.open("rb") as file:
            found = hashlib.file_digest(file, "sha256").hexdigest()
    except OSError as error:
        raise WeightsError(f"Cannot read {path}: {error.strerror or error}. {_HOW}") from error
    if found != digest:
        raise WeightsError(
            f"{path} is not the file this program was calibrated on (SHA-256 {found[:12]}…, expected "
            f"{digest[:12]}…). {_HOW}"
        )
