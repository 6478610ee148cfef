"""What the technician asks of the program: pause, undo, skip, another test, a note, a question back."""

from typing import Final, assert_never

from voicetech import diagnosis
from voicetech.dialogue.answering import LATER, answered, may_wait, take_answer
from voicetech.dialogue.draft import Draft
from voicetech.dialogue.flow import (
    close,
    end_proof,
    end_section,
    enter,
    facts,
    first_step,
    go_on,
    holds,
    reenter,
    start_over,
)
from voicetech.dialogue.measuring import measured
from voicetech.dialogue.outcomes import outcome_of
from voicetech.events import (
    AnswerWithdrawn,
    Asked,
    NoteTaken,
    Paused,
    PowerRestored,
    PromptsSet,
    ProposalDropped,
    ReadingTaken,
    ReasonAwaited,
    Remarked,
    SaidAgain,
    StepSkipped,
    VoiceChanged,
)
from voicetech.language.meaning import Command, CommandSaid, CorrectionSaid
from voicetech.procedure import (
    Ask,
    ComesUp,
    Hold,
    Inspect,
    Instruct,
    Measure,
    Phase,
    SafetyRole,
    Section,
    SectionRole,
    Step,
)
from voicetech.session import Cursor
from voicetech.turn import Turn

_CLEARLY_MORE: Final = 1.5
"""Times more for its minutes from which on another test is named. Judgement."""
_QUESTIONS: Final = {
    Command.REPEAT: "repeat",
    Command.STATUS: "status",
    Command.HOWTO: "how",
    Command.WHERE: "where",
    Command.WHY: "why",
    Command.LIMIT: "limit",
    Command.DECIDE: "suspects",
}
_VOICE: Final = {
    Command.HUSH: "hush",
    Command.SLOWER: "slower",
    Command.FASTER: "faster",
    Command.LOUDER: "louder",
    Command.QUIETER: "quieter",
}
_AFTER_THE_PROBES: Final = frozenset(
    {Command.SKIP, Command.CANNOT_REACH, Command.NOT_FITTED, Command.GO_TO, Command.LATER, Command.CLOSE}
)
_HOW: Final = {Command.CANNOT_REACH: "cannot reach it", Command.NOT_FITTED: "not fitted"}
_SKIPPABLE: Final = frozenset({Phase.INTAKE, Phase.SETTINGS, Phase.TEST, Phase.RETEST})


def requested(draft: Draft, said: CommandSaid) -> None:
    """Do what was asked, or say why it is not possible now."""
    command = said.command
    if command in _QUESTIONS:
        draft.add(Asked(_QUESTIONS[command]))
        return
    if command in _VOICE:
        draft.add(VoiceChanged(_VOICE[command]))
        return
    if draft.session.turn is Turn.PROBES_ON and command in _AFTER_THE_PROBES:
        draft.refuse("Take the probes off first, then say: probes off.")
        return
    match command:
        case Command.HOLD | Command.LEAVING | Command.CALL_MODE:
            pause(draft, command)
        case Command.UNDO | Command.BACK:
            undo(draft)
        case Command.CANCEL:
            cancel(draft)
        case Command.SKIP | Command.CANNOT_REACH | Command.NOT_FITTED:
            skip(draft, said)
        case Command.GO_TO:
            go_to(draft, said.argument)
        case Command.NOTE:
            note(draft, said.argument)
        case Command.POWER_IS_ON:
            power_is_on(draft)
        case Command.SHORTER | Command.LONGER:
            draft.add(PromptsSet(command is Command.SHORTER))
        case Command.LATER:
            _later(draft)
        case Command.DONE | Command.NEXT:
            _done(draft, said)
        case Command.CLOSE:
            finish(draft)
        case Command.RESUME if isinstance(draft.step, (Instruct, Hold)):
            # "Ready" is said for done.
            answered(draft, said)
        case Command.RESUME:
            draft.refuse("The job is not paused.")
        case Command.SAFE_AGAIN:
            draft.refuse("There is no stop to end.")
        case (
            Command.REPEAT
            | Command.STATUS
            | Command.HOWTO
            | Command.WHERE
            | Command.WHY
            | Command.LIMIT
            | Command.DECIDE
            | Command.HUSH
            | Command.SLOWER
            | Command.FASTER
            | Command.LOUDER
            | Command.QUIETER
        ):
            raise AssertionError(f"{command} is answered above")
        case _:
            assert_never(command)


