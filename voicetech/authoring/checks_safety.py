"""What the engine needs to keep the technician safe, and steps that would get round it."""

from collections.abc import Iterator, Mapping
from itertools import combinations
from typing import Final

from voicetech.authoring.checking import Breach, Check, asked_fields, every_step
from voicetech.electrical.service_voltage import LEG_NAMES
from voicetech.language.meaning import DangerKind
from voicetech.limit_rules import CORDED
from voicetech.procedure import FRAME, Ask, Measure, Needs, Procedure, SafetyRole, SectionRole
from voicetech.units import Quantity

ROLES_OF: Final[Mapping[SectionRole, tuple[SafetyRole, ...]]] = {
    SectionRole.MAKE_SAFE: (
        SafetyRole.ISOLATE_PLUG,
        SafetyRole.ISOLATE_LOCKOUT,
        SafetyRole.TESTER_BEFORE,
        SafetyRole.DEAD_PAIRS,
        SafetyRole.LOW_IMPEDANCE,
        SafetyRole.TESTER_AFTER,
    ),
    SectionRole.GO_LIVE: (SafetyRole.LIVE_HOLD, SafetyRole.POWER_ON),
    SectionRole.POWER_UP: (SafetyRole.COVERS_ON, SafetyRole.POWER_ON),
    SectionRole.NULL_LEADS: (SafetyRole.NULL_LEADS,),
}
"""The safety steps each of the engine's sections has, in their order."""
CONNECTION: Final = "connection"
"""The field under which it is recorded how the appliance is connected."""


def section_roles(procedure: Procedure) -> Iterator[Breach]:
    """Each of the engine's sections is there exactly once."""
    for role in SectionRole:
        with_role = [section for section in procedure.sections if section.role is role]
        if not with_role:
            message = f"no section has the role {role.value}; include the file that has it"
            yield Breach(("sections",), message, "section-role")
        for section in with_role[1:]:
            message = f"{with_role[0].id} has the role {role.value} already; keep one"
            yield Breach(("sections", section.id, "role"), message, "section-role")


def safety_roles(procedure: Procedure) -> Iterator[Breach]:
    """Each of the engine's sections has all its safety steps, in their order."""
    unneeded = _no_such_isolation(procedure)
    for section in procedure.sections:
        if section.role is None:
            continue
        wanted = ROLES_OF[section.role]
        present = [step.role for step in section.steps if step.role in wanted]
        for role in wanted:
            if role not in present and role not in unneeded:
                message = f"no step has the role {role.value}; write it"
                yield Breach(("sections", section.id, "steps"), message, "safety-role")
        if present != sorted(present, key=wanted.index):
            order = ", ".join(role.value for role in wanted)
            message = f"the safety steps are out of order; put them in the order {order}"
            yield Breach(("sections", section.id, "steps"), message, "safety-role")


def _no_such_isolation(procedure: Procedure) -> tuple[SafetyRole, ...]:
    """Return the isolating step that nothing calls for: what is never plugged in has no plug to pull, and so on."""
    ways = asked_fields(procedure).get(CONNECTION) or ()
    corded = [way.startswith(CORDED) for way in ways]
    if not any(corded):
        return (SafetyRole.ISOLATE_PLUG,)
    return (SafetyRole.ISOLATE_LOCKOUT,) if all(corded) else ()


def misplaced_roles(procedure: Procedure) -> Iterator[Breach]:
    """A safety step stands in the engine's section for it, nowhere else; power comes on only there."""
    for keys, section, step in every_step(procedure):
        if step.role is None:
            continue
        allowed = ROLES_OF[section.role] if section.role is not None else ()
        if step.role not in allowed:
            homes = " or ".join(home.value for home, roles in ROLES_OF.items() if step.role in roles)
            message = f"the role {step.role.value} belongs into the section with the role {homes}; move it"
            yield Breach((*keys, "role"), message, "safety-role")


