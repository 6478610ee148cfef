"""The network solver on worked examples, on laws that hold in any network, and beside exact arithmetic."""

import cmath
import itertools
import math
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from voicetech.electrical.network import Branch, Network, NetworkError, Source, solve

WIRE = 1e-6
"""Small enough to leave the ideal figures of a worked example as they are."""
LINE_V = 120.0


def supply(*loads: Branch, second_v: complex = -LINE_V, wire_ohm: float = WIRE) -> Network:
    """Return two legs and a neutral from the panel to the block, the frame on its own wire, and the loads."""
    wires = [Branch(f"wire {node}", f"panel {node}", node, wire_ohm) for node in ("L1", "L2", "N")]
    frame = Branch("wire frame", "panel N", "frame", wire_ohm)
    legs = (
        Source("leg 1", "panel L1", "panel N", LINE_V, wire_ohm),
        Source("leg 2", "panel L2", "panel N", second_v, wire_ohm),
    )
    return Network((*wires, frame, *loads), legs)


def lamps(name: str, leg: str, watts: float) -> Branch:
    return Branch(name, leg, "N", LINE_V**2 / watts)


ELEMENT = Branch("element", "L1", "L2", 24.0)
LOST_NEUTRAL = supply(lamps("lamps 1", "L1", 1200), lamps("lamps 2", "L2", 60)).without("wire N")
WYE = supply(ELEMENT, second_v=cmath.rect(LINE_V, math.radians(120)))


def lost_leg(watts: float) -> Network:
    return supply(ELEMENT, lamps("lamps", "L2", watts)).without("wire L2")


def volts_shown(network: Network, first: str, second: str) -> float:
    return abs(solve(network).volts(first, second))


# Worked examples.


def test_voltage_divider() -> None:
    # 12 V over 1 kilohm and 2 kilohms: 8 V on the second, 4 mA, 16 and 32 mW (any textbook).
    divider = Network(
        (Branch("upper", "top", "middle", 1000), Branch("lower", "middle", "bottom", 2000)),
        (Source("battery", "top", "bottom", 12, WIRE),),
    )
    solved = solve(divider)
    assert solved.volts("middle", "bottom", meter_ohm=math.inf) == pytest.approx(8)
    assert solved.volts("bottom", "middle", meter_ohm=math.inf) == pytest.approx(-8)
    assert solved.current("upper") == solved.current("lower") == pytest.approx(0.004)
    assert solved.current("battery") == pytest.approx(0.004)
    assert (solved.power("upper"), solved.power("lower")) == pytest.approx((0.016, 0.032))


def test_a_meter_loads_what_it_reads() -> None:
    # Two resistors of 1 megohm over 10 V are 5 V behind 500 kilohms; 10 megohms across it read 5 * 10 / 10.5.
    divider = Network(
        (Branch("upper", "top", "middle", 1e6), Branch("lower", "middle", "bottom", 1e6)),
        (Source("battery", "top", "bottom", 10, WIRE),),
    )
    solved = solve(divider)
    assert solved.volts("middle", "bottom") == pytest.approx(4.761905)
    assert solved.volts("middle", "bottom", meter_ohm=20_000) == pytest.approx(5 * 20 / 520)
    assert solved.volts("middle", "bottom", meter_ohm=math.inf) == pytest.approx(5)


def bridge(r1: float, r2: float, r3: float, r4: float, galvanometer: float = math.inf) -> Network:
    arms = (
        Branch("r1", "top", "left", r1),
        Branch("r2", "left", "bottom", r2),
        Branch("r3", "top", "right", r3),
        Branch("r4", "right", "bottom", r4),
        Branch("galvanometer", "left", "right", galvanometer),
    )
    return Network(arms, (Source("battery", "top", "bottom", 10, WIRE),))


def test_balanced_bridge_shows_nothing() -> None:
    solved = solve(bridge(100, 220, 250, 550, galvanometer=50))
    assert abs(solved.volts("left", "right")) < 1e-12
    assert abs(solved.current("galvanometer")) < 1e-12


