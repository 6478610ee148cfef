"""What a report is made of before it has a layout: text in runs, blocks of text, sections, a page.

Both layouts, the web page and the PDF, are made of these and of nothing else, so they cannot say different things.
"""

from dataclasses import dataclass
from enum import StrEnum

from voicetech.reports.bands import Band


class Style(StrEnum):
    """How a run of text is set; none of them needs colour."""

    PLAIN = "plain"
    STRONG = "strong"
    SMALL = "small"
    STRUCK = "struck"
    SAID = "said"
    """Somebody's own words, in quotation marks."""
    TAG = "tag"
    """A short remark in a frame: unverified, withdrawn, a verdict that fails."""


@dataclass(frozen=True, slots=True)
class Run:
    """A piece of text in one style."""

    text: str
    style: Style = Style.PLAIN


Text = tuple[Run, ...]


@dataclass(frozen=True, slots=True)
class Paragraph:
    """One paragraph; `quiet` where it is fine print."""

    text: Text
    quiet: bool = False


@dataclass(frozen=True, slots=True)
class Listing:
    """Items of equal standing, each on lines of its own."""

    items: tuple[Text, ...]


@dataclass(frozen=True, slots=True)
class Pairs:
    """Names with what belongs to them."""

    rows: tuple[tuple[str, Text], ...]


@dataclass(frozen=True, slots=True)
class Table:
    """Rows of cells under headings; every row has as many cells as there are headings."""

    headings: tuple[str, ...]
    rows: tuple[tuple[Text, ...], ...]


@dataclass(frozen=True, slots=True)
class ReadingRow:
    """One reading of the table of readings; `band` is what to draw of it, described in words by `band_says`."""

    part: str
    between: str
    value: str
    taken: str
    limits: str
    band: Band | None
    band_says: str
    verdict: Text
    time: str
    remark: str = ""
    """What stands under the row, over its whole width; empty where nothing does."""


@dataclass(frozen=True, slots=True)
class MeaningRow:
    """What the readings above it mean together."""

    text: Text


@dataclass(frozen=True, slots=True)
class Readings:
    """The table of readings."""

    headings: tuple[str, ...]
    rows: tuple[ReadingRow | MeaningRow, ...]


@dataclass(frozen=True, slots=True)
class Blanks:
    """Lines to be written on by hand: what each is for, in rows."""

    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True)
class Bar:
    """What comes before the block behind it, so marked that nobody overlooks it."""

    text: Text


@dataclass(frozen=True, slots=True)
class Form:
    """A table to be written in: a column of names under the first heading, and empty cells under the others."""

    headings: tuple[str, ...]
    names: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Blank:
    """Room for a figure or a word: what it is for, and the unit behind it, "" where it has none."""

    what: str
    unit: str = ""


@dataclass(frozen=True, slots=True)
class Way:
    """What follows from a result: the result in words, and what to do then."""

    result: str
    text: Text


@dataclass(frozen=True, slots=True)
class Task:
    """A step to be ticked off, which no page break splits.

    `needs` is how it needs the appliance, in one word, `does` what kind of step it is. `notes` stand below its words,
    `answers` are boxes to tick, `blanks` room to write, `ways` what each result leads to. `holds` says that nothing
    goes on before it.
    """

    mark: str
    needs: str
    does: str
    words: Text
    notes: tuple[Text, ...]
    answers: tuple[str, ...]
    blanks: tuple[Blank, ...]
    ways: tuple[Way, ...]
    source: str = ""
    holds: bool = False


Block = Paragraph | Listing | Pairs | Table | Readings | Blanks | Bar | Form | Task


class Frame(StrEnum):
    """What stands around a section."""

    NONE = "none"
    BOX = "box"
    ALARM = "alarm"


@dataclass(frozen=True, slots=True)
class Section:
    """A titled part of a report."""

    title: str
    blocks: tuple[Block, ...]
    frame: Frame = Frame.NONE


Columns = tuple[tuple[Section, ...], ...]
"""Sections that stand side by side: one column or two."""


@dataclass(frozen=True, slots=True)
class Page:
    """A whole report. `running` stands on every sheet of paper."""

    title: str
    running: str
    head: tuple[Text, ...]
    parts: tuple[Columns, ...]
    foot: tuple[Text, ...]
