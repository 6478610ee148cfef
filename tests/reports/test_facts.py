"""The facts a report states, from records written by hand."""

from dataclasses import replace
from decimal import Decimal

import pytest

from tests.reports.examples import PROCEDURE, START_S, answer, opening, proof, reading, whole_job
from voicetech.events import (
    AnswerTaken,
    AnswerWithdrawn,
    CausesExcluded,
    CauseShown,
    Channel,
    DangerDenied,
    DangerDoubted,
    DangerStopped,
    Event,
    HandedOver,
    Isolated,
    PairReadDead,
    PairReadLive,
    PartInspected,
    PowerRestored,
    ProofEnded,
    ReadingTaken,
    SectionEnded,
    StepSkipped,
    SupplyClassified,
)
from voicetech.events import TesterProved as ToolProved
from voicetech.language.meaning import DangerKind, State
from voicetech.procedure import Cause, Measure
from voicetech.reports.facts.dangers import dangers_of
from voicetech.reports.facts.job import JobFacts, facts_of
from voicetech.reports.facts.made_safe import ProofFact, proofs_of
from voicetech.reports.facts.naming import Stage
from voicetech.units import Unit


@pytest.fixture(scope="module")
def facts() -> JobFacts:
    return facts_of(PROCEDURE, whole_job())


def _facts(*events: Event) -> JobFacts:
    return facts_of(PROCEDURE, (*opening(), *events))


def test_the_head_of_the_report(facts: JobFacts) -> None:
    assert facts.job == "20261125-0941-k7"
    assert (facts.procedure, facts.revision, facts.digest) == ("Electric range does not heat", 3, "d" * 64)
    assert (facts.appliance, facts.complaint, facts.outcome) == ("Electric range", "oven bakes cold", "Repaired")
    assert (facts.opened_at_s, facts.last_at_s) == (START_S, START_S + 4400)
    assert facts.channels == (Channel.VOICE, Channel.CHAT)
    assert [(again.channel, again.reason) for again in facts.reopened] == [(Channel.CHAT, "taken over from voice")]
    assert facts.procedure_changed is False


def test_answers_carry_their_units_words_and_doubts(facts: JobFacts) -> None:
    told = {a.name: (a.value.replace("\xa0", " "), a.unverified) for a in facts.answers if a.stage is Stage.CALL}
    assert told == {
        "Complaint": ("oven bakes cold", False),
        "Rated volts": ("240 V", False),
        "Serial": ("QX 4471", True),
        "Connection": ("four wire cord", False),
    }


def test_every_reading_is_there_with_what_it_was_taken_in(facts: JobFacts) -> None:
    told = [
        (r.part, r.between, r.value.replace("\xa0", " "), r.circumstances, r.withdrawn, r.good) for r in facts.readings
    ]
    off = "leads 0.2\xa0Ω taken off"
    assert told == [
        ("Bake element", "1-2", "23.4 Ω", ("dead", "one wire off", off), "correction", True),
        ("Bake element", "1-2", "OL (over range)", ("dead", "one wire off", off), None, False),
        ("Bake element", "1-2", "OL (over range)", ("dead", "one wire off", "attempt 2"), None, False),
        ("Putting back", "frame-pin", "0.08 Ω", ("dead", "one wire off"), None, True),
        ("Supply", "L1-L2", "238.6 V", ("live",), None, True),
    ]


def test_a_found_fault_comes_with_its_proof_and_why_it_failed(facts: JobFacts) -> None:
    (found,) = facts.found
    assert found.says == "The bake element is open; the plate says 240 volts"
    assert [proof.replace("\xa0", " ") for proof in found.proof] == [
        "1-2: OL (over range); limits 19.9 to 24.4 Ω",
        "1-2: OL (over range) (repeated); limits 19.9 to 24.4 Ω",
    ]
    assert found.why_failed.startswith("Elements wear through")
    assert (found.remedy, found.parts) == ("Replace the bake element.", ("bake element",))


def test_a_withdrawn_result_takes_everything_that_followed_from_it(facts: JobFacts) -> None:
    # The reading that was corrected had ruled out the very fault that was found.
    standing = [fact.says for fact in facts.excluded if fact.withdrawn is None]
    assert standing == [("A supply joint gives way under load",)]
    assert facts.suspected == ()


def test_faults_ruled_out_by_one_result_stand_together_once() -> None:
    told = _facts(
        reading(1, "supply", "loaded", "L1-L2", "238", "within", "0", "300", START_S, unit=Unit.VOLT),
        SupplyClassified(1, "split-phase", "Sound.", START_S),
        CausesExcluded(1, ("joint",)),
        CausesExcluded(1, ("joint", "sensor-open")),
        reading(2, "bake", "end-to-end", "1-2", "22", "within", "19.9", "24.4", START_S),
        CausesExcluded(2, ("bake-open", "joint")),
    )
    assert [(len(fact.says), fact.by.replace("\xa0", " ")) for fact in told.excluded] == [
        (2, "Supply: split phase"),
        (1, "Bake element, 1-2: 22 Ω"),
    ]


