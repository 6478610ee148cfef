"""Summaries written into an archive and taken out of it."""

import json
import zlib
from collections.abc import Iterable, Mapping, Sequence
from typing import Any, Final, TypeVar

from sqlalchemy import Connection, Table, delete, select

from voicetech.archive import tables, word_index
from voicetech.language.spelled import characters
from voicetech.summary.records import JobSummary, Line, Who
from voicetech.summary.words import words_in

APPLIANCE: Final = "appliance"
COMPLAINT: Final = "complaint"
OUTCOME: Final = "outcome"
FAULT: Final = "fault"
PART: Final = "part"
OPEN: Final = "open"
"""The outcome of a job that is not closed."""

_Key = TypeVar("_Key", int, str)
_Term = tuple[str, str, str]


def keep(connection: Connection, record: str, summaries: Sequence[JobSummary]) -> None:
    """Put these summaries in the place of any that jobs of the same names in the same record had."""
    drop(connection, record, [summary.job for summary in summaries])
    if not summaries:
        return
    numbers = connection.execute(
        tables.job.insert().returning(tables.job.c.nr, sort_by_parameter_order=True),
        [_row(record, summary) for summary in summaries],
    ).scalars()
    numbered = [*zip(numbers, summaries, strict=True)]
    terms = _terms(connection, summaries)
    steps = _steps(connection, summaries)
    _insert(
        connection,
        tables.job_term,
        [
            {"term": terms[kind, name, says], "nr": nr, "place": place, "state": state}
            for nr, summary in numbered
            for place, (kind, name, says, state) in enumerate(_named(summary))
        ],
    )
    _insert(
        connection,
        tables.section_time,
        [
            {"nr": nr, "step": steps[_of(summary), s.section, ""], "visits": s.visits, "seconds": s.seconds}
            for nr, summary in numbered
            for s in summary.sections
        ],
    )
    _insert(
        connection,
        tables.prompt_count,
        [
            {"nr": nr, "step": steps[_of(summary), p.section, p.step], **{name: getattr(p, name) for name in COUNTED}}
            for nr, summary in numbered
            for p in summary.prompts
        ],
    )
    _insert(connection, tables.lines, [{"nr": nr, "lines": packed(summary.lines)} for nr, summary in numbered])
    word_index.add(connection, [(nr, word_index.said_in(summary.lines)) for nr, summary in numbered])


def drop(connection: Connection, record: str, jobs: Iterable[str]) -> int:
    """Return how many summaries of jobs of these names in this record were taken out."""
    numbers: list[int] = []
    for some in in_pieces([_text(job) for job in jobs]):
        of_record = (tables.job.c.record == record) & tables.job.c.job.in_(some)
        found = connection.execute(select(tables.job.c.nr).where(of_record)).scalars().all()
        for table in (tables.job, tables.job_term, tables.section_time, tables.prompt_count, tables.lines):
            if found:
                connection.execute(delete(table).where(table.c.nr.in_(found)))
        numbers += found
    word_index.remove(connection, numbers)
    return len(numbers)


def in_pieces(keys: Sequence[_Key], most: int = 500) -> Iterable[Sequence[_Key]]:
    """Return keys in pieces that a statement can take."""
    return (keys[first : first + most] for first in range(0, len(keys), most))


COUNTED: Final = ("asked", "answered", "first", "repeated", "again", "which", "corrected", "denied", "misheard")
"""What is counted of each prompt."""


def packed(lines: Iterable[Line]) -> bytes:
    """Return lines as they are stored."""
    rows = [[line.who.value, line.event, line.at_s, line.text] for line in lines]
    return zlib.compress(json.dumps(rows, ensure_ascii=False, separators=(",", ":")).encode())


def unpacked(stored: bytes) -> tuple[Line, ...]:
    """Return stored lines."""
    return tuple(Line(Who(who), event, at_s, said) for who, event, at_s, said in json.loads(zlib.decompress(stored)))


def model_words(model: str | None) -> str:
    """Return a model as it is looked for: spelled out or not, without signs and spaces."""
    return "" if model is None else "".join(words_in(characters(model) or model))


