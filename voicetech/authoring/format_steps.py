"""The keys of steps and of what hangs on them."""

from typing import Final

from voicetech.authoring.format import (
    ANSWERS,
    ANY_TEXT,
    Key,
    Kinds,
    Lists,
    Named,
    Number,
    Shape,
    Span,
    Text,
    Texts,
    Truth,
)
from voicetech.authoring.format import words_of as words
from voicetech.language.meaning import Asking, DangerKind
from voicetech.limit_rules import RULES
from voicetech.procedure import Needs, SafetyRole
from voicetech.units import Quantity, Unit

ASKED: Final = (
    Asking.CHOICE,
    Asking.YES_NO,
    Asking.VOLTAGE,
    Asking.POWER,
    Asking.TEMPERATURE,
    Asking.SERIAL,
    Asking.NOTE,
)
"""What a question may want. What a meter shows of a circuit is measured and not asked: then it is judged."""
MEASURED: Final = (
    Quantity.VOLTAGE,
    Quantity.RESISTANCE,
    Quantity.CONTINUITY,
    Quantity.CURRENT,
    Quantity.DURATION,
    Quantity.TEMPERATURE,
)
"""What a step may measure."""
EACH: Final = "each"
JUDGED_TOGETHER: Final = ("supply-idle", "supply-alone", "supply-loaded", "supply-unplugged")
UNITS: Final = tuple(unit.name.lower() for unit in Unit)

OUTCOME: Final = Shape(
    "outcome",
    "What follows from one result of a step.",
    {
        "next": Key(ANY_TEXT, "A step of the same section, `end`, or `more-tests`; without it, the step below."),
        "cause": Key(ANY_TEXT, "The cause this proves; ends the section."),
        "suspects": Key(Texts(), "Causes this speaks for."),
        "excludes": Key(Texts(), "Causes this rules out."),
        "hand_over": Key(ANY_TEXT, "The reason to stop work, one of `hand_overs`; nothing follows it."),
        "danger": Key(Text(words(DangerKind)), "The danger script that is said at once; nothing follows it."),
        "say": Key(ANY_TEXT, "Said before the next prompt, at most 8 seconds.", said=True),
        "again_by": Key(ANY_TEXT, "The step of this section that measures it by another method."),
        "repeat": Key(Truth(), "Measured once more before this counts."),
    },
)
_OUTCOMES: Final = Named(OUTCOME)

LIMITS: Final = Shape(
    "limits",
    "How the limits of a measurement come about.",
    {
        "rule": Key(Text(tuple(sorted(RULES))), "The rule they are computed by.", needed=True),
        "source": Key(ANY_TEXT, "Where they come from, or: common practice, no source.", needed=True),
        "low": Key(Number(), "For the rule figures: the lowest that passes, in the base unit."),
        "high": Key(Number(), "For the rule figures: the highest that passes, in the base unit."),
        "volt": Key(ANY_TEXT, "For the rule figures: they are volts; name the field of the plate's."),
        "second": Key(ANY_TEXT, "For the rule figures: they are seconds; name the field they are kept under."),
        "watts": Key(ANY_TEXT, "The field in which an element's watts are recorded."),
        "volts": Key(ANY_TEXT, "The field in which its volts are recorded."),
        "measured": Key(ANY_TEXT, "The field in which the voltage is recorded that it is at."),
        "fahrenheit": Key(
            ANY_TEXT, "The field of the temperature at a sensor, or for the rule figures: they are degrees Fahrenheit."
        ),
        "celsius": Key(ANY_TEXT, "The field of the temperature at a sensor, in degrees Celsius."),
        "part": Key(ANY_TEXT, "The field of what a sensor read at its own plug."),
        "connection": Key(ANY_TEXT, "The field that says how the appliance is connected."),
        "on": Key(ANY_TEXT, "The field of the seconds a switch is on."),
    },
)

_SETUP: Final = Shape(
    "setup",
    "How the appliance stands while this is read, for the circuit.",
    {
        "knobs": Key(Named(ANY_TEXT), "Positions of knobs other than at rest."),
        "off": Key(Texts(), "Parts of the circuit that are taken off."),
        "hot": Key(Truth(), "Read while it is hot."),
        "left_on": Key(Named(ANY_TEXT), "Knobs that may stand elsewhere unnoticed."),
    },
)

