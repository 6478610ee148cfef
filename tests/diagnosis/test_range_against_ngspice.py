"""The range's circuit, healthy and with every fault, beside ngspice: every reading that a fault moves.

On every connection: with three wires the frame hangs on the neutral, and hard wired there is no plug to pull.

Agreement within 0.1 percent is asked for.
"""

import shutil
from dataclasses import replace

import pytest

from tests.diagnosis.range_circuit import circuit, predictions, read_steps
from tests.dialogue.talker import shipped
from tests.electrical.spice import spice_volts_of
from voicetech.diagnosis.predictions import Predicted
from voicetech.electrical.appliance import Fault, network_of
from voicetech.electrical.network import Network, Source, solve
from voicetech.procedure import Measure
from voicetech.rehearsal.appliance_at_hand import connections, possible_faults
from voicetech.units import Quantity

pytestmark = pytest.mark.skipif(
    shutil.which("ngspice") is None, reason="ngspice is not installed (on Debian: apt install ngspice)"
)
REL = 0.001
NOTHING_V = 2e-3
"""Joints of a few milliohms: ngspice's own rounding shows below this (see test_network_against_ngspice)."""
OHMMETER_OHM = 100.0
Case = tuple[str, Network, list[tuple[str, str]]]


def cases_of(section: str, step: Measure, faults: tuple[str, ...], connection: str) -> list[Case]:
    """Return the networks in which a step's pairs are read as volts: with its sources, or with an ohmmeter's."""
    assert step.setup is not None
    network = network_of(circuit(), {"connection": connection}, [circuit().fault(name) for name in faults], step.setup)
    name = f"{connection}, {section}/{step.id} with {', '.join(faults) or 'nothing wrong'}"
    pairs = [(pair.first, pair.second) for pair in step.pairs]
    if step.quantity is Quantity.VOLTAGE:
        return [(name, network, pairs)]
    return [
        (name, replace(network, sources=(Source("ohmmeter", first, second, 1.0, OHMMETER_OHM),)), [(first, second)])
        for first, second in pairs
    ]


def all_cases(connection: str) -> list[Case]:
    found: list[Case] = []
    plate = (("connection", connection),)
    for section, step in read_steps():
        whole = predictions().of_step(section, step, (), plate)
        for fault in (None, *possible_faults(circuit(), dict(plate))):
            faults = () if fault is None else (fault,)
            read = predictions().of_step(section, step, faults, plate)
            if (fault is None or read != whole) and not reads_as_usual(section, step, faults, connection, read):
                found += cases_of(section, step, tuple(each.id for each in faults), connection)
    return found


def reads_as_usual(
    section: str, step: Measure, faults: tuple[Fault, ...], connection: str, read: tuple[Predicted, ...]
) -> bool:
    """Return whether this reads on an unusual connection as it does on the usual one, and is checked there."""
    if connection == circuit().usual["connection"]:
        return False
    usual = predictions().of_step(section, step, faults, ())
    return all(
        one.value == other.value or abs(one.value - other.value) < 0.05 for one, other in zip(read, usual, strict=True)
    )


@pytest.mark.parametrize("connection", connections(shipped()))
def test_every_reading_of_the_range_agrees_with_ngspice(connection: str) -> None:
    cases = all_cases(connection)
    assert len(cases) > (200 if connection == circuit().usual["connection"] else 20)
    shown = spice_volts_of([(network, pairs) for _, network, pairs in cases])
    for (name, network, pairs), there in zip(cases, shown, strict=True):
        solved = solve(network)
        for (first, second), volts in zip(pairs, there, strict=True):
            here = solved.volts(first, second)
            assert abs(here - volts) <= max(REL * abs(volts), NOTHING_V), f"{name}, {first} to {second}: {here} {volts}"