def _row(record: str, summary: JobSummary) -> dict[str, Any]:
    return {
        "record": record,
        "job": _text(summary.job),
        "procedure": _text(summary.procedure),
        "revision": summary.revision,
        "digest": _text(summary.digest),
        "model": _text(summary.model),
        "model_words": model_words(summary.model),
        "serial": _text(summary.serial),
        "opened_at_s": summary.opened_at_s,
        "last_at_s": summary.last_at_s,
        "from_s": _first(summary.opened_at_s, summary.last_at_s),
        "to_s": _first(summary.last_at_s, summary.opened_at_s),
        "worked_s": summary.worked_s,
        "closed": int(summary.outcome is not None),
        "events": summary.events,
        "unreadable": summary.unreadable,
        "proofs_of_dead": summary.proofs_of_dead,
        "tests": summary.tests,
    }


def _first(*times: float | None) -> float:
    return next((at_s for at_s in times if at_s is not None), 0.0)


def _text(text: str | None) -> Any:
    # PostgreSQL has no text with this sign in it.
    return None if text is None else text.replace("\0", "\N{REPLACEMENT CHARACTER}")


def _of(summary: JobSummary) -> str:
    return _text(summary.procedure) or ""


def _named(summary: JobSummary) -> list[tuple[str, str, str, str]]:
    """Return a job's names, each once: kind, name, what it says, and the state of a fault."""
    named = [(OUTCOME, summary.outcome or OPEN, "", "")]
    if summary.appliance:
        named.append((APPLIANCE, summary.appliance, "", ""))
    if summary.complaint:
        named.append((COMPLAINT, summary.complaint, summary.complaint_says, ""))
    named += [(FAULT, fault.cause, fault.says, fault.state.value) for fault in summary.faults]
    named += [(PART, part, "", "") for part in summary.parts]
    each = {(kind, _text(name)): (_text(says), state) for kind, name, says, state in named}
    return [(kind, name, says, state) for (kind, name), (says, state) in each.items()]


def _terms(connection: Connection, summaries: Sequence[JobSummary]) -> Mapping[_Term, int]:
    named = {(kind, name, says) for summary in summaries for kind, name, says, _ in _named(summary)}
    known = _known_terms(connection, named)
    # In one order everywhere, so that two programs never wait for each other.
    new = [{"kind": kind, "name": name, "says": says} for kind, name, says in sorted(named - set(known))]
    if not new:
        return known
    insert_new(connection, tables.term, new)
    return _known_terms(connection, named)


def _known_terms(connection: Connection, named: Iterable[_Term]) -> dict[_Term, int]:
    known: dict[_Term, int] = {}
    for some in in_pieces(sorted({name for _, name, _ in named})):
        rows = connection.execute(select(tables.term).where(tables.term.c.name.in_(some)))
        known |= {(row.kind, row.name, row.says): row.id for row in rows}
    return {term: known[term] for term in named if term in known}


def _steps(connection: Connection, summaries: Sequence[JobSummary]) -> Mapping[tuple[str, str, str], int]:
    wanted = {
        (_of(summary), section, step)
        for summary in summaries
        for section, step in [(s.section, "") for s in summary.sections]
        + [(p.section, p.step) for p in summary.prompts]
    }
    known = _known_steps(connection, {procedure for procedure, _, _ in wanted})
    new = sorted(wanted - set(known))
    if not new:
        return known
    rows = [{"procedure": procedure, "section": section, "step": step} for procedure, section, step in new]
    insert_new(connection, tables.step, rows)
    return _known_steps(connection, {procedure for procedure, _, _ in wanted})


def _known_steps(connection: Connection, procedures: Iterable[str]) -> dict[tuple[str, str, str], int]:
    rows = connection.execute(select(tables.step).where(tables.step.c.procedure.in_(sorted(procedures))))
    return {(row.procedure, row.section, row.step): row.id for row in rows}


def _insert(connection: Connection, table: Table, rows: Sequence[Mapping[str, Any]]) -> None:
    if rows:
        connection.execute(table.insert(), rows)


def insert_new(connection: Connection, table: Table, rows: Sequence[Mapping[str, Any]]) -> None:
    """Add rows, leaving those as they are that somebody else was quicker with."""
    if rows:
        connection.execute(_unless_there(connection, table), rows)


def insert_if_new(connection: Connection, table: Table, row: Mapping[str, Any]) -> bool:
    """Return whether this row is new; where there is one of its key, that is left as it is."""
    key = next(iter(table.primary_key))
    return connection.execute(_unless_there(connection, table).values(row).returning(key)).first() is not None


def _unless_there(connection: Connection, table: Table) -> Any:
    from sqlalchemy.dialects import postgresql, sqlite

    dialect = sqlite if connection.dialect.name == "sqlite" else postgresql
    return dialect.insert(table).on_conflict_do_nothing()
