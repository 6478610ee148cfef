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
    "missing-parameter": Rule(
        "What an included part leaves open is filled in.", "Its texts would say nothing where a name belongs."
    ),
    "unknown-parameter": Rule("Only what a part leaves open is filled in.", "Anything else would count for nothing."),
    "unused-parameter": Rule("What a part leaves open is used in it.", "Else nobody knows what it is for."),
    "nothing-left-out": Rule("What is left out of a part is in it.", "A mistyped name would leave it in."),
    "anchor": Rule("Nothing is written by an anchor or alias.", "A reader should see each step as it is."),
    "duplicate-key": Rule("A key is written once.", "Of two, one would silently count for nothing."),
    "shape": Rule(
        "A value is the text, list or table that its key holds.",
        "What each key holds is listed beside the procedures and in the schema.",
    ),
    "missing-key": Rule("What a table has to have is written.", "Nothing can be made up in its place."),
    "unknown-key": Rule("A table has only the keys it knows.", "A mistyped key would silently count for nothing."),
    "unknown-word": Rule("Where words are to choose from, one of them is written.", "Any other word means nothing."),
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
    "unknown-point": Rule(
        "Measured points are described, and a pair has two different ones.", "Somebody will ask where it is."
    ),
    "unknown-hand-over": Rule("Reasons to stop work are written.", "Somebody has to be told who takes over."),
    "unknown-field": Rule(
        "Conditions, limits and the circuit look at what is recorded.", "Nothing else has an answer."
    ),
    "unknown-answer": Rule("Conditions wait for answers that can be given.", "For any other they would wait for ever."),
    "unknown-placeholder": Rule("A text is filled from what is recorded or set.", "Else braces are read out."),
    "unnamed-field": Rule(
        "Where answers are named for the report, one that nothing looks at is named too.",
        "A field that was mistyped is kept and never found again.",
        Level.WARNING,
    ),
    "label-unlike": Rule(
        "The label of a point has a word in common with its name or with what it is called.",
        "A report would show one point for another.",
        Level.WARNING,
    ),
    "never-used": Rule(
        "What a procedure describes is used in it.",
        "A name that nothing uses is often a name mistyped elsewhere. Parts that several procedures share are exempt.",
        Level.WARNING,
    ),
}

_WAYS: Final[Mapping[str, Rule]] = {
    "unreachable-step": Rule("Something leads to every step.", "A step that is never come to tests nothing."),
    "conditional-target": Rule(
        "A step that is jumped to has no conditions but its own way's.", "A jump does not look at them."
    ),
    "fallen-into": Rule(
        "A step to jump to is not fallen into.", "Where the step before it is skipped, it would come up by itself."
    ),
    "endless": Rule("From every step some answer leads out of the section.", "A job would go in a circle for ever."),
    "never-true": Rule("Conditions do not exclude each other.", "The step or section would never come up."),
    "answered-later": Rule("A condition looks at what is asked before.", "Until it is asked nobody has answered it."),
    "cause-never-shown": Rule("Every cause is shown where it is said to be tested.", "Else it would never be found."),
    "tested-elsewhere": Rule(
        "What is said to test a cause is a test, or a look at the settings.",
        "A section of any other phase does not come up to find it.",
        Level.WARNING,
    ),
    "weighed-not-shown": Rule(
        "A cause that a complaint weighs can come out in its test with that complaint.",
        "The test would be made for it and never tell of it.",
        Level.WARNING,
    ),
    "comes-until": Rule(
        "A question that comes up until it has one answer is asked again after any other.",
        "What was to be done first would be passed by.",
        Level.WARNING,
    ),
    "waits-for-sound": Rule(
        "A test comes with the answers by which its causes are told.",
        "With the others there is nothing for it to find.",
        Level.WARNING,
    ),
    "asked-elsewhere": Rule(
        "What a step waits for is asked where that step may come.", "Else it never comes.", Level.WARNING
    ),
    "part-not-there": Rule(
        "A test waits for the answers with which there is what it measures, asks about or shows.",
        "A cord is looked for where there is none, or not where there is one.",
        Level.WARNING,
    ),
    "measured-twice": Rule(
        "Two readings at the same points that wait for answers to one question do not both come.",
        "The one is for what the other is not.",
        Level.WARNING,
    ),
    "unprepared": Rule(
        "What is measured or asked right after an instruction comes with the instruction's conditions.",
        "Else it comes where nothing was made ready for it.",
        Level.WARNING,
    ),
    "odd-one-out": Rule(
        "In a test a step between two with the same conditions waits for the same answers.",
        "What the one prepares, the next does without.",
        Level.WARNING,
    ),
    "test-never-chosen": Rule("Every test is for a cause that a complaint weighs.", "Else it would never come up."),
    "test-not-called": Rule("A test has a name to ask for it by.", "A technician may want it first.", Level.WARNING),
    "complaint-not-asked": Rule(
        "Complaints are the answers to the question for the complaint.", "What was answered has to weigh causes."
    ),
    "back-to-testing": Rule(
        "more-tests is said from deciding on, not while testing.", "Before that it would go in a circle."
    ),
}

