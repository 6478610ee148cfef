"""Ways to break the program, each of which a proof of safety has to find; applied to a running program and taken back.

A proof of dead that outlives what ends it is a mistake of the program, not of a procedure: the format has no words for
it.
"""

from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal

import pytest

from voicetech.dialogue import answering, danger, decide, draft, flow, making_safe, measuring, outcomes, reply, requests
from voicetech.events import (
    DangerStopped,
    DeadProved,
    Event,
    HandedOver,
    Paused,
    PowerRestored,
    ProofEnded,
    ReadingTaken,
    StepDone,
)
from voicetech.language.meaning import AnswerSaid, DangerSaid, Meaning
from voicetech.procedure import Hold, Needs, SafetyRole, Step
from voicetech.session import Power, Safety
from voicetech.turn import Turn

Break = Callable[[pytest.MonkeyPatch], None]


def never(*_given: object, **_named: object) -> None:
    return None


def without(lost: Callable[[Event], bool]) -> Callable[[draft.Draft, Event], None]:
    """Return a Draft.add that loses some events."""
    original = draft.Draft.add

    def add(self: draft.Draft, event: Event) -> None:
        if not lost(event):
            original(self, event)

    return add


def losing(patch: pytest.MonkeyPatch, lost: Callable[[Event], bool]) -> None:
    patch.setattr(draft.Draft, "add", without(lost))


def outliving(patch: pytest.MonkeyPatch, *reasons: str) -> None:
    """Let a proof of dead stand where it ends for one of these reasons."""
    losing(patch, lambda event: isinstance(event, ProofEnded) and any(r in event.reason for r in reasons))


def opening_the_gate(patch: pytest.MonkeyPatch, needs: Needs) -> None:
    """Let steps with this need in without anything in front of them."""
    original = flow.what_is_missing
    patch.setattr(flow, "what_is_missing", lambda given, step: None if step.needs is needs else original(given, step))


# --- what a proof of dead outlives


def outlives_a_pause(patch: pytest.MonkeyPatch) -> None:
    outliving(patch, "paused")


def outlives_leaving_and_coming_back(patch: pytest.MonkeyPatch) -> None:
    outliving(patch, "left the appliance", "paused")


def outlives_a_restart(patch: pytest.MonkeyPatch) -> None:
    outliving(patch, "started again")


def outlives_another_device(patch: pytest.MonkeyPatch) -> None:
    outliving(patch, "another device")


def outlives_an_undo(patch: pytest.MonkeyPatch) -> None:
    outliving(patch, "an undo past it")


def outlives_danger(patch: pytest.MonkeyPatch) -> None:
    outliving(patch, "danger")


def outlives_its_time(patch: pytest.MonkeyPatch) -> None:
    patch.setattr(draft.Draft, "proof_s", property(lambda _self: 1e9))


def outlives_its_time_twice(patch: pytest.MonkeyPatch) -> None:
    patch.setattr(draft.Draft, "proof_s", property(lambda _self: 3600.0))


def outlives_a_clock_set_back(patch: pytest.MonkeyPatch) -> None:
    patch.setattr(decide, "_out_of_time", lambda given: _too_old(given))
    patch.setattr(draft.Draft, "proof_stands", property(lambda self: _proved(self) and not _too_old(self)))


def _too_old(given: draft.Draft) -> bool:
    began_at_s = given.session.safety.began_at_s
    return began_at_s is not None and given.at_s - began_at_s >= given.proof_s


def _proved(given: draft.Draft) -> bool:
    return given.session.safety.proved_at_s is not None


def outlives_power_that_is_asked_for(patch: pytest.MonkeyPatch) -> None:
    losing(patch, lambda event: isinstance(event, PowerRestored) and "asks for power" in event.reason)


def outlives_power_that_is_told(patch: pytest.MonkeyPatch) -> None:
    losing(patch, lambda event: isinstance(event, PowerRestored) and "said so" in event.reason)


