"""The figures of many jobs as one self-contained page: each a plot, readable in black and white, beside its table.

Plots are drawn by matplotlib, which comes with the extra `voicetech[plots]`: it is a hundred megabytes with what it
brings, and only the office needs it.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from io import StringIO
from typing import TYPE_CHECKING, Any, Final

from jinja2 import PackageLoader
from markupsafe import Markup

from voicetech import __version__
from voicetech.archive.errors import ArchiveError
from voicetech.archive.figure_tables import NOTE, FigureTable, headline, plain_name, prompts_shown, tables_of
from voicetech.archive.figures import Figures, PromptFigure
from voicetech.reports.templating import TEMPLATES
from voicetech.reports.wording import printable
from voicetech.summary.rates import Share

if TYPE_CHECKING:
    from matplotlib.axes import Axes

MOST_BARS: Final = 20
"""Bars a plot has at most (judgement, no source); the table beside it goes on."""
_WIDE_IN: Final = 7.5
_BAR_IN: Final = 0.3
_FEWEST: Final = 4
"""Bars there is room for at least."""

# Black on white and shades of grey only; text stays text, and the same figures give the same bytes.
_STYLE: Final[Any] = {
    "svg.fonttype": "none",
    "svg.hashsalt": "voicetech",
    "font.family": "sans-serif",
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.grid": True,
    "axes.grid.axis": "x",
    "grid.color": "0.85",
    "axes.axisbelow": True,
    "text.parse_math": False,
}
_BAR: Final = {"color": "0.75", "edgecolor": "black", "linewidth": 0.8}
_RANGE: Final = {"color": "black", "linewidth": 1.2, "capsize": 3.0}


_PAGES: Final = TEMPLATES.overlay(loader=PackageLoader("voicetech.archive"))
"""The templates beside this module, everything escaped as in a report."""


@dataclass(frozen=True, slots=True)
class _Part:
    table: FigureTable
    drawn: Markup
    said: str


def plots_page(figures: Figures) -> str:
    """Return the figures as an HTML page that needs nothing else. Raises ArchiveError where matplotlib is missing."""
    parts = []
    for table in tables_of(figures):
        draw, bars, said = _PLOTS[table.key]
        count = bars(figures)
        drawn = _svg(figures, draw, count) if count else Markup("")
        parts.append(_Part(table, drawn, f"{table.title}: {said}"))
    template = _PAGES.get_template("figures.html")
    return template.render(parts=parts, headline=headline(figures), note=NOTE, version=__version__)


def _svg(figures: Figures, draw: Callable[["Axes", Figures], None], bars: int) -> Markup:
    try:
        from matplotlib import rc_context
        from matplotlib.figure import Figure
    except ModuleNotFoundError:
        raise ArchiveError(
            "Plots need one package more: pip install 'voicetech[plots]', then try again. "
            "The same figures as tables: voicetech jobs --figures"
        ) from None
    with rc_context(_STYLE):
        figure = Figure(figsize=(_WIDE_IN, 1.0 + _BAR_IN * max(bars, _FEWEST)), layout="constrained")
        draw(figure.add_subplot(), figures)
        written = StringIO()
        figure.savefig(written, format="svg", metadata={"Date": None, "Creator": None})
    svg = written.getvalue()
    # What stands before the drawing itself belongs to a file of its own.
    return Markup(svg[svg.index("<svg") :])  # noqa: S704  matplotlib escapes the words it draws


def _outcomes(axes: "Axes", figures: Figures) -> None:
    shown = figures.outcomes[:MOST_BARS]
    _shares(axes, [(_label(f.outcome, f.share), f.share) for f in shown])
    axes.set_xlabel("share of jobs, % (line: 95 % limits)")


def _times(axes: "Axes", figures: Figures) -> None:
    shown = figures.sections[:MOST_BARS]
    places = range(len(shown))
    minutes = [f.seconds.median / 60 for f in shown]
    below = [(f.seconds.median - f.seconds.low) / 60 for f in shown]
    above = [(f.seconds.high - f.seconds.median) / 60 for f in shown]
    axes.barh(places, minutes, xerr=[below, above], error_kw=_error(), **_bar())
    _name_bars(axes, [f"{plain_name(f.section)}, n = {f.seconds.n}" for f in shown])
    # Jobs of no length at all, as in a trial, would be drawn around nothing.
    axes.set_xlim(left=0, right=None if any(minutes) else 1)
    axes.set_xlabel("minutes a job, half of the jobs within (line: 25 to 75 % of the jobs)")


def _faults(axes: "Axes", figures: Figures) -> None:
    shown = sorted(figures.faults, key=lambda f: -f.share.count)[:MOST_BARS]
    names = [f"{plain_name(f.complaint or 'no complaint')}: {plain_name(f.fault)}" for f in shown]
    _shares(axes, [(_label(name, f.share), f.share) for name, f in zip(names, shown, strict=True)])
    axes.set_xlabel("share of the jobs with that complaint, % (line: 95 % limits)")


def _prompts(axes: "Axes", figures: Figures) -> None:
    shown = _answered(figures)
    names = [f"{plain_name(f.count.section)} / {plain_name(f.count.step)}" for f in shown]
    _shares(axes, [(_label(name, f.first), f.first) for name, f in zip(names, shown, strict=True)])
    axes.set_xlabel("answered right by the first words, % (line: 95 % limits)")


def _answered(figures: Figures) -> list[PromptFigure]:
    return [prompt for prompt in prompts_shown(figures) if prompt.first.of][:MOST_BARS]


def _tests(axes: "Axes", figures: Figures) -> None:
    _columns(axes, figures.tests_made, "tests a closed job")


def _proofs(axes: "Axes", figures: Figures) -> None:
    _columns(axes, figures.proofs_made, "proofs of dead a job")


def _columns(axes: "Axes", pairs: Sequence[tuple[int, int]], what: str) -> None:
    from matplotlib.ticker import MaxNLocator

    axes.bar([value for value, _ in pairs], [jobs for _, jobs in pairs], **_bar())
    axes.grid(visible=False, axis="x")
    axes.grid(visible=True, axis="y")
    axes.xaxis.set_major_locator(MaxNLocator(integer=True))
    axes.yaxis.set_major_locator(MaxNLocator(integer=True))
    axes.set_xlabel(what)
    axes.set_ylabel("jobs")


def _shares(axes: "Axes", shares: Sequence[tuple[str, Share]]) -> None:
    rates = [100 * (share.rate or 0.0) for _, share in shares]
    limits = [(100 * low, 100 * high) for low, high in (share.between for _, share in shares)]
    reach = [
        [max(0.0, rate - low) for rate, (low, _) in zip(rates, limits, strict=True)],
        [max(0.0, high - rate) for rate, (_, high) in zip(rates, limits, strict=True)],
    ]
    axes.barh(range(len(shares)), rates, xerr=reach, error_kw=_error(), **_bar())
    _name_bars(axes, [name for name, _ in shares])
    axes.set_xlim(0, 100)


def _label(name: str, share: Share) -> str:
    return f"{name}, n = {share.of}"


def _name_bars(axes: "Axes", names: Sequence[str]) -> None:
    axes.set_yticks(range(len(names)), [printable(name)[:60] for name in names])
    # The first on top; few bars are no thicker than many.
    axes.set_ylim(max(len(names), _FEWEST) - 0.4, -0.6)


def _bar() -> dict[str, Any]:
    return dict(_BAR)


def _error() -> dict[str, Any]:
    return dict(_RANGE)


_Plot = tuple[Callable[["Axes", Figures], None], Callable[[Figures], int], str]
_PLOTS: Final[dict[str, _Plot]] = {
    "outcomes": (_outcomes, lambda f: min(len(f.outcomes), MOST_BARS), "bars of shares with their 95 % limits."),
    "times": (_times, lambda f: min(len(f.sections), MOST_BARS), "bars of minutes with the middle half of the jobs."),
    "faults": (_faults, lambda f: min(len(f.faults), MOST_BARS), "bars of shares with their 95 % limits."),
    "prompts": (
        _prompts,
        lambda f: len(_answered(f)),
        "bars of the share answered right by the first words, with 95 % limits.",
    ),
    "tests": (_tests, lambda f: 8 if f.tests_made else 0, "columns of how many jobs took so many tests."),
    "proofs": (_proofs, lambda f: 8 if f.proofs_made else 0, "columns of how many jobs made so many proofs."),
}
