"""One table of a procedure's file, read key by key; everything wrong is noted with its place."""

from collections.abc import Iterator, Mapping
from decimal import Decimal, InvalidOperation
from enum import StrEnum
from typing import TypeVar

from voicetech.authoring.findings import Keys, Notes
from voicetech.authoring.places import Written

Word = TypeVar("Word", bound=StrEnum)

_TRUTH: Mapping[str, bool] = {"yes": True, "true": True, "no": False, "false": False}


class Table:
    """A table as it is written; each method takes one key and returns what it means, or a stand-in with a note."""

    def __init__(self, notes: Notes, keys: Keys, written: Written) -> None:
        self.notes = notes
        self.keys = keys
        self._asked: set[str] = set()
        if written is not None and not isinstance(written, dict):
            self.note("is not a table of keys; write `key: value` lines below it", "shape")
        self._entries: dict[str, Written] = written if isinstance(written, dict) else {}

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
            self.note(f"has no `{key}`; write it", "missing-key")
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
            self.note(f"{said!r} is not known; write one of {', '.join(known)}", "unknown-word", key)
        return otherwise or next(iter(words))

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
        """Return the number under a key with the digits as written."""
        said = self.text(key, None if otherwise is None else str(otherwise))
        value = self._number(said, key) if said else None
        return (otherwise or Decimal(0)) if value is None else value

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
        return Table(self.notes, (*self.keys, key), self._take(key))

    def tables(self, key: str) -> Iterator[tuple[str, "Table"]]:
        """Return the tables under a key's names, in the order they are written."""
        outer = self.table(key)
        for name in outer.names():
            yield name, outer.table(name)

    def each_table(self, key: str) -> Iterator["Table"]:
        """Return the tables that are listed under a key; one table alone is a list of one."""
        value = self._take(key)
        if isinstance(value, dict):
            yield Table(self.notes, (*self.keys, key), value)
            return
        if value is not None and not isinstance(value, list):
            self.note("is not a list of tables; write - {key: value}", "shape", key)
        for number, item in enumerate(value if isinstance(value, list) else []):
            yield Table(self.notes, (*self.keys, key, number), item)

    def names(self) -> tuple[str, ...]:
        """Return the keys of this table in the order they are written."""
        return tuple(self._entries)

    def done(self) -> None:
        """Note every key that nothing asked for."""
        for key in self._entries:
            if key not in self._asked:
                known = ", ".join(sorted(self._asked))
                self.note(f"the key `{key}` is not known here; correct it to one of {known}", "unknown-key", key)

    def _take(self, key: str) -> Written:
        self._asked.add(key)
        return self._entries.get(key)

    def _number(self, text: str, key: str) -> Decimal | None:
        try:
            value = Decimal(text)
        except InvalidOperation:
            value = Decimal("NaN")
        if value.is_finite():
            return value
        self.note(f"{text!r} is not a number; write digits, such as 1.80", "not-a-number", key)
        return None
