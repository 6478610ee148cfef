"""How well the program understands technicians' lines, beside general libraries that find numbers in text.

    python -m tests.benchmarks.understanding --lines FILE

Wrong is only a number that is put up to be used and is not the one that was said. `README.md` beside this file says
more.
"""

import argparse
import os
import sys
import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from tests.benchmarks.measuring import percentile
from tests.benchmarks.peers import PEERS, Peer, PeerProcess, plain_number, wrapped_number
from tests.benchmarks.reading_lines import (
    VARIABLE,
    BadLinesError,
    Became,
    Figure,
    Line,
    became,
    figure_of_meaning,
    figure_of_number,
    read_lines,
)
from tests.benchmarks.references import SkippedError
from voicetech.authoring.lexicon_files import load_lexicon
from voicetech.language.lexicon import Lexicon
from voicetech.language.understand import understand
from voicetech.scoring import at_least, at_most

_STEP: Final = 100
_BECAME: Final = (
    *(("lines", 5), ("right", 11), (">=", 7), ("asked", 6), ("needless", 9), ("unconfirmed", 12), ("taken", 6)),
    *(("<=", 7), ("emergencies", 12), ("missed", 7), ("alarms", 7)),
)
_FIGURES: Final = (
    *(("numbers", 7), ("value", 10), ("right", 10), ("wrong", 10), ("<=", 6), ("asked", 5), ("silent", 6)),
    *(("none", 5), ("false", 10), ("<=", 6), ("asked", 5), ("emerg.", 6), ("false", 5)),
    *(("hang", 4), ("crash", 5), ("median ms", 9), ("95th ms", 8)),
)
"""Columns of the two tables, with their widths."""
_ALL: Final = "in all"
_OURS: Final = "the program"


@dataclass(frozen=True, slots=True)
class Measured:
    """One line read by one reader; `became` is None for a library, which gives no meaning."""

    line: Line
    figure: Figure
    took_s: float
    became: Became | None = None
    hung: bool = False
    crashed: bool = False
    read_as: str = ""


Reading = dict[str, list[Measured]]
"""What each reader made of the lines, by its name, the program first."""


def main(words: Sequence[str] | None = None, peers: Sequence[Peer] = PEERS) -> int:
    """Run the benchmark and return the exit code."""
    asked = _arguments().parse_args(words)
    if not asked.lines:
        sys.stderr.write(f"Name the file of lines with --lines, or in the environment variable {VARIABLE}.\n")
        return 1
    try:
        lines = [line for line in read_lines(Path(asked.lines)) if not asked.only or line.group in asked.only]
    except BadLinesError as error:
        sys.stderr.write(f"{error}\n")
        return 1
    if not lines:
        sys.stderr.write("No line of the file belongs to these groups.\n")
        return 1
    reading: Reading = {_OURS: read_by_program(lines, load_lexicon())}
    _line(f"{len(lines)} lines, {sum(line.doubtful for line in lines)} of them to be asked about")
    for peer in () if asked.alone else peers:
        try:
            reading.update(read_by_peer(lines, peer, _progress(peer.name, len(lines))))
        except SkippedError as error:
            _line(f"peer skipped: {error}")
    _show_became(reading[_OURS])
    _show_figures(reading, asked.by_group)
    if len(reading) > 1:
        _show_behind(reading)
    for each in [each for each in reading[_OURS] if each.became is not Became.RIGHT][: asked.show]:
        _line(f"   {each.became}: {each.line.name} {each.line.text[:80]!r} -> {each.read_as}")
    return 0


def _arguments() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="python -m tests.benchmarks.understanding", description=(__doc__ or "").splitlines()[0]
    )
    parser.add_argument("--lines", metavar="FILE", default=os.environ.get(VARIABLE), help=f"default: ${VARIABLE}")
    parser.add_argument("--only", metavar="GROUP", nargs="+", default=[], help="only lines of these groups")
    parser.add_argument("--alone", action="store_true", help="without the libraries beside it")
    parser.add_argument("--by-group", action="store_true", help="the libraries in each group too, not only in all")
    parser.add_argument("--show", metavar="N", type=int, default=10, help="name up to N lines not right (default 10)")
    return parser


