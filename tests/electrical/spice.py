"""Networks handed to ngspice, a general circuit simulator that shares nothing with the solver tested here."""

import cmath
import math
import re
import subprocess
import tempfile
from collections.abc import Sequence
from pathlib import Path

from voicetech.electrical.network import METER_OHM, Network

Pairs = Sequence[tuple[str, str]]

_PRINTED = re.compile(r"^v\(m(\d+)\) = (\S+),(\S+)$", re.MULTILINE)


def spice_volts(network: Network, pairs: Pairs) -> list[complex]:
    """Return what a meter of 10 megohms shows between each pair of nodes, one meter at a time."""
    return spice_volts_of([(network, pairs)])[0]


def spice_volts_of(cases: Sequence[tuple[Network, Pairs]]) -> list[list[complex]]:
    """Return the same for many networks from one run.

    Every pair has a copy of its network to itself with the one meter in it, so that no reading is loaded by another.
    """
    lines = ["networks, each with one meter"]
    copies = [(network, pair) for network, pairs in cases for pair in pairs]
    for number, (network, pair) in enumerate(copies):
        lines += _with_one_meter(number, network, pair)
    lines += [".control", "set numdgt=15", "ac lin 1 60 60"]
    lines += [f"print v(m{number})" for number in range(len(copies))]
    lines += ["quit", ".endc", ".end"]
    shown = iter(_run("\n".join(lines) + "\n", len(copies)))
    return [[next(shown) for _ in pairs] for _, pairs in cases]


def _with_one_meter(number: int, network: Network, pair: tuple[str, str]) -> list[str]:
    nodes = _numbered_nodes(number, network, pair)
    lines = [
        f"rb{number}x{each} {nodes[branch.first]} {nodes[branch.second]} {branch.ohm:.17g}"
        for each, branch in enumerate(network.branches)
        if branch.ohm != math.inf
    ]
    for each, source in enumerate(network.sources):
        magnitude, angle = cmath.polar(source.volts)
        inside = f"s{number}x{each}"
        lines += [
            f"v{inside} {inside} {nodes[source.minus]} dc 0 ac {magnitude:.17g} {math.degrees(angle):.17g}",
            f"r{inside} {inside} {nodes[source.plus]} {source.ohm:.17g}",
        ]
    first, second = (nodes[node] for node in pair)
    if first != second:
        lines.append(f"rm{number} {first} {second} {METER_OHM:.17g}")
    # A copy of the voltage across the meter, so that one figure is printed and not two to subtract.
    return [*lines, f"em{number} m{number} 0 {first} {second} 1"]


def _numbered_nodes(number: int, network: Network, pair: tuple[str, str]) -> dict[str, str]:
    """Return a name for every node; one of each island, with the meter in place, is the simulator's ground.

    It cannot solve what floats. One grounded node of an island carries no current, so nothing is changed by it, where
    a resistor to ground (1e12 ohms) would be at the edge of the smallest pivot it accepts.
    """
    island = {node: node for node in network.nodes}

    def root(node: str) -> str:
        while island[node] != node:
            node = island[node]
        return node

    joined = [(branch.first, branch.second) for branch in network.branches if branch.ohm != math.inf]
    joined += [(source.plus, source.minus) for source in network.sources]
    for first, second in [*joined, pair]:
        island[root(first)] = root(second)
    return {node: "0" if root(node) == node else f"n{number}x{each}" for each, node in enumerate(network.nodes)}


def _run(netlist: str, expected: int) -> list[complex]:
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "networks.cir"
        file.write_text(netlist, encoding="ascii")
        done = subprocess.run(
            ["ngspice", "-n", "-b", str(file)], cwd=folder, capture_output=True, text=True, timeout=600, check=False
        )
    printed = {int(number): complex(float(real), float(imag)) for number, real, imag in _PRINTED.findall(done.stdout)}
    if sorted(printed) != list(range(expected)):
        raise AssertionError(f"ngspice gave {len(printed)} of {expected} readings:\n{done.stdout}\n{done.stderr}")
    return [printed[number] for number in range(expected)]
