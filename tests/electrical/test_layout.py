"""Networks solved together, beside the same networks solved one by one."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from voicetech.electrical.layout import Floats, Layout, Places
from voicetech.electrical.network import Branch, Network, Source, solve

NODES = ("a", "b", "c", "d", "e", "f")
ENDS = (("a", "b"), ("b", "c"), ("c", "d"), ("d", "a"), ("b", "d"), ("d", "e"), ("e", "f"), ("a", "b"))
LEGS = (("a", "c"), ("f", "b"))
SOURCE_OHM = 0.02
NOTHING_V = 1e-9
PAIRS = [(first, second) for first in NODES for second in NODES if first < second]

ohms = st.one_of(st.just(math.inf), st.floats(-3, 12).map(lambda decades: 10.0**decades))
column = st.tuples(*(ohms for _ in ENDS))
volts = st.complex_numbers(max_magnitude=250)


def layout() -> Layout:
    return Layout(NODES, (*ENDS, *LEGS), range(len(ENDS), len(ENDS) + len(LEGS)))


def siemens(columns: list[tuple[float, ...]], source: float) -> Floats:
    return np.array([[1 / ohm for ohm in each] + [source] * len(LEGS) for each in columns]).T


def asked(whole: Layout, count: int) -> tuple[Places, Places, Places]:
    """Return every pair of nodes of every column."""
    every = [(each, whole.place(first), whole.place(second)) for each in range(count) for first, second in PAIRS]
    return tuple(np.array(part, dtype=np.intp) for part in zip(*every, strict=True))  # type: ignore[return-value]


def plain(each: tuple[float, ...], driven: tuple[complex, ...] = ()) -> Network:
    branches = tuple(
        Branch(str(number), first, second, ohm)
        for number, ((first, second), ohm) in enumerate(zip(ENDS, each, strict=True))
    )
    sources = tuple(
        Source(f"leg {n}", *ends, v, SOURCE_OHM) for n, (ends, v) in enumerate(zip(LEGS, driven, strict=False))
    )
    return Network(branches, sources, NODES)


@settings(deadline=None)
@given(st.lists(column, min_size=1, max_size=5))
def test_ohms_are_those_of_each_network_alone(columns: list[tuple[float, ...]]) -> None:
    whole = layout()
    found = whole.solve(siemens(columns, 0.0)).ohms(*asked(whole, len(columns)))
    alone = [solve(plain(each)).ohms(first, second) for each in columns for first, second in PAIRS]
    assert found.tolist() == pytest.approx(alone, rel=1e-9)


@settings(deadline=None)
@given(st.lists(st.tuples(column, st.tuples(volts, volts)), min_size=1, max_size=5))
def test_volts_are_those_of_each_network_alone(
    columns: list[tuple[tuple[float, ...], tuple[complex, complex]]],
) -> None:
    whole = layout()
    driven = np.array([[v / SOURCE_OHM for v in legs] for _, legs in columns]).T
    solution = whole.solve(
        siemens([each for each, _ in columns], 1 / SOURCE_OHM), np.stack([driven.real, driven.imag], axis=1)
    )
    places = asked(whole, len(columns))
    shown = solution.volts(*places) / (1 + solution.ohms(*places) / 1e7)
    alone = [
        abs(solve(plain(each, legs)).volts(first, second, 1e7)) for each, legs in columns for first, second in PAIRS
    ]
    assert shown.tolist() == pytest.approx(alone, rel=1e-9, abs=NOTHING_V)


@settings(deadline=None)
@given(st.lists(column, min_size=2, max_size=9))
def test_a_network_comes_out_the_same_whatever_stands_beside_it(columns: list[tuple[float, ...]]) -> None:
    whole = layout()
    together = whole.solve(siemens(columns, 0.0)).ohms(*asked(whole, len(columns))).tolist()
    apart = [ohm for each in columns for ohm in whole.solve(siemens([each], 0.0)).ohms(*asked(whole, 1)).tolist()]
    assert together == apart


def test_nodes_that_nothing_joins_have_no_ohms_between_them() -> None:
    whole = layout()
    found = whole.solve(siemens([(math.inf,) * len(ENDS)], 0.0)).ohms(*asked(whole, 1))
    assert found.tolist() == [math.inf] * len(PAIRS)


def test_an_unknown_node() -> None:
    with pytest.raises(KeyError):
        layout().place("nowhere")
