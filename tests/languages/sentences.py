"""Where the English of the program itself stands: `python -m tests.languages.sentences` lists all that a job may say.

A sentence is a text in the code of two words or more, or one word with a stop; what is filled in stands as {}.
Docstrings, names and what is told to programmers (the words of exceptions) are left out.
"""

import ast
import re
import sys
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Final

ROOT: Final = Path(__file__).parents[2]
SAID_IN_A_JOB: Final = (
    "dialogue",
    "electrical",
    "judge.py",
    "language",
    "limit_rules.py",
    "session.py",
    "showing",
    "talking",
    "weigh.py",
)
"""Where what a job says and shows is made; commands, the page, reports and drawings have words of their own."""
FILLED: Final = "{}"
_WORDS: Final = re.compile(r"[A-Za-z']{2,}[,:;]? [A-Za-z']+|\b[A-Z][a-z]+[?.:]")


@dataclass(frozen=True, slots=True)
class Sentence:
    """A text with the place it stands at."""

    file: str
    line: int
    text: str

    @property
    def pattern(self) -> "re.Pattern[str]":
        """Return what a line with this sentence in it looks like."""
        return re.compile(".*?".join(re.escape(part) for part in self.text.split(FILLED)), re.IGNORECASE)


@cache
def sentences() -> tuple[Sentence, ...]:
    """Return every sentence that a job may say or show, by file and line."""
    return tuple(found for path in _files() for found in _in_file(path))


def _files() -> Iterator[Path]:
    for name in SAID_IN_A_JOB:
        place = ROOT / "voicetech" / name
        yield from sorted(place.rglob("*.py")) if place.is_dir() else [place]


def _in_file(path: Path) -> Iterator[Sentence]:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    left_out = {id(inner) for node in _told_to_programmers(tree) for inner in ast.walk(node)}
    for node in ast.walk(tree):
        if id(node) in left_out:
            continue
        text = _text(node)
        if text is not None and _WORDS.search(text.replace(FILLED, " ")):
            left_out.update(map(id, node.values if isinstance(node, ast.JoinedStr) else ()))
            assert isinstance(node, ast.expr)
            yield Sentence(str(path.relative_to(ROOT)), node.lineno, text)


def _told_to_programmers(tree: ast.AST) -> Iterator[ast.AST]:
    for node in ast.walk(tree):
        match node:
            case ast.Expr(value=ast.Constant()) | ast.Raise():
                yield node
            case ast.Call(func=ast.Attribute(value=ast.Name(id="re"))):
                yield node


def _text(node: ast.AST) -> str | None:
    match node:
        case ast.Constant(value=str(text)):
            return text
        case ast.JoinedStr(values=values):
            return "".join(str(v.value) if isinstance(v, ast.Constant) else FILLED for v in values)
        case _:
            return None


def main() -> None:
    """Print them, and how many stand where."""
    for sentence in sentences():
        sys.stdout.write(f"{sentence.file}:{sentence.line}: {sentence.text}\n")
    counted = Counter(sentence.file.split("/")[1] for sentence in sentences())
    for place, number in counted.most_common():
        sys.stdout.write(f"{number:5} {place}\n")


if __name__ == "__main__":
    main()
