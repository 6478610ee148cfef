"""Marks of a review: what counts, and how they are stored."""

import pytest

from voicetech.marks import (
    MARK_KINDS,
    Commented,
    Mark,
    Misheard,
    SignedOff,
    TakenBack,
    UnreadableMarkError,
    decoded_mark,
    encoded_mark,
    standing,
)

MARKS: tuple[Mark, ...] = (
    Misheard(4, "two forty", "Ann", 1.0),
    Commented(None, "too fast", "Ann", 2.0),
    Misheard(4, "two fourteen", "Ben", 3.0),
    TakenBack(2, "Ann", 4.0),
    SignedOff(30, "Ann", 5.0),
)


def test_what_was_taken_back_or_said_anew_no_longer_stands() -> None:
    assert standing(MARKS) == ((3, MARKS[2]), (5, MARKS[4]))
    assert standing((*MARKS, TakenBack(3, "Ben", 6.0))) == ((1, MARKS[0]), (5, MARKS[4]))


def test_every_kind_comes_back_as_it_went_in() -> None:
    assert {type(mark) for mark in MARKS} == set(MARK_KINDS.values())
    for mark in MARKS:
        assert decoded_mark(*encoded_mark(mark)) == mark


@pytest.mark.parametrize(("kind", "text"), [("praised/1", "{}"), ("misheard/1", "{}"), ("misheard/1", "no JSON")])
def test_what_is_no_mark_is_refused(kind: str, text: str) -> None:
    with pytest.raises(UnreadableMarkError):
        decoded_mark(kind, text)
