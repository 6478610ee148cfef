"""What the program says and shows: one reply to the events of one input.

What was taken is read back first, then what it means, then the next prompt with its cautions. On a live reading only
the value is said; the next prompt waits until the probes are off.
"""

import string
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from enum import StrEnum
from typing import Final

from voicetech import diagnosis
from voicetech.diagnosis.evidence import Looked, Read, Told
from voicetech.dialogue.danger import CLEAR_WORDS
from voicetech.dialogue.flow import facts, holds, open_step
from voicetech.dialogue.found import without_answer, words_found
from voicetech.dialogue.given import ELSEWHERE
from voicetech.dialogue.keeping_sound import SOUND_QUESTION
from voicetech.dialogue.making_safe import PROVING
from voicetech.electrical.limits import Limits
from voicetech.electrical.words import between, in_words
from voicetech.events import (
    Answer,
    AnswerKind,
    AnswerProposed,
    AnswerTaken,
    AnswerWithdrawn,
    Asked,
    CauseShown,
    DangerDoubted,
    DangerStopped,
    DeadProved,
    Event,
    HandedOver,
    JobClosed,
    JobReopened,
    NoteTaken,
    PartInspected,
    Paused,
    ProbesAwaited,
    ProgramTold,
    PromptsSet,
    ProofEnded,
    ProposalDropped,
    ReadingTaken,
    ReasonAwaited,
    Refused,
    Remarked,
    Resumed,
    RivalsOffered,
    SaidAgain,
    SoundAgreed,
    SoundAsked,
    StepEntered,
    StepSkipped,
    StopCleared,
    SupplyClassified,
    VoiceChanged,
)
from voicetech.judge import VerdictWord
from voicetech.language.meaning import State
from voicetech.language.wording import digit_by_digit, read_back, shown, spoken
from voicetech.limit_rules import limits_for
from voicetech.procedure import Ask, Hold, Instruct, Measure, Needs, Phase, Procedure, Step
from voicetech.session import Cursor, Session
from voicetech.turn import Turn
from voicetech.units import Reading, over_range


