"""From readings to what is believed: every fault of the range from its own readings, and what readings cannot tell.

The weights are judgement; what is checked is that the arithmetic follows the readings.
"""

import math

import pytest

from tests.diagnosis.range_circuit import circuit, predictions, read_steps
from tests.dialogue.talker import shipped
from voicetech.diagnosis.evidence import Evidence, Looked, Read, Told
from voicetech.diagnosis.hypotheses import Hypothesis, Weigher, believed, priors
from voicetech.diagnosis.predictions import Plate
from voicetech.electrical.appliance import Fault
from voicetech.procedure import Measure

ALIKE = {
    # Only a look tells a damaged element from a sound one, and a blister is not measured.
    "surface-blistered",
    "bake-blistered",
    "broil-blistered",
    "bake-split",
}


def plate_of(fault: Fault) -> Plate:
    """Return the answers without which the fault could not be, where the circuit depends on them."""
    return tuple((field, answers[0]) for field, answers in fault.only.items() if field in circuit().plate_values)


def readings_with(faults: tuple[Fault, ...], plate: Plate = ()) -> list[Read]:
    found = []
    for section, step in read_steps():
        for number, predicted in enumerate(predictions().of_step(section, step, faults, plate)):
            value = None if predicted.value == math.inf else predicted.value
            found.append(Read(section, step.id, number, value, None))
    return found


def looks_with(faults: tuple[Fault, ...]) -> list[Looked]:
    parts = {part for fault in circuit().faults for part in fault.seen}
    return [Looked(part, any(part in fault.seen for fault in faults)) for part in sorted(parts)]


def told_with(faults: tuple[Fault, ...]) -> list[Told]:
    return [Told(field, answers[0]) for fault in faults for field, answers in fault.told.items()]


def belief(evidence: Evidence, listed: dict[str, float] | None = None, plate: Plate = ()) -> tuple[Hypothesis, ...]:
    causes = listed if listed is not None else {fault.cause: 1.0 for fault in circuit().faults}
    prior = priors(circuit(), causes)
    weigher = Weigher(shipped(), circuit(), predictions(), plate)
    return believed(circuit(), weigher, evidence, prior, lambda fault: not fault.can_be(dict(plate)))


def share_of(cause: str, hypotheses: tuple[Hypothesis, ...]) -> float:
    return sum(h.share for h in hypotheses if any(fault.cause == cause for fault in h.faults))


def read_alike(fault: Fault) -> list[str]:
    """Return the causes whose faults read and look just like this one."""
    return [
        other.cause
        for other in circuit().faults
        if (other.seen, dict(other.told)) == (fault.seen, dict(fault.told))
        and readings_with((other,), plate_of(fault)) == readings_with((fault,), plate_of(fault))
    ]


@pytest.mark.parametrize("fault", circuit().faults, ids=lambda fault: fault.id)
def test_a_fault_is_believed_from_its_own_readings_looks_and_answers(fault: Fault) -> None:
    plate = plate_of(fault)
    evidence: Evidence = (*readings_with((fault,), plate), *looks_with((fault,)), *told_with((fault,)))
    found = belief(evidence, plate=plate)
    together = sum(share_of(cause, found) for cause in {fault.cause, *read_alike(fault)})
    hidden = all(effect.__class__.__name__ == "Opened" and getattr(effect, "hot", False) for effect in fault.effects)
    if hidden:
        # What opens only when hot reads sound cold; it stays possible, and nothing more.
        assert share_of(fault.cause, found) > 0
        return
    assert together > 0.5, [([f.id for f in h.faults], round(h.share, 3)) for h in found[:4]]


def test_sound_readings_speak_for_nothing_wrong() -> None:
    found = belief((*readings_with(()), *looks_with(())))
    unmeasurable = {"bake-damaged", "broil-damaged", "surface-element-damaged"}
    assert found[0].faults == () or {fault.cause for fault in found[0].faults} & unmeasurable
    assert share_of("bake-open", found) < 0.2


def test_shares_add_up_to_one_and_are_in_order() -> None:
    found = belief((Looked("bake element", fault=True),))
    assert sum(h.share for h in found) == pytest.approx(1.0)
    assert [h.share for h in found] == sorted((h.share for h in found), reverse=True)


def test_the_order_of_the_evidence_does_not_matter() -> None:
    fault = circuit().fault("pole-2-open")
    evidence = tuple(readings_with((fault,)))
    one, other = belief(evidence), belief(tuple(reversed(evidence)))
    assert [h.faults for h in one[:5]] == [h.faults for h in other[:5]]
    assert one[0].share == pytest.approx(other[0].share)


def test_one_slip_does_not_hang_a_sound_part() -> None:
    """A single open reading among sound ones may be a bad contact of the probe; two are not."""
    sound = readings_with(())
    slips = [read if read.step != "bake-ohms" else Read("bake", "bake-ohms", 0, None, None) for read in sound]
    once = share_of("bake-open", belief(tuple(slips)))
    both = [read if read.step not in ("bake-ohms", "bake-bare") else replace_open(read) for read in sound]
    twice = share_of("bake-open", belief(tuple(both)))
    assert once < twice
    assert twice > 20 * once


def replace_open(read: Read) -> Read:
    return Read(read.section, read.step, read.pair, None, None)


def test_two_faults_are_believed_where_one_does_not_explain_the_readings() -> None:
    pair = (circuit().fault("bake-open"), circuit().fault("broil-open"))
    found = belief(tuple(readings_with(pair)))
    assert {fault.cause for fault in found[0].faults} == {"bake-open", "broil-open"}


def test_a_complaint_lists_its_causes_and_others_stay_possible() -> None:
    found = belief((), {"bake-open": 10.0})
    assert share_of("bake-open", found) > 0.5
    assert share_of("broil-open", found) > 0.0


def test_what_a_fault_moves_depends_on_the_parts_that_are_there() -> None:
    """With three wires the neutral is the frame's ground: lost, it puts the frame at the first leg's voltage."""
    step = shipped().step("ground", "frame-volts")
    assert isinstance(step, Measure)
    lost = (circuit().fault("branch-neutral-open"),)

    def l1_to_frame(faults: tuple[Fault, ...], connection: str) -> float:
        (predicted,) = predictions().of_step("ground", step, faults, (("connection", connection),))
        return predicted.value

    assert l1_to_frame((), "cord-3") == pytest.approx(l1_to_frame((), "cord-4"), rel=0.01)
    assert l1_to_frame(lost, "cord-4") == pytest.approx(120, rel=0.02)
    assert l1_to_frame(lost, "cord-3") < 30
