"""From one written step to its frozen record.

The kind of a step is the key it is written with: `hold`, `ask`, `inspect`, `measure` or `instruct`.
"""

from collections.abc import Mapping
from typing import TypedDict

from voicetech.authoring.format_steps import LIMITS, STEP
from voicetech.authoring.naming import instead, nearest
from voicetech.authoring.reading import Table
from voicetech.electrical.appliance import Setup
from voicetech.language.meaning import Asking, Choice, DangerKind
from voicetech.procedure import (
    Ask,
    Condition,
    Hold,
    Inspect,
    Instruct,
    LimitRule,
    Measure,
    Needs,
    Outcome,
    Pair,
    Point,
    Prompt,
    SafetyRole,
    Step,
)
from voicetech.units import UNITS_OF, Quantity, Unit

KINDS = tuple(STEP.shapes)
_FIGURES = ("low", "high")
_RULE_KEYS = frozenset({"rule", "source", *_FIGURES})


class _Common(TypedDict):
    id: str
    prompt: Prompt
    needs: Needs
    warnings: tuple[str, ...]
    when: tuple[Condition, ...]
    role: SafetyRole | None
    source: str
    hands_off: bool
    puts_back: bool


def built_step(name: str, table: Table, points: Mapping[str, Point]) -> Step:
    """Return the step; one without a kind is noted and stood in for by an instruction."""
    kinds = [kind for kind in KINDS if table.has(kind)]
    step: Step
    match kinds:
        case ["hold"]:
            step = Hold(**_common(name, table, "hold"), until=_until(table))
        case ["ask"]:
            step = _ask(name, table)
        case ["inspect"]:
            step = Inspect(
                **_common(name, table, "say"),
                part=table.text("inspect"),
                outcomes=_outcomes(table),
            )
        case ["measure"]:
            step = _measure(name, table, points)
        case ["instruct"]:
            step = Instruct(**_common(name, table, "instruct"), outcomes=_outcomes(table))
        case _:
            told = f"is {' and '.join(kinds)} at once" if kinds else "has no kind"
            table.note(f"{told}; write one of {', '.join(KINDS)}", "step-kind")
            return _stand_in(name, table)
    table.done()
    return step


def _stand_in(name: str, table: Table) -> Step:
    """Return a step that names what the written one does, so that nothing counts as unused or never shown."""
    common = _Common(
        id=name,
        prompt=Prompt(full="", short=""),
        needs=Needs.ANY,
        warnings=table.texts("warnings"),
        when=built_conditions(table),
        role=None,
        source="",
        hands_off=table.truth("hands_off"),
        puts_back=table.truth("puts_back"),
    )
    if table.has("field"):
        return Ask(**common, field=table.text("field"), asking=Asking.NOTE, choices=(), outcomes=_outcomes(table))
    return Instruct(**common, outcomes=_outcomes(table))


def _common(name: str, table: Table, words: str) -> _Common:
    full = table.text(words)
    return _Common(
        id=name,
        prompt=Prompt(full, table.text("short", full), table.text("how", ""), table.text("why", "")),
        needs=table.word("needs", Needs, Needs.ANY),
        warnings=table.texts("warnings"),
        when=built_conditions(table),
        role=table.word("role", SafetyRole) if table.has("role") else None,
        source=table.text("source", ""),
        hands_off=table.truth("hands_off"),
        puts_back=table.truth("puts_back"),
    )


def built_conditions(table: Table) -> tuple[Condition, ...]:
    """Return the conditions under `when` and `when_not`: fields with the answers they look for."""
    found: list[Condition] = []
    for key, absent in (("when", False), ("when_not", True)):
        found.extend(Condition(field, answers, absent) for field, answers in table.named_lists(key).items())
    return tuple(found)


def _until(table: Table) -> tuple[str, ...]:
    until = table.texts("until")
    if not until:
        table.note("has no `until`; write the exact words that end it", "missing-key", "until")
    return until


def _outcomes(table: Table) -> Mapping[str, Outcome]:
    return {name: _outcome(inner) for name, inner in table.tables("outcomes")}


