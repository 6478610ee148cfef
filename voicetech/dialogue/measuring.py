"""Readings on their way into the record: matched to their pairs, judged, confirmed where safety hangs on them."""

from collections.abc import Hashable
from dataclasses import replace
from decimal import Decimal
from typing import Final

from voicetech.dialogue.draft import Draft
from voicetech.dialogue.flow import enter, open_step
from voicetech.dialogue.making_safe import after_pair, after_proving, is_proving
from voicetech.dialogue.outcomes import follow, outcome_of, result_of
from voicetech.dialogue.pairs import meant_pair, named_pair, names_another, only_a_side
from voicetech.electrical.meter import HANDHELD, HANDHELD_LOW_IMPEDANCE
from voicetech.electrical.supply import SupplyReadings, classify_supply
from voicetech.events import (
    Answer,
    AnswerKind,
    AnswerProposed,
    AnswerTaken,
    ProbesAwaited,
    ReadingTaken,
    SaidAgain,
    SupplyClassified,
)
from voicetech.judge import Verdict, VerdictWord, judge_reading, judge_state
from voicetech.language.meaning import (
    NO_PLACE,
    CorrectionSaid,
    Flag,
    Meaning,
    RangeSaid,
    ReadingSaid,
    SeveralSaid,
    State,
    StateSaid,
    WordsSaid,
)
from voicetech.language.spelled import characters
from voicetech.limit_rules import limits_for, no_pass_yet
from voicetech.procedure import Hold, Measure, Needs, Pair, Procedure, SafetyRole, Step
from voicetech.session import Cursor, Session
from voicetech.units import Quantity, Reading, Unit, over_range

Said = ReadingSaid | StateSaid | SeveralSaid | RangeSaid

SUPPLY_PAIRS: Final = {
    "L1-L2": "l1_l2",
    "L1-N": "l1_n",
    "L2-N": "l2_n",
    "N-frame": "n_frame",
    "L1-frame": "l1_frame",
    "L2-frame": "l2_frame",
    "X-Y": "l1_l2",
    "X-W": "l1_n",
    "Y-W": "l2_n",
}


def measured(draft: Draft, step: Measure, said: Said) -> None:
    """Take a said reading, propose it, or say why it cannot be used."""
    if isinstance(said, RangeSaid):
        draft.add(SaidAgain("It has to settle. Say one value, or the highest it reaches.", silent=False))
        return
    answers = _answers(draft, step, said)
    if isinstance(answers, str):
        draft.add(SaidAgain(answers, silent=False))
        return
    if is_proving(step):
        draft.add(AnswerProposed(answers, "safety"))
    elif said.confirm or (isinstance(said, (ReadingSaid, StateSaid)) and only_a_side(said.label)):
        draft.add(AnswerProposed(answers, "doubt", _others(said, answers)))
    else:
        take(draft, step, answers)


def _others(said: Said, answers: tuple[Answer, ...]) -> tuple[Answer, ...]:
    if not isinstance(said, ReadingSaid) or len(answers) != 1:
        return ()
    first = answers[0]
    return tuple(Answer(first.kind, first.label, rival, first.unit) for rival in said.rivals)


_BOUND_IS_ENOUGH: Final = ("insulation", "open", "must-open")
"""Limit rules of what should be as large as can be: "more than two gigohms" is an answer there."""
_IN_ORDER: Final = ("first", "second", "third", "fourth", "fifth", "sixth")
"""What people call the pairs that were asked for, in their order."""


def _answers(draft: Draft, step: Measure, said: ReadingSaid | StateSaid | SeveralSaid) -> tuple[Answer, ...] | str:
    owed = step.pairs[draft.cursor.pair :]
    if isinstance(said, SeveralSaid):
        return _several(step, owed, said)
    pair = meant_pair(step, owed, said.label) if said.label else None
    if said.label and pair is None and (len(step.pairs) > 1 or names_another(step, said.label)):
        return f"I asked for {owed[0].say}. Measure that, and say the value."
    return _one(step, pair or owed[0], said)


