"""The real voice makes sound of plausible length; the sound device is replaced, since a test may have none."""

import shutil
import wave
from collections.abc import Iterator
from pathlib import Path

import espeakng_loader
import numpy as np
import pytest
import soundfile

from voicetech.language.spoken_length import spoken_length_s
from voicetech.speaking.file_speaker import FileSpeaker
from voicetech.speaking.pyttsx3_speaker import Pyttsx3Speaker
from voicetech.speaking.speaker import SpeakingError
from voicetech.speaking.tone import listening_tone

PROMPT = "Switch the breaker off, lock it and tag it. Say locked out."

NO_PORTAUDIO = 'raise OSError("PortAudio library not found")\n'

NO_DEVICE = """
class PortAudioError(Exception):
    pass

def check_output_settings(**settings):
    raise PortAudioError("no such rate")

def query_devices(kind):
    with open({record!r}, "a") as lines:
        lines.write("tried\\n")
    raise PortAudioError("no device")
"""

DEVICE = """
import json

class PortAudioError(Exception):
    pass

def check_output_settings(samplerate, **settings):
    if samplerate != {rate_hz}:
        raise PortAudioError("no such rate")

def query_devices(kind):
    return {{"default_samplerate": float({rate_hz})}}

class RawOutputStream:
    def __init__(self, samplerate, channels, dtype):
        assert (channels, dtype) == (1, "int16")
        check_output_settings(samplerate)

    def __enter__(self):
        return self

    def __exit__(self, *cause):
        pass

    def write(self, samples):
        with open({record!r}, "ab") as heard:
            heard.write(samples)

    def stop(self):
        pass
"""


@pytest.fixture
def speaker(tmp_path: Path) -> Iterator[FileSpeaker]:
    voice = FileSpeaker(tmp_path / "prompts")
    yield voice
    voice.close()


def length_s(path: Path) -> float:
    return float(soundfile.info(path).duration)


def loudness(path: Path) -> float:
    samples, _ = soundfile.read(path)
    return float(np.sqrt(np.mean(samples**2)))


def made_of(speaker: FileSpeaker, folder: Path, text: str) -> Path:
    speaker.say(text)
    return max(folder.glob("*.wav"))


def say_through(module: str, folder: Path, monkeypatch: pytest.MonkeyPatch, *texts: str) -> list[str]:
    """Say the texts with that module in the place of the sound device; return what was told."""
    (folder / "sounddevice.py").write_text(module, encoding="utf-8")
    monkeypatch.setenv("PYTHONPATH", str(folder))
    told: list[str] = []
    voice = Pyttsx3Speaker(told.append)
    try:
        for text in texts:
            voice.say(text)
    finally:
        voice.close()
    return told


def test_each_prompt_gets_a_numbered_file_with_sound_in_it(speaker: FileSpeaker, tmp_path: Path) -> None:
    for text in ("Leg to leg.", "", PROMPT):
        speaker.say(text)
    files = sorted((tmp_path / "prompts").iterdir())
    assert [file.name for file in files] == ["prompt-0001.wav", "prompt-0002.wav"]
    assert all(loudness(file) > 0.01 for file in files)
    assert length_s(files[0]) < length_s(files[1])


def test_numbers_go_on_after_the_files_that_are_there(tmp_path: Path) -> None:
    (tmp_path / "prompt-0041.wav").touch()
    voice = FileSpeaker(tmp_path)
    voice.say("Leg to leg.")
    voice.close()
    assert length_s(tmp_path / "prompt-0042.wav") > 0.5


@pytest.mark.parametrize(
    "text",
    [
        PROMPT,
        "Two forty one volts. Next, leg one to neutral.",
        "12.8 ohms, within limits.",
        "Do not touch a person who is held. Kill the power at the breaker.",
        "Say again.",
    ],
)
@pytest.mark.parametrize("words_per_minute", [125, 175, 250])
def test_the_estimated_length_is_near_the_spoken_one(
    speaker: FileSpeaker, tmp_path: Path, text: str, words_per_minute: int
) -> None:
    speaker.set_rate(words_per_minute)
    spoken_s = length_s(made_of(speaker, tmp_path / "prompts", text))
    assert spoken_length_s(text, words_per_minute) == pytest.approx(spoken_s, rel=0.25)


def test_every_sentence_is_whole_and_at_the_rate_asked_for(speaker: FileSpeaker, tmp_path: Path) -> None:
    lengths: dict[int, set[float]] = {100: set(), 175: set(), 250: set()}
    for _ in range(10):
        for words_per_minute, seen in lengths.items():
            speaker.set_rate(words_per_minute)
            seen.add(length_s(made_of(speaker, tmp_path / "prompts", PROMPT)))
    for seen in lengths.values():
        assert max(seen) == pytest.approx(min(seen), rel=0.02)
    assert min(lengths[100]) > 1.5 * max(lengths[175])
    assert min(lengths[175]) > 1.2 * max(lengths[250])


