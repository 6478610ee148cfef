"""Captions read as questions and answers, and every reader of WebVTT can read them."""

from io import StringIO

import webvtt
from hypothesis import given
from hypothesis import strategies as st

from voicetech.events import AlternativeHeard, Channel, Event, InputReceived, JobOpened, Replied
from voicetech.marks import Commented, Mark, Misheard, TakenBack
from voicetech.reports.walkthrough.captions import NO_ANSWER, NO_WORDS, Span, captions


def heard(text: str, free: str | None = None) -> InputReceived:
    alternatives = (AlternativeHeard(text, 1.0),) if text else ()
    return InputReceived(Channel.VOICE, "ear", alternatives, 1.0, "accepted", text, "ab", 1.0, free)


def said(words: str) -> Replied:
    return Replied(words, (words,))


OPENED = JobOpened("one", "range", 1, "d", Channel.VOICE, 1.0)
JOB: tuple[Event, ...] = (
    OPENED,
    said("How many volts?"),
    heard("two fifteen"),
    said("Two one five. What is cold?"),
    heard("bake"),
    said("Bake. Thank you."),
)
HEARD = {3: Span(0.0, 1.25), 5: Span(1.85, 3.0)}


def cues(job: tuple[Event, ...] = JOB, marks: tuple[Mark, ...] = (), length_s: float = 6.0) -> list[tuple[str, ...]]:
    """Return each cue as a reader of the format finds it: from, to, and its text with its voices."""
    text = captions(tuple(enumerate(job, start=1)), HEARD, marks, length_s)
    return [(each.start, each.end, each.raw_text) for each in webvtt.from_buffer(StringIO(text)).captions]


def test_a_question_stands_until_it_is_answered() -> None:
    assert cues() == [
        ("00:00:00.000", "00:00:01.250", "<v Program>How many volts?\n<v Technician>two fifteen"),
        ("00:00:01.250", "00:00:01.850", "<v Program>Two one five. What is cold?"),
        ("00:00:01.850", "00:00:03.000", "<v Program>Two one five. What is cold?\n<v Technician>bake"),
        ("00:00:03.000", "00:00:06.000", "<v Program>Bake. Thank you."),
    ]


def test_cues_are_named_after_their_events() -> None:
    text = captions(tuple(enumerate(JOB, start=1)), HEARD, (), 6.0)
    assert text.startswith("WEBVTT\n\ne3\n00:00:00.000 --> 00:00:01.250\n")
    assert "\n\nbefore-e5\n" in text
    assert text.endswith("\n")


def test_a_reviewers_words_take_the_place_of_what_was_heard() -> None:
    marks = (Misheard(3, "two <forty>", "Ann", 1.0), Misheard(5, "", "Ann", 1.0), Commented(3, "x", "Ann", 1.0))
    assert cues(marks=marks)[0][2].endswith("\n<v Technician>two &lt;forty&gt;")
    assert cues(marks=marks)[2][2].endswith(f"\n<v Technician>{NO_ANSWER}")
    assert cues(marks=(*marks, Misheard(3, "two", "Ben", 2.0)))[0][2].endswith(">two &lt;forty&gt; (Ann) / two (Ben)")
    assert cues(marks=(*marks, TakenBack(1, "Ann", 2.0)))[0][2].endswith("<v Technician>two fifteen")


def test_what_was_typed_or_has_no_sound_is_not_captioned() -> None:
    job = (*JOB[:4], heard("typed"), said("And what is cold?"), *JOB[4:])
    text = captions(tuple(enumerate(job, start=1)), {3: HEARD[3], 7: HEARD[5]}, (), 6.0)
    assert "typed" not in text
    assert "And what is cold?\n<v Technician>bake" in text


def test_an_answer_without_words_or_reply_is_shown_too() -> None:
    job = (OPENED, said(""), heard(""), heard("", free="mumble mumble"))
    text = captions(tuple(enumerate(job, start=1)), {3: Span(0.0, 1.0), 4: Span(1.6, 2.0)}, (), 5.0)
    assert [each.raw_text for each in webvtt.from_buffer(StringIO(text)).captions] == [
        f"<v Technician>{NO_WORDS}",
        "<v Technician>mumble mumble",
    ]


def test_a_job_without_sound_has_no_cues() -> None:
    assert captions((), {}, (), 0.0) == "WEBVTT\n"


def test_hours_are_written_out() -> None:
    text = captions(((3, heard("x")),), {3: Span(3_725.0004, 3_725.9996)}, (), 0.0)
    assert "01:02:05.000 --> 01:02:06.000" in text


def test_times_that_round_up_to_a_second_stay_in_order() -> None:
    text = captions(((3, heard("x")),), {3: Span(59.9999, 61.0)}, (), 0.0)
    assert "00:01:00.000 --> 00:01:01.000" in text


@given(st.text(), st.text(), st.text())
def test_no_words_break_the_format(program: str, technician: str, reviewer: str) -> None:
    job = (OPENED, said(program), heard(technician), said(program), heard("x"))
    marks = (Misheard(5, reviewer, "Ann", 1.0),)
    text = captions(tuple(enumerate(job, start=1)), HEARD, marks, 6.0)
    found = webvtt.from_buffer(StringIO(text)).captions
    times = [(each.start, each.end) for each in found]
    assert times == sorted(times)
    assert {each.raw_text.split("\n")[-1][:13] for each in found[:1]} == {"<v Technician"}
    # Nothing but the times holds an arrow, and every blank line parts two cues.
    assert text.count("-->") == len(found)
    assert text.count("\n\n") == len(found)
    for each in found:
        spans = each.raw_text.replace("<v Program>", "").replace("<v Technician>", "")
        assert "<" not in spans
        assert ">" not in spans
