"""What the words of a step tell somebody to do, held to its state and to what its answers lead to."""

import re
from collections.abc import Collection, Iterator
from typing import Final

from voicetech.authoring.checking import Breach, Check, asked_fields, every_step, words_key
from voicetech.authoring.checks_measuring import computed_limits
from voicetech.authoring.checks_trade import TRIPPED
from voicetech.authoring.findings import Keys
from voicetech.authoring.ways import outcomes_of
from voicetech.dialogue.flow import MORE_TESTS
from voicetech.electrical.appliance import Heater
from voicetech.language.meaning import Asking
from voicetech.limit_rules import RULES
from voicetech.procedure import (
    FRAME,
    Ask,
    Inspect,
    Instruct,
    Measure,
    Needs,
    Outcome,
    Phase,
    Procedure,
    Section,
    Step,
)
from voicetech.units import Unit

_GUARDS: Final = r"([\w-]+ )*(fuse|limit|limiter|cut-?out|thermostat|interlock|latch|breaker)s?\b"
_BYPASSES: Final = re.compile(
    rf"^((then|now|and|first|next) )*"
    rf"(?P<deed>(bridge|bypass|jump|jumper|short|shunt|link)( out| over| across)? {_GUARDS})|"
    rf"\b(jumper|wire|lead|clip) (across|over) {_GUARDS}"
)
_REFUSED: Final = re.compile(r"\b(not|never|don't|no|none|without|is|any)\b")
_DEVICE: Final = r"(it|them|(the |that |one |each )?([\w-]+ ){0,2}?[\w-]+)"
_SWITCHED_ON: Final = re.compile(rf"^((then|now|and|first|next) )*(?P<deed>(switch|turn) (on\b|{_DEVICE} on\b))")
_NO_LOAD: Final = re.compile(r"\b(meter|tester|lamp|light|torch|clock|water|valve|tap)\b")
_NOW: Final = re.compile(r"\b(right now|now)\b")
_DANGER: Final = re.compile(r"\b(spark\w*|smok\w*|arc(s|ing)|flames?|on fire|burning|shocks?|smell of gas|gas smell)\b")
_HARM: Final = re.compile(r"\b(holes?|blister\w*|swoll\w*|swell\w*|bulg\w*|split|crack\w*|burnt through)\b")
_BACK: Final = re.compile(r"\bwires? back\b")
_WIRE_OFF: Final = re.compile(r"\b(one|both|each|its|the) wires? off\b")
_METALS: Final = r"(sheath|tank|frame|housing|case|casing|cabinet|chassis|body|tube|ground)"
_METAL: Final = re.compile(rf"\b{_METALS}\b|\bmetal\b")
_TO_METAL: Final = re.compile(rf"\bto (the |its |bare )*{_METALS}\b(?! (element|wire|leg|side|pin))")
_STILL_THERE: Final = ("complaint_gone", "off_is_off")
"""Questions of the retest whose no says that the appliance is not mended."""


def bypassed(procedure: Procedure) -> Iterator[Breach]:
    """No text tells anybody to bridge what protects."""
    for keys, text in _deeds(procedure):
        found = _told_to(_BYPASSES, text)
        if found:
            message = f"{found!r} takes a protection out; never bridge one, not even to try it: measure across it dead"
            yield Breach(keys, message, "bypass")


def _deeds(procedure: Procedure) -> Iterator[tuple[Keys, str]]:
    """Return the texts by which somebody goes to work, with the keys that lead to them."""
    for keys, _section, step in every_step(procedure):
        yield (*keys, words_key(step)), step.prompt.full
        yield (*keys, "how"), step.prompt.how
    for remedy in procedure.remedies.values():
        yield ("remedies", remedy.id), remedy.say


def _told_to(what: re.Pattern[str], words: str) -> str:
    for sentence in re.split(r"[.?!;:,]\s*", words.lower()):
        found = what.search(sentence)
        if found and not _REFUSED.search(sentence[: found.start()]):
            return found.groupdict().get("deed") or found[0]
    return ""


def switched_on_dead(procedure: Procedure) -> Iterator[Breach]:
    """What has to be switched on to be seen is not done dead."""
    for keys, section, step in every_step(procedure):
        if section.role is not None or step.needs is not Needs.DEAD:
            continue
        found = _told_to(_SWITCHED_ON, step.prompt.full)
        if found and not _NO_LOAD.search(found):
            message = f"{found!r} needs power and this is done dead; write `needs: live` or `powered`, behind its hold"
            yield Breach((*keys, "needs"), message, "power-elsewhere")


