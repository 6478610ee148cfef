"""Which of the breaches that checks found are told: those that are mistakes, not what follows from a mistake."""

from collections.abc import Container, Iterable, Mapping
from pathlib import Path
from typing import Final

from voicetech.authoring.checking import Breach
from voicetech.authoring.findings import Finding, Keys, Notes
from voicetech.authoring.rules import ALONE, OWN, UNREAD, WHOLE

_STOOD_IN_FOR: Final = frozenset({"step-kind", "shape"})
"""Where one of these was noted, everything below is a stand-in; and so is what is not written at all."""


_LEFT_OUT: Final = frozenset({"no-such-file", "missing-parameter"})
"""Where one of these was noted, something is missing that other files look for."""
_FOLLOWS: Final[Mapping[str, tuple[int, frozenset[str]]]] = {
    "sound-fails": (4, frozenset({"sound-condemned", "fault-mistaken", "fault-cleared", "unfounded"})),
    "section-role": (2, frozenset({"safety-role", "safety-step", "power-precaution"})),
}
"""What is wrong only because of something else in the same step (4 keys) or section (2), by the rule of that.

A second section of one role is taken for no such section."""
_KINDS: Final = ("ask", "measure")
"""Keys that say what all others of their table have to be."""


def told(notes: Notes, breaches: Iterable[Breach]) -> tuple[Finding, ...]:
    """Return what was noted while reading and what checks found, sorted by place.

    A breach where reading found a mistake already says the same twice. Where part of the files could not be read, only
    what looks at one step or text alone is told besides; what is missing may be there.
    """
    breaches = tuple(breaches)
    twice = any("duplicate-key" in rules and _is_whole(keys) for keys, rules in notes.noted.items())
    unread = twice or any(finding.rule in UNREAD for finding in notes.found)
    roots = {
        (rule, breach.keys[:length])
        for breach in breaches
        for rule, (length, _) in _FOLLOWS.items()
        if breach.rule == rule and len(breach.keys) >= length and (rule != "section-role" or breach.keys[-1] == "role")
    }
    broken = {finding.path for finding in notes.found if finding.rule == "not-yaml"}
    lost = bool(broken) or any(finding.rule in _LEFT_OUT for finding in notes.found)
    checks = Notes(top=notes.top, places=notes.places, open=notes.open)
    for breach in breaches:
        withheld = (unread and breach.rule in WHOLE) or (lost and breach.rule not in ALONE)
        shared = breach.rule in OWN and notes.place_of(breach.keys).path != notes.top.path
        follows = any(
            breach.rule in rules and (rule, breach.keys[:length]) in roots for rule, (length, rules) in _FOLLOWS.items()
        )
        if not (withheld or shared or follows or _known(notes, breach.keys)):
            checks.add(breach.keys, breach.message, breach.rule)
    noted = [finding for finding in notes.found if not (lost and _may_be_lost(finding, broken, notes.top.path))]
    return tuple(sorted({*noted, *checks.found}))


def _is_whole(keys: Keys) -> bool:
    """Return whether a section or step is written at these keys: of two, one is not read at all."""
    return keys[:1] == ("sections",) and len(keys) in (2, 4)


def _may_be_lost(finding: Finding, broken: Container[Path], own: Path) -> bool:
    """Return whether what is missing may stand where nothing could be read."""
    if finding.rule != "missing-key":
        return False
    # A procedure's own file may add to a section that a part begins.
    added_to = finding.path == own and finding.where.count(".") == 1
    return added_to or finding.path in broken or "." not in finding.where


def _known(notes: Notes, keys: Keys) -> bool:
    if keys in notes.noted:
        return True
    for length in range(1, len(keys) + 1):
        above = keys[:length]
        noted = notes.noted.get(above, set())
        if length < len(keys) and (_STOOD_IN_FOR & noted or ("missing-key" in noted and above not in notes.places)):
            return True
        if any((*above, key) in notes.noted for key in _KINDS):
            return True
    return False
