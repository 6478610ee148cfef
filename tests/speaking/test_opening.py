"""Which voice each kind gives."""

from pathlib import Path
from typing import Any

import pytest

from voicetech.speaking.file_speaker import FileSpeaker
from voicetech.speaking.opening import open_speaker
from voicetech.speaking.pyttsx3_speaker import Pyttsx3Speaker
from voicetech.speaking.silent_speaker import SilentSpeaker
from voicetech.speaking.speaker import SpeakingError
from voicetech.speaking.voice_process import ChildVoice


def test_each_kind_gives_its_voice(tmp_path: Path) -> None:
    kinds: tuple[tuple[Any, type], ...] = (
        ("aloud", Pyttsx3Speaker),
        ("silent", SilentSpeaker),
        (tmp_path / "new" / "folder", FileSpeaker),
    )
    for kind, adapter in kinds:
        speaker = open_speaker(kind)
        assert isinstance(speaker, adapter)
        speaker.close()
    assert (tmp_path / "new" / "folder").is_dir()


def test_an_unknown_kind_is_an_error_that_names_the_known_ones() -> None:
    unknown: Any = "shout"
    with pytest.raises(SpeakingError, match="aloud, silent or a folder"):
        open_speaker(unknown)


def test_a_voice_that_cannot_be_started_is_an_error_that_says_what_to_do() -> None:
    with pytest.raises(SpeakingError, match="work by text"):
        ChildVoice(("/no/such/program",))


def test_without_a_teller_problems_go_to_standard_error(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "sounddevice.py").write_text("raise OSError('PortAudio library not found')\n", encoding="utf-8")
    monkeypatch.setenv("PYTHONPATH", str(tmp_path))
    speaker = open_speaker("aloud")
    speaker.say("Leg to leg.")
    speaker.close()
    assert "PortAudio" in capsys.readouterr().err
