"""Stages for the tests of talking."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.talking.stage import Stage, Stages


@pytest.fixture
def stage(tmp_path: Path) -> Iterator[Stages]:
    made: list[Stage] = []

    def make(**how: bool) -> Stage:
        made.append(Stage(tmp_path, **how))
        return made[-1]

    yield make
    for one in made:
        one.close()


@pytest.fixture
def speaking(stage: Stages) -> Stage:
    """A stage whose voice is in the middle of the first prompt, at 1 s of the recording."""
    one = stage(beside=True, holds=True)
    one.talk.begin(one.first)
    assert one.voice.started.wait(10), "the voice never began"
    one.recording_s = 1.0
    return one
