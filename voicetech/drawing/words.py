"""What stands on paper for the names a procedure uses: results, conditions, needs, kinds of steps, where ways lead."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from voicetech.drawing.numbering import Numbers, field_of
from voicetech.drawing.ways import (
    ANY,
    LIVE,
    NOT_SHOWN,
    OTHER,
    SAID,
    STILL_LIVE,
    To,
    Way,
)
from voicetech.procedure import (
    Access,
    Ask,
    ComesUp,
    Condition,
    Hold,
    Inspect,
    Instruct,
    Measure,
    Needs,
    Pair,
    Phase,
    Procedure,
    Section,
    SectionRole,
    Step,
)
from voicetech.units import Quantity

OUTRANKED: Final = "Local code, the maker's sheet and a licensed electrician outrank this sheet."

PHASES: Final = {
    Phase.INTAKE: "Intake",
    Phase.SETTINGS: "Settings",
    Phase.TEST: "Test",
    Phase.DECIDE: "Decide",
    Phase.REPAIR: "Repair",
    Phase.PUT_BACK: "Put back",
    Phase.RETEST: "Retest",
    Phase.ADVICE: "Advice",
    Phase.REPORT: "Report",
}
NEEDS: Final = {Needs.ANY: "ANY", Needs.DEAD: "DEAD", Needs.LIVE: "LIVE", Needs.POWERED: "POWER ON"}
NEEDS_SAY: Final = {
    Needs.ANY: "nothing is touched",
    Needs.DEAD: "isolated and proved dead, and the proof still stands",
    Needs.LIVE: "power on, probes on live parts",
    Needs.POWERED: "power on, every cover on",
}
ROLES: Final = {
    SectionRole.MAKE_SAFE: (
        "In front of every step that needs the appliance DEAD while no proof of dead stands. A proof ends with power, "
        "a pause, a hand-over, danger, leaving the appliance, and with time. No step of it is skipped."
    ),
    SectionRole.GO_LIVE: "In front of every step that is LIVE. Power comes on nowhere else. No step of it is skipped.",
    SectionRole.POWER_UP: (
        "In front of every step with POWER ON and covers on. Power comes on nowhere else. No step of it is skipped."
    ),
    SectionRole.NULL_LEADS: "In front of the first ohms of a job; what the leads show is taken off every ohms reading.",
}
_RESULTS: Final = {
    "below": "below",
    "within": "within",
    "marginal": "marginal",
    "above": "above",
    "over_range": "OL",
    "clean": "clean",
    "fault": "fault seen",
    "done": "done",
    SAID: "words said",
    ANY: "any result",
    OTHER: "any other",
    NOT_SHOWN: "anything else",
    LIVE: "a pair over its limit",
    STILL_LIVE: "over it again, on low impedance",
    "208y": "208 volt supply",
    "split-phase": "240 volt supply",
    "lost-leg-backfed": "lost leg fed back",
    "one-leg-twice": "both hots on one leg",
}
_MEASURED: Final = {
    Quantity.VOLTAGE: "volts",
    Quantity.RESISTANCE: "ohms",
    Quantity.CONTINUITY: "continuity",
    Quantity.CURRENT: "amps",
    Quantity.TEMPERATURE: "degrees",
    Quantity.POWER: "watts",
    Quantity.DURATION: "seconds",
}
_SUPPLY: Final = {
    "supply-idle": "idle",
    "supply-alone": "with nothing on it that draws",
    "supply-loaded": "under load",
    "supply-unplugged": "unplugged",
}

_PROVED: Final = {"found": "a cause is proved", "found_too": "a second cause is proved"}


def plain(name: str) -> str:
    """Return a name as words: "bake-open" becomes "bake open"."""
    return name.replace("-", " ").replace("_", " ").strip()


def results_words(step: Step, results: tuple[str, ...]) -> str:
    """Return results in a few words: "below, above, OL"."""
    if results == (ANY,):
        return {Measure: "any reading", Ask: "any answer"}.get(type(step), "any result")
    return ", ".join(_result(step, result) for result in results)


def _result(step: Step, result: str) -> str:
    if isinstance(step, Ask) and step.choices:
        return said_choice(step, result)
    return _RESULTS.get(result, plain(result))


def said_choice(step: Ask, key: str) -> str:
    """Return an answer as it is said, by its first phrase where that is plain words, else by its key."""
    for choice in step.choices:
        if choice.key == key and choice.hear and not set(choice.hear[0]) & set("[]()|"):
            return choice.hear[0]
    return plain(key)


def kind_words(step: Step) -> str:
    """Return what kind of step it is and what it is about: "Measure ohms, one wire off", "Look at: terminal block"."""
    match step:
        case Hold():
            return "HOLD"
        case Ask(choices=choices):
            return "Ask, choose one" if choices else "Ask"
        case Inspect(part=part):
            return f"Look at: {part}"
        case Measure():
            more = [
                _SUPPLY.get(step.judged_as, ""),
                "one wire off" if step.one_wire_off else "",
                "hot" if step.setup is not None and step.setup.hot else "",
            ]
            return ", ".join([f"Measure {_MEASURED[step.quantity]}", *filter(None, more)])
        case Instruct():
            return "Do"


def condition_words(procedure: Procedure, numbers: Numbers, conditions: Iterable[Condition]) -> str:
    """Return conditions in words, with the step that asks: "only if connection (1.11) is hard wired"; "" for none."""
    told = [_condition(procedure, numbers, condition) for condition in conditions]
    only = [words for words, absent in told if not absent]
    never = [words for words, absent in told if absent]
    parts = [f"only if {' and '.join(only)}"] if only else []
    parts += [f"not if {' or if '.join(never)}"] if never else []
    return "; ".join(parts)


def _condition(procedure: Procedure, numbers: Numbers, condition: Condition) -> tuple[str, bool]:
    values = [_value(procedure, condition.field, value) for value in condition.values]
    listed = " or ".join(values) if len(values) < 3 else f"{', '.join(values[:-1])} or {values[-1]}"
    if condition.field in _PROVED:
        return _PROVED[condition.field], (condition.values == ("no",)) != condition.absent
    if condition.field == "cause":
        return f"the cause is {listed}", condition.absent
    if condition.field == "supply":
        return f"the supply was found to be: {listed}", condition.absent
    at = numbers.asked_at(condition.field)
    return f"{plain(condition.field)}{f' ({at})' if at else ''} is {listed}", condition.absent


def _value(procedure: Procedure, field: str, value: str) -> str:
    if field == "cause":
        return plain(value)
    if field == "supply":
        return _RESULTS.get(value, plain(value))
    for section in procedure.sections:
        for step in section.steps:
            if isinstance(step, Ask) and field_of(step) == field and any(each.key == value for each in step.choices):
                return said_choice(step, value)
    return plain(value)


_COMES_UP: Final = {ComesUp.FIRST: "before all other tests", ComesUp.BY_NAME: "only where asked for by name"}


def comes_up_words(section: Section) -> str:
    """Return when a test comes up, "" where it is by its worth, or is no test."""
    return _COMES_UP.get(section.asked, "") if _is_test(section) else ""


def minutes_words(procedure: Procedure, section: Section) -> str:
    """Return a test's minutes: "2 min", or "2 to 5 min" where something has to be opened; "" for other sections."""
    if not _is_test(section):
        return ""
    opening = sum((each.cost_min for each in _opened(procedure, section)), Decimal(0))
    return f"{section.cost_min:f}{f' to {section.cost_min + opening:f}' if opening else ''} min"


