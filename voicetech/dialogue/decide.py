"""What happens next: `decide` turns an input into events, and changes nothing itself.

The order matters and is the trade's: danger first, then what time or another device has ended, then whose turn it
is, then what was asked for, then the answer.
"""

from typing import assert_never

from voicetech.dialogue.answering import again, answered, quiet_now, take_answer, take_inspection, text_of
from voicetech.dialogue.danger import danger_said, recounted, while_doubted, while_stopped
from voicetech.dialogue.draft import Draft
from voicetech.dialogue.flow import close, end_proof, enter, next_section, reenter
from voicetech.dialogue.given import Given, Listening, Opening, Reopening, Tick, Weighed, Words
from voicetech.dialogue.keeping_sound import about_sound, begin_sound
from voicetech.dialogue.measuring import after_readings, measured, take
from voicetech.dialogue.pairs import plain_label
from voicetech.dialogue.requests import corrected, note, requested, skipped
from voicetech.events import (
    AlternativeHeard,
    Answer,
    AnswerKind,
    AnswerProposed,
    Asked,
    Event,
    Ignored,
    InputReceived,
    JobOpened,
    JobReopened,
    ListeningBegan,
    ProposalDropped,
    Resumed,
    RivalsOffered,
    SaidAgain,
    TimePassed,
)
from voicetech.language.meaning import (
    AnswerSaid,
    ChoiceSaid,
    Command,
    CommandSaid,
    CorrectionSaid,
    DangerKind,
    DangerSaid,
    Meaning,
    RangeSaid,
    ReadingSaid,
    SeveralSaid,
    StateSaid,
    Unclear,
    WordsSaid,
)
from voicetech.procedure import Ask, Inspect, Measure, Needs, Phase, Procedure, SectionRole
from voicetech.session import Session, opened
from voicetech.turn import Move, Turn, may

PROBES_OFF = ("probes off", "probes are off", "they are off", "leads off")
"""What is said when the probes are off the live parts."""


def decide(procedure: Procedure, session: Session | None, given: Given) -> tuple[Event, ...]:
    """Return the events this input causes; the session is None only for an opening."""
    return tuple(drafted(procedure, session, given).events)


def drafted(procedure: Procedure, session: Session | None, given: Given) -> Draft:
    """Return the events this input causes with the session after them; the session is None only for an opening."""
    if isinstance(given, Opening):
        return _open(procedure, given)
    if session is None:
        raise ValueError("a job has to be opened first")
    draft = Draft(procedure, session, given.at_s)
    match given:
        case Tick():
            _ticked(draft)
        case Reopening():
            _reopened(draft, given)
        case Listening():
            draft.add(ListeningBegan(given.channel, given.at_s))
            begin_sound(draft, given.keep_sound)
        case Words():
            _words(draft, given)
        case _:
            assert_never(given)
    return draft


def _open(procedure: Procedure, given: Opening) -> Draft:
    first = JobOpened(
        given.job,
        procedure.id,
        procedure.revision,
        procedure.digest,
        given.channel,
        given.at_s,
        procedure.language,
    )
    draft = Draft(procedure, opened(first), given.at_s)
    draft.events.append(first)
    next_section(draft, Phase.INTAKE)
    begin_sound(draft, given.keep_sound)
    return draft


def _reopened(draft: Draft, given: Reopening) -> None:
    draft.add(JobReopened(given.channel, given.reason, given.at_s))
    end_proof(draft, given.reason)
    if draft.session.turn in _WORKING:
        reenter(draft)
    begin_sound(draft, given.keep_sound)


_WORKING = frozenset({Turn.ASKING, Turn.CONFIRMING, Turn.CHOOSING, Turn.PROBES_ON, Turn.REASON})


def _ticked(draft: Draft) -> None:
    if _out_of_time(draft):
        draft.add(TimePassed(draft.at_s))
        _time_has_passed(draft)


