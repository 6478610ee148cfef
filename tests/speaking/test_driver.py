"""What drives the voice: pyttsx3 where it says the whole prompt, the library itself where it does not."""

import wave
from pathlib import Path

import pytest

from voicetech.language.spoken_length import spoken_length_s
from voicetech.speaking import voice_process
from voicetech.speaking.file_speaker import FileSpeaker
from voicetech.speaking.pyttsx3_speaker import Pyttsx3Speaker
from voicetech.speaking.voice_process import Driver, plausible_lengths_s

PROMPT = "Switch the breaker off, lock it and tag it. Say locked out."

PYTTSX3 = """
import threading
import wave

class Engine:
    def setProperty(self, name, value):
        if name == "rate":
            self.rate = value

    def getProperty(self, name):
        return self.rate

    def save_to_file(self, text, path):
        self.path = path

    def write(self, length_s):
        with wave.open(self.path, "wb") as sound:
            sound.setnchannels(1)
            sound.setsampwidth(2)
            sound.setframerate(8_000)
            sound.writeframes(bytes(2 * round(8_000 * length_s)))

    def startLoop(self):
        if self.path.endswith("first.wav"):
            return
        with open({record!r}, "a") as lines:
            lines.write("asked\\n")
        with open({record!r}) as lines:
            times = len(lines.readlines())
        {fault}

    runAndWait = startLoop

    def endLoop(self):
        pass

def init(driver):
    return Engine()
"""

FAULTS = {
    "no file": "pass",
    "an empty file": "self.write(0.0)",
    "cut short": "self.write(1.0)",
    "without end": "self.write(600.0)",
    "half written": "self.write(4.0); data = open(self.path, 'rb').read(); open(self.path, 'wb').write(data[:-9_000])",
    "an error": "raise RuntimeError('run loop already started')",
}


@pytest.fixture
def record(tmp_path: Path) -> Path:
    return tmp_path / "record"


def say_through(fault: str, folder: Path, record: Path, monkeypatch: pytest.MonkeyPatch, times: int = 1) -> Driver:
    """Say the prompt with a pyttsx3 that has the fault; return what made the last file."""
    (folder / "pyttsx3.py").write_text(PYTTSX3.format(record=str(record), fault=fault), encoding="utf-8")
    monkeypatch.setenv("PYTHONPATH", str(folder))
    voice = FileSpeaker(folder / "prompts")
    for _ in range(times):
        voice.say(PROMPT)
    voice.close()
    assert voice.driver is not None
    return voice.driver


def asked(record: Path) -> int:
    return len(record.read_text(encoding="utf-8").splitlines())


def length_s(path: Path) -> float:
    with wave.open(str(path), "rb") as sound:
        return sound.getnframes() / sound.getframerate()


def test_pyttsx3_makes_the_prompts_and_says_so(tmp_path: Path) -> None:
    voice = FileSpeaker(tmp_path)
    assert voice.driver is None
    voice.say(PROMPT)
    assert voice.driver is Driver.PYTTSX3
    voice.close()
    assert length_s(tmp_path / "prompt-0001.wav") == pytest.approx(spoken_length_s(PROMPT), rel=0.25)


def test_pyttsx3_makes_what_is_said_aloud(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "sounddevice.py").write_text("raise OSError('no PortAudio')\n", encoding="utf-8")
    monkeypatch.setenv("PYTHONPATH", str(tmp_path))
    told: list[str] = []
    voice = Pyttsx3Speaker(told.append)
    voice.say(PROMPT)
    voice.close()
    assert voice.driver is Driver.PYTTSX3
    assert len(told) == 1


def test_both_drivers_make_the_same_sound_at_every_rate(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    through_pyttsx3 = FileSpeaker(tmp_path / "pyttsx3")
    without = tmp_path / "without"
    without.mkdir()
    (without / "pyttsx3.py").write_text("raise ImportError('not installed')\n", encoding="utf-8")
    monkeypatch.setenv("PYTHONPATH", str(without))
    direct = FileSpeaker(tmp_path / "direct")
    for words_per_minute in (250, 100, 175, 260, 125, 250, 100):
        for voice in (through_pyttsx3, direct):
            voice.set_rate(words_per_minute)
            voice.say(PROMPT)
        assert (through_pyttsx3.driver, direct.driver) == (Driver.PYTTSX3, Driver.LIBRARY)
    through_pyttsx3.close()
    direct.close()
    for path in sorted((tmp_path / "direct").iterdir()):
        assert length_s(tmp_path / "pyttsx3" / path.name) == pytest.approx(length_s(path), abs=0.05)


@pytest.mark.parametrize("fault", FAULTS.values(), ids=FAULTS)
def test_a_prompt_that_pyttsx3_does_not_say_whole_is_asked_of_it_twice_and_then_made_by_the_library(
    fault: str, tmp_path: Path, record: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert say_through(fault, tmp_path, record, monkeypatch) is Driver.LIBRARY
    assert asked(record) == 2
    spoken_s = length_s(tmp_path / "prompts" / "prompt-0001.wav")
    assert spoken_s == pytest.approx(spoken_length_s(PROMPT), rel=0.25)


def test_a_fault_that_comes_once_is_mended_by_asking_again(
    tmp_path: Path, record: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert say_through("times > 1 and self.write(4.0)", tmp_path, record, monkeypatch) is Driver.PYTTSX3
    assert asked(record) == 2


def test_a_prompt_at_another_rate_than_asked_for_does_not_count(
    tmp_path: Path, record: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert say_through("self.write(4.0); self.rate = 99", tmp_path, record, monkeypatch) is Driver.LIBRARY


def test_after_a_prompt_it_failed_at_pyttsx3_is_asked_for_the_next(
    tmp_path: Path, record: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert say_through("times > 2 and self.write(4.0)", tmp_path, record, monkeypatch, times=2) is Driver.PYTTSX3
    assert asked(record) == 3


def test_a_pyttsx3_that_hangs_is_left_and_not_asked_again(
    tmp_path: Path, record: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(voice_process, "PYTTSX3_WITHIN_S", 3.0)
    assert say_through("threading.Event().wait()", tmp_path, record, monkeypatch, times=2) is Driver.LIBRARY
    assert asked(record) == 2


@pytest.mark.parametrize(
    "text", ["1000000", "9 1 1", "GFCI", "Ω", "25 °C", "{}{} x", "Do not touch a person who is held.", "no"]
)
@pytest.mark.parametrize("words_per_minute", [100, 175, 260])
def test_what_the_library_makes_of_a_text_is_plausible(tmp_path: Path, text: str, words_per_minute: int) -> None:
    voice = FileSpeaker(tmp_path)
    voice.set_rate(words_per_minute)
    voice.say(text)
    voice.close()
    least_s, most_s = plausible_lengths_s(text, words_per_minute)
    assert least_s <= length_s(tmp_path / "prompt-0001.wav") <= most_s
    assert voice.driver is Driver.PYTTSX3