_OUTCOMES: Final[Mapping[str, Rule]] = {
    "missing-outcome": Rule("Every result a step can have leads somewhere.", "What follows is the author's to decide."),
    "unknown-outcome": Rule("Outcomes are written for results the step can have.", "Any other would never come about."),
    "stop-goes-on": Rule(
        "An outcome that stops work leads nowhere else.",
        "A hand-over and a danger script end the work. What is written beside them would be passed by, or worse, "
        "whoever reads it would take the work for allowed.",
    ),
    "outcome-contradicts": Rule("An outcome does not say two things at once.", "One would count for nothing."),
    "not-repeated": Rule(
        "A reading out of limits is repeated before it proves a cause or stops work.",
        "One slip of a probe would hang a good part. What stays out is measured by another method too: a step that "
        "again_by leads to is that, and may prove a cause at once.",
    ),
    "failed-goes-on": Rule("A reading out of limits leads to something.", "Else the job goes on as if it had passed."),
    "passes-anyway": Rule(
        "What fails tells something, or leads elsewhere than what passes.",
        "Whoever reads the outcomes would take a bad part for a good one, and so would the report.",
        Level.WARNING,
    ),
    "ends-unproved": Rule(
        "A test does not end where something failed, unless that proves a cause or hands over.",
        "The next step would have told what it is.",
        Level.WARNING,
    ),
    "passes-back": Rule(
        "What passes leads on, and what is not put back leads back.",
        "The other way round a test goes in a circle, and power comes on with something open.",
        Level.WARNING,
    ),
    "supply-alike": Rule(
        "What a supply is found to be has the same consequence however a section read it.",
        "It is one supply; two answers to the same finding are one slip.",
        Level.WARNING,
    ),
    "handed-over-alike": Rule(
        "What a reading hands over for proves a cause, where others beside it do.",
        "Who takes over, and the report, have to be told the same.",
        Level.WARNING,
    ),
    "once-only": Rule(
        "A reading out of limits is taken once more before anything follows.",
        "A slip of a probe reads so too.",
        Level.WARNING,
    ),
    "marginal": Rule(
        "A marginal reading rules nothing out unless that is written, and tells something where it is.",
        "Unwritten it counts as within, with all that this rules out.",
        Level.WARNING,
    ),
    "not-ruled-out": Rule(
        "A reading that condemns a part where it fails speaks of it where it passes.",
        "A part that was measured and is good would stay under suspicion.",
        Level.WARNING,
    ),
    "told-not-named": Rule(
        "A look or a question that names causes names each whose faults are seen or told there.",
        "The circuit's faults and the outcomes have to tell the same.",
        Level.WARNING,
    ),
    "look-not-followed": Rule(
        "What a look suspects is tested, where the test has a step for it.",
        "A suspicion that nothing follows up stays one.",
        Level.WARNING,
    ),
    "passed-over": Rule(
        "Outside tests no answer jumps past a step that has no conditions.",
        "A question that is passed by on one answer is missing in the report; its own `when` says why.",
        Level.WARNING,
    ),
    "other-way": Rule(
        "again_by leads to another look at the same, and nothing else leads there.",
        "A bad contact is told by a second method only if it measures what the first did.",
        Level.WARNING,
    ),
    "fallen-aside": Rule(
        "A reading, a look or a question that steps further above lead to is not fallen into.",
        "It tells of what led there, and nothing else.",
        Level.WARNING,
    ),
    "leads-apart": Rule(
        "A marginal reading goes the way of within or of what fails; too many ohms and open go the same way.",
        "Where one of two that belong together leads elsewhere, one of the two is a slip.",
        Level.WARNING,
    ),
    "ruled-out-goes-on": Rule(
        "A test ends where what is left of it looks only for what was just ruled out.",
        "A part that is not there would be measured.",
        Level.WARNING,
    ),
    "worn-leads": Rule(
        "Leads are used once they were measured together and passed.",
        "Half an ohm of lead is half of what a good contact may have.",
        Level.WARNING,
    ),
    "asked-for-nothing": Rule(
        "A question of a test changes what follows, or something looks at its answer.",
        "Where it changes nothing, one of its answers was to lead elsewhere.",
        Level.WARNING,
    ),
    "same-twice": Rule(
        "No step is the same as the one before it but for its name.", "One was copied and left.", Level.WARNING
    ),
    "unlisted-stop": Rule(
        "Where a section's stops are listed under stop_work, every one is.",
        "A stop that is lost by a slip in one place is told by the other. Then the proof holds the steps to it too.",
        Level.WARNING,
    ),
    "supply-goes-on": Rule(
        "A supply that is not fit to work on ends in a hand-over.",
        "A lost leg, an open neutral, a live neutral or frame and a second source are no work for an appliance "
        "technician.",
    ),
    "live-frame-goes-on": Rule("Voltage on the frame ends in a hand-over.", "Somebody would touch it."),
    "no-ground-goes-on": Rule("A frame without ground does not just go on.", "Nothing would trip the breaker."),
}

