"""`voicetech draw` and `voicetech checklist`: what they write and where, and what they say where they cannot."""

import re
from pathlib import Path
from xml.etree import ElementTree

import pytest
import typer
from pypdf import PdfReader
from typer.testing import CliRunner, Result

from tests.authoring.test_bad_files import BAD, findings_of
from tests.cli.program import run
from tests.dialogue.talker import shipped
from tests.drawing.on_paper import all_sheets
from voicetech.authoring.shipped import shipped_folder
from voicetech.cli.checklist import checklist
from voicetech.cli.draw import draw

RANGE = "electric-range-no-heat"
MINE = str(Path(str(shipped_folder("dialogs"))) / f"{RANGE}.yaml")

app = typer.Typer()
app.command()(draw)
app.command()(checklist)


@pytest.fixture(autouse=True)
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COLUMNS", "200")
    return tmp_path


def told(*arguments: str) -> Result:
    result = CliRunner().invoke(app, arguments)
    assert "Traceback" not in result.output
    return result


@pytest.mark.parametrize("command", ["draw", "checklist"])
def test_it_is_a_page_of_its_own_in_this_folder_unless_it_is_told_where(command: str, here: Path) -> None:
    result = told(command, RANGE)
    name = f"{RANGE}-{'drawn' if command == 'draw' else command}.html"
    assert (result.exit_code, result.stdout) == (0, f"{name}\n")
    page = (here / name).read_text(encoding="utf-8")
    assert page.startswith("<!doctype html>")
    assert "<script" not in page
    assert not re.search(r'(src|href)="(?!#)', page), "it loads nothing from anywhere"
    again = told(command, RANGE)
    assert again.exit_code == 2
    assert f"--out {name}" in again.stderr
    assert told(command, RANGE, "--out", name).exit_code == 0


def test_the_page_has_every_sheet_and_a_list_of_them(here: Path) -> None:
    told("draw", RANGE, "--out", "all.html", "--paper", "a4")
    page = (here / "all.html").read_text(encoding="utf-8")
    for name, sheet in all_sheets().items():
        assert sheet.svg in page
        assert f'href="#{name}"' in page
    assert "size: a4;" in page
    assert "size: a4 landscape" in page


@pytest.mark.parametrize(("paper", "sides"), [("a4", (595, 842)), ("letter", (612, 792))])
def test_the_pdf_has_a_sheet_on_each_page(paper: str, sides: tuple[int, int], here: Path) -> None:
    told("draw", MINE, "--out", "all.pdf", "--paper", paper)
    pages = PdfReader(here / "all.pdf").pages
    assert len(pages) == len(all_sheets())
    for page, sheet in zip(pages, all_sheets().values(), strict=True):
        box = page.mediabox
        size = (round(float(box.width)), round(float(box.height)))
        assert size == (sides[::-1] if sheet.lying else sides)
    text = pages[0].extract_text()
    assert "making safe" in text.replace("  ", " ")


def test_a_folder_has_a_file_for_each_sheet(here: Path) -> None:
    result = told("draw", RANGE, "--svg", "sheets")
    assert result.stdout == "sheets\n"
    files = {path.stem: path for path in (here / "sheets").iterdir()}
    assert set(files) == set(all_sheets())
    for path in files.values():
        assert ElementTree.parse(path).getroot().tag.endswith("svg")
    assert told("draw", RANGE, "--svg", "sheets").exit_code == 2
    assert told("draw", RANGE, "--svg", "nowhere/sheets").exit_code == 1


def test_charts_are_printed_as_markdown_and_a_single_one_bare() -> None:
    whole = told("draw", RANGE, "--mermaid")
    assert whole.stdout.count("```mermaid") == len(shipped().sections) + 1
    one = told("draw", RANGE, "--mermaid", "--sheet", "bake")
    assert one.stdout.startswith("flowchart TD\n")
    assert "11.4" in one.stdout
    two = told("draw", RANGE, "--mermaid", "--sheet", "bake", "--sheet", "overview")
    assert two.stdout.count("```mermaid") == 2


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--sheet", "toaster"], "It has these: overview, make-safe"),
        (["--mermaid", "--sheet", "circuit"], "--mermaid draws the machine"),
        (["--mermaid", "--out", "x.html"], "does nothing beside --mermaid"),
        (["--svg", "x", "--paper", "a4"], "does nothing beside --svg"),
        (["--out", "x.svg"], "neither .html nor .pdf"),
        (["--out", ""], "empty"),
        (["--out", "nowhere/x.html"], "There is no folder nowhere"),
    ],
)
def test_options_that_do_not_fit_are_told(arguments: list[str], words: str, here: Path) -> None:
    result = told("draw", RANGE, *arguments)
    assert result.exit_code in (1, 2)
    assert words in " ".join(result.output.split())
    assert not list(here.iterdir())