class LineKind(StrEnum):
    """What a line of a reply is, so that a screen can set it apart in more than colour."""

    SAID_BACK = "said back"
    VERDICT = "verdict"
    MEANING = "meaning"
    CAUTION = "caution"
    PROMPT = "prompt"
    QUESTION = "question"
    HELP = "help"
    REFUSAL = "not now"
    DANGER = "danger"
    RECORD = "record"


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a reply; `speak` is how it is said, empty where it is only shown."""

    kind: LineKind
    show: str
    speak: str


@dataclass(frozen=True, slots=True)
class Reply:
    """What is said and shown after one input; nothing at all where the input was not meant for the program."""

    lines: tuple[Line, ...]

    @property
    def speak(self) -> str:
        """Return the words to speak, one after the other."""
        return " ".join(line.speak for line in self.lines if line.speak)

    @property
    def show(self) -> tuple[str, ...]:
        """Return the lines to show."""
        return tuple(line.show for line in self.lines)


VERDICTS: Final = {
    "within": "within limits",
    "marginal": "marginal",
    "below": "below limits",
    "above": "above limits",
    "over_range": "open",
    "unusable": "cannot be used",
}


def reply(procedure: Procedure, session: Session, events: Sequence[Event]) -> Reply:
    """Return what is said after these events; `session` is the job as it stands after them."""
    lines: list[Line] = []
    for event in events:
        lines.extend(_lines(procedure, session, event))
    entered = [event for event in events if isinstance(event, StepEntered)]
    if entered and session.turn is Turn.ASKING and not _holds_back(events):
        lines.extend(prompt_lines(procedure, session))
    return Reply(tuple(lines))


def _holds_back(events: Sequence[Event]) -> bool:
    return any(isinstance(event, (AnswerProposed, RivalsOffered, SoundAsked)) for event in events[-1:])


def _both(kind: LineKind, text: str) -> Line:
    return Line(kind, text, text)


def _lines(procedure: Procedure, session: Session, event: Event) -> Iterable[Line]:
    match event:
        case ReadingTaken():
            yield from _reading(procedure, event)
        case AnswerTaken(value=value, section=section, step=step_id):
            step = procedure.step(section, step_id)
            if isinstance(step, Ask):
                yield _both(LineKind.SAID_BACK, f"{_capital(said_choice(step, value).rstrip('.'))}.")
        case JobReopened(reason=reason) if reason == ELSEWHERE:
            yield _both(LineKind.RECORD, "The job has gone on elsewhere. What you said last was not taken.")
        case SoundAsked():
            yield _both(LineKind.QUESTION, SOUND_QUESTION)
        case SoundAgreed(kept=kept, beforehand=beforehand):
            shown = "The sound of what is said is kept." if kept else "No sound is kept."
            yield Line(LineKind.RECORD, shown, "" if beforehand else "Sound is kept." if kept else shown)
        case ProgramTold(words=words):
            yield _both(LineKind.RECORD, words)
        case PartInspected(part=part, words=words, fault=fault):
            yield _both(LineKind.SAID_BACK, f"{_capital(part)}: {words}.")
            if fault:
                yield Line(LineKind.RECORD, "Recorded as found.", "")
        case StepSkipped(reason=reason):
            yield _both(LineKind.SAID_BACK, f"Skipped: {reason}. It goes into the report as not tested.")
        case SupplyClassified(meaning=meaning):
            yield Line(LineKind.MEANING, meaning, f"{meaning.split('. ')[0].rstrip('.')}.")
        case Remarked(text=text):
            yield _both(LineKind.MEANING, filled(procedure, session, text))
        case CauseShown(cause=cause, proved=True, section=section):
            found = filled(procedure, session, procedure.causes[cause].say).rstrip(".")
            yield _both(LineKind.MEANING, f"Found: {found}.")
            upstream = {name for each in session.proved for name in procedure.causes[each].upstream}
            if len(session.proved) > 1 and section in upstream:
                yield _both(LineKind.MEANING, "That may be what made the other one fail.")
            elif len(_ever_proved(session)) > 1:
                yield _both(LineKind.MEANING, "That is a second part. Look upstream of both.")
        case DeadProved():
            yield _both(LineKind.RECORD, _proof_words(procedure))
        case ProofEnded(reason=reason) if reason in _SPOKEN_ENDS or "minutes" in reason:
            yield _both(LineKind.CAUTION, f"The proof of dead has ended: {reason}.")
        case AnswerWithdrawn():
            yield _both(LineKind.RECORD, "Taken back.")
        case _:
            yield from _talk(procedure, session, event)


_SPOKEN_ENDS: Final = frozenset(
    {
        "an undo past it",
        "the clock was set back",
        "the job was handed to another device",
        "the tester did not show the known live source afterwards",
    }
)


def _talk(procedure: Procedure, session: Session, event: Event) -> Iterable[Line]:
    match event:
        case AnswerProposed():
            yield _both(LineKind.QUESTION, _proposal(event, open_step(procedure, session)))
        case RivalsOffered(first=first, second=second):
            step = open_step(procedure, session)
            yield _both(LineKind.QUESTION, f"{_capital(rival_words(first, step))}, or {rival_words(second, step)}?")
        case ProposalDropped():
            yield _both(LineKind.RECORD, "Not taken.")
        case ProbesAwaited():
            yield _both(LineKind.QUESTION, "Probes off?")
        case ReasonAwaited(how="note"):
            yield _both(LineKind.QUESTION, "What is the note?")
        case ReasonAwaited():
            yield _both(LineKind.QUESTION, "Why skip it? Say the reason in a few words.")
        case SaidAgain(why=why, silent=False):
            yield _both(LineKind.QUESTION, why)
        case Refused(reason=reason):
            yield _both(LineKind.REFUSAL, reason)
        case Asked(what=what):
            yield from _asked(procedure, session, what)
        case NoteTaken(text=text, unverified=unverified):
            yield _both(LineKind.RECORD, f"Noted: {text}.{' Unverified.' if unverified else ''}")
        case PromptsSet(short=short):
            yield _both(LineKind.RECORD, "Short prompts." if short else "Full prompts.")
        case VoiceChanged(how=how):
            yield Line(LineKind.RECORD, f"Voice: {how}.", "" if how == "hush" else f"{_capital(how)}.")
        case Paused(on_call=on_call):
            wait = "I hear only resume and danger words." if on_call else "Say resume to go on."
            yield _both(LineKind.RECORD, f"Paused. {wait} The proof of dead is made again then.")
        case Resumed():
            yield _both(LineKind.RECORD, "Going on.")
        case JobClosed(outcome=outcome):
            yield _both(LineKind.RECORD, f"Job closed: {outcome}. The report is ready to print.")
        case _:
            yield from _danger(procedure, session, event)


def _danger(procedure: Procedure, session: Session, event: Event) -> Iterable[Line]:
    match event:
        case DangerDoubted():
            yield _both(LineKind.DANGER, "Is it happening now? Yes or no.")
        case DangerStopped(kind=kind):
            script = procedure.danger_scripts[kind].say
            yield _both(LineKind.DANGER, filled(procedure, session, script))
            clear = f"When all is safe, say: {CLEAR_WORDS[0]}."
            yield _both(LineKind.DANGER, clear)
        case StopCleared():
            yield _both(LineKind.QUESTION, "What happened? Say it in your own words.")
        case HandedOver(reason=reason):
            handed = procedure.hand_overs[reason]
            yield _both(LineKind.DANGER, f"Stop work. {handed.say} Hand over to {handed.to}.")
        case _:
            return


def _ever_proved(session: Session) -> set[str]:
    """Return the causes proved in this job, those that were mended since among them."""
    return {taken.cause for taken in session.record if isinstance(taken, CauseShown) and taken.proved}


def _proof_words(procedure: Procedure) -> str:
    minutes = procedure.settings.get("proof_minutes", "30")
    return (
        f"Recorded: every pair at 1 volt or less, tester proved before and after. "
        f"Good for {minutes} minutes. If anything changes, prove it again."
    )


def _reading(procedure: Procedure, event: ReadingTaken) -> Iterable[Line]:
    step = procedure.step(event.section, event.step)
    one_pair = isinstance(step, Measure) and len(step.pairs) == 1
    label = "" if one_pair else f"{spoken_label(event.label)}: "
    value = said_value(event)
    if step.role in PROVING and event.verdict == VerdictWord.WITHIN:
        yield Line(LineKind.RECORD, f"{event.label}: {shown_value(event)}", "")
        return
    yield Line(LineKind.SAID_BACK, f"{event.label}: {shown_value(event)}", f"{_capital(label + value)}.")
    verdict = VERDICTS.get(event.verdict, event.verdict)
    live = event.needs == Needs.LIVE.value
    judged_alone = isinstance(step, Measure) and step.judged_as == "each"
    if judged_alone or event.verdict != "within":
        spoken = "" if live or not judged_alone else f"{_capital(verdict)}."
        yield Line(LineKind.VERDICT, f"{_capital(verdict)}: {event.reason}.", spoken)


def spoken_label(label: str) -> str:
    """Return a pair's label as it is said: "L1 to N"."""
    return " to ".join(label.split("-"))