def test_a_fault_whose_showing_was_withdrawn_can_still_be_ruled_out() -> None:
    told = _facts(
        CauseShown(1, "bake-open", True, "bake", "end-to-end"),
        AnswerWithdrawn(1, "undone", START_S),
        CausesExcluded(2, ("bake-open",)),
    )
    assert [fact.withdrawn for fact in told.excluded] == [None]


def test_readings_judged_as_a_set_have_no_limits_of_their_own() -> None:
    supply = PROCEDURE.section("supply")
    (loaded,) = supply.steps
    assert isinstance(loaded, Measure)
    as_a_set = replace(supply, steps=(replace(loaded, judged_as="supply-loaded"),))
    sections = tuple(as_a_set if section is supply else section for section in PROCEDURE.sections)
    volts = reading(1, "supply", "loaded", "L1-L2", "200", "within", "0", "300", START_S, unit=Unit.VOLT)
    shown = CauseShown(1, "joint", True, "supply", "loaded")
    told = facts_of(replace(PROCEDURE, sections=sections), (*opening(), volts, shown))
    (fact,) = told.readings
    assert (fact.limits, fact.verdict, fact.good, fact.band) == ("", "judged as a set, below", None, None)
    assert told.found[0].proof == ("L1-L2: 200\xa0V",)


def test_each_source_of_limits_is_named_once(facts: JobFacts) -> None:
    assert facts.sources == ("nameplate",)


def test_a_later_withdrawal_reaches_back_to_its_number_and_no_further() -> None:
    told = _facts(
        answer(1, "serial", "A", START_S),
        answer(2, "model", "B", START_S),
        answer(3, "age", "C", START_S),
        AnswerWithdrawn(2, "undone", START_S),
        answer(4, "model", "D", START_S),
    )
    assert [(a.value, a.withdrawn) for a in told.answers] == [
        ("A", None),
        ("B", "undone"),
        ("C", "undone"),
        ("D", None),
    ]


def test_a_suspected_fault_is_kept_apart_from_a_found_one() -> None:
    suspected = CauseShown(1, "bake-open", False, "bake", "end-to-end")
    told = _facts(reading(1, "bake", "end-to-end", "1-2", "30", "above", "19.9", "24.4", START_S), suspected)
    assert told.found == ()
    assert [fact.id for fact in told.suspected] == ["bake-open"]
    told = _facts(suspected, replace(suspected, seq=2, proved=True))
    assert [fact.id for fact in told.found] == ["bake-open"]
    assert told.suspected == ()


def test_a_fault_that_was_ruled_out_later_is_no_longer_held() -> None:
    told = _facts(CauseShown(1, "bake-open", True, "bake", "end-to-end"), CausesExcluded(2, ("bake-open",)))
    assert told.found == ()
    assert [(fact.id, fact.ruled_out) for fact in told.dropped] == [("bake-open", True)]
    assert told.excluded == (), "it is told once"


def test_the_answer_that_shows_a_fault_is_told_only_of_a_found_one() -> None:
    """The setting that keeps it off is told of one that does, not of one that was ruled out by the answer none."""
    setting = Cause("setting", "A setting keeps it off: {setting}.", "call", "swap", "", ())
    procedure = replace(PROCEDURE, causes={**PROCEDURE.causes, "setting": setting})

    def told(value: str, event: CauseShown | CausesExcluded) -> JobFacts:
        return facts_of(procedure, (*opening(), answer(1, "setting", value, START_S), event))

    (found,) = told("delay start", CauseShown(1, "setting", True, "call", "setting")).found
    (suspected,) = told("none", CauseShown(1, "setting", False, "call", "setting")).suspected
    (excluded,) = told("none", CausesExcluded(1, ("setting",))).excluded
    assert found.says == "A setting keeps it off: delay start"
    assert suspected.says == "A setting keeps it off"
    assert excluded.says == ("A setting keeps it off",)


def test_a_withdrawn_fault_is_no_longer_held() -> None:
    told = _facts(CauseShown(1, "bake-open", True, "bake", "end-to-end"), AnswerWithdrawn(1, "undone", START_S))
    assert told.found == ()
    assert [(fact.id, fact.withdrawn) for fact in told.dropped] == [("bake-open", "undone")]
    assert told.remaining == (), "no complaint was given"


