"""The circuit as a ladder diagram: every part once, every node, and what is there with some answers only."""

import re
from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.dialogue.talker import shipped
from tests.drawing.on_paper import all_sheets, groups, overlaps, root_of, text_of
from voicetech.authoring.procedure_files import load_shipped
from voicetech.drawing.circuit_rungs import Chain, Group, Rung, ends_of, rungs_of
from voicetech.drawing.numbering import numbered
from voicetech.drawing.sheets import CIRCUIT, sheets_of
from voicetech.electrical.appliance import Appliance, Contact, Heater, Lamp, Leg, Part, Platinum, Wire
from voicetech.procedure import Point, Procedure

RANGE = shipped()
assert RANGE.circuit is not None
WIRING: Appliance = RANGE.circuit
SHEETS = {name: root_of(sheet) for name, sheet in all_sheets().items() if "circuit" in name}


def in_rungs(rungs: tuple[Rung, ...]) -> list[str]:
    return [part.name for rung in rungs for chain in rung.chains for part in chain.parts]


def check(circuit: Appliance, rungs: tuple[Rung, ...]) -> None:
    every = [*circuit.parts, *circuit.legs]
    assert sorted(in_rungs(rungs)) == sorted(part.name for part in every), "each part once"
    assert {node for rung in rungs for node in rung.nodes} == circuit.nodes
    for rung in rungs:
        for chain in rung.chains:
            assert len(chain.nodes) == len(chain.parts) + 1
            for part, one, other in zip(chain.parts, chain.nodes, chain.nodes[1:], strict=False):
                assert {one, other} == set(ends_of(part)), "a part lies between its own nodes"
        places = rung.main.nodes
        for chain in rung.beside:
            assert places.index(chain.nodes[0]) < places.index(chain.nodes[-1])
        sheaths = {part.sheath for chain in rung.chains for part in chain.parts if isinstance(part, Heater)}
        assert all(chain.nodes[0] in sheaths for chain in rung.hanging)
        if rung.rails is not None:
            assert rung.rails == (places[0], places[-1])


def way(chain: Chain) -> str:
    return " ".join(
        [chain.nodes[0], *(f"-{part.name}- {node}" for part, node in zip(chain.parts, chain.nodes[1:], strict=True))]
    )


def test_the_range_is_taken_apart_as_it_is_wired() -> None:
    rungs = rungs_of(WIRING, RANGE.points)
    check(WIRING, rungs)
    bake = next(rung for rung in rungs if "bake" in in_rungs((rung,)))
    assert bake.rails == ("l1", "l2")
    assert way(bake.main) == (
        "l1 -bake-contact- bake-relay -bake-feed- bake-1 -bake- bake-2 -bake-return- fuse-2 -fuse- fuse-1 -fuse-in- l2"
    )
    assert [way(chain) for chain in bake.beside] == [
        "l1 -broil-contact- broil-relay -broil-feed- broil-1 -broil- broil-2 -broil-return- fuse-2"
    ], "broil goes through the same fuse"
    assert [way(chain) for chain in bake.hanging] == [
        "bake-sheath -bake-bracket- frame",
        "broil-sheath -broil-bracket- frame",
    ]
    supply = [way(rung.main) for rung in rungs if rung.group is Group.SUPPLY]
    assert supply[0].startswith("service-n -leg-1- service-1 -drop-1- panel-1 -breaker-pole-1- breaker-1")
    assert supply[0].endswith("-block-1- l1")
    assert [rung.rails for rung in rungs if "clock" in in_rungs((rung,))] == [("l1", "n")]


def test_every_part_of_the_range_is_drawn_once_with_its_name() -> None:
    drawn = [(group.get("data-part"), text_of(group)) for root in SHEETS.values() for group in groups(root, "part")]
    assert sorted(name or "" for name, _ in drawn) == sorted(part.name for part in (*WIRING.parts, *WIRING.legs))
    for name, told in drawn:
        assert (name or "").replace("-", " ") in told


def test_every_node_of_the_range_is_drawn_and_test_points_have_their_numbers() -> None:
    drawn: dict[str, list[str]] = {}
    for root in SHEETS.values():
        for group in groups(root, "node"):
            drawn.setdefault(group.get("data-node") or "", []).append(text_of(group))
    assert set(drawn) == WIRING.nodes
    for number, (name, point) in enumerate(RANGE.points.items(), start=1):
        for told in drawn.get(name, []):
            assert str(number) in told.split()
            assert point.label in told
    for name in WIRING.nodes - set(RANGE.points):
        assert all(name.replace("-", " ") in told for told in drawn[name])


def test_contacts_tell_their_knob_and_where_they_are_closed() -> None:
    told = {group.get("data-part"): text_of(group) for root in SHEETS.values() for group in groups(root, "part")}
    assert "oven: bake" in told["bake-contact"]
    assert "burner: all but off" in told["burner-pole-1"]
    assert "burner: off, low, medium on" in told["burner-cycling"]
    assert "isolates" in told["blade-1"]
    assert "isolates" not in told["bake-contact"]
    assert "2600 W" in told["bake"]
    assert "120 V" in told["leg-1"]
    heads = " ".join(text_of(root) for root in SHEETS.values())
    assert "breaker on; plug in; burner off" in heads


def test_parts_that_are_there_with_some_answers_only_say_so_by_word_and_by_line() -> None:
    asked = numbered(RANGE).asked_at("connection")
    for root in SHEETS.values():
        notes = dict(re.findall(r"\b([a-d]): only if (.*?)[;.] ", f"{text_of(root)} "))
        assert len(notes) == 4
        for group in groups(root, "part"):
            name, told = group.get("data-part") or "", text_of(group)
            dashed = any(path.get("stroke-dasharray") for path in group.iter())
            letter = re.search(r"\bonly ([a-d])\b", told)
            assert (letter is not None) == (name in WIRING.only)
            if letter is not None:
                assert dashed
                assert f"connection ({asked}) is" in notes[letter[1]]
            if name == "strap":
                assert letter is not None
                assert "three wire cord" in notes[letter[1]]


