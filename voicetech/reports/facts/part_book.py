"""A shop's own part book: a table of model patterns, part functions and part numbers, read from CSV text.

All that is wrong with a book is told at once, each finding with its line.
"""

import csv
import re
from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass
from fnmatch import translate
from typing import Final

from rapidfuzz import fuzz, process

from voicetech.language.plural import so_many

HEADINGS: Final = ("model", "function", "part_number", "description")
"""The columns of a part book, in any order."""
_MAY_BE_MISSING: Final = "description"
_SEPARATORS: Final = (",", ";", "\t")
_LONGEST_CELL: Final = 500
_CLOSE: Final = 70
"""How alike two names are that one may be meant by the other, of 100 (judgement, no source)."""
_FIRST_LINE: Final = ",".join(HEADINGS)


@dataclass(frozen=True, slots=True)
class BookLine:
    """One line of a part book: the part of this function in the models that the pattern fits."""

    model: str
    function: str
    number: str
    description: str
    line: int


@dataclass(frozen=True, slots=True)
class BookFinding:
    """One thing that is wrong with a part book, and what to do."""

    line: int
    what: str


@dataclass(frozen=True, slots=True)
class PartBook:
    """A part book that was read; `name` is what to call it, such as its file's name.

    `functions` are all that its lines name, each with its line: those of lines that cannot be used are among them.
    """

    name: str
    lines: tuple[BookLine, ...]
    functions: tuple[tuple[int, str], ...] = ()

    def line_for(self, models: Iterable[str], function: str) -> BookLine | None:
        """Return the line of the most specific pattern that fits one of these spellings of a model, or None.

        The more characters of a pattern stand for themselves, the more specific it is; between two alike, the one
        that begins with more of them, then the one further up in the book.
        """
        wanted = function_of(function)
        typed = {plain for model in models if (plain := _plain_model(model))}
        fitting = [
            line
            for line in self.lines
            if function_of(line.function) == wanted and any(_fits(line.model, model) for model in typed)
        ]
        return min(fitting, key=lambda line: (*_vagueness(line.model), line.line), default=None)


def function_of(words: str) -> str:
    """Return a part's function in the form in which two spellings of it are the same."""
    return " ".join(re.split(r"[\s_-]+", words.casefold())).strip()


def _plain_model(model: str) -> str:
    """Return a model or pattern without what is not said when it is spelled: spaces, dashes, dots, strokes."""
    parts = re.split(r"(\[[^\]]+\])", model.casefold())
    return "".join(part if part.startswith("[") else re.sub(r"[\s./-]+", "", part) for part in parts)


def _fits(pattern: str, model: str) -> bool:
    return re.match(translate(_plain_model(pattern)), model) is not None


def _vagueness(pattern: str) -> tuple[int, int]:
    """Return how little of a pattern stands for itself: first by characters, then by how it begins."""
    plain = _plain_model(pattern)
    literal = re.sub(r"\[[^\]]+\]|[*?]", "", plain)
    begins = re.match(r"[^*?\[]*", plain)
    return -len(literal), -len(begins[0] if begins else "")


def read_part_book(name: str, text: str) -> tuple[PartBook, tuple[BookFinding, ...]]:
    """Return the book in this text and everything wrong with it; with findings the book holds only its sound lines."""
    first = next((line for line in text.splitlines() if line.strip()), "")
    separator = max(_SEPARATORS, key=first.count)
    rows = _rows(text, separator)
    try:
        heading_line, heading = next(rows, (1, []))
        places, findings = _places(heading_line, heading)
        if findings:
            return PartBook(name, ()), tuple(findings)
        lines: list[BookLine] = []
        functions: list[tuple[int, str]] = []
        for number, row in rows:
            cells, wrong = _cells(number, row, places, len(heading))
            findings.extend(wrong)
            if cells[1]:
                functions.append((number, cells[1]))
            if not wrong:
                lines.append(BookLine(*cells, number))
    except csv.Error as error:
        return PartBook(name, ()), (BookFinding(1, f"this is no table ({error}); save it as CSV, comma separated"),)
    findings.extend(_told_twice(lines))
    if not lines and not findings:
        findings.append(BookFinding(heading_line, "the book has no line under its headings; add a part"))
    return PartBook(name, tuple(lines), tuple(functions)), tuple(sorted(findings, key=lambda finding: finding.line))


def _rows(text: str, separator: str) -> Iterator[tuple[int, list[str]]]:
    """Yield every row that is not empty with the line it begins on."""
    reader = csv.reader(text.splitlines(keepends=True), delimiter=separator)
    begins = 1
    for row in reader:
        if any(cell.strip() for cell in row):
            yield begins, row
        begins = reader.line_num + 1


