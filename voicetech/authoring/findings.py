"""What is wrong with a procedure's files, where, and what to do about it.

Findings are values: they are gathered, sorted and printed together, so that an author sees everything at once.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path

Keys = tuple[str | int, ...]
"""The way from the top of the file to one value: the keys and list positions passed."""


@dataclass(frozen=True, slots=True)
class Place:
    """A place in a file; line and column count from 1."""

    path: Path
    line: int
    column: int


Places = Mapping[Keys, Place]


@dataclass(frozen=True, slots=True, order=True)
class Finding:
    """One mistake of an author: its place, the way to it, what is wrong and what to do, and the rule's name."""

    path: Path
    line: int
    column: int
    where: str
    message: str
    rule: str

    def __str__(self) -> str:
        """Return it as editors follow it: `file:line:column: where: what is wrong; what to do [rule]`."""
        return f"{self.path}:{self.line}:{self.column}: {self.where}: {self.message} [{self.rule}]"


class ProcedureFindings(Exception):  # noqa: N818  what is raised is what was found
    """A procedure cannot be used; `findings` says why, sorted by place."""

    def __init__(self, findings: Iterable[Finding]) -> None:
        self.findings: tuple[Finding, ...] = tuple(sorted(set(findings)))
        super().__init__("\n".join(str(finding) for finding in self.findings))


_LEFT_OUT = ("sections", "steps")


def where(keys: Keys) -> str:
    """Return the way to a value as an author says it: "supply.idle.limits"."""
    named = [key for key in keys if isinstance(key, str)]
    last = len(named) - 1
    return ".".join(key for at, key in enumerate(named) if at == last or key not in _LEFT_OUT) or "file"


@dataclass(slots=True)
class Notes:
    """The findings gathered so far, and the places to find them at; `top` is the place of what has none.

    `noted` has the rules that were broken at each way to a value. `open` are the ways to values that an included part
    leaves open and nobody filled in: nothing is noted there, because it is not what will be written.
    """

    top: Place
    places: dict[Keys, Place] = field(default_factory=dict)
    found: list[Finding] = field(default_factory=list)
    noted: dict[Keys, set[str]] = field(default_factory=dict)
    open: set[Keys] = field(default_factory=set)

    def rename(self, keys: Keys, meant: Keys) -> None:
        """Let what stands under mistyped keys be found under those that were meant."""
        length = len(keys)
        for known, place in list(self.places.items()):
            if known[:length] == keys:
                self.places[*meant, *known[length:]] = place

    def place_of(self, keys: Keys) -> Place:
        """Return the nearest place known for these keys."""
        for length in range(len(keys), -1, -1):
            if keys[:length] in self.places:
                return self.places[keys[:length]]
        return self.top

    def add(self, keys: Keys, message: str, rule: str) -> None:
        """Note a finding at the nearest place known for these keys."""
        if any(keys[:length] in self.open for length in range(1, len(keys) + 1)):
            return
        place = self.place_of(keys)
        self.noted.setdefault(keys, set()).add(rule)
        self.found.append(Finding(place.path, place.line, place.column, where(keys), message, rule))
