"""A report without names: nothing that was said freely is in any form of it."""

import io
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC
from decimal import Decimal
from pathlib import Path

import pytest
from pypdf import PdfReader

from tests.dialogue.talker import shipped
from tests.reports.examples import PROCEDURE, START_S, answer, whole_job
from voicetech.events import (
    Answer,
    AnswerKind,
    AnswerProposed,
    AnswerTaken,
    DangerDoubted,
    DangerRecounted,
    DangerStopped,
    Event,
    InputReceived,
    NoteTaken,
    PartInspected,
    Remarked,
    Replied,
    RivalsOffered,
    StepDone,
    StepSkipped,
)
from voicetech.journal.store import open_journal
from voicetech.reports.facts.job import facts_of
from voicetech.reports.facts.without_names import without_names
from voicetech.reports.text import LEFT_OUT
from voicetech.reports.writing import Form, job_facts, rendered
from voicetech.units import Unit

NAME = "Zebedee"
"""Nobody's name."""


def _naming(event: Event) -> Event:
    """Return the event with the name wherever somebody's own words stand in it."""
    match event:
        case NoteTaken() | InputReceived():
            return replace(event, text=NAME)
        case PartInspected() | DangerDoubted() | DangerStopped() | DangerRecounted() | StepDone():
            return replace(event, words=NAME)
        case StepSkipped():
            return replace(event, reason=NAME)
        case _:
            return event


def _job() -> Iterator[Event]:
    for event in whole_job():
        yield _naming(event)
    yield answer(30, "serial", f"{NAME} 12", START_S)
    yield answer(31, "refusal", NAME, START_S)
    yield answer(32, "why_it_failed", NAME, START_S)
    yield AnswerTaken(33, "report", "told", "told", NAME, False, START_S)
    yield answer(34, "complaint", NAME, START_S)
    yield Replied(NAME, (NAME,))
    yield Remarked(NAME)


@pytest.mark.parametrize("procedure", [PROCEDURE, shipped(), None], ids=["its own", "another", "none"])
@pytest.mark.parametrize("form", list(Form))
def test_no_word_of_anybody_is_left_in_any_form(form: Form, procedure: object, tmp_path: Path) -> None:
    with open_journal(tmp_path / "jobs.db") as journal:
        journal.append("a", 0, tuple(_job()))
        chosen = procedure if procedure is not None else None
        for left_out, told in ((False, True), (True, False)):
            facts = job_facts(journal, chosen, "a", names_left_out=left_out)  # type: ignore[arg-type]
            content = rendered(facts, form, zone=UTC)
            if form is Form.PDF:
                text = "".join(page.extract_text() for page in PdfReader(io.BytesIO(content)).pages)
            else:
                text = content.decode("utf-8-sig")
            # The table of readings holds nobody's words to begin with.
            assert (NAME.lower() in text.lower()) is (told and form is not Form.TABLE)
            assert "4471" not in text or told


def test_what_was_measured_chosen_and_done_stays() -> None:
    facts = facts_of(PROCEDURE, without_names(whole_job(), PROCEDURE), without_names=True)
    before = facts_of(PROCEDURE, whole_job())
    assert facts.readings == before.readings
    assert facts.proofs == before.proofs
    assert facts.done == before.done
    assert [cause.id for cause in facts.found] == ["bake-open"]
    assert facts.complaint == "oven bakes cold"
    assert {a.field: a.value for a in facts.answers if a.value != LEFT_OUT} == {
        a.field: a.value for a in before.answers if a.field not in ("serial", "consent")
    }, "the small procedure's consent is asked for in any words"


def test_the_report_says_what_was_left_out_and_is_not_signed() -> None:
    events = (*without_names(whole_job(), PROCEDURE), *without_names((NoteTaken("a", False, START_S),), PROCEDURE))
    page = rendered(facts_of(PROCEDURE, events, without_names=True), Form.PAGE, zone=UTC).decode()
    assert "Names and free words were left out of this copy" in page
    assert "Signature" not in page
    assert LEFT_OUT in page
    assert f"<q><bdi>{LEFT_OUT}" not in page, "nobody said that"


def test_a_model_stays_because_it_names_no_unit() -> None:
    model = AnswerTaken(1, "intake", "model", "model", "m seven four two", False, START_S)
    (kept,) = without_names((model,), shipped())
    assert kept == model
    (gone,) = without_names((replace(model, value="zebedee"),), shipped())
    assert gone == replace(model, value=LEFT_OUT)


@pytest.mark.parametrize(("words", "kept"), [("nothing seen", True), ("a crack", False), ("no", True)])
def test_that_nothing_else_was_seen_stays(words: str, kept: bool) -> None:
    seen = AnswerTaken(1, "report", "seen-too", "seen_too", words, True, START_S)
    assert (without_names((seen,), shipped()) == (seen,)) is kept


def test_what_was_read_back_or_offered_holds_no_words_either() -> None:
    said = Answer(AnswerKind.WORDS, text="Zebedee")
    seen = Answer(AnswerKind.YES, text="Zebedee's scorch")
    chosen = Answer(AnswerKind.CHOICE, text="bake")
    measured = Answer(AnswerKind.READING, "L1-L2", Decimal(240), Unit.VOLT)
    events = without_names(
        (AnswerProposed((said, measured), "doubt", (seen, chosen)), RivalsOffered(seen, measured)), PROCEDURE
    )
    assert "Zebedee" not in repr(events)
    assert repr(events).count(LEFT_OUT) == 3
    assert repr(events).count(repr(measured)) == 2
    assert repr(chosen) in repr(events)