@pytest.mark.parametrize("command", ["draw", "checklist"])
def test_a_procedure_with_mistakes_is_its_findings(command: str, here: Path) -> None:
    result = told(command, str(BAD / "keys.yaml"))
    assert result.exit_code == 1
    assert result.stderr.splitlines() == [str(finding) for finding in findings_of(BAD / "keys.yaml")]
    assert not list(here.iterdir())


@pytest.mark.parametrize("command", ["draw", "checklist"])
@pytest.mark.parametrize("given", ["toaster", "no-such.yaml", "."])
def test_what_is_no_procedure_is_told_plainly(command: str, given: str, here: Path) -> None:
    result = told(command, given)
    assert result.exit_code == 1
    assert given in result.stderr
    assert not list(here.iterdir())


@pytest.mark.parametrize("command", ["draw", "checklist"])
def test_the_procedure_is_not_written_over(command: str, here: Path) -> None:
    mine = here / "mine.html"
    mine.write_text("procedure: mine\n")
    result = told(command, str(mine), "--out", "mine.html")
    assert result.exit_code == 2
    assert "would write over" in result.stderr
    assert mine.read_text() == "procedure: mine\n"


def test_a_checklist_has_figures_for_the_plate_that_is_told(here: Path) -> None:
    told("checklist", RANGE, "--volts", "240", "--watts", "9600", "--answer", "bake_watts=2600", "--out", "c.html")
    page = (here / "c.html").read_text(encoding="utf-8").replace("\N{NO-BREAK SPACE}", " ")
    assert "19.9 to 24.4 Ω" in page
    assert "plate volts: 240 V" in page
    assert "plate watts: 9600 W" in page
    told("checklist", RANGE, "--volts", "208", "--answer", "bake_watts=2600", "--out", "c.html")
    assert "15 to 18.3 Ω" in (here / "c.html").read_text(encoding="utf-8").replace("\N{NO-BREAK SPACE}", " ")


def test_a_checklist_of_one_test_is_short_and_still_makes_safe(here: Path) -> None:
    told("checklist", RANGE, "--test", "bake", "--out", "c.pdf")
    pages = PdfReader(here / "c.pdf").pages
    text = " ".join(page.extract_text() for page in pages)
    assert len(pages) < 20
    assert "Proofs of dead" in text
    assert "HOLD" in text


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--volts", "two forty"], "write a figure"),
        (["--watts", "-5"], "more than 0"),
        (["--answer", "bake_watts"], "--answer bake_watts=2600"),
        (["--answer", "plate_volts=240", "--answer", "plate_volts=208"], "told twice"),
        (["--answer", "toast=1"], "keeps an answer under"),
        (["--test", "toaster"], "It has these: supply"),
    ],
)
def test_answers_that_do_not_fit_are_told(arguments: list[str], words: str, here: Path) -> None:
    result = told("checklist", RANGE, *arguments)
    assert result.exit_code == 2
    assert words in " ".join(result.output.split())
    assert not list(here.iterdir())


def test_a_procedure_is_drawn_the_same_each_time(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Whatever order Python keeps sets in."""
    drawn = []
    for seed in ("1", "2", "3"):
        folder = tmp_path / seed
        arguments = ("draw", "electric-dryer-no-heat", "--sheet", "circuit", "--svg", str(folder))
        monkeypatch.setenv("PYTHONHASHSEED", seed)
        assert run(tmp_path, *arguments).returncode == 0
        drawn.append({path.name: path.read_bytes() for path in folder.iterdir()})
    assert drawn[0]
    assert drawn[0] == drawn[1] == drawn[2]


def test_both_are_commands_of_the_program(tmp_path: Path) -> None:
    done = run(tmp_path, "draw", RANGE, "--mermaid", "--sheet", "touch")
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.startswith("flowchart TD")
    helped = run(tmp_path, "checklist", "--help")
    assert helped.returncode == 0
    assert "--volts" in helped.stdout
