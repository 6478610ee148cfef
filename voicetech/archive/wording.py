"""The words of the procedures that jobs followed, kept in the archive so that each text is read once."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import cache

from pydantic import TypeAdapter, ValidationError
from sqlalchemy import Connection, select

from voicetech.archive import tables
from voicetech.archive.keeping import insert_new
from voicetech.events import JobOpened
from voicetech.procedure import Procedure, WrittenFile
from voicetech.summary.records import ProcedureWords, words_of

WrittenIn = Callable[[str], Sequence[WrittenFile]]
"""Gives the files of the procedure with this digest, its own first; none where they are not kept."""


@dataclass(slots=True)
class Wording:
    """Finds the words of procedures by digest: in the archive, else in the text that is kept, else in today's."""

    written: WrittenIn
    known: dict[tuple[str, str], ProcedureWords | None] = field(default_factory=dict)

    def of(self, connection: Connection, opened: JobOpened | None) -> ProcedureWords | None:
        """Return the words of the procedure a job was opened with; None where there is no such text any more."""
        if opened is None:
            return None
        key = opened.digest, opened.procedure
        if key not in self.known:
            self.known[key] = _stored(connection, opened.digest) or self._read(connection, opened)
        return self.known[key]

    def _read(self, connection: Connection, opened: JobOpened) -> ProcedureWords | None:
        # Where nothing is new no procedure is read, and a list need not wait for what reads them.
        from voicetech.authoring.procedure_files import as_begun

        found = as_begun(opened.digest, _shipped(opened.procedure), lambda: self.written(opened.digest))
        if found is None or found.digest == opened.digest:
            return None if found is None else _keep(connection, opened.digest, found)
        return words_of(found)


def _shipped(name: str) -> Procedure | None:
    from voicetech.authoring.findings import ProcedureFindings
    from voicetech.authoring.procedure_files import load_shipped, shipped_names

    try:
        return load_shipped(name) if name in shipped_names() else None
    except ProcedureFindings:
        return None


@cache
def _words() -> TypeAdapter[ProcedureWords]:
    return TypeAdapter(ProcedureWords)


def _stored(connection: Connection, digest: str) -> ProcedureWords | None:
    stored = connection.execute(select(tables.wording.c.words).where(tables.wording.c.digest == digest)).scalar()
    try:
        return None if stored is None else _words().validate_json(stored)
    except ValidationError:
        return None


def _keep(connection: Connection, digest: str, procedure: Procedure) -> ProcedureWords:
    words = words_of(procedure)
    insert_new(connection, tables.wording, [{"digest": digest, "words": _words().dump_json(words).decode()}])
    return words