def danger_there_now(procedure: Procedure) -> Iterator[Breach]:
    """A yes to a question for danger that is there now stops the job."""
    for keys, _section, step in every_step(procedure):
        if not isinstance(step, Ask) or step.asking is not Asking.YES_NO:
            continue
        words = step.prompt.full.lower()
        outcome = step.outcomes.get("yes")
        if outcome is None or outcome.danger is not None or not _NOW.search(words):
            continue
        found = _DANGER.search(words)
        if found is not None:
            message = f"{found[0]!r} is danger that is there now; write `danger: stop` under outcomes.yes"
            yield Breach((*keys, "outcomes", "yes"), message, "present-danger")


def second_trip(procedure: Procedure) -> Iterator[Breach]:
    """A breaker that trips again once it was reset is handed over."""
    for keys, _section, step in every_step(procedure):
        if isinstance(step, Ask) and step.needs.power_on and step.role is None:
            outcome = step.outcomes.get(TRIPPED)
            if outcome is not None and outcome.hand_over is None and outcome.danger is None:
                message = "a second trip is never reset; write `hand_over`, to a licensed electrician"
                yield Breach((*keys, "outcomes", TRIPPED), message, "second-trip")


def reset_before_tests(procedure: Procedure) -> Iterator[Breach]:
    """In a test a breaker that tripped is reset only behind a measurement of the insulation."""
    fields = [field for field, answers in asked_fields(procedure).items() if answers and TRIPPED in answers]
    for section in procedure.sections:
        if section.phase is not Phase.TEST or section.role is not None:
            continue
        measured = False
        for step in section.steps:
            measured = measured or _reads_open(step)
            about = [c for c in (*section.when, *step.when) if c.field in fields and c.values == (TRIPPED,)]
            if step.needs.power_on and not measured and any(not c.absent for c in about):
                message = (
                    "the breaker that tripped gets power before the insulation is measured; put in front a step that "
                    "measures elements and wiring to the frame by the rule open"
                )
                yield Breach(("sections", section.id, "steps", step.id), message, "tripped-breaker")
                break


def _reads_open(step: Step) -> bool:
    rule = step.limits.rule if isinstance(step, Measure) and step.needs is Needs.DEAD else ""
    return rule == "insulation" or (rule in RULES and computed_limits(rule).expect_open)


def harm_goes_on(procedure: Procedure) -> Iterator[Breach]:
    """A hole, a blister or a crack that is seen in an element leads to a cause, whatever it reads."""
    for section in procedure.sections:
        if not any(isinstance(step, Measure) and step.limits.rule == "element" for step in section.steps):
            continue
        for step in section.steps:
            outcome = step.outcomes.get("fault") if isinstance(step, Inspect) else None
            found = _HARM.search(step.prompt.full.lower())
            if outcome is None or found is None or outcome.cause or outcome.hand_over or outcome.danger:
                continue
            if outcome.next is None and outcome.again_by is None:
                keys = ("sections", section.id, "steps", step.id, "outcomes", "fault")
                message = f"{found[0]!r} condemns an element whatever it reads; write `cause`"
                yield Breach(keys, message, "element-look")


def one_method(procedure: Procedure) -> Iterator[Breach]:
    """An element that its ohms condemn was measured by another method too."""
    for section in procedure.sections:
        steps = [step for step in section.steps if isinstance(step, Measure) and step.limits.rule == "element"]
        led_to = {outcome.again_by for step in section.steps for outcome in outcomes_of(step).values()}
        for step in steps:
            if step.setup is not None and step.setup.hot:
                # What opens with heat is cold again before it is measured otherwise.
                continue
            ends = {name: outcome for name, outcome in step.outcomes.items() if outcome.cause is not None}
            again = any(outcome.again_by is not None for outcome in step.outcomes.values())
            if ends and not again and step.id not in led_to:
                keys = ("sections", section.id, "steps", step.id, "outcomes", next(iter(ends)))
                message = (
                    "a part is condemned by one method alone; write `again_by` at one of the outcomes, with a step "
                    "that measures otherwise: both wires off, terminals bare"
                )
                yield Breach(keys, message, "other-method")
                break


def wires_off(procedure: Procedure) -> Iterator[Breach]:
    """Ohms for which the words or the set-up take something off say that a wire is off, and both take it off."""
    for keys, section, step in every_step(procedure):
        if not isinstance(step, Measure) or step.unit is not Unit.OHM or step.one_wire_off:
            continue
        if step.setup is not None and step.setup.off:
            message = "the set-up takes parts off and the report would not say so; write `one_wire_off: yes`"
            yield Breach(keys, message, "off-unsaid")
        elif section.role is None and (found := _told_to(_WIRE_OFF, step.prompt.full)):
            message = f"{found!r} is said and nothing is taken off; write `one_wire_off: yes`, and it under `setup`"
            yield Breach(keys, message, "off-unsaid")


