"""Rows read straight from the pages of a damaged database file, where SQLite itself gives up.

Knows as much of the file format as that takes: leaf pages of tables and of tables without row numbers, records,
overflow pages, and the log beside the file. Nothing is written. Source: sqlite.org/fileformat2.html (from memory).
"""

import struct
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Final

Value = int | float | str | bytes | None
Row = tuple[int | None, tuple[Value, ...]]
"""A row number, None in a table without, and the values of its columns as far as they are stored."""

_TABLE_LEAF: Final = 0x0D
_INDEX_LEAF: Final = 0x0A
_INDEX_INTERIOR: Final = 0x02
_FIRST_HEADER: Final = 100
"""Bytes before the first page's own header."""
_LOG_HEADER: Final = 32
_FRAME_HEADER: Final = 24
_PAGE_SIZES: Final = tuple(512 << power for power in range(8))
_MOST_BYTES: Final = 64 * 1024 * 1024
"""A longer row is damage. Judgement, no source."""
_INT_SIZES: Final = (0, 1, 2, 3, 4, 6, 8)


@dataclass(frozen=True, slots=True)
class Pages:
    """A database's pages by their number from 1, those in the log in the place of those in the file."""

    size: int
    by_number: Mapping[int, bytes]


def pages_of(file: bytes, log: bytes = b"") -> Pages:
    """Return the pages of a database file with the log beside it, as far as that was committed."""
    size = _page_size(file, log)
    pages = {at // size + 1: file[at : at + size] for at in range(0, len(file), size)}
    pages.update(_committed(log, size))
    return Pages(size, pages)


def _page_size(file: bytes, log: bytes) -> int:
    if file[:16] == b"SQLite format 3\0":
        told = int.from_bytes(file[16:18], "big")
        size = 65536 if told == 1 else told
        if size in _PAGE_SIZES or size == 65536:
            return size
    if len(log) >= _LOG_HEADER and int.from_bytes(log[8:12], "big") in _PAGE_SIZES:
        return int.from_bytes(log[8:12], "big")
    # What SQLite makes unless told otherwise.
    return 4096


def _committed(log: bytes, size: int) -> dict[int, bytes]:
    found: dict[int, bytes] = {}
    waiting: dict[int, bytes] = {}
    salts = log[16:24]
    for at in range(_LOG_HEADER, len(log) - _FRAME_HEADER - size + 1, _FRAME_HEADER + size):
        number, commits = struct.unpack(">II", log[at : at + 8])
        if log[at + 8 : at + 16] != salts:
            break
        waiting[number] = log[at + _FRAME_HEADER : at + _FRAME_HEADER + size]
        if commits:
            found.update(waiting)
            waiting = {}
    return found


def rows_of(pages: Pages) -> Iterator[Row]:
    """Yield every row that can be read on any page, in no order; what is damaged is passed over."""
    for number, page in pages.by_number.items():
        header = _FIRST_HEADER if number == 1 else 0
        if len(page) < pages.size or page[header] not in (_TABLE_LEAF, _INDEX_LEAF, _INDEX_INTERIOR):
            continue
        kind = page[header]
        count = int.from_bytes(page[header + 3 : header + 5], "big")
        first = header + (12 if kind == _INDEX_INTERIOR else 8)
        for place in range(first, min(first + 2 * count, pages.size - 1), 2):
            at = int.from_bytes(page[place : place + 2], "big")
            try:
                yield _row(pages, page, kind, at)
            except (IndexError, ValueError, KeyError, struct.error):
                continue


def _row(pages: Pages, page: bytes, kind: int, at: int) -> Row:
    if kind == _INDEX_INTERIOR:
        at += 4
    length, at = _varint(page, at)
    number: int | None = None
    if kind == _TABLE_LEAF:
        number, at = _varint(page, at)
    if length > _MOST_BYTES:
        raise ValueError("no row is that long")
    return number, _values(_payload(pages, page, at, length, in_table=kind == _TABLE_LEAF))


def _payload(pages: Pages, page: bytes, at: int, length: int, *, in_table: bool) -> bytes:
    usable = pages.size
    most = usable - 35 if in_table else (usable - 12) * 64 // 255 - 23
    if length <= most:
        return _bytes(page, at, length)
    least = (usable - 12) * 32 // 255 - 23
    local = least + (length - least) % (usable - 4)
    if local > most:
        local = least
    content = bytearray(_bytes(page, at, local))
    following = int.from_bytes(_bytes(page, at + local, 4), "big")
    while len(content) < length:
        overflow = pages.by_number[following]
        content += overflow[4 : 4 + length - len(content)]
        following = int.from_bytes(overflow[:4], "big")
    return bytes(content)


def _values(record: bytes) -> tuple[Value, ...]:
    header_length, at = _varint(record, 0)
    kinds: list[int] = []
    while at < header_length:
        kind, at = _varint(record, at)
        kinds.append(kind)
    if at != header_length:
        raise ValueError("a header that is longer than it says")
    values: list[Value] = []
    for kind in kinds:
        value, at = _value(record, at, kind)
        values.append(value)
    if at != len(record):
        raise ValueError("a record that is longer than its values")
    return tuple(values)


def _value(record: bytes, at: int, kind: int) -> tuple[Value, int]:
    match kind:
        case 0:
            return None, at
        case 7:
            (number,) = struct.unpack(">d", _bytes(record, at, 8))
            return number, at + 8
        case 8 | 9:
            return kind - 8, at
        case 10 | 11:
            raise ValueError("a kind of value that is not in use")
        case _ if kind < len(_INT_SIZES):
            return int.from_bytes(_bytes(record, at, _INT_SIZES[kind]), "big", signed=True), at + _INT_SIZES[kind]
        case _:
            length = (kind - 12) // 2
            content = _bytes(record, at, length)
            return (content.decode() if kind % 2 else content), at + length


def _bytes(content: bytes, at: int, length: int) -> bytes:
    if at + length > len(content):
        raise ValueError("the page ends before the value does")
    return content[at : at + length]


def _varint(content: bytes, at: int) -> tuple[int, int]:
    number = 0
    for place in range(8):
        byte = content[at + place]
        number = number << 7 | byte & 0x7F
        if not byte & 0x80:
            return number, at + place + 1
    return number << 8 | content[at + 8], at + 9
