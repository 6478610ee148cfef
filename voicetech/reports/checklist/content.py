"""What stands on a checklist: cautions, making safe with a table for its proofs, then every section of the job.

It advises as the program does: it declares nothing dead, sound or good to use. What was measured and written does, as
long as it stands.
"""

from collections.abc import Iterator
from decimal import Decimal
from typing import Final

from voicetech.drawing.numbering import field_of
from voicetech.drawing.ways import ways_of
from voicetech.drawing.words import PHASES, ROLES, asked_words, condition_words, pair_words, plain, said_choice
from voicetech.procedure import Ask, Measure, Procedure, SafetyRole, Section, SectionRole, Signal
from voicetech.reports.blocks import (
    Blanks,
    Block,
    Form,
    Frame,
    Listing,
    Page,
    Paragraph,
    Run,
    Style,
    Table,
    Text,
)
from voicetech.reports.blocks import Section as Part
from voicetech.reports.checklist.printed import Printed
from voicetech.reports.checklist.tasks import PROOFS, tasks_of
from voicetech.reports.text import quiet, text
from voicetech.reports.wording import as_sentence, headed, number_with_unit

STATEMENT: Final = (
    "This sheet advises and declares no circuit safe. Local code, the maker's service sheet and a licensed electrician "
    "outrank everything on it."
)
_RULES: Final = (
    STATEMENT,
    "A safety step is not skipped: making safe, the holds before power, and what stands in a black bar come first, "
    "every time.",
    "A proof of dead ends with power, a pause, a hand-over, danger, leaving the appliance, and after {proof} minutes. "
    "Then it is made again before the next DEAD step.",
    "These are the words the program speaks. Where they say I, it is the program: write the reading down instead.",
)
_PROOFS: Final = 4


def checklist_page(printed: Printed) -> Page:
    """Return the checklist as a page of blocks."""
    procedure = printed.procedure
    title = f"{headed(procedure.title)}: checklist"
    parts: list[Part] = [_about(printed), _cautions(procedure), _danger(printed)]
    for section in printed.sections:
        parts.append(_section(printed, section))
        if section.role is SectionRole.MAKE_SAFE:
            parts.append(_proofs(printed, section))
    parts += [*_found(printed), _reasons(procedure), _signed()]
    running = f"{procedure.title}, revision {procedure.revision}"
    return Page(title, running, tuple(_head(printed)), tuple(((part,),) for part in parts), tuple(_foot(procedure)))


def _head(printed: Printed) -> Iterator[Text]:
    procedure = printed.procedure
    yield text(f"{headed(procedure.appliance)}. Revision {procedure.revision} of the procedure {procedure.id}.")
    if printed.answers:
        told = "; ".join(f"{plain(name)}: {_answer(printed, name, value)}" for name, value in printed.answers.items())
        yield (Run("Figures are for: "), Run(f"{told}.", Style.STRONG))
    else:
        yield text("No figures of a plate were given: limits that depend on one stand as their rule, with room for it.")
    if printed.left_out:
        named = "; ".join(f"{printed.numbers.of(section)} {section.title}" for section in printed.left_out)
        yield (Run("Not on this print: ", Style.STRONG), Run(f"{named}."))


def _answer(printed: Printed, name: str, value: str) -> str:
    for section in printed.procedure.sections:
        for step in section.steps:
            if isinstance(step, Ask) and field_of(step) == name:
                if step.choices:
                    return said_choice(step, value)
                return number_with_unit(Decimal(value), step.unit) if step.unit is not None else value
            if isinstance(step, Measure) and step.field == name:
                return number_with_unit(Decimal(value), step.unit)
    return value


def _about(printed: Printed) -> Part:
    proof = printed.procedure.settings.get("proof_minutes", "30")
    rules = tuple(text(rule.replace("{proof}", proof)) for rule in _RULES)
    blanks = Blanks((("Date", "Technician", "Job"), ("Customer, address", "Model", "Serial number")))
    return Part("Before anything else", (Listing(rules), blanks), Frame.BOX)


def _cautions(procedure: Procedure) -> Part:
    order = list(Signal)
    warnings = sorted(procedure.warnings.values(), key=lambda warning: order.index(warning.signal))
    items = tuple(
        (Run(warning.signal.value.upper(), Style.TAG), Run(f" {warning.say} "), Run(warning.source, Style.SMALL))
        for warning in warnings
    )
    return Part("Cautions", (Listing(items),), Frame.ALARM)


