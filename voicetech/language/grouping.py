"""Which unit, label and hedge belong to which number: the items of an answer as groups around its numbers."""

from collections.abc import Sequence
from dataclasses import dataclass, field

from voicetech.language.items import Item, ItemKind
from voicetech.language.meaning import Flag
from voicetech.language.numbers import Atom

_BOUNDS = {
    "about": frozenset({Flag.APPROX}),
    "under": frozenset({Flag.APPROX, Flag.BOUND_ABOVE}),
    "over": frozenset({Flag.APPROX, Flag.BOUND_BELOW}),
    "below": frozenset({Flag.BOUND_ABOVE}),
    "above": frozenset({Flag.BOUND_BELOW}),
    "unstable": frozenset({Flag.APPROX, Flag.UNSTABLE}),
}
_NOT_BETWEEN = frozenset({("over",), ("under",), ("below",), ("above",), ("past",)})
"""Words that make a fraction, a pair or a time of two numbers, and are not guessed at."""
_DENIALS = frozenset({"not", "isn't", "wasn't", "never", "doesn't", "didn't", "won't", "don't", "can't", "nothing"})
_ANOTHER_RESULT = frozenset({"open", "opens", "opened", "closed", "closes", "ol", "but", "except", "dead"})
"""Words not understood beside a number that may be a second result: the number by itself is not put up then."""
_TROUBLE = {
    ItemKind.TIME: Flag.TIME_LIKE,
    ItemKind.NOT_MEASURED: Flag.NOT_MEASURED,
    ItemKind.OTHER_UNIT: Flag.UNIT_MISMATCH,
}
_AFTER_AN_AND = frozenset({ItemKind.FILLER, ItemKind.LEAD, ItemKind.LABEL, ItemKind.MOVING, ItemKind.EACH})
_SAYS_NOTHING = frozenset({ItemKind.FILLER, ItemKind.PAUSE})
_TRAILING = frozenset({"and", "or", "give", "plus", "ish", "thereabouts"})


@dataclass(slots=True)
class Group:
    """A run of number words with the unit, label and hedges that belong to it."""

    atoms: list[Atom] = field(default_factory=list)
    unit: Item | None = None
    degrees: bool = False
    below_zero: bool = False
    spread: bool = False
    """True where "plus or minus" leads to this one."""
    label: str | None = None
    flags: set[Flag] = field(default_factory=set)
    joined: bool = False
    """True where "to" or a dash leads from the group before to this one."""
    closed: bool = False


def grouped(items: Sequence[Item]) -> tuple[list[Group], set[Flag]]:
    """Return the groups that hold a number, in order, and why nothing may be taken (empty: nothing forbids it)."""
    grouping = _Grouping(items)
    for at, item in enumerate(items):
        grouping.add(at, item)
    return grouping.finish()


