"""Where a drawing says that results lead, beside where the dialogue goes."""

from collections.abc import Iterator
from dataclasses import replace

import pytest

from tests.dialogue.talker import Talker, shipped
from voicetech.dialogue.draft import Draft
from voicetech.dialogue.outcomes import follow, outcome_of
from voicetech.drawing.gates import first_ohms, gated
from voicetech.drawing.numbering import numbered
from voicetech.drawing.ways import ANY, LIVE, NOT_SHOWN, OTHER, STILL_LIVE, To, Way, below, ways_of, without_remarks
from voicetech.events import (
    AnswerTaken,
    CausesExcluded,
    CauseShown,
    Channel,
    DangerStopped,
    Event,
    HandedOver,
    JobOpened,
    Remarked,
    SectionEnded,
    StepDeferred,
    StepEntered,
)
from voicetech.procedure import (
    Condition,
    Hold,
    Instruct,
    Needs,
    Outcome,
    Phase,
    Procedure,
    Prompt,
    Section,
    SectionRole,
    Step,
)
from voicetech.session import Session, evolve, opened

# Without its circuit: what is believed orders the tests, and no way hangs on it.
RANGE = replace(shipped(), circuit=None)


def ways() -> Iterator[tuple[Section, Step, Way, str]]:
    for section in RANGE.sections:
        if section.role is SectionRole.MAKE_SAFE:
            continue
        for step in section.steps:
            for way in ways_of(section, step):
                for result in way.results:
                    yield section, step, way, result


CASES = {f"{section.id}/{step.id}/{result}": (section, step, way, result) for section, step, way, result in ways()}


def at(section: Section, step: Step, attempt: int) -> Session:
    session = opened(JobOpened("job", RANGE.id, RANGE.revision, RANGE.digest, Channel.CHAT, 0.0))
    for number, wanted in enumerate(each for each in step.when if not each.absent):
        answer = AnswerTaken(number, section.id, step.id, wanted.field, wanted.values[0], unverified=False, at_s=0.0)
        session = evolve(session, answer)
    return evolve(session, StepEntered(section.id, step.id, 0, attempt, 0.0))


def entered(events: list[Event]) -> tuple[str, str]:
    """Return the section and step that is gone to, whatever safety puts in front of it; "" where the job is over."""
    first = next((event for event in events if isinstance(event, (StepDeferred, StepEntered))), None)
    return ("", "") if first is None else (first.section, first.step)


@pytest.mark.parametrize("name", CASES)
def test_each_way_is_the_one_the_dialogue_goes(name: str) -> None:
    section, step, way, result = CASES[name]
    if isinstance(step, Hold):
        assert way == Way(way.results, To.BELOW)
        return
    outcome = outcome_of(step.outcomes, next(iter(step.outcomes), ANY) if result == ANY else result)
    draft = Draft(RANGE, at(section, step, attempt=2), 1.0)
    follow(draft, outcome)
    events = draft.events
    shown = [(event.cause, event.proved) for event in events if isinstance(event, CauseShown)]
    told = [(way.cause, way.proved)] if way.cause else []
    ended = any(isinstance(event, SectionEnded) and event.section == section.id for event in events)
    assert [event.text for event in events if isinstance(event, Remarked)] == ([way.say] if way.say else [])
    assert shown == [*told, *((name, False) for name in way.suspects)]
    excluded = [event.causes for event in events if isinstance(event, CausesExcluded)]
    assert excluded == ([way.excludes] if way.excludes else [])
    assert any(isinstance(event, DangerStopped) for event in events) == (way.to is To.DANGER)
    assert [event.reason for event in events if isinstance(event, HandedOver)] == (
        [way.hand_over] if way.to is To.HAND_OVER else []
    )
    match way.to:
        case To.STEP:
            assert entered(events) == (section.id, way.step)
        case To.BELOW:
            under = {(section.id, each) for each in below(section, step)}
            left = entered(events)[0] != section.id
            assert entered(events) in under or (left and (ended or section.role is not None))
        case To.END:
            assert ended or section.role is not None
            assert (section.id, step.id) not in {(e.section, e.step) for e in events if isinstance(e, StepEntered)}
        case To.TESTS:
            assert RANGE.section(entered(events)[0]).phase is Phase.TEST
        case To.DANGER | To.HAND_OVER:
            assert not any(isinstance(event, StepEntered) for event in events)


@pytest.mark.parametrize("name", [name for name, (_, _, way, _) in CASES.items() if way.repeat])
def test_what_comes_once_more_is_asked_again_the_first_time(name: str) -> None:
    section, step, _, result = CASES[name]
    assert not isinstance(step, Hold)
    draft = Draft(RANGE, at(section, step, attempt=1), 1.0)
    follow(draft, outcome_of(step.outcomes, next(iter(step.outcomes)) if result == ANY else result))
    assert entered(draft.events) == (section.id, step.id)
    assert not any(isinstance(event, (CauseShown, HandedOver)) for event in draft.events)


def named(results: str) -> Way:
    making_safe = RANGE.by_role(SectionRole.MAKE_SAFE)
    found = [way for step in making_safe.steps for way in ways_of(making_safe, step) if results in way.results]
    assert len({(way.to, way.step) for way in found}) == 1 or results == NOT_SHOWN
    return found[0]


