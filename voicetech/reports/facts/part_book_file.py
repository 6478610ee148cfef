"""A shop's part book from its file, whatever a spreadsheet program has saved it as."""

import codecs
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Final

from voicetech.reports.facts.part_book import BookFinding, PartBook, read_part_book

_LARGEST_BYTES: Final = 20_000_000
_MARKS: Final = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)


class PartBookError(Exception):
    """A part book cannot be used; the message holds every finding with its file and line.

    `book` is what could be read of it, None where nothing could, and `findings` are what the message holds.
    """

    def __init__(self, message: str, book: PartBook | None = None, findings: Sequence[BookFinding] = ()) -> None:
        super().__init__(message)
        self.book = book
        self.findings = findings


def part_book_path(home: Path) -> Path:
    """Return the file that is the part book where none is named."""
    return home / "parts.csv"


def load_part_book(path: Path) -> PartBook:
    """Return the part book of this file. Raises PartBookError with all that is wrong with it at once."""
    try:
        if path.stat().st_size > _LARGEST_BYTES:
            raise PartBookError(f"{path}: larger than {_LARGEST_BYTES // 1_000_000} MB; is this the part book?")
        content = path.read_bytes()
    except OSError as error:
        raise PartBookError(
            f"{path}: cannot be read ({error.strerror or error}); name the part book with --parts BOOK.csv"
        ) from None
    text, findings = _text(content)
    book = None
    if text is not None:
        book, findings = read_part_book(path.name, text)
        if not findings:
            return book
    raise PartBookError(in_words(path, findings), book, findings)


def in_words(path: Path, findings: Iterable[BookFinding]) -> str:
    """Return findings as they are told, a line each, with the file and the line they are of."""
    return "\n".join(f"{path}:{finding.line}: {finding.what}" for finding in findings)


def _text(content: bytes) -> tuple[str | None, tuple[BookFinding, ...]]:
    encoding = next((name for mark, name in _MARKS if content.startswith(mark)), "utf-8")
    try:
        text = content.decode(encoding)
    except UnicodeDecodeError:
        return None, tuple(_undecoded(content))
    if "\0" in text:
        line = text[: text.index("\0")].count("\n") + 1
        return None, (BookFinding(line, "this is no text; save the table as CSV (UTF-8)"),)
    return text, ()


def _undecoded(content: bytes) -> list[BookFinding]:
    """Return every line that is not UTF-8."""
    findings = []
    for number, line in enumerate(content.split(b"\n"), start=1):
        try:
            line.decode()
        except UnicodeDecodeError:
            findings.append(BookFinding(number, "not UTF-8; save the table as CSV (UTF-8)"))
    return findings or [BookFinding(1, "cannot be read as text; save the table as CSV (UTF-8)")]
