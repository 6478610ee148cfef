"""Events in the making: each is folded in at once, so that the next decision sees what it changed."""

from decimal import Decimal

from voicetech.events import Event, Refused
from voicetech.procedure import Procedure, Section, Step
from voicetech.session import Cursor, Session, evolve


class Draft:
    """The events decided so far for one input, and the session after them."""

    def __init__(self, procedure: Procedure, session: Session, at_s: float) -> None:
        self.procedure = procedure
        self.session = session
        self.at_s = at_s
        self.seq = session.next_seq
        """The number that everything taken for this input carries, so that it is withdrawn together."""
        self.events: list[Event] = []

    def add(self, event: Event) -> None:
        """Add an event and fold it in."""
        self.events.append(event)
        self.session = evolve(self.session, event)

    def refuse(self, reason: str) -> None:
        """Record that what was asked is not possible, and why."""
        self.add(Refused(reason))

    @property
    def proof_s(self) -> float:
        """Return how long a proof of dead lasts, in seconds."""
        return proof_s(self.procedure)

    @property
    def proof_stands(self) -> bool:
        """Return whether a proof of dead stands now."""
        return self.session.proof_stands(self.at_s, self.proof_s)

    @property
    def cursor(self) -> Cursor:
        """Return where the job is; RuntimeError before its first step."""
        if self.session.at is None:
            raise RuntimeError("the job has no step yet")
        return self.session.at

    @property
    def section(self) -> Section:
        """Return the section of the open step."""
        return self.procedure.section(self.cursor.section)

    @property
    def step(self) -> Step:
        """Return the open step."""
        return self.procedure.step(self.cursor.section, self.cursor.step)


def proof_s(procedure: Procedure) -> float:
    """Return how long a proof of dead lasts in seconds: 30 minutes unless the shop set it.

    Source: common practice, no source.
    """
    return float(Decimal(procedure.settings.get("proof_minutes", "30")) * 60)
