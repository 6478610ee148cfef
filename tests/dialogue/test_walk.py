"""The safety proof: nothing reachable breaks a rule, and a broken program is found out with the path in words.

The small range is walked whole here; `python -m tests.dialogue.prove` walks the shipped procedure whole.
"""

from collections.abc import Callable
from decimal import Decimal
from functools import cache

import pytest

from tests.dialogue.small_range import small_range
from tests.dialogue.talker import lexicon
from voicetech.dialogue import danger, decide, draft, flow, making_safe, measuring, requests
from tests.dialogue.full_walk import Walked, walk
from voicetech.events import DangerStopped, Event, ProofEnded
from voicetech.language.meaning import Meaning, Question
from voicetech.language.understand import understand
from voicetech.procedure import SafetyRole


@cache
def understood(text: str, question: Question) -> Meaning:
    return understand(text, question, lexicon())


def walked() -> Walked:
    return walk(small_range(), understood)


def test_nothing_reachable_breaks_a_rule(capsys: pytest.CaptureFixture[str]) -> None:
    found = walked()
    with capsys.disabled():
        print(f"\n  small range: {found.states} states, {found.moves} moves")  # noqa: T201  the count is the proof's size
    assert found.broken is None, "\n".join((str(found.broken), *found.path))
    assert found.states > 1000
    every_step = {(section.id, step.id) for section in small_range().sections for step in section.steps}
    unheld = {("make-safe", "how-many-breakers"), ("make-safe", "lock-out-both")}
    assert every_step - found.steps_asked <= unheld


def never(*_given: object, **_named: object) -> None:
    return None


def without(kind: type[Event]) -> Callable[[draft.Draft, Event], None]:
    """Return a Draft.add that loses events of one kind."""
    original = draft.Draft.add

    def add(self: draft.Draft, event: Event) -> None:
        if not isinstance(event, kind):
            original(self, event)

    return add


Break = Callable[[pytest.MonkeyPatch], None]


def the_gate_is_open(patch: pytest.MonkeyPatch) -> None:
    patch.setattr(flow, "what_is_missing", never)


def numbers_need_no_yes(patch: pytest.MonkeyPatch) -> None:
    patch.setattr(measuring, "is_proving", lambda _step: False)


def a_pause_keeps_the_proof(patch: pytest.MonkeyPatch) -> None:
    patch.setattr(requests, "end_proof", never)
    patch.setattr(decide, "end_proof", never)


def a_proof_never_grows_old(patch: pytest.MonkeyPatch) -> None:
    patch.setattr(draft.Draft, "proof_s", property(lambda _self: 1e9))


def a_live_pair_counts_as_dead(patch: pytest.MonkeyPatch) -> None:
    patch.setattr(making_safe, "_all_pairs_dead", lambda _draft: True)


def power_ends_nothing(patch: pytest.MonkeyPatch) -> None:
    from voicetech.events import PowerRestored

    patch.setattr(draft.Draft, "add", without(PowerRestored))


def an_ended_proof_stands(patch: pytest.MonkeyPatch) -> None:
    patch.setattr(draft.Draft, "add", without(ProofEnded))


def danger_is_only_noted(patch: pytest.MonkeyPatch) -> None:
    patch.setattr(draft.Draft, "add", without(DangerStopped))


def a_yes_ends_a_stop(patch: pytest.MonkeyPatch) -> None:
    patch.setattr(danger, "while_stopped", danger.while_doubted)


def holds_can_be_skipped(patch: pytest.MonkeyPatch) -> None:
    original = requests.skip

    def skip(given: draft.Draft, said: object) -> None:
        if given.step.role is SafetyRole.ISOLATE_PLUG:
            requests.skipped(given, "not fitted")
        else:
            original(given, said)  # type: ignore[arg-type]  # handed on as it came

    patch.setattr(requests, "skip", skip)


def the_tester_need_not_be_proved_again(patch: pytest.MonkeyPatch) -> None:
    def after(given: draft.Draft) -> None:
        from voicetech.events import DeadProved

        given.add(DeadProved(given.at_s))
        flow.end_section(given, given.section, "done")

    patch.setattr(making_safe, "_after_dead_pairs", after)


def a_volt_too_many_is_dead(patch: pytest.MonkeyPatch) -> None:
    def after_pair(given: draft.Draft, step: object, label: str, value: Decimal | None, _verdict: str) -> None:
        from voicetech.events import PairReadDead

        if getattr(step, "role", None) is SafetyRole.DEAD_PAIRS and value is not None:
            given.add(PairReadDead(label, value, given.at_s))

    patch.setattr(measuring, "after_pair", after_pair)


@pytest.mark.parametrize(
    ("broken", "told"),
    [
        (the_gate_is_open, "without"),
        (numbers_need_no_yes, "without a yes"),
        (a_pause_keeps_the_proof, "without"),
        (a_proof_never_grows_old, "without a proof of dead"),
        (a_live_pair_counts_as_dead, "without a proof of dead"),
        (an_ended_proof_stands, "without"),
        (power_ends_nothing, "without"),
        (danger_is_only_noted, "did not stop"),
        (holds_can_be_skipped, "was skipped"),
        (the_tester_need_not_be_proved_again, "without a proof of dead"),
        (a_volt_too_many_is_dead, "without a proof of dead"),
    ],
)
def test_a_broken_program_is_found_out_with_the_path_in_words(
    broken: Break, told: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    broken(monkeypatch)
    found = walked()
    assert found.broken is not None
    assert told in found.broken
    assert found.path[0].startswith("the job is opened")
    assert " -> " in found.path[-1]


def test_the_walk_gives_up_rather_than_run_for_ever() -> None:
    with pytest.raises(RuntimeError, match="more than 50 states"):
        walk(small_range(), understood, most_states=50)