def test_a_live_pair_is_asked_about_and_a_second_time_handed_over() -> None:
    talker = Talker()
    talker.say("no", "bake", "go to the bake element", "four wire cord", "plug is out", "one twenty", "yes")
    assert talker.place.endswith("/six-pairs")
    talker.say("all six fifty volts", "yes")
    assert talker.place.endswith(f"/{named(LIVE).step}")
    talker.say("no")
    assert talker.place.endswith("/six-pairs")
    talker.say("all six fifty volts", "yes")
    handed = talker.all_of(HandedOver)
    assert [event.reason for event in handed if isinstance(event, HandedOver)] == [named(STILL_LIVE).hand_over]


def test_a_tester_that_shows_nothing_is_proved_again_before_and_begins_it_all_again_after() -> None:
    making_safe = RANGE.by_role(SectionRole.MAKE_SAFE)
    before, after = (
        next(way for way in ways_of(making_safe, RANGE.step(making_safe.id, name)) if NOT_SHOWN in way.results)
        for name in ("tester-before", "tester-after")
    )
    talker = Talker()
    talker.say("no", "bake", "go to the bake element", "four wire cord", "plug is out", "two volts", "yes")
    assert talker.place.endswith(f"/{before.step}")
    talker.say("one twenty", "yes", "all six zero", "yes", "two volts", "yes")
    assert after.step == making_safe.steps[0].id
    assert talker.place.split("/")[-1] in below(making_safe, None)
    assert not talker.proof_stands()


def condition(field: str, *values: str) -> Condition:
    return Condition(field, values)


def step(name: str, needs: Needs = Needs.ANY, *when: Condition, **next_step: str) -> Instruct:
    outcome = Outcome(next=next_step.get("next"))
    return Instruct(name, Prompt(name, name), needs, (), tuple(when), None, "", {"done": outcome})


def section(*steps: Step) -> Section:
    return replace(RANGE.section("bake"), steps=steps)


def test_steps_with_the_same_conditions_are_passed_together() -> None:
    hot = condition("trips", "hot")
    made = section(
        step("a"), step("b", Needs.ANY, hot), step("c", Needs.ANY, hot, condition("x", "y")), step("d"), step("e")
    )
    a, b, *_ = made.steps
    assert below(made, a) == ("b", "d"), "c has all that b has, so it is not come to past b"
    assert below(made, b) == ("c", "d")
    assert below(made, None) == ("a",)


def test_safety_stands_in_front_wherever_the_appliance_may_be_otherwise() -> None:
    dead, live = Needs.DEAD, Needs.LIVE
    made = section(step("a"), step("b", dead), step("c"), step("d", dead), step("e", live, next="d"))
    assert gated(made) == {"b", "d", "e"}, "d is come to from a live step too"
    plain = section(step("a", dead), step("b"), step("c", dead), step("d", live), step("e", live))
    assert gated(plain) == {"a", "d"}
    assert not gated(RANGE.by_role(SectionRole.MAKE_SAFE))


def test_a_question_changes_nothing_of_how_the_appliance_stands() -> None:
    hot = condition("trips", "hot")
    made = section(step("a", Needs.LIVE, hot), step("b", Needs.LIVE, hot), step("c", Needs.DEAD))
    assert gated(made) == {"a", "c"}, "b is never come to past a"


def test_the_first_ohms_of_a_section_take_nulled_leads() -> None:
    assert first_ohms(RANGE.section("bake")) == "bake-ohms"
    assert first_ohms(RANGE.section("supply")) == "leg-cord"
    assert first_ohms(RANGE.section("touch")) == ""
    assert first_ohms(RANGE.by_role(SectionRole.NULL_LEADS)) == ""


def test_results_that_differ_in_words_alone_are_one_way_on_a_drawing() -> None:
    leads = RANGE.by_role(SectionRole.NULL_LEADS)
    told = ways_of(leads, leads.steps[0])
    assert [way.results for way in told] == [("below", "within"), ("marginal",), ("above", "over_range")]
    assert [way.results for way in without_remarks(told)] == [("below", "within", "marginal"), ("above", "over_range")]


def test_findings_that_are_not_named_are_any_other() -> None:
    supply = RANGE.section("supply")
    idle = RANGE.step("supply", "supply-idle")
    assert any(OTHER in way.results for way in ways_of(supply, idle))


def test_numbers_go_by_the_order_of_the_job() -> None:
    numbers = numbered(RANGE)
    marks = [numbers.of(each) for each in numbers.sections]
    assert marks == [*"ABCD", *map(str, range(1, len(marks) - 3))]
    phases = [list(Phase).index(each.phase) for each in numbers.sections if each.role is None]
    assert phases == sorted(phases)
    assert numbers.step(RANGE.section("bake"), "bake-ohms") == f"{numbers.of(RANGE.section('bake'))}.4"
    assert numbers.asked_at("connection").startswith(numbers.of(RANGE.section("intake")))
    assert isinstance(RANGE, Procedure)
