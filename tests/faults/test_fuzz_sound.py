"""Sound files whose headers, or anything else of them, is not what it should be: read, or told in one sentence."""

import io
import struct
from contextlib import suppress
from pathlib import Path

import numpy as np
import pytest
import soundfile
from hypothesis import example, given
from hypothesis import strategies as st

from tests.faults.bounds import bounded, message_of
from voicetech.hearing.errors import SoundFileError
from voicetech.hearing.frames import RATE_HZ
from voicetech.hearing.sound_file import LONGEST_S, file_utterances, read_sound
from voicetech.journal.errors import JournalError
from voicetech.journal.sounds import load_sound, save_sound, whole_sounds

SECOND = (0.2 * np.sin(np.arange(RATE_HZ) / 20)).astype(np.float32)
HEADER = 64
"""Bytes in which the headers of a short WAV and FLAC file stand."""


def as_bytes(kind: str, subtype: str) -> bytes:
    made = io.BytesIO()
    soundfile.write(made, SECOND, RATE_HZ, format=kind, subtype=subtype)
    return made.getvalue()


WHOLE = {
    "wav": as_bytes("WAV", "PCM_16"),
    "float.wav": as_bytes("WAV", "FLOAT"),
    "flac": as_bytes("FLAC", "PCM_16"),
    "ogg": as_bytes("OGG", "VORBIS"),
    "aiff": as_bytes("AIFF", "PCM_24"),
}
EDITS = st.lists(
    st.one_of(
        st.tuples(st.just("bit"), st.integers(0, HEADER * 8 - 1), st.integers(0, 0)),
        st.tuples(st.just("byte"), st.integers(0, HEADER - 1), st.integers(0, 255)),
        st.tuples(st.just("word"), st.integers(0, HEADER - 4), st.integers(0, 2**32 - 1)),
        st.tuples(st.just("anywhere"), st.integers(0, 2**16), st.integers(0, 255)),
        st.tuples(st.just("cut"), st.integers(0, 2**16), st.integers(0, 0)),
        st.tuples(st.just("doubled"), st.integers(0, HEADER), st.integers(1, HEADER)),
        st.tuples(st.just("without"), st.integers(0, HEADER), st.integers(1, HEADER)),
    ),
    min_size=1,
    max_size=4,
)


def edited(content: bytes, edits: list[tuple[str, int, int]]) -> bytes:
    made = bytearray(content)
    for kind, at, value in edits:
        match kind:
            case "bit" if at // 8 < len(made):
                made[at // 8] ^= 1 << at % 8
            case "byte" if at < len(made):
                made[at] = value
            case "word" if at + 4 <= len(made):
                made[at : at + 4] = struct.pack("<I", value)
            case "anywhere" if made:
                made[at % len(made)] = value
            case "cut":
                del made[at % (len(made) + 1) :]
            case "doubled":
                made[at:at] = made[at : at + value]
            case "without":
                del made[at : at + value]
            case _:
                pass
    return bytes(made)


@bounded(250)
@given(st.sampled_from(sorted(WHOLE)), EDITS)
@example("wav", [("word", 24, 2**32 - 1)])
@example("wav", [("word", 40, 2**32 - 1)])
@example("wav", [("byte", 22, 255), ("byte", 23, 255)])
@example("wav", [("byte", 32, 0), ("byte", 33, 0)])
@example("flac", [("byte", 18, 0), ("byte", 19, 0)])
def test_a_sound_file_is_read_or_told_in_one_sentence(
    tmp_path: Path, suffix: str, edits: list[tuple[str, int, int]]
) -> None:
    path = tmp_path / f"edited.{suffix}"
    path.write_bytes(edited(WHOLE[suffix], edits))
    said = message_of(SoundFileError, lambda: read_sound(path))
    if said:
        assert said.startswith(f"{path}: ")
        assert "\n" not in said
        return
    samples = read_sound(path)
    assert 0 < len(samples) <= LONGEST_S * RATE_HZ
    assert np.isfinite(samples).all()
    assert float(np.abs(samples).max()) <= 1.0
    for utterance in file_utterances(path):
        assert len(utterance.samples)


@bounded(80)
@given(EDITS)
def test_a_kept_sound_is_what_it_was_or_is_told(tmp_path: Path, edits: list[tuple[str, int, int]]) -> None:
    folder = tmp_path / "sounds"
    name = save_sound(folder, SECOND)
    whole = load_sound(folder, name)
    path = folder / f"{name}.flac"
    content = path.read_bytes()
    path.write_bytes(edited(content, edits))
    try:
        said = message_of(JournalError, lambda: load_sound(folder, name))
        if said:
            assert "Put it back from a copy" in said
            assert not whole_sounds(folder, [name])
        else:
            assert (load_sound(folder, name) == whole).all()
    finally:
        path.write_bytes(content)


@pytest.mark.parametrize("suffix", sorted(WHOLE))
def test_a_sound_file_cut_after_each_byte_of_its_header(tmp_path: Path, suffix: str) -> None:
    path = tmp_path / f"cut.{suffix}"
    for length in range(HEADER):
        path.write_bytes(WHOLE[suffix][:length])
        with suppress(SoundFileError):
            # Of one whose header is whole, what is there.
            assert len(read_sound(path)) <= (length - 44) // 2 + 1
