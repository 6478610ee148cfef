"""Marks as JSON: both ways, what is refused, and a file of marks brought into a record."""

import json
from dataclasses import replace
from typing import Any

import pytest

from voicetech.marks import Commented, Mark, Misheard, SignedOff, TakenBack
from voicetech.marks_json import (
    BadMarkError,
    Marked,
    MarksFile,
    fitting,
    mark_as_json,
    mark_from_json,
    marks_as_json,
    marks_file_from,
    new_marks,
)

MARKS: tuple[Mark, ...] = (
    Misheard(4, "two forty", "Ann", 1_700_000_000.125),
    Commented(None, "too fast", "Ann", 1_700_000_001.0),
    Misheard(4, "", "Ben", 1_700_000_002.0),
    TakenBack(2, "Ann", 1_700_000_003.5),
    SignedOff(30, "Ann", 1_700_000_004.0),
)
NOW_S = 1_700_000_100.0
JOB = Marked("one", 30, frozenset({4, 9}), ())


def test_every_mark_comes_back_as_it_went_out() -> None:
    for mark in MARKS:
        assert mark_from_json(json.loads(json.dumps(mark_as_json(mark)))) == mark


def test_the_page_is_told_which_of_them_stand() -> None:
    told = marks_as_json(MARKS)
    assert [(each["nr"], each["standing"]) for each in told] == [
        (1, True),
        (2, False),
        (3, True),
        (4, False),
        (5, True),
    ]
    assert told[0] == {
        "nr": 1,
        "kind": "misheard",
        "seq": 4,
        "said": "two forty",
        "reviewer": "Ann",
        "at": "2023-11-14T22:13:20.125000+00:00",
        "standing": True,
    }


def test_the_time_of_a_new_mark_is_given_and_not_told() -> None:
    raw = {"kind": "commented", "seq": 2, "text": " good ", "reviewer": "  Ann  B ", "at": "yesterday"}
    assert mark_from_json(raw, 5.0004) == Commented(2, "good", "Ann B", 5.0)


@pytest.mark.parametrize(
    ("changed", "says"),
    [
        ({"kind": "praised"}, "no kind of mark"),
        ({"kind": ["misheard"]}, "no kind of mark"),
        ({"kind": None}, "no kind of mark"),
        ({"seq": "4"}, "no whole number"),
        ({"seq": True}, "no whole number"),
        ({"seq": 4.0}, "no whole number"),
        ({"seq": None}, "no whole number"),
        ({"said": None}, "what was said"),
        ({"said": "x" * 2001}, "2000 is the most"),
        ({"said": "\ud800"}, "not text"),
        ({"reviewer": " "}, "Who is reviewing?"),
        ({"reviewer": 3}, "Who is reviewing?"),
        ({"reviewer": "x" * 81}, "longer than 80"),
        ({"kind": "commented", "text": " \n"}, "comment is empty"),
        ({"kind": "commented", "text": "x" * 2001}, "2000 is the most"),
        ({"kind": "signed-off"}, "events is no whole number"),
        ({"kind": "taken-back", "mark": "1"}, "mark is no whole number"),
    ],
)
def test_what_is_no_mark_is_told(changed: dict[str, Any], says: str) -> None:
    raw = {"kind": "misheard", "seq": 4, "said": "two forty", "reviewer": "Ann", **changed}
    with pytest.raises(BadMarkError, match=says):
        mark_from_json(raw, 1.0)


@pytest.mark.parametrize("raw", [None, [], "misheard", 3])
def test_what_is_no_object_is_told(raw: object) -> None:
    with pytest.raises(BadMarkError, match="JSON object"):
        mark_from_json(raw, 1.0)


@pytest.mark.parametrize("at", [None, 3, "", "soon", "2026-11-26", "2026-11-26T09:41:00", "9999-12-31T23:59:59-23:00"])
def test_a_saved_mark_needs_its_time(at: object) -> None:
    with pytest.raises(BadMarkError, match="time"):
        mark_from_json({"kind": "commented", "seq": 2, "text": "x", "reviewer": "Ann", "at": at})


@pytest.mark.parametrize(
    ("mark", "says"),
    [
        (Misheard(5, "x", "Ann", 1.0), "holds no words"),
        (Misheard(0, "x", "Ann", 1.0), "holds no words"),
        (Commented(31, "x", "Ann", 1.0), "no event 31"),
        (Commented(0, "x", "Ann", 1.0), "no event 0"),
        (SignedOff(29, "Ann", 1.0), "has 30 events, and the page showed 29"),
        (TakenBack(6, "Ann", 1.0), "no mark 6"),
        (TakenBack(0, "Ann", 1.0), "no mark 0"),
        (TakenBack(2, "Ann", 1.0), "taken back already"),
        (TakenBack(4, "Ann", 1.0), "Mark that one again"),
    ],
)
def test_what_does_not_fit_the_job_is_told(mark: Mark, says: str) -> None:
    with pytest.raises(BadMarkError, match=says):
        fitting(mark, replace(JOB, marks=MARKS))