def pause(draft: Draft, command: Command) -> None:
    """Pause the job; a proof of dead never outlives a pause."""
    reason = "the technician left the appliance" if command is Command.LEAVING else "the job was paused"
    end_proof(draft, reason)
    draft.add(Paused(command is Command.CALL_MODE, draft.at_s))


def undo(draft: Draft) -> None:
    """Withdraw the latest answer and ask its step again; a proof of dead does not outlive an undo past it."""
    if draft.session.turn in (Turn.CONFIRMING, Turn.CHOOSING):
        draft.add(ProposalDropped("withdrawn"))
        enter(draft, draft.cursor)
        return
    last = draft.session.last_answer
    if last is None:
        draft.refuse("There is nothing to undo.")
        return
    _withdraw(draft, "undo")


def _withdraw(draft: Draft, reason: str) -> Cursor:
    """Withdraw the latest answer and enter its step; return the cursor the step would have."""
    last = draft.session.last_answer
    if last is None:
        raise RuntimeError("there is no answer to withdraw")
    section = draft.procedure.section(last.section)
    proved_at_s = draft.session.safety.proved_at_s
    reaches_safety = section.role is not None and section.role is not SectionRole.NULL_LEADS
    if reaches_safety or (proved_at_s is not None and last.at_s < proved_at_s):
        end_proof(draft, "an undo past it")
    draft.add(AnswerWithdrawn(last.seq, reason, draft.at_s))
    cursor = _cursor_of(draft, last)
    waiting = draft.session.resume
    if not reaches_safety:
        enter(draft, cursor)
    elif waiting is not None:
        enter(draft, waiting)
    else:
        start_over(draft, section)
    return cursor


def _cursor_of(draft: Draft, taken: object) -> Cursor:
    last = taken
    if isinstance(last, ReadingTaken):
        step = draft.procedure.step(last.section, last.step)
        pair = 0
        if isinstance(step, Measure):
            still = draft.session.readings_of(Cursor(last.section, last.step, 0, last.attempt))
            pair = next((i for i, p in enumerate(step.pairs) if p.label not in still), 0)
        return Cursor(last.section, last.step, pair, last.attempt)
    section, step_id = getattr(last, "section", ""), getattr(last, "step", "")
    return Cursor(str(section), str(step_id))


def corrected(draft: Draft, said: CorrectionSaid) -> None:
    """Withdraw what was read back and take the replacement, where one was given and its step may be asked."""
    last = draft.session.last_answer
    if last is None:
        draft.refuse("There is nothing to correct.")
        return
    if said.confirm:
        draft.add(SaidAgain("Nothing was just read back. To take back the last answer, say undo.", silent=False))
        return
    cursor = _withdraw(draft, "correction")
    if said.replacement is None or draft.session.at != cursor:
        return
    step = draft.step
    if isinstance(step, Measure):
        measured(draft, step, said.replacement)
    else:
        answered(draft, said.replacement)


def cancel(draft: Draft) -> None:
    """Drop what was read back or offered; nothing on record changes."""
    if draft.session.turn in (Turn.CONFIRMING, Turn.CHOOSING, Turn.REASON):
        draft.add(ProposalDropped("cancelled"))
        enter(draft, draft.cursor)
    else:
        draft.refuse("There is nothing to cancel. To take back the last answer, say undo.")


def skip(draft: Draft, said: CommandSaid) -> None:
    """Skip the step with a reason; holds, proofs and putting back cannot be skipped."""
    section, step = draft.section, draft.step
    if isinstance(step, Hold) or step.role is not None or section.role is not None:
        draft.refuse("This is a safety step. It cannot be skipped.")
        return
    measured_at_the_end = section.phase is Phase.PUT_BACK and isinstance(step, Measure)
    if section.phase not in _SKIPPABLE and not measured_at_the_end:
        draft.refuse("This step cannot be skipped. Say done when it is done.")
        return
    how = _HOW.get(said.command, said.argument)
    if how is None:
        draft.add(ReasonAwaited("skip"))
        return
    skipped(draft, how)