_MEASURING: Final[Mapping[str, Rule]] = {
    "limits-reversed": Rule("The lower limit is not above the higher one.", "Nothing could pass."),
    "passes-all": Rule("Limits leave some reading out.", "What always passes judges nothing."),
    "unknown-limits": Rule(
        "Limits come from a rule that is known, with what it computes from.",
        "A limit that nobody can compute judges nothing.",
    ),
    "limits-quantity": Rule("A rule for limits fits what is measured.", "Volts are not judged by ohms."),
    "limits-field": Rule("Limits are computed from fields that hold what the rule needs.", "Watts are no volts."),
    "limits-too-late": Rule(
        "What limits are computed from is asked before, and whenever the step is.",
        "Without it an element passes on almost any ohms, and a sensor passes on none.",
    ),
    "missing-source": Rule(
        "Holds, limits and scripts say where they come from.",
        "Where there is none, that is said too: common practice, no source.",
    ),
    "unit-quantity": Rule("A unit fits what is asked or measured.", "It is read back with every value."),
    "likely": Rule(
        "What is likely can be, and some of it is within the limits.", "It tells which of two numbers was meant."
    ),
    "points-said": Rule(
        "Where the words send a probe to bare metal, one of the points is.",
        "Whoever hears them measures something else than what is judged.",
        Level.WARNING,
    ),
    "off-unsaid": Rule(
        "Ohms for which the set-up takes parts off say that a wire is off.",
        "The report tells it beside the reading.",
        Level.WARNING,
    ),
    "off-elsewhere": Rule(
        "What is taken off for a reading is in one string with what is measured.",
        "A wire that is off somewhere else leaves the meter reading other parts too.",
        Level.WARNING,
    ),
    "off-again": Rule(
        "Where a test measures the same points once more, what was off is off again.",
        "Else the second reading is of something else.",
        Level.WARNING,
    ),
    "one-end-on": Rule(
        "Where an element is measured for a leak nothing is on at either end.",
        "The meter would read a leak of something else through it.",
        Level.WARNING,
    ),
    "left-unmeasured": Rule(
        "What is taken off at both ends to look for a leak is measured for one.",
        "It would go back untested, and the breaker be reset on it.",
        Level.WARNING,
    ),
    "buzzer": Rule(
        "Continuity is tried of a wire, a fuse or a closed contact alone.",
        "A buzzer is as silent at a hundred ohms as at none.",
        Level.WARNING,
    ),
    "unit-said": Rule(
        "The unit that a question names is the unit that its answer counts in.",
        "Who is asked for ohms and answers in volts is judged by the wrong one.",
        Level.WARNING,
    ),
    "figure-source": Rule(
        "The figures of a limit stand in its source too.",
        "A slip of a digit in one place is told by the other, and a reader sees where the figure is from.",
        Level.WARNING,
    ),
    "earth-from-frame": Rule(
        "Before power comes back the path to ground is measured from the frame to where its ground comes in.",
        "Between anything else it proves no ground.",
        Level.WARNING,
    ),
    "supply-limits": Rule(
        "A supply that is judged as a whole takes the rule supply-pairs.",
        "Any other limits beside it are never looked at.",
        Level.WARNING,
    ),
    "one-leg": Rule(
        "Where one leg of a supply is read to neutral or frame, so is the other.",
        "Only both tell a low leg from a low supply.",
        Level.WARNING,
    ),
    "back-unsaid": Rule(
        "A step of a test whose words have wires put back says `puts_back: yes`.",
        "The proof holds the ways of a test to it.",
        Level.WARNING,
    ),
    "beep": Rule("A beep passes nothing but a wire or a fuse.", "A buzzer sounds at anything up to 100 ohms."),
    "one-wire-off": Rule(
        "A wire is off where a part's ohms are read, and only there.",
        "With every wire on the meter reads other parts too.",
    ),
    "pair-twice": Rule("Each pair of a step has a label of its own.", "Readings are kept by their labels."),
    "label": Rule("A label holds no hyphen.", "A pair is written with one, as in L1-N."),
    "supply-pairs": Rule("A supply is judged by pairs it is told from.", "Leg to leg has to be among them."),
    "choices": Rule("A choice has answers, and each has phrases.", "All other questions have none."),
    "asked-not-measured": Rule("What a meter shows of a circuit is measured, not asked.", "Else nothing judges it."),
    "two-kinds-of-answer": Rule("A field holds one kind of answer.", "Who looks at it has to know which."),
}