def _out_of_time(draft: Draft) -> bool:
    began_at_s = draft.session.safety.began_at_s
    return began_at_s is not None and not 0 <= draft.at_s - began_at_s < draft.proof_s


def _time_has_passed(draft: Draft) -> bool:
    """End a proof whose time is up; return whether the open step had to give way to making safe."""
    session = draft.session
    began_at_s = session.safety.began_at_s
    if began_at_s is None or not _out_of_time(draft):
        return False
    minutes = f"{draft.proof_s / 60:.0f} minutes have passed"
    end_proof(draft, "the clock was set back" if draft.at_s < began_at_s else minutes)
    # The holds before power are taken while it is dead: the common lead is clipped, covers are put on.
    relies_on_it = draft.section.role in (SectionRole.MAKE_SAFE, SectionRole.GO_LIVE, SectionRole.POWER_UP)
    if session.turn in _WORKING and (relies_on_it or draft.step.needs is Needs.DEAD):
        reenter(draft)
        return True
    return False


_HANDED = "the job was handed to another device"


def _words(draft: Draft, given: Words) -> None:
    overheard = given.weighed in (Weighed.IGNORED, Weighed.LATE)
    changed_hands = given.channel is not draft.session.channel and not overheard
    heard = given.heard
    draft.add(
        InputReceived(
            channel=given.channel,
            engine=heard.engine,
            alternatives=tuple(AlternativeHeard(a.text, a.probability, a.at_first) for a in heard.alternatives),
            for_us=heard.for_us,
            outcome=given.weighed.value,
            text=heard.text,
            sound_sha256=given.sound_sha256,
            at_s=given.at_s,
            free_text=heard.free_text,
        )
    )
    danger = given.meaning if given.weighed is Weighed.ACCEPTED and isinstance(given.meaning, DangerSaid) else None
    told = draft.session.turn is Turn.RECOUNTING and danger is not None and danger.kind is DangerKind.STOP
    if danger is not None and (danger.present or not told):
        danger_said(draft, danger, heard.text)
        if changed_hands:
            end_proof(draft, _HANDED)
        return
    if given.weighed is Weighed.LATE:
        draft.add(Ignored("the job had gone on elsewhere"))
        return
    if changed_hands:
        end_proof(draft, _HANDED)
        at_work = draft.session.turn in _WORKING
        if at_work and (draft.step.needs is not Needs.ANY or draft.section.role is not None):
            reenter(draft)
            return
    if _time_has_passed(draft):
        return
    if draft.session.sound_asked and not _ends_a_proof(given):
        about_sound(draft, given)
        return
    _by_turn(draft, given)


def _ends_a_proof(given: Words) -> bool:
    """Return whether the words end a proof of dead, so that no question about anything else keeps them back."""
    said = given.meaning if given.weighed is Weighed.ACCEPTED else None
    return isinstance(said, CommandSaid) and said.command in _ENDS_A_PROOF


_ENDS_A_PROOF = frozenset({Command.HOLD, Command.CALL_MODE, Command.LEAVING, Command.POWER_IS_ON})


def _by_turn(draft: Draft, given: Words) -> None:
    meaning = given.meaning if given.weighed is Weighed.ACCEPTED else None
    match draft.session.turn:
        case _ if given.weighed is Weighed.IGNORED:
            draft.add(Ignored("not meant for the program"))
        case Turn.STOPPED:
            while_stopped(draft, meaning)
        case Turn.SAFETY_QUESTION:
            while_doubted(draft, meaning)
        case Turn.RECOUNTING if not given.heard.text:
            draft.add(Ignored("nothing was said"))
        case Turn.RECOUNTING:
            recounted(draft, given.heard)
        case Turn.PAUSED | Turn.ON_CALL:
            _while_paused(draft, meaning)
        case Turn.HANDED_OVER:
            _while_handed_over(draft, meaning)
        case Turn.CLOSED:
            draft.refuse("This job is closed. Start a new one.")
        case Turn.REASON if given.heard.text:
            _reason(draft, given, meaning)
        case _:
            _at_work(draft, given, meaning)


