"""Which faults the record shows, by what proof, and which it rules out."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from voicetech.events import (
    AnswerTaken,
    CausesExcluded,
    CauseShown,
    PartInspected,
    ReadingTaken,
    SupplyClassified,
)
from voicetech.reports.facts.naming import Names
from voicetech.reports.facts.results import Result
from voicetech.reports.wording import headed, limits_words, plain_name, reading_words, verdict_words


@dataclass(frozen=True, slots=True)
class CauseFact:
    """A fault that was found or is suspected.

    `proof` are the results that show it; `ruled_out` says that a later result or repair spoke against it.
    """

    id: str
    says: str
    proved: bool
    proof: tuple[str, ...]
    why_failed: str
    remedy: str
    parts: tuple[str, ...]
    ruled_out: bool
    withdrawn: str | None


@dataclass(frozen=True, slots=True)
class ExcludedFact:
    """Faults that a result rules out, and which result."""

    says: tuple[str, ...]
    by: str
    withdrawn: str | None


def causes_of(results: Sequence[Result], names: Names) -> tuple[CauseFact, ...]:
    """Return every fault shown, once each: proved if any result proved it."""
    facts: dict[tuple[str, bool], CauseFact] = {}
    for index, result in enumerate(results):
        match result.taken:
            case CauseShown(cause=cause) as shown:
                key = (cause, result.withdrawn is None)
                fact = _cause(results[:index], shown, result.withdrawn, names)
                before = facts.pop(key, None)
                facts[key] = fact if before is None else _joined(before, fact)
            case CausesExcluded(causes=causes) if result.withdrawn is None:
                for cause in causes:
                    if (cause, True) in facts:
                        facts[cause, True] = _ruled_out(facts[cause, True])
            case _:
                pass
    return tuple(facts.values())


def _cause(before: Sequence[Result], shown: CauseShown, withdrawn: str | None, names: Names) -> CauseFact:
    cause = names.cause(shown.cause)
    return CauseFact(
        id=shown.cause,
        says=names.cause_words(shown.cause),
        proved=shown.proved,
        proof=tuple(_proof(before, shown, withdrawn is not None, names)),
        why_failed="" if cause is None else names.filled(cause.why_failed),
        remedy=names.remedy(shown.cause),
        parts=() if cause is None else cause.parts,
        ruled_out=False,
        withdrawn=withdrawn,
    )


def _proof(before: Sequence[Result], shown: CauseShown, withdrawn: bool, names: Names) -> Iterator[str]:
    """Yield in words what the step that shows a cause had found by then."""
    of_step = False
    for result in before:
        if result.withdrawn is not None and not withdrawn:
            continue
        match result.taken:
            case ReadingTaken(section=shown.section, step=shown.step) as taken:
                of_step = True
                yield _shown_by(taken, names)
            case PartInspected(section=shown.section, step=shown.step, words=words):
                yield f"seen: {words}"
            case AnswerTaken(section=shown.section, step=shown.step, value=value) if not of_step:
                yield f"answered: {names.answer(shown.section, shown.step, value)}"
            case SupplyClassified(meaning=meaning) if of_step:
                yield meaning
            case ReadingTaken():
                of_step = False
            case _:
                pass


def _shown_by(taken: ReadingTaken, names: Names) -> str:
    again = " (repeated)" if taken.attempt > 1 else ""
    words = f"{taken.label}: {reading_words(taken.value, taken.unit, taken.state)}{again}"
    if names.judged_together(taken.section, taken.step):
        return words
    limits = limits_words(taken.low, taken.high, taken.unit)
    verdict = "" if taken.verdict == "over_range" else f", {verdict_words(taken.verdict)}"
    return f"{words}{verdict}" if limits == "none" else f"{words}{verdict}; limits {limits}"


def _joined(before: CauseFact, after: CauseFact) -> CauseFact:
    proof = tuple(dict.fromkeys((*before.proof, *after.proof)))
    return replace(after, proved=before.proved or after.proved, proof=proof)


def _ruled_out(fact: CauseFact) -> CauseFact:
    return replace(fact, ruled_out=True)


def excluded_of(results: Sequence[Result], names: Names) -> tuple[ExcludedFact, ...]:
    """Return every fault that was ruled out without having been shown, and what ruled it out."""
    shown = {r.taken.cause for r in results if isinstance(r.taken, CauseShown) and r.withdrawn is None}
    told: set[tuple[str, bool]] = set()
    facts: dict[tuple[str, str | None], ExcludedFact] = {}
    by = ""
    for result in results:
        match result.taken:
            case ReadingTaken(section=section, label=label) as taken:
                by = f"{names.part(section)}, {label}: {reading_words(taken.value, taken.unit, taken.state)}"
            case PartInspected(part=part, words=words):
                by = f"{headed(plain_name(part))}: {words}"
            case SupplyClassified(finding=finding):
                by = f"Supply: {plain_name(finding)}"
            case AnswerTaken(section=section, step=step, field=field, value=value):
                by = f"{headed(plain_name(field))}: {names.answer(section, step, value)}"
            case CausesExcluded(causes=causes):
                new = [c for c in causes if c not in shown and (c, result.withdrawn is None) not in told]
                told.update((cause, result.withdrawn is None) for cause in new)
                before = facts.get((by, result.withdrawn), ExcludedFact((), by, result.withdrawn)).says
                says = (*before, *(names.cause_words(cause) for cause in new))
                if says:
                    facts[by, result.withdrawn] = ExcludedFact(says, by, result.withdrawn)
            case _:
                pass
    return tuple(facts.values())
