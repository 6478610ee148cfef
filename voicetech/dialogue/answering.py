"""Answers to everything that is not measured: holds, questions, inspections and instructions."""

from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal

from voicetech.dialogue.draft import Draft
from voicetech.dialogue.flow import go_on
from voicetech.dialogue.making_safe import after_hold, after_low_impedance
from voicetech.dialogue.measuring import measured
from voicetech.dialogue.outcomes import follow, outcome_of
from voicetech.events import (
    Answer,
    AnswerKind,
    AnswerProposed,
    AnswerTaken,
    DangerDoubted,
    PartInspected,
    SaidAgain,
    StepDone,
)
from voicetech.language.meaning import (
    MEASURED,
    AnswerSaid,
    Asking,
    ChoiceSaid,
    Command,
    CommandSaid,
    DangerKind,
    Flag,
    Meaning,
    RangeSaid,
    ReadingSaid,
    SeveralSaid,
    StateSaid,
    Unclear,
    WordsSaid,
)
from voicetech.procedure import Ask, Hold, Inspect, Instruct, Measure, Phase, SafetyRole
from voicetech.units import Unit

LATER = "not known yet"
"""What is recorded where the technician will give an answer later."""


def answered(draft: Draft, meaning: Meaning) -> None:
    """Take what was said as the answer to the open step, or ask again."""
    match draft.step:
        case Hold() as step:
            _hold(draft, step, meaning)
        case Ask() as step:
            _ask(draft, step, meaning)
        case Inspect() as step:
            _inspect(draft, step, meaning)
        case Instruct() as step:
            _instruct(draft, step, meaning)
        case Measure() as step:
            match meaning:
                case ReadingSaid() | StateSaid() | SeveralSaid() | RangeSaid():
                    measured(draft, step, meaning)
                case Unclear(candidates=(ReadingSaid() | StateSaid() as likeliest, *others), offer=True) if typed(
                    draft
                ):
                    measured(draft, step, _asked_about(likeliest, others))
                case _:
                    again(draft, meaning, "Say what the meter shows.")


def typed(draft: Draft) -> bool:
    """Return whether the technician types: a mistyped word is then in view, a misheard one is not."""
    return not draft.session.by_voice


def _asked_about(likeliest: ReadingSaid | StateSaid, others: Sequence[Meaning]) -> ReadingSaid | StateSaid:
    """Return what may have been meant, to be confirmed, with the other values it may have been."""
    if isinstance(likeliest, StateSaid):
        return replace(likeliest, confirm=True)
    rivals = tuple(o.value for o in others if isinstance(o, ReadingSaid) and o.unit is likeliest.unit)
    return replace(likeliest, confirm=True, rivals=rivals or likeliest.rivals)


def again(draft: Draft, meaning: Meaning, need: str) -> None:
    """Ask again: with the question that understanding offers, else with what is needed."""
    ask = meaning.ask if isinstance(meaning, Unclear) and meaning.ask else need
    draft.add(SaidAgain(ask, silent=quiet_now(draft)))


def quiet_now(draft: Draft) -> bool:
    """Return whether the program has asked often enough: by voice it says "say again" twice, then waits in silence."""
    return draft.session.by_voice and draft.session.times_said_again >= 2


def _hold(draft: Draft, step: Hold, meaning: Meaning) -> None:
    said = meaning.text if isinstance(meaning, WordsSaid) else None
    if said is None or said.lower() not in {words.lower() for words in step.until}:
        again(draft, meaning, f"This holds until you say: {step.until[0]}.")
        return
    draft.add(StepDone(draft.seq, draft.cursor.section, step.id, said, draft.at_s))
    after_hold(draft, step)
    go_on(draft, None)


def _instruct(draft: Draft, step: Instruct, meaning: Meaning) -> None:
    match meaning:
        case CommandSaid(command=Command.DONE | Command.NEXT, confirm=False) | AnswerSaid(yes=True):
            draft.add(StepDone(draft.seq, draft.cursor.section, step.id, "done", draft.at_s))
            follow(draft, outcome_of(step.outcomes, "done"))
        case AnswerSaid(yes=False):
            again(draft, meaning, "Say done when it is.")
        case _:
            again(draft, meaning, "Say done when it is done.")


def _inspect(draft: Draft, step: Inspect, meaning: Meaning) -> None:
    if not isinstance(meaning, AnswerSaid):
        again(draft, meaning, "Say good, or say what you see.")
        return
    if meaning.yes and Flag.SAFETY_CHECK in meaning.flags:
        words = meaning.finding or "a smell"
        draft.add(DangerDoubted(DangerKind.FIRE, words, draft.at_s, finding=True))
        return
    if meaning.confirm:
        kind = AnswerKind.YES if meaning.yes else AnswerKind.NO
        draft.add(AnswerProposed((Answer(kind, text=meaning.finding),), "doubt"))
        return
    take_inspection(draft, step, meaning.yes, meaning.finding)


