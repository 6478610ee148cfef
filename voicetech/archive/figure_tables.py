"""The figures of many jobs as tables in words, for a terminal and for a page."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from itertools import islice
from typing import Final

from voicetech.archive.figures import Figures, PromptFigure
from voicetech.language.plural import so_many
from voicetech.summary.rates import FEW, Share, Spread

NOTE: Final = (
    f"95 %: the limits of the rate behind a share (Wilson). * marks figures of fewer than {FEW}, which tell little. "
    f"Times leave out pauses; the time and the tests of a whole job count closed jobs. Prompts: first is how many of "
    f"those answered were answered by the first words, right; repeat, how often the technician asked for it once more; "
    f"again and which, how often the program asked once more, or which of two; changed and no, how often what was "
    f"read back was replaced or denied; misheard, what a reviewer found."
)
MOST_PROMPTS: Final = 25
"""Prompts that are shown (judgement, no source), none of them without trouble; JSON has all of them."""


@dataclass(frozen=True, slots=True)
class FigureTable:
    """One table; its first `names` columns hold words, the others figures."""

    key: str
    title: str
    headings: tuple[str, ...]
    names: int
    rows: tuple[tuple[str, ...], ...]


def headline(figures: Figures) -> str:
    """Return which jobs the figures are of."""
    days = f", {_day(figures.first_s)} to {_day(figures.last_s)}" if figures.first_s and figures.last_s else ""
    return f"{so_many(figures.jobs, 'job')}{days}"


def tables_of(figures: Figures) -> tuple[FigureTable, ...]:
    """Return all figures as tables."""
    return (
        FigureTable(
            "outcomes",
            "How jobs ended",
            ("outcome", "jobs", "share", "95 %"),
            1,
            tuple((f.outcome, str(f.share.count), *rate(f.share)) for f in figures.outcomes),
        ),
        FigureTable(
            "times",
            "Time a job and its sections took: what 25, 50 and 75 % of the jobs stay within",
            ("section", "jobs", "25 %", "50 %", "75 %", "mean"),
            1,
            (
                *_times("whole job", figures.worked),
                *(
                    row
                    for f in figures.sections
                    for row in _times(plain_name(f.section) + _of(figures, f.procedure), f.seconds)
                ),
            ),
        ),
        FigureTable(
            "faults",
            "Faults found, by complaint",
            ("complaint", "fault", "jobs", "of", "share", "95 %"),
            2,
            tuple(
                (
                    plain_name(f.complaint or "not recorded"),
                    f.fault,
                    str(f.share.count),
                    str(f.share.of),
                    *rate(f.share),
                )
                for f in figures.faults
            ),
        ),
        FigureTable(
            "prompts",
            "Prompts, those with most trouble first",
            ("prompt", "asked", "first", "95 %", "repeat", "again", "which", "changed", "no", "misheard"),
            1,
            tuple(_prompts(figures)),
        ),
        FigureTable("tests", "Tests a job", ("tests", "jobs"), 0, _pairs(figures.tests_made)),
        FigureTable(
            "proofs",
            f"Proofs of dead a job: made again in {' '.join(rate(figures.proved_again))}",
            ("proofs", "jobs"),
            0,
            _pairs(figures.proofs_made),
        ),
    )


def _prompts(figures: Figures) -> Iterable[tuple[str, ...]]:
    yield ("all prompts", *_counted(figures))
    for prompt in prompts_shown(figures):
        count = prompt.count
        name = f"{plain_name(count.section)} / {plain_name(count.step)}{_of(figures, prompt.procedure)}"
        counts = (count.repeated, count.again, count.which, count.corrected, count.denied, count.misheard)
        yield (name, str(count.asked), *rate(prompt.first), *map(str, counts))


def prompts_shown(figures: Figures) -> tuple[PromptFigure, ...]:
    """Return the prompts that did not go as they should, those with most trouble first."""
    troubled = (p for p in figures.prompts if p.trouble or p.count.repeated or p.first.count < p.first.of)
    return tuple(islice(troubled, MOST_PROMPTS))


def _counted(figures: Figures) -> tuple[str, ...]:
    names = ("repeated", "again", "which", "corrected", "denied", "misheard")
    sums = (sum(getattr(prompt.count, name) for prompt in figures.prompts) for name in names)
    asked = sum(prompt.count.asked for prompt in figures.prompts)
    return (str(asked), *rate(figures.first_answers), *map(str, sums))


def _of(figures: Figures, procedure: str) -> str:
    """Return the procedure's name where there are several."""
    several = len({f.procedure for f in figures.prompts} | {f.procedure for f in figures.sections}) > 1
    return f" ({plain_name(procedure)})" if several and procedure else ""


def _times(what: str, spread: Spread | None) -> tuple[tuple[str, ...], ...]:
    if spread is None:
        return ()
    times = (spread.low, spread.median, spread.high, round(spread.mean))
    return ((what, f"{spread.n}{'*' if spread.few else ''}", *map(duration, times)),)


def _pairs(pairs: Iterable[tuple[int, int]]) -> tuple[tuple[str, ...], ...]:
    return tuple((str(value), str(jobs)) for value, jobs in pairs)


def plain_name(key: str) -> str:
    """Return a name from a procedure as words: "bake-element" becomes "bake element"."""
    return key.replace("-", " ").replace("_", " ").strip()


def rate(share: Share) -> tuple[str, str]:
    """Return a share in per cent, marked where it is one of few, and its 95 % limits."""
    if share.rate is None:
        return "", ""
    low, high = share.between
    return f"{share.rate:.0%}{'*' if share.few else ''}", f"{low * 100:.0f}-{high:.0%}"


def duration(seconds: int) -> str:
    """Return a time in minutes and seconds, or hours and minutes from an hour on."""
    minutes, left = divmod(seconds, 60)
    return f"{minutes // 60} h {minutes % 60:02} min" if minutes >= 60 else f"{minutes}:{left:02} min"


def _day(at_s: float) -> str:
    return f"{datetime.fromtimestamp(at_s).astimezone():%Y-%m-%d}"
