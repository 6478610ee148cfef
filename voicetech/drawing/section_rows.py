"""The steps of a section as rows of a sheet: what stands in the box of each, beside it and in front of it."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

from voicetech.drawing.gates import first_ohms, gated
from voicetech.drawing.letters import Line, broken, lines_of, words_of
from voicetech.drawing.limits_told import short_limits
from voicetech.drawing.numbering import Numbers
from voicetech.drawing.page import SMALL, SMALL_LINE, TEXT, TEXT_LINE
from voicetech.drawing.ways import To, Way, falls_through, ways_of, without_remarks
from voicetech.drawing.words import condition_words, gate_words, kind_words, led, pair_words, results_words
from voicetech.language.wording import without_call_to_say
from voicetech.procedure import Condition, Hold, Measure, Procedure, Section, SectionRole, Step

BOX: Final = 284.0
INSIDE: Final = 8.0
SIGN: Final = 30.0
OUT: Final = 248.0
GATE: Final = 524.0
GAP: Final = 18.0
"""Between a box and what stands above it."""
_CONDITIONAL_END: Final = 8.0
_WARNING: Final = 18.0


@dataclass(frozen=True, slots=True)
class Out:
    """A way as it is drawn: its words in lines, and the step it jumps to, "" where it does not."""

    way: Way
    lines: tuple[Line, ...]
    jump: str


@dataclass(frozen=True, slots=True)
class Written:
    """A line in a box; `warning` is 1 for the first line of a warning and 2 for those after it."""

    line: Line
    size: float
    warning: int = 0

    @property
    def high(self) -> float:
        """Return how much room it takes."""
        return TEXT_LINE if self.size == TEXT else SMALL_LINE

    @property
    def indent(self) -> float:
        """Return how far to the right it begins."""
        return _WARNING if self.warning else 0.0


@dataclass(frozen=True, slots=True)
class Row:
    """A step with all that stands beside it; `gates` are the bars in front of it.

    `falls` says that some result leads on below. `passed_at` is the place in the row's run of steps with the same
    conditions, which are passed by together: "first", "inside", "last", "alone", or "" where there are no conditions.
    """

    step: Step
    mark: str
    written: tuple[Written, ...]
    outs: tuple[Out, ...]
    gates: tuple[tuple[Line, ...], ...]
    falls: bool
    passed_at: str

    @property
    def goes_on(self) -> bool:
        """Return whether the main way leads on below it, through it or past it."""
        return self.falls or self.passed_at in ("last", "alone")

    @property
    def gates_high(self) -> float:
        """Return how high the bars in front of it are."""
        return sum(SMALL_LINE * len(lines) + 6 for lines in self.gates)

    @property
    def inside(self) -> float:
        """Return how far from its edge the words of the box stand: a hold has two edges."""
        return INSIDE + (5 if isinstance(self.step, Hold) else 0)

    @property
    def box_high(self) -> float:
        """Return how high the box is."""
        return max(sum(each.high for each in self.written) + 2 * self.inside - 4, 40.0)

    @property
    def high(self) -> float:
        """Return how high the row is, with the room above and below."""
        beside = sum(SMALL_LINE * len(out.lines) for out in self.outs) + 3 * max(0, len(self.outs) - 1) + 2
        box = self.box_high + (_CONDITIONAL_END if self.goes_on and not self.falls else 0)
        return GAP + self.gates_high + max(box, beside)


def rows_of(procedure: Procedure, numbers: Numbers, section: Section) -> list[Row]:
    """Return the section's steps as rows, in the order of the file."""
    return [
        _row(procedure, numbers, section, step, _passed_at(section.steps, place))
        for place, step in enumerate(section.steps)
    ]


def _passed_at(steps: Sequence[Step], place: int) -> str:
    when = steps[place].when
    if not when:
        return ""
    begins = place == 0 or steps[place - 1].when != when
    ends = place == len(steps) - 1 or steps[place + 1].when != when
    if begins:
        return "alone" if ends else "first"
    return "last" if ends else "inside"


def _row(procedure: Procedure, numbers: Numbers, section: Section, step: Step, passed_at: str) -> Row:
    ways = without_remarks(ways_of(section, step))
    return Row(
        step,
        numbers.step(section, step.id),
        tuple(_written(procedure, numbers, step)),
        tuple(_out(numbers, section, step, way) for way in ways),
        tuple(_gates(numbers, section, step)),
        falls_through(ways),
        passed_at,
    )


def _out(numbers: Numbers, section: Section, step: Step, way: Way) -> Out:
    told = led(numbers, section, step, way)
    twice = f" {TWICE}" if way.repeat else ""
    more = f"; {told.more}" if told.more else ""
    words = (*words_of(f"{results_words(step, way.results)}{twice}:", heavy=True), *words_of(f"{told.first}{more}"))
    return Out(way, broken(words, SMALL, OUT - 14), way.step if way.to is To.STEP else "")


TWICE: Final = "2×"
"""Behind a result: the step comes once more first."""


def _gates(numbers: Numbers, section: Section, step: Step) -> Iterator[tuple[Line, ...]]:
    told = [gate_words(numbers, step.needs)] if step.id in gated(section) else []
    if step.id == first_ohms(section):
        told.append(f"{numbers.role(SectionRole.NULL_LEADS)}, once in a job")
    for words in told:
        yield lines_of(f"BEFORE IT: {words}", SMALL, GATE, heavy=True)


def _written(procedure: Procedure, numbers: Numbers, step: Step) -> Iterator[Written]:
    """Yield what stands in the box of a step."""
    room = BOX - 2 * INSIDE - (10 if isinstance(step, Hold) else 0)
    conditions = condition_words(procedure, numbers, step.when)
    if conditions:
        first, *others = lines_of(conditions, SMALL, room)
        first = (replace(first[0], text=first[0].text.upper()), *first[1:])
        yield from (Written(line, SMALL) for line in (first, *others))
    for line in lines_of(kind_words(step), SMALL, room - SIGN, heavy=True):
        yield Written(line, SMALL)
    for line in lines_of(without_call_to_say(step.prompt.short), TEXT, room - SIGN):
        yield Written(line, TEXT)
    if isinstance(step, Measure):
        points = ", ".join(dict.fromkeys(pair_words(procedure, pair) for pair in step.pairs))
        for line in lines_of(f"{points}. To read: {short_limits(step, given_by(step.when))}.", SMALL, room):
            yield Written(line, SMALL)
    if isinstance(step, Hold):
        for line in lines_of(f"Goes on with the words: {quoted(step.until[0])}", SMALL, room):
            yield Written(line, SMALL)
    for name in step.warnings:
        warning = procedure.warnings[name]
        words = (*words_of(f"{warning.signal.value.upper()}:", heavy=True), *words_of(warning.say))
        for place, line in enumerate(broken(words, SMALL, room - _WARNING)):
            yield Written(line, SMALL, 1 if place == 0 else 2)


def given_by(conditions: Iterable[Condition]) -> Mapping[str, str]:
    """Return the answers that are known wherever these conditions hold."""
    return {each.field: each.values[0] for each in conditions if not each.absent and len(each.values) == 1}


def quoted(words: str) -> str:
    """Return words between quotation marks."""
    return f"\N{LEFT DOUBLE QUOTATION MARK}{words}\N{RIGHT DOUBLE QUOTATION MARK}"
