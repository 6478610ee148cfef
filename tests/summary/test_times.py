"""Seconds worked: pauses, calls and restarts are none of them."""

from tests.journal.examples import closed, opened
from voicetech.events import Channel, Event, JobReopened, Paused, Resumed, StepEntered
from voicetech.summary.records import SectionTime
from voicetech.summary.times import times_of

START = 1_700_000_000.0


def step(section: str, at_s: float) -> StepEntered:
    return StepEntered(section, "any", 0, 1, START + at_s)


def test_time_belongs_to_the_section_whose_step_was_asked() -> None:
    times = times_of([opened("a", START), step("intake", 0), step("intake", 20), step("bake", 30), step("intake", 90)])
    assert times.sections == (SectionTime("intake", 2, 30), SectionTime("bake", 1, 60))
    assert (times.first_at_s, times.last_at_s, times.worked_s) == (START, START + 90, 90)


def test_what_passes_while_nobody_works_belongs_to_nothing() -> None:
    events: list[Event] = [
        opened("a", START),
        step("intake", 0),
        Paused(False, START + 10),
        Resumed(START + 1000),
        step("intake", 1005),
        JobReopened(Channel.CHAT, "the program was started again", START + 5000),
        step("intake", 5000),
        step("bake", 5020),
        closed("repaired", START + 5030),
        JobReopened(Channel.CHAT, "the program was started again", START + 9000),
    ]
    times = times_of(events)
    assert times.worked_s == 10 + 5 + 20 + 10
    assert times.sections == (SectionTime("intake", 1, 35), SectionTime("bake", 1, 10))


def test_a_clock_that_is_set_back_gives_no_time_and_takes_none() -> None:
    times = times_of([opened("a", START), step("intake", 0), step("intake", 50), step("intake", 10), step("bake", 15)])
    assert times.worked_s == 55
    assert times.last_at_s == START + 50


def test_nothing_was_worked_on_without_events() -> None:
    assert times_of([]).worked_s == 0
    assert times_of([]).first_at_s is None
