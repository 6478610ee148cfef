"""The trade's rules that a procedure as a whole can break: what is tested, put back, tried again, told and set."""

import re
from collections.abc import Iterator, Mapping
from decimal import Decimal, InvalidOperation
from typing import Final

from voicetech.authoring.checking import Breach, Check, asked_fields, every_condition, every_step
from voicetech.authoring.checks_measuring import computed_limits
from voicetech.authoring.findings import Keys
from voicetech.authoring.naming import nearest
from voicetech.authoring.ways import outcomes_of
from voicetech.diagnosis import LISTED, ORDER
from voicetech.dialogue.flow import END, MORE_TESTS
from voicetech.language.meaning import DangerKind
from voicetech.limit_rules import RULES
from voicetech.procedure import Ask, Condition, Hold, Inspect, Instruct, Measure, Needs, Phase, Procedure, Section

EMERGENCY_NUMBER: Final = "emergency_number"
"""The number that danger scripts and hand-overs say, its digits apart, as in 9 1 1."""
PROOF_MINUTES: Final = "proof_minutes"
"""Minutes after which a proof of dead no longer stands, up to 30."""
LONGEST_PROOF_MINUTES: Final = 30
"""Source: common practice, no source: after half an hour nobody knows what was done to the circuit."""
SETTINGS: Final = (EMERGENCY_NUMBER, PROOF_MINUTES, ORDER)
_DIGIT_BY_DIGIT: Final = re.compile(r"\d( \d)*")
_CALL: Final = "{" + EMERGENCY_NUMBER + "}"
_SAYS: Final[Mapping[DangerKind, Mapping[str, str]]] = {
    DangerKind.STOP: {"hands off": r"hands|step back|touch nothing"},
    DangerKind.SHOCK: {
        "do not touch a person who is held": r"not touch",
        "power off at the breaker": r"breaker|power",
        f"call {_CALL}": re.escape(_CALL),
        "see a doctor even if it feels fine": r"doctor|hospital",
    },
    DangerKind.FIRE: {
        "power off at the breaker if it is safe": r"breaker|power",
        "do not use water": r"(not|no|never)\b.*\bwater",
        "get out": r"\bout\b|leave",
        f"call {_CALL}": re.escape(_CALL),
    },
    DangerKind.SPARKS: {"hands off": r"hands|touch", "breaker off": r"breaker|power"},
    DangerKind.GAS: {
        "touch no switch": r"\bswitch",
        "no phone here": r"\bphone",
        "leave": r"leave|\bout\b",
        "call from outside": r"outside",
    },
    DangerKind.PERSON: {
        "do not touch a person who is held": r"not touch",
        "power off at the breaker": r"breaker|power",
        f"call {_CALL}": re.escape(_CALL),
    },
}
"""What each script has to say, and words that say it. Source: the trade's rules for danger, common practice."""


def danger_scripts(procedure: Procedure) -> Iterator[Breach]:
    """A danger script says what keeps people alive."""
    for kind, script in procedure.danger_scripts.items():
        text = script.say.lower()
        missing = [what for what, words in _SAYS[kind].items() if not re.search(words, text)]
        if missing:
            message = f"does not say: {', '.join(missing)}; say it, in so many words or others"
            yield Breach(("danger_scripts", kind.value, "say"), message, "danger-script")


def settings(procedure: Procedure) -> Iterator[Breach]:
    """Settings are known, can be said, and are no laxer than the trade."""
    used = set(_placeholders(procedure))
    for name, value in procedure.settings.items():
        keys: Keys = ("settings", name)
        if name == PROOF_MINUTES and not _is_proof(value):
            message = f"{value!r} is no time a proof of dead may stand; write minutes up to {LONGEST_PROOF_MINUTES}"
            yield Breach(keys, message, "setting")
        elif name == EMERGENCY_NUMBER and not _DIGIT_BY_DIGIT.fullmatch(value):
            message = f"{value!r} is not said digit by digit; write its digits apart, as in 9 1 1"
            yield Breach(keys, message, "setting")
        elif name == ORDER and value != LISTED:
            yield Breach(keys, f"{value!r} is not known; write {LISTED}, or leave it out", "setting")
        elif name not in SETTINGS and name not in used:
            guess = nearest(name, [known for known in SETTINGS if known not in procedure.settings])
            do = f"did you mean {guess}?" if guess else "name it in braces in a text, or remove it"
            yield Breach(keys, f"nothing looks at the setting {name}; {do}", "setting")