def test_the_proof_of_a_fault_may_be_seen_or_answered_or_be_the_supplys_meaning() -> None:
    live = reading(1, "supply", "loaded", "L1-L2", "200", "below", "228", "252", START_S, unit=Unit.VOLT)
    told = _facts(
        live,
        SupplyClassified(1, "collapses-under-load", "It collapses under load.", START_S),
        CauseShown(2, "joint", True, "supply", "loaded"),
        PartInspected(3, "bake", "look", "bake element", True, "a hole", START_S),
        CauseShown(3, "bake-open", True, "bake", "look"),
        AnswerTaken(4, "sensor", "code", "code", "F3", False, START_S),
        CauseShown(4, "sensor-open", True, "sensor", "code"),
    )
    joint, bake, sensor = told.found
    assert joint.proof[-1] == "It collapses under load."
    assert bake.proof == ("seen: a hole",)
    assert sensor.proof == ("answered: F3",)


def test_what_no_test_spoke_of_remains() -> None:
    told = _facts(answer(1, "complaint", "bake", START_S))
    assert told.remaining == (
        "The bake element is open; the plate says rated volts volts",
        "The oven sensor is open",
    )
    told = _facts(answer(1, "complaint", "bake", START_S), CausesExcluded(2, ("bake-open",)))
    assert told.remaining == ("The oven sensor is open",)


def test_not_tested_is_told_with_the_reason_once(facts: JobFacts) -> None:
    assert [(skip.part, skip.reason) for skip in facts.skipped] == [("Thermal fuse", "not fitted")]
    assert facts.not_reached == ("Oven sensor",)
    told = _facts(
        StepSkipped(1, "bake", "sheath", "cannot reach it", START_S),
        SectionEnded(1, "bake", "skipped"),
        SectionEnded(2, "sensor", "not fitted"),
    )
    assert [(skip.part, skip.what, skip.reason) for skip in told.skipped] == [
        ("Bake element", "Measure 1-sheath.", "cannot reach it"),
        ("Oven sensor", "", "not fitted"),
    ]


def test_each_proof_of_dead_has_every_reading_and_what_ended_it(facts: JobFacts) -> None:
    first, second = facts.proofs
    assert (first.isolated_by, second.isolated_by) == ("plug", "lockout")
    assert first.tester_before_v == Decimal("121.4")
    assert first.tester_after_v == Decimal("121.2")
    assert [pair.label for pair in first.pairs] == ["L1-L2", "L1-N", "L2-N", "L1-frame", "L2-frame", "N-frame"]
    assert (first.proved_at_s, first.ended) == (START_S + 300, "danger")
    assert second.ended == "a step asked for power"


def test_a_proof_that_was_only_begun_is_not_made_whole() -> None:
    events = (
        Isolated("plug", 1.0),
        ToolProved(True, Decimal("120"), 2.0),
        PairReadDead("L1-N", Decimal("0.1"), 3.0),
        PairReadLive("L1-L2", Decimal("38"), 3.0),
        ProofEnded("paused", 4.0),
    )
    (only,) = proofs_of(events)
    assert (only.proved_at_s, only.tester_after_v, only.ended) == (None, None, "paused")
    assert [(pair.label, pair.dead) for pair in only.pairs] == [("L1-N", True), ("L1-L2", False)]
    assert proofs_of((ProofEnded("restart", 1.0), PowerRestored("said", 2.0))) == ()


def test_a_second_round_with_the_tester_keeps_the_isolation_and_starts_a_new_proof() -> None:
    again = (ToolProved(True, Decimal("119"), 9.0), PairReadDead("L1-N", Decimal("0"), 9.5))
    first, second = proofs_of((*proof(0.0), *again))
    assert first.proved_at_s == 180.0
    assert second == ProofFact("plug", 0.0, Decimal("119"), second.pairs)


def test_readings_a_proof_tells_are_not_told_twice() -> None:
    volts = reading(1, "make-safe", "pairs", "L1-L2", "0.0", "within", None, "1", 120.0, unit=Unit.VOLT)
    leads = reading(2, "make-safe", "leads", "leads", "0.2", "within", None, "1", 130.0)
    told = _facts(*proof(0.0), volts, leads)
    assert [r.between for r in told.readings] == ["leads"]


def test_a_field_that_keeps_a_reading_is_not_an_answer_too() -> None:
    leads = reading(1, "null-leads", "leads", "leads", "0.2", "within", None, "1", START_S)
    kept = AnswerTaken(1, "null-leads", "leads", "lead_ohm", "0.2", False, START_S)
    assert _facts(leads, kept).answers == ()


