"""What is suspected, what is ruled out, and which test comes next.

The complaint gives each cause a weight (a judgement kept in the procedure, no statistics). Where the procedure has a
circuit, every reading, look and answer is weighed against what each fault, and each two of them, would make it show;
the next test is the one that is expected to tell most of the cause for its minutes. Without a circuit the weights
alone decide. What a result proves or rules out is the procedure's own word and stands above either.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import cast

from voicetech.diagnosis.evidence import Evidence, Looked, Read, Told, evidence_of
from voicetech.diagnosis.hypotheses import Hypothesis, Weigher, believed, priors, speaking_for
from voicetech.diagnosis.next_tests import foresee, gain_bits
from voicetech.diagnosis.predictions import Plate, Predictions
from voicetech.electrical.appliance import Appliance, Fault
from voicetech.procedure import Measure, Phase, Procedure, Section
from voicetech.session import Session

__all__ = [
    "Suspect",
    "Worth",
    "hypotheses",
    "next_test",
    "reasons",
    "suspects",
    "untried",
    "weights",
    "work_ahead",
    "worths",
]

ORDER = "test_order"
"""`listed` makes the tests in the order of the file instead of by what they tell for their minutes."""
LISTED = "listed"
TELLING = 3.0
"""Times likelier with one fault than with the others from which on a result is named as a reason. Judgement."""
NEARLY_SURE = Decimal("0.8")
"""Share of the suspicion from which on a cause is proved before anything else is asked. Judgement."""
_MOST_REMEMBERED = 2_000


@dataclass(frozen=True, slots=True)
class Suspect:
    """A cause, its share of the suspicion (0 to 1) and where it stands: "proved", "suspected" or "excluded"."""

    cause: str
    share: Decimal
    standing: str


@dataclass(frozen=True, slots=True)
class Worth:
    """A test, the minutes it takes now, what it is expected to tell of the cause, and the weight of what it shows."""

    section: Section
    takes_min: float
    gain_bits: float
    weight: float

    @property
    def per_min(self) -> float:
        """Return what it is worth for a minute."""
        return (self.gain_bits + self.weight) / self.takes_min


def weights(procedure: Procedure, session: Session) -> dict[str, Decimal]:
    """Return the weight of each cause for this complaint, without those ruled out."""
    complaint = procedure.complaints.get(session.answers.get("complaint", ""))
    if complaint is None:
        complaint = next(iter(procedure.complaints.values()), None)
    if complaint is None:
        return {}
    excluded = session.excluded
    return {cause: weight for cause, weight in complaint.weights.items() if cause not in excluded}


def suspects(procedure: Procedure, session: Session) -> tuple[Suspect, ...]:
    """Return every cause of the complaint, the likeliest first; a proved one takes the whole suspicion."""
    proved = session.proved
    shares = _shares(procedure, session)
    found = [Suspect(cause, Decimal(1) / len(proved), "proved") for cause in proved]
    open_causes = [
        Suspect(cause, Decimal(0) if proved else share, "suspected")
        for cause, share in sorted(shares.items(), key=lambda item: -item[1])
        if cause not in proved
    ]
    ruled_out = [Suspect(cause, Decimal(0), "excluded") for cause in sorted(session.excluded)]
    return (*found, *open_causes, *ruled_out)


def hypotheses(procedure: Procedure, session: Session) -> tuple[Hypothesis, ...]:
    """Return what may be wrong, none, one fault or two, the likeliest first; empty without a circuit."""
    circuit = procedure.circuit
    if circuit is None:
        return ()
    standing = {cause: float(weight) for cause, weight in weights(procedure, session).items()}
    evidence, plate, answers = evidence_of(procedure, session), _plate(circuit, session.answers), session.answers
    key = (plate, evidence, tuple(standing.items()), session.excluded)
    kept = _kept(circuit)
    found = kept.believed.get(key)
    if found is not None:
        return found

    def ruled_out(fault: Fault) -> bool:
        return fault.cause in session.excluded or not fault.can_be(answers)

    weigher = Weigher(procedure, circuit, kept.predictions, plate)
    if len(kept.believed) >= _MOST_REMEMBERED:
        kept.believed.clear()
    new = kept.believed[key] = believed(circuit, weigher, evidence, priors(circuit, standing), ruled_out)
    return new


def reasons(procedure: Procedure, session: Session) -> tuple[Read | Looked | Told, ...]:
    """Return what speaks for the likeliest suspicion, most telling first; empty without a circuit or evidence."""
    circuit = procedure.circuit
    if circuit is None:
        return ()
    weigher = Weigher(procedure, circuit, _kept(circuit).predictions, _plate(circuit, session.answers))
    told = speaking_for(weigher, evidence_of(procedure, session), hypotheses(procedure, session))
    return tuple(piece for piece, ratio in told if ratio > TELLING)


def work_ahead(procedure: Procedure) -> None:
    """Work out what every step would read with each fault, so that no answer waits for it; changes no result."""
    circuit = procedure.circuit
    if circuit is None:
        return
    predictions = _kept(circuit).predictions
    singles = [(), *((fault,) for fault in circuit.faults)]
    # Any plate will do: what is learned of it is which readings a plate moves at all.
    plate = tuple(sorted((name, values[0]) for name, values in circuit.plate_values.items()))
    for section in procedure.sections:
        for step in section.steps:
            # Step by step, so that an answer that comes meanwhile does not wait for the rest.
            if isinstance(step, Measure):
                predictions.foresee([(section.id, step)], singles, ())
                predictions.foresee([(section.id, step)], [()], plate)


def next_test(
    procedure: Procedure, session: Session, fits: Callable[[Section], bool] = lambda _section: True
) -> Section | None:
    """Return the test worth most per minute among those not done, or None where none is left to do.

    `fits` says whether a section's conditions hold on this appliance. With the setting `test_order` "listed" it is the
    first in the order the procedure is written in.
    """
    left = untried(procedure, session, fits)
    if procedure.settings.get(ORDER) == LISTED or len(left) == 1:
        return procedure.section(next(iter(left))) if left else None
    for section_id in _nearly_sure(procedure, session):
        if section_id in left:
            return procedure.section(section_id)
    found = worths(procedure, session, left)
    return max(found, key=lambda worth: worth.per_min).section if found else None


def _nearly_sure(procedure: Procedure, session: Session) -> tuple[str, ...]:
    """Return the sections that show or narrow a cause which hardly leaves room for others; none without such a cause.

    Of such a cause no test tells much more, so that bits a minute would lead away from the one that proves it.
    """
    for cause, share in _shares(procedure, session).items():
        if procedure.circuit is not None and share > NEARLY_SURE:
            narrowing = (section.id for section in procedure.sections if cause in section.narrows)
            return (procedure.causes[cause].tested_by, *narrowing)
    return ()


def worths(procedure: Procedure, session: Session, owed: Mapping[str, Decimal]) -> tuple[Worth, ...]:
    """Return what each of these tests is worth now, in their order; `owed` is the weight of what each may show."""
    opened = _opened(procedure, session)

    def takes_min(section: Section) -> float:
        shut = [procedure.access[name] for name in section.access if name not in opened]
        return float(sum((access.cost_min for access in shut), section.cost_min))

    sections = [procedure.section(section_id) for section_id in owed]
    if procedure.circuit is None:
        return tuple(Worth(each, takes_min(each), 0.0, float(owed[each.id])) for each in sections)
    likely = hypotheses(procedure, session)
    predictions = _kept(procedure.circuit).predictions
    plate = _plate(procedure.circuit, session.answers)
    foresee(predictions, likely, sections, plate)
    # What a test asks of a plate itself is not on record yet: what its readings are worked out from stands for it.
    answers = {**procedure.circuit.plates, **procedure.circuit.usual, **session.answers}
    return tuple(
        Worth(
            each,
            takes_min(each),
            gain_bits(predictions, likely, each, answers, plate),
            # Where no test tells anything more, the weights of what it shows still order them.
            float(owed[each.id]) * 1e-6,
        )
        for each in sections
    )


def _opened(procedure: Procedure, session: Session) -> frozenset[str]:
    """Return what is open already: what the tests since the covers were last on have needed."""
    if not session.covers_open:
        return frozenset()
    return frozenset(name for section_id in session.ended for name in procedure.section(section_id).access)


def untried(procedure: Procedure, session: Session, fits: Callable[[Section], bool]) -> dict[str, Decimal]:
    """Return the sections not done that may show a cause still open, with the weight of what they show."""
    owed: dict[str, Decimal] = {}
    for cause, weight in weights(procedure, session).items():
        narrowed = (section.id for section in procedure.sections if cause in section.narrows)
        for section_id in (procedure.causes[cause].tested_by, *narrowed):
            owed[section_id] = owed.get(section_id, Decimal(0)) + weight
    ended = session.ended
    return {
        section.id: owed[section.id]
        for section in procedure.sections
        if section.phase is Phase.TEST
        and section.role is None
        and section.id not in ended
        and owed.get(section.id, Decimal(0)) > 0
        and fits(section)
    }


def _shares(procedure: Procedure, session: Session) -> dict[str, Decimal]:
    standing = weights(procedure, session)
    total = sum(standing.values(), Decimal(0)) or Decimal(1)
    if procedure.circuit is None:
        return {cause: weight / total for cause, weight in standing.items()}
    believed_of: dict[str, float] = {}
    for hypothesis in hypotheses(procedure, session):
        for cause in {fault.cause for fault in hypothesis.faults}:
            believed_of[cause] = believed_of.get(cause, 0.0) + hypothesis.share / max(len(hypothesis.faults), 1)
    whole = sum(believed_of.values()) or 1.0
    return {cause: Decimal(share / whole) for cause, share in believed_of.items()}


def _plate(circuit: Appliance, answers: Mapping[str, str]) -> Plate:
    return tuple(sorted((name, answers[name]) for name in circuit.plate_values if name in answers))


@dataclass(slots=True)
class _Kept:
    """What was worked out of a circuit before."""

    predictions: Predictions
    believed: dict[tuple[Plate, Evidence, tuple[tuple[str, float], ...], frozenset[str]], tuple[Hypothesis, ...]]


def _kept(circuit: Appliance) -> _Kept:
    found = circuit.memory.get(_Kept)
    if found is None:
        # Working ahead happens beside the first answers: whichever is first keeps for both.
        found = circuit.memory.setdefault(_Kept, _Kept(Predictions(circuit), {}))
    return cast(_Kept, found)
