"""Marks of a review: what counts, and how they are stored."""

from dataclasses import replace

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
    doubled,
    encoded_mark,
    heard_by_reviewers,
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
    anew = Misheard(4, "two forty one", "Ann", 6.0)
    assert standing((*MARKS, anew)) == ((3, MARKS[2]), (5, MARKS[4]), (6, anew))
    assert standing((*MARKS, TakenBack(3, "Ben", 6.0))) == ((1, MARKS[0]), (5, MARKS[4]))


def test_reviewers_who_differ_both_stand_and_those_who_agree_are_one_answer() -> None:
    assert standing(MARKS) == ((1, MARKS[0]), (3, MARKS[2]), (5, MARKS[4]))
    assert heard_by_reviewers(MARKS) == {4: (MARKS[0], MARKS[2])}
    agreed = Misheard(4, "Two  Forty", "Cy", 6.0)
    assert heard_by_reviewers((*MARKS, agreed)) == {4: (MARKS[2], agreed)}
    assert heard_by_reviewers((*MARKS, TakenBack(3, "Ben", 6.0))) == {4: (MARKS[0],)}


def test_what_a_reviewer_says_twice_is_a_double_while_it_stands() -> None:
    comment = Commented(3, "too fast", "Ann", 9.0)
    assert doubled(comment, MARKS) is None
    assert doubled(replace(comment, at_s=9.5), (*MARKS, comment)) == 6
    assert doubled(replace(comment, reviewer="Ben"), (*MARKS, comment)) is None
    assert doubled(comment, (*MARKS, comment, TakenBack(6, "Ann", 10.0))) is None
    assert doubled(SignedOff(30, "Ann", 7.0), MARKS) == 5


def test_every_kind_comes_back_as_it_went_in() -> None:
    assert {type(mark) for mark in MARKS} == set(MARK_KINDS.values())
    for mark in MARKS:
        assert decoded_mark(*encoded_mark(mark)) == mark


@pytest.mark.parametrize(("kind", "text"), [("praised/1", "{}"), ("misheard/1", "{}"), ("misheard/1", "no JSON")])
def test_what_is_no_mark_is_refused(kind: str, text: str) -> None:
    with pytest.raises(UnreadableMarkError):
        decoded_mark(kind, text)
