"""What is read off many networks at once, beside each of them solved alone, on the shipped range."""

import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.diagnosis.range_circuit import circuit, read_steps
from voicetech.diagnosis.predictions import Predictions
from voicetech.diagnosis.shown import WHOLE, Asked, Case, Predicted, read_plainly, shown_together
from voicetech.electrical.appliance import Bridged, Contact, Fault, Setup, Swapped, network_of
from voicetech.electrical.network import NetworkError, solve
from voicetech.electrical.variants import Variants
from voicetech.procedure import Measure
from voicetech.units import Quantity

RANGE = circuit()
STEPS = [step for _, step in read_steps()]
VARIANTS = Variants(RANGE)
PLATES = [
    (),
    (("connection", "cord-3"),),
    (("connection", "hard-wired"), ("plate_volts", "208"), ("sensor_fahrenheit", "350")),
    (("bake_watts", "3400"), ("plate_volts", "208"), ("surface_watts", "1250")),
]
NOTHING = 1e-9

knobs = st.fixed_dictionaries({knob: st.sampled_from(at) for knob, at in RANGE.knobs.items()})
off = st.frozensets(st.sampled_from([part.name for part in RANGE.parts]), max_size=4)
setups = st.builds(
    lambda live, at, taken, hot: Setup(live, tuple(at.items()), taken, hot), st.booleans(), knobs, off, st.booleans()
)
faults = st.lists(st.sampled_from(RANGE.faults), max_size=3, unique_by=lambda fault: fault.id).map(tuple)
cases = st.tuples(st.sampled_from(PLATES), faults)


def alone(step: Measure, setup: Setup, case: Case) -> tuple[Predicted, ...]:
    plate, wrong = case
    return read_plainly(solve(network_of(RANGE, dict(plate), wrong, setup)), step)


def check(step: Measure, setup: Setup, asked: list[Case], variants: Variants = VARIANTS) -> None:
    (shown,) = shown_together(RANGE, variants, [Asked(step, setup, tuple(asked))])
    for number, case in enumerate(asked):
        for one, other in zip(shown.predicted(number), alone(step, setup, case), strict=True):
            assert one.value == pytest.approx(other.value, rel=1e-9, abs=NOTHING, nan_ok=True), (step.id, setup, case)
            assert one.loose == other.loose


@pytest.mark.parametrize("step", STEPS, ids=lambda step: step.id)
def test_each_fault_reads_at_each_step_as_it_does_alone(step: Measure) -> None:
    assert step.setup is not None
    every: list[Case] = [WHOLE, *(((), (fault,)) for fault in RANGE.faults)]
    check(step, step.setup, every)


@settings(deadline=None, max_examples=150)
@given(st.sampled_from(STEPS), setups, st.lists(cases, min_size=1, max_size=6, unique_by=str))
def test_any_faults_in_any_set_up_read_as_they_do_alone(step: Measure, setup: Setup, asked: list[Case]) -> None:
    if step.quantity is Quantity.CURRENT and step.through in setup.off:
        return
    if setup.live and step.quantity in (Quantity.RESISTANCE, Quantity.CONTINUITY):
        return
    check(step, setup, asked)


def test_three_paths_of_one_element_are_solved_by_themselves() -> None:
    leaks = tuple(RANGE.fault(f"bake-to-sheath-{place}") for place in ("first", "middle", "second"))
    step = next(step for step in STEPS if step.id == "bake-sheath")
    assert step.setup is not None
    assert VARIANTS.variant((), leaks, VARIANTS.stand(step.setup)) is None
    check(step, step.setup, [WHOLE, ((), leaks), ((), leaks[:2])])


def test_a_fault_that_the_circuit_does_not_list() -> None:
    stray = Fault("stray", "", "stray", 1.0, (Bridged("fuse-1", "frame", 5.0),))
    for step in STEPS[:20]:
        assert step.setup is not None
        check(step, step.setup, [((), (stray,)), ((), (stray, RANGE.faults[0]))])


def test_exchanged_wires() -> None:
    first, second = (part.name for part in RANGE.parts if isinstance(part, Contact) and part.knob == "oven")
    swapped = Fault("swapped", "", "swapped", 1.0, (Swapped(first, second),))
    listed = replace(RANGE, faults=(*RANGE.faults, swapped), memory={})
    for step in STEPS:
        assert step.setup is not None
        check(step, step.setup, [((), (swapped,)), ((), (swapped, RANGE.fault("bake-relay-welded")))], Variants(listed))


def test_ohms_of_a_live_circuit_are_refused() -> None:
    step = next(step for step in STEPS if step.quantity is Quantity.RESISTANCE)
    with pytest.raises(NetworkError, match="live circuit"):
        shown_together(RANGE, VARIANTS, [Asked(step, Setup(live=True), (WHOLE,))])


def test_what_is_asked_for_together_is_what_is_asked_for_one_by_one() -> None:
    plate = (("connection", "cord-4"), ("plate_volts", "208"))
    sets = [(), *((fault,) for fault in RANGE.faults[::5]), tuple(RANGE.faults[3:5])]
    together, singly = Predictions(RANGE), Predictions(RANGE)
    together.foresee(read_steps(), sets, plate)
    for section, step in read_steps():
        for wrong in sets:
            one, other = (each.of_step(section, step, wrong, plate) for each in (together, singly))
            assert one == other or any(math.isnan(each.value) for each in one)
