"""One table of a procedure's file, read key by key; everything wrong is noted with its place."""

from collections.abc import Container, Iterator, Mapping
from decimal import Decimal, InvalidOperation
from enum import StrEnum
from typing import TypeVar

from voicetech.authoring.findings import Keys, Notes
from voicetech.authoring.format import Key, Kinds, Named, Number, Shape, Tables, Texts, Value
from voicetech.authoring.naming import instead, nearest
from voicetech.authoring.places import Written

Word = TypeVar("Word", bound=StrEnum)

_MOST_DIGITS = 30
_SOURCE = "source"
_TRUTH: Mapping[str, bool] = {"yes": True, "true": True, "no": False, "false": False}


class Table:
    """A table as it is written; each method takes one key and returns what it means, or a stand-in with a note.

    `holds` says which keys it may have. A mistyped one is noted and read as the key it is most like, so that what
    stands behind it is looked at too.
    """

    def __init__(self, notes: Notes, keys: Keys, written: Written, holds: Value | None = None) -> None:
        self.notes = notes
        self.keys = keys
        self._asked: set[str] = set()
        if written is not None and not isinstance(written, dict):
            self.note("is not a table of keys; write `key: value` lines below it", "shape")
        self._entries: dict[str, Written] = dict(written) if isinstance(written, dict) else {}
        if isinstance(holds, Kinds):
            if not self._entries.keys() & holds.shapes.keys():
                self._as_meant(holds.every_key, list(holds.shapes))
            present = [shape for kind, shape in holds.shapes.items() if kind in self._entries]
            holds = present[0] if len(present) == 1 else None
        if isinstance(holds, Shape):
            self._as_meant(holds.keys, [key for key in holds.keys if key not in self._entries])
        self._holds = holds

    def _as_meant(self, known: Container[str], missing: list[str]) -> None:
        """Read each unknown key as the missing one that it is most like."""
        for key in [key for key in self._entries if key not in known]:
            meant = nearest(key, missing)
            if meant is None or meant in self._entries:
                continue
            self.note(f"the key `{key}` is not known here; did you mean {meant}?", "unknown-key", key)
            self.notes.rename((*self.keys, key), (*self.keys, meant))
            self._entries[meant] = self._entries.pop(key)
            missing.remove(meant)

    def note(self, message: str, rule: str, *below: str | int) -> None:
        """Note a finding here, or below this table."""
        self.notes.add((*self.keys, *below), message, rule)

    def has(self, key: str) -> bool:
        """Return whether the key is written, even with nothing behind it."""
        return key in self._entries

    def text(self, key: str, otherwise: str | None = None) -> str:
        """Return the text under a key on one line; without `otherwise` it has to be there."""
        value = self._take(key)
        if isinstance(value, str) and value.strip():
            return " ".join(value.split())
        if value is not None and not isinstance(value, str):
            self.note("is not text; write words", "shape", key)
        elif otherwise is None:
            self._note_none(key)
        return otherwise or ""

    def maybe(self, key: str) -> str | None:
        """Return the text under a key, or None where it is not written."""
        return self.text(key, "") or None

    def texts(self, key: str) -> tuple[str, ...]:
        """Return the list of texts under a key; one text alone is a list of one."""
        value = self._take(key)
        if value is None:
            return ()
        if isinstance(value, str):
            return (" ".join(value.split()),)
        if isinstance(value, list) and all(isinstance(item, str) for item in value):
            return tuple(" ".join(item.split()) for item in value if isinstance(item, str))
        self.note("is not a list of words; write [first, second]", "shape", key)
        return ()

    def lists(self, key: str) -> tuple[tuple[str, ...], ...]:
        """Return a list of lists of texts."""
        value = self._take(key)
        found: list[tuple[str, ...]] = []
        if isinstance(value, list) and value and not any(isinstance(item, list) for item in value):
            self.note("is one list; write a list in a list, [[first, second]]", "shape", key)
            return ()
        for number, item in enumerate(value if isinstance(value, list) else []):
            if isinstance(item, list) and all(isinstance(part, str) for part in item):
                found.append(tuple(part for part in item if isinstance(part, str)))
            else:
                self.note("is not a list of words; write [first, second]", "shape", key, number)
        if value is not None and not isinstance(value, list):
            self.note("is not a list; write [[first, second], [third, fourth]]", "shape", key)
        return tuple(found)

    def word(self, key: str, words: type[Word], otherwise: Word | None = None) -> Word:
        """Return one of the words an enumeration names."""
        said = self.text(key, None if otherwise is None else otherwise.value)
        known = [word.value for word in words]
        if said in known:
            return words(said)
        if said:
            self.note(f"{said!r} is not known; {instead(said, known)}", "unknown-word", key)
        meant = nearest(said, known)
        return words(meant) if meant is not None else otherwise or next(iter(words))

    def words(self, key: str, words: type[Word]) -> tuple[Word, ...]:
        """Return the words of an enumeration that are listed under a key."""
        known = {word.value: word for word in words}
        found: list[Word] = []
        for said in self.texts(key):
            if said in known:
                found.append(known[said])
            else:
                self.note(f"{said!r} is not known; write one of {', '.join(known)}", "unknown-word", key)
        return tuple(found)

    def truth(self, key: str) -> bool:
        """Return whether the key says yes; not written means no."""
        said = self.text(key, "no")
        if said not in _TRUTH:
            self.note(f"{said!r} is neither yes nor no; write one of these", "unknown-word", key)
        return _TRUTH.get(said, False)

    def number(self, key: str, otherwise: Decimal | None = None) -> Decimal:
        """Return the number under a key with the digits as written; one that cannot be is noted and taken for 1."""
        said = self.text(key, None if otherwise is None else str(otherwise))
        value = self._number(said, key) if said else None
        if value is None:
            return otherwise or Decimal(1)
        holds = self._below(key)
        if isinstance(holds, Number):
            if holds.above is not None and value <= Decimal(holds.above):
                self.note(f"{said} is not above {holds.above:g}; correct it", "not-a-number", key)
                return Decimal(1)
            if holds.whole and value != value.to_integral_value():
                self.note(f"{said} is no whole number; correct it", "not-a-number", key)
        return value

    def span(self, key: str) -> tuple[Decimal, Decimal] | None:
        """Return the two numbers under a key, the lower first, or None where it is not written."""
        texts = self.texts(key)
        if not texts:
            return None
        if len(texts) != 2:
            self.note("needs two numbers; write [lowest, highest]", "shape", key)
            return None
        low, high = (self._number(text, key) for text in texts)
        if low is None or high is None:
            return None
        if low > high:
            self.note(f"{low} is above {high}; swap or correct them", "limits-reversed", key)
        return low, high

    def numbers(self, key: str) -> dict[str, Decimal]:
        """Return a table of numbers."""
        table = self.table(key)
        return {name: table.number(name) for name in table.names()}

    def named_texts(self, key: str) -> dict[str, str]:
        """Return a table of texts."""
        table = self.table(key)
        return {name: table.text(name) for name in table.names()}

    def named_lists(self, key: str) -> dict[str, tuple[str, ...]]:
        """Return a table of lists of texts."""
        table = self.table(key)
        return {name: table.texts(name) for name in table.names()}

    def table(self, key: str) -> "Table":
        """Return the table under a key, empty where it is not written."""
        if isinstance(self._holds, Shape) and key in self._holds.keys:
            self._note_missing(key, self._holds.keys[key])
        return Table(self.notes, (*self.keys, key), self._take(key), self._below(key))

    def tables(self, key: str) -> Iterator[tuple[str, "Table"]]:
        """Return the tables under a key's names, in the order they are written."""
        outer = self.table(key)
        for name in outer.names():
            yield name, outer.table(name)

    def each_table(self, key: str) -> Iterator["Table"]:
        """Return the tables that are listed under a key; one table alone is a list of one."""
        value, below = self._take(key), self._below(key)
        holds = below.shape if isinstance(below, Tables) else None
        if isinstance(value, dict):
            yield Table(self.notes, (*self.keys, key), value, holds)
            return
        if value is not None and not isinstance(value, list):
            self.note("is not a list of tables; write - {key: value}", "shape", key)
        for number, item in enumerate(value if isinstance(value, list) else []):
            yield Table(self.notes, (*self.keys, key, number), item, holds)

    def names(self) -> tuple[str, ...]:
        """Return the keys of this table in the order they are written."""
        return tuple(self._entries)

    def done(self) -> None:
        """Note every key that nothing asked for, and what has to be there and is not."""
        if isinstance(self._holds, Shape):
            for name, known in self._holds.keys.items():
                self._note_missing(name, known)
        for key in self._entries:
            if key not in self._asked:
                self.note(f"the key `{key}` is not known here; {self._do_about(key)}", "unknown-key", key)

    def _note_missing(self, name: str, known: Key) -> None:
        if (*self.keys, name) in self.notes.noted:
            return
        written = self._entries.get(name)
        if known.needed and name not in self._entries:
            self._note_none(name)
        elif isinstance(known.holds, Texts) and known.holds.least and written in ([], ""):
            self.note(f"has nothing in `{name}`; write at least one", "missing-key", name)

    def _note_none(self, key: str) -> None:
        if self.notes.noted.get(self.keys, set()) & {"shape", "missing-key"}:
            # What is no table, or is not there, has no keys.
            return
        if key == _SOURCE:
            self.note("has no `source`; name it, or write: common practice, no source", "missing-source", key)
        else:
            self.note(f"has no `{key}`; write it", "missing-key", key)

    def _do_about(self, key: str) -> str:
        known = [name for name in self._asked if name not in self._entries]
        twice = nearest(key, self._asked & self._entries.keys())
        if nearest(key, known) is None and twice is not None:
            return f"it looks like `{twice}`, which is written too; keep one"
        if self._entries[key] is None:
            return "where it is part of the text before it, put that text in quotes"
        return instead(key, sorted(known))

    def _below(self, key: str) -> Value | None:
        match self._holds:
            case Shape(keys=keys) if key in keys:
                return keys[key].holds
            case Named(value=value):
                return value
            case _:
                return None

    def _take(self, key: str) -> Written:
        self._asked.add(key)
        return self._entries.get(key)

    def _number(self, text: str, key: str) -> Decimal | None:
        try:
            value = Decimal(text)
        except InvalidOperation:
            value = Decimal("NaN")
        if value.is_finite() and abs(value.adjusted()) < _MOST_DIGITS:
            return value
        told = "is larger or smaller than anything measured" if value.is_finite() else "is not a number"
        self.note(f"{text!r} {told}; write digits, such as 1.80", "not-a-number", key)
        return None