def read_by_program(lines: Iterable[Line], lexicon: Lexicon) -> list[Measured]:
    """Return what the program makes of each line."""
    measured = []
    for line in lines:
        started_s = time.perf_counter()
        meaning = understand(line.text, line.question, lexicon)
        took_s = time.perf_counter() - started_s
        figure = figure_of_meaning(line, meaning, lexicon)
        measured.append(Measured(line, figure, took_s, became(line, meaning, lexicon), read_as=str(meaning)))
    return measured


def read_by_peer(lines: Iterable[Line], peer: Peer, advance: Callable[[], None] = lambda: None) -> Reading:
    """Return what a library makes of each line, as it is and through the wrapper. Raises SkippedError."""
    plain: list[Measured] = []
    wrapped: list[Measured] = []
    with PeerProcess(peer) as process:
        name = f"{peer.name} {process.version}".rstrip()
        for line in lines:
            answer = process.answer(line.text)
            asking = line.question.asking
            for measured, number in (
                (plain, plain_number(answer.found, asking)),
                (wrapped, wrapped_number(answer.found, line.text, asking)),
            ):
                figure = figure_of_number(line, number)
                measured.append(
                    Measured(line, figure, answer.took_s, hung=answer.hung, crashed=answer.crashed, read_as=str(number))
                )
            advance()
    return {name: plain, f"{name}, wrapped": wrapped}


def _progress(name: str, lines: int) -> Callable[[], None]:
    done = iter(range(1, lines + 1))

    def advance() -> None:
        count = next(done)
        if count % _STEP == 0 and count < lines:
            sys.stderr.write(f"{name}: {count} of {lines}\n")

    return advance


def _show_became(ours: Sequence[Measured]) -> None:
    _line("\n== what became of the lines")
    heads, widths = zip(*_BECAME, strict=True)
    _line(_row("group", heads, widths))
    for group, inside in _scopes(ours):
        count = {each: sum(one.became is each for one in inside) for each in Became}
        right, lines = count[Became.RIGHT] + count[Became.NEEDLESS], len(inside)
        cells = [
            str(lines),
            f"{right} {right / lines:.1%}",
            f"{at_least(right, lines):.1%}",
            *(str(count[each]) for each in (Became.ASKED, Became.NEEDLESS, Became.UNCONFIRMED, Became.TAKEN)),
            f"{at_most(count[Became.TAKEN], lines):.1%}",
            str(sum(one.line.emergency for one in inside)),
            str(count[Became.MISSED]),
            str(count[Became.ALARM]),
        ]
        _line(_row(group, cells, widths))


@dataclass(frozen=True, slots=True)
class Numbers:
    """What became of the numbers of some lines: first those with one number, then those with none, then the times."""

    lines: int
    value: int
    right: int
    wrong: int
    wrong_asked: int
    none_due: int
    false: int
    false_asked: int
    emergencies: int
    false_in_emergencies: int
    hung: int
    crashed: int
    median_ms: float
    late_ms: float

    def cells(self) -> list[str]:
        """Return the columns of the table."""
        silent = self.lines - self.right - self.wrong - self.wrong_asked
        return [
            str(self.lines),
            *(_share(self.value, self.lines), _share(self.right, self.lines), _share(self.wrong, self.lines)),
            f"{at_most(self.wrong, self.lines):.1%}" if self.lines else "",
            *(str(self.wrong_asked), str(silent), str(self.none_due), _share(self.false, self.none_due)),
            f"{at_most(self.false, self.none_due):.1%}" if self.none_due else "",
            *(str(self.false_asked), str(self.emergencies), str(self.false_in_emergencies)),
            *(str(self.hung), str(self.crashed), f"{self.median_ms:.2f}", f"{self.late_ms:.2f}"),
        ]


def numbers_of(measured: Sequence[Measured]) -> Numbers:
    """Return the counts of some lines by one reader; emergencies are apart from the other lines without a number."""

    def count(*figures: Figure, emergency: bool = False) -> int:
        return sum(each.figure in figures and each.line.emergency is emergency for each in measured)

    right, other_unit, wrong = count(Figure.RIGHT), count(Figure.OTHER_UNIT), count(Figure.WRONG)
    false, false_asked, asked = count(Figure.FALSE), count(Figure.FALSE_ASKED), count(Figure.WRONG_ASKED)
    times_s = [each.took_s for each in measured]
    return Numbers(
        lines=right + other_unit + wrong + asked + count(Figure.SILENT),
        value=right + other_unit,
        right=right,
        wrong=wrong + other_unit,
        wrong_asked=asked,
        none_due=false + false_asked + count(Figure.QUIET),
        false=false,
        false_asked=false_asked,
        emergencies=sum(each.line.emergency for each in measured),
        false_in_emergencies=count(Figure.FALSE, Figure.FALSE_ASKED, emergency=True),
        hung=sum(each.hung for each in measured),
        crashed=sum(each.crashed for each in measured),
        median_ms=percentile(times_s, 0.5) * 1000,
        late_ms=percentile(times_s, 0.95) * 1000,
    )


