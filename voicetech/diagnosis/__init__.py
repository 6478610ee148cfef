"""What is suspected, what is ruled out, and which test comes next.

The complaint gives each cause a weight (a judgement kept in the procedure, no statistics); results prove or exclude
causes. The next test is the one with the most weight for its minutes.
"""

from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal

from voicetech.procedure import Phase, Procedure, Section
from voicetech.session import Session

DEFAULT_COMPLAINT = "nothing-heats"


@dataclass(frozen=True, slots=True)
class Suspect:
    """A cause, its share of the suspicion (0 to 1) and where it stands: "proved", "suspected" or "excluded"."""

    cause: str
    share: Decimal
    standing: str


def weights(procedure: Procedure, session: Session) -> dict[str, Decimal]:
    """Return the weight of each cause for this complaint, without those ruled out."""
    complaint = procedure.complaints.get(session.answers.get("complaint", DEFAULT_COMPLAINT))
    if complaint is None:
        complaint = next(iter(procedure.complaints.values()))
    excluded = session.excluded
    return {cause: weight for cause, weight in complaint.weights.items() if cause not in excluded}


def suspects(procedure: Procedure, session: Session) -> tuple[Suspect, ...]:
    """Return every cause of the complaint, the likeliest first; a proved one takes the whole suspicion."""
    proved = session.proved
    standing = weights(procedure, session)
    total = sum(standing.values(), Decimal(0)) or Decimal(1)
    found = [Suspect(cause, Decimal(1) / len(proved), "proved") for cause in proved]
    open_causes = [
        Suspect(cause, Decimal(0) if proved else weight / total, "suspected")
        for cause, weight in sorted(standing.items(), key=lambda item: -item[1])
        if cause not in proved
    ]
    ruled_out = [Suspect(cause, Decimal(0), "excluded") for cause in sorted(session.excluded)]
    return (*found, *open_causes, *ruled_out)


def next_test(
    procedure: Procedure, session: Session, fits: Callable[[Section], bool] = lambda _section: True
) -> Section | None:
    """Return the test worth most per minute among those not done, or None where none is left to do.

    `fits` says whether a section's conditions hold on this appliance.
    """
    owed: dict[str, Decimal] = {}
    for cause, weight in weights(procedure, session).items():
        section_id = procedure.causes[cause].tested_by
        owed[section_id] = owed.get(section_id, Decimal(0)) + weight
    ended = session.ended
    best: Section | None = None
    best_worth = Decimal(0)
    for section in procedure.sections:
        if section.phase is not Phase.TEST or section.role is not None or section.id in ended:
            continue
        if not fits(section):
            continue
        worth = owed.get(section.id, Decimal(0)) / section.cost_min
        if worth > best_worth:
            best, best_worth = section, worth
    return best
