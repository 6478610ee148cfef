"""Fixtures for commands that work by voice."""

import pytest

from tests.cli.voices import Ears, TurnEar


@pytest.fixture
def ears(monkeypatch: pytest.MonkeyPatch) -> Ears:
    def use(*turns: str) -> TurnEar:
        ear = TurnEar(*turns)
        monkeypatch.setattr("voicetech.hearing.ears.open_ear", lambda _name, _model: ear)
        return ear

    return use