def outlives_everything(patch: pytest.MonkeyPatch) -> None:
    losing(patch, lambda event: isinstance(event, ProofEnded))


def outlives_power(patch: pytest.MonkeyPatch) -> None:
    losing(patch, lambda event: isinstance(event, PowerRestored))


def ages_from_its_end(patch: pytest.MonkeyPatch) -> None:
    """Let a proof of dead count from when it was complete, not from when the tester was proved."""
    from voicetech import session

    original = session._safety_after

    def after(safety: Safety, event: Event) -> Safety:
        found = original(safety, event)  # type: ignore[arg-type]  # handed on as it came
        return replace(found, began_at_s=event.at_s) if isinstance(event, DeadProved) else found

    patch.setattr(session, "_safety_after", after)


# --- the gate


def the_gate_is_open(patch: pytest.MonkeyPatch) -> None:
    patch.setattr(flow, "what_is_missing", never)


def the_gate_is_open_to_dead_steps(patch: pytest.MonkeyPatch) -> None:
    opening_the_gate(patch, Needs.DEAD)


def the_gate_is_open_to_live_steps(patch: pytest.MonkeyPatch) -> None:
    opening_the_gate(patch, Needs.LIVE)


def the_gate_is_open_to_powered_steps(patch: pytest.MonkeyPatch) -> None:
    opening_the_gate(patch, Needs.POWERED)


def power_is_enough_for_live_tests(patch: pytest.MonkeyPatch) -> None:
    original = flow.what_is_missing

    def missing(given: draft.Draft, step: Step) -> str | None:
        on = given.session.safety.power is Power.ON
        return None if step.needs is Needs.LIVE and on else original(given, step)

    patch.setattr(flow, "what_is_missing", missing)


def power_comes_on_with_covers_open(patch: pytest.MonkeyPatch) -> None:
    original = flow.what_is_missing

    def missing(given: draft.Draft, step: Step) -> str | None:
        found = original(given, step)
        return "powered" if step.needs is Needs.POWERED and found == "dead" else found

    patch.setattr(flow, "what_is_missing", missing)


def going_to_a_test_passes_the_gate(patch: pytest.MonkeyPatch) -> None:
    from voicetech.events import StepEntered

    def start_over(given: draft.Draft, section: object) -> None:
        first = section.steps[0]  # type: ignore[attr-defined]  # a section
        given.add(StepEntered(section.id, first.id, 0, 1, given.at_s))  # type: ignore[attr-defined]

    patch.setattr(requests, "start_over", start_over)


def an_undo_passes_the_gate(patch: pytest.MonkeyPatch) -> None:
    from voicetech.events import StepEntered

    def enter(given: draft.Draft, cursor: object) -> None:
        given.add(StepEntered(cursor.section, cursor.step, cursor.pair, cursor.attempt, given.at_s))  # type: ignore[attr-defined]

    patch.setattr(requests, "enter", enter)


def the_next_step_passes_the_gate(patch: pytest.MonkeyPatch) -> None:
    from voicetech.events import StepEntered

    original = flow.enter

    def enter(given: draft.Draft, cursor: object) -> None:
        same = given.session.at is not None and given.session.at.section == cursor.section  # type: ignore[attr-defined]
        role = given.procedure.section(cursor.section).role  # type: ignore[attr-defined]
        if same and role is None:
            given.add(StepEntered(cursor.section, cursor.step, cursor.pair, cursor.attempt, given.at_s))  # type: ignore[attr-defined]
        else:
            original(given, cursor)  # type: ignore[arg-type]  # handed on as it came

    patch.setattr(flow, "enter", enter)


# --- making safe


def numbers_need_no_yes(patch: pytest.MonkeyPatch) -> None:
    patch.setattr(measuring, "is_proving", lambda _step: False)


def a_live_pair_counts_as_dead(patch: pytest.MonkeyPatch) -> None:
    patch.setattr(making_safe, "_all_pairs_dead", lambda _draft: True)


