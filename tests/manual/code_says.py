"""What the code says of its own names: the sentence that stands below each of them."""

import ast
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from types import ModuleType

CHECKOUT = Path(__file__).parents[2]
PACKAGE = CHECKOUT / "voicetech"


@dataclass(frozen=True, slots=True)
class Constant:
    """A name with its text, and the sentence below it."""

    name: str
    value: str
    says: str


def members(module: ModuleType, kind: str) -> Mapping[str, str]:
    """Return the sentence below each member of a class, by the member's name."""
    tree = ast.parse(Path(str(module.__file__)).read_text(encoding="utf-8"))
    body = next(each.body for each in tree.body if isinstance(each, ast.ClassDef) and each.name == kind)
    return {name: says for name, _, says in _told(body)}


def constants(module: ModuleType | Path) -> tuple[Constant, ...]:
    """Return the texts that a module gives a name to."""
    path = module if isinstance(module, Path) else Path(str(module.__file__))
    told = _told(ast.parse(path.read_text(encoding="utf-8")).body)
    return tuple(
        Constant(name, value.value, says)
        for name, value, says in told
        if isinstance(value, ast.Constant) and isinstance(value.value, str)
    )


def variables() -> Mapping[str, str]:
    """Return what each environment variable of the program is for."""
    files = sorted(PACKAGE.rglob("*.py"))
    found = {each.value: each.says for file in files for each in constants(file) if _is_variable(each.value)}
    return dict(sorted(found.items()))


def _is_variable(value: str) -> bool:
    return re.fullmatch(r"VOICETECH_[A-Z_]+", value) is not None


def _told(body: Sequence[ast.stmt]) -> Iterator[tuple[str, ast.expr | None, str]]:
    for at, each in enumerate(body):
        match each:
            case ast.Assign(targets=[ast.Name(id=name)], value=value):
                pass
            case ast.AnnAssign(target=ast.Name(id=name), value=value):
                pass
            case _:
                continue
        match body[at + 1 : at + 2]:
            case [ast.Expr(value=ast.Constant(value=str(says)))]:
                yield name, value, one_line(says)
            case _:
                yield name, value, ""


def one_line(text: str | None) -> str:
    """Return a text on one line."""
    return " ".join((text or "").split())