def _danger(printed: Printed) -> Part:
    items = tuple(
        (
            Run(f"{headed(plain(kind.value))}: ", Style.STRONG),
            *printed.filled(script.say),
            Run(f" {script.source}", Style.SMALL),
        )
        for kind, script in printed.procedure.danger_scripts.items()
    )
    after = quiet("Afterwards what happened is written down, and all of making safe comes again before anything else.")
    return Part("In danger", (Listing(items), after), Frame.ALARM)


def _section(printed: Printed, section: Section) -> Part:
    procedure, numbers = printed.procedure, printed.numbers
    conditions = condition_words(procedure, numbers, section.when)
    told = [f"{headed(conditions)}." if conditions else "", asked_words(procedure, section)]
    told.append(ROLES[section.role] if section.role is not None else "")
    first: tuple[Block, ...] = tuple(quiet(words) for words in [" ".join(filter(None, told))] if words)
    phase = "Safety" if section.role is not None else PHASES[section.phase]
    title = f"{numbers.of(section)} {section.title}"
    heading = title if plain(section.title).lower() == phase.lower() else f"{title} ({phase.lower()})"
    return Part(heading, (*first, *tasks_of(printed, section)))


def _proofs(printed: Printed, section: Section) -> Part:
    """Return the table of proofs: the tester before, every pair, the tester after, and what ended the proof."""
    names = ["Isolated: how, and at what time"]
    for step in section.steps:
        if isinstance(step, Measure):
            mark = printed.numbers.step(section, step.id)
            called = {SafetyRole.TESTER_BEFORE: "Tester before", SafetyRole.TESTER_AFTER: "Tester after"}
            before = called.get(step.role, "") if step.role is not None else ""
            pairs = [
                f"{before}, known live source" if before else pair_words(printed.procedure, pair) for pair in step.pairs
            ]
            names += [f"{mark} {pair}, volts" for pair in pairs]
    names += ["Complete at (time)", "Ended at (time), by what"]
    proof = printed.procedure.settings.get("proof_minutes", "30")
    under = quiet(
        f"A column for each proof; it stands for {proof} minutes from its first check of the tester. One pair over its "
        "limit, or a tester that does not show the live source afterwards, and there is no proof."
    )
    headings = ("Proofs of dead", *(f"Proof {number}" for number in range(1, _PROOFS + 1)))
    return Part(headed(PROOFS.removeprefix("the ")), (Form(headings, tuple(names)), under))


def _found(printed: Printed) -> Iterator[Part]:
    """Yield what mends the causes that the printed sections may find."""
    procedure = printed.procedure
    found = {way.cause: None for s in printed.sections for step in s.steps for way in ways_of(s, step) if way.cause}
    rows = []
    for name in found:
        cause = procedure.causes.get(name)
        if cause is None:
            continue
        remedy = procedure.remedies.get(cause.remedy)
        cells = (cause.say, remedy.say if remedy is not None else "", cause.why_failed, ", ".join(cause.parts))
        rows.append(tuple(printed.filled(as_sentence(words) if words else "") for words in cells))
    if rows:
        headings = ("Found", "What mends it", "Why it may have failed", "Parts")
        yield Part("Causes", (Table(headings, tuple(rows)),))


def _reasons(procedure: Procedure) -> Part:
    items = tuple(
        (
            Run(f"{headed(plain(name))}: ", Style.STRONG),
            Run(f"{over.say} Takes over: {over.to}. "),
            Run(over.source, Style.SMALL),
        )
        for name, over in procedure.hand_overs.items()
    )
    return Part("Reasons to stop work and hand over", (Listing(items),))


def _signed() -> Part:
    written: tuple[Block, ...] = (
        Paragraph(text("What was not tested, what was refused, what else was seen:")),
        Blanks(((" ",), (" ",), (" ",))),
        Blanks((("Outcome", "Handed over to", "At (time)"), ("Technician, signature", "Date", "Customer, signature"))),
    )
    return Part("Signed", written)


def _foot(procedure: Procedure) -> Iterator[Text]:
    yield text(STATEMENT)
    yield text(
        f"{procedure.title}, revision {procedure.revision}, text {procedure.digest[:12]}. A reading so near to a limit "
        "that the meter cannot tell counts as marginal."
    )
