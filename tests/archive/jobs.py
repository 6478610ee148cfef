"""Summaries of jobs nobody did, for the tests."""

from dataclasses import replace
from typing import Any

from voicetech.summary.records import (
    Fault,
    FaultState,
    JobSummary,
    Line,
    PromptCount,
    SectionTime,
    Who,
)

DAY_S = 86_400.0
START_S = 1_700_000_000.0

PLAIN = JobSummary(
    job="plain",
    procedure="range",
    revision=1,
    digest="d" * 64,
    appliance="electric range",
    model="M742",
    serial=None,
    complaint="bake",
    complaint_says="bake does not heat",
    opened_at_s=START_S,
    last_at_s=START_S + 600,
    worked_s=500,
    outcome="repaired",
    events=40,
    unreadable=0,
    proofs_of_dead=1,
    tests=5,
    faults=(Fault("bake-open", "the bake element is open", FaultState.PROVED),),
    parts=("bake element",),
    sections=(SectionTime("intake", 1, 100), SectionTime("bake", 2, 300)),
    prompts=(
        PromptCount("intake", "complaint", asked=1, answered=1, first=1),
        PromptCount("bake", "bake-ohms", asked=2, answered=2, first=1, again=1),
    ),
    lines=(
        Line(Who.TECHNICIAN, 4, START_S + 10, "it won't bake"),
        Line(Who.PROGRAM, 6, START_S + 10, "Bake. Did it stop at once?"),
    ),
)


def summary(job: str, /, **other: Any) -> JobSummary:
    """Return a job's summary, the same as the others but for what is given."""
    return replace(PLAIN, job=job, **other)


def said(*texts: str, who: Who = Who.TECHNICIAN) -> tuple[Line, ...]:
    """Return lines that somebody said."""
    return tuple(Line(who, number, START_S + number, text) for number, text in enumerate(texts, start=1))