@pytest.mark.parametrize("arms", [(100, 220, 250, 560), (1, 1000, 33, 2), (120, 120, 120, 121)])
def test_unbalanced_bridge(arms: tuple[float, float, float, float]) -> None:
    # Closed forms of the Wheatstone bridge without resistance in the battery (any textbook).
    r1, r2, r3, r4 = arms
    open_v = 10 * (r2 / (r1 + r2) - r4 / (r3 + r4))
    assert solve(bridge(*arms)).volts("left", "right", meter_ohm=math.inf) == pytest.approx(open_v, rel=1e-6)
    rg = 50.0
    through_a = 10 * (r2 * r3 - r1 * r4) / (rg * (r1 + r2) * (r3 + r4) + r1 * r2 * (r3 + r4) + r3 * r4 * (r1 + r2))
    solved = solve(bridge(*arms, galvanometer=rg))
    assert solved.current("galvanometer") == pytest.approx(through_a, rel=1e-5)
    # A meter of that resistance in place of the galvanometer is the same circuit.
    assert solve(bridge(*arms)).volts("left", "right", meter_ohm=rg) == pytest.approx(through_a * rg, rel=1e-5)


def test_series_and_parallel() -> None:
    # 6 ohms beside 3, then 8 in series: 2 + 8 = 10.
    solved = solve(
        Network((Branch("a", "in", "middle", 6), Branch("b", "middle", "in", 3), Branch("c", "middle", "out", 8)))
    )
    assert solved.ohms("in", "out") == pytest.approx(10)
    assert solved.ohms("out", "in") == pytest.approx(10)
    assert solved.ohms("in", "middle") == pytest.approx(2)
    assert solved.ohms("in", "in") == 0.0


def test_cube_of_equal_resistors() -> None:
    # 7/12, 3/4 and 5/6 ohm over an edge, a face and the body (a problem of most physics courses).
    corners = ["".join(bits) for bits in itertools.product("01", repeat=3)]
    edges = [(one, other) for one, other in itertools.combinations(corners, 2) if sum(map(str.__ne__, one, other)) == 1]
    solved = solve(Network(tuple(Branch(f"{one} {other}", one, other, 1) for one, other in edges)))
    assert len(edges) == 12
    assert solved.ohms("000", "001") == pytest.approx(7 / 12)
    assert solved.ohms("000", "011") == pytest.approx(3 / 4)
    assert solved.ohms("000", "111") == pytest.approx(5 / 6)


def test_ladder_of_equal_resistors() -> None:
    # 30 sections of 1 ohm in line and 1 ohm across: Fibonacci numbers, F(61) / F(60) ohms.
    sections = 30
    line = [Branch(f"line {each}", f"{each}", f"{each + 1}", 1) for each in range(sections)]
    across = [Branch(f"across {each}", f"{each + 1}", "back", 1) for each in range(sections)]
    one, other = 1, 1
    for _ in range(2 * sections - 1):
        one, other = other, one + other
    assert solve(Network((*line, *across))).ohms("0", "back") == pytest.approx(other / one, rel=1e-14)


# Supplies.


def test_split_phase() -> None:
    sound = supply(ELEMENT)
    assert volts_shown(sound, "L1", "L2") == pytest.approx(240, rel=1e-5)
    assert volts_shown(sound, "L1", "N") == pytest.approx(120, rel=1e-5)
    assert volts_shown(sound, "L2", "N") == pytest.approx(120, rel=1e-5)
    assert volts_shown(sound, "N", "frame") < 1e-4
    assert solve(sound).power("element") == pytest.approx(2400, rel=1e-5)
    assert solve(sound).current("leg 1") == pytest.approx(10, rel=1e-5)


def test_two_legs_of_a_wye() -> None:
    # |120 at 0 - 120 at 120 degrees| = 120 * sqrt(3) = 207.85; the element has 0.75 of its power at 240 V.
    assert volts_shown(WYE, "L1", "L2") == pytest.approx(207.846, rel=1e-5)
    assert volts_shown(WYE, "L1", "N") == pytest.approx(120, rel=1e-5)
    assert solve(WYE).power("element") == pytest.approx(0.75 * 2400, rel=1e-5)


