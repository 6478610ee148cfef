"""What made a part fail is looked for once the part is found, told beside it, and mended with it."""

from functools import cache

from tests.dialogue.talker import Talker
from voicetech.authoring.procedure_files import load_shipped
from voicetech.procedure import Phase, Procedure
from voicetech.turn import Turn

AT_INTAKE = {
    "complaint": "no heat",
    "control": "a timer",
    "onset": "at once",
    "plate-volts": "two forty",
    "plate-watts": "later",
    "model": "later",
    "serial": "later",
    "home": "house",
    "connection": "four wire cord",
    "history": "none of these",
    "breaker-kind": "two pole",
    "breaker-tripped": "it's on",
}


@cache
def dryer() -> Procedure:
    return load_shipped("electric-dryer-no-heat")


def at_the_cut_out() -> Talker:
    """Return a job whose open cut-out has just been measured the last time."""
    talker = Talker(dryer())
    while talker.procedure.section(talker.place.split("/")[0]).phase is Phase.INTAKE:
        talker.say(AT_INTAKE.get(talker.place.split("/")[1], "no"))
    talker.say("go to the cut out")
    talker.make_safe()
    assert talker.place == "cut-out/cut-out-look"
    talker.say("looks good", "point two")
    talker.say("open", "open", "open")
    return talker


def test_tests_go_on_with_what_may_have_made_it_fail() -> None:
    talker = at_the_cut_out()
    assert talker.session.proved == ("cut-out-open",)
    assert talker.place == "cut-out/cut-out-back"
    talker.say("done")
    assert talker.place == "airflow/screen-look"


def test_once_it_is_found_the_job_is_decided_and_both_are_told() -> None:
    talker = at_the_cut_out()
    talker.say("done", "looks good")
    assert "made the other one fail" in talker.say("it's crushed")
    assert talker.session.proved == ("cut-out-open", "vent-blocked")
    assert talker.place == "decide/state-it"
    assert "cut-out" in talker.last.speak
    assert "vent" in talker.say("done")
    assert talker.place == "decide/state-too"
    # The reason is asked of what the other came of.
    assert "nest" in talker.say("done")


def test_both_are_mended() -> None:
    talker = at_the_cut_out()
    talker.say("done", "looks good", "it's crushed", "done", "done", "a nest in it", "repair")
    assert talker.place == "repair/mend"
    assert "cut-out" in talker.last.speak
    assert "duct" in talker.say("done")
    assert talker.place == "repair/mend-too"


def test_where_nothing_upstream_is_wrong_one_fault_is_decided() -> None:
    talker = at_the_cut_out()
    talker.say("done", "looks good", "looks good", "looks good", "looks good")
    assert talker.place == "heater/heater-look"
    talker.say("looks good", "done", "eleven ohms", "open", "open", "done")
    assert talker.place == "decide/state-it"
    assert talker.session.proved == ("cut-out-open",)
    talker.say("done")
    assert talker.place == "decide/why-it-failed"


def test_what_is_skipped_upstream_is_passed_by() -> None:
    talker = at_the_cut_out()
    talker.say("done", "skip because the duct is in the wall")
    assert talker.session.turn is Turn.ASKING
    assert talker.place != "airflow/screen-look"
