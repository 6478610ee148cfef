"""Figures over many jobs, as tables on a terminal, as JSON, and as a page with plots."""

import json
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import typer

from voicetech.cli.job_list import iso
from voicetech.cli.tables import show_rows

if TYPE_CHECKING:
    from voicetech.archive.figures import Figures
    from voicetech.archive.listing import Filters
    from voicetech.archive.opening import Archive
    from voicetech.summary.rates import Share, Spread

NOTHING_TO_COUNT: Final = "No job fits, so there is nothing to count. Look for less."


def show_figures(archive: "Archive", filters: "Filters", as_json: bool) -> None:
    """Print the figures of the jobs the filters hold for."""
    figures = _counted(archive, filters)
    if as_json:
        typer.echo(json.dumps(as_object(figures)))
    elif not figures.jobs:
        typer.echo(NOTHING_TO_COUNT)
    else:
        _print(figures)


def write_plots(archive: "Archive", filters: "Filters", path: Path) -> None:
    """Write the figures as a page with plots and say where it is."""
    from voicetech.archive.plots import plots_page
    from voicetech.reports.writing import write_report

    figures = _counted(archive, filters)
    if not figures.jobs:
        typer.echo(NOTHING_TO_COUNT)
        return
    write_report(path, plots_page(figures).encode(), "--plots")
    typer.echo(str(path))


def _counted(archive: "Archive", filters: "Filters") -> "Figures":
    from voicetech.archive.figures import figures_of
    from voicetech.cli.progress import at_work

    with at_work("Counting"):
        return figures_of(archive, filters)


def _print(figures: "Figures") -> None:
    from rich.console import Console

    from voicetech.archive.figure_tables import NOTE, headline, tables_of

    console = Console()
    console.print(headline(figures), highlight=False)
    for table in tables_of(figures):
        console.print(table.title, style="bold", highlight=False)
        rows = table.rows or [("none", *[""] * (len(table.headings) - 1))]
        show_rows(console, table.headings, rows, names=table.names)
    console.print(NOTE, highlight=False)


def as_object(figures: "Figures") -> dict[str, Any]:
    """Return the figures as they are written in JSON; seconds are whole, rates 0 to 1."""
    return {
        "jobs": figures.jobs,
        "first": iso(figures.first_s),
        "last": iso(figures.last_s),
        "outcomes": [{"outcome": f.outcome, **_share(f.share)} for f in figures.outcomes],
        "worked_s": _spread(figures.worked),
        "sections": [
            {"procedure": f.procedure, "section": f.section, "visits": f.visits, "seconds": _spread(f.seconds)}
            for f in figures.sections
        ],
        "faults": [
            {"complaint": f.complaint, "fault": f.fault, "says": f.says or None, **_share(f.share)}
            for f in figures.faults
        ],
        "prompts": [_prompt(prompt) for prompt in figures.prompts],
        "first_answers": _share(figures.first_answers),
        "tests": _spread(figures.tests),
        "tests_made": _pairs("tests", figures.tests_made),
        "proofs_of_dead": _spread(figures.proofs),
        "proofs_made": _pairs("proofs", figures.proofs_made),
        "proved_again": _share(figures.proved_again),
    }


def _prompt(prompt: Any) -> dict[str, Any]:
    count = prompt.count
    return {
        "procedure": prompt.procedure,
        "section": count.section,
        "step": count.step,
        "asked": count.asked,
        "answered": count.answered,
        "first": _share(prompt.first),
        "repeated": count.repeated,
        "again": count.again,
        "which": count.which,
        "corrected": count.corrected,
        "denied": count.denied,
        "misheard": count.misheard,
    }


def _share(share: "Share") -> dict[str, Any]:
    low, high = share.between
    return {"count": share.count, "of": share.of, "rate": share.rate, "low": low, "high": high}


def _spread(spread: "Spread | None") -> dict[str, Any] | None:
    if spread is None:
        return None
    quarters = {"low_quarter": spread.low, "median": spread.median, "high_quarter": spread.high, "most": spread.most}
    return {"jobs": spread.n, "mean": spread.mean, **quarters}


def _pairs(name: str, pairs: Iterable[Sequence[int]]) -> list[dict[str, int]]:
    return [{name: value, "jobs": jobs} for value, jobs in pairs]