def _while_paused(draft: Draft, meaning: Meaning | None) -> None:
    if isinstance(meaning, CommandSaid) and meaning.command is Command.RESUME:
        draft.add(Resumed(draft.at_s))
        end_proof(draft, "the job was paused")
        reenter(draft)
    elif draft.session.turn is Turn.PAUSED and meaning is not None:
        draft.refuse("The job is paused. Say resume to go on.")
    else:
        draft.add(Ignored("paused"))


def _while_handed_over(draft: Draft, meaning: Meaning | None) -> None:
    match meaning:
        case CommandSaid(command=Command.NOTE, argument=argument):
            note(draft, argument)
        case CommandSaid(command=Command.CLOSE | Command.DONE):
            close(draft)
        case CommandSaid(command=Command.STATUS | Command.REPEAT):
            draft.add(Asked("status"))
        case _:
            draft.refuse("Work has stopped here. Add a note, or say close the job.")


_HEARD_BEFORE_A_REASON = _ENDS_A_PROOF | {Command.REPEAT}


def _reason(draft: Draft, given: Words, meaning: Meaning | None) -> None:
    match meaning:
        case CommandSaid(command=Command.CANCEL | Command.UNDO | Command.BACK):
            draft.add(ProposalDropped(f"the {draft.session.words_for} was called off"))
            enter(draft, draft.cursor)
        case CommandSaid(command=command) if command in _HEARD_BEFORE_A_REASON:
            requested(draft, meaning)
        case _ if draft.session.words_for == "note":
            note(draft, given.heard.free_text or given.heard.text)
            enter(draft, draft.cursor)
        case _:
            skipped(draft, given.heard.free_text or given.heard.text)


def _at_work(draft: Draft, given: Words, meaning: Meaning | None) -> None:
    match given.weighed:
        case Weighed.AGAIN if isinstance(given.meaning, Unclear):
            # The words are sure: what is asked, or put up, tells more than "say again".
            _heard_well(draft, given.meaning)
        case Weighed.AGAIN:
            draft.add(SaidAgain("Say again?", silent=quiet_now(draft)))
        case Weighed.ASK if given.rivals is not None and may(draft.session.turn, Move.OFFER):
            _offer(draft, given.rivals)
        case _ if meaning is not None:
            _heard_well(draft, meaning)
        case _:
            draft.add(SaidAgain("Say again?", silent=quiet_now(draft)))


def _offer(draft: Draft, rivals: tuple[Meaning, Meaning]) -> None:
    first, second = (_as_answer(rival) for rival in rivals)
    if first is None or second is None:
        draft.add(SaidAgain("Say again?", silent=quiet_now(draft)))
    else:
        draft.add(RivalsOffered(first, second))


def _as_answer(meaning: Meaning) -> Answer | None:
    match meaning:
        case ReadingSaid(value=value, unit=unit, label=label):
            return Answer(AnswerKind.READING, label, value, unit)
        case StateSaid(state=state, label=label):
            return Answer(AnswerKind.STATE, label, state=state)
        case AnswerSaid(yes=yes, finding=finding):
            return Answer(AnswerKind.YES if yes else AnswerKind.NO, text=finding)
        case ChoiceSaid(key=key):
            return Answer(AnswerKind.CHOICE, text=key)
        case WordsSaid(text=text):
            return Answer(AnswerKind.WORDS, text=text)
        case CorrectionSaid(replacement=ReadingSaid() | StateSaid() as replacement):
            return _as_answer(replacement)
        case _:
            return None


