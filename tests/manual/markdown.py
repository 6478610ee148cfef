"""Markdown as the reference is written in it."""

from collections.abc import Iterable, Sequence


def table(headings: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """Return a table; a sign that would end a cell is written so that it does not."""
    lines = [headings, ["---"] * len(headings), *rows]
    return "\n".join(f"| {' | '.join(cell.replace('|', chr(92) + '|') for cell in line)} |" for line in lines)


def code(text: str) -> str:
    """Return a text as code; empty where there is none."""
    return f"`{text}`" if text else ""


def codes(texts: Iterable[str]) -> str:
    """Return texts as code, one after the other."""
    return ", ".join(map(code, texts))


def page(title: str, *parts: str) -> str:
    """Return a page of these parts."""
    return "\n\n".join([f"# {title}", *(part for part in parts if part)]) + "\n"
