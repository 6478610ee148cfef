"""What a technician found and did, gathered from the record with its names and whether it was withdrawn."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from voicetech.events import (
    AnswerTaken,
    AnswerWithdrawn,
    CausesExcluded,
    CauseShown,
    Event,
    HandedOver,
    PartInspected,
    ReadingTaken,
    SectionEnded,
    StepDone,
    StepSkipped,
    SupplyClassified,
)
from voicetech.reports.bands import Band, band_of
from voicetech.reports.facts.naming import Names, Stage
from voicetech.reports.fields import field_name, sentence
from voicetech.reports.wording import (
    headed,
    limits_words,
    needs_words,
    number_with_unit,
    plain_name,
    reading_words,
    verdict_words,
)
from voicetech.session import Taken
from voicetech.units import Unit

TOGETHER: Final = "judged as a set, below"
"""The verdict of a reading that means something only beside the others of its set."""


@dataclass(frozen=True, slots=True)
class Result:
    """A result as it stands in the record: with the time it was taken and, if so, why it was withdrawn.

    `at_s` is the time of the event itself or of the last one before it that has one.
    """

    taken: Taken
    at_s: float
    withdrawn: str | None


@dataclass(frozen=True, slots=True)
class ReadingFact:
    """One reading; `limits`, `reason` and `source` are empty where only its set has them.

    `good` is None where the verdict is neither a pass nor a fail; `taken_in` is dead or live. `taken` is the event
    itself, with its figures; `together` where the reading means something only as one of a set.
    """

    taken: ReadingTaken
    together: bool
    one_wire_off: bool
    stage: Stage
    part: str
    between: str
    value: str
    taken_in: str
    conditions: tuple[str, ...]
    limits: str
    verdict: str
    good: bool | None
    reason: str
    source: str
    attempt: int
    band: Band | None
    at_s: float
    withdrawn: str | None

    @property
    def circumstances(self) -> tuple[str, ...]:
        """Return what the appliance and the meter were like, and which attempt it was where not the first."""
        again = (f"attempt {self.attempt}",) if self.attempt > 1 else ()
        return tuple(words for words in (self.taken_in, *self.conditions, *again) if words)


@dataclass(frozen=True, slots=True)
class SupplyFact:
    """What a set of supply readings means together; `seq` is the number of the last of them."""

    seq: int
    finding: str
    meaning: str
    at_s: float
    withdrawn: str | None


@dataclass(frozen=True, slots=True)
class InspectionFact:
    """A part that was looked at; `words` are the technician's, unverified."""

    stage: Stage
    part: str
    fault: bool
    words: str
    at_s: float
    withdrawn: str | None


@dataclass(frozen=True, slots=True)
class AnswerFact:
    """An answer under the name of its field: `given` as it is stored, `value` in the procedure's words.

    `called` is what a report calls the field, `sentence` what a yes or a no to it says, None where it is neither.
    """

    stage: Stage
    field: str
    name: str
    called: str
    given: str
    value: str
    sentence: str | None
    unverified: bool
    at_s: float
    withdrawn: str | None


@dataclass(frozen=True, slots=True)
class DoneFact:
    """Something that was done, or a hold whose words were said."""

    stage: Stage
    what: str
    at_s: float
    withdrawn: str | None


@dataclass(frozen=True, slots=True)
class SkippedFact:
    """A test that was not done; `reason` is the technician's where there was one."""

    part: str
    what: str
    reason: str
    withdrawn: str | None


@dataclass(frozen=True, slots=True)
class HandOverFact:
    """Why work stopped for good and who takes over."""

    says: str
    to: str
    at_s: float
    withdrawn: str | None


def results_of(events: Sequence[Event]) -> tuple[Result, ...]:
    """Return every result on record in order, those withdrawn later included."""
    results: list[Result] = []
    at_s = 0.0
    for event in events:
        at_s = getattr(event, "at_s", at_s)
        match event:
            case (
                ReadingTaken()
                | SupplyClassified()
                | AnswerTaken()
                | PartInspected()
                | StepDone()
                | StepSkipped()
                | SectionEnded()
                | CauseShown()
                | CausesExcluded()
                | HandedOver()
            ):
                results.append(Result(event, at_s, None))
            case AnswerWithdrawn(seq=first, reason=reason):
                results = [_after_withdrawal(result, first, reason) for result in results]
            case _:
                pass
    return tuple(results)


def _after_withdrawal(result: Result, first: int, reason: str) -> Result:
    if result.withdrawn is not None or result.taken.seq < first:
        return result
    return Result(result.taken, result.at_s, reason)


_GOOD = {"within": True, "below": False, "above": False, "over_range": False}


def readings_of(results: Iterable[Result], names: Names) -> tuple[ReadingFact, ...]:
    """Return every reading in order."""
    return tuple(_reading(result, result.taken, names) for result in results if isinstance(result.taken, ReadingTaken))