def take_inspection(draft: Draft, step: Inspect, fault: bool, words: str | None) -> None:
    """Put on record what was seen and follow it."""
    seen = words or ("something wrong" if fault else "nothing wrong")
    draft.add(PartInspected(draft.seq, draft.cursor.section, step.id, step.part, fault, seen, draft.at_s))
    follow(draft, outcome_of(step.outcomes, "fault" if fault else "clean"))


def _ask(draft: Draft, step: Ask, meaning: Meaning) -> None:
    match meaning:
        case Unclear(candidates=(ChoiceSaid(key=key),), offer=True) if step.asking is Asking.CHOICE and typed(draft):
            draft.add(AnswerProposed((Answer(AnswerKind.CHOICE, text=key),), "doubt"))
        case ChoiceSaid(key=key) if step.asking is Asking.CHOICE:
            _take_or_propose(draft, step, Answer(AnswerKind.CHOICE, text=key), meaning.confirm)
        case AnswerSaid(yes=yes) if step.asking is Asking.YES_NO:
            kind = AnswerKind.YES if yes else AnswerKind.NO
            _take_or_propose(draft, step, Answer(kind, text=meaning.finding), meaning.confirm)
        case ReadingSaid(value=value) if step.asking in _NUMBERS:
            _number(draft, step, meaning, value)
        case WordsSaid(text=text) if step.asking is Asking.SERIAL:
            draft.add(AnswerProposed((Answer(AnswerKind.WORDS, text=text),), "doubt"))
        case WordsSaid(text=text) if step.asking is Asking.NOTE:
            take_answer(draft, step, text, unverified=draft.session.by_voice)
        case _:
            again(draft, meaning, need_of(step, may_wait(draft, step)))


_NUMBERS = (MEASURED - {Asking.CONTINUITY}) | {Asking.ANY}


def may_wait(draft: Draft, step: Ask) -> bool:
    """Return whether it may be left open: at intake any but the one of danger, a figure of a plate, a last note."""
    if any(outcome.danger is not None for outcome in step.outcomes.values()):
        return False
    note = step.asking is Asking.NOTE and draft.section.phase is Phase.REPORT
    return draft.section.phase is Phase.INTAKE or step.asking is Asking.POWER or note


def need_of(step: Ask, may_wait: bool) -> str:
    """Return what a question needs for an answer, in a few words; one that may wait says so."""
    or_wait = " Or say: not known." if may_wait else ""
    match step.asking:
        case Asking.CHOICE:
            return f"Say one of: {', '.join(choice.hear[0] for choice in step.choices)}.{or_wait}"
        case Asking.YES_NO:
            return f"Yes or no?{or_wait}"
        case Asking.SERIAL:
            return "Spell it in groups, or say: type later."
        case Asking.NOTE:
            return "Say it in your own words."
        case _:
            return f"Say the number with its unit.{or_wait}"


def _number(draft: Draft, step: Ask, said: ReadingSaid, value: Decimal) -> None:
    unit = said.unit or step.unit
    if step.unit is Unit.WATT and unit is Unit.KILOWATT:
        value, unit = value * 1000, Unit.WATT
    if step.unit is Unit.KILOWATT and unit is Unit.WATT:
        value, unit = value / 1000, Unit.KILOWATT
    if step.unit is not None and unit is not step.unit:
        again(draft, said, need_of(step, may_wait(draft, step)))
        return
    values = (value, *said.rivals)
    unlikely = not _likely(step, value)
    if unlikely and unit is Unit.WATT and _likely(step, value * 1000):
        # Plates and people leave "kilo" out: 13.7 of a range.
        values = (Decimal(f"{(value * 1000).normalize():f}"), *values)
    answer, *others = (Answer(AnswerKind.READING, value=each, unit=unit) for each in values)
    if said.confirm or unlikely:
        draft.add(AnswerProposed((answer,), "doubt", tuple(others)))
    else:
        take_answer(draft, step, f"{value.normalize():f}")


def _likely(step: Ask, value: Decimal) -> bool:
    """Return whether such a value was ever seen there; True where the procedure does not say."""
    return step.likely is None or step.likely[0] <= value <= step.likely[1]


def _take_or_propose(draft: Draft, step: Ask, answer: Answer, confirm: bool) -> None:
    if confirm:
        draft.add(AnswerProposed((answer,), "doubt"))
    else:
        take_answer(draft, step, text_of(answer))


def text_of(answer: Answer) -> str:
    """Return how an answer to a question is recorded."""
    match answer.kind:
        case AnswerKind.YES | AnswerKind.NO:
            return answer.kind.value
        case AnswerKind.READING if answer.value is not None:
            return f"{answer.value.normalize():f}"
        case _:
            return answer.text or ""


def take_answer(draft: Draft, step: Ask, value: str, unverified: bool = False) -> None:
    """Put the answer to a question on record and follow it."""
    cursor = draft.cursor
    draft.add(AnswerTaken(draft.seq, cursor.section, step.id, step.field, value, unverified, draft.at_s))
    if step.role is SafetyRole.LOW_IMPEDANCE:
        after_low_impedance(draft, step, value == "yes")
    else:
        follow(draft, outcome_of(step.outcomes, value))
