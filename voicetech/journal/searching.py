"""Files looked through for bytes that should not be left in them."""

import mmap
import re
from collections.abc import Collection, Iterable, Sequence
from pathlib import Path
from typing import Final

import numpy as np
import numpy.typing as npt

_AT_ONCE: Final = 4 * 1024 * 1024
"""Bytes that are looked through at once: what that takes in memory is some ten times as much."""
_TOLD_BY: Final = 4
"""How many of its first bytes are looked at before the whole of a sequence is."""


def files_holding(files: Iterable[Path], patterns: Sequence[bytes], exact: Collection[bytes] = ()) -> tuple[Path, ...]:
    """Return those of these files in which anything stands that one of the patterns fits, or any of the exact bytes.

    The exact ones are all of one length, at least 4. A pattern is fastest where it begins with bytes that are certain.
    """
    compiled = [re.compile(pattern, re.DOTALL) for pattern in patterns]
    wanted = frozenset(exact)
    return tuple(file for file in files if file.exists() and file.stat().st_size and _holds(file, compiled, wanted))


def _holds(file: Path, patterns: Iterable[re.Pattern[bytes]], exact: frozenset[bytes]) -> bool:
    with file.open("rb") as opened, mmap.mmap(opened.fileno(), 0, access=mmap.ACCESS_READ) as content:
        return any(pattern.search(content) for pattern in patterns) or (bool(exact) and _any_stands_in(content, exact))


def _any_stands_in(content: mmap.mmap, exact: frozenset[bytes]) -> bool:
    """Return whether any of hundreds of byte sequences of one length stands in a file.

    One pattern of all of them would be tried at nearly every byte, which takes minutes where this takes seconds.
    """
    length = len(next(iter(exact)))
    first, second = _begins_with(exact, 0), _begins_with(exact, 2)
    for at in range(0, len(content), _AT_ONCE):
        piece = np.frombuffer(content[at : at + _AT_ONCE + length - 1], np.uint8)
        if len(piece) < max(length, _TOLD_BY):
            continue
        pairs = piece[:-1] | piece[1:].astype(np.uint16) << np.uint16(8)
        for place in np.flatnonzero(first[pairs[:-2]] & second[pairs[2:]]):
            found = at + int(place)
            if content[found : found + length] in exact:
                return True
    return False


def _begins_with(exact: Iterable[bytes], place: int) -> npt.NDArray[np.bool_]:
    """Return for every two bytes whether they stand at this place of any of the sequences."""
    table = np.zeros(1 << 16, np.bool_)
    for each in exact:
        table[int.from_bytes(each[place : place + 2], "little")] = True
    return table