def a_volt_too_many_is_dead(patch: pytest.MonkeyPatch) -> None:
    def after_pair(given: draft.Draft, step: object, label: str, value: Decimal | None, _verdict: str) -> None:
        from voicetech.events import PairReadDead

        if getattr(step, "role", None) is SafetyRole.DEAD_PAIRS and value is not None:
            given.add(PairReadDead(label, value, given.at_s))

    patch.setattr(measuring, "after_pair", after_pair)


def the_tester_need_not_be_proved_again(patch: pytest.MonkeyPatch) -> None:
    def after(given: draft.Draft) -> None:
        given.add(DeadProved(given.at_s))
        flow.end_section(given, given.section, "done")

    patch.setattr(making_safe, "_after_dead_pairs", after)


def one_pair_is_enough(patch: pytest.MonkeyPatch) -> None:
    def all_dead(given: draft.Draft) -> bool:
        return given.session.safety.tester_before and bool(given.session.safety.dead_pairs)

    patch.setattr(making_safe, "_all_pairs_dead", all_dead)


def any_tester_will_do(patch: pytest.MonkeyPatch) -> None:
    original = making_safe.after_proving

    def after(given: draft.Draft, step: object) -> None:
        role = getattr(step, "role", None)
        if role in (SafetyRole.TESTER_BEFORE, SafetyRole.TESTER_AFTER):
            at = given.cursor
            record = tuple(
                replace(taken, verdict="within") if isinstance(taken, ReadingTaken) and taken.step == at.step else taken
                for taken in given.session.record
            )
            given.session = replace(given.session, record=record)
        original(given, step)  # type: ignore[arg-type]  # handed on as it came

    patch.setattr(measuring, "after_proving", after)


def holds_can_be_skipped(patch: pytest.MonkeyPatch) -> None:
    original = requests.skip

    def skip(given: draft.Draft, said: object) -> None:
        if given.step.role in (SafetyRole.ISOLATE_PLUG, SafetyRole.ISOLATE_LOCKOUT):
            requests.skipped(given, "not fitted")
        else:
            original(given, said)  # type: ignore[arg-type]  # handed on as it came

    patch.setattr(requests, "skip", skip)


def any_words_end_a_hold(patch: pytest.MonkeyPatch) -> None:
    def hold(given: draft.Draft, step: Hold, _meaning: Meaning) -> None:
        given.add(StepDone(given.seq, given.cursor.section, step.id, "all right", given.at_s))
        making_safe.after_hold(given, step)
        flow.go_on(given, None)

    patch.setattr(answering, "_hold", hold)


def a_hold_that_is_said_is_not_taken_down(patch: pytest.MonkeyPatch) -> None:
    patch.setattr(answering, "after_hold", never)


# --- danger, and what stops


def danger_is_only_noted(patch: pytest.MonkeyPatch) -> None:
    losing(patch, lambda event: isinstance(event, DangerStopped))


def danger_waits_for(patch: pytest.MonkeyPatch, turn: Turn) -> None:
    original = danger.danger_said

    def said(given: draft.Draft, what: DangerSaid, whole: str) -> None:
        if given.session.turn is not turn:
            original(given, what, whole)

    patch.setattr(decide, "danger_said", said)


def danger_waits_for_the_end_of_a_pause(patch: pytest.MonkeyPatch) -> None:
    danger_waits_for(patch, Turn.PAUSED)


def danger_waits_for_the_end_of_a_call(patch: pytest.MonkeyPatch) -> None:
    danger_waits_for(patch, Turn.ON_CALL)


def danger_waits_for_the_probes(patch: pytest.MonkeyPatch) -> None:
    danger_waits_for(patch, Turn.PROBES_ON)


def danger_waits_for_a_yes(patch: pytest.MonkeyPatch) -> None:
    danger_waits_for(patch, Turn.CONFIRMING)


def danger_waits_for_a_reason(patch: pytest.MonkeyPatch) -> None:
    danger_waits_for(patch, Turn.REASON)


