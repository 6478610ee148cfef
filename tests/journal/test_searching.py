"""Bytes are found wherever they stand in a file, and only those."""

import random
from pathlib import Path

import pytest

from voicetech.journal.searching import _AT_ONCE, files_holding

SEALS = [random.Random(seed).randbytes(32) for seed in range(400)]


def written(folder: Path, content: bytes) -> Path:
    path = folder / "file"
    path.write_bytes(content)
    return path


@pytest.mark.parametrize("before", [0, 1, 5000, _AT_ONCE - 32, _AT_ONCE - 31, _AT_ONCE - 1, _AT_ONCE, _AT_ONCE + 3])
def test_one_of_many_is_found_at_any_place(tmp_path: Path, before: int) -> None:
    path = written(tmp_path, random.Random(1000).randbytes(before) + SEALS[-1])
    assert files_holding([path], [], SEALS) == (path,)
    assert files_holding([path], [], SEALS[:-1]) == ()


def test_a_part_of_one_is_not_one(tmp_path: Path) -> None:
    path = written(tmp_path, b"".join(seal[:31] + b"." for seal in SEALS) + SEALS[0][:20])
    assert files_holding([path], [], SEALS) == ()


@pytest.mark.parametrize("content", [b"", b"abc", b"a" * 31])
def test_a_file_shorter_than_what_is_looked_for_holds_nothing(tmp_path: Path, content: bytes) -> None:
    assert files_holding([written(tmp_path, content), tmp_path / "none"], [b"abcd"], SEALS) == ()


def test_a_pattern_goes_over_every_byte(tmp_path: Path) -> None:
    path = written(tmp_path, b"a\n\xff\x00b")
    assert files_holding([path], [rb"x", rb"a.{3}b"]) == (path,)
