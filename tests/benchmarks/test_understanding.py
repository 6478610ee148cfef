"""How lines are judged, what libraries are taken to say, and that one that hangs or is missing stops nothing."""

import json
import socket
import sys
import time
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from tests.benchmarks.peers import (
    AS_WRITTEN,
    PEERS,
    Found,
    Peer,
    PeerProcess,
    Reader,
    plain_number,
    said_unit,
    wrapped_number,
)
from tests.benchmarks.reading_lines import (
    BadLinesError,
    Became,
    Figure,
    Line,
    Number,
    became,
    figure_of_meaning,
    figure_of_number,
    read_lines,
)
from tests.benchmarks.references import SkippedError
from tests.benchmarks.understanding import Measured, behind, main, numbers_of
from voicetech.authoring.lexicon_files import load_lexicon
from voicetech.language.lexicon import Lexicon
from voicetech.language.meaning import (
    AnswerSaid,
    Asking,
    Command,
    CommandSaid,
    CorrectionSaid,
    DangerKind,
    DangerSaid,
    Meaning,
    RangeSaid,
    ReadingSaid,
    SeveralSaid,
    State,
    StateSaid,
    Unclear,
)
from voicetech.units import Unit

Row = dict[str, Any]


@pytest.fixture(scope="module")
def lexicon() -> Lexicon:
    return load_lexicon()


def volts(value: str, confirm: bool = False, label: str | None = None) -> ReadingSaid:
    return ReadingSaid(Decimal(value), Unit.VOLT, label=label, confirm=confirm)


def reading(value: float | None, unit: str | None = "V", **more: Any) -> Row:
    return {"kind": "reading", "value": value, "unit": unit, "command": None, **more}


def row(expected: Row, text: str = "", name: str = "pair-001", **context: Any) -> Row:
    return {"id": name, "text": text, "context": {"expect": "volts_ac", **context}, "expected": expected}


def written(folder: Path, *rows: Row) -> Path:
    file = folder / "lines.jsonl"
    file.write_text("".join(f"{json.dumps(each)}\n" for each in rows), encoding="utf-8")
    return file


def line(folder: Path, expected: Row, text: str = "", **context: Any) -> Line:
    return read_lines(written(folder, row(expected, text, **context)))[0]


EMERGENCY: Row = {"kind": "command", "command": "emergency"}
UNCLEAR: Row = {"kind": "unclear", "value": None}
WITHDRAWN: Row = {"kind": "correction", "value": None}
RANGE: Row = reading(None, range=[118, 122])
TWO: Row = reading(None, readings=[{"kind": "reading", "value": 240, "unit": "V", "label": "L1-L2"}, {"kind": "open"}])