def test_louder_is_louder_and_never_clips(speaker: FileSpeaker, tmp_path: Path) -> None:
    speaker.set_volume(0.0)
    soft = made_of(speaker, tmp_path / "prompts", PROMPT)
    speaker.set_volume(10.0)
    loud = made_of(speaker, tmp_path / "prompts", PROMPT)
    assert loudness(loud) > 2 * loudness(soft)
    assert np.abs(soundfile.read(loud)[0]).max() < 0.9999


def test_a_file_in_the_place_of_the_folder_is_an_error_that_names_it(tmp_path: Path) -> None:
    (tmp_path / "prompts").touch()
    with pytest.raises(SpeakingError, match="prompts"):
        FileSpeaker(tmp_path / "prompts")


def test_a_folder_that_is_gone_is_an_error(speaker: FileSpeaker, tmp_path: Path) -> None:
    shutil.rmtree(tmp_path / "prompts")
    with pytest.raises(SpeakingError, match="written"):
        speaker.say("Leg to leg.")


def test_the_voice_speaks_from_a_very_long_install_path(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    # eSpeak NG 1.52 cuts paths off at about 145 bytes and then finds no data (measured).
    deep = tmp_path / ("d" * 100) / ("e" * 100)
    deep.mkdir(parents=True)
    (deep / "espeak-ng-data").symlink_to(espeakng_loader.get_data_path())
    (tmp_path / "espeakng_loader.py").write_text(
        f"get_library_path = lambda: {espeakng_loader.get_library_path()!r}\n"
        f"get_data_path = lambda: {str(deep / 'espeak-ng-data')!r}\n",
        encoding="utf-8",
    )
    monkeypatch.setenv("PYTHONPATH", str(tmp_path))
    voice = FileSpeaker(tmp_path / "prompts")
    voice.say(PROMPT)
    voice.close()
    assert length_s(tmp_path / "prompts" / "prompt-0001.wav") == pytest.approx(spoken_length_s(PROMPT), rel=0.25)


def test_a_speech_library_that_cannot_be_loaded_is_said_plainly(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "espeakng_loader.py").write_text("get_library_path = lambda: '/none.so'\n", encoding="utf-8")
    monkeypatch.setenv("PYTHONPATH", str(tmp_path))
    told: list[str] = []
    voice = Pyttsx3Speaker(told.append)
    voice.say("Leg to leg.")
    voice.say("Leg to leg.")
    voice.close()
    assert len(told) == 1
    assert "speech library" in told[0]
    assert "work by text" in told[0]


def test_missing_portaudio_is_said_once_with_what_to_install(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    told = say_through(NO_PORTAUDIO, tmp_path, monkeypatch, "Leg to leg.", PROMPT)
    assert len(told) == 1
    assert "libportaudio2" in told[0]


def test_a_missing_device_is_said_once_and_tried_again_at_each_prompt(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    record = tmp_path / "tried"
    told = say_through(NO_DEVICE.format(record=str(record)), tmp_path, monkeypatch, "Leg to leg.", PROMPT)
    assert len(told) == 1
    assert "headset" in told[0]
    assert record.read_text(encoding="utf-8").count("tried") == 2


def test_a_headset_plugged_in_later_is_used(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    record, device, told = tmp_path / "heard", tmp_path / "sounddevice.py", list[str]()
    device.write_text(NO_DEVICE.format(record=str(tmp_path / "tried")), encoding="utf-8")
    monkeypatch.setenv("PYTHONPATH", str(tmp_path))
    monkeypatch.setenv("PYTHONDONTWRITEBYTECODE", "1")
    voice = Pyttsx3Speaker(told.append)
    voice.say("Leg to leg.")
    device.write_text(DEVICE.format(record=str(record), rate_hz=22_050), encoding="utf-8")
    voice.say("Leg to leg.")
    voice.close()
    assert len(told) == 1
    assert record.stat().st_size > 22_050


@pytest.mark.parametrize("rate_hz", [22_050, 44_100, 48_000])
def test_the_whole_prompt_reaches_a_device_of_any_rate(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, rate_hz: int
) -> None:
    record = tmp_path / "heard"
    module = DEVICE.format(record=str(record), rate_hz=rate_hz)
    assert say_through(module, tmp_path, monkeypatch, PROMPT) == []
    heard = np.frombuffer(record.read_bytes(), dtype="<i2")
    assert len(heard) / rate_hz == pytest.approx(spoken_length_s(PROMPT), rel=0.25)
    assert np.abs(heard).max() > 8_000


def test_the_tone_reaches_the_device_at_its_volume(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    record = tmp_path / "heard"
    (tmp_path / "sounddevice.py").write_text(DEVICE.format(record=str(record), rate_hz=22_050), encoding="utf-8")
    monkeypatch.setenv("PYTHONPATH", str(tmp_path))
    told: list[str] = []
    voice = Pyttsx3Speaker(told.append)
    voice.tone()
    assert voice.check() is None
    voice.close()
    assert told == []
    assert record.read_bytes() == listening_tone() * 2


def test_prompts_are_sixteen_bit_mono(speaker: FileSpeaker, tmp_path: Path) -> None:
    with wave.open(str(made_of(speaker, tmp_path / "prompts", "Open.")), "rb") as sound:
        assert (sound.getnchannels(), sound.getsampwidth()) == (1, 2)