def test_a_lamp_is_no_coupling_however_little_a_meter_finds_in_it() -> None:
    procedure = load_shipped("electric-radiant-cooktop-no-heat")
    roots = [root_of(sheet) for sheet in sheets_of(procedure, [CIRCUIT])]
    (lamp,) = (group for root in roots for group in groups(root, "part") if group.get("data-part") == "hot-light")
    assert text_of(lamp).strip() == "hot light"
    assert not any(path.get("stroke-dasharray") for path in lamp.iter())


POINTS = ("l1", "l2", "n", "n1", "n3", "frame")
NODES = ("l1", "l2", "n", *(f"n{number}" for number in range(9)))


@st.composite
def parts(draw: st.DrawFn) -> tuple[Part, ...]:
    found: list[Part] = []
    for number in range(draw(st.integers(1, 16))):
        first, second = draw(st.lists(st.sampled_from(NODES), min_size=2, max_size=2, unique=True))
        name = f"part-{number}"
        kind = draw(st.sampled_from(["wire", "wire", "load", "coupled", "lamp", "contact", "heater", "sensor"]))
        match kind:
            case "contact":
                knob, closed = draw(st.sampled_from([("main", "on"), ("dial", "high")]))
                found.append(Contact(name, first, second, 0.01, knob, frozenset({closed})))
            case "heater":
                sheath = draw(st.sampled_from(["frame", *NODES, f"sheath-{number}"]))
                found.append(Heater(name, first, second, sheath, 2600.0, 240.0, "w", "v", {}))
            case "lamp":
                found.append(Lamp(name, first, second, draw(st.sampled_from([960.0, 1e8]))))
            case "sensor":
                found.append(Platinum(name, first, second, "f"))
            case _:
                found.append(Wire(name, first, second, {"wire": 0.01, "load": 40.0, "coupled": 3e6}[kind]))
    return tuple(found)


def made(there: tuple[Part, ...], only: frozenset[str] = frozenset()) -> Appliance:
    legs = (Leg("leg-1", "s1", "l0", 120.0, 0.0), Leg("leg-2", "s2", "l0", 120.0, 180.0))
    feed = (Wire("feed-1", "s1", "l1", 0.01), Wire("feed-2", "s2", "l2", 0.01), Wire("feed-n", "l0", "n", 0.01))
    knobs = {"main": ("on", "off"), "dial": ("off", "high")}
    wanted = {name: {"connection": ("hard-wired",)} for name in only}
    return Appliance(legs, (*feed, *there), knobs, {"main": "off"}, wanted, {"connection": "cord-4"}, ())


def with_circuit(circuit: Appliance) -> Procedure:
    points = {
        name: Point(name, f"label {name}", (name,), "somewhere") for name in ("l1", "l2", "n", "n1", "n3", "frame")
    }
    return replace(RANGE, circuit=circuit, points=points)


CIRCUITS = st.builds(made, parts(), st.frozensets(st.sampled_from([f"part-{n}" for n in range(16)]), max_size=3))


@given(CIRCUITS)
@settings(max_examples=150, deadline=None)
def test_any_circuit_is_taken_apart_whole(circuit: Appliance) -> None:
    there = {part.name for part in circuit.parts}
    circuit = replace(circuit, only={name: wanted for name, wanted in circuit.only.items() if name in there})
    check(circuit, rungs_of(circuit, POINTS))
    check(circuit, rungs_of(circuit, ()))


@given(CIRCUITS)
@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_any_circuit_is_drawn_legibly(circuit: Appliance) -> None:
    there = {part.name for part in circuit.parts}
    circuit = replace(circuit, only={name: wanted for name, wanted in circuit.only.items() if name in there})
    sheets = [root_of(sheet) for sheet in sheets_of(with_circuit(circuit), [CIRCUIT])]
    drawn = [group.get("data-part") for root in sheets for group in groups(root, "part")]
    assert sorted(name or "" for name in drawn) == sorted([*there, "leg-1", "leg-2"])
    assert {group.get("data-node") for root in sheets for group in groups(root, "node")} == circuit.nodes
    for root in sheets:
        assert overlaps(root) == []


def chain_of(count: int) -> Appliance:
    nodes = ["l1", *(f"n{number}" for number in range(1, count)), "l2"]
    between = tuple(Wire(f"wire-{n}", one, other, 0.01) for n, (one, other) in enumerate(pairwise(nodes)))
    middle = count // 2
    heater = Heater("heater", nodes[middle], nodes[middle + 1], "frame", 2600.0, 240.0, "w", "v", {})
    return made((*between[:middle], heater, *between[middle + 1 :]))


@pytest.mark.parametrize("count", [2, 12, 13, 30])
def test_a_rung_that_is_too_long_goes_on_below(count: int) -> None:
    circuit = chain_of(count)
    sheets = [root_of(sheet) for sheet in sheets_of(with_circuit(circuit), [CIRCUIT])]
    assert all(overlaps(root) == [] for root in sheets)
    drawn = [group.get("data-part") for root in sheets for group in groups(root, "part")]
    assert sorted(name or "" for name in drawn) == sorted(part.name for part in (*circuit.parts, *circuit.legs))
    pieces = {group.get("data-rung") for root in sheets for group in groups(root, "rung")}
    assert bool({mark for mark in pieces if mark and mark[-1] == "a"}) == (count > 12)