def asked_words(procedure: Procedure, section: Section) -> str:
    """Return when a test comes up and what it takes: "Before all other tests. 3 minutes, and 2 to open the oven."."""
    if not _is_test(section):
        return ""
    behind = [plain(cause.id) for cause in procedure.causes.values() if section.id in cause.upstream]
    opened = [f"{each.cost_min:f} to open {each.say}" for each in _opened(procedure, section)]
    told = ", and ".join([f"{section.cost_min:f} {'minute' if section.cost_min == 1 else 'minutes'}", *opened])
    proved = f"also once one of these is proved: {', '.join(behind)}" if behind else ""
    return " ".join(f"{words[:1].upper()}{words[1:]}." for words in (comes_up_words(section), proved, told) if words)


def _is_test(section: Section) -> bool:
    return section.role is None and section.phase is Phase.TEST


def _opened(procedure: Procedure, section: Section) -> list[Access]:
    return [procedure.access[name] for name in section.access if name in procedure.access]


@dataclass(frozen=True, slots=True)
class Led:
    """A way in words: `first` what it comes to, in heavy letters, then `more` beside it."""

    first: str
    more: str


def led(numbers: Numbers, section: Section, step: Step, way: Way) -> Led:
    """Return where a way leads in a few words, with the number of the step."""
    return Led(_goal(numbers, section, step, way), "; ".join(_beliefs(way)))


def _goal(numbers: Numbers, section: Section, step: Step, way: Way) -> str:
    found = f"FOUND {plain(way.cause)}. " if way.proved else ""
    match way.to:
        case To.DANGER:
            return f"{found}DANGER STOP"
        case To.HAND_OVER:
            why = "" if way.proved and way.hand_over == way.cause else f": {plain(way.hand_over)}"
            return f"{found}STOP, HAND OVER{why}"
        case To.TESTS:
            return f"{found}BACK TO TESTS"
        case To.END if section.role is not None:
            return f"{found}END of {numbers.of(section)}, back to the step that waits"
        case To.END:
            return f"{found}END of {numbers.of(section)}"
        case To.STEP if way.step == step.id:
            return f"{found}this step again"
        case To.STEP:
            return f"{found}{'another way, ' if way.again else 'go to '}{numbers.step(section, way.step)}"
        case To.BELOW:
            return f"{found}go on below"


def _beliefs(way: Way) -> Iterator[str]:
    suspects = [plain(name) for name in ((way.cause,) if way.cause and not way.proved else ()) + way.suspects]
    if suspects:
        yield f"suspect {', '.join(suspects)}"
    if way.excludes:
        yield f"rules out {', '.join(plain(name) for name in way.excludes)}"


def pair_words(procedure: Procedure, pair: Pair) -> str:
    """Return two points by their labels: "L1 to N"."""
    labels = (procedure.points[end].label if end in procedure.points else end for end in (pair.first, pair.second))
    return " to ".join(labels)


def gate_words(numbers: Numbers, needs: Needs) -> str:
    """Return what the engine puts in front of a step that needs this, where it is not so already; "" where nothing."""
    safe, live = numbers.role(SectionRole.MAKE_SAFE), numbers.role(SectionRole.GO_LIVE)
    match needs:
        case Needs.DEAD:
            return f"{safe}, unless a proof of dead stands"
        case Needs.LIVE:
            return f"{live}; {safe} before it, unless a proof of dead stands"
        case Needs.POWERED:
            return f"{numbers.role(SectionRole.POWER_UP)}; {safe} before it where a cover was open"
        case Needs.ANY:
            return ""
