"""Counts read as they are said."""

import pytest

from voicetech.language.plural import so_many


@pytest.mark.parametrize(
    ("count", "one", "many", "told"),
    [(0, "job", "", "0 jobs"), (1, "job", "", "1 job"), (2, "job", "", "2 jobs"), (2, "entry", "entries", "2 entries")],
)
def test_one_is_one_and_all_others_are_several(count: int, one: str, many: str, told: str) -> None:
    assert so_many(count, one, many) == told
