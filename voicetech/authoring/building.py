"""From what is written to the frozen records of `procedure`.

A part that cannot be read is noted and stood in for, so that one mistake does not hide or cause others.
"""

from collections.abc import Iterable, Mapping
from decimal import Decimal

from voicetech.authoring.building_circuit import built_circuit
from voicetech.authoring.building_steps import built_conditions, built_step
from voicetech.authoring.findings import Notes
from voicetech.authoring.format_top import ANY_CAUSE, TOP
from voicetech.authoring.including import WrittenProcedure
from voicetech.authoring.naming import instead
from voicetech.authoring.reading import Table
from voicetech.language.meaning import DangerKind
from voicetech.procedure import (
    FOUR_WIRES,
    Access,
    Cause,
    ComesUp,
    Complaint,
    DangerScript,
    Due,
    HandOver,
    Needs,
    Phase,
    Point,
    Procedure,
    Remedy,
    SafetyRole,
    Section,
    SectionRole,
    Signal,
)
from voicetech.procedure import Warning as HazardWarning


def built(written: WrittenProcedure, notes: Notes) -> Procedure:
    """Return the procedure; what could not be read is noted and stood in for."""
    top = Table(notes, (), written.table, TOP)
    points, causes = _points(top), _causes(top)
    procedure = Procedure(
        id=top.text("procedure"),
        title=top.text("title"),
        revision=int(top.number("revision")),
        appliance=top.text("appliance"),
        call=top.texts("call"),
        digest=written.digest,
        texts=written.texts,
        language=written.language,
        settings=top.named_texts("settings"),
        supply=top.texts("supply") or FOUR_WIRES,
        fields=top.named_lists("fields"),
        explained=top.named_texts("explained"),
        warnings=_warnings(top),
        points=points,
        sections=tuple(_section(name, table, points) for name, table in top.tables("sections")),
        complaints=_complaints(top, causes),
        causes=causes,
        remedies=_remedies(top),
        hand_overs=_hand_overs(top),
        danger_scripts=_danger_scripts(top),
        access=_access(top),
        circuit=built_circuit(top.table("circuit")) if top.has("circuit") else None,
        stop_work=_stop_work(top),
    )
    top.done()
    return procedure


def _warnings(top: Table) -> Mapping[str, HazardWarning]:
    found: dict[str, HazardWarning] = {}
    for name, table in top.tables("warnings"):
        due = tuple(_due(inner) for inner in table.each_table("due"))
        found[name] = HazardWarning(name, table.word("signal", Signal), table.text("say"), table.text("source"), due)
        table.done()
    return found


def _due(table: Table) -> Due:
    due = Due(
        roles=table.words("roles", SafetyRole),
        rules=table.texts("rules"),
        needs=table.words("needs", Needs),
        words=tuple(words.lower() for words in table.texts("words")),
    )
    if due == Due():
        table.note("names no step; write roles, rules, needs or words", "missing-key")
    table.done()
    return due


def _stop_work(top: Table) -> Mapping[str, Mapping[str, str]]:
    outer = top.table("stop_work")
    return {name: outer.named_texts(name) for name in outer.names()}


def _points(top: Table) -> Mapping[str, Point]:
    found: dict[str, Point] = {}
    for name, table in top.tables("points"):
        call = table.texts("call")
        if not call:
            table.note("has no `call`; write how it is said", "missing-key", "call")
        found[name] = Point(name, table.text("label"), call or (name,), table.text("at"))
        table.done()
    return found


def _section(name: str, table: Table, points: Mapping[str, Point]) -> Section:
    role = table.word("role", SectionRole) if table.has("role") else None
    section = Section(
        id=name,
        title=table.text("title"),
        phase=table.word("phase", Phase),
        role=role,
        call=table.texts("call"),
        part=table.text("part", ""),
        cost_min=table.number("cost_min", Decimal(1)),
        asked=table.word("asked", ComesUp, ComesUp.BY_WORTH),
        access=table.texts("access"),
        narrows=table.texts("narrows"),
        when=built_conditions(table),
        steps=tuple(built_step(step, inner, points) for step, inner in table.tables("steps")),
    )
    if not section.steps:
        table.note("has no `steps`; write at least one", "missing-key", "steps")
    table.done()
    return section


def _access(top: Table) -> Mapping[str, Access]:
    found: dict[str, Access] = {}
    for name, table in top.tables("access"):
        found[name] = Access(name, table.text("say"), table.number("cost_min", Decimal(1)))
        table.done()
    return found


def _complaints(top: Table, causes: Iterable[str]) -> Mapping[str, Complaint]:
    found: dict[str, Complaint] = {}
    for name, table in top.tables("complaints"):
        weights = table.numbers("weights")
        other = weights.pop(ANY_CAUSE, None)
        if other is not None:
            weights |= {cause: other for cause in causes if cause not in weights}
        found[name] = Complaint(name, table.text("say"), weights, table.texts("out"), table.truth("wrong"))
        table.done()
    return found


def _causes(top: Table) -> Mapping[str, Cause]:
    found: dict[str, Cause] = {}
    for name, table in top.tables("causes"):
        found[name] = Cause(
            id=name,
            say=table.text("say"),
            tested_by=table.text("tested_by"),
            remedy=table.text("remedy"),
            why_failed=table.text("why_failed"),
            parts=table.texts("parts"),
            upstream=table.texts("upstream"),
        )
        table.done()
    return found


def _remedies(top: Table) -> Mapping[str, Remedy]:
    return {name: Remedy(name, say) for name, say in top.named_texts("remedies").items()}


def _hand_overs(top: Table) -> Mapping[str, HandOver]:
    found: dict[str, HandOver] = {}
    for name, table in top.tables("hand_overs"):
        found[name] = HandOver(name, table.text("say"), table.text("to"), table.text("source"))
        table.done()
    return found


def _danger_scripts(top: Table) -> Mapping[DangerKind, DangerScript]:
    found: dict[DangerKind, DangerScript] = {}
    known = {kind.value: kind for kind in DangerKind}
    for name, table in top.tables("danger_scripts"):
        if name not in known:
            table.note(f"{name!r} is no kind of danger; {instead(name, known)}", "unknown-word")
            continue
        found[known[name]] = DangerScript(known[name], table.text("say"), table.text("source"))
        table.done()
    return found