def _several(step: Measure, owed: tuple[Pair, ...], said: SeveralSaid) -> tuple[Answer, ...] | str:
    if Flag.SEQUENCE in said.flags:
        return "It moves. Say the one value where it stays."
    parts = said.parts * len(owed) if said.all_pairs and len(said.parts) == 1 else said.parts
    if len(parts) > len(owed):
        return f"I heard {len(parts)} values for {len(owed)}. Say one at a time, {owed[0].say} first."
    answers: list[Answer] = []
    for pair, part in zip(owed, parts, strict=False):
        named = named_pair(step, part.label) if part.label else None
        if part.label in _IN_ORDER[: len(owed)]:
            named = owed[_IN_ORDER.index(part.label)]
        if named is None and part.label is not None and part.label not in NO_PLACE:
            return f"I do not know which points {part.label} are. Say one at a time, {owed[0].say} first."
        one = _one(step, named or pair, part)
        if isinstance(one, str):
            return one
        answers.extend(one)
    if len({answer.label for answer in answers}) != len(answers):
        return f"Two of these were for the same points. Say one at a time, {owed[0].say} first."
    return tuple(answers)


def _one(step: Measure, pair: Pair, said: ReadingSaid | StateSaid) -> tuple[Answer, ...] | str:
    if isinstance(said, StateSaid):
        return _state(step, pair, said)
    unit = said.unit or step.unit
    if said.flags & {Flag.BOUND_ABOVE, Flag.BOUND_BELOW} and not step.limits.rule.startswith(_BOUND_IS_ENOUGH):
        return "More or less than it is no reading. Say the number the meter shows."
    if Flag.UNIT_MISMATCH in said.flags or unit is not step.unit:
        return f"I asked for {_ASKED[step.quantity]}. {_AGAIN.get(step.quantity, _SET_THE_METER)}"
    return (Answer(AnswerKind.READING, pair.label, said.value, unit),)


def _state(step: Measure, pair: Pair, said: StateSaid) -> tuple[Answer, ...] | str:
    if step.unit is not Unit.OHM:
        return f"I need a number. What does the meter show, in {_ASKED[step.quantity]}?"
    if said.state is State.OPEN:
        return (Answer(AnswerKind.READING, pair.label, None, step.unit, State.OPEN),)
    return (Answer(AnswerKind.STATE, pair.label, None, step.unit, said.state),)


_SET_THE_METER: Final = "Set the meter, measure again and say the value."
_AGAIN: Final = {Quantity.DURATION: "Time it once more and say them."}
_ASKED: Final = {
    Quantity.VOLTAGE: "volts",
    Quantity.RESISTANCE: "ohms",
    Quantity.CONTINUITY: "ohms",
    Quantity.CURRENT: "amps",
    Quantity.TEMPERATURE: "degrees",
    Quantity.POWER: "watts",
    Quantity.DURATION: "seconds",
}


def verdict_of(draft: Draft, step: Measure, answer: Answer) -> Verdict:
    """Return the verdict on one answer of a measuring step, by the limits that hold now."""
    verdict = _judged(draft, step, answer)
    missing = no_pass_yet(step.limits, draft.session.answers)
    if missing is None or verdict.word not in (VerdictWord.WITHIN, VerdictWord.MARGINAL):
        return verdict
    return replace(verdict, word=VerdictWord.UNUSABLE, reason=missing, probability_inside=None)


def _judged(draft: Draft, step: Measure, answer: Answer) -> Verdict:
    label = answer.label or step.pairs[draft.cursor.pair].label
    limits = limits_for(step.limits, draft.session.answers, label)
    if answer.kind is AnswerKind.STATE and answer.state is not None:
        return judge_state(answer.state, limits, step.accepts_beep)
    reading = over_range(step.unit) if answer.value is None else Reading(answer.value, answer.unit)
    leads = None if step.role is SafetyRole.NULL_LEADS else draft.session.lead_ohm
    return judge_reading(reading, limits, HANDHELD, leads)


def take(draft: Draft, step: Measure, answers: tuple[Answer, ...]) -> None:
    """Put readings on record with their verdicts and go on, or wait for the probes to come off."""
    verdicts = [verdict_of(draft, step, answer) for answer in answers]
    for verdict in verdicts:
        if verdict.word is VerdictWord.UNUSABLE:
            draft.add(SaidAgain(_sentence(verdict.reason), silent=False))
            return
    for answer, verdict in zip(answers, verdicts, strict=True):
        _record(draft, step, answer, verdict)
    if step.needs is Needs.LIVE:
        draft.add(ProbesAwaited(draft.at_s))
    else:
        after_readings(draft, step)


def _sentence(reason: str) -> str:
    return f"{reason[:1].upper()}{reason[1:]}."