@pytest.mark.parametrize(
    ("expected", "meaning", "result", "figure"),
    [
        (reading(238), volts("238"), Became.RIGHT, Figure.RIGHT),
        (reading(238), volts("238.01"), Became.RIGHT, Figure.RIGHT),
        (reading(238), volts("238.1"), Became.TAKEN, Figure.WRONG),
        (reading(238), volts("238", confirm=True), Became.NEEDLESS, Figure.RIGHT),
        (reading(238), volts("40", confirm=True), Became.ASKED, Figure.WRONG_ASKED),
        (reading(238), ReadingSaid(Decimal(238), Unit.OHM), Became.TAKEN, Figure.OTHER_UNIT),
        (reading(238, None), volts("238"), Became.RIGHT, Figure.RIGHT),
        (reading(238), CorrectionSaid(volts("238")), Became.TAKEN, Figure.OTHER_UNIT),
        (reading(238), Unclear(), Became.ASKED, Figure.SILENT),
        (reading(238), CommandSaid(Command.REPEAT), Became.ASKED, Figure.SILENT),
        (reading(238), CommandSaid(Command.SKIP), Became.TAKEN, Figure.SILENT),
        (reading(238), DangerSaid(DangerKind.FIRE), Became.ALARM, Figure.SILENT),
        (reading(238, flags=["confirm"]), volts("238"), Became.UNCONFIRMED, Figure.RIGHT),
        (reading(238, flags=["confirm"]), volts("238", confirm=True), Became.RIGHT, Figure.RIGHT),
        (reading(0, accept=[{"kind": "closed"}]), StateSaid(State.CLOSED), Became.RIGHT, Figure.SILENT),
        (reading(208, label="L1-L2"), volts("208", label="L1 L2"), Became.RIGHT, Figure.RIGHT),
        (reading(208, label="L1-L2"), volts("208"), Became.TAKEN, Figure.RIGHT),
        (UNCLEAR, Unclear(), Became.RIGHT, Figure.QUIET),
        (UNCLEAR, DangerSaid(DangerKind.FIRE, present=False), Became.RIGHT, Figure.QUIET),
        (UNCLEAR, volts("230"), Became.TAKEN, Figure.FALSE),
        (UNCLEAR, volts("230", confirm=True), Became.ASKED, Figure.FALSE_ASKED),
        (UNCLEAR, RangeSaid(Decimal(1), Decimal(2), Unit.VOLT), Became.TAKEN, Figure.FALSE),
        (UNCLEAR, AnswerSaid(yes=True), Became.TAKEN, Figure.QUIET),
        ({**UNCLEAR, "accept": [reading(230)]}, volts("230"), Became.RIGHT, Figure.EITHER),
        (RANGE, RangeSaid(Decimal(118), Decimal(122), Unit.VOLT), Became.RIGHT, Figure.QUIET),
        (RANGE, RangeSaid(Decimal(118), Decimal(120), Unit.VOLT), Became.TAKEN, Figure.FALSE),
        (RANGE, volts("120"), Became.TAKEN, Figure.FALSE),
        (TWO, SeveralSaid((volts("240", label="l1 l2"), StateSaid(State.OPEN))), Became.RIGHT, Figure.QUIET),
        (TWO, SeveralSaid((volts("240", label="l1 l2"),)), Became.TAKEN, Figure.FALSE),
        (reading(0, label="all"), SeveralSaid((volts("0"),), all_pairs=True), Became.RIGHT, Figure.SILENT),
        (WITHDRAWN, CorrectionSaid(), Became.RIGHT, Figure.QUIET),
        (WITHDRAWN, CorrectionSaid(volts("240")), Became.TAKEN, Figure.FALSE),
        (EMERGENCY, DangerSaid(DangerKind.STOP), Became.RIGHT, Figure.QUIET),
        (EMERGENCY, Unclear(), Became.MISSED, Figure.QUIET),
        (EMERGENCY, volts("911"), Became.MISSED, Figure.FALSE),
        (
            {"kind": "command", "command": "note", "arg": "lug three is loose"},
            CommandSaid(Command.NOTE, "Lug three is loose."),
            Became.RIGHT,
            Figure.QUIET,
        ),
    ],
)
def test_what_became_of_a_line_and_of_its_number(
    tmp_path: Path, expected: Row, meaning: Meaning, result: Became, figure: Figure, lexicon: Lexicon
) -> None:
    one = line(tmp_path, expected)
    assert became(one, meaning, lexicon) is result
    assert figure_of_meaning(one, meaning, lexicon) is figure


@pytest.mark.parametrize(
    ("expected", "number", "figure"),
    [
        (reading(238), Number(Decimal(238), "V"), Figure.RIGHT),
        (reading(238), Number(Decimal(238), "minute"), Figure.OTHER_UNIT),
        (reading(238), Number(Decimal(238)), Figure.OTHER_UNIT),
        (reading(238, None), Number(Decimal(238)), Figure.RIGHT),
        ({**WITHDRAWN, "value": 240, "unit": "V"}, Number(Decimal(240), "V"), Figure.RIGHT),
        (reading(238), Number(Decimal(40), "V"), Figure.WRONG),
        (reading(238), None, Figure.SILENT),
        (UNCLEAR, Number(Decimal(40), "V"), Figure.FALSE),
        (RANGE, Number(Decimal(120), "V"), Figure.FALSE),
        (UNCLEAR, None, Figure.QUIET),
        ({**UNCLEAR, "accept": [reading(230)]}, Number(Decimal(1), "V"), Figure.EITHER),
    ],
)
def test_the_number_of_a_library_is_judged_without_its_kind(
    tmp_path: Path, expected: Row, number: Number | None, figure: Figure
) -> None:
    assert figure_of_number(line(tmp_path, expected), number) is figure


def test_a_line_brings_its_question(tmp_path: Path) -> None:
    one = line(tmp_path, UNCLEAR, after="read-back", asr="partial", question="Is it unplugged?", expect="yes_no")
    assert one.question.asking is Asking.YES_NO
    assert one.question.wording == "Is it unplugged?"
    assert one.question.after_read_back
    assert one.question.partial
    assert one.group == "pair"
    assert line(tmp_path, UNCLEAR, expect="power").question.asking is Asking.POWER


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "holds no lines"),
        ("{", "line 1, is not one"),
        ("[]", "line 1, is not one"),
        (json.dumps(row({"kind": "mood"})), "unknown kind 'mood'"),
        (json.dumps(row({"kind": "command", "command": "dance"})), "unknown command 'dance'"),
        (json.dumps(row(UNCLEAR, expect="weather")), "weather"),
        (json.dumps(row(reading(1, "furlong"))), "furlong"),
        (json.dumps(row({**UNCLEAR, "value": "much"})), "line 1, is not one"),
        (json.dumps(row(reading(None, range=[1]))), "line 1, is not one"),
    ],
)
def test_a_file_that_cannot_be_read_is_refused_with_the_reason(tmp_path: Path, text: str, said: str) -> None:
    file = tmp_path / "lines.jsonl"
    file.write_text(text, encoding="utf-8")
    with pytest.raises(BadLinesError, match=said):
        read_lines(file)


