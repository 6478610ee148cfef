"""The parts of a report about the fault: found, suspected, ruled out, looked at, not tested."""

from collections.abc import Iterator
from typing import Final

from voicetech.reports.blocks import Block, Pairs, Paragraph, Run, Section, Style, Text
from voicetech.reports.clock import Clock
from voicetech.reports.facts.answered import answer_runs, answers_at, done_at
from voicetech.reports.facts.causes import CauseFact
from voicetech.reports.facts.job import JobFacts
from voicetech.reports.facts.naming import Stage
from voicetech.reports.facts.results import SkippedFact
from voicetech.reports.text import line, listed, quiet, run_on, said, text

_WHY: Final = "why_it_failed"


def found(facts: JobFacts) -> Section:
    """Return what was found with its proof and, kept apart from it, what is only suspected."""
    blocks: list[Block] = []
    why = facts.answer(_WHY)
    for cause in facts.found:
        blocks += _cause("Found", cause, with_hint=why is None)
    if why is not None:
        blocks.append(Pairs((("Why it failed", line(answer_runs(why), unverified=why.unverified)),)))
    if not facts.found:
        blocks.append(Paragraph((Run(f"No fault is proved{' yet' if facts.outcome is None else ''}.", Style.STRONG),)))
    for cause in facts.suspected:
        blocks += _cause("Suspected, not proved", cause, with_hint=True)
    return Section("Found and suspected", tuple(blocks))


def spoken_against(facts: JobFacts) -> Iterator[Section]:
    """Yield what is no longer held, what was ruled out and what is left, where there is any of it."""
    rows = tuple(_spoken_against(facts))
    if rows:
        yield Section("Ruled out, and what is left", (Pairs(rows),))


def _cause(heading: str, cause: CauseFact, *, with_hint: bool) -> Iterator[Block]:
    """Yield a fault with its proof; `with_hint` adds what the procedure says of why such a one fails."""
    yield Paragraph((Run(f"{heading}: ", Style.SMALL), Run(cause.says, Style.STRONG)))
    rows = [
        ("Shown by", "; ".join(cause.proof)),
        ("Why it may fail", cause.why_failed if with_hint else ""),
        ("What mends it", cause.remedy),
    ]
    told = tuple((name, text(words)) for name, words in rows if words)
    if told:
        yield Pairs(told)


def _spoken_against(facts: JobFacts) -> Iterator[tuple[str, Text]]:
    for cause in facts.dropped:
        why = f"withdrawn: {cause.withdrawn}" if cause.withdrawn else "ruled out later"
        runs = (Run(cause.says, Style.STRUCK), Run(" "), Run(why, Style.TAG), Run(f" {'; '.join(cause.proof)}"))
        yield "No longer held", runs
    ruled: list[Run] = []
    for fact in facts.excluded:
        ruled.append(Run("; ".join(fact.says), Style.PLAIN if fact.withdrawn is None else Style.STRUCK))
        by = f" ({fact.by})" if fact.by else ""
        gone = f" withdrawn: {fact.withdrawn}" if fact.withdrawn else ""
        ruled.append(Run(f"{by}{gone}. ", Style.SMALL))
    if ruled:
        yield "Ruled out", tuple(ruled)
    if facts.remaining and not facts.found:
        yield "Neither found nor ruled out", text(f"{'; '.join(facts.remaining)}.")


def looked_at(facts: JobFacts, clock: Clock) -> Section:
    """Return what was looked at and done while testing."""
    seen = [
        line(
            (
                Run(f"{seen.part}: "),
                *((Run("something found, ", Style.STRONG),) if seen.fault else ()),
                said(seen.words),
            ),
            clock.time(seen.at_s),
            withdrawn=seen.withdrawn,
        )
        for seen in facts.inspections
    ]
    blocks = [listed(seen, f"Nothing looked at{' yet' if facts.outcome is None else ''}.")]
    rest = run_on((*done_at(facts, Stage.TEST, clock), *answers_at(facts, Stage.TEST)))
    if rest:
        blocks.append(Paragraph(rest, quiet=True))
    return Section("Looked at and done while testing", tuple(blocks))


def not_tested(facts: JobFacts) -> Section:
    """Return every test that was not made, with its reason where there is one."""
    items = [line((Run(f"{_what(skip)}: {skip.reason}"),), withdrawn=skip.withdrawn) for skip in facts.skipped]
    blocks: list[Block] = [listed(items, "")] if items else []
    if facts.not_reached:
        blocks.append(quiet(f"No test was made of: {', '.join(facts.not_reached)}."))
    return Section("Not tested", tuple(blocks) or (quiet("Nothing was skipped."),))


def _what(skip: SkippedFact) -> str:
    what = skip.what.rstrip(".")
    return f"{skip.part} ({what})" if what else skip.part