_SAFETY: Final[Mapping[str, Rule]] = {
    "section-role": Rule(
        "Each section of the program is there once, and unconditionally.",
        "The program puts it in front of what needs it.",
    ),
    "safety-role": Rule(
        "Each section of the program has its safety steps, in order.",
        "A step that is missing would be a protection that is.",
    ),
    "safety-step": Rule(
        "A safety step is of its kind, needs no state itself and cannot be skipped or passed by.",
        "A proof of dead is: tester proved, every pair measured, tester proved again, each with its number.",
    ),
    "dead-pairs": Rule("A proof of dead takes every pair.", "Nothing between the legs is not dead."),
    "persistent-voltage": Rule("Voltage that stays on low impedance is handed over.", "A real source feeds it."),
    "isolation": Rule(
        "Whatever was answered, something isolates; no lock is asked for on a plug.",
        "A plug in the hand is its own lock; a fixed cable needs one at the breaker.",
    ),
    "wrong-state": Rule(
        "Ohms are taken dead; volts and amps are taken live, behind the hold.",
        "Ohms on a live circuit are false and dangerous, and a live test has a hold of its own.",
    ),
    "hands-on": Rule(
        "Who opens a cover or takes off a wire does so dead.",
        "A step that needs nothing or only power comes without a proof of dead.",
    ),
    "tester-source": Rule(
        "The tester is proved before and after at the same known live source.",
        "A point of the appliance, or another source, may be dead for a reason of its own.",
        Level.WARNING,
    ),
    "hands-off": Rule(
        "Among steps done dead or live, one without a proof of dead says that nothing inside is touched.",
        "Else nobody could tell it from one whose `needs: dead` was forgotten.",
        Level.WARNING,
    ),
    "power-precaution": Rule(
        "What an appliance wants before power comes on stands in front of it whichever way it comes.",
        "Going live and powering up are both power: a tank is full for either.",
        Level.WARNING,
    ),
    "tripped-breaker": Rule(
        "While a breaker is tripped no test brings power but the one reset.",
        "What tripped it is looked for first, dead.",
    ),
    "power-elsewhere": Rule(
        "Power comes on only in the program's own sections.", "Only there a hold stands in front of it."
    ),
    "present-danger": Rule(
        "A yes to a question for danger that is there now stops the job.",
        "Sparks, smoke and shocks are no matter for the next question.",
    ),
    "second-trip": Rule(
        "A breaker that trips again after its reset is handed over.", "Whatever trips it is still there."
    ),
    "bypass": Rule(
        "No text tells anybody to bridge a fuse, a limit or another protection.",
        "What is bridged to try it is forgotten, and burns.",
    ),
    "missing-script": Rule("Every kind of danger has its script.", "It is said at once."),
    "danger-script": Rule(
        "A danger script says what keeps people alive.",
        "Hands off, breaker off, whom to call, what never to do: each kind has its own.",
    ),
    "setting": Rule(
        "Settings are known, can be said and are no laxer than the trade.",
        "A proof of dead stands 30 minutes at most, and a number is said digit by digit.",
    ),
    "missing-warning": Rule(
        "A caution is said where a step can hurt.", "Live parts, heat and a stored charge are not seen."
    ),
    "trade-part": Rule(
        "A procedure has what the job has from call to report.",
        "The complaint, what is said where nothing is found, putting back, the retest, what the customer is told.",
        Level.WARNING,
    ),
    "not-mended": Rule(
        "Where the complaint is still there, testing goes on or the work is handed over.",
        "The report would say that it is mended.",
        Level.WARNING,
    ),
    "tools-too-soon": Rule(
        "Settings come before tools: nothing is measured dead or live at intake or among the settings.",
        "Half of what does not heat is a timer or a lock.",
        Level.WARNING,
    ),
    "not-put-back": Rule(
        "A test that takes a wire off has a step that puts it back.",
        "`voicetech prove` finds the ways that pass that step by.",
        Level.WARNING,
    ),
    "other-method": Rule(
        "An element that its ohms condemn was measured by another method too.",
        "A rusty terminal reads like a broken element.",
        Level.WARNING,
    ),
    "put-back-live": Rule("Putting back is done dead.", "Covers go on before power does."),
    "element-sheath": Rule(
        "Who measures an element's ohms measures both its terminals to the sheath too.",
        "An element of the right ohms may still be live on its sheath.",
    ),
    "element-look": Rule(
        "An element is looked at before its ohms are taken.", "Damage seen condemns it whatever it reads."
    ),
    "supply-load": Rule(
        "A supply that is judged idle is judged under load too.", "A bad joint shows only while current flows."
    ),
}