def test_no_file_is_refused_with_what_to_do(tmp_path: Path) -> None:
    with pytest.raises(BadLinesError, match="VOICETECH_UTTERANCES"):
        read_lines(tmp_path / "absent.jsonl")


def numbers(*values: str) -> Found:
    return tuple(Number(Decimal(value)) for value in values)


@pytest.mark.parametrize(
    ("found", "text", "plain", "wrapped"),
    [
        ("238 volts", "two thirty eight volts", ("238", "V"), ("238", "V")),
        ("2 38", "two thirty eight", None, ("238", "V")),
        ("2 38.5", "two thirty eight point five", None, ("238.5", "V")),
        ("12 point 5", "twelve point five", None, ("12.5", "V")),
        ("point 4 5 k", "point four five k", None, ("450", "V")),
        ("1,080 ohms", "one thousand eighty ohms", None, ("1080", "Ohm")),
        ("1e3 ohms", "1e3 ohms", ("1000", "V"), ("1000", "Ohm")),
        ("−4 mV", "minus four millivolts", ("-4", "V"), ("-0.004", "V")),
        ("118-120", "118-120", None, None),
        ("12.5 and 3.6", "", None, None),
        ("12.5 3.6", "", None, None),
        ("nothing", "nothing", None, None),
        (numbers("2", "38.5"), "two thirty eight point five", None, ("238.5", "V")),
        (numbers("2", "-38"), "two minus thirty eight", None, None),
        (numbers("5"), "five megohms", ("5", "V"), ("5000000", "Ohm")),
        ((Number(Decimal(5000), "Ohm"),), "5 kilohms", ("5000", "Ohm"), ("5000", "Ohm")),
        ((Number(Decimal(2), "minute"), Number(Decimal(3))), "", None, None),
        ((), "", None, None),
    ],
)
def test_the_one_number_of_a_library_as_it_is_and_wrapped(
    found: Found, text: str, plain: tuple[str, str] | None, wrapped: tuple[str, str] | None
) -> None:
    def number(wanted: tuple[str, str] | None) -> Number | None:
        return None if wanted is None else Number(Decimal(wanted[0]), wanted[1])

    assert plain_number(found, Asking.VOLTAGE) == number(plain)
    assert wrapped_number(found, text, Asking.VOLTAGE) == number(wrapped)


def test_no_unit_is_made_up_where_the_question_leaves_it_open() -> None:
    assert plain_number("72", Asking.TEMPERATURE) == Number(Decimal(72))


@pytest.mark.parametrize(
    ("text", "unit", "power"),
    [
        ("twelve volts", Unit.VOLT, 0),
        ("12V", Unit.VOLT, 0),
        ("one twenty v", Unit.VOLT, 0),
        ("four point seven kilohms", Unit.OHM, 3),
        ("4.7kohms", Unit.OHM, 3),
        ("forty ohms, no, kilohms", Unit.OHM, 3),
        ("20 MΩ", Unit.OHM, 6),
        ("20 mΩ", Unit.OHM, -3),
        ("4M", None, 6),
        ("4 k", None, 3),
        ("two meg", None, 6),
        ("5 ma", Unit.AMPERE, -3),
        ("70 degrees f", Unit.FAHRENHEIT, 0),
        ("21 °C", Unit.CELSIUS, 0),
        ("twenty one point five C", Unit.CELSIUS, 0),
        ("10 µF", Unit.FARAD, -6),
    ],
)
def test_units_named_in_the_words(text: str, unit: Unit | None, power: int) -> None:
    said = said_unit(text)
    assert said is not None
    assert (said.unit, said.power_of_ten) == (unit, power)


def test_an_article_is_no_unit() -> None:
    assert said_unit("a reading of twelve, I mean it") is None


def _moody() -> Reader:
    def read(text: str) -> Found:
        match text:
            case "hang":
                time.sleep(60)
            case "refuse":
                raise ValueError(text)
            case "crash":
                raise ZeroDivisionError
            case "ask the network":
                socket.getaddrinfo("localhost", 80)
            case "end":
                sys.exit()
        return text

    return read


def _never() -> Reader:
    raise ModuleNotFoundError("No module named 'rare'")