def said_value(event: ReadingTaken) -> str:
    """Return a taken value as it is read back."""
    if event.state is not None and event.state is not State.OPEN:
        return "continuity, ohms not taken" if event.state is State.BEEP else event.state.value
    return read_back(_as_reading(event))


def shown_value(event: ReadingTaken) -> str:
    """Return a taken value as it is shown."""
    if event.state is not None and event.state is not State.OPEN:
        return "continuity, ohms not taken" if event.state is State.BEEP else event.state.value
    return shown(_as_reading(event))


def _as_reading(event: ReadingTaken) -> Reading:
    return over_range(event.unit) if event.value is None else Reading(event.value, event.unit)


def _proposal(event: AnswerProposed, step: Step | None) -> str:
    if event.why == "safety":
        zero = all(answer.value == 0 for answer in event.answers)
        if zero and len(event.answers) > 1:
            return f"All {_count(len(event.answers))} pairs zero volts. Right?"
        said = ", ".join(_labelled(answer, step) for answer in event.answers)
        return f"{_capital(said)}. Right?"
    return f"{_capital(', '.join(answer_words(answer, step) for answer in event.answers))}. Right?"


def _labelled(answer: Answer, step: Step | None) -> str:
    label = f"{spoken_label(answer.label)} " if answer.label and "-" in answer.label else ""
    return f"{label}{answer_words(answer, step)}"


_COUNTS: Final = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")


def _count(number: int) -> str:
    return _COUNTS[number] if number < len(_COUNTS) else str(number)


def answer_words(answer: Answer, step: Step | None) -> str:
    """Return an answer to a step as it is read back."""
    match answer.kind:
        case AnswerKind.READING:
            value = over_range(answer.unit) if answer.value is None else Reading(answer.value, answer.unit)
            return read_back(value)
        case AnswerKind.STATE:
            return "it beeps" if answer.state is State.BEEP else (answer.state.value if answer.state else "")
        case AnswerKind.YES | AnswerKind.NO:
            return f"{answer.kind.value}, {answer.text}" if answer.text else answer.kind.value
        case AnswerKind.CHOICE if isinstance(step, Ask):
            return said_choice(step, answer.text or "")
        case AnswerKind.WORDS | AnswerKind.CHOICE:
            return answer.text or ""


