"""The drawing of the test points: every pair of every step, with every connection."""

from collections.abc import Iterator
from dataclasses import replace
from itertools import combinations
from xml.etree import ElementTree

import pytest

from tests.dialogue.talker import Talker, shipped
from voicetech.electrical.appliance import Heater
from voicetech.procedure import Measure, Pair, Point
from voicetech.showing.sketch import drawn_points, drawn_step
from voicetech.showing.wiring import way_past
from voicetech.units import Quantity

SVG = "{http://www.w3.org/2000/svg}"
CONNECTIONS = ("cord-4", "cord-3", "hard-wired")
LONG = "1250.75 V"


def measured() -> Iterator[tuple[str, Measure, int]]:
    for section in shipped().sections:
        for step in section.steps:
            if isinstance(step, Measure):
                for number in range(len(step.pairs)):
                    yield f"{section.id}/{step.id}/{step.pairs[number].label}", step, number


CASES = {name: (step, number) for name, step, number in measured()}


def step_named(section: str, step_id: str) -> Measure:
    step = shipped().step(section, step_id)
    assert isinstance(step, Measure)
    return step


def parsed(svg: str) -> ElementTree.Element:
    return ElementTree.fromstring(svg)  # our own drawing, made a line before


def texts(root: ElementTree.Element) -> list[str]:
    return [text.text or "" for text in root.iter(f"{SVG}text")]


def with_class(root: ElementTree.Element, name: str) -> list[ElementTree.Element]:
    return [each for each in root.iter() if name in each.get("class", "").split()]


def text_boxes(root: ElementTree.Element) -> list[tuple[str, float, float, float, float]]:
    boxes = []
    for text in root.iter(f"{SVG}text"):
        said, x, y = text.text or "", float(text.get("x", "")), float(text.get("y", ""))
        assert text.get("text-anchor") == "middle"
        half = len(said) * 15 * 0.5 / 2
        boxes.append((said, x - half, y - 11, x + half, y + 3))
    return boxes


@pytest.mark.parametrize("connection", CONNECTIONS)
@pytest.mark.parametrize("name", CASES)
def test_every_pair_is_drawn_legibly(name: str, connection: str) -> None:
    step, number = CASES[name]
    pair = step.pairs[number]
    read = {each.label: LONG if len(step.pairs) < 4 else "121.3 V" for each in step.pairs[:number]}
    svg = drawn_step(shipped(), step, number, {"connection": connection}, read)
    root = parsed(svg)
    assert "style=" not in svg
    assert root.get("role") == "img"
    assert root.get("width") is None
    _, _, width, height = (float(part) for part in root.get("viewBox", "").split())
    assert width == 360, "letters of 15 units are 12.5 pixels where this is 300 pixels wide"
    assert float(root.get("font-size", "")) * 300 / width >= 12
    points = shipped().points
    labels = [points[node].label for node in (pair.first, pair.second)]
    said = texts(root)
    assert set(labels) <= set(said)
    assert all(value in said for value in read.values())
    for label in labels:
        assert label in root.findtext(f"{SVG}title", "")
        assert label in root.findtext(f"{SVG}desc", "")
    boxes = text_boxes(root)
    for text, left, top, right, bottom in boxes:
        assert left >= 0, text
        assert top >= 0, text
        assert right <= width, text
        assert bottom <= height, text
    for (one, l1, t1, r1, b1), (two, l2, t2, r2, b2) in combinations(boxes, 2):
        assert r1 <= l2 or r2 <= l1 or b1 <= t2 or b2 <= t1, f"{one!r} stands on {two!r}"


@pytest.mark.parametrize("connection", CONNECTIONS)
@pytest.mark.parametrize("name", [name for name, (step, _) in CASES.items() if len(step.pairs) == 1])
def test_the_parts_between_are_those_of_the_circuit(name: str, connection: str) -> None:
    step, number = CASES[name]
    circuit = shipped().circuit
    assert circuit is not None
    pair, plate = step.pairs[number], {"connection": connection}
    way = way_past(circuit, step, pair, plate, shipped().points)
    root = parsed(drawn_step(shipped(), step, number, plate, {}))
    drawn = [part for each in with_class(root, "tested") if (part := each.get("data-part"))]
    if way is None:
        assert not drawn
        return
    assert drawn == [stretch.part.name for stretch in way.between if stretch.tested]
    parts = {part.name: part for part in circuit.parts}
    legs = {leg.name for leg in circuit.legs}
    at = way.between[0].start
    for stretch in way.between:
        assert stretch.part.name in parts or stretch.part.name in legs
        assert stretch.start == at, "each part begins where the one before ends"
        at = stretch.end
        wanted = circuit.only.get(stretch.part.name, {})
        assert connection in wanted.get("connection", (connection,))
        assert not stretch.off
    ends = {way.between[0].start, at}
    if way.sheath:
        (heater,) = (parts[stretch.part.name] for stretch in way.between)
        assert isinstance(heater, Heater)
        assert heater.sheath == way.sheath
        assert {pair.first, pair.second} <= ends | {way.sheath}
    else:
        assert ends == {pair.first, pair.second}