def incomplete_dead_pairs(procedure: Procedure) -> Iterator[Breach]:
    """The proof of dead takes every pair of what the supply brings, and the frame.

    Source: NFPA 70E article 120 (from memory), and common practice.
    """
    wanted = [f"{one}-{other}" for one, other in combinations(procedure.supply, 2)]
    for keys, _section, step in every_step(procedure):
        if step.role is SafetyRole.DEAD_PAIRS and isinstance(step, Measure):
            taken = {pair.label for pair in step.pairs}
            missing = [label for label in wanted if label not in taken]
            if missing:
                message = f"a proof of dead needs {', '.join(missing)} too; add them"
                yield Breach((*keys, "between"), message, "dead-pairs")
            at: dict[str, str] = {}
            for number, pair in enumerate(step.pairs):
                ends = zip(pair.label.split("-"), (pair.first, pair.second), strict=False)
                for end, (label, point) in enumerate(ends):
                    if at.setdefault(label, point) != point:
                        message = (
                            f"{label} is measured at {at[label]} and at {point}; prove the same one dead throughout"
                        )
                        yield Breach((*keys, "between", number, end), message, "dead-pairs")


def supply_left_out(procedure: Procedure) -> Iterator[Breach]:
    """What the supply brings is named whole: a leg and the frame at least, and whatever it is measured at."""
    if FRAME not in procedure.supply or not LEG_NAMES & set(procedure.supply):
        message = "a supply has a leg, and a frame that may be live; name both, such as [L1, N, frame]"
        yield Breach(("supply",), message, "supply")
    for keys, _section, step in every_step(procedure):
        if not isinstance(step, Measure) or step.judged_as not in ("supply-idle", "supply-alone", "supply-loaded"):
            continue
        measured = dict.fromkeys(end for pair in step.pairs for end in pair.label.split("-"))
        for label in measured:
            if label not in procedure.supply:
                message = f"the supply is measured at {label}, which the proof of dead leaves out; name it under supply"
                yield Breach((*keys, "between"), message, "supply")


def persistent_voltage(procedure: Procedure) -> Iterator[Breach]:
    """Voltage that stays on a low-impedance meter ends in a hand-over."""
    for keys, _section, step in every_step(procedure):
        if step.role is not SafetyRole.LOW_IMPEDANCE or not isinstance(step, Ask):
            continue
        outcome = step.outcomes.get("yes")
        if outcome is None or outcome.hand_over is None:
            message = "voltage that stays on low impedance is a real source; hand over under outcomes.yes"
            yield Breach((*keys, "outcomes"), message, "persistent-voltage")


def measured_in_wrong_state(procedure: Procedure) -> Iterator[Breach]:
    """Ohms are taken dead; volts and amps are taken live; only proving steps are excepted."""
    for keys, _section, step in every_step(procedure):
        if not isinstance(step, Measure) or step.role is not None:
            continue
        match step.quantity:
            case Quantity.RESISTANCE | Quantity.CONTINUITY if step.needs is not Needs.DEAD:
                message = "ohms on a live circuit are false and dangerous; write `needs: dead`"
                yield Breach((*keys, "needs"), message, "wrong-state")
            case Quantity.VOLTAGE | Quantity.CURRENT if step.needs is not Needs.LIVE:
                message = f"{step.quantity.value} exists only with power; write `needs: live`"
                yield Breach((*keys, "needs"), message, "wrong-state")
            case _:
                pass


def missing_scripts(procedure: Procedure) -> Iterator[Breach]:
    """Every kind of danger has its script."""
    for kind in DangerKind:
        if kind not in procedure.danger_scripts:
            message = f"there is no script for {kind.value}; write it"
            yield Breach(("danger_scripts",), message, "missing-script")


CHECKS: Final[tuple[Check, ...]] = (
    section_roles,
    safety_roles,
    misplaced_roles,
    incomplete_dead_pairs,
    supply_left_out,
    persistent_voltage,
    measured_in_wrong_state,
    missing_scripts,
)
