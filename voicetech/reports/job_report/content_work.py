"""The parts of a report about the call, the work, its parts, and what people were told."""

from collections.abc import Iterator
from typing import Final

from voicetech.reports.blocks import Block, Pairs, Paragraph, Run, Section, Style, Table, Text
from voicetech.reports.clock import Clock
from voicetech.reports.facts.answered import answer_line, answer_runs, answers_at, done_at
from voicetech.reports.facts.job import JobFacts
from voicetech.reports.facts.naming import Stage
from voicetech.reports.facts.parts import PartFact
from voicetech.reports.fields import field_name
from voicetech.reports.text import line, listed, quiet, run_on, said, text

_PLATE: Final = ("model", "serial", "plate_volts", "plate_watts", "connection", "home")
_TOLD_ELSEWHERE: Final = frozenset({"meter", "why_it_failed"})
_WORK: Final[tuple[tuple[Stage, str, str], ...]] = (
    (Stage.DECIDE, "Decided", "Nothing decided on record."),
    (Stage.REPAIR, "Work done", "No repair on record."),
    (Stage.PUT_BACK, "Put back", "No putting back on record."),
    (Stage.RETEST, "Tested again", "No retest on record."),
)


def appliance(facts: JobFacts) -> Section:
    """Return what the plate says, and everything else that was asked at the call."""
    rows: list[tuple[str, Text]] = []
    told = [answer for answer in facts.answers if answer.stage is Stage.CALL]
    for field in _PLATE:
        last = facts.answer(field)
        if last is not None and last in told:
            tag = (Run(" "), Run("unverified", Style.TAG)) if last.unverified else ()
            rows.append((last.called, (*answer_runs(last), *tag)))
        elif field in ("model", "serial"):
            rows.append((field_name(field), text("not recorded")))
    shown = {id(facts.answer(field)) for field in _PLATE}
    rest = [answer for answer in told if id(answer) not in shown]
    blocks: list[Block] = [Pairs(tuple(rows))]
    if rest:
        blocks.append(Paragraph(run_on(answer_line(answer) for answer in rest), quiet=True))
    if not told:
        blocks.append(quiet(f"Nothing answered{' yet' if facts.outcome is None else ''}."))
    return Section("The appliance and the call", tuple(blocks))


def work(facts: JobFacts, clock: Clock) -> Iterator[Section]:
    """Yield what was decided, done, put back and tested again."""
    rows: list[tuple[str, Text]] = []
    for stage, title, empty in _WORK:
        items = run_on((*done_at(facts, stage, clock), *answers_at(facts, stage, but=_TOLD_ELSEWHERE)))
        rows.append((title, items or (Run(empty, Style.SMALL),)))
    yield Section("Decision, work and retest", (Pairs(tuple(rows)),))


def parts(facts: JobFacts) -> Section:
    """Return the parts that the faults take."""
    used = "Parts for the repair" if facts.closed_as == "repaired" else "Parts needed"
    headings = ("Part", "Rating", "Needed", *(("Part number", "Description") if facts.part_book else ()))
    table = Table(headings, tuple(_part(part, bool(facts.part_book), facts) for part in facts.parts))
    under = f"Numbers are from the shop's part book, {facts.part_book}, by the model." if facts.part_book else ""
    return Section(used, (table, quiet(under)) if under else (table,))


def _part(part: PartFact, with_book: bool, facts: JobFacts) -> tuple[Text, ...]:
    needed = "for the fault found" if part.proved else "only if the suspicion is proved"
    cells = (text(part.function), text(part.rating or "not told"), text(needed))
    if not with_book:
        return cells
    if part.listed is not None:
        return (*cells, (Run(part.listed.number, Style.STRONG),), text(part.listed.description))
    missing = "not in the part book" if facts.given("model") else "model not known"
    return (*cells, (Run(missing, Style.SMALL),), text(""))


def told(facts: JobFacts, clock: Clock) -> Section:
    """Return the advice that was given, who was told, and what was refused."""
    answers = answers_at(facts, Stage.ADVICE, but=_TOLD_ELSEWHERE)
    items = (*done_at(facts, Stage.ADVICE, clock), *answers)
    return Section("Advice, and who was told", (listed(items, "No advice on record."),))


def notes(facts: JobFacts, clock: Clock) -> Section:
    """Return the technician's notes in their own words."""
    items = tuple(line((said(note.text),), clock.time(note.at_s), unverified=note.unverified) for note in facts.notes)
    return Section("Notes", (listed(items, "No notes."),))


def would_not_do(facts: JobFacts) -> Iterator[Section]:
    """Yield what the program refused, where it did."""
    items = tuple(
        text(f"{refusal.reason}{f' ({refusal.times} times)' if refusal.times > 1 else ''}")
        for refusal in facts.refusals
    )
    if items:
        yield Section("What the program would not do", (listed(items, ""),))