_WORDING: Final[Mapping[str, Rule]] = {
    "too-long": Rule("Full words take 8 seconds, short ones 4, scripts 20.", "More is not held in the head."),
    "phrases-collide": Rule("No phrase means two answers, or two tests.", "Nobody could tell which was meant."),
    "phrase": Rule(
        "A phrase can be read: brackets closed, words between them.",
        "Square ones hold what may be left out, round ones what to choose from.",
    ),
    "say-done": Rule(
        "An instruction ends in: Say done.", "Else the program and the technician wait for each other.", Level.WARNING
    ),
    "hold-words": Rule("A hold tells the words that end it, and they are its own.", "A yes is no proof of a lock."),
    "asks-for-good": Rule("An inspection asks so that yes means something is wrong.", "Damage would pass as good."),
    "unspeakable": Rule("What is said aloud is written in words.", "Signs are left out or spelled.", Level.WARNING),
    "misunderstood": Rule(
        "A phrase is understood as the answer it stands for.", "Danger and commands come first.", Level.WARNING
    ),
    "unheard": Rule(
        "The recogniser knows every word of a phrase.", "What it does not know has to be typed.", Level.WARNING
    ),
    "sounds-alike": Rule("Answers to one question sound different.", "In noise they are mixed up.", Level.WARNING),
}

