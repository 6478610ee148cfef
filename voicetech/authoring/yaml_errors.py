"""What is wrong with a text that is no YAML, in an author's words, and what of it can be read all the same."""

import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from ruamel.yaml import YAML
from ruamel.yaml.error import MarkedYAMLError, YAMLError
from ruamel.yaml.nodes import Node
from ruamel.yaml.reader import ReaderError

_MOST_ERRORS: Final = 20
_MOST_TRIED: Final = 6
_NO_SPACE: Final = re.compile(r"^\s*[\w-]+:[^\s:]")
_NO_SPACE_SAID: Final = "no space behind the colon; put one there"
_SLIPS: Final = (
    (re.compile("[:,\\[{-]\\s*[\u201c\u201d\u2018\u2019\u201e]"), "a curly quote encloses no text; type straight ones"),
    (re.compile("^\\s*[\\w-]+\uff1a"), "a colon of another alphabet; type a plain one and a space"),
    (_NO_SPACE, _NO_SPACE_SAID),
    (re.compile(r"^\s*-[^\s-]"), "no space behind the dash; put one there"),
)
"""Slips of the hand that the line itself shows, where YAML only says that something is wrong."""
_QUOTED: Final = ("while scanning a quoted scalar", "while scanning a double-quoted scalar")
_NOT_CLOSED: Final = "the quote is not closed; close it"
_OPENED: Final = (
    *_QUOTED,
    "while parsing a flow sequence",
    "while parsing a flow mapping",
    "while scanning a simple key",
)
"""What begins at a mark of its own; the error shows only where it did not end."""


@dataclass(frozen=True, slots=True)
class BadLine:
    """Where a text stops being YAML, and why; line and column count from 1."""

    line: int
    column: int
    message: str


def composed(text: str) -> tuple[Node | None, tuple[BadLine, ...]]:
    """Return the nodes of a YAML text, and every place where it is none.

    Lines that cannot be read are left out with what is indented below them, so that all mistakes are told in one run.
    """
    lines = text.splitlines(keepends=True)
    found: list[BadLine] = []
    left_out: set[int] = set()
    while True:
        node, error = _tried(lines)
        if error is None:
            return node, tuple(sorted(found, key=lambda bad: (bad.line, bad.column)))
        bad = _open_quote(lines, error) or _bad_line(error, text)
        first = _begins(error, bad.line)
        if first not in left_out:
            # What follows directly on a line that was left out is wrong only because of it.
            if first - 1 not in left_out:
                found.append(bad)
        elif bad.line in left_out:
            return None, tuple(found)
        else:
            first = bad.line
        if len(found) > _MOST_ERRORS or first > len(lines):
            return None, tuple(found)
        left_out |= _leave_out(lines, first)


def _tried(lines: list[str]) -> tuple[Node | None, YAMLError | None]:
    try:
        return YAML(typ="safe", pure=True).compose("".join(lines)), None
    except YAMLError as error:
        return None, error
    except IndexError:
        # The scanner looks beyond the end of some texts that stop in the middle.
        return None, YAMLError("ends in the middle")


def _open_quote(lines: list[str], error: YAMLError) -> BadLine | None:
    """Return the line whose quote ends only at the next one, where that is what is wrong.

    The text behind that next quote looks wrong then, however far below it stands.
    """
    line = _problem_line(error)
    if line is None or (isinstance(error, MarkedYAMLError) and error.context in _QUOTED):
        return None
    odd = [number for number in range(1, min(line, len(lines)) + 1) if _quote_begins(lines[number - 1]) is not None]
    for number in odd[:_MOST_TRIED]:
        without = [*lines]
        without[number - 1] = "\n"
        after = _tried(without)[1]
        further = None if after is None else _problem_line(after)
        if after is None or (further is not None and further > line):
            column = _quote_begins(lines[number - 1]) or 0
            return BadLine(number, column + 1, f"is not YAML: {_NOT_CLOSED}")
    return None


def _problem_line(error: YAMLError) -> int | None:
    mark = error.problem_mark if isinstance(error, MarkedYAMLError) else None
    return None if mark is None else int(mark.line) + 1


def _quote_begins(line: str) -> int | None:
    """Return where the last quote of a line with an odd number of them stands, None where they are even."""
    places = [at for at, sign in enumerate(line) if sign == '"' and line[at - 1 : at] != "\\"]
    return places[-1] if len(places) % 2 else None