def _is_proof(value: str) -> bool:
    try:
        return 0 < Decimal(value) <= LONGEST_PROOF_MINUTES
    except InvalidOperation:
        return False


def _placeholders(procedure: Procedure) -> Iterator[str]:
    from voicetech.authoring.checks_references import every_text

    for _keys, text in every_text(procedure):
        yield from re.findall(r"{(\w+)}", text)


_PUT_BACK: Final[Mapping[str, str]] = {
    "wires and terminals, tight": r"tight",
    "test jumpers": r"jumper",
    "fuses and limits that are bypassed": r"bypass",
    "covers": r"cover|panel",
}
"""What putting back asks about before power, and words of it. Source: the trade's list, common practice, no source."""


_GONE: Final = "complaint_gone"
"""The field of the question whether the complaint is gone."""
_DIAL_TURNED: Final = r"\bdials?\b.*\b(highest|lowest|until)\b"
"""Words of a test that turns the dial of a thermostat, which nobody sees again behind its cover."""


def whole_job(procedure: Procedure) -> Iterator[Breach]:
    """A procedure has what the job has from call to report."""
    asked = asked_fields(procedure)
    phases = {section.phase for section in procedure.sections}
    told_not_found = any(
        condition.field == "found" and ("no" in condition.values) != condition.absent
        for _keys, condition in every_condition(procedure)
    )
    earth = any(
        isinstance(step, Measure) and step.limits.rule == "earth"
        for section in procedure.sections
        if section.phase is Phase.PUT_BACK
        for step in section.steps
    )
    powered = any(
        step.needs.power_on for section in procedure.sections if section.phase is Phase.RETEST for step in section.steps
    )
    back = " ".join(
        step.prompt.full.lower()
        for section in procedure.sections
        if section.phase is Phase.PUT_BACK
        for step in section.steps
    )
    turned = any(
        re.search(_DIAL_TURNED, step.prompt.full.lower())
        for section in procedure.sections
        if section.phase is Phase.TEST and section.role is None
        for step in section.steps
    )
    left_safe = any(
        isinstance(step, Ask) and step.field == "consent" and any(choice.key == "leave-safe" for choice in step.choices)
        for _keys, _section, step in every_step(procedure)
    )
    made_safe = any(
        condition.field == "consent" and not condition.absent and "leave-safe" in condition.values
        for section in procedure.sections
        if section.phase is Phase.REPAIR
        for condition in section.when
    )
    wanted = {
        "nothing asks what the customer complains of; ask it in an intake section, with the field complaint": (
            "complaint" in asked
        ),
        'nothing is said where no fault was found; write steps with `when: {found: ["no"]}`': told_not_found,
        "nothing is put back; write a section with `phase: put-back`": Phase.PUT_BACK in phases,
        "putting back does not measure the frame to its ground; add a measurement by the rule earth": earth
        or Phase.PUT_BACK not in phases,
        **{
            f"putting back does not ask about {what}; add a step that does": bool(re.search(words, back)) or not back
            for what, words in _PUT_BACK.items()
        },
        "a test turns a dial and putting back says nothing of dials; add a step in which each is where it stood": (
            not turned or "dial" in back or not back
        ),
        "the fault is stated to nobody; write a section with `phase: decide`": Phase.DECIDE in phases,
        "nothing is mended; write a section with `phase: repair`": Phase.REPAIR in phases,
        "it may be left safe and nothing is done for it; write a section with `phase: repair` and "
        "`when: {consent: [leave-safe]}`": made_safe or not left_safe,
        "nothing leads back to the tests where the complaint is still there; write `next: more-tests` in the retest": (
            Phase.RETEST not in phases or _leads_back(procedure)
        ),
        "nothing is tried again with power; write a section with `phase: retest` and a step with `needs: powered`": (
            powered
        ),
        "nobody asks whether the complaint is gone; ask it in the retest, with the field complaint_gone": (
            "complaint_gone" in asked or Phase.RETEST not in phases
        ),
        "the customer is told nothing; write a section with `phase: advice`": Phase.ADVICE in phases,
    }
    for message, there in wanted.items():
        if not there:
            # In the procedure's own file, whoever has its sections.
            yield Breach(("procedure", 0), message, "trade-part")