_CIRCUIT: Final[Mapping[str, Rule]] = {
    "circuit": Rule(
        "The circuit's names and numbers fit each other.",
        "Parts, knobs, nodes, faults and times are looked up by name.",
    ),
    "no-setup": Rule("Tests tell how the appliance stands.", "Else the circuit says nothing of them.", Level.WARNING),
    "circuit-node": Rule(
        "A node joins two parts, or is measured.", "One that stands alone is often mistyped.", Level.WARNING
    ),
    "untold-fault": Rule("Every fault shows somewhere.", "Else nothing can find it.", Level.WARNING),
    "sound-fails": Rule("A sound appliance passes every test.", "Else good parts are replaced.", Level.WARNING),
    "heater-volts": Rule(
        "An element of the circuit gets the volts it is made for where it heats.",
        "One that is wired to the wrong leg would teach the wrong readings.",
        Level.WARNING,
    ),
    "wire-ohms": Rule(
        "A wire of the circuit has less than an ohm, or the supply across it.",
        "A joint of some ohms would burn, and every reading through it be wrong.",
        Level.WARNING,
    ),
    "loose-limits": Rule(
        "What is closed in a sound appliance is not judged by figures over 1 ohm.",
        "A burnt contact would pass.",
        Level.WARNING,
    ),
    "sound-condemned": Rule(
        "No reading and no look of a sound appliance speaks for a cause.",
        "Where another method repeats a reading, one bad contact before it speaks for none either.",
        Level.WARNING,
    ),
    "fault-cleared": Rule(
        "What rules a cause out does not come about with a fault that is one.", "It would be left in.", Level.WARNING
    ),
    "fault-not-found": Rule(
        "The test of a cause shows or suspects it with each of its faults.", "Else it is never found.", Level.WARNING
    ),
    "fault-mistaken": Rule(
        "A cause's own test takes its faults for no other cause.", "The wrong part would be replaced.", Level.WARNING
    ),
    "unfounded": Rule(
        "An outcome names causes whose faults show in what was measured, seen or told.",
        "A cause that has nothing to do with it is often the wrong name.",
        Level.WARNING,
    ),
    "one-end": Rule(
        "A leak of an element is looked for at both its ends.",
        "An element that is open leaks at one end only.",
        Level.WARNING,
    ),
    "foreign-sheath": Rule("An element is measured to its own sheath.", "Any other is open to it.", Level.WARNING),
}

_LANGUAGES: Final[Mapping[str, Rule]] = {
    "language-tag": Rule(
        "A language's folder is called by its tag.", "It stands in the record. Source: BCP 47, ISO 639-1."
    ),
    "untranslated": Rule(
        "Every text of a procedure is there in each of its languages.", "A job that changes language is misunderstood."
    ),
    "unknown-text": Rule(
        "A text in another language stands where the procedure has one.",
        "A mistyped key would silently count for nothing.",
    ),
    "not-said": Rule(
        "A language changes texts alone.", "What is safe, asked and measured is the procedure's, in every language."
    ),
    "stale-language": Rule(
        "A language is of the procedure's revision.", "What changed may be something that keeps people safe."
    ),
    "grammar": Rule("A language's vocabulary can be read.", "What is typed would be understood in English alone."),
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
    **_LANGUAGES,
}
"""Every rule, in the order they are told in."""


def level_of(rule: str) -> Level:
    """Return how bad it is to break a rule; one that is not in the table stops a job."""
    return RULES[rule].level if rule in RULES else Level.ERROR


IN_ANY_LANGUAGE: Final = frozenset({"unknown-placeholder", "too-long", "phrases-collide", "phrase", "hold-words"})
"""Rules that texts in another language can break. All others are about the procedure, which is held to them in English,
and many of them look for English words.
"""
UNREAD: Final = frozenset({"not-yaml", "no-such-file", "file-elsewhere", "shape", "step-kind"})
"""Rules that, broken, leave something of a file unread."""
OWN: Final = frozenset({"never-used"})
"""Rules for what stands in the procedure's own file: a part that several procedures share has what one needs."""
WHOLE: Final = frozenset(
    {
        "never-used",
        "cause-never-shown",
        "test-never-chosen",
        "trade-part",
        "unnamed-field",
        "weighed-not-shown",
        "told-not-named",
        "power-precaution",
        "supply-load",
        *(_CIRCUIT.keys() - {"circuit", "no-setup", "circuit-node"}),
    }
)
"""Rules whose breaking can be told only where all of the files could be read."""
ALONE: Final = frozenset(
    {
        *_MEASURING,
        "missing-outcome",
        "unknown-outcome",
        "stop-goes-on",
        "outcome-contradicts",
        "failed-goes-on",
        "endless",
        "wrong-state",
        "hands-on",
        "power-elsewhere",
        "danger-script",
        "put-back-live",
        *(_WORDING.keys() - {"misunderstood", "unheard", "sounds-alike"}),
    }
    - {"limits-field", "limits-too-late", "two-kinds-of-answer"}
)
"""Rules that look at one step or text by itself, so that they can be told whatever else could not be read."""
