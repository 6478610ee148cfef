"""The keys at the top of a procedure's file, and of everything that is no step and no circuit."""

from typing import Final

from voicetech.authoring.format import (
    A_LIST,
    ANSWERS,
    ANY_TEXT,
    ANYTHING,
    Key,
    Named,
    Number,
    Shape,
    Tables,
    Text,
    Texts,
    Truth,
)
from voicetech.authoring.format import words_of as words
from voicetech.authoring.format_circuit import CIRCUIT
from voicetech.authoring.format_steps import STEP
from voicetech.language.meaning import DangerKind
from voicetech.limit_rules import RULES
from voicetech.procedure import ComesUp, Needs, Phase, SafetyRole, SectionRole, Signal

_SOURCE: Final = Key(ANY_TEXT, "Where it comes from, or: common practice, no source.", needed=True)

_DUE: Final = Shape(
    "due",
    "Steps that a warning is due at: those with one of each that is named.",
    {
        "roles": Key(Texts(words(SafetyRole)), "What the step does for safety."),
        "rules": Key(Texts(tuple(sorted(RULES))), "The rule of its limits."),
        "needs": Key(Texts(words(Needs)), "The state of the appliance that it needs."),
        "words": Key(Texts(), "Words in its full words."),
    },
)
_WARNING: Final = Shape(
    "warning",
    "A hazard and what avoids it.",
    {
        "signal": Key(Text(words(Signal)), "The signal word it is said with.", needed=True),
        "say": Key(ANY_TEXT, "The hazard and what avoids it, at most 8 seconds.", needed=True, said=True),
        "source": _SOURCE,
        "due": Key(Tables(_DUE), "The steps it is due at."),
    },
)
_POINT: Final = Shape(
    "point",
    "A test point.",
    {
        "label": Key(ANY_TEXT, "What it is called in readings, as in L1.", needed=True),
        "call": Key(Texts(least=1), "How it is said, the usual way first.", needed=True, said=True),
        "at": Key(ANY_TEXT, "Where it is.", needed=True, said=True),
    },
)
_SECTION: Final = Shape(
    "section",
    "Steps that belong together.",
    {
        "title": Key(ANY_TEXT, "What the section is called.", needed=True, said=True),
        "phase": Key(Text(words(Phase)), "The part of the job it belongs to.", needed=True),
        "role": Key(Text(words(SectionRole)), "What the program puts in front of steps that need it."),
        "call": Key(Texts(), "How a test is asked for, without `the`.", said=True),
        "part": Key(ANY_TEXT, "How a report names what it tests.", said=True),
        "cost_min": Key(Number(above=0), "What the test takes, in minutes; judgement."),
        "asked": Key(Text(words(ComesUp)), "When a test comes up."),
        "access": Key(Texts(), "What has to be opened first."),
        "narrows": Key(Texts(), "Causes that it clears or halves without showing one; a test comes up for these too."),
        "when": Key(ANSWERS, "Done only while these answers are recorded."),
        "when_not": Key(ANSWERS, "Not done while these answers are recorded."),
        "steps": Key(Named(STEP, place="own"), "Its steps, in their order.", needed=True),
    },
    elsewhere=("title", "phase"),
)
ANY_CAUSE: Final = "any"
"""Among the weights of a complaint: the weight of each cause that has none of its own."""
_COMPLAINT: Final = Shape(
    "complaint",
    "An answer to the question with the field `complaint`.",
    {
        "say": Key(ANY_TEXT, "The complaint in words.", needed=True, said=True),
        "weights": Key(
            Named(Number(above=0)),
            "How likely each cause is for it, and under `any` each other one; judgement.",
            needed=True,
        ),
        "out": Key(Texts(), "Elements and motors of the circuit that do nothing with it."),
        "wrong": Key(Truth(), "They all do something, and not as they should."),
    },
)
_CAUSE: Final = Shape(
    "cause",
    "A fault as it is called, and what mends it.",
    {
        "say": Key(ANY_TEXT, "The fault in words.", needed=True, said=True),
        "tested_by": Key(ANY_TEXT, "The section that shows it.", needed=True),
        "remedy": Key(ANY_TEXT, "What mends it, one of `remedies`.", needed=True),
        "why_failed": Key(ANY_TEXT, "What to look at upstream: why it may have failed.", needed=True, said=True),
        "parts": Key(Texts(least=1), "Parts by function, or none.", needed=True, said=True),
        "upstream": Key(Texts(), "Tests that come up once it is proved, until one shows what made it fail."),
    },
)
_HAND_OVER: Final = Shape(
    "hand_over",
    "A reason to stop work.",
    {
        "say": Key(ANY_TEXT, "What is said, at most 20 seconds.", needed=True, said=True),
        "to": Key(ANY_TEXT, "Who takes over.", needed=True, said=True),
        "source": _SOURCE,
    },
)
_DANGER_SCRIPT: Final = Shape(
    "danger_script",
    "What is said at once for one kind of danger.",
    {"say": Key(ANY_TEXT, "What is said, at most 20 seconds.", needed=True, said=True), "source": _SOURCE},
)
_ACCESS: Final = Shape(
    "access",
    "Something that has to be opened.",
    {
        "say": Key(ANY_TEXT, "What is opened.", needed=True, said=True),
        "cost_min": Key(Number(above=0), "What opening takes, in minutes; judgement."),
    },
)
_INCLUDE: Final = Shape(
    "include",
    "A part that is included, with what it leaves open filled in.",
    {
        "file": Key(ANY_TEXT, "The file in the folder `shared`.", needed=True),
        "with": Key(Named(ANYTHING), "Values of its parameters."),
        "without": Key(Texts(), "What of it is left out, as in sections.cord."),
    },
)
TOP: Final = Shape(
    "procedure",
    "A voicetech procedure, or a part that procedures include.",
    {
        "procedure": Key(ANY_TEXT, "The procedure's name, equal to the file's.", needed=True),
        "title": Key(ANY_TEXT, "What it is called.", needed=True, said=True),
        "revision": Key(Number(above=0, whole=True), "A whole number, raised with every change.", needed=True),
        "appliance": Key(ANY_TEXT, "What it is for.", needed=True, said=True),
        "call": Key(Texts(), "How the appliance is called when it is chosen, the usual way first."),
        "include": Key(Tables(_INCLUDE, or_text=True), "Files of the folder `shared` beside this one."),
        "with": Key(Named(ANYTHING), "Values for included files that leave these open; in a part, for those after it."),
        "parameters": Key(Named(ANYTHING), "In a part: what it leaves open, with what holds where none is given."),
        "supply": Key(Texts(), "Labels of what the supply brings, the frame among them; without it L1, L2, N, frame."),
        "fields": Key(Named(A_LIST), "How recorded answers read in a report; two texts are for a yes and a no."),
        "explained": Key(Named(ANY_TEXT), "Words of the trade, and what a customer reads for them."),
        "settings": Key(Named(ANY_TEXT), "Figures a shop may change: proof_minutes, emergency_number."),
        "sections": Key(Named(_SECTION), "The steps, in sections.", needed=True),
        "points": Key(Named(_POINT), "Test points."),
        "complaints": Key(Named(_COMPLAINT), "What the customer may complain of."),
        "causes": Key(Named(_CAUSE), "What may be the matter."),
        "remedies": Key(Named(ANY_TEXT), "What is done about it.", said=True),
        "hand_overs": Key(Named(_HAND_OVER), "Reasons to stop work."),
        "warnings": Key(Named(_WARNING), "Hazards."),
        "danger_scripts": Key(Named(_DANGER_SCRIPT, words(DangerKind)), "What is said at once in danger."),
        "stop_work": Key(
            Named(Named(ANY_TEXT)),
            "What stops the work, listed once more: section.step, each result with its hand-over or kind of danger.",
        ),
        "access": Key(Named(_ACCESS), "What tests have to open first."),
        "circuit": Key(CIRCUIT, "The appliance as a circuit."),
    },
)
