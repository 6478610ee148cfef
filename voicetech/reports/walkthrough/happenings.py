"""What each event of a record says to a reader, in a few words under a short heading; what only moves the job is left
out.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

from voicetech.events import (
    Answer,
    AnswerKind,
    AnswerProposed,
    AnswerTaken,
    AnswerWithdrawn,
    Asked,
    CausesExcluded,
    CauseShown,
    DangerDenied,
    DangerDoubted,
    DangerRecounted,
    DangerStopped,
    DeadProved,
    Event,
    HandedOver,
    HoldTaken,
    Isolated,
    JobClosed,
    NoteTaken,
    PairReadDead,
    PairReadLive,
    PartInspected,
    Paused,
    PowerRestored,
    ProofEnded,
    ProposalDropped,
    ReadingTaken,
    Refused,
    Resumed,
    RivalsOffered,
    SaidAgain,
    SectionEnded,
    SoundAgreed,
    StepDeferred,
    StepDone,
    StepSkipped,
    StopCleared,
    SupplyClassified,
    TesterProved,
    VoiceChanged,
)
from voicetech.reports.facts.naming import Names
from voicetech.reports.facts.results import ReadingFact, Result, hand_overs_of, readings_of, results_of
from voicetech.reports.wording import headed, number_with_unit, plain_name, reading_words
from voicetech.session import ANSWERS, REOPENED
from voicetech.units import Unit


@dataclass(frozen=True, slots=True)
class Happening:
    """One thing that a turn led to: its heading and its words, which are somebody's own where `quoted`.

    `safety` where it belongs to making safe or to power. `withdrawn` says why it no longer counts.
    """

    what: str
    words: str
    quoted: bool = False
    safety: bool = False
    reading: ReadingFact | None = None
    withdrawn: str | None = None


def happenings_of(events: Sequence[Event], names: Names) -> Mapping[int, tuple[Happening, ...]]:
    """Return what each event says, by the identity of the event; most say one thing, some nothing."""
    results = {id(result.taken): result for result in results_of(events)}
    told: dict[int, tuple[Happening, ...]] = {}
    standing: list[Result] = []
    for event in events:
        result = results.get(id(event))
        if isinstance(event, AnswerWithdrawn):
            happening: Happening | None = _withdrawn(event, standing, names)
            standing = [each for each in standing if each.taken.seq < event.seq]
        elif result is None:
            happening = _of_event(event, names)
        else:
            happening = _of_result(result, names)
            standing.append(result)
        if happening is not None:
            withdrawn = None if result is None else result.withdrawn
            told[id(event)] = (replace(happening, withdrawn=withdrawn),)
    return told


def _withdrawn(event: AnswerWithdrawn, standing: Sequence[Result], names: Names) -> Happening:
    """Return what a withdrawal took away, the answers alone: what followed from them goes with them."""
    gone = [each for each in standing if each.taken.seq >= event.seq and isinstance(each.taken, ANSWERS)]
    words = [happening for each in gone if (happening := _of_result(each, names)) is not None]
    told = "; ".join(each.words if each.reading is None else f"{each.words}: {each.reading.value}" for each in words)
    return Happening("withdrawn", f"{told or 'What was taken last'}, because of: {event.reason}")


def _of_result(result: Result, names: Names) -> Happening | None:
    match result.taken:
        case ReadingTaken():
            (reading,) = readings_of((result,), names)
            return Happening("reading", f"{reading.part}, {reading.between}", reading=reading)
        case SupplyClassified(finding=finding, meaning=meaning):
            return Happening("supply", f"{headed(plain_name(finding))}. {meaning}")
        case AnswerTaken(section=section, step=step, field=field, value=value):
            return Happening("answer", f"{headed(plain_name(field))}: {names.answer(section, step, value)}")
        case PartInspected(part=part, words=words, fault=fault):
            found = "something wrong" if fault else "nothing wrong"
            return Happening("looked at", f"{headed(plain_name(part))}: {words} ({found})")
        case StepDone(section=section, step=step):
            return Happening("done", names.doing(section, step))
        case StepSkipped(section=section, step=step, reason=reason):
            return Happening("skipped", f"{names.doing(section, step)} Reason: {reason}")
        case SectionEnded(section=section, how=how):
            if how == "done":
                return None
            said = "begun anew" if how == REOPENED else how
            return Happening("test", f"{names.title(section)}: {said}")
        case CauseShown(cause=cause, proved=proved):
            return Happening("fault found" if proved else "fault suspected", names.cause_words(cause))
        case CausesExcluded(causes=causes):
            return Happening("ruled out", "; ".join(names.cause_words(cause) for cause in causes))
        case HandedOver():
            (over,) = hand_overs_of((result,), names)
            return Happening("handed over", f"{over.says} {f'To: {over.to}.' if over.to else ''}".strip())


_FIRST: Final = {
    "dead": "make safe and prove dead",
    "live": "go live",
    "powered": "covers on and power on",
    "leads": "null the leads",
}


def _of_event(event: Event, names: Names) -> Happening | None:
    match event:
        case AnswerProposed(answers=answers, why=why):
            reason = "it decides safety" if why == "safety" else "it was not sure"
            return Happening("read back for a yes", f"{_answers(answers)} ({reason})")
        case RivalsOffered(first=first, second=second):
            return Happening("asked which", f"{_answer(first)}, or {_answer(second)}")
        case ProposalDropped(reason=reason):
            return Happening("not taken", headed(reason))
        case Isolated(by=by):
            how = "plug out, in sight and reach" if by == "plug" else "locked out and tagged"
            return Happening("isolated", headed(how), safety=True)
        case TesterProved(before=before, value=value):
            when = "before the dead readings" if before else "after them"
            volts = number_with_unit(value, Unit.VOLT)
            return Happening("tester proved", f"{volts} on a known live source, {when}", safety=True)
        case PairReadDead(label=label, value=value):
            return Happening("reads dead", f"{label}: {number_with_unit(value, Unit.VOLT)}", safety=True)
        case PairReadLive(label=label, value=value):
            return Happening("reads live", f"{label}: {number_with_unit(value, Unit.VOLT)}", safety=True)
        case DeadProved():
            return Happening("proved dead", "Tester, every pair, tester again", safety=True)
        case ProofEnded(reason=reason):
            return Happening("proof of dead ended", headed(reason), safety=True)
        case PowerRestored(reason=reason):
            return Happening("power on, or taken as on", headed(reason), safety=True)
        case HoldTaken(hold=hold):
            what = "covers on before power" if hold == "covers" else "ready for live tests"
            return Happening("hold taken", headed(what), safety=True)
        case StepDeferred(section=section, step=step, needs=needs):
            beforehand = _FIRST.get(needs, plain_name(needs))
            return Happening("waits", f"{names.doing(section, step)} First: {beforehand}", safety=True)
        case DangerDoubted(kind=kind, words=words):
            return Happening("danger words", f"{kind.value}: {words}. Asked whether it is happening now")
        case DangerDenied():
            return Happening("danger denied", "It is not happening now")
        case DangerStopped(kind=kind, words=words):
            return Happening("danger: everything stopped", f"{kind.value}: {words}")
        case StopCleared():
            return Happening("stop ended", "The words that end a stop were said", safety=True)
        case DangerRecounted(words=words):
            return Happening("what had happened", words, quoted=True)
        case _:
            return _beside_the_work(event)


def _beside_the_work(event: Event) -> Happening | None:
    match event:
        case NoteTaken(text=text, unverified=unverified):
            return Happening("note, unverified" if unverified else "note", text, quoted=True)
        case Paused(on_call=on_call):
            return Happening("paused", "For a call" if on_call else "By the technician")
        case Resumed():
            return Happening("resumed", "The job goes on")
        case Refused(reason=reason):
            return Happening("not possible now", reason)
        case SaidAgain(why=why, silent=silent):
            return Happening("asked again", f"{why} (in silence)" if silent else why)
        case Asked(what=what):
            return Happening("asked the program", headed(plain_name(what)))
        case VoiceChanged(how=how):
            return Happening("voice", headed(how))
        case SoundAgreed(kept=kept, beforehand=beforehand):
            when = "agreed beforehand" if beforehand else "asked in the job"
            return Happening("sound", f"{'Kept' if kept else 'Not kept'}, {when}")
        case JobClosed(outcome=outcome):
            return Happening("job closed", headed(outcome))
        case _:
            return None


def _answers(answers: Sequence[Answer]) -> str:
    return ", ".join(_answer(answer) for answer in answers)


def _answer(answer: Answer) -> str:
    where = f"{answer.label} " if answer.label else ""
    match answer.kind:
        case AnswerKind.READING | AnswerKind.STATE:
            return f"{where}{reading_words(answer.value, answer.unit, answer.state)}"
        case AnswerKind.YES | AnswerKind.NO:
            return answer.text or answer.kind.value
        case AnswerKind.CHOICE:
            return plain_name(answer.text or "")
        case _:
            return answer.text or ""