def _outcome(table: Table) -> Outcome:
    outcome = Outcome(
        next=table.maybe("next"),
        cause=table.maybe("cause"),
        suspects=table.texts("suspects"),
        excludes=table.texts("excludes"),
        hand_over=table.maybe("hand_over"),
        danger=table.word("danger", DangerKind) if table.has("danger") else None,
        say=table.text("say", ""),
        again_by=table.maybe("again_by"),
        repeat=table.truth("repeat"),
    )
    table.done()
    return outcome


def _ask(name: str, table: Table) -> Ask:
    asking = table.word("ask", Asking)
    choices = table.table("choices")
    step = Ask(
        **_common(name, table, "say"),
        field=table.text("field"),
        asking=asking,
        choices=tuple(Choice(key, choices.texts(key)) for key in choices.names()),
        outcomes=_outcomes(table),
        likely=table.span("likely"),
        unit=_unit(table) if table.has("unit") else None,
    )
    if (asking is Asking.CHOICE) != bool(step.choices) and choices.keys not in table.notes.noted:
        table.note("choices go with `ask: choice` and only with it; add or remove them", "choices", "choices")
    for choice in step.choices:
        if not choice.hear:
            choices.note("has no phrases; write the words that mean it", "choices", choice.key)
    return step


def _unit(table: Table) -> Unit:
    names = {unit.name.lower(): unit for unit in Unit}
    said = table.text("unit")
    if said and said not in names:
        table.note(f"{said!r} is no unit; {instead(said, names)}", "unknown-word", "unit")
    return names.get(nearest(said, names) or said, Unit.OHM)


def _measure(name: str, table: Table, points: Mapping[str, Point]) -> Measure:
    quantity = table.word("measure", Quantity)
    unit = _unit(table) if table.has("unit") else UNITS_OF[quantity][0]
    if unit not in UNITS_OF[quantity]:
        table.note(f"{unit.name.lower()} is no unit of {quantity.value}; correct one of them", "unit-quantity", "unit")
    common = _common(name, table, "say")
    return Measure(
        **common,
        quantity=quantity,
        unit=unit,
        pairs=_pairs(table, points),
        limits=_limits(table.table("limits")),
        judged_as=table.text("judged_as", "each"),
        accepts_beep=table.truth("accepts_beep"),
        one_wire_off=table.truth("one_wire_off"),
        likely=table.span("likely"),
        outcomes=_outcomes(table),
        field=table.maybe("field"),
        setup=_setup(table, common["needs"]) if table.has("setup") else None,
        through=table.maybe("through"),
    )


def _setup(table: Table, needs: Needs) -> Setup:
    inner = table.table("setup")
    setup = Setup(
        live=needs.power_on,
        knobs=tuple(inner.named_texts("knobs").items()),
        off=frozenset(inner.texts("off")),
        hot=inner.truth("hot"),
        left_on=tuple(inner.named_texts("left_on").items()),
    )
    inner.done()
    return setup


def _pairs(table: Table, points: Mapping[str, Point]) -> tuple[Pair, ...]:
    found: list[Pair] = []
    for number, ends in enumerate(table.lists("between")):
        if len(ends) not in (2, 3):
            table.note("needs two points, and perhaps words; write [first, second]", "shape", "between", number)
            continue
        first, second = ends[:2]
        said = ends[2] if len(ends) == 3 else f"{_said(first, points)} to {_said(second, points)}"
        found.append(Pair(f"{_label(first, points)}-{_label(second, points)}", first, second, said))
    if not found and not any(keys[: len(table.keys) + 1] == (*table.keys, "between") for keys in table.notes.noted):
        table.note("has no `between`; write [[first point, second point]]", "missing-key", "between")
    return tuple(found)


def _label(point: str, points: Mapping[str, Point]) -> str:
    return points[point].label if point in points else point


def _said(point: str, points: Mapping[str, Point]) -> str:
    return points[point].call[0] if point in points else point


def _limits(table: Table) -> LimitRule:
    rule = LimitRule(
        rule=table.text("rule"),
        figures={key: table.number(key) for key in _FIGURES if table.has(key)},
        fields={key: table.text(key) for key in table.names() if key in LIMITS.keys and key not in _RULE_KEYS},
        source=table.text("source", ""),
    )
    table.done()
    return rule