def test_both_legs_from_the_same_phase() -> None:
    assert volts_shown(supply(ELEMENT, second_v=LINE_V), "L1", "L2") < 1e-4


def test_lost_neutral() -> None:
    # Two loads in series on 240 V: 240 * R1 / (R1 + R2) = 240 * 12 / 252 on the heavy one, the rest on the light one.
    assert volts_shown(LOST_NEUTRAL, "L1", "N") == pytest.approx(240 * 12 / 252, rel=1e-4)
    assert volts_shown(LOST_NEUTRAL, "L2", "N") == pytest.approx(240 * 240 / 252, rel=1e-4)
    assert volts_shown(LOST_NEUTRAL, "L1", "L2") == pytest.approx(240, rel=1e-5)
    assert volts_shown(LOST_NEUTRAL, "N", "frame") == pytest.approx(120 - 240 * 12 / 252, rel=1e-4)


@pytest.mark.parametrize(
    ("watts", "dead_leg_v"),
    # A 24 ohm element in series with lamps of 120^2 / W ohms on 120 V: 240 / 264, 48 / 72 and 14.4 / 38.4 of it.
    [(60, 109.09), (300, 80.0), (1000, 45.0)],
)
def test_lost_leg_is_fed_back_through_the_element(watts: float, dead_leg_v: float) -> None:
    network = lost_leg(watts)
    assert volts_shown(network, "L2", "N") == pytest.approx(dead_leg_v, abs=0.01)
    assert volts_shown(network, "L1", "L2") == pytest.approx(120 - dead_leg_v, abs=0.01)
    assert volts_shown(network, "panel L2", "L2") == pytest.approx(120 + dead_leg_v, abs=0.01)


def test_lost_leg_with_nothing_on_it_reads_full_volts_to_neutral() -> None:
    network = supply(ELEMENT).without("wire L2")
    assert volts_shown(network, "L2", "N") == pytest.approx(120, rel=1e-5)
    assert volts_shown(network, "L1", "L2") == pytest.approx(0, abs=0.001)


def test_a_leaking_casing_without_its_wire() -> None:
    # 1 megohm from a leg to the casing: a high-impedance meter shows 10/11 of 120 V, one of 3 kilohms next to nothing.
    solved = solve(supply(Branch("leak", "L1", "frame", 1e6)).without("wire frame"))
    assert abs(solved.volts("frame", "N")) == pytest.approx(120 * 10 / 11, rel=1e-5)
    assert abs(solved.volts("frame", "N", meter_ohm=3000)) == pytest.approx(120 * 3 / 1003, rel=1e-5)


# Islands and parts taken off.


def test_islands_have_nothing_between_them() -> None:
    two = Network(
        (Branch("load", "L1", "N", 12), Branch("gap", "N", "case", math.inf), Branch("heater", "x", "y", 40)),
        (Source("leg", "L1", "N", LINE_V, 0.01), Source("secondary", "x", "y", 24j, 0.5)),
    )
    solved = solve(two)
    assert solved.volts("L1", "x") == 0
    assert solved.volts("L1", "case") == 0
    assert solved.volts("x", "y", meter_ohm=math.inf) == pytest.approx(24j * 40 / 40.5)
    assert solved.current("gap") == 0
    assert solved.power("gap") == 0
    dead = solve(two.without("leg", "secondary"))
    assert dead.ohms("L1", "x") == math.inf
    assert dead.ohms("N", "case") == math.inf
    assert dead.ohms("L1", "N") == pytest.approx(12)


def test_a_network_of_nothing() -> None:
    solved = solve(Network((), loose_nodes=("a", "b")))
    assert solved.volts("a", "b") == 0
    assert solved.ohms("a", "b") == math.inf
    assert solved.ohms("a", "a") == 0
    with pytest.raises(NetworkError, match="has none"):
        solve(Network(())).ohms("a", "b")


