"""The parts of a report that hold figures: how it was made safe, and the table of readings."""

from collections.abc import Iterable, Iterator, Sequence
from decimal import Decimal
from typing import Final

from voicetech.reports.blocks import (
    Block,
    MeaningRow,
    Paragraph,
    ReadingRow,
    Readings,
    Run,
    Section,
    Style,
    Table,
    Text,
)
from voicetech.reports.clock import Clock
from voicetech.reports.facts.job import JobFacts
from voicetech.reports.facts.made_safe import PairFact, ProofFact
from voicetech.reports.facts.naming import Stage
from voicetech.reports.facts.results import ReadingFact, SupplyFact
from voicetech.reports.text import quiet, text, timed
from voicetech.reports.wording import as_sentence, number_with_unit
from voicetech.units import Unit

_ISOLATED: Final[dict[str, str]] = {
    "plug": "Plug out, in sight and reach",
    "lockout": "Breaker off, locked and tagged",
}
_AFTER: Final = (Stage.PUT_BACK, Stage.RETEST)
_HEADINGS: Final = ("What", "Between", "Reading", "State", "Limits", "Verdict", "Time")


def made_safe(facts: JobFacts, clock: Clock) -> Section:
    """Return how and when the appliance was made safe: each proof of dead a row, with every figure."""
    blocks: list[Block] = (
        [_proofs(facts.proofs, clock)] if facts.proofs else [quiet("The appliance was not made safe on record.")]
    )
    if facts.power:
        blocks.append(quiet(f"Power: {_each_once((p.what, clock.time(p.at_s)) for p in facts.power)}."))
    held = [done for done in facts.done if done.stage is Stage.SAFETY]
    if held:
        told = ((h.what, f"{clock.time(h.at_s)}{' withdrawn' if h.withdrawn else ''}") for h in held)
        blocks.append(quiet(f"Confirmed on the way: {_each_once(told)}."))
    return Section("Made safe", tuple(blocks))


def _each_once(told: Iterable[tuple[str, str]]) -> str:
    """Return what happened, each once with all of its times."""
    times: dict[str, list[str]] = {}
    for what, time in told:
        times.setdefault(what.rstrip("."), []).append(time)
    return "; ".join(f"{what} ({', '.join(dict.fromkeys(when))})" for what, when in times.items())


def _proofs(proofs: Sequence[ProofFact], clock: Clock) -> Table:
    labels = tuple(dict.fromkeys(pair.label for proof in proofs for pair in proof.pairs))
    headings = ("Isolated", "Tester on known source", *labels, "Tester again", "Proved dead", "Stood until")
    return Table(headings, tuple(_proof(proof, labels, clock) for proof in proofs))


def _proof(proof: ProofFact, labels: Sequence[str], clock: Clock) -> tuple[Text, ...]:
    by = "Not recorded" if proof.isolated_by is None else _ISOLATED.get(proof.isolated_by, proof.isolated_by)
    isolated = text(by) if proof.isolated_at_s is None else timed(by, clock.time(proof.isolated_at_s))
    pairs = tuple(_pair([pair for pair in proof.pairs if pair.label == label]) for label in labels)
    proved = (
        (Run("Not proved dead", Style.STRONG),)
        if proof.proved_at_s is None
        else (Run(clock.time(proof.proved_at_s), Style.STRONG),)
    )
    ended = text("")
    if proof.ended and proof.ended_at_s is not None:
        ended = (Run(clock.time(proof.ended_at_s)), Run(f" {proof.ended}", Style.SMALL))
    return (isolated, _volts(proof.tester_before_v), *pairs, _volts(proof.tester_after_v), proved, ended)


def _volts(value: object) -> Text:
    return text("not done") if value is None else text(f"{value} V")


def _pair(read: Sequence[PairFact]) -> Text:
    """Return the last reading of a pair, with those before it where it was read again."""
    if not read:
        return (Run("not read", Style.STRONG),)
    runs: list[Run] = []
    for pair in read:
        runs.append(Run(f"{', ' if runs else ''}{number_with_unit(pair.volts, Unit.VOLT)}"))
        if not pair.dead:
            runs.append(Run(" not dead", Style.STRONG))
    return tuple(runs)