def _places(line: int, heading: Sequence[str]) -> tuple[dict[str, int], list[BookFinding]]:
    """Return the place of each column, and what is wrong with the headings."""
    names = [re.sub(r"[\s-]+", "_", cell.strip().casefold()) for cell in heading]
    if not any(names):
        return {}, [BookFinding(1, f"the book is empty; begin it with the line {_FIRST_LINE}")]
    findings = [
        BookFinding(line, f"the column {name!r} is missing; the first line must be like {_FIRST_LINE}")
        for name in HEADINGS
        if name not in names and name != _MAY_BE_MISSING
    ]
    findings += [
        BookFinding(line, f"the column {name!r} is there {names.count(name)} times; keep one of them")
        for name in HEADINGS
        if names.count(name) > 1
    ]
    findings += [
        BookFinding(line, f"{cell.strip()!r} is no column of a part book; take it out, or correct its name")
        for cell, name in zip(heading, names, strict=True)
        if name and name not in HEADINGS
    ]
    return {name: names.index(name) for name in HEADINGS if name in names}, findings


def _cells(
    line: int, row: Sequence[str], places: dict[str, int], width: int
) -> tuple[tuple[str, str, str, str], list[BookFinding]]:
    """Return the four cells of a row, and what is wrong with them."""
    beyond = [cell for cell in row[width:] if cell.strip()]
    if len(row) < width - 1 or beyond:
        what = f"{so_many(len(row), 'cell')} where the first line has {width}"
        return ("", "", "", ""), [BookFinding(line, f"{what}; put a cell with a separator in it in quotation marks")]
    by_name = {name: row[places[name]].strip() if places.get(name, width) < len(row) else "" for name in HEADINGS}
    findings = [
        BookFinding(line, f"the {name} is empty; write {what}, or take the line out")
        for name, what in (
            ("model", "a model or a pattern such as ABC*"),
            ("function", "what the part is, as reports name it: bake element"),
            ("part_number", "its number"),
        )
        if not by_name[name]
    ]
    findings += [BookFinding(line, what) for what in _wrong_with(by_name["model"])]
    findings += [
        BookFinding(line, f"the {name} is longer than {_LONGEST_CELL} characters; shorten it")
        for name, cell in by_name.items()
        if len(cell) > _LONGEST_CELL
    ]
    return (by_name["model"], by_name["function"], by_name["part_number"], by_name["description"]), findings


def _wrong_with(pattern: str) -> Iterator[str]:
    """Yield what keeps a pattern from fitting what it was meant for."""
    if pattern and not _plain_model(pattern):
        yield f"the model {pattern!r} has no letter or digit; write a model or a pattern such as ABC*"
    rest = pattern
    while "[" in rest:
        inside = rest[rest.index("[") + 1 :]
        # A bracket right behind the first one, or behind its !, stands for itself.
        end = inside.find("]", 2 if inside.startswith("!") else 1)
        if end < 0:
            yield f"the pattern {pattern!r} opens a bracket and does not close it; write [ab] for one of these letters"
            return
        for first, last in re.findall(r"(.)-(.)", inside[:end].removeprefix("!")):
            if first.casefold() > last.casefold():
                yield f"the pattern {pattern!r} goes from {first} back to {last}; write [{last}-{first}]"
        rest = inside[end + 1 :]


def never_used(book: PartBook, functions: Collection[str]) -> tuple[BookFinding, ...]:
    """Return the lines of a book whose function is none of these, with the one that was probably meant.

    Lines that cannot be used for other reasons are among them.
    """
    known = {function_of(function): function for function in functions}
    findings = []
    for line, function in book.functions:
        wanted = function_of(function)
        if wanted in known:
            continue
        close = process.extractOne(wanted, list(known), scorer=fuzz.ratio, score_cutoff=_CLOSE)
        meant = "write it as a report names it" if close is None else f"did you mean {known[close[0]]!r}?"
        findings.append(BookFinding(line, f"no part is called {function!r}, so it is never used; {meant}"))
    return tuple(findings)


def _told_twice(lines: Iterable[BookLine]) -> Iterator[BookFinding]:
    first: dict[tuple[str, str], BookLine] = {}
    for line in lines:
        before = first.setdefault((_plain_model(line.model), function_of(line.function)), line)
        if before is not line:
            where = f"line {before.line} has the {line.function} of {line.model} already"
            yield BookFinding(line.line, f"{where}; keep one of the two")