def test_danger_tells_what_was_said_what_happened_and_how_it_ended(facts: JobFacts) -> None:
    doubted, stopped = facts.dangers
    assert (doubted.kind, doubted.stopped, doubted.denied) == (DangerKind.SPARKS, False, True)
    assert (stopped.kind, stopped.words, stopped.stopped) == (DangerKind.FIRE, "smoke", True)
    assert stopped.cleared_at_s == START_S + 700
    assert stopped.account == "a rag on the other burner"


def test_a_stop_nobody_ended_and_a_question_nobody_answered_say_so() -> None:
    stop, doubt = dangers_of((DangerStopped(DangerKind.SHOCK, "shock", 1.0), DangerDoubted(DangerKind.GAS, "gas", 2.0)))
    assert (stop.cleared_at_s, stop.account) == (None, None)
    assert (doubt.stopped, doubt.denied) == (False, False)
    assert dangers_of((DangerDenied(1.0),)) == ()


def test_a_hand_over_says_why_and_to_whom() -> None:
    told = _facts(HandedOver(1, "neutral", START_S), HandedOver(2, "a-reason-since-renamed", START_S))
    assert [(over.says, over.to) for over in told.hand_overs] == [
        ("The supply's neutral is open.", "a licensed electrician"),
        ("A reason since renamed", ""),
    ]


def test_notes_and_refusals(facts: JobFacts) -> None:
    assert [(note.text, note.unverified) for note in facts.notes] == [
        ("anti tip bracket was missing, fitted one", True)
    ]
    assert [(refusal.reason, refusal.times) for refusal in facts.refusals] == [
        ("This is a safety step. It cannot be skipped.", 2)
    ]


def test_work_is_told_by_stage_without_the_call_to_say_done(facts: JobFacts) -> None:
    assert [(done.stage, done.what) for done in facts.done] == [
        (Stage.REPAIR, "Fit the new bake element and tighten both terminals."),
        (Stage.PUT_BACK, "Covers on."),
        (Stage.RETEST, "Bake at 350 and watch it come to heat."),
        (Stage.ADVICE, "No foil on the oven floor."),
    ]


@pytest.mark.parametrize(
    ("verdict", "low", "high", "good"),
    [
        ("within", "1", "2", True),
        ("marginal", "1", "2", None),
        ("above", "1", "2", False),
        ("below", "1", "2", False),
        ("over_range", "1", "2", False),
        ("over_range", "1000000", None, True),
        ("a verdict of later days", "1", "2", None),
    ],
)
def test_over_range_is_good_only_where_nothing_limits_it_above(
    verdict: str, low: str, high: str | None, good: bool | None
) -> None:
    told = _facts(reading(1, "bake", "sheath", "1-sheath", None, verdict, low, high, START_S))
    assert told.readings[0].good is good


@pytest.mark.parametrize(
    ("state", "words"),
    [
        (State.OPEN, "open (over range)"),
        (State.CLOSED, "closed"),
        (State.BEEP, "buzzer sounded, ohms not taken"),
        (State.SHORT, "short"),
    ],
)
def test_a_state_is_told_as_what_it_was(state: State, words: str) -> None:
    taken: ReadingTaken = replace(reading(1, "fuse", "fuse", "1-2", None, "within", None, "1", START_S), state=state)
    assert _facts(taken).readings[0].value == words


def test_a_record_whose_procedure_is_gone_keeps_its_stored_names() -> None:
    told = facts_of(None, whole_job())
    assert told.procedure == "Range no heat"
    assert told.procedure_changed is None
    assert [fact.says for fact in told.found] == ["Bake open"]
    assert told.readings[0].part == "Bake"
    assert len(told.readings) == len(facts_of(PROCEDURE, whole_job()).readings)
    changed = facts_of(replace(PROCEDURE, digest="e" * 64), whole_job())
    assert changed.procedure_changed is True


def test_an_empty_record_has_no_facts() -> None:
    told = facts_of(None, ())
    assert (told.job, told.opened_at_s, told.outcome, told.readings) == ("", None, None, ())


def test_a_reading_is_drawn_as_it_was_judged_without_the_leads() -> None:
    told = _facts(
        reading(1, "fuse", "fuse", "1-2", "1.1", "within", None, "1", START_S, lead_ohm="0.3"),
        reading(2, "fuse", "fuse", "1-2", "0.2", "within", None, "1", START_S, lead_ohm="0.3"),
        reading(3, "fuse", "fuse", "1-2", "0.8", "within", None, "1", START_S),
    )
    bands = [fact.band for fact in told.readings]
    assert [band.value for band in bands if band is not None] == [Decimal("0.8"), Decimal(0), Decimal("0.8")]
    assert told.readings[0].value == "1.1\xa0Ω", "the meter's own figure is what is told"
