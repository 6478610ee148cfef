"""What the customer reads first: found and suspected apart, never a promise of safety, what comes next."""

import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from tests.reports import jobs
from tests.reports.examples import PROCEDURE, START_S, answer, opening, whole_job
from voicetech.events import AnswerTaken, CauseShown, Event, JobClosed, StopCleared
from voicetech.reports.facts.job import JobFacts, facts_of
from voicetech.reports.job_report.content import job_page
from voicetech.reports.job_report.plain_words import plain_words

SAFE = re.compile(r"\b(is|was|now|are|it's) safe\b", re.IGNORECASE)


def _retested(field: str, value: str) -> tuple[Event, ...]:
    job = whole_job()
    return (*job[:-1], AnswerTaken(30, "run", field, field, value, False, START_S + 4350), job[-1])


def test_what_was_found_is_told_with_its_trade_word_explained() -> None:
    words = plain_words(jobs.whole())
    assert words.found == ("The bake element is open; the plate says 240 volts.",)
    assert dict(words.words) == {"open": "broken inside, so that no current can pass"}


def test_a_procedure_says_how_its_own_answers_read_and_what_its_words_mean() -> None:
    said = replace(
        PROCEDURE,
        fields={"complaint_gone": ("It dries again", "It does not dry")},
        explained={"bake": "the lower heating of the oven"},
    )
    words = plain_words(facts_of(said, _retested("complaint_gone", "yes")))
    assert any("It dries again." in told for told in words.safe)
    assert dict(words.words)["bake"] == "the lower heating of the oven"


def test_what_is_only_suspected_is_not_told_as_found() -> None:
    words = plain_words(jobs.of(CauseShown(1, "bake-open", False, "bake", "end-to-end")))
    assert words.found[0].startswith("Nothing is proved.")
    assert "bake element is open" in words.found[1]


def test_after_a_repair_it_tells_what_was_tried_and_measured() -> None:
    told = " ".join(plain_words(facts_of(PROCEDURE, _retested("complaint_gone", "yes"))).safe)
    assert told.startswith("This report does not declare it safe.")
    assert "The original complaint was tried: it works as it should." in told
    assert "frame-pin 0.08\xa0Ω, within the limits" in told
    assert "Leave it off" not in told


@pytest.mark.parametrize(("field", "value"), [("complaint_gone", "no"), ("off_is_off", "no")])
def test_a_retest_that_failed_leaves_it_off(field: str, value: str) -> None:
    assert "Leave it off" in " ".join(plain_words(facts_of(PROCEDURE, _retested(field, value))).safe)


def test_a_repair_that_nothing_was_tried_after_leaves_it_off() -> None:
    told = plain_words(jobs.of(JobClosed("repaired", START_S))).safe
    assert any("Nothing was tried or measured after the repair." in words and "Leave it off" in words for words in told)


@pytest.mark.parametrize(
    ("job", "told"),
    [
        (jobs.abandoned, "No repair with a test after it is on record. Leave it off"),
        (jobs.stopped_by_danger, "the stop was not ended. Leave it off"),
        (jobs.handed_over, "handed over. Leave it off"),
    ],
)
def test_whatever_did_not_end_in_a_tested_repair_leaves_it_off(job: Callable[[], JobFacts], told: str) -> None:
    assert told in " ".join(plain_words(job()).safe)


def test_a_stop_that_was_ended_is_not_told_as_going_on() -> None:
    assert "stop was not ended" not in " ".join(plain_words(jobs.whole()).safe)
    cleared = jobs.of(*[e for e in whole_job() if isinstance(e, StopCleared)])
    assert "stop was not ended" not in " ".join(plain_words(cleared).safe)


def test_a_hand_over_says_who_is_to_come() -> None:
    words = plain_words(jobs.handed_over())
    assert "Have it looked at by a licensed electrician." in words.after
    assert words.found[0] == "Work was stopped: The supply's neutral is open."


def test_advice_is_told_and_what_was_seen_beside() -> None:
    told = plain_words(jobs.of(answer(1, "seen_too", "a cracked knob", START_S))).after
    assert "Also seen: A cracked knob." in told
    assert not any("Also seen" in w for w in plain_words(jobs.of(answer(1, "seen_too", "Nothing.", START_S))).after)
    assert "No foil on the oven floor." in plain_words(jobs.whole()).after


def test_no_report_ever_says_that_anything_is_safe(tmp_path: Path) -> None:
    sessions = [jobs.of_session(name, tmp_path) for name in ("bake-element-repaired", "lost-leg-handed-over")]
    made = [jobs.whole(), jobs.abandoned(), jobs.stopped_by_danger(), jobs.handed_over()]
    for facts in (*sessions, *made, facts_of(PROCEDURE, opening())):
        text = str(job_page(facts))
        for found in SAFE.finditer(text):
            before = text[: found.start()]
            # Advice names what the technician is to tell; it tells nothing by itself.
            assert before.endswith(("whether it ", "Tell them whether it ")), text[found.start() - 60 : found.end()]