def rival_words(answer: Answer, step: Step | None) -> str:
    """Return an answer to a step so that it cannot be mistaken for its rival: numbers digit by digit."""
    if answer.kind is AnswerKind.READING and answer.value is not None:
        return digit_by_digit(answer.value)
    return answer_words(answer, step)


def said_choice(step: Ask, value: str) -> str:
    """Return a recorded answer in the words that mean it."""
    if step.unit is not None:
        try:
            return read_back(Reading(Decimal(value), step.unit))
        except InvalidOperation:
            return value
    return next((choice.hear[0] for choice in step.choices if choice.key == value), value)


def prompt_lines(procedure: Procedure, session: Session, full: bool = False) -> tuple[Line, ...]:
    """Return the open step's cautions and prompt, short or full."""
    cursor = session.at
    if cursor is None:
        return ()
    step = procedure.step(cursor.section, cursor.step)
    short = session.short_prompts and not full
    lines: list[Line] = []
    if cursor.pair == 0 and cursor.attempt == 1:
        lines.extend(_cautions(procedure, step, short))
    lines.append(_both(LineKind.PROMPT, prompt_text(procedure, session, cursor, step, short)))
    return tuple(lines)


def _cautions(procedure: Procedure, step: Step, short: bool) -> Iterable[Line]:
    for warning_id in step.warnings:
        warning = procedure.warnings[warning_id]
        text = f"{_capital(warning.signal.value)}: {warning.say}"
        yield Line(LineKind.CAUTION, text, "" if short else text)


def prompt_text(procedure: Procedure, session: Session, cursor: Cursor, step: Step, short: bool) -> str:
    """Return the words of the prompt for this pair and attempt."""
    words = step.prompt.short if short else step.prompt.full
    if isinstance(step, Measure) and len(step.pairs) > 1 and cursor.pair > 0:
        words = f"{_capital(step.pairs[cursor.pair].say)}."
    elif cursor.attempt > 1:
        words = f"Once more, to be sure. {step.prompt.short}"
    return filled(procedure, session, words)


class _Known(dict[str, str]):
    def __missing__(self, key: str) -> str:
        return key.replace("_", " ")


def filled(procedure: Procedure, session: Session, text: str) -> str:
    """Return a text with its placeholders filled from the record and the settings."""
    known = _Known(procedure.settings)
    known.update(facts(procedure, session))
    known.update(words_found(procedure, session.proved, lambda words: string.Formatter().vformat(words, (), known)))
    known["excluded"] = ", ".join(_tested_well(procedure, session)) or "nothing"
    known["not_tested"] = _not_tested(procedure, session)
    return string.Formatter().vformat(text, (), known)


def cause_words(procedure: Procedure, session: Session, cause: str) -> str:
    """Return what a cause is called, with the answer that shows it only where it is proved."""
    says = procedure.causes[cause].say
    return filled(procedure, session, says if cause in session.proved else without_answer(says)).rstrip(".")


def _not_tested(procedure: Procedure, session: Session) -> str:
    done = session.ended
    left = [
        section.part or section.title
        for section in procedure.sections
        if section.phase is Phase.TEST and section.role is None and done.get(section.id) != "done"
    ]
    return ", ".join(left) if left else "nothing"


def _tested_well(procedure: Procedure, session: Session) -> list[str]:
    return [
        section.part or section.title
        for section in procedure.sections
        if section.phase is Phase.TEST and section.role is None and session.ended.get(section.id) == "done"
    ]


def _asked(procedure: Procedure, session: Session, what: str) -> Iterable[Line]:
    cursor = session.at
    if session.turn is Turn.HANDED_OVER and session.handed_over is not None:
        handed = procedure.hand_overs[session.handed_over]
        yield _both(LineKind.HELP, f"Work has stopped. {handed.say} Hand over to {handed.to}.")
        return
    if cursor is None:
        return
    step = procedure.step(cursor.section, cursor.step)
    match what:
        case "how":
            yield _both(LineKind.HELP, filled(procedure, session, step.prompt.how or step.prompt.full))
        case "why":
            yield _both(LineKind.HELP, filled(procedure, session, step.prompt.why or "It is part of the job."))
        case "where":
            yield _both(LineKind.HELP, _where(procedure, step, cursor))
        case "limit":
            yield _both(LineKind.HELP, limit_told(session, step))
        case "status":
            yield from _status(procedure, session)
        case "suspects":
            yield _both(LineKind.HELP, _suspects(procedure, session))
            yield from _reasons(procedure, session)
        case _:
            yield from _again(procedure, session)


