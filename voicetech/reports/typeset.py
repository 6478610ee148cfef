"""A page of blocks as a PDF, the same prepared page that the web page is made of.

The fonts are those that the typesetter carries, so a bare machine makes the same pages; signs they lack are taken from
the machine's own fonts where it has any.
"""

import json
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from functools import cache
from importlib.resources import files
from typing import Final
from unicodedata import bidirectional

from voicetech.reports.bands import drawn
from voicetech.reports.blocks import Page, ReadingRow
from voicetech.reports.paper import Paper
from voicetech.reports.wording import printable

_KINDS: Final = {"ReadingRow": "reading", "MeaningRow": "meaning"}
PAPER: Final[dict[Paper, str]] = {Paper.LETTER: "us-letter", Paper.A4: "a4"}
"""What the typesetter calls a size of paper."""


def page_pdf(page: Page, paper: Paper) -> bytes:
    """Return the page as a PDF file."""
    return compiled(_template(), {"page": json.dumps(_plain(page)), "paper": PAPER[paper]})


def compiled(template: bytes, inputs: Mapping[str, str]) -> bytes:
    """Return the PDF file that a template makes of its inputs. Raises ReportError where nothing can set it."""
    try:
        import typst
    except ImportError as error:
        from voicetech.reports.writing import ReportError

        raise ReportError(
            f"No PDF can be made, because the package typst cannot be loaded ({error}). Install voicetech again; a "
            "page can be made without it."
        ) from None

    made = typst.compile(template, format="pdf", sys_inputs=dict(inputs))
    if not isinstance(made, bytes):
        raise TypeError("one PDF file was asked for")
    return made


@cache
def _template() -> bytes:
    return files("voicetech.reports").joinpath("templates", "blocks.typ").read_bytes()


def _set_apart(text: str) -> str:
    """Return text that runs right to left between marks that keep it from turning what stands beside it."""
    if any(bidirectional(sign) in ("R", "AL", "AN") for sign in text):
        return f"\N{FIRST STRONG ISOLATE}{text}\N{POP DIRECTIONAL ISOLATE}"
    return text


def _plain(record: object) -> object:
    """Return a block, or anything in it, as what JSON can hold: records with their kind, pictures as SVG."""
    if isinstance(record, str):
        return _set_apart(printable(str(record)))
    if isinstance(record, tuple):
        return [_plain(each) for each in record]
    if not is_dataclass(record):
        return record
    out: dict[str, object] = {"kind": _KINDS.get(type(record).__name__, type(record).__name__.lower())}
    out |= {field.name: _plain(getattr(record, field.name)) for field in fields(record) if field.name != "band"}
    if isinstance(record, ReadingRow):
        out["picture"] = None if record.band is None else str(drawn(record.band, record.band_says))
    return out
