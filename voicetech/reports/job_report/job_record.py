"""A job as it is handed to other programs: typed records, and the JSON Schema that is published of them.

Figures are strings with the digits the meter gave, because "21.80" and "21.8" are not the same reading and a binary
number cannot keep either; limits that were computed are rounded to six figures. Units are UCUM codes. Times are
ISO 8601 with their offset.
"""

import json
from datetime import datetime
from decimal import Decimal
from typing import Annotated, Any, Final, Literal

from pydantic import BaseModel, ConfigDict, Field, PlainSerializer, WithJsonSchema

FORMAT: Final = "voicetech-job/1"
_DIALECT: Final = "https://json-schema.org/draft/2020-12/schema"

Figure = Annotated[
    Decimal,
    PlainSerializer(lambda value: format(value, "f"), return_type=str),
    WithJsonSchema({"type": "string", "pattern": r"^-?[0-9]+(\.[0-9]+)?$"}),
]
"""A decimal number as text, with the digits that were given."""
Withdrawn = Annotated[str | None, Field(description="Why it no longer counts; null where it stands.")]
UnitCode = Annotated[str, Field(description="UCUM code: V, A, Ohm, Cel, [degF], Hz, F, W, kW, s.")]
StageName = Annotated[
    Literal["call", "safety", "test", "decide", "repair", "put-back", "retest", "advice"],
    Field(description="Which part of the job it belongs to."),
]


class _Record(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, use_attribute_docstrings=True)


class ProcedureRecord(_Record):
    """The procedure that was followed."""

    title: str
    revision: int | None
    digest: str
    """SHA-256 of its text."""
    changed_since: bool | None
    """Whether its text has been changed since the job; null where it was not at hand."""


class AnswerRecord(_Record):
    """An answer under the name of its field."""

    stage: StageName
    field: str
    given: str
    """As it is stored: a key of the procedure, yes, no, a figure, or words."""
    words: str
    """The same in the procedure's words, with its unit."""
    unverified: bool
    """True for words that were heard freely and confirmed by nobody."""
    at: datetime
    withdrawn: Withdrawn


class PairRecord(_Record):
    """The voltage of one pair while dead was proved."""

    between: str
    volts: Figure
    dead: bool
    at: datetime


class ProofRecord(_Record):
    """One proof of dead, whole or only begun: null where a part was not done."""

    isolated_by: str | None
    """plug or lockout."""
    isolated_at: datetime | None
    tester_before_volts: Figure | None
    """What the tester showed on a known live source before the pairs."""
    pairs: list[PairRecord]
    tester_after_volts: Figure | None
    proved_at: datetime | None
    ended: str | None
    """What ended it."""
    ended_at: datetime | None


class PowerRecord(_Record):
    """A moment the power came on or may have, or a hold that was taken before it."""

    what: str
    at: datetime


class ReadingRecord(_Record):
    """One reading, those of the proofs of dead included."""

    stage: StageName
    part: str
    between: str
    unit: UnitCode | None
    value: Figure | None
    """In the unit; null where the meter showed no figure."""
    shown: str
    """What the meter showed, in words: the figure with its unit, OL (over range), open, closed, a buzzer."""
    over_range: bool
    appliance: str
    """dead, live, or power on with covers on; empty where it did not matter."""
    conditions: list[str]
    """What else is known: idle, under load, hot, one wire off."""
    one_wire_off: bool
    leads_ohm: Figure | None
    """What was taken off for the test leads before it was judged."""
    attempt: int
    low: Figure | None
    """Lower limit; null where there is none or the reading is judged only as one of a set."""
    high: Figure | None
    verdict: str | None
    """below, within, marginal, above, over_range or unusable; null where only its set is judged."""
    reason: str
    source: str
    """Where the limits come from."""
    at: datetime
    withdrawn: Withdrawn


class SupplyRecord(_Record):
    """What a set of supply readings means together."""

    finding: str
    meaning: str
    at: datetime
    withdrawn: Withdrawn