def test_a_wire_taken_off_leaves_its_terminal() -> None:
    whole = supply(ELEMENT)
    taken = whole.without("wire L2", "element")
    assert {branch.name for branch in whole.branches} - {branch.name for branch in taken.branches} == {
        "wire L2",
        "element",
    }
    assert set(taken.nodes) == set(whole.nodes)
    assert solve(taken).volts("L2", "N") == 0


def test_another_resistance() -> None:
    dead = Network((Branch("a", "1", "2", 5), Branch("b", "2", "3", 7)))
    assert solve(dead.with_ohm("a", 50)).ohms("1", "3") == pytest.approx(57)
    assert solve(dead.with_ohm("a", math.inf)).ohms("1", "3") == math.inf
    assert solve(dead).ohms("1", "3") == pytest.approx(12)
    weak = supply(lamps("lamps", "L1", 1200)).with_ohm("leg 1", 12.0)
    assert volts_shown(weak, "L1", "N") == pytest.approx(60, rel=1e-5)


# What cannot be.


@pytest.mark.parametrize("ohm", [0.0, -1.0, math.nan, -math.inf])
def test_a_branch_without_resistance(ohm: float) -> None:
    with pytest.raises(NetworkError, match=r"small resistance, such as 0\.001") as caught:
        Branch("cord", "a", "b", ohm)
    assert "cord" in str(caught.value)


@pytest.mark.parametrize("ohm", [0.0, -1.0, math.nan, math.inf])
def test_a_source_without_inner_resistance(ohm: float) -> None:
    with pytest.raises(NetworkError, match="'leg'"):
        Source("leg", "a", "b", LINE_V, ohm)


@pytest.mark.parametrize("ohm", [1e-300, 1e300])
def test_resistances_that_are_none(ohm: float) -> None:
    with pytest.raises(NetworkError, match="'cord'"):
        Branch("cord", "a", "b", ohm)
    with pytest.raises(NetworkError, match="'leg'"):
        Source("leg", "a", "b", LINE_V, ohm)


def test_other_parts_that_cannot_be() -> None:
    with pytest.raises(NetworkError, match="both ends at 'a'"):
        Branch("cord", "a", "a", 1)
    with pytest.raises(NetworkError, match="both ends at 'a'"):
        Source("leg", "a", "a", LINE_V, 1)
    with pytest.raises(NetworkError, match="finite"):
        Source("leg", "a", "b", complex(math.nan, 0), 1)
    with pytest.raises(NetworkError, match="two parts are called 'x'"):
        Network((Branch("x", "a", "b", 1), Branch("x", "b", "c", 1)))
    with pytest.raises(NetworkError, match="two parts are called 'x'"):
        Network((Branch("x", "a", "b", 1),), (Source("x", "a", "b", 1, 1),))


def test_names_that_are_not_there() -> None:
    network = supply(ELEMENT)
    solved = solve(network)
    with pytest.raises(NetworkError, match=r"no node 'PANEL L3'; did you mean .*'panel L1'"):
        solved.volts("PANEL L3", "N")
    with pytest.raises(NetworkError, match="no node 'l2'; did you mean 'L2'"):
        solved.volts("L1", "l2")
    with pytest.raises(NetworkError, match=r"no node 'oven'; the network has .*frame"):
        solved.volts("L1", "oven")
    with pytest.raises(NetworkError, match="'framee'; did you mean 'frame'"):
        solve(network.without("leg 1", "leg 2")).ohms("N", "framee")
    for ask in (solved.current, solved.power, network.without):
        with pytest.raises(NetworkError, match="no branch or source 'elment'; did you mean 'element'"):
            ask("elment")
    with pytest.raises(NetworkError, match="did you mean 'element'"):
        network.with_ohm("elment", 1)


def test_questions_without_an_answer() -> None:
    solved = solve(supply(ELEMENT))
    with pytest.raises(NetworkError, match=r"never read on a live circuit.*leg 1, leg 2"):
        solved.ohms("L1", "L2")
    with pytest.raises(NetworkError, match="'leg 1' is a source"):
        solved.power("leg 1")
    for meter_ohm in (0.0, -1.0, math.nan):
        with pytest.raises(NetworkError, match="a meter of"):
            solved.volts("L1", "L2", meter_ohm=meter_ohm)


