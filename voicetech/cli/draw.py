"""`voicetech draw`: a procedure as drawings for paper, its sections and its circuit."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from voicetech.cli.joining import plain_errors, procedure_meant, stop
from voicetech.cli.options import refuse
from voicetech.cli.outputs import check_outputs, folder_named
from voicetech.cli.procedure_sheets import Form, Given, OnPaper, check_place_for, sheets_file, write_sheets
from voicetech.reports.paper import Paper

if TYPE_CHECKING:
    from voicetech.procedure import Procedure


def draw(
    procedure: Given,
    out: Annotated[
        Path | None,
        typer.Option("--out", parser=sheets_file, metavar="FILE", help="Write all sheets to this file, .html or .pdf."),
    ] = None,
    svg: Annotated[
        Path | None,
        typer.Option("--svg", parser=folder_named, metavar="FOLDER", help="Write each sheet as SVG to a new folder."),
    ] = None,
    mermaid: Annotated[
        bool,
        typer.Option("--mermaid", help="Print the machine as Mermaid flowcharts, a chart for each section."),
    ] = False,
    sheet: Annotated[
        list[str] | None,
        typer.Option(
            "--sheet",
            metavar="NAME",
            help="Only this sheet: overview, a section by its name, circuit, points or key. May be given again.",
        ),
    ] = None,
    paper: OnPaper = None,
) -> None:
    """Draw a procedure for paper and print where it is.

    An overview of the whole job; a sheet or more for each section, with what its steps need, where each result leads,
    and what safety puts in front; the circuit as a ladder diagram with its test points; a list of the points; and a
    key. Each sheet fits A4 and Letter and needs no colour. Without --out it is a web page in this folder.

    The charts of --mermaid come as Markdown, with one --sheet as the bare chart.

    Examples: voicetech draw electric-range-no-heat, voicetech draw my-range.yaml --out my-range.pdf --paper a4,
    voicetech draw my-range.yaml --mermaid --sheet bake
    """
    wanted = sheet or []
    if mermaid:
        given = {"--out": out, "--svg": svg, "--paper": paper}
        refuse(given, "does nothing beside --mermaid, which prints: leave one of them out")
    if svg is not None:
        refuse({"--out": out, "--paper": paper}, "does nothing beside --svg: leave one of them out")
    with plain_errors():
        if svg is not None:
            check_outputs([("--svg", svg)])
        check_place_for(out, procedure)
        drawn = procedure_meant(procedure)
        names = _known(drawn, wanted)
        if mermaid:
            _print_charts(drawn, names)
        elif svg is not None:
            typer.echo(str(_write_folder(drawn, names, svg)))
        else:
            typer.echo(str(_write_file(drawn, names, out, paper or Paper.LETTER)))


def _known(procedure: "Procedure", names: list[str]) -> list[str]:
    """Return the names of the sheets that are wanted; the command ends where there is none of a name."""
    from voicetech.drawing.sheets import sheet_names

    there = sheet_names(procedure)
    for name in names:
        if name not in there:
            stop(f"{procedure.title!r} has no sheet {name!r}. It has these: {', '.join(there)}", code=2)
    return names


def _print_charts(procedure: "Procedure", names: list[str]) -> None:
    from voicetech.drawing.mermaid import charts_of, markdown
    from voicetech.drawing.numbering import numbered
    from voicetech.drawing.sheets import CIRCUIT, KEY, POINTS

    other = next((name for name in names if name in (CIRCUIT, POINTS, KEY)), None)
    if other is not None:
        stop(f"There is no chart of {other}: --mermaid draws the machine. Leave one of the two out.", code=2)
    charts = [chart for chart in charts_of(procedure, numbered(procedure)) if not names or chart.name in names]
    typer.echo(charts[0].text if len(charts) == 1 and names else markdown(procedure, charts), nl=False)


def _write_file(procedure: "Procedure", names: list[str], out: Path | None, paper: Paper) -> Path:
    from voicetech.drawing.sheets import sheets_of
    from voicetech.reports.drawn import drawn_html, drawn_pdf

    sheets = sheets_of(procedure, names)
    makers = {
        Form.PAGE: lambda: drawn_html(procedure, sheets, paper).encode(),
        Form.PDF: lambda: drawn_pdf(procedure, sheets, paper),
    }
    return write_sheets(procedure, out, "drawn", makers)


def _write_folder(procedure: "Procedure", names: list[str], folder: Path) -> Path:
    from voicetech.drawing.sheets import sheets_of
    from voicetech.reports.writing import write_report

    try:
        if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
            stop(f"{folder} is there already and is no empty folder. Name a new one with --svg FOLDER.", code=2)
        folder.mkdir(exist_ok=True)
    except OSError as error:
        stop(f"The folder {folder} cannot be made ({error.strerror or error}). Name another with --svg FOLDER.")
    for sheet in sheets_of(procedure, names):
        write_report(folder / f"{sheet.name}.svg", sheet.svg.encode(), "--svg")
    return folder