@pytest.mark.parametrize(
    "mark",
    [Misheard(9, "", "Ann", 1.0), Commented(30, "x", "A", 1.0), SignedOff(30, "A", 1.0), TakenBack(3, "A", 1.0)],
)
def test_what_fits_is_taken(mark: Mark) -> None:
    assert fitting(mark, replace(JOB, marks=MARKS)) == mark


def saved(*marks: Mark) -> MarksFile:
    told = {"job": "one", "record": "ab", "marks": [mark_as_json(mark) for mark in marks]}
    return marks_file_from(json.dumps(told))


class TestAFileOfMarks:
    def test_comes_back(self) -> None:
        assert saved(*MARKS) == MarksFile("one", "ab", MARKS)

    def test_brings_what_is_not_on_record_and_nothing_twice(self) -> None:
        assert new_marks(saved(*MARKS), JOB, NOW_S) == MARKS
        assert new_marks(saved(*MARKS), replace(JOB, marks=MARKS[:2]), NOW_S) == MARKS[2:]
        assert new_marks(saved(*MARKS), replace(JOB, marks=MARKS), NOW_S) == ()

    def test_takes_back_its_own_mark_whatever_was_marked_meanwhile(self) -> None:
        others = (Commented(7, "another", "Cy", 9.0), Commented(8, "and more", "Cy", 9.0))
        fresh = new_marks(saved(*MARKS), replace(JOB, marks=others), NOW_S)
        assert fresh[3] == TakenBack(4, "Ann", 1_700_000_003.5)
        assert new_marks(saved(*MARKS), replace(JOB, marks=(*others, *fresh)), NOW_S) == ()

    def test_may_be_of_a_job_that_went_on(self) -> None:
        assert new_marks(saved(SignedOff(30, "A", 1.0)), replace(JOB, events=99), NOW_S) == (SignedOff(30, "A", 1.0),)
        with pytest.raises(BadMarkError, match="has 30 events"):
            new_marks(saved(SignedOff(31, "A", 1.0)), JOB, NOW_S)

    def test_holds_once_what_was_pressed_twice(self) -> None:
        twice = (Commented(3, "slow", "Ann", 5.0), Commented(3, "slow", "Ann", 5.2), SignedOff(30, "Ann", 6.0))
        once = (twice[0], twice[2])
        assert new_marks(saved(*twice), JOB, NOW_S) == once
        assert new_marks(saved(*twice), replace(JOB, marks=once), NOW_S) == ()

    def test_of_another_day_to_come_is_refused(self) -> None:
        ahead = Commented(3, "slow", "Ann", NOW_S + 86_400)
        with pytest.raises(BadMarkError, match=r"mark 1: it is dated 2023-11-15T22:15:00.* lies in the future"):
            new_marks(saved(ahead), JOB, NOW_S)
        a_little = replace(ahead, at_s=NOW_S + 60)
        assert new_marks(saved(a_little), JOB, NOW_S) == (a_little,)

    @pytest.mark.parametrize(
        ("marks", "says"),
        [
            ((Misheard(5, "x", "Ann", 1.0),), "mark 1: Event 5"),
            ((MARKS[0], TakenBack(2, "Ann", 1.0)), "mark 2: it takes back mark 2, which does not stand before it"),
            ((MARKS[0], TakenBack(1, "Ann", 1.0), TakenBack(1, "Ben", 2.0)), "mark 3: Mark 1 was taken back already"),
        ],
    )
    def test_that_does_not_fit_is_told_by_its_mark(self, marks: tuple[Mark, ...], says: str) -> None:
        with pytest.raises(BadMarkError, match=says):
            new_marks(saved(*marks), JOB, NOW_S)

    @pytest.mark.parametrize(
        ("text", "says"),
        [
            ('{"job": "one",\n "marks" []}', "2:10: not JSON"),
            ("", "1:1: not JSON"),
            ("[" * 100_000, "1:1: not JSON"),
            ("[]", "no marks in it"),
            ('{"marks": {}}', "no marks in it"),
            ('{"marks": [], "job": "one"}', "which job and record"),
            ('{"marks": [{"kind": "praised"}], "job": "one", "record": "ab"}', "mark 1: Who is reviewing"),
        ],
    )
    def test_that_cannot_be_read_is_told(self, text: str, says: str) -> None:
        with pytest.raises(BadMarkError, match=says):
            marks_file_from(text)