def _leads_back(procedure: Procedure) -> bool:
    """Return whether the retest leads back to the tests, and wherever the complaint is said to be there still."""
    retests = [step for section in procedure.sections if section.phase is Phase.RETEST for step in section.steps]
    back = [step for step in retests if any(o.next == MORE_TESTS for o in outcomes_of(step).values())]
    return bool(back) and all(step in back for step in retests if isinstance(step, Ask) and step.field == _GONE)


def put_back_dead(procedure: Procedure) -> Iterator[Breach]:
    """Putting back is done dead."""
    for keys, section, step in every_step(procedure):
        if section.phase is Phase.PUT_BACK and step.needs.power_on:
            message = "covers go on before power does; write `needs: dead`, or move it to the retest"
            yield Breach((*keys, "needs"), message, "put-back-live")


def element_to_sheath(procedure: Procedure) -> Iterator[Breach]:
    """Who measures an element's ohms measures both its terminals to the sheath in the same section."""
    for keys, section, step in every_step(procedure):
        if not isinstance(step, Measure) or step.limits.rule != "element" or _other_method(section, step.id):
            continue
        open_ends = [
            frozenset({pair.first, pair.second})
            for other in section.steps
            if isinstance(other, Measure) and other.limits.rule in RULES and _expects_open(other.limits.rule)
            for pair in other.pairs
        ]
        for pair in step.pairs:
            ends = {pair.first, pair.second}
            if not ends <= procedure.points.keys():
                continue
            bare = sorted(end for end in ends if not any(end in each and not ends <= each for each in open_ends))
            if bare:
                message = (
                    "right ohms do not show a path to the sheath; in this section measure "
                    f"{' and '.join(bare)} to it by the rule open"
                )
                yield Breach(keys, message, "element-sheath")


def _other_method(section: Section, step_id: str) -> bool:
    return any(outcome.again_by == step_id for step in section.steps for outcome in outcomes_of(step).values())


def _expects_open(rule: str) -> bool:
    return rule == "insulation" or computed_limits(rule).expect_open


def element_looked_at(procedure: Procedure) -> Iterator[Breach]:
    """An element is looked at before its ohms are taken, and damage that is seen leads to a cause."""
    for section in procedure.sections:
        looked_at = False
        for step in section.steps:
            if isinstance(step, Inspect):
                looked_at = True
            elif isinstance(step, Measure) and step.limits.rule == "element" and not looked_at:
                keys = ("sections", section.id, "steps", step.id)
                message = "damage seen condemns an element whatever it reads; look at it first, by a step `inspect`"
                yield Breach(keys, message, "element-look")
                break


_PARTS_ALONE: Final = frozenset({"element", "fuse", "must-open", "sensor"})
"""Limit rules for the ohms of one part by itself."""
_APART: Final = re.compile(r"\b(wires?|plug|apart|bare|unplugged|in (the|your) hand|out of)\b")


