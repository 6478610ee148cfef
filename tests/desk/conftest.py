"""Rooms with a desk for the tests; every desk is left at the end."""

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from tests.desk.tab import Room
from voicetech.events import Channel
from voicetech.hearing.recogniser import Recogniser

Rooms = Callable[..., Room]


@pytest.fixture
def room(tmp_path: Path) -> Iterator[Rooms]:
    made: list[Room] = []

    def make(channel: Channel = Channel.PAGE, ear: Callable[[], Recogniser] | None = None) -> Room:
        made.append(Room(tmp_path, channel, ear))
        return made[-1]

    yield make
    for each in made:
        each.desk.end("the test is over")
