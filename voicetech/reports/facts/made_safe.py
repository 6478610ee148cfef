"""How the appliance was made safe, as the record tells it: every proof of dead with every reading."""

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from voicetech.events import (
    DeadProved,
    Event,
    HoldTaken,
    Isolated,
    PairReadDead,
    PairReadLive,
    PowerRestored,
    ProofEnded,
    TesterProved,
)


@dataclass(frozen=True, slots=True)
class PairFact:
    """One pair's voltage while proving dead; `dead` where it counts as such."""

    label: str
    volts: Decimal
    dead: bool
    at_s: float


@dataclass(frozen=True, slots=True)
class ProofFact:
    """One proof of dead, whole or begun: None where a part was not done.

    `isolated_by` is "plug" or "lockout"; voltages are of the known live source; `ended` says what ended it.
    """

    isolated_by: str | None = None
    isolated_at_s: float | None = None
    tester_before_v: Decimal | None = None
    pairs: tuple[PairFact, ...] = ()
    tester_after_v: Decimal | None = None
    proved_at_s: float | None = None
    ended: str | None = None
    ended_at_s: float | None = None


@dataclass(frozen=True, slots=True)
class PowerFact:
    """A moment the power came on (or may have), or a hold that was taken before it."""

    what: str
    at_s: float


_HOLDS = {
    "live": "The hold for live tests was taken.",
    "covers": "Covers were confirmed on before power.",
}


def proofs_of(events: Sequence[Event]) -> tuple[ProofFact, ...]:
    """Return every proof of dead in order, those that were only begun included."""
    done: list[ProofFact] = []
    current = ProofFact()
    for event in events:
        match event:
            case Isolated(by=by, at_s=at_s):
                done.append(current)
                current = ProofFact(isolated_by=by, isolated_at_s=at_s)
            case TesterProved(before=True, value=value):
                if current.tester_before_v is not None:
                    done.append(current)
                    current = ProofFact(current.isolated_by, current.isolated_at_s)
                current = replace(current, tester_before_v=value)
            case TesterProved(value=value):
                current = replace(current, tester_after_v=value)
            case PairReadDead(label=label, value=value, at_s=at_s):
                current = replace(current, pairs=(*current.pairs, PairFact(label, value, True, at_s)))
            case PairReadLive(label=label, value=value, at_s=at_s):
                current = replace(current, pairs=(*current.pairs, PairFact(label, value, False, at_s)))
            case DeadProved(at_s=at_s):
                current = replace(current, proved_at_s=at_s)
            case ProofEnded(reason=reason, at_s=at_s) | PowerRestored(reason=reason, at_s=at_s):
                why = re.sub(r"^the step \S+ asks for power$", "a step asked for power", reason)
                done.append(replace(current, ended=why, ended_at_s=at_s))
                current = ProofFact()
            case _:
                pass
    return tuple(proof for proof in (*done, current) if _says_something(proof))


def _says_something(proof: ProofFact) -> bool:
    return proof.isolated_by is not None or proof.tester_before_v is not None or bool(proof.pairs)


def power_of(events: Sequence[Event]) -> tuple[PowerFact, ...]:
    """Return when power came on and which holds were taken before it, in order."""
    facts: list[PowerFact] = []
    for event in events:
        match event:
            case PowerRestored(reason=reason, at_s=at_s):
                why = re.sub(r"^the step \S+ asks for power$", "a step asked for it", reason)
                facts.append(PowerFact(f"Power on, or taken as on: {why}.", at_s))
            case HoldTaken(hold=hold, at_s=at_s):
                facts.append(PowerFact(_HOLDS.get(hold, f"A hold was taken: {hold}."), at_s))
            case _:
                pass
    return tuple(facts)