class _Grouping:
    """The groups so far, and what was said ahead of the next number."""

    def __init__(self, items: Sequence[Item]) -> None:
        self.items = items
        self.groups = [Group()]
        self.trouble: set[Flag] = set()
        self.blocked = False
        self.flags_ahead: set[Flag] = set()
        self.label_ahead: str | None = None
        self.joined = self.spread = False

    def add(self, at: int, item: Item) -> None:
        """Take the item at a place into the group it belongs to."""
        group = self.groups[-1]
        if item.kind in _AFTER_AN_AND and group.atoms and group.atoms[-1].letter == "&":
            group.atoms.pop()
            group.closed = True
        match item.kind:
            case ItemKind.ATOM if item.atom is not None:
                self._number_word(at, item.atom)
            case ItemKind.UNIT:
                self._unit(item)
            case ItemKind.BELOW:
                group.below_zero = True
            case ItemKind.HEDGE:
                self._hedge(at, item)
            case ItemKind.LABEL | ItemKind.EACH:
                self._label("leg" if item.kind is ItemKind.EACH else item.text)
            case ItemKind.PAUSE if group.atoms and not group.closed:
                group.atoms.append(Atom(","))
                group.closed = item.text == "."
            case ItemKind.JOIN:
                self.joined = group.closed = bool(group.atoms)
                self.spread = item.text == "±"
            case ItemKind.CURRENCY:
                self.flags_ahead.add(Flag.RECOGNISER_ITN)
            case ItemKind.DIRECT:
                group.flags.add(Flag.DC_NOT_AC)
                group.closed = bool(group.atoms)
            case ItemKind.TIME | ItemKind.NOT_MEASURED | ItemKind.OTHER_UNIT:
                self.trouble.add(_TROUBLE[item.kind])
            case ItemKind.UNKNOWN | ItemKind.DECADE:
                self.blocked = True
            case ItemKind.LEAD | ItemKind.MOVING:
                group.closed = bool(group.atoms)
            case _:
                pass

    def finish(self) -> tuple[list[Group], set[Flag]]:
        """Return the groups with a number, and the reasons against taking any."""
        last = self.groups[-1]
        if self.label_ahead is not None:
            if last.label is None and last.atoms:
                last.label = self.label_ahead
            else:
                self.blocked = True
        if self.blocked:
            denied = any(item.text in _DENIALS for item in self.items)
            self.trouble.add(Flag.NEGATED if denied else Flag.PARTIAL)
            if any(item.text in _ANOTHER_RESULT for item in self.items):
                self.trouble.add(Flag.MULTIPLE)
        return [group for group in self.groups if group.atoms], self.trouble

    def _number_word(self, at: int, atom: Atom) -> None:
        group = self.groups[-1]
        if group.below_zero and atom.letter == "Z":
            return
        if group.unit is not None and atom.letter == "&" and self._fraction_follows(at):
            group.closed = False
        if group.closed:
            if atom.letter == "&" or (atom.letter == "a" and not self._number_follows(at)):
                return
            group = Group(joined=self.joined, spread=self.joined and self.spread)
            self.groups.append(group)
            self.joined = False
        if not group.atoms:
            if atom.letter == "&":
                return
            group.flags |= self.flags_ahead
            group.label = self.label_ahead
            self.flags_ahead, self.label_ahead = set(), None
        group.atoms.append(atom)

    def _unit(self, item: Item) -> None:
        group = self.groups[-1]
        if item.unit is None:
            group.degrees = True
        elif group.unit is not None and group.unit.unit != item.unit:
            self.blocked = True
        else:
            group.unit = item
        group.closed = bool(group.atoms)

    def _hedge(self, at: int, item: Item) -> None:
        group = self.groups[-1]
        between = bool(group.atoms) and any(later.kind is ItemKind.ATOM for later in self.items[at + 1 :])
        if between and item.words == ("up", "to"):
            self.joined = group.closed = True
        elif between and item.words[:1] and item.words[0] not in _TRAILING:
            self.blocked = self.blocked or item.words in _NOT_BETWEEN
            group.closed = True
            self.flags_ahead |= _BOUNDS[item.text]
        elif group.atoms:
            group.flags |= _BOUNDS[item.text]
            group.closed = True
        else:
            self.flags_ahead |= _BOUNDS[item.text]

    def _label(self, text: str) -> None:
        group = self.groups[-1]
        if group.atoms and self.groups[0].label is None:
            group.label = text
            group.closed = True
        elif self.label_ahead is None:
            self.label_ahead = text
            group.closed = bool(group.atoms)
        else:
            self.label_ahead = f"{self.label_ahead} {text}"

    def _number_follows(self, at: int) -> bool:
        return at + 1 < len(self.items) and self.items[at + 1].kind is ItemKind.ATOM

    def _fraction_follows(self, at: int) -> bool:
        """Return whether "a half" is all that follows, as in "an ohm and a half"."""
        rest = [
            item.atom.letter if item.atom else "" for item in self.items[at + 1 :] if item.kind not in _SAYS_NOTHING
        ]
        return rest in (["a", "X"], ["X"], ["D", "X"])