def test_an_element_stands_between_the_legs_with_its_wire_off() -> None:
    root = parsed(drawn_step(shipped(), step_named("bake", "bake-ohms"), 0, {"connection": "cord-4"}, {}))
    assert texts(root)[0] == "L1"
    assert {"bake 1", "bake 2", "bake", "L2", "Ω", "red", "black"} <= set(texts(root))
    (lifted,) = [each for each in with_class(root, "lifted") if each.get("data-part")]
    assert lifted.get("data-part") == "bake-feed"
    assert root.findtext(f"{SVG}desc") == (
        "L1; contact bake contact, open; wire bake feed, taken off; bake 1, red probe; "
        "heating element bake, under test; bake 2, black probe; wire bake return; wire fuse; wire fuse in; L2."
    )


def test_a_contact_is_drawn_as_its_knob_sets_it() -> None:
    on = drawn_step(shipped(), step_named("oven-relay", "bake-volts"), 0, {}, {})
    off = drawn_step(shipped(), step_named("oven-relay", "bake-off-volts"), 0, {}, {})
    assert "contact bake contact, open" not in on
    assert "contact bake contact, open" in off
    assert on != off


def test_current_is_read_with_a_clamp_and_seconds_without_probes() -> None:
    amps = parsed(drawn_step(shipped(), step_named("surface-element", "coil-amps"), 0, {}, {}))
    assert "clamped round the wire" in amps.findtext(f"{SVG}desc", "")
    assert [each.get("data-part") for each in with_class(amps, "tested") if each.get("data-part")] == ["surface"]
    seconds = parsed(drawn_step(shipped(), step_named("switch-clicks", "clicks-on"), 0, {}, {}))
    for root in (amps, seconds):
        assert not with_class(root, "red-lead")
        assert not with_class(root, "black-lead")


def test_several_pairs_show_what_is_read_now_and_owed() -> None:
    step = step_named("make-safe", "six-pairs")
    root = parsed(drawn_step(shipped(), step, 2, {"connection": "cord-4"}, {"L1-L2": "0 V", "L1-N": "0.2 V"}))
    paths = {state: [e for e in with_class(root, state) if e.tag == f"{SVG}path"] for state in ("done", "now", "owed")}
    assert {state: len(found) for state, found in paths.items()} == {"done": 2, "now": 1, "owed": 3}
    assert all(path.get("stroke-dasharray") for path in paths["owed"])
    assert float(paths["now"][0].get("stroke-width", "")) > float(paths["done"][0].get("stroke-width", ""))
    across = {each.text: float(each.get("x", "")) for each in with_class(root, "point") if each.text}
    assert sorted(across, key=lambda label: across[label]) == ["L1", "N", "L2", "frame"], "as a terminal block has them"
    assert "Now L2 to N: red probe on L2, black probe on N." in root.findtext(f"{SVG}desc", "")


def test_points_that_no_circuit_has_are_two_terminals_and_the_meter() -> None:
    step = step_named("bake", "bake-ohms")
    root = parsed(drawn_step(replace(shipped(), circuit=None), step, 0, {}, {}))
    assert not with_class(root, "part")
    assert [text for text in texts(root) if text not in ("red", "black")] == ["bake 1", "bake 2", "Ω"]
    assert not with_class(parsed(drawn_step(shipped(), step_named("null-leads", "leads-together"), 0, {}, {})), "part")


def test_words_from_a_procedure_stay_words() -> None:
    step = step_named("bake", "bake-ohms")
    nasty = Point("bake-1", '<a> & "b"', ("x",), "y")
    procedure = replace(shipped(), points={**shipped().points, "bake-1": nasty})
    root = parsed(drawn_step(procedure, step, 0, {}, {}))
    assert '<a> & "b"' in texts(root)
    two = replace(step, pairs=(Pair("a<b", "bake-1", "bake-2", "x"), Pair("c", "bake-2", "bake-1", "y")))
    assert "<i>" in texts(parsed(drawn_step(procedure, two, 1, {}, {"a<b": "<i>"})))


def test_labels_too_long_for_the_width_make_it_wider() -> None:
    long = Point("bake-1", "terminal of the bake element at its left end", ("x",), "y")
    procedure = replace(shipped(), points={**shipped().points, "bake-1": long})
    step = step_named("bake", "bake-ohms")
    both = replace(step, pairs=(*step.pairs, Pair("back", "bake-2", "bake-1", "x")))
    for each in (step, both):
        root = parsed(drawn_step(procedure, each, 0, {}, {}))
        _, _, width, _ = (float(part) for part in root.get("viewBox", "").split())
        assert all(left >= 0 and right <= width for _, left, _, right, _ in text_boxes(root))


def test_the_open_step_is_drawn_the_same_each_time_and_nothing_where_nothing_is_measured() -> None:
    talker = Talker()
    assert drawn_points(talker.procedure, talker.session) == ""
    talker.say("no", "bake", "go to the bake element", "four wire cord")
    talker.make_safe()
    for _ in range(8):
        at = talker.session.at
        assert at is not None
        step = talker.procedure.step(at.section, at.step)
        if isinstance(step, Measure) and step.quantity is Quantity.RESISTANCE:
            break
        talker.say("looks good" if at.step == "bake-look" else "2600 watts" if at.step == "bake-watts" else "done")
    first = drawn_points(talker.procedure, talker.session)
    assert "<svg" in first
    assert first == drawn_points(talker.procedure, talker.session)
