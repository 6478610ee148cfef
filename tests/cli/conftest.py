"""Fixtures that commands share."""

from pathlib import Path

import pytest

from tests.cli.voices import Ears, TurnEar


@pytest.fixture
def job_home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A home folder for jobs that are worked in this process."""
    folder = tmp_path / "home"
    folder.mkdir()
    monkeypatch.setenv("VOICETECH_HOME", str(folder))
    monkeypatch.setenv("COLUMNS", "120")
    return folder


@pytest.fixture
def ears(monkeypatch: pytest.MonkeyPatch) -> Ears:
    def use(*turns: str) -> TurnEar:
        ear = TurnEar(*turns)
        monkeypatch.setattr("voicetech.hearing.ears.open_ear", lambda _name, _model: ear)
        return ear

    return use