def danger_of_the_past_is_passed_over(patch: pytest.MonkeyPatch) -> None:
    original = danger.danger_said

    def said(given: draft.Draft, what: DangerSaid, whole: str) -> None:
        if what.present:
            original(given, what, whole)

    patch.setattr(decide, "danger_said", said)


def a_yes_ends_a_stop(patch: pytest.MonkeyPatch) -> None:
    def stopped(given: draft.Draft, meaning: Meaning | None) -> None:
        from voicetech.events import StopCleared

        if isinstance(meaning, AnswerSaid) and meaning.yes:
            given.add(StopCleared(given.at_s))

    patch.setattr(decide, "while_stopped", stopped)


def anything_ends_a_doubt(patch: pytest.MonkeyPatch) -> None:
    from voicetech.events import DangerDenied

    def doubted(given: draft.Draft, _meaning: Meaning | None) -> None:
        given.add(DangerDenied(given.at_s))
        flow.reenter(given)

    patch.setattr(decide, "while_doubted", doubted)


def a_hand_over_is_only_said(patch: pytest.MonkeyPatch) -> None:
    losing(patch, lambda event: isinstance(event, HandedOver))


def a_hand_over_is_passed_by(patch: pytest.MonkeyPatch) -> None:
    original = outcomes.follow
    patch.setattr(answering, "follow", lambda given, outcome: original(given, replace(outcome, hand_over=None)))


def work_goes_on_after_a_hand_over(patch: pytest.MonkeyPatch) -> None:
    patch.setattr(decide, "_while_handed_over", lambda given, _meaning: _asked_again(given))


def _asked_again(given: draft.Draft) -> None:
    given.session = replace(given.session, turn=Turn.ASKING)
    flow.reenter(given)


def a_pause_is_only_said(patch: pytest.MonkeyPatch) -> None:
    losing(patch, lambda event: isinstance(event, (Paused, ProofEnded)))


def warnings_are_left_out(patch: pytest.MonkeyPatch) -> None:
    patch.setattr(reply, "_cautions", lambda *_given: ())


OUTLIVING: tuple[Break, ...] = (
    outlives_a_pause,
    outlives_leaving_and_coming_back,
    outlives_a_restart,
    outlives_another_device,
    outlives_an_undo,
    outlives_danger,
    outlives_its_time,
    outlives_its_time_twice,
    outlives_a_clock_set_back,
    outlives_power_that_is_asked_for,
    outlives_power_that_is_told,
    outlives_everything,
    outlives_power,
    ages_from_its_end,
)
"""What a proof of dead outlives that it must not."""
BREAKAGES: tuple[Break, ...] = (
    *OUTLIVING,
    the_gate_is_open,
    the_gate_is_open_to_dead_steps,
    the_gate_is_open_to_live_steps,
    the_gate_is_open_to_powered_steps,
    power_is_enough_for_live_tests,
    power_comes_on_with_covers_open,
    going_to_a_test_passes_the_gate,
    an_undo_passes_the_gate,
    the_next_step_passes_the_gate,
    numbers_need_no_yes,
    a_live_pair_counts_as_dead,
    a_volt_too_many_is_dead,
    the_tester_need_not_be_proved_again,
    one_pair_is_enough,
    any_tester_will_do,
    holds_can_be_skipped,
    any_words_end_a_hold,
    a_hold_that_is_said_is_not_taken_down,
    danger_is_only_noted,
    danger_waits_for_the_end_of_a_pause,
    danger_waits_for_the_end_of_a_call,
    danger_waits_for_the_probes,
    danger_waits_for_a_yes,
    danger_waits_for_a_reason,
    danger_of_the_past_is_passed_over,
    a_yes_ends_a_stop,
    anything_ends_a_doubt,
    a_hand_over_is_only_said,
    a_hand_over_is_passed_by,
    work_goes_on_after_a_hand_over,
    a_pause_is_only_said,
    warnings_are_left_out,
)
"""Every way to break the program."""
