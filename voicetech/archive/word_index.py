"""Which words stand in which job: FTS5 in SQLite, a text search vector in PostgreSQL, the same words in both.

Words come folded (`summary.words`), and each is stored with a letter in front for who said it, so that a search can be
for one speaker's words. Neither database's own idea of a word, of grammar or of a query's syntax plays a part.
"""

from collections.abc import Iterable, Mapping, Sequence
from itertools import accumulate
from typing import Final

from sqlalchemy import ColumnElement, Connection, Integer, column, select, text

from voicetech.summary.records import Line, Who
from voicetech.summary.words import words_in

TABLE: Final = "words"

MADE_BY: Final[Mapping[str, tuple[str, ...]]] = {
    # Words hold no sign that is not a letter or a digit, and what is no ASCII is never taken apart by this tokenizer.
    # Where in a job a word stands is of no interest to the index: `detail = none` makes it a third as large.
    "sqlite": ("CREATE VIRTUAL TABLE words USING fts5 (said, detail = none, tokenize = 'ascii')",),
    "postgresql": (
        "CREATE TABLE words (nr INTEGER PRIMARY KEY, said TSVECTOR NOT NULL)",
        "CREATE INDEX words_said ON words USING GIN (said)",
    ),
}

_LETTER: Final = {Who.TECHNICIAN: "t", Who.PROGRAM: "p", Who.REVIEWER: "v", Who.RECORD: "r"}
MOST_BYTES: Final = 900_000
"""How many bytes of different words of one job are looked up: PostgreSQL takes a megabyte (from memory)."""


def said_in(lines: Iterable[Line]) -> str:
    """Return the words of a job's lines as they are stored: each once, with its letter, between spaces."""
    words = dict.fromkeys(_LETTER[line.who] + word for line in lines for word in words_in(line.text))
    ends = accumulate(len(word.encode()) + 1 for word in words)
    return " ".join(sorted(word for word, end in zip(words, ends, strict=True) if end <= MOST_BYTES))


def add(connection: Connection, rows: Sequence[tuple[int, str]]) -> None:
    """Add jobs by number, with their words as they are stored."""
    statement = (
        "INSERT INTO words (rowid, said) VALUES (:nr, :said)"
        if connection.dialect.name == "sqlite"
        else "INSERT INTO words (nr, said) VALUES (:nr, array_to_tsvector(string_to_array(:said, ' ')))"
    )
    if rows:
        connection.execute(text(statement), [{"nr": nr, "said": said} for nr, said in rows])


def remove(connection: Connection, numbers: Sequence[int]) -> None:
    """Remove jobs by number."""
    key = "rowid" if connection.dialect.name == "sqlite" else "nr"
    if numbers:
        connection.execute(text(f"DELETE FROM words WHERE {key} = :nr"), [{"nr": nr} for nr in numbers])  # noqa: S608


def tidy(connection: Connection) -> None:
    """Merge the index, so that no word of a removed job is left in the file."""
    if connection.dialect.name == "sqlite":
        connection.execute(text("INSERT INTO words (words) VALUES ('optimize')"))


def holds(
    connection: Connection, number: ColumnElement[int], words: Sequence[str], who: Who | None
) -> ColumnElement[bool]:
    """Return the condition that a job holds all of these words, the last of which may go on.

    It is for statements of the open transaction.
    """
    letters = [_LETTER[who]] if who is not None else [*_LETTER.values()]
    if connection.dialect.name == "sqlite":
        match = " AND ".join(
            "(" + " OR ".join(f'"{letter}{word}"{"*" if last else ""}' for letter in letters) + ")"
            for word, last in _with_last(words)
        )
        found = text("SELECT rowid FROM words WHERE words MATCH :looked_for").bindparams(looked_for=match)
        return number.in_(found.columns(column("nr", Integer)))
    match = " & ".join(
        "(" + " | ".join(f"'{letter}{word}'{':*' if last else ''}" for letter in letters) + ")"
        for word, last in _with_last(words)
    )
    # Reading a vector costs more than the planner thinks, because it lies compressed beside its table: it would read
    # all of them for a common word, and go through the newest jobs one by one for a rare one.
    connection.execute(text("SET LOCAL enable_seqscan = off"))
    # And what it is denied it counts as so costly that it would rather compile the statement first.
    connection.execute(text("SET LOCAL jit = off"))
    found = text("SELECT nr FROM words WHERE said @@ CAST(:looked_for AS tsquery)").bindparams(looked_for=match)
    once = found.columns(column("nr", Integer)).cte("found").prefix_with("MATERIALIZED")
    return number.in_(select(once.c.nr))


def _with_last(words: Sequence[str]) -> list[tuple[str, bool]]:
    return [(word, place == len(words) - 1) for place, word in enumerate(words)]