def _leave_out(lines: list[str], first: int) -> set[int]:
    """Blank a line and what is indented below it; return the numbers of these lines."""
    indent = _indent(lines[first - 1])
    gone = {first}
    for number in range(first + 1, len(lines) + 1):
        line = lines[number - 1]
        if line.strip() and _indent(line) <= indent:
            break
        gone.add(number)
    for number in gone:
        lines[number - 1] = "\n"
    return gone


def _indent(line: str) -> int:
    return len(line) - len(line.lstrip())


def _begins(error: YAMLError, line: int) -> int:
    if isinstance(error, MarkedYAMLError) and error.context in _OPENED and error.context_mark is not None:
        return min(line, int(error.context_mark.line) + 1)
    return line


def _bad_line(error: YAMLError, text: str) -> BadLine:
    if isinstance(error, ReaderError):
        before = text[: error.position]
        line, column = before.count("\n") + 1, error.position - (before.rfind("\n") + 1) + 1
        return BadLine(line, column, f"holds the sign {error.character:#06x}, which no text may hold; remove it")
    if not isinstance(error, MarkedYAMLError) or error.problem_mark is None:
        return BadLine(1, 1, "is not YAML; look at its indentation, colons and quotes")
    mark = error.problem_mark
    shows = f"line {mark.line + 1}, column {mark.column + 1}"
    if error.context in _OPENED and error.context_mark is not None and error.context_mark.line < mark.line:
        mark = error.context_mark
    written = [*text.splitlines(), ""][min(mark.line, len(text.splitlines()))]
    above = text.splitlines()[mark.line - 1] if 0 < mark.line <= len(text.splitlines()) else ""
    if _NO_SPACE.search(above) and not _NO_SPACE.search(written):
        # It is taken for the beginning of a text that goes on below.
        return BadLine(mark.line, len(above) - len(above.lstrip()) + 1, f"is not YAML: {_NO_SPACE_SAID}")
    slips = (slip for looks, slip in _SLIPS if looks.search(written))
    told = next(slips, None) or _plain(error.problem or "", shows)
    return BadLine(mark.line + 1, mark.column + 1, f"is not YAML: {told}")


def _plain(problem: str, shows: str) -> str:
    for begins, told in _PLAIN:
        if problem.startswith(begins):
            return told(problem, shows)
    return f"{problem}; look at the indentation, colons and quotes"


def _cannot_begin(problem: str, _shows: str) -> str:
    sign = problem.split("'")[1]
    if sign == "\\t":
        return "a tab; indent with spaces"
    return f"no text begins with {sign}; put it in quotes"


def _flow(problem: str, shows: str) -> str:
    closing = problem.split("'")[3]
    opening = {"]": "[", "}": "{"}.get(closing, "bracket")
    return f"{opening} is not closed before {shows}; add {closing}, or put a text with a colon or comma in quotes"


def _block_end(problem: str, _shows: str) -> str:
    for sign in ("}", "]"):
        if f"'{sign}'" in problem:
            return f"{sign} closes nothing; remove it, or open its bracket"
    if "scalar" in problem:
        return "text behind or below a value that has ended; put the whole text in quotes, or indent it alike"
    return "this line is not indented like those it belongs with; align them"


_Told = Callable[[str, str], str]
_PLAIN: Final[tuple[tuple[str, _Told], ...]] = (
    ("found character", _cannot_begin),
    (
        "mapping values are not allowed",
        lambda _p, _s: "a colon that begins no value; put a text with a colon in quotes, or align this line",
    ),
    ("expected ',' or", _flow),
    ("expected <block end>", _block_end),
    ("found unexpected end of stream", lambda _p, _s: _NOT_CLOSED),
    ("could not find expected ':'", lambda _p, _s: "a line without a colon; write `key: value`"),
    ("found undefined alias", lambda _p, _s: "text that begins with * is taken for an alias; put it in quotes"),
    (
        "expected alphabetic or numeric",
        lambda _p, _s: "text that begins with * or & is taken for an alias or anchor; put it in quotes",
    ),
    (
        "found unknown escape character",
        lambda _p, _s: "a backslash in double quotes begins a sign of its own; use single quotes",
    ),
    ("but found another document", lambda _p, _s: "--- begins a second text; keep one procedure in a file"),
)