# Laws that hold in any network.

NODES = st.integers(2, 9)
DECADES = st.floats(-3, 7)
EXTREME_DECADES = st.floats(-6, 12)
MILLIVOLTS = st.integers(-250_000, 250_000)
PHASORS = st.builds(lambda real, imag: complex(real / 1000, imag / 1000), MILLIVOLTS, MILLIVOLTS)


@st.composite
def graphs(draw: st.DrawFn) -> tuple[list[tuple[str, str]], list[tuple[str, str]]]:
    """Return the ends of branches that join all nodes, and the ends of sources."""
    count = draw(NODES)
    names = [f"node {each}" for each in range(count)]
    tree = [(names[draw(st.integers(0, each - 1))], names[each]) for each in range(1, count)]
    pair = st.lists(st.sampled_from(names), min_size=2, max_size=2, unique=True).map(lambda two: (two[0], two[1]))
    return tree + draw(st.lists(pair, max_size=2 * count)), draw(st.lists(pair, min_size=1, max_size=3))


@st.composite
def values(
    draw: st.DrawFn,
    graph: tuple[list[tuple[str, str]], list[tuple[str, str]]],
    decades: st.SearchStrategy[float] = DECADES,
) -> Network:
    branches, sources = graph
    return Network(
        tuple(Branch(f"b{each}", *ends, 10 ** draw(decades)) for each, ends in enumerate(branches)),
        tuple(Source(f"s{each}", *ends, draw(PHASORS), 10 ** draw(decades)) for each, ends in enumerate(sources)),
    )


@st.composite
def networks(draw: st.DrawFn, decades: st.SearchStrategy[float] = DECADES) -> Network:
    return draw(values(draw(graphs()), decades))


def ends_of(part: Branch | Source) -> tuple[str, str]:
    return (part.first, part.second) if isinstance(part, Branch) else (part.plus, part.minus)


def highest_v(network: Network) -> float:
    """Return the most that any two nodes can have between them."""
    return sum(abs(source.volts) for source in network.sources)


@settings(deadline=None)
@given(networks())
def test_power_in_is_power_out(network: Network) -> None:
    solved = solve(network)
    given_w = rounding_w = 0.0
    for source in network.sources:
        current = solved.current(source.name)
        given_w += (source.volts * current.conjugate()).real - abs(current) ** 2 * source.ohm
        # A voltage is right to the last digits of the highest one; behind little resistance that is much current.
        rounding_w += 1e-13 * highest_v(network) * abs(source.volts) / source.ohm
    taken_w = sum(solved.power(branch.name) for branch in network.branches)
    assert given_w == pytest.approx(taken_w, rel=1e-9, abs=rounding_w)


@settings(deadline=None)
@given(st.data(), graphs())
def test_tellegen(data: st.DataObject, graph: tuple[list[tuple[str, str]], list[tuple[str, str]]]) -> None:
    # Voltages of one network and currents of another with the same connections: their products add up to nothing.
    one, other = data.draw(values(graph)), data.draw(values(graph))
    solved_one, solved_other = solve(one), solve(other)
    total = 0j
    rounding = 0.0
    for part in other.parts:
        volts = solved_one.volts(*ends_of(part), meter_ohm=math.inf)
        current = solved_other.current(part.name)
        total += volts * (current if isinstance(part, Branch) else -current)
        rounding += 1e-13 * (abs(volts) + highest_v(one)) * (abs(current) + highest_v(other) / part.ohm)
    assert abs(total) <= rounding


@settings(deadline=None)
@given(networks(), st.data())
def test_source_and_meter_may_change_places(network: Network, data: st.DataObject) -> None:
    # Reciprocity; the meter has the resistance of the source, so that the network stays the same.
    pair = st.lists(st.sampled_from(network.nodes), min_size=2, max_size=2, unique=True)
    (a, b), (c, d) = data.draw(pair), data.draw(pair)
    ohm = 10 ** data.draw(DECADES)
    passive = network.without(*(source.name for source in network.sources))
    there = solve(Network(passive.branches, (Source("it", a, b, LINE_V, ohm),), passive.nodes)).volts(c, d, ohm)
    back = solve(Network(passive.branches, (Source("it", c, d, LINE_V, ohm),), passive.nodes)).volts(a, b, ohm)
    assert there == pytest.approx(back, rel=1e-9, abs=1e-12 * LINE_V)


