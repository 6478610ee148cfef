"""Sheets as a reader has them: their words with the room they take, and what stands for what."""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from itertools import combinations
from xml.etree import ElementTree

from tests.dialogue.talker import shipped
from voicetech.drawing.page import Drawn
from voicetech.drawing.sheets import sheets_of

SVG = "{http://www.w3.org/2000/svg}"


# Widths of Helvetica's letters in thousandths of the height, which Arial and Liberation Sans share (from memory).
_THOUSANDTHS = {
    191: "'", 222: "ijl", 260: "|", 278: " !,./:;[]ftI", 333: "()-r", 355: '"', 389: "*", 500: "cksvxyzJ",
    556: "abdeghnopqu0123456789?#$_L", 584: "+<=>", 611: "FTZ", 667: "&ABEKPSVXY", 722: "CDHNRUw", 778: "GOQ",
    833: "mM", 889: "%", 944: "W", 1015: "@",
}  # fmt: skip
WIDTHS = {letter: width / 1000 for width, letters in _THOUSANDTHS.items() for letter in letters}
HEAVY = 1.07
"""How much wider heavy letters are, on the whole."""


@dataclass(frozen=True)
class Word:
    """A text with its box, and whether it is turned."""

    text: str
    left: float
    top: float
    right: float
    bottom: float
    size: float


@cache
def all_sheets() -> dict[str, Drawn]:
    return {sheet.name: sheet for sheet in sheets_of(shipped())}


@cache
def parsed(name: str) -> ElementTree.Element:
    return root_of(all_sheets()[name])


def root_of(sheet: Drawn) -> ElementTree.Element:
    return ElementTree.fromstring(sheet.svg)  # our own drawing, made a line before


def text_of(element: ElementTree.Element) -> str:
    """Return all words inside, one after the other."""
    return " ".join(" ".join("".join(text.itertext()).split()) for text in element.iter(f"{SVG}text"))


def groups(root: ElementTree.Element, kind: str) -> list[ElementTree.Element]:
    return [each for each in root.iter(f"{SVG}g") if each.get(f"data-{kind}") is not None]


def words(root: ElementTree.Element) -> Iterator[Word]:
    """Yield the texts that lie level."""
    turned = {text for group in root.iter(f"{SVG}g") if group.get("transform") for text in group.iter(f"{SVG}text")}
    for text in root.iter(f"{SVG}text"):
        if text in turned:
            continue
        said, size = "".join(text.itertext()), float(text.get("font-size", "12"))
        heavy = "".join(said for part in text.iter() if part.get("font-weight") for said in part.itertext())
        wide = (_ems(said) + _ems(heavy) * (HEAVY - 1)) * size
        x, y = float(text.get("x", "")), float(text.get("y", ""))
        left = {"start": x, "middle": x - wide / 2, "end": x - wide}[text.get("text-anchor", "start")]
        yield Word(said, left, y - 0.72 * size, left + wide, y + 0.2 * size, size)


def _ems(text: str) -> float:
    return sum(WIDTHS.get(letter, 0.6) for letter in text)


def overlaps(root: ElementTree.Element) -> list[str]:
    """Return what stands on something else or beyond the edge."""
    _, _, width, height = (float(part) for part in root.get("viewBox", "").split())
    found = list(words(root))
    out = [f"{word.text!r} leaves the sheet" for word in found if not _inside(word, width, height)]
    return out + [f"{one.text!r} stands on {two.text!r}" for one, two in combinations(found, 2) if _meet(one, two)]


def _inside(word: Word, width: float, height: float) -> bool:
    return word.left >= -1 and word.top >= -1 and word.right <= width + 1 and word.bottom <= height + 1


def _meet(one: Word, two: Word) -> bool:
    return one.left < two.right and two.left < one.right and one.top < two.bottom and two.top < one.bottom