def _again(procedure: Procedure, session: Session) -> Iterable[Line]:
    if isinstance(session.pending, AnswerProposed):
        yield _both(LineKind.QUESTION, _proposal(session.pending, open_step(procedure, session)))
    elif session.turn is Turn.PROBES_ON:
        yield _both(LineKind.QUESTION, "Probes off?")
    else:
        yield from prompt_lines(procedure, session, full=True)


def _where(procedure: Procedure, step: Step, cursor: Cursor) -> str:
    if not isinstance(step, Measure):
        return step.prompt.how or step.prompt.full
    pair = step.pairs[cursor.pair]
    first, second = procedure.points.get(pair.first), procedure.points.get(pair.second)
    places = [f"{_capital(point.call[0])}: {point.at.rstrip('.')}" for point in (first, second) if point is not None]
    return f"{'. '.join(places) or pair.say}. Markings vary: go by the diagram."


def limit_told(session: Session, step: Step) -> str:
    """Return what the step should read, with where that comes from, or why nothing is read there."""
    if isinstance(step, Measure):
        if step.judged_as != "each":
            return "About 240 volts leg to leg and 120 each leg to neutral; on a 208 supply, 208 and 120."
        limits = limits_for(step.limits, session.answers)
        return f"{limit_words(limits)} {_capital(limits.source)}."
    if isinstance(step, Hold):
        return f"It holds until you say: {step.until[0]}."
    if isinstance(step, Instruct):
        return "Nothing to read here. Say done when it is done."
    return "There is no limit for this question."


def limit_words(limits: Limits) -> str:
    """Return what a step should read, in one sentence."""
    if limits.expect_open:
        return "It should read open, over limit."
    match limits.low, limits.high:
        case Decimal() as low, Decimal() as high if low > 0:
            return f"It should read {between(low, high, limits.unit)}, {limits.reason}."
        case _, Decimal() as high:
            return f"It should read at most {in_words(high, limits.unit)}, {limits.reason}."
        case Decimal() as low, _:
            return f"It should read at least {in_words(low, limits.unit)}, {limits.reason}."
        case _:
            return "It has no figure to keep."


def _status(procedure: Procedure, session: Session) -> Iterable[Line]:
    if session.at is None:
        return
    section = procedure.section(session.at.section)
    done = [
        procedure.section(section_id).title
        for section_id, how in session.ended.items()
        if how == "done" and procedure.section(section_id).phase is Phase.TEST
    ]
    tested = ", ".join(done) if done else "nothing tested yet"
    yield _both(LineKind.HELP, f"We are at: {section.title}. Done: {tested}.")
    yield _both(LineKind.HELP, _suspects(procedure, session))
    yield from _reasons(procedure, session)
    known = facts(procedure, session)
    tests = [each for each in procedure.sections if each.phase is Phase.TEST and each.role is None and each.call]
    names = ", ".join(each.call[0] for each in tests if holds(each.when, known))
    yield Line(LineKind.HELP, f"You can ask for: {names}.", "")


def _suspects(procedure: Procedure, session: Session) -> str:
    ranked = [s for s in diagnosis.suspects(procedure, session) if s.standing != "excluded"][:3]
    if not ranked:
        return "Nothing is left of the usual suspects."
    words = "; then ".join(cause_words(procedure, session, s.cause) for s in ranked)
    return f"Found: {words}." if ranked[0].standing == "proved" else f"Suspected: {words}."


_MOST_REASONS: Final = 3


def _reasons(procedure: Procedure, session: Session) -> Iterable[Line]:
    """Return what speaks for the first suspicion: all on the screen, the most telling aloud."""
    because = [reason_words(procedure, piece) for piece in diagnosis.reasons(procedure, session)[:_MOST_REASONS]]
    if because:
        yield Line(LineKind.HELP, f"What speaks for it: {'; '.join(because)}.", f"What speaks for it: {because[0]}.")


def reason_words(procedure: Procedure, piece: Read | Looked | Told) -> str:
    """Return a result in a few words, as a reason."""
    match piece:
        case Looked(part=part, fault=fault):
            return f"{part} {'looks bad' if fault else 'looks good'}"
        case Told(field=field, value=value):
            return f"{field.replace('_', ' ')}: {value}"
        case Read(section=section, step=step_id, pair=number, value=value, state=state):
            step = procedure.step(section, step_id)
            if not isinstance(step, Measure):
                return section
            if state is not None:
                said = state.value
            elif value is None:
                said = "over range"
            else:
                said = spoken(Reading(Decimal(f"{value:.4g}"), step.unit))
            return f"{step.pairs[number].say}, {said}"


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
