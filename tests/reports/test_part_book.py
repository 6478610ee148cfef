"""A shop's part book: which line counts, and everything wrong with it told at once.

Every model, part number and description here is invented.
"""

from pathlib import Path

import pytest

from tests.reports.examples import PROCEDURE, START_S, answer, opening
from voicetech.events import CauseShown
from voicetech.reports.facts.job import facts_of
from voicetech.reports.facts.part_book import PartBook, read_part_book
from voicetech.reports.facts.part_book_file import PartBookError, load_part_book

BOOK = """model,function,part_number,description
*,bake element,INV-1,"fits nearly all, invented"
ZQ*,bake element,INV-2,invented
ZQ4*,bake element,INV-3,invented
ZQ4?1,bake element,INV-4,invented
ZQ471,Bake-Element,INV-5,invented
ZQ4[89]*,broil element,INV-6,invented
"""


def book(text: str = BOOK) -> PartBook:
    read, findings = read_part_book("parts.csv", text)
    assert findings == ()
    return read


def findings(text: str) -> list[tuple[int, str]]:
    return [(finding.line, finding.what) for finding in read_part_book("parts.csv", text)[1]]


@pytest.mark.parametrize(
    ("model", "function", "number"),
    [
        ("ZQ471", "bake element", "INV-5"),
        ("zq 47-1", "Bake Element", "INV-5"),
        ("ZQ451", "bake element", "INV-4"),
        ("ZQ4777", "bake element", "INV-3"),
        ("ZQ9", "bake element", "INV-2"),
        ("A1", "bake element", "INV-1"),
        ("ZQ48X", "broil element", "INV-6"),
        ("ZQ47X", "broil element", None),
        ("ZQ471", "oven sensor", None),
        ("", "bake element", None),
    ],
)
def test_the_most_specific_pattern_that_fits_counts(model: str, function: str, number: str | None) -> None:
    line = book().line_for([model], function)
    assert (None if line is None else line.number) == number


def test_of_two_patterns_alike_the_one_that_begins_with_more_counts() -> None:
    text = "model,function,part_number\n*AB12,fuse,INV-1\nAB12*,fuse,INV-2\n"
    line = book(text).line_for(["AB12AB12"], "fuse")
    assert line is not None
    assert line.number == "INV-2"


@pytest.mark.parametrize(
    "text",
    [
        BOOK.replace(",", ";").replace('"fits nearly all; invented"', "invented"),
        BOOK.replace(",", "\t"),
        BOOK.replace("\n", "\r\n"),
        BOOK.replace("model,function,part_number", "Model,Function,Part number"),
        f"\n{BOOK}\n,,,\n\n",
    ],
    ids=["semicolons", "tabs", "CR LF", "headings with capitals", "empty lines"],
)
def test_whatever_a_spreadsheet_program_writes_is_read(text: str) -> None:
    assert len(book(text).lines) == 6


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16"])
def test_a_file_may_be_of_any_of_these_encodings(encoding: str, tmp_path: Path) -> None:
    path = tmp_path / "parts.csv"
    path.write_bytes(BOOK.replace("invented", "Ω").encode(encoding))
    assert load_part_book(path).lines[1].description == "Ω"


def test_everything_wrong_is_told_at_once_with_its_line() -> None:
    text = (
        "model,function,part_number,description\n"
        ",bake element,INV-1,\n"
        "ZQ1,,,\n"
        "ZQ2,bake element,INV-2,a,b\n"
        "ZQ3,bake element,INV-3,sound\n"
        "zq 3,BAKE ELEMENT,INV-4,again\n"
        f"ZQ4,bake element,{'9' * 501},\n"
    )
    told = findings(text)
    assert [line for line, _ in told] == [2, 3, 3, 4, 6, 7]
    assert told[0][1].startswith("the model is empty")
    assert told[1][1].startswith("the function is empty")
    assert told[2][1].startswith("the part_number is empty")
    assert "5 cells where the first line has 4" in told[3][1]
    assert "line 5 has the BAKE ELEMENT of zq 3 already" in told[4][1]
    assert "longer than 500" in told[5][1]


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", "the book is empty"),
        ("model,function,part_number,description\n", "no line under its headings"),
        ("model,function\nA,b\n", "'part_number' is missing"),
        ("model,model,function,part_number\n", "'model' is there 2 times"),
        ("model,function,part_number,price\n", "'price' is no column"),
    ],
)
def test_headings_that_cannot_be_used_are_told(text: str, told: str) -> None:
    assert any(told in what for _, what in findings(text))


def test_a_line_in_quotation_marks_over_two_lines_is_told_by_its_first() -> None:
    assert findings('model,function,part_number,description\nA,b,c,"two\nlines"\n,x,y,z\n') == [
        (4, "the model is empty; write a model or a pattern such as ABC*, or take the line out")
    ]


@pytest.mark.parametrize(
    ("content", "told"),
    [
        (b"model,function,part_number\nA,b,\xe9\nB,c,d\nC,d,\xff\n", (":2: not UTF-8", ":4: not UTF-8")),
        (b"PK\x03\x04\x00\x00", (":1: this is no text",)),
    ],
)
def test_what_is_no_text_is_told_with_its_file(content: bytes, told: tuple[str, ...], tmp_path: Path) -> None:
    path = tmp_path / "parts.csv"
    path.write_bytes(content)
    with pytest.raises(PartBookError) as error:
        load_part_book(path)
    for words in told:
        assert f"{path}{words}" in str(error.value)


def test_a_book_that_is_not_there_is_told(tmp_path: Path) -> None:
    for path in (tmp_path / "no.csv", tmp_path):
        with pytest.raises(PartBookError, match="cannot be read"):
            load_part_book(path)


def _part(with_book: PartBook | None, *, proved: bool = True, model: str = "z q four seven one") -> tuple[object, ...]:
    shown = CauseShown(2, "bake-open", proved, "bake", "end-to-end")
    events = (*opening(), answer(1, "model", model, START_S), shown)
    (part,) = facts_of(PROCEDURE, events, book=with_book).parts
    return part.function, part.proved, None if part.listed is None else part.listed.number


def test_parts_are_named_by_function_and_by_number_where_the_book_has_one() -> None:
    assert _part(None) == ("bake element", True, None)
    assert _part(book()) == ("bake element", True, "INV-5")
    assert _part(book(), proved=False) == ("bake element", False, "INV-5")
    assert _part(book(), model="not known yet") == ("bake element", True, None)


@pytest.mark.parametrize(
    ("pattern", "says"),
    [
        ("[ab", "opens a bracket and does not close it"),
        ("ZQ[a]4[", "opens a bracket and does not close it"),
        ("ZQ[]", "opens a bracket and does not close it"),
        ("ZQ[9-0]*", "goes from 9 back to 0; write [0-9]"),
        ("--", "has no letter or digit"),
    ],
)
def test_a_pattern_that_fits_nothing_is_told_with_its_line(pattern: str, says: str) -> None:
    ((line, what),) = findings(f"model,function,part_number\nZQ*,fuse,INV-1\n{pattern},bake element,INV-2\n")
    assert line == 3
    assert says in what


@pytest.mark.parametrize("pattern", ["*", "?", "ZQ[ab]", "ZQ[!a]*", "[a-f0-9]*", "ZQ[!]]"])
def test_a_sound_pattern_is_not_told(pattern: str) -> None:
    assert findings(f"model,function,part_number\n{pattern},bake element,INV-2\n") == []