def _reading(result: Result, taken: ReadingTaken, names: Names) -> ReadingFact:
    conditions = list(names.stood(taken.section, taken.step))
    wire_off = names.wire_off(taken.section, taken.step)
    if wire_off:
        conditions.append("one wire off")
    if taken.lead_ohm is not None and names.stage(taken.section) is not Stage.SAFETY:
        conditions.append(f"leads {number_with_unit(taken.lead_ohm, Unit.OHM)} taken off")
    together = names.judged_together(taken.section, taken.step)
    return ReadingFact(
        taken=taken,
        together=together,
        one_wire_off=wire_off,
        stage=names.stage(taken.section),
        part=names.part(taken.section),
        between=taken.label,
        value=reading_words(taken.value, taken.unit, taken.state),
        taken_in=needs_words(taken.needs),
        conditions=tuple(conditions),
        limits="" if together else limits_words(taken.low, taken.high, taken.unit),
        verdict=TOGETHER if together else verdict_words(taken.verdict),
        good=None if together else _good(taken),
        reason="" if together else taken.reason,
        source="" if together else taken.source,
        attempt=taken.attempt,
        band=None if together else _band(taken),
        at_s=taken.at_s,
        withdrawn=result.withdrawn,
    )


def _good(taken: ReadingTaken) -> bool | None:
    # Over range is what a sound insulation reads: its limits have no upper end.
    if taken.verdict == "over_range" and taken.high is None and taken.low is not None:
        return True
    return _GOOD.get(taken.verdict)


def _band(taken: ReadingTaken) -> Band | None:
    if taken.value is None and taken.state is not None and taken.verdict != "over_range":
        return None
    return band_of(taken.low, taken.high, _without_leads(taken))


def _without_leads(taken: ReadingTaken) -> Decimal | None:
    """Return the value as it was judged: the leads are taken off where they are known."""
    if taken.value is None or taken.lead_ohm is None:
        return taken.value
    return max(taken.value - taken.lead_ohm, Decimal(0))


def supplies_of(results: Iterable[Result]) -> tuple[SupplyFact, ...]:
    """Return what sets of supply readings meant, in order."""
    return tuple(
        SupplyFact(taken.seq, headed(plain_name(taken.finding)), taken.meaning, taken.at_s, result.withdrawn)
        for result in results
        if isinstance(taken := result.taken, SupplyClassified)
    )


def inspections_of(results: Iterable[Result], names: Names) -> tuple[InspectionFact, ...]:
    """Return every part that was looked at, in order."""
    return tuple(
        InspectionFact(
            names.stage(taken.section),
            headed(plain_name(taken.part)),
            taken.fault,
            taken.words,
            taken.at_s,
            result.withdrawn,
        )
        for result in results
        if isinstance(taken := result.taken, PartInspected)
    )


def without_repeats(results: Sequence[Result]) -> tuple[Result, ...]:
    """Return the results without answers that merely keep a reading under a field."""
    read = {(r.taken.seq, r.taken.step) for r in results if isinstance(r.taken, ReadingTaken)}
    return tuple(r for r in results if not (isinstance(r.taken, AnswerTaken) and (r.taken.seq, r.taken.step) in read))


def answers_of(results: Iterable[Result], names: Names) -> tuple[AnswerFact, ...]:
    """Return every answer, in order."""
    return tuple(
        AnswerFact(
            names.stage(taken.section),
            taken.field,
            headed(plain_name(taken.field)),
            field_name(taken.field, names.fields),
            taken.value,
            names.answer(taken.section, taken.step, taken.value),
            sentence(taken.field, taken.value, names.fields),
            taken.unverified,
            taken.at_s,
            result.withdrawn,
        )
        for result in results
        if isinstance(taken := result.taken, AnswerTaken)
    )


def done_of(results: Iterable[Result], names: Names) -> tuple[DoneFact, ...]:
    """Return everything that was done, in order."""
    return tuple(
        DoneFact(names.stage(taken.section), names.doing(taken.section, taken.step), taken.at_s, result.withdrawn)
        for result in results
        if isinstance(taken := result.taken, StepDone)
    )


_WHOLE_SECTION_LEFT = {"not fitted", "skipped", "left"}


def skipped_of(results: Sequence[Result], names: Names) -> tuple[SkippedFact, ...]:
    """Return every test that was not done, once each, in order."""
    facts: dict[SkippedFact, None] = {}
    told = {result.taken.section for result in results if isinstance(result.taken, StepSkipped)}
    for result in results:
        match result.taken:
            case StepSkipped(section=section, step=step, reason=reason):
                what = names.doing(section, step)
                facts[SkippedFact(names.part(section), what, reason, result.withdrawn)] = None
            case SectionEnded(section=section, how=how) if how in _WHOLE_SECTION_LEFT and section not in told:
                facts[SkippedFact(names.part(section), "", how, result.withdrawn)] = None
            case _:
                pass
    return tuple(facts)


def hand_overs_of(results: Iterable[Result], names: Names) -> tuple[HandOverFact, ...]:
    """Return every hand-over, in order."""
    return tuple(
        _hand_over(taken, result.withdrawn, names)
        for result in results
        if isinstance(taken := result.taken, HandedOver)
    )


def _hand_over(taken: HandedOver, withdrawn: str | None, names: Names) -> HandOverFact:
    known = None if names.procedure is None else names.procedure.hand_overs.get(taken.reason)
    says = headed(plain_name(taken.reason)) if known is None else names.filled(known.say)
    return HandOverFact(says, "" if known is None else known.to, taken.at_s, withdrawn)