MOODY = Peer("moody", _moody)
NEVER = Peer("rare", _never, "rare-numbers")


def test_a_library_that_hangs_crashes_or_refuses_is_counted_and_goes_on() -> None:
    with PeerProcess(MOODY, line_s=30.0) as process:
        first = process.answer("12")
        offline = process.answer("ask the network")
        refused, crashed = process.answer("refuse"), process.answer("crash")
        process.line_s = 0.2
        hung = process.answer("hang")
        process.line_s = 30.0
        again, ended = process.answer("13"), process.answer("end")
        last = process.answer("14")
    assert [first.found, again.found, last.found] == ["12", "13", "14"]
    assert (refused.found, refused.hung, refused.crashed) == ((), False, False)
    assert (crashed.found, crashed.hung, crashed.crashed) == ((), False, True)
    assert offline.crashed
    assert (hung.found, hung.hung, hung.crashed) == ((), True, False)
    assert ended.crashed


def test_a_library_that_is_not_installed_is_skipped_with_how_to_install_it() -> None:
    with pytest.raises(SkippedError, match=r"rare cannot be used here.*No module named.*pip install rare-numbers"):
        PeerProcess(NEVER).__enter__()


def test_only_the_floor_needs_no_package() -> None:
    assert [peer.name for peer in PEERS if peer.package is None] == [AS_WRITTEN.name]
    assert len({peer.name for peer in PEERS}) == len(PEERS)


def measured(one: Line, *figures: Figure) -> list[Measured]:
    return [Measured(one, figure, 0.001) for figure in figures]


def test_where_a_library_does_better_is_found_and_what_is_asked_counts(tmp_path: Path) -> None:
    one = line(tmp_path, reading(238))
    reading_of_all = {
        "the program": measured(one, Figure.RIGHT, Figure.WRONG_ASKED, Figure.SILENT),
        "silent": measured(one, Figure.SILENT, Figure.SILENT, Figure.SILENT),
        "bold": measured(one, Figure.RIGHT, Figure.RIGHT, Figure.OTHER_UNIT),
    }
    found = {(each.group, each.column): each for each in behind(reading_of_all)}
    assert {column for group, column in found if group == "pair"} == {"value", "right", "wrong"}
    assert found["in all", "right"].better == (("bold", 2.0, 2),)
    assert found["in all", "value"].better == (("bold", 3.0, 2),)
    assert found["in all", "wrong"].ours == 1
    assert found["in all", "wrong"].better == (("silent", 0.0, 0),)


def test_emergencies_are_apart_from_other_lines_without_a_number(tmp_path: Path) -> None:
    danger, unclear = line(tmp_path, EMERGENCY), line(tmp_path, UNCLEAR)
    counts = numbers_of([*measured(danger, Figure.FALSE, Figure.QUIET), *measured(unclear, Figure.FALSE, Figure.QUIET)])
    assert (counts.none_due, counts.false) == (2, 1)
    assert (counts.emergencies, counts.false_in_emergencies) == (2, 1)


def test_a_run_beside_libraries(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = written(
        tmp_path,
        row(reading(238), "two thirty eight"),
        row(reading(120), "120 volts"),
        row(EMERGENCY, "fire", "emg-001"),
        row(UNCLEAR, "page 14 of the manual", "emg-002"),
    )
    assert main(["--lines", str(file), "--by-group"], (AS_WRITTEN, NEVER)) == 0
    out = capsys.readouterr().out
    assert "peer skipped: rare cannot be used here" in out
    rows = [text.split() for text in out.splitlines() if text.startswith("in all")]
    assert rows[0][2:5] == ["4", "4", "100.0%"]
    assert rows[1][2:7] == ["2", "2", "100.0%", "2", "100.0%"]
    floor = [text.split()[3:] for text in out.splitlines() if text.startswith("  figures as written  ")]
    assert [cells[:5] for cells in floor[::2]] == [["2", "1", "50.0%", "1", "50.0%"]] * 2
    assert "where a library does better" in out


def test_groups_can_be_chosen_and_the_libraries_left_out(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = written(tmp_path, row(reading(238), "two thirty eight"), row(EMERGENCY, "fire", "emg-001"))
    assert main(["--lines", str(file), "--alone", "--only", "emg"], (NEVER,)) == 0
    out = capsys.readouterr().out
    assert out.startswith("1 lines")
    assert "skipped" not in out
    assert main(["--lines", str(file), "--only", "nobody"]) == 1
    assert "No line" in capsys.readouterr().err


def test_without_a_file_it_says_how_to_name_one(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.delenv("VOICETECH_UTTERANCES", raising=False)
    assert main([]) == 1
    assert "VOICETECH_UTTERANCES" in capsys.readouterr().err
