"""The range's circuit, healthy and with every fault, beside ngspice: every reading that a fault moves.

Agreement within 0.1 percent is asked for.
"""

import shutil
from dataclasses import replace

import pytest

from tests.diagnosis.range_circuit import circuit, predictions, read_steps
from tests.electrical.spice import spice_volts_of
from voicetech.electrical.appliance import network_of
from voicetech.electrical.network import Network, Source, solve
from voicetech.procedure import Measure
from voicetech.units import Quantity

pytestmark = pytest.mark.skipif(
    shutil.which("ngspice") is None, reason="ngspice is not installed (on Debian: apt install ngspice)"
)
REL = 0.001
NOTHING_V = 2e-3
"""Joints of a few milliohms: ngspice's own rounding shows below this (see test_network_against_ngspice)."""
OHMMETER_OHM = 100.0
Case = tuple[str, Network, list[tuple[str, str]]]


def cases_of(section: str, step: Measure, faults: tuple[str, ...]) -> list[Case]:
    """Return the networks in which a step's pairs are read as volts: with its sources, or with an ohmmeter's."""
    assert step.setup is not None
    network = network_of(circuit(), {}, [circuit().fault(name) for name in faults], step.setup)
    name = f"{section}/{step.id} with {', '.join(faults) or 'nothing wrong'}"
    pairs = [(pair.first, pair.second) for pair in step.pairs]
    if step.quantity is Quantity.VOLTAGE:
        return [(name, network, pairs)]
    return [
        (name, replace(network, sources=(Source("ohmmeter", first, second, 1.0, OHMMETER_OHM),)), [(first, second)])
        for first, second in pairs
    ]


def all_cases() -> list[Case]:
    found: list[Case] = []
    for section, step in read_steps():
        found += cases_of(section, step, ())
        whole = predictions().of_step(section, step, (), ())
        for fault in circuit().faults:
            if predictions().of_step(section, step, (fault,), ()) != whole:
                found += cases_of(section, step, (fault.id,))
    return found


def test_every_reading_of_the_range_agrees_with_ngspice() -> None:
    cases = all_cases()
    assert len(cases) > 200
    shown = spice_volts_of([(network, pairs) for _, network, pairs in cases])
    for (name, network, pairs), there in zip(cases, shown, strict=True):
        solved = solve(network)
        for (first, second), volts in zip(pairs, there, strict=True):
            here = solved.volts(first, second)
            assert abs(here - volts) <= max(REL * abs(volts), NOTHING_V), f"{name}, {first} to {second}: {here} {volts}"