def measured(facts: JobFacts, clock: Clock) -> Section:
    """Return the table of readings, what stands under it, and the readings that were withdrawn."""
    standing = [reading for reading in facts.readings if reading.withdrawn is None]
    blocks: list[Block] = []
    if standing:
        blocks.append(Readings(_HEADINGS, tuple(_rows(standing, facts, clock))))
    else:
        blocks.append(quiet(f"Nothing measured{' yet' if facts.outcome is None else ''}."))
    blocks.extend(quiet(words) for words in _under(standing, facts))
    withdrawn = tuple(_withdrawn(facts, clock))
    if withdrawn:
        blocks.append(Paragraph((Run("Withdrawn, kept on record: "), *withdrawn), quiet=True))
    return Section("Measured", tuple(blocks))


def _rows(readings: Sequence[ReadingFact], facts: JobFacts, clock: Clock) -> Iterator[ReadingRow | MeaningRow]:
    """Yield each reading, and what a set of them means behind its last one."""
    supplies = [supply for supply in facts.supplies if supply.withdrawn is None]
    one_lead_value = _lead_value(readings) is not None
    before: ReadingFact | None = None
    for reading in readings:
        while supplies and supplies[0].seq < reading.taken.seq:
            yield _meaning(supplies.pop(0))
        if reading.stage in _AFTER and (before is None or before.stage not in _AFTER):
            yield MeaningRow((Run("Before power came back and after", Style.STRONG),))
            before = None
        yield _row(reading, before, facts, clock, one_lead_value)
        before = reading
    yield from map(_meaning, supplies)


def _meaning(supply: SupplyFact) -> MeaningRow:
    return MeaningRow((Run(f"{supply.finding}: ", Style.STRONG), Run(as_sentence(supply.meaning))))


def _row(
    reading: ReadingFact, before: ReadingFact | None, facts: JobFacts, clock: Clock, one_lead_value: bool
) -> ReadingRow:
    same_part = before is not None and before.part == reading.part
    same_reason = same_part and before is not None and before.reason == reading.reason
    source = f" [{facts.sources.index(reading.source) + 1}]" if reading.source else ""
    states = [words for words in reading.circumstances if not (one_lead_value and words.startswith("leads "))]
    words = "see below" if reading.together else reading.verdict
    verdict = (Run(words, Style.TAG if reading.good is False else Style.PLAIN),)
    # What is within its limits needs no words beside the limits; what is not says why.
    why = "" if reading.good or same_reason or not reading.reason else as_sentence(reading.reason)
    return ReadingRow(
        part="" if same_part else reading.part,
        between=reading.between,
        value=reading.value,
        taken=", ".join(states),
        limits=f"{reading.limits}{source}",
        band=reading.band,
        band_says=f"{reading.value}, {reading.verdict}, limits {reading.limits}",
        verdict=verdict,
        time=clock.time(reading.at_s),
        remark=why,
    )


def _lead_value(readings: Sequence[ReadingFact]) -> Decimal | None:
    """Return the ohms of the leads where one value was taken off every reading that has any."""
    values = {r.taken.lead_ohm for r in readings if any(words.startswith("leads ") for words in r.conditions)}
    return values.pop() if len(values) == 1 else None


def _under(readings: Sequence[ReadingFact], facts: JobFacts) -> Iterator[str]:
    leads = _lead_value(readings)
    if leads is not None:
        taken_off = number_with_unit(leads, Unit.OHM)
        yield f"Ohms are as the meter showed them; the {taken_off} of the test leads were taken off to judge them."
    if readings:
        yield f"Meter used: {facts.given('meter') or 'not recorded'}. A framed verdict is out of limits."
    if facts.sources:
        told = "; ".join(f"[{number}] {source}" for number, source in enumerate(facts.sources, start=1))
        yield f"Where the limits come from: {told}."


def _withdrawn(facts: JobFacts, clock: Clock) -> Iterator[Run]:
    for reading in facts.readings:
        if reading.withdrawn is not None:
            yield Run(f"{reading.part}, {reading.between} ")
            yield Run(reading.value, Style.STRUCK)
            yield Run(f" at {clock.time(reading.at_s)} (withdrawn: {reading.withdrawn}). ")
    for supply in facts.supplies:
        if supply.withdrawn is not None:
            yield Run(supply.finding, Style.STRUCK)
            yield Run(f" at {clock.time(supply.at_s)} (withdrawn: {supply.withdrawn}). ")
