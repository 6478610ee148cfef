"""Missing events in words: runs together, each unreadable one by itself."""

import pytest

from voicetech.journal.gaps import gaps_told, numbers_told
from voicetech.journal.store import LeftOut


@pytest.mark.parametrize(
    ("numbers", "told"),
    [
        ([5], "event 5"),
        ([1, 2, 3], "events 1 to 3"),
        ([4, 2], "events 2 and 4"),
        ([1, 2, 9, 11, 12], "events 1 to 2, 9 and 11 to 12"),
    ],
)
def test_numbers_are_told_in_runs(numbers: list[int], told: str) -> None:
    assert numbers_told(numbers) == told


def test_missing_events_are_told_by_the_run_and_changed_ones_each() -> None:
    missing = [LeftOut(seq, "", "it is missing") for seq in (*range(1, 44), 50)]
    changed = LeftOut(51, "note-taken/1", "it was changed after it was recorded")
    assert list(gaps_told([*missing, changed])) == [
        "events 1 to 43 are missing",
        "event 50 is missing",
        "event 51 (note-taken/1): it was changed after it was recorded",
    ]
    assert list(gaps_told([])) == []
