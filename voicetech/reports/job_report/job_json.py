"""A job's facts as a record for other programs."""

from collections.abc import Iterable
from datetime import datetime, tzinfo
from decimal import Decimal, localcontext

from voicetech import __version__
from voicetech.reports.facts.causes import CauseFact
from voicetech.reports.facts.job import STATEMENT, JobFacts
from voicetech.reports.facts.made_safe import ProofFact
from voicetech.reports.facts.plate import written
from voicetech.reports.facts.results import ReadingFact
from voicetech.reports.job_report.job_record import (
    FORMAT,
    AnswerRecord,
    CauseRecord,
    DangerRecord,
    DoneRecord,
    ExcludedRecord,
    HandOverRecord,
    InspectionRecord,
    JobRecord,
    NoteRecord,
    PairRecord,
    PartRecord,
    PowerRecord,
    ProcedureRecord,
    ProofRecord,
    ReadingRecord,
    RefusalRecord,
    ReopenedRecord,
    SkippedRecord,
    SupplyRecord,
)
from voicetech.reports.text import LEFT_OUT
from voicetech.reports.wording import printable

_FIGURES = 6


def job_json(facts: JobFacts, zone: tzinfo | None = None) -> str:
    """Return the job as JSON text by `job.schema.json`; times by the clock of `zone`, or of this computer."""
    return f"{job_record(facts, zone).model_dump_json(indent=2)}\n"


def job_record(facts: JobFacts, zone: tzinfo | None = None) -> JobRecord:
    """Return the job as a record."""
    at = _Moments(zone)
    return JobRecord(
        format=FORMAT,
        program=__version__,
        statement=STATEMENT,
        without_names=facts.without_names,
        job=plain(facts.job),
        procedure=ProcedureRecord(
            title=plain(facts.procedure),
            revision=facts.revision,
            digest=facts.digest,
            changed_since=facts.procedure_changed,
        ),
        appliance=facts.appliance,
        model=_spelled(facts, "model"),
        serial=_spelled(facts, "serial"),
        complaint=plain(facts.complaint),
        outcome=facts.closed_as,
        opened=at.maybe(facts.opened_at_s),
        last_entry=at.maybe(facts.last_at_s),
        channels=[channel.value for channel in facts.channels],
        reopened=[
            ReopenedRecord(channel=again.channel.value, reason=plain(again.reason), at=at(again.at_s))
            for again in facts.reopened
        ],
        answers=[
            AnswerRecord(
                stage=answer.stage.value,
                field=answer.field,
                given=plain(answer.given),
                words=plain(answer.value),
                unverified=answer.unverified,
                at=at(answer.at_s),
                withdrawn=answer.withdrawn,
            )
            for answer in facts.answers
        ],
        proofs_of_dead=[_proof(proof, at) for proof in facts.proofs],
        power=[PowerRecord(what=plain(power.what), at=at(power.at_s)) for power in facts.power],
        readings=[_reading(reading, at) for reading in facts.every_reading],
        supplies=[
            SupplyRecord(
                finding=plain(supply.finding),
                meaning=plain(supply.meaning),
                at=at(supply.at_s),
                withdrawn=supply.withdrawn,
            )
            for supply in facts.supplies
        ],
        inspections=[
            InspectionRecord(
                stage=seen.stage.value,
                part=plain(seen.part),
                fault=seen.fault,
                words=plain(seen.words),
                at=at(seen.at_s),
                withdrawn=seen.withdrawn,
            )
            for seen in facts.inspections
        ],
        done=[
            DoneRecord(stage=done.stage.value, what=plain(done.what), at=at(done.at_s), withdrawn=done.withdrawn)
            for done in facts.done
        ],
        skipped=[
            SkippedRecord(
                part=plain(skip.part), what=plain(skip.what), reason=plain(skip.reason), withdrawn=skip.withdrawn
            )
            for skip in facts.skipped
        ],
        not_reached=list(map(plain, facts.not_reached)),
        found=_causes(facts.found),
        suspected=_causes(facts.suspected),
        no_longer_held=_causes(facts.dropped),
        ruled_out=[
            ExcludedRecord(says=list(map(plain, fact.says)), by=plain(fact.by), withdrawn=fact.withdrawn)
            for fact in facts.excluded
        ],
        remaining=list(map(plain, facts.remaining)),
        parts=[
            PartRecord(
                function=plain(part.function),
                rating=plain(part.rating),
                proved=part.proved,
                part_number=None if part.listed is None else plain(part.listed.number),
                description=None if part.listed is None else plain(part.listed.description),
            )
            for part in facts.parts
        ],
        part_book=plain(facts.part_book) or None,
        hand_overs=[
            HandOverRecord(says=plain(over.says), to=plain(over.to), at=at(over.at_s), withdrawn=over.withdrawn)
            for over in facts.hand_overs
        ],
        dangers=[
            DangerRecord(
                kind=danger.kind.value,
                words=plain(danger.words),
                at=at(danger.at_s),
                stopped=danger.stopped,
                denied=danger.denied,
                cleared_at=at.maybe(danger.cleared_at_s),
                account=None if danger.account is None else plain(danger.account),
            )
            for danger in facts.dangers
        ],
        notes=[NoteRecord(text=plain(note.text), unverified=note.unverified, at=at(note.at_s)) for note in facts.notes],
        refusals=[RefusalRecord(reason=plain(each.reason), times=each.times) for each in facts.refusals],
        unreadable=list(map(plain, facts.left_out)),
    )