def read_with_others(procedure: Procedure) -> Iterator[Breach]:
    """Where the ohms of one part are taken a wire is off, or the words tell to take it apart."""
    for keys, section, step in every_step(procedure):
        if not isinstance(step, Measure) or step.limits.rule not in _PARTS_ALONE or section.phase is not Phase.TEST:
            continue
        if not step.one_wire_off and not _APART.search(f"{step.prompt.full} {step.prompt.how}".lower()):
            message = "with every wire on the meter reads other parts too; write `one_wire_off: yes` and say so"
            yield Breach(keys, message, "one-wire-off")


def supply_under_load(procedure: Procedure) -> Iterator[Breach]:
    """A supply that is judged idle is judged under load too, in the same section."""
    for keys, section, step in every_step(procedure):
        judged = {other.judged_as for other in section.steps if isinstance(other, Measure)}
        idle = isinstance(step, Measure) and step.judged_as in ("supply-idle", "supply-alone")
        if idle and "supply-loaded" not in judged:
            message = "a joint shows only under load; measure the same pairs with `judged_as: supply-loaded` too"
            yield Breach(keys, message, "supply-load")


TRIPPED: Final = "tripped"
"""The answer to a question for the breaker that says it has tripped."""


def tripped_breaker(procedure: Procedure) -> Iterator[Breach]:
    """While a breaker is tripped nothing is switched on but the one reset that is asked after by it."""
    fields = [field for field, answers in asked_fields(procedure).items() if answers and TRIPPED in answers]
    for keys, section, step in every_step(procedure):
        early = section.phase in (Phase.SETTINGS, Phase.TEST) and section.role is None
        for field in fields if early and step.needs.power_on else ():
            about = [condition for condition in (*section.when, *step.when) if condition.field == field]
            if not any(condition.values == (TRIPPED,) or _refuses(condition) for condition in about):
                message = (
                    "brings power to a breaker that tripped, before its cause is looked for; write "
                    f"`when_not: {{{field}: [{TRIPPED}]}}`"
                )
                yield Breach(keys, message, "tripped-breaker")


def _refuses(condition: Condition) -> bool:
    return (TRIPPED in condition.values) == condition.absent


_HANDS_ON: Final = re.compile(
    r"\b((remove|unscrew|disconnect|undo|lift off|take off|pull off|open) (the |its |a |one |both |rear |back |front )*"
    r"(wires?|covers?|panels?|terminals?|screws?|connectors?)|"
    r"(wires?|covers?|panels?|terminals?|screws?) (off|apart|open)|wires? back)\b"
)
_PROBES: Final = re.compile(r"\b(probes|meter|leads) (on|onto|across)\b|\bclamp (on|round|around)\b")
_POWER_ON: Final = re.compile(
    r"\b(restore (the )?(power|supply)|(switch|turn) on the (power|breaker|supply)|"
    r"(switch|turn|put) (the )?(power|breaker|supply)( back)? on|plug (it|the \w+) (back )?in)\b"
)
_REFUSED: Final = re.compile(r"\b(not|never|don't|no)\b")


def hands_on(procedure: Procedure) -> Iterator[Breach]:
    """Who opens a cover or takes off a wire does so dead."""
    for keys, section, step in every_step(procedure):
        if section.role is None and step.needs in (Needs.ANY, Needs.POWERED):
            if isinstance(step, Inspect) and section.access:
                message = "what has to be opened first is looked at dead; write `needs: dead`"
                yield Breach((*keys, "needs"), message, "hands-on")
                continue
            # Ohms in the wrong state are told by a rule of their own.
            found = "" if isinstance(step, Measure) else _told_to(_HANDS_ON, step.prompt.full)
            if found:
                message = f"{found!r} is work on the wiring; write `needs: dead`"
                yield Breach((*keys, "needs"), message, "hands-on")
            probes = "" if isinstance(step, Measure) else _told_to(_PROBES, step.prompt.full)
            if probes:
                message = f"{probes!r} brings hands to live parts; write `needs: live`, so that the hold comes first"
                yield Breach((*keys, "needs"), message, "hands-on")