def exact_volts(network: Network, first: str, second: str, meter_ohm: float) -> complex:
    """Return the same reading by node voltages in whole fractions, the meter being one more resistance."""
    nodes = [node for node in network.nodes if node != second]
    rows = {node: [Fraction(0)] * (len(nodes) + 2) for node in nodes}
    resistances = [(*ends_of(part), part.ohm) for part in network.parts]
    for one, other, ohm in [*resistances, (first, second, meter_ohm)]:
        for node, far in ((one, other), (other, one)):
            if node != second:
                rows[node][nodes.index(node)] += 1 / Fraction(ohm)
                if far != second:
                    rows[node][nodes.index(far)] -= 1 / Fraction(ohm)
    for source in network.sources:
        for node, sign in ((source.plus, 1), (source.minus, -1)):
            if node != second:
                rows[node][-2] += sign * Fraction(source.volts.real) / Fraction(source.ohm)
                rows[node][-1] += sign * Fraction(source.volts.imag) / Fraction(source.ohm)
    table = [rows[node] for node in nodes]
    # A joined network has no zero on the diagonal at any step. The node asked for comes last and needs no way back.
    wanted = nodes.index(first)
    order = [each for each in range(len(nodes)) if each != wanted]
    for done, pivot in enumerate(order):
        for row in [*order[done + 1 :], wanted]:
            factor = table[row][pivot] / table[pivot][pivot]
            if factor:
                table[row] = [value - factor * above for value, above in zip(table[row], table[pivot], strict=True)]
    last = table[wanted]
    return complex(float(last[-2] / last[wanted]), float(last[-1] / last[wanted]))


@settings(max_examples=60, deadline=None)
@given(networks(EXTREME_DECADES), st.data())
def test_volts_are_those_of_exact_arithmetic(network: Network, data: st.DataObject) -> None:
    # From a microhm to a teraohm side by side; node voltages by plain elimination in floats are off by millivolts
    first, second = data.draw(st.lists(st.sampled_from(network.nodes), min_size=2, max_size=2, unique=True))
    expected = exact_volts(network, first, second, 10e6)
    assert abs(solve(network).volts(first, second) - expected) <= 1e-12 * highest_v(network)


@settings(max_examples=60, deadline=None)
@given(networks(EXTREME_DECADES), st.data())
def test_ohms_are_those_of_exact_arithmetic(network: Network, data: st.DataObject) -> None:
    first, second = data.draw(st.lists(st.sampled_from(network.nodes), min_size=2, max_size=2, unique=True))
    dead = network.without(*(source.name for source in network.sources))
    probed = Network(dead.branches, (Source("1 A", first, second, 1e12, 1e12),))
    # 1e12 V behind 1e12 ohms, with a meter of 1e12 ohms: 1 A into the resistance beside twice 1e12 ohms.
    shown = Fraction(exact_volts(probed, first, second, 1e12).real)
    expected = float(1 / (1 / shown - Fraction(2, 10**12)))
    assert solve(dead).ohms(first, second) == pytest.approx(expected, rel=1e-9)


def test_a_stiff_supply_on_its_own_leaks_no_error() -> None:
    # 120 V behind a microhm would drive 1.2e8 A; the last digit of that through a gigohm would be many volts.
    network = Network(
        (Branch("load", "x", "y", 1e4), Branch("leak", "y", "frame", 1e9), Branch("far", "frame", "earth", 10)),
        (Source("secondary", "x", "y", LINE_V, 1e-6),),
    )
    solved = solve(network)
    assert abs(solved.volts("y", "frame", meter_ohm=math.inf)) < 1e-12
    assert abs(solved.volts("x", "earth", meter_ohm=math.inf)) == pytest.approx(LINE_V, rel=1e-9)
