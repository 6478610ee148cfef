"""Invented jobs by the thousand: no job was ever like this, but each is as long and as wordy as a real one.

Their prompts, times and words are those of jobs that a simulated technician works on a simulated range, with other
models, complaints, faults, days, times and notes put in by chance.
"""

import random
from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path

from tests.dialogue.talker import shipped
from voicetech.electrical.appliance import Appliance
from voicetech.events import Channel
from voicetech.job import Job, open_job
from voicetech.journal.store import Journal, open_journal
from voicetech.procedure import Instruct, Phase
from voicetech.rehearsal.appliance_at_hand import AtHand, possible_faults
from voicetech.rehearsal.rehearsal import over
from voicetech.rehearsal.technician import answer
from voicetech.summary.fold import Readable, summary_of
from voicetech.summary.records import Fault, FaultState, JobSummary, Line, SectionTime, Who, words_of

FAULTS = ("bake-open", "leg-1-lost", "pole-1-open", "plug-2-burnt", "sensor-off-curve", "surface-208")
RARE = "quartzite"
"""A word that stands in one invented job in ten thousand."""
FIRST_S = 1_600_000_000.0
DAY_S = 86_400.0

_PLATE = {"connection": "cord-4"}
_OUTCOMES = ("repaired", "repaired", "repaired", "left safe", "handed over", "not found", "abandoned", None)
_SYLLABLES = ("ba", "ke", "li", "mo", "nu", "pra", "ro", "sel", "ti", "vor", "wen", "zu")
"""Notes are of words made of these: some come often, most seldom."""


def circuit() -> Appliance:
    """Return the shipped range's circuit."""
    found = shipped().circuit
    assert found is not None
    return found


def rehearsed_job(journal: Journal, job: str, fault: str, at_s: float = FIRST_S, seed: int = 1) -> Job:
    """Work a whole job on a simulated range with this fault, typed by a simulated technician, on record."""
    procedure, chance = shipped(), random.Random(seed)
    faults = {each.id: each for each in possible_faults(circuit(), _PLATE)}
    at_hand = AtHand(procedure, circuit(), (faults[fault],), _PLATE)
    now_s = [at_s]

    def clock() -> float:
        now_s[0] += chance.uniform(3.0, 25.0)
        return now_s[0]

    begun, _ = open_job(procedure, journal, job, Channel.CHAT, clock)
    for _ in range(400):
        if over(begun.session) or begun.session.at is None:
            break
        before = begun.session.at
        begun.typed(answer(procedure, begun.session, at_hand, chance))
        step, section = procedure.step(before.section, before.step), procedure.section(before.section)
        if isinstance(step, Instruct) and section.phase is Phase.REPAIR and begun.session.at != before:
            at_hand = at_hand.without(begun.session.proved)
    return begun


def summaries_of_rehearsals(folder: Path, faults: Sequence[str] = FAULTS) -> tuple[JobSummary, ...]:
    """Return the summaries of rehearsed jobs with these faults."""
    words = words_of(shipped())
    with open_journal(folder / "jobs.db") as journal:
        for fault in faults:
            rehearsed_job(journal, fault, fault)
        found = {fault: journal.readable_events(fault) for fault in faults}
    return tuple(
        summary_of(fault, Readable(stored.events, stored.numbers, len(stored.events)), words)
        for fault, stored in found.items()
    )


def invented_jobs(models: Sequence[JobSummary], count: int, seed: int = 7) -> Iterator[JobSummary]:
    """Yield invented jobs, each made of one of these."""
    chance = random.Random(seed)
    for number in range(count):
        yield _invented(chance.choice(models), number, chance)


def _invented(model: JobSummary, number: int, chance: random.Random) -> JobSummary:
    words = words_of(shipped())
    at_s = FIRST_S + number * DAY_S / 40 + chance.uniform(0, DAY_S / 2)
    pace = chance.lognormvariate(0.0, 0.4)
    cause = chance.choice(sorted(words.causes))
    complaint = chance.choice(sorted(words.complaints))
    notes = [Line(Who.TECHNICIAN, 3 + n, at_s, _note(chance)) for n in range(chance.randint(0, 4))]
    if number % 10_000 == 4_321:
        notes.append(Line(Who.TECHNICIAN, 9, at_s, f"the counter is {RARE}"))
    state = chance.choice([FaultState.PROVED, FaultState.PROVED, FaultState.SUSPECTED])
    worked_s = round(model.worked_s * pace)
    return replace(
        model,
        job=f"{number:06}-{chance.choice('ahjkqrwxy')}{chance.randint(2, 9)}",
        model=f"{chance.choice('BDFGKM')}{chance.randint(100, 999)}{chance.choice('AELT')}",
        complaint=complaint,
        complaint_says=words.complaints[complaint],
        opened_at_s=at_s,
        last_at_s=at_s + worked_s,
        worked_s=worked_s,
        outcome=chance.choice(_OUTCOMES),
        proofs_of_dead=chance.choice((1, 1, 2, 2, 3)),
        tests=chance.randint(3, 24),
        faults=(Fault(cause, words.causes[cause], state),),
        parts=words.parts[cause],
        sections=tuple(SectionTime(s.section, s.visits, round(s.seconds * pace)) for s in model.sections),
        prompts=tuple(
            replace(p, first=p.first - (p.first > 0 and chance.random() < 0.1), again=int(chance.random() < 0.05))
            for p in model.prompts
        ),
        lines=(*model.lines, *notes),
    )


def _note(chance: random.Random) -> str:
    return "note " + " ".join(_word(chance) for _ in range(chance.randint(4, 14)))


def _word(chance: random.Random) -> str:
    # Half of all words are of two syllables: 144 of them come again and again.
    return "".join(chance.choice(_SYLLABLES) for _ in range(chance.choice((2, 2, 3, 4))))
