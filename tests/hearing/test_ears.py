"""Ears by name."""

import subprocess
import sys

import pytest
from typer.testing import CliRunner

from voicetech.cli import app
from voicetech.hearing import vosk_recogniser, weights
from voicetech.hearing.ears import EARS, open_ear
from voicetech.hearing.errors import HearingError


@pytest.mark.parametrize("name", [None, "constrained"])
def test_the_default_ear_is_the_constrained_one(name: str | None) -> None:
    assert open_ear(name, environment={}).name == EARS[0] == "constrained"


def test_an_unknown_ear_is_answered_with_the_names() -> None:
    with pytest.raises(HearingError, match="constrained, vosk"):
        open_ear("left", environment={})


def test_typed_answers_are_sent_to_chat() -> None:
    with pytest.raises(HearingError, match="voicetech chat"):
        open_ear("typed", environment={})


def test_vosk_asks_for_its_model() -> None:
    with pytest.raises(HearingError, match="VOICETECH_VOSK_MODEL"):
        open_ear("vosk", environment={})


def test_nothing_heavy_is_loaded_before_an_ear_is_opened() -> None:
    code = "import sys, voicetech.hearing.ears; print([m for m in ('onnxruntime', 'vosk') if m in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_the_help_names_the_ears_and_where_their_models_are_looked_for() -> None:
    shown = CliRunner().invoke(app, ["talk", "--help"], env={"COLUMNS": "200"}).output
    for name in (*EARS, "--model", weights.FOLDER_VARIABLE, vosk_recogniser.FOLDER_VARIABLE):
        assert name in shown
