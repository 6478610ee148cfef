"""Figures over all jobs that a list would show: how long, what was found, and how well prompts are understood."""

from collections import Counter
from dataclasses import dataclass
from typing import Any, Final

from sqlalchemy import ColumnElement, Connection, Select, func, select

from voicetech.archive import tables
from voicetech.archive.keeping import COMPLAINT, COUNTED, FAULT, OUTCOME
from voicetech.archive.listing import Filters, condition_of
from voicetech.archive.opening import Archive
from voicetech.summary.rates import Share, Spread, spread_of
from voicetech.summary.records import FaultState, PromptCount


@dataclass(frozen=True, slots=True)
class OutcomeFigure:
    """How many jobs ended so."""

    outcome: str
    share: Share


@dataclass(frozen=True, slots=True)
class SectionFigure:
    """How long a section of a procedure took in the jobs that came to it, in seconds a job."""

    procedure: str
    section: str
    seconds: Spread
    visits: int


@dataclass(frozen=True, slots=True)
class FaultFigure:
    """How many of the jobs with a complaint had this fault; `complaint` is None where none is on record."""

    complaint: str | None
    fault: str
    says: str
    share: Share


@dataclass(frozen=True, slots=True)
class PromptFigure:
    """What became of a prompt in all jobs; `first` is how many of the answered were answered by the first words."""

    procedure: str
    count: PromptCount

    @property
    def first(self) -> Share:
        """Return how many of those answered were answered by the first thing that was said."""
        return Share(self.count.first, self.count.answered)

    @property
    def trouble(self) -> int:
        """Return how often something had to be said once more or was taken wrong."""
        count = self.count
        return count.again + count.which + count.corrected + count.denied + count.misheard


@dataclass(frozen=True, slots=True)
class Figures:
    """The figures of the jobs that were picked; None where there is nothing to count.

    `worked` is seconds a closed job, `tests` tests a closed job, `proofs` proofs of dead a job, `proved_again` the
    jobs that had to make one again, of those that made one. `tests_made` and `proofs_made` say how many jobs had so
    many. Prompts stand in the order of their trouble, faults by complaint, sections by the time they take.
    """

    jobs: int
    first_s: float | None
    last_s: float | None
    outcomes: tuple[OutcomeFigure, ...]
    worked: Spread | None
    sections: tuple[SectionFigure, ...]
    faults: tuple[FaultFigure, ...]
    prompts: tuple[PromptFigure, ...]
    first_answers: Share
    tests: Spread | None
    tests_made: tuple[tuple[int, int], ...]
    proofs: Spread | None
    proofs_made: tuple[tuple[int, int], ...]
    proved_again: Share


def figures_of(archive: Archive, filters: Filters) -> Figures:
    """Return the figures of all jobs that the filters hold for. Raises NoSuchNameError, ArchiveError."""
    job = tables.job
    with archive.reading() as connection:
        condition = None if filters == Filters() else condition_of(connection, filters)
        jobs, first_s, last_s = connection.execute(
            _of_chosen(
                select(func.count(), func.min(func.nullif(job.c.from_s, 0)), func.max(func.nullif(job.c.to_s, 0))),
                condition,
            ).select_from(job)
        ).one()
        closed = job.c.closed == 1
        worked = _counts(connection, _of_chosen(_counted(job.c.worked_s).where(closed), condition))
        tests = _counts(
            connection, _of_chosen(_counted(job.c.tests).where(closed, job.c.tests.is_not(None)), condition)
        )
        proofs = _counts(connection, _of_chosen(_counted(job.c.proofs_of_dead), condition))
        chosen = None if condition is None else select(job.c.nr).where(condition)
        prompts = _prompts(connection, chosen)
        return Figures(
            jobs=jobs,
            first_s=first_s,
            last_s=last_s,
            outcomes=_outcomes(connection, chosen, jobs),
            worked=spread_of(worked),
            sections=_sections(connection, chosen),
            faults=_faults(connection, chosen),
            prompts=prompts,
            first_answers=Share(sum(p.count.first for p in prompts), sum(p.count.answered for p in prompts)),
            tests=spread_of(tests),
            tests_made=tuple(sorted(tests.items())),
            proofs=spread_of(proofs),
            proofs_made=tuple(sorted(proofs.items())),
            proved_again=Share(
                sum(count for made, count in proofs.items() if made > 1),
                sum(count for made, count in proofs.items() if made > 0),
            ),
        )


_Chosen = Select[Any] | None
"""The numbers of the jobs that are counted; None for all."""


def _of_chosen(query: Any, condition: ColumnElement[bool] | None) -> Any:
    return query if condition is None else query.where(condition)


def _counted(column: Any) -> Any:
    return select(column, func.count()).group_by(column)