class _Moments:
    """Turns seconds since the epoch into moments with an offset, whole seconds."""

    def __init__(self, zone: tzinfo | None) -> None:
        self._zone = zone

    def __call__(self, at_s: float) -> datetime:
        return datetime.fromtimestamp(round(at_s), self._zone).astimezone(self._zone)

    def maybe(self, at_s: float | None) -> datetime | None:
        return None if at_s is None else self(at_s)


def plain(words: str) -> str:
    """Return words for another program: common spaces, no control characters."""
    return printable(words).replace("\N{NO-BREAK SPACE}", " ")


def _spelled(facts: JobFacts, field: str) -> str | None:
    given = facts.given(field)
    if not given or given == LEFT_OUT:
        return given or None
    return plain(written(given) or given)


def rounded_limit(limit: Decimal | None) -> Decimal | None:
    """Return a limit to six figures: the rest are digits of the arithmetic, not of the limit."""
    if limit is None:
        return None
    with localcontext(prec=_FIGURES):
        return +limit


def _causes(causes: Iterable[CauseFact]) -> list[CauseRecord]:
    return [
        CauseRecord(
            id=cause.id,
            says=plain(cause.says),
            proof=list(map(plain, cause.proof)),
            why_it_may_fail=plain(cause.why_failed),
            remedy=plain(cause.remedy),
            parts=list(map(plain, cause.parts)),
            withdrawn=cause.withdrawn,
        )
        for cause in causes
    ]


def _proof(proof: ProofFact, at: _Moments) -> ProofRecord:
    return ProofRecord(
        isolated_by=proof.isolated_by,
        isolated_at=at.maybe(proof.isolated_at_s),
        tester_before_volts=proof.tester_before_v,
        pairs=[
            PairRecord(between=plain(pair.label), volts=pair.volts, dead=pair.dead, at=at(pair.at_s))
            for pair in proof.pairs
        ],
        tester_after_volts=proof.tester_after_v,
        proved_at=at.maybe(proof.proved_at_s),
        ended=proof.ended,
        ended_at=at.maybe(proof.ended_at_s),
    )


def _reading(reading: ReadingFact, at: _Moments) -> ReadingRecord:
    taken = reading.taken
    alone = not reading.together
    return ReadingRecord(
        stage=reading.stage.value,
        part=plain(reading.part),
        between=plain(reading.between),
        unit=None if taken.unit is None else taken.unit.value,
        value=taken.value,
        shown=plain(reading.value),
        over_range=taken.value is None and taken.verdict == "over_range",
        appliance=reading.taken_in,
        conditions=[plain(words) for words in reading.conditions if not words.startswith("leads ")],
        one_wire_off=reading.one_wire_off,
        leads_ohm=taken.lead_ohm,
        attempt=taken.attempt,
        low=rounded_limit(taken.low) if alone else None,
        high=rounded_limit(taken.high) if alone else None,
        verdict=taken.verdict if alone else None,
        reason=plain(reading.reason),
        source=plain(reading.source),
        at=at(reading.at_s),
        withdrawn=reading.withdrawn,
    )