def _show_figures(reading: Reading, by_group: bool) -> None:
    _line("\n== the numbers of the lines: one number expected | none expected, emergencies apart | times")
    heads, widths = zip(*_FIGURES, strict=True)
    _line(_row("group", heads, widths))
    inside = {name: dict(_scopes(measured)) for name, measured in reading.items()}
    for group in inside[_OURS]:
        last = group == _ALL
        for name, groups in inside.items():
            if name == _OURS or by_group or last:
                label = group if name == _OURS else f"  {name}"
                _line(_row(label, numbers_of(groups[group]).cells(), widths))


@dataclass(frozen=True, slots=True)
class Behind:
    """A column in which some libraries do better than the program, in a group or in all, the best of them first.

    Each library comes with its figure there and with how many of its numbers are right there.
    """

    group: str
    column: str
    ours: float
    better: tuple[tuple[str, float, int], ...]


def behind(reading: Reading) -> Iterator[Behind]:
    """Yield the columns in which a library does better, in each group and in all; times in all only.

    What the program would ask about counts against it here as if it had taken it.
    """
    inside = {name: dict(_scopes(measured)) for name, measured in reading.items()}
    for group in inside[_OURS]:
        numbers = {name: numbers_of(groups[group]) for name, groups in inside.items()}
        for column in (*_MORE_IS_BETTER, *_LESS_IS_BETTER, *(_TIMES if group == _ALL else ())):
            sign = -1 if column in _MORE_IS_BETTER else 1
            ranked = sorted(
                (sign * _compared(each, column), -each.right, name) for name, each in numbers.items() if name != _OURS
            )
            ours = _compared(numbers[_OURS], column)
            better = [(name, sign * figure, -right) for figure, right, name in ranked if figure < sign * ours]
            if better:
                yield Behind(group, column, ours, tuple(better))


_MORE_IS_BETTER: Final = ("value", "right")
_LESS_IS_BETTER: Final = ("wrong", "false", "false_in_emergencies", "hung", "crashed")
_TIMES: Final = ("median_ms", "late_ms")
_NAMED: Final = 3


def _compared(numbers: Numbers, column: str) -> float:
    asked = {"wrong": numbers.wrong_asked, "false": numbers.false_asked}
    return float(getattr(numbers, column)) + asked.get(column, 0)


def _show_behind(reading: Reading) -> None:
    _line("\n== where a library does better than the program, with how many of its numbers are right there")
    found = list(behind(reading))
    if not found:
        _line("   nowhere")
    for each in found:
        best = "; ".join(f"{name} {theirs:.2g} (right {right})" for name, theirs, right in each.better[:_NAMED])
        column = {"late_ms": "95th ms"}.get(each.column, each.column.replace("_", " "))
        _line(f"   {each.group}, {column}: {each.ours:.2g}; better are {len(each.better)}, first {best}")


def _scopes(measured: Sequence[Measured]) -> list[tuple[str, list[Measured]]]:
    """Return the lines of each group, and all of them at the end."""
    groups: dict[str, list[Measured]] = {}
    for each in measured:
        groups.setdefault(each.line.group, []).append(each)
    return [*groups.items(), (_ALL, list(measured))]


def _share(count: int, of: int) -> str:
    return f"{count} {count / of:.1%}" if of else ""


def _row(name: str, cells: Sequence[str], widths: Sequence[int]) -> str:
    numbers = " ".join(f"{cell:>{width}}" for cell, width in zip(cells, widths, strict=True))
    return f"{name:37} {numbers}".rstrip()


def _line(text: str) -> None:
    sys.stdout.write(f"{text}\n")
    sys.stdout.flush()


if __name__ == "__main__":
    sys.exit(main())