def _heard_well(draft: Draft, meaning: Meaning) -> None:
    if isinstance(meaning, CommandSaid) and not _is_answer_here(draft, meaning):
        requested(draft, meaning)
        return
    match draft.session.turn:
        case Turn.CONFIRMING:
            _while_confirming(draft, meaning)
        case Turn.CHOOSING:
            _while_choosing(draft, meaning)
        case Turn.PROBES_ON:
            _while_probes_on(draft, meaning)
        case _ if isinstance(meaning, CorrectionSaid):
            corrected(draft, meaning)
        case _:
            answered(draft, meaning)


def _is_answer_here(draft: Draft, said: CommandSaid) -> bool:
    """Return whether the words are this turn's answer rather than a request ("done" with the probes on)."""
    return draft.session.turn is Turn.PROBES_ON and said.command in (Command.DONE, Command.NEXT)


def _while_confirming(draft: Draft, meaning: Meaning) -> None:
    pending = draft.session.pending
    if not isinstance(pending, AnswerProposed):
        raise RuntimeError("nothing was read back")
    match meaning:
        case AnswerSaid(yes=True, confirm=False):
            accept(draft, pending.answers)
        case AnswerSaid(yes=False) if pending.others:
            draft.add(AnswerProposed(pending.others[:1], pending.why, pending.others[1:]))
        case AnswerSaid(yes=False):
            draft.add(ProposalDropped("not confirmed"))
            enter(draft, draft.cursor)
        case CorrectionSaid(replacement=None):
            draft.add(ProposalDropped("withdrawn"))
            enter(draft, draft.cursor)
        case CorrectionSaid(replacement=ReadingSaid() | StateSaid() as replacement):
            _answer_again(draft, replacement)
        case ReadingSaid() | StateSaid() | SeveralSaid() | RangeSaid() | ChoiceSaid() | WordsSaid():
            _answer_again(draft, meaning)
        case _:
            draft.add(SaidAgain("Yes, or no? Or say it once more.", silent=False))


def _answer_again(draft: Draft, meaning: Meaning) -> None:
    step = draft.step
    if isinstance(step, Measure) and isinstance(meaning, (ReadingSaid, StateSaid, SeveralSaid, RangeSaid)):
        measured(draft, step, meaning)
    else:
        answered(draft, meaning)


def _while_choosing(draft: Draft, meaning: Meaning) -> None:
    pending = draft.session.pending
    if not isinstance(pending, RivalsOffered):
        raise RuntimeError("no rivals were offered")
    match meaning:
        case AnswerSaid(yes=False):
            draft.add(ProposalDropped("neither"))
            enter(draft, draft.cursor)
        case AnswerSaid():
            again(draft, meaning, "The first, or the second? Say the value.")
        case CorrectionSaid(replacement=ReadingSaid() | StateSaid() as replacement):
            _answer_again(draft, replacement)
        case _:
            _answer_again(draft, meaning)


def _while_probes_on(draft: Draft, meaning: Meaning) -> None:
    match meaning:
        case CorrectionSaid():
            corrected(draft, meaning)
        case AnswerSaid(yes=True) | CommandSaid():
            _probes_are_off(draft)
        case WordsSaid(text=text) if plain_label(text) in {plain_label(words) for words in PROBES_OFF}:
            _probes_are_off(draft)
        case ReadingSaid() | StateSaid():
            draft.add(SaidAgain("To change it, say no, and the value. Else say: probes off.", silent=False))
        case _:
            draft.add(SaidAgain("Take the probes off, then say: probes off.", silent=False))


def _probes_are_off(draft: Draft) -> None:
    step = draft.step
    if isinstance(step, Measure):
        after_readings(draft, step)


def accept(draft: Draft, answers: tuple[Answer, ...]) -> None:
    """Take what was read back and confirmed."""
    step = draft.step
    match step:
        case Measure():
            take(draft, step, answers)
        case Ask():
            take_answer(draft, step, text_of(answers[0]))
        case Inspect():
            take_inspection(draft, step, answers[0].kind is AnswerKind.YES, answers[0].text)
        case _:
            raise RuntimeError(f"the step {step.id} takes no answer that is read back")
