"""The job report before it has a layout: every sentence and figure of it, in order, made of the facts alone."""

from collections.abc import Iterator
from datetime import tzinfo
from typing import Final

from voicetech import __version__
from voicetech.reports.blocks import (
    Blanks,
    Block,
    Columns,
    Frame,
    Listing,
    Page,
    Pairs,
    Paragraph,
    Run,
    Section,
    Style,
    Text,
)
from voicetech.reports.clock import Clock
from voicetech.reports.facts.job import STATEMENT, JobFacts
from voicetech.reports.job_report.content_found import found, looked_at, not_tested, spoken_against
from voicetech.reports.job_report.content_measured import made_safe, measured
from voicetech.reports.job_report.content_work import appliance, notes, parts, told, work, would_not_do
from voicetech.reports.job_report.plain_words import plain_words
from voicetech.reports.text import line, said, text

_NAMES_LEFT_OUT: Final = (
    "Names and free words were left out of this copy: complaint and notes in somebody's own words, reasons, accounts "
    "of danger, the serial number, who was told, and who signs."
)


def job_page(facts: JobFacts, zone: tzinfo | None = None) -> Page:
    """Return the whole report; times are by the clock of `zone`, or of this computer where it is None."""
    clock = Clock(zone, facts.opened_at_s)
    return Page(
        title="Job report",
        running=f"Job {facts.job or 'without a name'}",
        head=tuple(_head(facts, clock)),
        parts=tuple(_parts(facts, clock)),
        foot=tuple(_foot(facts, clock)),
    )


def _head(facts: JobFacts, clock: Clock) -> Iterator[Text]:
    opened = "" if facts.opened_at_s is None else f", opened {clock.moment(facts.opened_at_s)}"
    yield (Run("Job "), Run(facts.job or "without a name", Style.STRONG), Run(opened))
    complaint = f"complaint: {facts.complaint}" if facts.complaint else "complaint not recorded"
    yield (
        Run(facts.appliance or "Appliance not named"),
        Run(f" · {complaint} · "),
        Run(facts.outcome or "Job still open: this is what is on record so far", Style.STRONG),
    )
    if facts.without_names:
        yield (Run(_NAMES_LEFT_OUT, Style.SMALL),)


def _parts(facts: JobFacts, clock: Clock) -> Iterator[Columns]:
    yield ((_for_the_customer(facts),),)
    alarms = tuple(_alarms(facts, clock))
    if alarms:
        yield (alarms,)
    yield ((appliance(facts),), (found(facts),))
    yield ((*spoken_against(facts), made_safe(facts, clock), measured(facts, clock)),)
    yield (
        (looked_at(facts, clock), not_tested(facts), *would_not_do(facts)),
        (*work(facts, clock),),
    )
    if facts.parts:
        yield ((parts(facts),),)
    yield ((told(facts, clock),), (notes(facts, clock),))
    if not facts.without_names:
        yield ((_signatures(facts),),)


def _for_the_customer(facts: JobFacts) -> Section:
    words = plain_words(facts)
    rows: list[tuple[str, Text]] = [
        ("What we found", text(" ".join(words.found))),
        ("Is it safe?", text(" ".join(words.safe))),
        ("What next", text(" ".join(words.after))),
    ]
    if words.words:
        meant = "; ".join(f"{word}: {meaning}" for word, meaning in words.words)
        rows.append(("In other words", (Run(f"{meant}.", Style.SMALL),)))
    return Section("For the customer", (Pairs(tuple(rows)), Paragraph((Run(STATEMENT, Style.STRONG),))), Frame.BOX)


def _alarms(facts: JobFacts, clock: Clock) -> Iterator[Section]:
    if facts.left_out:
        unread = tuple(text(left) for left in facts.left_out)
        yield Section("Incomplete: part of the record cannot be read", (Listing(unread),), Frame.ALARM)
    if facts.dangers:
        yield Section("Danger", (Listing(tuple(_dangers(facts, clock))),), Frame.ALARM)
    if facts.hand_overs:
        overs = tuple(
            line(
                (Run(f"{over.says}{f' Hand over to: {over.to}.' if over.to else ''}"),),
                clock.time(over.at_s),
                withdrawn=over.withdrawn,
            )
            for over in facts.hand_overs
        )
        yield Section("Work stopped and handed over", (Listing(overs),), Frame.ALARM)


def _dangers(facts: JobFacts, clock: Clock) -> Iterator[Text]:
    for danger in facts.dangers:
        runs = [Run(danger.kind.capitalize(), Style.STRONG), Run(f", {clock.time(danger.at_s)}: "), said(danger.words)]
        if danger.stopped:
            runs.append(Run(". The job was stopped at once. "))
            ended = "The stop was not ended."
            if danger.cleared_at_s is not None:
                ended = f"The stop was ended at {clock.time(danger.cleared_at_s)}."
            runs.append(Run(f"{ended} What happened: "))
            runs += [said(danger.account), Run(" "), Run("unverified", Style.TAG)] if danger.account else []
            runs += [] if danger.account else [Run("not recorded.")]
        elif danger.denied:
            runs.append(Run(". Asked whether it was happening now, the technician said no."))
        else:
            runs.append(Run(". Whether it was happening then was asked and not answered."))
        yield tuple(runs)


def _signatures(facts: JobFacts) -> Section:
    rows: list[tuple[str, ...]] = [
        ("Technician, name", "Signature", "Date and time"),
        ("Customer, name", "Signature", "Date and time"),
    ]
    if not facts.given("meter") and facts.readings:
        rows.insert(0, ("Meter used: make, model, number", "Calibrated until"))
    note = "The customer's signature says that this report was received. It agrees to nothing else."
    blocks: tuple[Block, ...] = (Blanks(tuple(rows)), Paragraph(text(note), quiet=True))
    return Section("Signatures", blocks)


def _foot(facts: JobFacts, clock: Clock) -> Iterator[Text]:
    told_by = [] if facts.opened_at_s is None else [f"Opened {clock.moment(facts.opened_at_s)}."]
    if facts.last_at_s is not None:
        told_by.append(f"Last entry {clock.moment(facts.last_at_s)}.")
    if facts.channels:
        told_by.append(f"By {' and '.join(facts.channels)}.")
    told_by += [
        f"Taken up again by {again.channel} at {clock.time(again.at_s)}: {again.reason}." for again in facts.reopened
    ]
    revision = "" if facts.revision is None else f", revision {facts.revision}"
    digest = f", digest {facts.digest}" if facts.digest else ""
    changed = ""
    if facts.procedure_changed is None:
        changed = " The procedure was not at hand; names are as stored."
    elif facts.procedure_changed:
        changed = " The procedure has been changed since this job; its words here are today's."
    told_by.append(f"Procedure: {facts.procedure or 'not named'}{revision}{digest}.{changed}")
    told_by.append(f"Report by voicetech {__version__}.")
    yield text(" ".join(told_by))
    yield text("Local code, the maker's service sheet and a licensed electrician outrank everything on this page.")