_SHORT: Final = Key(ANY_TEXT, "The same in at most 4 seconds.", said=True)
_SAY: Final = Key(ANY_TEXT, "The full words, at most 8 seconds.", needed=True, said=True)
_COMMON: Final = {
    "short": _SHORT,
    "how": Key(ANY_TEXT, "Said when somebody asks how or where.", said=True),
    "why": Key(ANY_TEXT, "Said when somebody asks why, at most 8 seconds.", said=True),
    "needs": Key(Text(words(Needs)), "The state of the appliance; the program makes it so first."),
    "warnings": Key(Texts(), "Warnings that are said in front of it."),
    "when": Key(ANSWERS, "Asked only while these answers are recorded."),
    "when_not": Key(ANSWERS, "Not asked while these answers are recorded."),
    "role": Key(Text(words(SafetyRole)), "What the step does for safety, in a section with a role."),
    "source": Key(ANY_TEXT, "Where it comes from, or: common practice, no source."),
    "hands_off": Key(Truth(), "Nothing inside the appliance is touched."),
    "puts_back": Key(Truth(), "What was taken off for a measurement is put back."),
}
_NUMBER_KEYS: Final = {
    "unit": Key(Text(UNITS), "The unit of the answer, spelled out."),
    "likely": Key(Span(), "The lowest and highest value a sound or faulty part can show, in the base unit."),
}

_HOLD: Final = Shape(
    "hold",
    "Stops the job until its exact words are said.",
    {
        "hold": Key(
            ANY_TEXT, "The full words, at most 8 seconds; they tell the words that end it.", needed=True, said=True
        ),
        "until": Key(Texts(least=1), "The exact words that end it.", needed=True, said=True),
        **_COMMON,
        "source": Key(ANY_TEXT, "Where it comes from, or: common practice, no source.", needed=True),
    },
)
_ASK: Final = Shape(
    "ask",
    "A question; its answer is recorded under a field.",
    {
        "ask": Key(Text(tuple(each.value for each in ASKED)), "The kind of answer.", needed=True),
        "say": _SAY,
        "field": Key(ANY_TEXT, "The name the answer is recorded under.", needed=True),
        "choices": Key(
            Named(Texts(least=1)), "The answers to choose from, each with the phrases that mean it.", said=True
        ),
        **_NUMBER_KEYS,
        **_COMMON,
        "outcomes": Key(_OUTCOMES, "What follows from each answer, or from `any`.", needed=True),
    },
)
_INSPECT: Final = Shape(
    "inspect",
    "Eyes and nose.",
    {
        "inspect": Key(ANY_TEXT, "The part that is looked at.", needed=True, said=True),
        "say": Key(
            ANY_TEXT, "The full words, so that yes means something is wrong; at most 8 seconds.", needed=True, said=True
        ),
        **_COMMON,
        "outcomes": Key(Named(OUTCOME, ("clean", "fault")), "What follows from `clean` and from `fault`.", needed=True),
    },
)
_MEASURE: Final = Shape(
    "measure",
    "One value for each pair of points, judged by limits.",
    {
        "measure": Key(Text(tuple(each.value for each in MEASURED)), "What is measured.", needed=True),
        "say": _SAY,
        "between": Key(Lists(2, 3), "Pairs of points, perhaps with how a pair is said.", needed=True, said=True),
        "limits": Key(LIMITS, "How its limits come about.", needed=True),
        "judged_as": Key(Text((EACH, *JUDGED_TOGETHER)), "Each pair by itself, or a supply by all of them."),
        "accepts_beep": Key(Truth(), "A buzzer counts; only for a wire or a fuse."),
        "one_wire_off": Key(Truth(), "A wire is off, so that the meter reads nothing else."),
        "field": Key(ANY_TEXT, "The name the value is recorded under."),
        "setup": Key(_SETUP, "How the appliance stands, for the circuit."),
        "through": Key(ANY_TEXT, "The part of the circuit whose current is read."),
        **_NUMBER_KEYS,
        **_COMMON,
        "outcomes": Key(
            _OUTCOMES, "What follows from below, within, above and over_range, or from a supply's finding."
        ),
    },
)
_INSTRUCT: Final = Shape(
    "instruct",
    "Something to do.",
    {
        "instruct": Key(ANY_TEXT, "The full words, ending in: Say done.", needed=True, said=True),
        **_COMMON,
        "outcomes": Key(Named(OUTCOME, ("done",)), "What follows from `done`.", needed=True),
    },
)
STEP: Final = Kinds(
    "step",
    "One step; its kind is the first of hold, ask, inspect, measure, instruct.",
    {"hold": _HOLD, "ask": _ASK, "inspect": _INSPECT, "measure": _MEASURE, "instruct": _INSTRUCT},
)