class InspectionRecord(_Record):
    """A part that was looked at; the words are the technician's."""

    stage: StageName
    part: str
    fault: bool
    words: str
    at: datetime
    withdrawn: Withdrawn


class DoneRecord(_Record):
    """Something that was done."""

    stage: StageName
    what: str
    at: datetime
    withdrawn: Withdrawn


class SkippedRecord(_Record):
    """A test that was not made."""

    part: str
    what: str
    reason: str
    withdrawn: Withdrawn


class CauseRecord(_Record):
    """A fault, with the results that show it."""

    id: str
    says: str
    proof: list[str]
    why_it_may_fail: str
    remedy: str
    parts: list[str]
    withdrawn: Withdrawn


class ExcludedRecord(_Record):
    """Faults that a result rules out."""

    says: list[str]
    by: str
    withdrawn: Withdrawn


class PartRecord(_Record):
    """A part that mending takes."""

    function: str
    rating: str
    """By the nameplate, as in 2600 W at 240 V; empty where it was not told."""
    proved: bool
    """False where the fault it mends is only suspected."""
    part_number: str | None
    """From the shop's part book; null where there is no book or no line in it."""
    description: str | None


class HandOverRecord(_Record):
    """Why work stopped for good, and who takes over."""

    says: str
    to: str
    at: datetime
    withdrawn: Withdrawn


class DangerRecord(_Record):
    """One time danger words were heard; words and account are the technician's, unverified."""

    kind: str
    words: str
    at: datetime
    stopped: bool
    denied: bool
    cleared_at: datetime | None
    account: str | None


class NoteRecord(_Record):
    """A note in the technician's words."""

    text: str
    unverified: bool
    at: datetime


class RefusalRecord(_Record):
    """Something the program would not do."""

    reason: str
    times: int


class ReopenedRecord(_Record):
    """The job was taken up again."""

    channel: Literal["voice", "chat", "page"]
    reason: str
    at: datetime


class JobRecord(_Record):
    """A job of voicetech: what was answered, measured, found and done. It does not declare anything safe."""

    format: Literal["voicetech-job/1"]
    program: str
    """The version of voicetech that wrote this."""
    statement: str
    without_names: bool
    """Whether names and free words were left out; they then read [left out]."""
    job: str
    procedure: ProcedureRecord
    appliance: str
    model: str | None
    """In characters where it was spelled; null where it is not known."""
    serial: str | None
    complaint: str
    outcome: str | None
    """repaired, left safe, handed over, not found or abandoned; null while the job is open."""
    opened: datetime | None
    last_entry: datetime | None
    channels: list[Literal["voice", "chat", "page"]]
    reopened: list[ReopenedRecord]
    answers: list[AnswerRecord]
    proofs_of_dead: list[ProofRecord]
    power: list[PowerRecord]
    readings: list[ReadingRecord]
    supplies: list[SupplyRecord]
    inspections: list[InspectionRecord]
    done: list[DoneRecord]
    skipped: list[SkippedRecord]
    not_reached: list[str]
    """Parts no test came to."""
    found: list[CauseRecord]
    """Proved, and still standing."""
    suspected: list[CauseRecord]
    """Pointed to by a result, not proved."""
    no_longer_held: list[CauseRecord]
    """Shown once, then withdrawn or ruled out."""
    ruled_out: list[ExcludedRecord]
    remaining: list[str]
    """Faults of this complaint that were neither found nor ruled out."""
    parts: list[PartRecord]
    part_book: str | None
    hand_overs: list[HandOverRecord]
    dangers: list[DangerRecord]
    notes: list[NoteRecord]
    refusals: list[RefusalRecord]
    unreadable: list[str]
    """Events of the record that could not be read."""


def job_schema() -> dict[str, Any]:
    """Return the JSON Schema of a job record, Draft 2020-12."""
    return {
        "$schema": _DIALECT,
        "$id": f"urn:{FORMAT.replace('/', ':')}",
        **JobRecord.model_json_schema(mode="serialization"),
    }


def schema_text() -> str:
    """Return the schema as it is committed and printed."""
    return f"{json.dumps(job_schema(), indent=2, ensure_ascii=False)}\n"
