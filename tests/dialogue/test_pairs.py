"""Which pair of points is meant, by what technicians call them (common practice, no source)."""

import pytest

from tests.dialogue.talker import shipped
from voicetech.dialogue.pairs import meant_pair, named_pair, only_a_side
from voicetech.procedure import Measure


def step(section: str, name: str) -> Measure:
    found = shipped().step(section, name)
    assert isinstance(found, Measure)
    return found


@pytest.mark.parametrize(
    ("section", "name", "owed_from", "label", "meant"),
    [
        ("supply", "supply-idle", 0, "L1-N", "L1-N"),
        ("supply", "supply-idle", 0, "N-L2", "L2-N"),
        ("supply", "supply-idle", 0, "hot-hot", "L1-L2"),
        ("supply", "supply-idle", 1, "neutral", "L1-N"),
        ("supply", "supply-idle", 0, "neutral-ground", "N-frame"),
        ("outlet-volts", "outlet-pairs", 0, "hot-hot", "X-Y"),
        ("bake", "bake-sheath", 0, "sheath", "bake 1-sheath"),
        ("bake", "bake-sheath", 1, "earth", "bake 2-sheath"),
        ("bake", "bake-sheath", 1, "case", "bake 2-sheath"),
    ],
)
def test_a_label_means_its_pair(section: str, name: str, owed_from: int, label: str, meant: str) -> None:
    asked = step(section, name)
    pair = meant_pair(asked, asked.pairs[owed_from:], label)
    assert pair is not None
    assert pair.label == meant


@pytest.mark.parametrize(
    ("owed_from", "label"),
    [
        (0, "neutral"),
        (0, "frame"),
        (0, "hot-neutral"),
        (0, "start"),
        (3, "L1-frame"),
    ],
)
def test_what_fits_another_pair_or_more_than_one_is_none(owed_from: int, label: str) -> None:
    asked = step("supply", "supply-idle")
    assert meant_pair(asked, asked.pairs[owed_from:], label) is None


def test_a_side_is_no_point() -> None:
    assert only_a_side("left")
    assert not only_a_side("L1")
    assert named_pair(step("supply", "supply-idle"), "left") is None