def _counts(connection: Connection, query: Any) -> dict[int, int]:
    return {row[0]: row[1] for row in connection.execute(query)}


def _among(column: Any, chosen: _Chosen) -> list[ColumnElement[bool]]:
    return [] if chosen is None else [column.in_(chosen)]


def _outcomes(connection: Connection, chosen: _Chosen, jobs: int) -> tuple[OutcomeFigure, ...]:
    term, job_term = tables.term, tables.job_term
    rows = connection.execute(
        select(term.c.name, func.count())
        .join(job_term, job_term.c.term == term.c.id)
        .where(term.c.kind == OUTCOME, *_among(job_term.c.nr, chosen))
        .group_by(term.c.name)
    ).all()
    ordered = sorted(rows, key=lambda row: (-row[1], row[0]))
    return tuple(OutcomeFigure(name, Share(count, jobs)) for name, count in ordered)


def _sections(connection: Connection, chosen: _Chosen) -> tuple[SectionFigure, ...]:
    step, spent = tables.step, tables.section_time
    # The names are looked up afterwards: joined in the database they would be compared a million times over.
    rows = connection.execute(
        select(spent.c.step, spent.c.seconds, func.count(), func.sum(spent.c.visits))
        .where(*_among(spent.c.nr, chosen))
        .group_by(spent.c.step, spent.c.seconds)
    ).all()
    named = {row.id: row for row in connection.execute(select(step).where(step.c.step == ""))}
    counts: dict[int, dict[int, int]] = {}
    visits: dict[int, int] = {}
    for of, seconds, jobs, visited in rows:
        counts.setdefault(of, {})[seconds] = jobs
        visits[of] = visits.get(of, 0) + int(visited)
    figures = [
        SectionFigure(named[of].procedure, named[of].section, seconds, visits[of])
        for of, counted in counts.items()
        if (seconds := spread_of(counted)) is not None
    ]
    return tuple(sorted(figures, key=lambda figure: (-figure.seconds.mean, figure.procedure, figure.section)))


def _faults(connection: Connection, chosen: _Chosen) -> tuple[FaultFigure, ...]:
    term, job_term = tables.term, tables.job_term
    complaints = {row.id: row.name for row in connection.execute(select(term).where(term.c.kind == COMPLAINT))}
    complained = job_term.alias("complained")
    of_complaint = complained.c.term.in_([*complaints])
    counted = connection.execute(
        select(complained.c.term, func.count())
        .where(of_complaint, *_among(complained.c.nr, chosen))
        .group_by(complained.c.term)
    )
    jobs: Counter[str | None] = Counter()
    for of, count in counted:
        jobs[complaints[of]] += count
    all_jobs = select(func.count()).select_from(tables.job).where(*_among(tables.job.c.nr, chosen))
    jobs[None] = connection.execute(all_jobs).scalar_one() - jobs.total()
    rows = connection.execute(
        select(complained.c.term, term.c.name, term.c.says, func.count())
        .select_from(term)
        .join(job_term, job_term.c.term == term.c.id)
        .join(complained, (complained.c.nr == job_term.c.nr) & of_complaint, isouter=True)
        .where(term.c.kind == FAULT, job_term.c.state.in_(_FOUND), *_among(job_term.c.nr, chosen))
        .group_by(complained.c.term, term.c.name, term.c.says)
        .order_by(term.c.name, term.c.says)
    ).all()
    found: Counter[tuple[str | None, str]] = Counter()
    says: dict[str, str] = {}
    for of, fault, words, count in rows:
        found[complaints.get(of), fault] += count
        says[fault] = words or says.get(fault, "")
    figures = [FaultFigure(of, fault, says[fault], Share(count, jobs[of])) for (of, fault), count in found.items()]
    return tuple(sorted(figures, key=lambda f: (f.complaint is None, f.complaint or "", -f.share.count, f.fault)))


_FOUND: Final = (FaultState.PROVED.value, FaultState.MENDED.value)


def _prompts(connection: Connection, chosen: _Chosen) -> tuple[PromptFigure, ...]:
    step, count = tables.step, tables.prompt_count
    rows = connection.execute(
        select(count.c.step, *(func.sum(count.c[name]) for name in COUNTED))
        .where(*_among(count.c.nr, chosen))
        .group_by(count.c.step)
    ).all()
    named = {row.id: row for row in connection.execute(select(step))}
    figures = []
    for of, *sums in rows:
        counted = dict(zip(COUNTED, map(int, sums), strict=True))
        figures.append(PromptFigure(named[of].procedure, PromptCount(named[of].section, named[of].step, **counted)))
    return tuple(sorted(figures, key=lambda f: (-f.trouble, f.procedure, f.count.section, f.count.step)))
