"""Mutants of what steps name: causes, remedies, complaints, hand-overs, sections, and the circuit with its faults."""

from collections.abc import Iterator
from typing import Final

from tests.mutation.mutant import (
    Maker,
    Mutant,
    Table,
    another,
    chance_at,
    dropping,
    listed,
    outcomes_in,
    setting,
    steps_of,
    with_item,
)
from voicetech.authoring.findings import Keys

_COUPLED_OHM: Final = 1000
_TWO_ENDS: Final = ("contacts", "heaters", "sensors", "motors")


def causes(table: Table, seed: int) -> Iterator[Mutant]:
    """A cause or what mends it is dropped, or the cause is tested elsewhere.

    Which repair mends a cause is written once: nothing else in the files could tell a right one from a wrong one.
    """
    written, remedies = table.get("causes") or {}, table.get("remedies") or {}
    tests = [name for name, section in table["sections"].items() if section.get("phase") == "test"]
    for name, cause in written.items():
        where = ("causes", name)
        yield Mutant("cause", False, where, "it is dropped", dropping(where))
        place = (*where, "tested_by")
        other = another(chance_at(seed, where, "cause"), tests, cause["tested_by"])
        if other is not None:
            says = f"{cause['tested_by']} becomes {other}"
            yield Mutant("tested_by retargeted", False, place, says, setting(place, other))
    for name in remedies:
        yield Mutant("cause", False, ("remedies", name), "the remedy is dropped", dropping(("remedies", name)))


def complaints(table: Table, seed: int) -> Iterator[Mutant]:
    """A complaint is dropped.

    How much it speaks for each cause, and what is out with it, is the author's judgement, written once.
    """
    for name in table.get("complaints") or {}:
        yield Mutant("complaint", False, ("complaints", name), "it is dropped", dropping(("complaints", name)))


def hand_overs(table: Table, seed: int) -> Iterator[Mutant]:
    """A reason to hand over is dropped, or nobody takes over; shared ones that this procedure never gives are left."""
    given = {
        outcome.get("hand_over") for _keys, _section, step in steps_of(table) for outcome in outcomes_in(step).values()
    }
    for name in table.get("hand_overs") or {}:
        where = ("hand_overs", name)
        if name in given:
            yield Mutant("hand-over", False, where, "it is dropped", dropping(where))
            yield Mutant("hand-over", False, (*where, "to"), "nobody takes over", dropping((*where, "to")))


def sections(table: Table, seed: int) -> Iterator[Mutant]:
    """A section is dropped, belongs to another phase, or has no name to ask for it by.

    What it opens only saves that a cover is taken off twice.
    """
    for name, section in table["sections"].items():
        where = ("sections", name)
        role = section.get("role")
        yield Mutant("section", role is not None, where, "it is dropped", dropping(where))
        if role:
            yield Mutant("section", True, (*where, "role"), f"the role {role} is dropped", dropping((*where, "role")))
        for key in ("call", "asked"):
            if section.get(key):
                place = (*where, key)
                yield Mutant("section", False, place, f"{key} is dropped", dropping(place))
        chance = chance_at(seed, where, "phase")
        phase = another(chance, ("test", "settings", "repair", "put-back", "retest", "advice"), section.get("phase"))
        if not role:
            place = (*where, "phase")
            yield Mutant("section", False, place, f"{section['phase']} becomes {phase}", setting(place, phase))
    for name in table.get("access") or {}:
        yield Mutant("section", False, ("access", name), "the access is dropped", dropping(("access", name)))


def circuits(table: Table, seed: int) -> Iterator[Mutant]:
    """A part of the circuit lies elsewhere, is dropped, or is closed at another position; a knob rests elsewhere.

    One that is there with every answer leads nowhere, because what it is joined to is not.
    """
    circuit = table.get("circuit") or {}
    nodes = sorted({str(end) for ends in (circuit.get("wires") or {}).values() for end in ends[:2]})
    for name, ends in (circuit.get("wires") or {}).items():
        where = ("circuit", "wires", name)
        yield Mutant("circuit", False, where, "the wire is dropped", dropping(where))
        yield from _elsewhere(where, ends, nodes, seed)
        # What is only coupled across is so at any ohms.
        if float(ends[2]) < _COUPLED_OHM:
            yield Mutant("circuit", False, where, "its ohms times a thousand",
                         setting((*where, 2), f"{float(ends[2]) * 1000:g}"))  # fmt: skip
    for kind in _TWO_ENDS:
        for name, part in (circuit.get(kind) or {}).items():
            where = ("circuit", kind, name)
            yield Mutant("circuit", False, where, "the part is dropped", dropping(where))
            yield from _elsewhere((*where, "between"), part["between"], nodes, seed)
            for number, position in enumerate(listed(part.get("closed"))):
                place = (*where, "closed")
                others = listed((circuit.get("knobs") or {}).get(part.get("knob")))
                other = another(chance_at(seed, (*place, number), "closed"), others, *listed(part["closed"]))
                if other is not None:
                    says = f"it is closed at {other} for {position}"
                    yield Mutant("circuit", False, place, says, with_item(place, number, other))
    for knob in circuit.get("isolated") or {}:
        where = ("circuit", "isolated", knob)
        yield Mutant("circuit", False, where, "it stands as in use while isolated", dropping(where))
    for name in circuit.get("legs") or {}:
        yield Mutant(
            "circuit", False, ("circuit", "legs", name), "the leg is dropped", dropping(("circuit", "legs", name))
        )


def _elsewhere(where: Keys, ends: list[str], nodes: list[str], seed: int) -> Iterator[Mutant]:
    for end in (0, 1):
        other = another(chance_at(seed, (*where, end), "node"), nodes, ends[0], ends[1])
        if other is not None:
            place = (*where, end)
            yield Mutant("circuit", False, place, f"{ends[end]} becomes {other}", setting(place, other))


def faults(table: Table, seed: int) -> Iterator[Mutant]:
    """A fault is called by another cause, or does something to another part.

    What it is seen and told by is what everything else is held to.
    """
    circuit = table.get("circuit") or {}
    causes_known = list(table.get("causes") or {})
    for name, fault in (circuit.get("faults") or {}).items():
        where = ("circuit", "faults", name)
        chance = chance_at(seed, where, "fault")
        other = another(chance, causes_known, fault["cause"])
        if other is not None:
            place = (*where, "cause")
            yield Mutant("fault", False, place, f"{fault['cause']} becomes {other}", setting(place, other))
        wires = list(circuit.get("wires") or {})
        for number, part in enumerate(listed(fault.get("opened"))):
            different = another(chance, wires, *listed(fault["opened"]))
            if different is not None:
                place = (*where, "opened")
                yield Mutant("fault", False, place, f"{part} becomes {different}", with_item(place, number, different))
        contacts = list(circuit.get("contacts") or {})
        for number, part in enumerate(listed(fault.get("welded"))):
            different = another(chance, contacts, *listed(fault["welded"]))
            if different is not None:
                place = (*where, "welded")
                yield Mutant("fault", False, place, f"{part} becomes {different}", with_item(place, number, different))


MAKERS: Final[tuple[Maker, ...]] = (causes, complaints, hand_overs, sections, circuits, faults)