_HANDS_AT_WORK: Final = (Phase.SETTINGS, Phase.TEST, Phase.RETEST)
_HANDS_INSIDE: Final = (Phase.REPAIR, Phase.PUT_BACK)


def hands_off(procedure: Procedure) -> Iterator[Breach]:
    """Among steps done dead or live, one without a proof of dead says that nothing inside is touched."""
    for section in procedure.sections:
        hands = any(step.needs in (Needs.DEAD, Needs.LIVE) for step in section.steps)
        for step in section.steps if section.role is None else ():
            # Who looks or takes something off has come close, whatever else the section does.
            close = hands or isinstance(step, (Inspect, Instruct))
            if section.phase not in _HANDS_INSIDE and not (section.phase in _HANDS_AT_WORK and close):
                continue
            if step.needs is Needs.DEAD and step.hands_off:
                message = "is done with hands inside by its `needs: dead`; take out `hands_off`, or the need"
                yield Breach(("sections", section.id, "steps", step.id, "hands_off"), message, "hands-off")
            if isinstance(step, (Hold, Measure)) or step.needs is Needs.DEAD or step.hands_off:
                continue
            message = (
                f"comes without a proof of dead (`needs: {step.needs.value}`); write `needs: dead`, or "
                "`hands_off: yes` where nothing inside is touched"
            )
            yield Breach(("sections", section.id, "steps", step.id, "needs"), message, "hands-off")


def tested_while_testing(procedure: Procedure) -> Iterator[Breach]:
    """What is said to show a cause is a test, or a look at the settings before."""
    phases = {section.id: section.phase for section in procedure.sections}
    for cause in procedure.causes.values():
        phase = phases.get(cause.tested_by)
        if phase is not None and phase not in (Phase.SETTINGS, Phase.TEST):
            message = f"{cause.tested_by} is no test, its phase is {phase.value}; name a test, or correct the phase"
            yield Breach(("causes", cause.id, "tested_by"), message, "tested-elsewhere")


def passed_over(procedure: Procedure) -> Iterator[Breach]:
    """Outside tests no answer jumps past a step that has no conditions of its own."""
    for keys, section, step in every_step(procedure):
        if section.role is not None or section.phase is Phase.TEST:
            continue
        at = section.steps.index(step)
        names = [other.id for other in section.steps]
        for name, outcome in outcomes_of(step).items():
            if outcome.hand_over is not None or outcome.danger is not None:
                continue
            to = len(names) if outcome.next == END else names.index(outcome.next) if outcome.next in names else 0
            passed = next((other for other in section.steps[at + 1 : to] if not other.when), None)
            if passed is not None:
                message = f"jumps past {passed.id}, which then is never asked; write `when` at {passed.id} instead"
                yield Breach((*keys, "outcomes", name, "next"), message, "passed-over")


def power_elsewhere(procedure: Procedure) -> Iterator[Breach]:
    """Power comes on only in the program's own sections."""
    for keys, section, step in every_step(procedure):
        found = _told_to(_POWER_ON, step.prompt.full) if section.role is None else ""
        if found:
            message = (
                f"{found!r} brings power without its hold; say what needs it with `needs: live` or `powered`, and the "
                "program asks for it"
            )
            yield Breach(keys, message, "power-elsewhere")


def _told_to(what: re.Pattern[str], words: str) -> str:
    """Return the words that tell somebody to do this, empty where none do or they tell not to."""
    for sentence in re.split(r"[.?!;]", words.lower()):
        found = what.search(sentence)
        if found and not _REFUSED.search(sentence[: found.start()]):
            return found[0]
    return ""


CHECKS: Final[tuple[Check, ...]] = (
    danger_scripts,
    settings,
    put_back_dead,
    element_to_sheath,
    element_looked_at,
    read_with_others,
    supply_under_load,
    tripped_breaker,
    hands_on,
    power_elsewhere,
)
ADVICE: Final[tuple[Check, ...]] = (whole_job, hands_off, tested_while_testing, passed_over)
"""What is told by the check alone."""