def skipped(draft: Draft, reason: str) -> None:
    """Record the skip and go on; a part that is not fitted ends its whole section."""
    cursor, section = draft.cursor, draft.section
    draft.add(StepSkipped(draft.seq, cursor.section, cursor.step, reason, draft.at_s))
    if reason == "not fitted" and section.phase is Phase.TEST:
        end_section(draft, section, "not fitted")
    else:
        go_on(draft, _next_where_all_is_well(draft.step))


def _next_where_all_is_well(step: Step) -> str | None:
    """Return where a skipped step leads: where it would have led with nothing wrong."""
    match step:
        case Instruct(outcomes=outcomes):
            return outcome_of(outcomes, "done").next
        case Inspect(outcomes=outcomes):
            return outcome_of(outcomes, "clean").next
        case Measure(outcomes=outcomes):
            return outcome_of(outcomes, "within").next
        case Ask() | Hold():
            return None


def go_to(draft: Draft, section_id: str | None) -> None:
    """Go to a named test, through the same gate as any other step."""
    section = next((s for s in draft.procedure.sections if s.id == section_id), None)
    if section is None:
        draft.refuse("I do not know that test. Say status for the list.")
        return
    if section.phase is not Phase.TEST or section.role is not None:
        draft.refuse(f"{section.title} comes in its own time. Ask for a test by its part.")
        return
    first = first_step(draft, section) if holds(section.when, facts(draft.procedure, draft.session)) else None
    if first is None:
        draft.refuse(f"There is nothing to do in {section.title} on this appliance.")
        return
    _say_what_it_costs(draft, section)
    start_over(draft, section)


def _say_what_it_costs(draft: Draft, section: Section) -> None:
    """Say that another test would tell clearly more for its minutes; the technician may choose otherwise."""
    procedure, session = draft.procedure, draft.session
    if session.proved or procedure.settings.get(diagnosis.ORDER) == diagnosis.LISTED:
        return
    known = facts(procedure, session)
    owed = diagnosis.untried(procedure, session, lambda each: holds(each.when, known))
    if section.id not in owed:
        if section.asked is ComesUp.BY_WORTH and section.id not in session.ended and owed:
            draft.add(Remarked("As you choose. It can show none of what is suspected."))
        return
    found = diagnosis.worths(procedure, session, owed)
    mine = next(worth for worth in found if worth.section.id == section.id)
    best = max(found, key=lambda worth: worth.per_min)
    if best.per_min > mine.per_min * _CLEARLY_MORE:
        draft.add(
            Remarked(
                f"As you choose, about {_minutes(mine.takes_min)}. "
                f"More for its time: {best.section.title}, about {_minutes(best.takes_min)}."
            )
        )


def _minutes(takes_min: float) -> str:
    whole = max(round(takes_min), 1)
    return f"{whole} minute{'s' if whole > 1 else ''}"


def note(draft: Draft, text: str | None) -> None:
    """Keep a note in the technician's words, or ask for it where nothing else waits for an answer."""
    if not text and draft.session.turn is Turn.ASKING:
        draft.add(ReasonAwaited("note"))
        return
    if not text:
        draft.refuse("Say note, and then the note.")
        return
    draft.add(NoteTaken(text, draft.session.by_voice, draft.at_s))


def power_is_on(draft: Draft) -> None:
    """Record that power is on; a step that needs it dead starts again with making safe."""
    if draft.step.role is SafetyRole.POWER_ON:
        answered(draft, CommandSaid(Command.DONE))
        return
    draft.add(PowerRestored("the technician said so", draft.at_s))
    reenter(draft)


def finish(draft: Draft) -> None:
    """Close the job where it may be closed."""
    if draft.session.turn is Turn.HANDED_OVER or draft.section.phase is Phase.REPORT:
        close(draft)
    else:
        draft.refuse("The job is not finished. Say pause to leave it, or go on to the report.")


def _later(draft: Draft) -> None:
    step = draft.step
    if isinstance(step, Ask) and may_wait(draft, step):
        take_answer(draft, step, LATER)
    else:
        draft.refuse("This one cannot wait. To skip it, say skip, because, and the reason.")


def _done(draft: Draft, said: CommandSaid) -> None:
    if isinstance(draft.step, (Instruct, Hold)):
        answered(draft, said)
    else:
        draft.add(SaidAgain("I still need the answer to this one.", silent=False))
