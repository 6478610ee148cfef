"""Jobs picked out of an archive by what is known of them and by what was said in them."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from sqlalchemy import ColumnElement, Connection, Select, and_, func, select, true

from voicetech.archive import tables, word_index
from voicetech.archive.errors import NoSuchNameError
from voicetech.archive.keeping import APPLIANCE, COMPLAINT, FAULT, OUTCOME, PART, in_pieces, model_words, unpacked
from voicetech.archive.opening import Archive
from voicetech.summary.records import Fault, FaultState, Who
from voicetech.summary.words import Found, found_in, words_in

_LIKENED: Final = 12
"""How many names are offered where one is not known (judgement, no source)."""


@dataclass(frozen=True, slots=True)
class Filters:
    """What is looked for; all of it has to hold, None and empty being anything.

    `words` come folded (`summary.words.wanted`); `who` says whose they are. `since_s` and `until_s` are when a job
    was worked on: at or after the one, before the other. `record` is a laptop's, by its number or its name.
    """

    words: tuple[str, ...] = ()
    who: Who | None = None
    appliance: str | None = None
    model: str | None = None
    complaint: str | None = None
    fault: str | None = None
    part: str | None = None
    outcome: str | None = None
    since_s: float | None = None
    until_s: float | None = None
    record: str | None = None


@dataclass(frozen=True, slots=True)
class JobListed:
    """One job in a list; times in seconds since the epoch, None where the record does not say.

    `record` tells the laptop's record from others, `laptop` is what its owner calls it. `found` is where the words
    that were looked for stand.
    """

    record: str
    laptop: str
    job: str
    procedure: str | None
    appliance: str | None
    model: str | None
    serial: str | None
    complaint: str | None
    complaint_says: str
    outcome: str | None
    faults: tuple[Fault, ...]
    parts: tuple[str, ...]
    opened_at_s: float | None
    last_at_s: float | None
    worked_s: int
    tests: int | None
    proofs_of_dead: int
    events: int
    unreadable: int
    found: Found | None


@dataclass(frozen=True, slots=True)
class Page:
    """The jobs that were found, the one worked on last first, and how many there are in all."""

    jobs: tuple[JobListed, ...]
    total: int


def jobs_listed(archive: Archive, filters: Filters, limit: int | None = None) -> Page:
    """Return the jobs that all of the filters hold for; `limit` is how many of them at most.

    Raises NoSuchNameError where no job has such a fault, part, complaint, appliance or outcome; ArchiveError.
    """
    with archive.reading() as connection:
        condition = condition_of(connection, filters)
        order = (tables.job.c.to_s.desc(), tables.job.c.job.desc(), tables.job.c.record.desc())
        rows = connection.execute(
            select(tables.job, tables.record.c.name)
            .join(tables.record, tables.record.c.id == tables.job.c.record, isouter=True)
            .where(condition)
            .order_by(*order)
            .limit(limit)
        ).all()
        total = len(rows)
        if total == limit:
            total = connection.execute(select(func.count()).select_from(tables.job).where(condition)).scalar_one()
        numbers = [row.nr for row in rows]
        names = _names(connection, numbers)
        found = _found(connection, numbers, filters) if filters.words else {}
    jobs = []
    for row in rows:
        of_kind = names.get(row.nr, {})
        appliance, complaint = (next(iter(of_kind.get(kind, ())), ("", "", "")) for kind in (APPLIANCE, COMPLAINT))
        outcome = next((name for name, _, _ in of_kind.get(OUTCOME, ()) if row.closed), None)
        jobs.append(
            JobListed(
                record=row.record,
                laptop=row.name or "",
                job=row.job,
                procedure=row.procedure,
                appliance=appliance[0] or None,
                model=row.model,
                serial=row.serial,
                complaint=complaint[0] or None,
                complaint_says=complaint[1],
                outcome=outcome,
                faults=tuple(Fault(name, says, FaultState(state)) for name, says, state in of_kind.get(FAULT, ())),
                parts=tuple(name for name, _, _ in of_kind.get(PART, ())),
                opened_at_s=row.opened_at_s,
                last_at_s=row.last_at_s,
                worked_s=row.worked_s,
                tests=row.tests,
                proofs_of_dead=row.proofs_of_dead,
                events=row.events,
                unreadable=row.unreadable,
                found=found.get(row.nr),
            )
        )
    return Page(tuple(jobs), total)


def is_empty(archive: Archive) -> bool:
    """Return whether the archive holds no job at all."""
    with archive.reading() as connection:
        return connection.execute(select(tables.job.c.nr).limit(1)).first() is None


def condition_of(connection: Connection, filters: Filters) -> ColumnElement[bool]:
    """Return the condition that all of the filters hold for a row of `job`. Raises NoSuchNameError."""
    job = tables.job
    conditions: list[ColumnElement[bool]] = []
    for kind in (APPLIANCE, COMPLAINT, FAULT, PART, OUTCOME):
        given = getattr(filters, kind)
        if given is not None:
            conditions.append(job.c.nr.in_(_with_term(connection, kind, given)))
    if filters.model is not None:
        conditions.append(job.c.model_words.contains(model_words(filters.model), autoescape=True))
        conditions.append(job.c.model_words != "")
    if filters.since_s is not None:
        conditions.append(job.c.to_s >= filters.since_s)
    if filters.until_s is not None:
        conditions.append(job.c.from_s < filters.until_s)
    if filters.record is not None:
        conditions.append(job.c.record.in_(_records(connection, filters.record)))
    if filters.words:
        conditions.append(word_index.holds(connection, job.c.nr, filters.words, filters.who))
    return and_(true(), *conditions)


def _with_term(connection: Connection, kind: str, given: str) -> Select[tuple[int]]:
    terms = connection.execute(select(tables.term).where(tables.term.c.kind == kind).order_by(tables.term.c.name)).all()
    exact = [term.id for term in terms if term.name == given]
    found = exact or [term.id for term in terms if _is_called(given, term.name, term.says)]
    if not found:
        raise NoSuchNameError(_no_such(kind, given, [*dict.fromkeys(term.name for term in terms)]))
    with_term = select(tables.job_term.c.nr).where(tables.job_term.c.term.in_(found))
    return with_term.where(tables.job_term.c.state != FaultState.RULED_OUT.value) if kind == FAULT else with_term


def _is_called(given: str, name: str, says: str) -> bool:
    asked, known = [*words_in(given)], [*words_in(f"{name} {says}")]
    return bool(asked) and all(any(word.startswith(part) for word in known) for part in asked)


def _no_such(kind: str, given: str, names: Sequence[str]) -> str:
    from rapidfuzz import process

    if not names:
        return f"No job on record has any {kind} yet."
    if len(names) <= _LIKENED:
        return f"No job on record has the {kind} {given!r}. There are: {', '.join(names)}."
    near = [name for name, _, _ in process.extract(given, names, limit=_LIKENED)]
    return f"No job on record has the {kind} {given!r}. There are {len(names)}, such as: {', '.join(near)}."


def _records(connection: Connection, given: str) -> list[str]:
    rows = connection.execute(select(tables.record)).all()
    found = [row.id for row in rows if given in (row.id, row.name) or (len(given) >= 4 and row.id.startswith(given))]
    if not found:
        known = ", ".join(sorted(row.name or row.id[:8] for row in rows))
        raise NoSuchNameError(f"No laptop called {given!r} has brought jobs here. There are: {known or 'none'}.")
    return found


_Name = tuple[str, str, str]


def _names(connection: Connection, numbers: Sequence[int]) -> Mapping[int, Mapping[str, list[_Name]]]:
    names: dict[int, dict[str, list[_Name]]] = {}
    for some in in_pieces(numbers):
        rows = connection.execute(
            select(tables.job_term, tables.term.c.kind, tables.term.c.name, tables.term.c.says)
            .join(tables.term, tables.term.c.id == tables.job_term.c.term)
            .where(tables.job_term.c.nr.in_(some))
            .order_by(tables.job_term.c.nr, tables.job_term.c.place)
        )
        for row in rows:
            names.setdefault(row.nr, {}).setdefault(row.kind, []).append((row.name, row.says, row.state))
    return names


def _found(connection: Connection, numbers: Sequence[int], filters: Filters) -> Mapping[int, Found | None]:
    found: dict[int, Found | None] = {}
    for some in in_pieces(numbers):
        for row in connection.execute(select(tables.lines).where(tables.lines.c.nr.in_(some))):
            said = [line for line in unpacked(row.lines) if filters.who in (None, line.who)]
            found[row.nr] = found_in(said, filters.words)
    return found