def _record(draft: Draft, step: Measure, answer: Answer, verdict: Verdict) -> None:
    cursor, limits = draft.cursor, verdict.limits
    label = answer.label or step.pairs[cursor.pair].label
    draft.add(
        ReadingTaken(
            seq=draft.seq,
            section=cursor.section,
            step=cursor.step,
            label=label,
            value=answer.value,
            unit=answer.unit,
            state=answer.state,
            verdict=verdict.word.value,
            reason=verdict.reason,
            low=limits.low,
            high=limits.high,
            probability_inside=verdict.probability_inside,
            source=verdict.source,
            attempt=cursor.attempt,
            needs=step.needs.value,
            lead_ohm=draft.session.lead_ohm if step.unit is Unit.OHM else None,
            at_s=draft.at_s,
        )
    )
    after_pair(draft, step, label, answer.value, verdict.word.value)
    if step.field is not None and answer.value is not None:
        draft.add(
            AnswerTaken(
                draft.seq,
                cursor.section,
                cursor.step,
                step.field,
                str(answer.value),
                unverified=False,
                at_s=draft.at_s,
            )
        )


def after_readings(draft: Draft, step: Measure) -> None:
    """Ask for the next pair, or follow the outcome where every pair was measured."""
    cursor = draft.cursor
    taken = draft.session.readings_of(cursor)
    for index, pair in enumerate(step.pairs):
        if pair.label not in taken:
            enter(draft, Cursor(cursor.section, cursor.step, index, cursor.attempt))
            return
    if is_proving(step):
        after_proving(draft, step)
        return
    if step.judged_as != "each":
        _classify(draft, step)
    follow(draft, outcome_of(step.outcomes, result_of(draft, step)))


def _classify(draft: Draft, step: Measure) -> None:
    unplugged, alone = step.judged_as == "supply-unplugged", _supply(draft, "supply-alone")
    idle = _supply(draft, "supply-unplugged") if unplugged else alone or _supply(draft, "supply-idle")
    loaded = _supply(draft, "supply-loaded") if step.judged_as == "supply-loaded" else None
    if idle is None:
        idle, loaded = loaded, None
    if idle is None:
        return
    meter = HANDHELD if draft.cursor.attempt == 1 else HANDHELD_LOW_IMPEDANCE
    finding = classify_supply(idle, loaded, meter, nothing_connected=unplugged or idle is alone)
    words = " ".join(_sentence(part.rstrip(".")) for part in (finding.meaning, finding.action, *finding.remarks))
    draft.add(SupplyClassified(draft.seq, finding.kind.value, words, draft.at_s))


def _supply(draft: Draft, judged_as: str) -> SupplyReadings | None:
    """Return the latest readings of the pairs that were judged so, or None where leg to leg is not among them."""
    values: dict[str, Decimal] = {}
    for reading in draft.session.current_readings:
        step = draft.procedure.step(reading.section, reading.step)
        if isinstance(step, Measure) and step.judged_as == judged_as and reading.value is not None:
            values[SUPPLY_PAIRS.get(reading.label, reading.label)] = reading.value
    if "l1_l2" not in values:
        return None
    return SupplyReadings(
        values["l1_l2"],
        values.get("l1_n"),
        values.get("l2_n"),
        values.get("n_frame"),
        values.get("l1_frame"),
        values.get("l2_frame"),
    )


def _words_key(step: Step | None, said: WordsSaid) -> Hashable:
    """Return the same for all phrases a hold yields to, and for all ways to say one serial number."""
    if isinstance(step, Hold) and said.text.lower() in {words.lower() for words in step.until}:
        return "words", step.until
    return "words", characters(said.text) or said.text


def verdict_key(procedure: Procedure, session: Session, meaning: Meaning) -> Hashable:
    """Return what an answer would come to at the open step: answers with the same key lead to the same verdict."""
    step = open_step(procedure, session)
    if isinstance(meaning, WordsSaid):
        return _words_key(step, meaning)
    replacement = meaning.replacement if isinstance(meaning, CorrectionSaid) else meaning
    if not isinstance(step, Measure) or not isinstance(replacement, (ReadingSaid, StateSaid)):
        return type(meaning).__name__, meaning
    draft = Draft(procedure, session, session.last_at_s)
    answers = _answers(draft, step, replacement)
    if isinstance(answers, str):
        return type(meaning).__name__, "unusable"
    return type(meaning).__name__, tuple(verdict_of(draft, step, answer).word for answer in answers)