def wires_said_back(procedure: Procedure) -> Iterator[Breach]:
    """A step of a test whose words have wires put back says so."""
    for keys, section, step in every_step(procedure):
        if section.phase is not Phase.TEST or section.role is not None or not isinstance(step, Instruct):
            continue
        if step.needs is Needs.DEAD and not step.puts_back and _BACK.search(step.prompt.full.lower()):
            message = (
                "has wires put back and does not say so, so that nobody can hold it to that; write `puts_back: yes`"
            )
            yield Breach(keys, message, "back-unsaid")


def metal_said(procedure: Procedure) -> Iterator[Breach]:
    """Where the words send a probe to bare metal, one of the points is bare metal."""
    circuit = procedure.circuit
    bodies = {FRAME, *(part.sheath for part in circuit.parts if isinstance(part, Heater))} if circuit else {FRAME}
    for keys, section, step in every_step(procedure):
        if section.role is not None or not isinstance(step, Measure) or step.unit is not Unit.OHM:
            continue
        for key, words in ((words_key(step), step.prompt.full), ("short", step.prompt.short)):
            found = _TO_METAL.search(words.lower())
            if found and not any(_is_metal(procedure, bodies, end) for p in step.pairs for end in (p.first, p.second)):
                message = f"{found[0]!r} is said, and no such point is measured; correct the words or `between`"
                yield Breach((*keys, key), message, "points-said")
                break


def _is_metal(procedure: Procedure, bodies: Collection[str], name: str) -> bool:
    point = procedure.points.get(name)
    said = "" if point is None else " ".join((point.label, *point.call, point.at)).lower()
    return name in bodies or point is None or point.label in bodies or bool(_METAL.search(said))


def still_there(procedure: Procedure) -> Iterator[Breach]:
    """Where the complaint is still there, or something stays on, testing goes on or the work is handed over."""
    for keys, _section, step in every_step(procedure):
        if not isinstance(step, Ask) or step.field not in _STILL_THERE:
            continue
        outcome = step.outcomes.get("no")
        if outcome is not None and not _leads_back(outcome):
            message = "the job ends as mended although it is not; write `next: more-tests`, or `hand_over`"
            yield Breach((*keys, "outcomes", "no"), message, "not-mended")


def _leads_back(outcome: Outcome) -> bool:
    return outcome.next == MORE_TESTS or outcome.hand_over is not None or outcome.danger is not None


def tools_too_soon(procedure: Procedure) -> Iterator[Breach]:
    """Settings come before tools: what is measured belongs to a test, to putting back or to the retest."""
    for keys, section, step in every_step(procedure):
        soon = section.phase in (Phase.INTAKE, Phase.SETTINGS)
        if soon and isinstance(step, Measure) and step.needs is not Needs.ANY:
            message = f"tools come after {section.phase.value}; write `phase: test` at its section, or move the step"
            yield Breach(keys, message, "tools-too-soon")


def never_put_back(procedure: Procedure) -> Iterator[Breach]:
    """A test that takes wires off has a step that puts them back."""
    for section in procedure.sections:
        if section.phase is not Phase.TEST or section.role is not None or _puts_back(section):
            continue
        for step in section.steps:
            if isinstance(step, Measure) and step.one_wire_off and not _mended_by_itself(section):
                message = (
                    "a wire comes off and no step of this test has it put back; add one with `puts_back: yes` that "
                    "every way through comes to"
                )
                yield Breach(("sections", section.id, "steps", step.id), message, "not-put-back")
                break


def _puts_back(section: Section) -> bool:
    return any(step.puts_back for step in section.steps)


def _mended_by_itself(section: Section) -> bool:
    return all(
        outcome.cause is not None or outcome.hand_over is not None
        for outcome in outcomes_of(section.steps[-1]).values()
    )


CHECKS: Final[tuple[Check, ...]] = (bypassed, danger_there_now, second_trip, reset_before_tests)
ADVICE: Final[tuple[Check, ...]] = (
    switched_on_dead,
    harm_goes_on,
    one_method,
    wires_off,
    wires_said_back,
    metal_said,
    still_there,
    tools_too_soon,
    never_put_back,
)
"""What is told by the check alone."""
