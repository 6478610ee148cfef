"""The rules a procedure is held to, by the names that findings carry: what each asks for, and why.

A name stays once it is given out: editors and build servers are told by it which findings to leave out.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Final


class Level(StrEnum):
    """How bad it is; the words of SARIF."""

    ERROR = "error"
    """No job is begun by such a procedure."""
    WARNING = "warning"
    """A job can be worked by it, worse than it could be; told by the check alone."""


@dataclass(frozen=True, slots=True)
class Rule:
    """One rule in a sentence, and what it is for."""

    says: str
    why: str
    level: Level = Level.ERROR


_READING: Final[Mapping[str, Rule]] = {
    "not-yaml": Rule("A file is YAML 1.2 in UTF-8.", "The lines that break it are left out of all further checks."),
    "no-such-file": Rule("Every file that is named is there.", "Included parts stand in the folder shared."),
    "file-elsewhere": Rule("The files of a procedure lie in its folder.", "A record may come from another hand."),
    "anchor": Rule("Nothing is written by an anchor or alias.", "A reader should see each step as it is."),
    "duplicate-key": Rule("A key is written once.", "Of two, one would silently count for nothing."),
    "shape": Rule("A value is the text, list or table that its key holds.", "The guide to the format lists them."),
    "missing-key": Rule("What a table has to have is written.", "Nothing is made up in its place."),
    "unknown-key": Rule("A table has only the keys it knows.", "A mistyped key would silently count for nothing."),
    "unknown-word": Rule("Where words are to choose from, one of them is written.", "Others mean nothing."),
    "not-a-number": Rule("A number is written in digits and can be what it stands for.", "Digits are kept as written."),
    "step-kind": Rule("A step is of one kind: hold, ask, inspect, measure or instruct.", "Its first key says which."),
    "name": Rule("A procedure is called like its file.", "A job on record is found again by the name."),
}

_NAMES: Final[Mapping[str, Rule]] = {
    "unknown-step": Rule("next and again_by name a step of the same section.", "The job would have nowhere to go."),
    "unknown-cause": Rule("Causes that are named are described.", "They are said, mended and reported."),
    "unknown-remedy": Rule("Remedies that are named are described.", "They are said once the cause is proved."),
    "unknown-section": Rule("Sections that are named are there.", "A cause is shown by the section it names."),
    "unknown-warning": Rule("Warnings that are named are written.", "A caution would be left unsaid."),
    "unknown-access": Rule("What has to be opened is described under access.", "Its minutes count once."),
    "unknown-point": Rule("Measured points are described, and a pair has two different ones.", "Where is asked for."),
    "unknown-hand-over": Rule("Reasons to stop work are written.", "Somebody has to be told who takes over."),
    "unknown-field": Rule("Conditions, limits and the circuit look at what is recorded.", "Else they never hold."),
    "unknown-answer": Rule("Conditions wait for answers that can be given.", "Else they never hold."),
    "unknown-placeholder": Rule("A text is filled from what is recorded or set.", "Else braces are read out."),
    "never-used": Rule(
        "What a procedure describes is used in it.",
        "A name that nothing uses is often a name mistyped elsewhere. Parts that several procedures share are exempt.",
        Level.WARNING,
    ),
}

_WAYS: Final[Mapping[str, Rule]] = {
    "unreachable-step": Rule("Something leads to every step.", "A step that is never come to tests nothing."),
    "conditional-target": Rule("A step that is jumped to has no conditions but its own way's.", "They are passed by."),
    "fallen-into": Rule("A step to jump to is not fallen into.", "The step before it may be skipped."),
    "endless": Rule("From every step some answer leads out of the section.", "A job would go in a circle for ever."),
    "never-true": Rule("Conditions do not exclude each other.", "The step or section would never come up."),
    "answered-later": Rule("A condition looks at what is asked before.", "Until then nobody has answered it."),
    "cause-never-shown": Rule("Every cause is shown where it is said to be tested.", "Else it is never found."),
    "test-never-chosen": Rule("Every test is for a cause that a complaint weighs.", "Else it never comes up."),
    "test-not-called": Rule("A test has a name to ask for it by.", "A technician may want it first.", Level.WARNING),
    "complaint-not-asked": Rule("Complaints are the answers to the question for the complaint.", "Each has weights."),
    "back-to-testing": Rule("more-tests is said from deciding on, not while testing.", "There it is a circle."),
}

_OUTCOMES: Final[Mapping[str, Rule]] = {
    "missing-outcome": Rule("Every result a step can have leads somewhere.", "An author decides, not a default."),
    "unknown-outcome": Rule("Outcomes are written for results the step can have.", "Others never come about."),
    "stop-goes-on": Rule(
        "An outcome that stops work leads nowhere else.",
        "A hand-over and a danger script end the work. What is written beside them would be passed by, or worse, "
        "whoever reads it would take the work for allowed.",
    ),
    "outcome-contradicts": Rule("An outcome does not say two things at once.", "One would count for nothing."),
    "not-repeated": Rule(
        "A reading out of limits is repeated before it proves a cause or stops work.",
        "Rule 20: repeated once, and by another method if it stays out. A step that another leads to by again_by is "
        "that other method.",
    ),
    "supply-goes-on": Rule(
        "A supply that is not fit to work on ends in a hand-over.",
        "A lost leg, an open neutral, a live neutral or frame and a second source are no work for an appliance "
        "technician.",
    ),
    "live-frame-goes-on": Rule("Voltage on the frame ends in a hand-over.", "Somebody will touch it."),
    "no-ground-goes-on": Rule("A frame without ground does not just go on.", "Nothing would trip the breaker."),
}

_MEASURING: Final[Mapping[str, Rule]] = {
    "limits-reversed": Rule("The lower limit is not above the higher one.", "Nothing could pass."),
    "unknown-limits": Rule("Limits come from a rule that is known, with what it computes from.", "See the guide."),
    "limits-quantity": Rule("A rule for limits fits what is measured.", "Volts are not judged by ohms."),
    "limits-field": Rule("Limits are computed from fields that hold what the rule needs.", "Watts are no volts."),
    "limits-too-late": Rule(
        "What limits are computed from is asked before, and whenever the step is.",
        "Without it an element passes on almost any ohms, and a sensor passes on none.",
    ),
    "missing-source": Rule("Holds, limits and scripts say where they come from.", "Or: common practice, no source."),
    "unit-quantity": Rule("A unit fits what is asked or measured.", "It is read back with every value."),
    "likely": Rule("What is likely can be, and some of it is within the limits.", "It ranks what may have been heard."),
    "beep": Rule("A beep passes nothing but a wire or a fuse.", "Rule 17: a buzzer sounds at anything up to 100 ohms."),
    "one-wire-off": Rule("A wire is off where a part's ohms are read, and only there.", "Rule 16."),
    "pair-twice": Rule("Each pair of a step has a label of its own.", "Readings are kept by their labels."),
    "label": Rule("A label holds no hyphen.", "A pair is written with one, as in L1-N."),
    "supply-pairs": Rule("A supply is judged by pairs it is told from.", "Leg to leg, and each leg to neutral."),
    "choices": Rule("A choice has answers, and each has phrases.", "Nothing else has."),
    "asked-not-measured": Rule("What a meter shows of a circuit is measured, not asked.", "Else nothing judges it."),
    "two-kinds-of-answer": Rule("A field holds one kind of answer.", "Who looks at it has to know which."),
}

_SAFETY: Final[Mapping[str, Rule]] = {
    "section-role": Rule("Each section of the program is there once, and unconditionally.", "It is put before tests."),
    "safety-role": Rule("Each section of the program has its safety steps, in order.", "They are its whole point."),
    "safety-step": Rule(
        "A safety step is of its kind, needs no state itself and cannot be skipped or passed by.",
        "A proof of dead is: tester proved, every pair measured, tester proved again, each with its number.",
    ),
    "dead-pairs": Rule("A proof of dead takes every pair.", "Nothing between the legs is not dead."),
    "persistent-voltage": Rule("Voltage that stays on low impedance is handed over.", "A real source feeds it."),
    "isolation": Rule("Whatever was answered, something isolates; no lock is asked for on a plug.", "Rule 4."),
    "wrong-state": Rule("Ohms are taken dead; volts and amps are taken live, behind the hold.", "Rules 1 and 5."),
    "hands-on": Rule(
        "Who opens a cover or takes off a wire does so dead.",
        "A step that needs nothing or only power comes without a proof of dead.",
    ),
    "power-elsewhere": Rule("Power comes on only in the program's own sections.", "Each has its hold in front."),
    "missing-script": Rule("Every kind of danger has its script.", "It is said at once."),
    "danger-script": Rule("A danger script says what keeps people alive.", "Rule 9 lists it for each kind."),
    "setting": Rule("Settings are known, can be said and are no laxer than the trade.", "Rule 3: 30 minutes."),
    "missing-warning": Rule("A caution is said where a step can hurt.", "Live parts, heat, stored charge."),
    "trade-part": Rule(
        "A procedure has what the job has from call to report.",
        "Rules 12 and 22 to 25: the complaint, not found, putting back, the retest and what the customer is told.",
        Level.WARNING,
    ),
    "put-back-live": Rule("Putting back is done dead.", "Rule 23: covers go on before power does."),
    "element-sheath": Rule(
        "Who measures an element's ohms measures both its terminals to the sheath too.",
        "Rule 18: an element of the right ohms may still be live on its sheath.",
    ),
    "element-look": Rule("An element is looked at before its ohms are taken.", "Rule 18: damage seen condemns it."),
    "supply-load": Rule("A supply that is judged idle is judged under load too.", "Rule 15: a joint shows only then."),
}

_WORDING: Final[Mapping[str, Rule]] = {
    "too-long": Rule("Full words take 8 seconds, short ones 4, scripts 20.", "More is not held in the head."),
    "phrases-collide": Rule("No phrase means two answers, or two tests.", "Nobody could tell which was meant."),
    "phrase": Rule("A phrase can be read: brackets closed, words between them.", "Square may be left out."),
    "say-done": Rule("An instruction ends in: Say done.", "Else both sides wait.", Level.WARNING),
    "hold-words": Rule("A hold tells the words that end it, and they are its own.", "A yes is no proof of a lock."),
    "asks-for-good": Rule("An inspection asks so that yes means something is wrong.", "Damage would pass as good."),
    "unspeakable": Rule("What is said aloud is written in words.", "Signs are left out or spelled.", Level.WARNING),
    "misunderstood": Rule("A phrase is understood as the answer it stands for.", "Others come first.", Level.WARNING),
    "unheard": Rule("The recogniser knows every word of a phrase.", "Others have to be typed.", Level.WARNING),
    "sounds-alike": Rule("Answers to one question sound different.", "In noise they are mixed up.", Level.WARNING),
}

_CIRCUIT: Final[Mapping[str, Rule]] = {
    "circuit": Rule("The circuit's names and numbers fit each other.", "Its parts, knobs, nodes, faults and times."),
    "no-setup": Rule("Tests tell how the appliance stands.", "Else the circuit says nothing of them.", Level.WARNING),
    "circuit-node": Rule("A node joins two parts, or is measured.", "One alone is often mistyped.", Level.WARNING),
    "untold-fault": Rule("Every fault shows somewhere.", "Else nothing can find it.", Level.WARNING),
    "sound-fails": Rule("A sound appliance passes every test.", "Else good parts are replaced.", Level.WARNING),
}

RULES: Final[Mapping[str, Rule]] = {
    **_READING,
    **_NAMES,
    **_WAYS,
    **_OUTCOMES,
    **_MEASURING,
    **_SAFETY,
    **_WORDING,
    **_CIRCUIT,
}
"""Every rule, in the order they are told in."""


def level_of(rule: str) -> Level:
    """Return how bad it is to break a rule; one that is not in the table stops a job."""
    return RULES[rule].level if rule in RULES else Level.ERROR


UNREAD: Final = frozenset({"not-yaml", "no-such-file", "file-elsewhere", "shape", "step-kind"})
"""Rules that, broken, leave something of a file unread."""
OWN: Final = frozenset({"never-used"})
"""Rules for what stands in the procedure's own file: a part that several procedures share has what one needs."""
WHOLE: Final = frozenset(
    {"never-used", "cause-never-shown", "test-never-chosen", "trade-part", "supply-load", "sound-fails", "untold-fault"}
)
"""Rules whose breaking can be told only where all of the files could be read."""
ALONE: Final = frozenset(
    {
        *_MEASURING,
        "missing-outcome",
        "unknown-outcome",
        "stop-goes-on",
        "outcome-contradicts",
        "endless",
        "wrong-state",
        "hands-on",
        "power-elsewhere",
        "danger-script",
        "missing-warning",
        "put-back-live",
        *(_WORDING.keys() - {"misunderstood", "unheard", "sounds-alike"}),
    }
    - {"limits-field", "limits-too-late", "two-kinds-of-answer"}
)
"""Rules that look at one step or text by itself, so that they can be told whatever else could not be read."""
