"""A small job stands for a whole one: whatever comes in, the engine does the same with both, up to the step it enters.

That is what lets the walk keep small jobs for whole records. Held here along jobs of chance on the shipped procedure.
"""

import random
from collections.abc import Hashable, Sequence
from dataclasses import replace
from functools import reduce

import pytest

from tests.dialogue.talker import shipped
from voicetech.dialogue.decide import drafted
from voicetech.dialogue.given import Given, Listening, Opening, Reopening, Tick, Weighed, Words
from voicetech.dialogue.watch import NOTHING_PROVED, watched
from voicetech.events import Channel, Event, StepDeferred, StepEntered
from voicetech.heard import typed
from voicetech.language.meaning import (
    Command,
    CommandSaid,
    CorrectionSaid,
    RangeSaid,
    ReadingSaid,
    SeveralSaid,
    StateSaid,
    Unclear,
)
from voicetech.procedure import Measure
from voicetech.proof.compiled import Compiled, compiled
from voicetech.proof.moves import Tried, at_work, moves_anywhere, moves_here
from voicetech.proof.states import State, small, state_key, view_key
from voicetech.session import Cursor, Session, evolve, opened
from voicetech.turn import Turn

JOBS = 6
MOVES = 120
TRIED = 6


def begun(ready: Compiled) -> State:
    first, *rest = drafted(ready.procedure, None, Opening("walk", Channel.CHAT, 1_000_000.0)).events
    session = reduce(evolve, rest, opened(first))  # type: ignore[arg-type]  # the first is the opening
    return State(session, NOTHING_PROVED, 1_000_000.0)


def after(ready: Compiled, state: State, given: Given) -> tuple[State, Sequence[Event]]:
    draft = drafted(ready.procedure, state.session, given)
    watch = watched(ready.procedure, state.watch, state.session, given, draft.events)
    return State(draft.session, watch, given.at_s), draft.events


def shape(ready: Compiled, state: State, given: Given) -> Hashable:
    """Return what an input does: the kinds of events up to the first step that is entered, and how that is entered."""
    reached, events = after(ready, state, given)
    kinds: list[str] = []
    for number, event in enumerate(events):
        own = isinstance(event, (StepEntered, StepDeferred)) and is_own(ready, event)
        if own:
            so_far = reduce(evolve, events[:number], state.session)
            watch = watched(ready.procedure, state.watch, state.session, given, events[:number])
            return tuple(kinds), view_key(ready, State(so_far, watch, given.at_s))
        kinds.append(type(event).__name__)
    left = any(kind in ("SectionEnded", "JobClosed") for kind in kinds)
    return tuple(kinds), None if left else state_key(ready, reached)


def is_own(ready: Compiled, event: StepEntered | StepDeferred) -> bool:
    return ready.at(Cursor(event.section, event.step))[0].role is None


def as_there(state: State, given: Given) -> Given:
    """Return the input as it is for the small job, whose own device is always the same one."""
    if isinstance(given, Tick) or state.session.channel is Channel.CHAT:
        return given
    assert not isinstance(given, Opening)
    return replace(given, channel=Channel.CHAT if given.channel is state.session.channel else Channel.VOICE)


def takes_back(tried: Tried) -> bool:
    said = tried.given.meaning if isinstance(tried.given, Words) else None
    return isinstance(said, CorrectionSaid) or (
        isinstance(said, CommandSaid) and said.command in (Command.UNDO, Command.BACK)
    )


def hangs_on_the_record(ready: Compiled, session: Session, tried: Tried) -> bool:
    """Return whether a verdict, or whether a test is there to go to, hangs on what else is on record.

    The walk tries each verdict, and enters each step.
    """
    said = tried.given.meaning if isinstance(tried.given, Words) else None
    if isinstance(said, CommandSaid) and said.command is Command.GO_TO:
        return True
    if isinstance(said, Unclear) and session.by_voice:
        # Only what is typed may be offered for a yes; the small job is typed, and does the more of the two.
        return True
    if not isinstance(said, (ReadingSaid, StateSaid, SeveralSaid, RangeSaid)) or session.at is None:
        return False
    step = ready.at(session.at)[1]
    return isinstance(step, Measure) and (bool(step.limits.fields) or step.judged_as != "each")


@pytest.mark.parametrize("seed", range(JOBS))
def test_a_small_job_does_what_the_whole_one_does(seed: int) -> None:
    ready, chance = compiled(shipped()), random.Random(seed)
    state = begun(ready)
    compared = 0
    for _number in range(MOVES):
        here = [tried for tried in moves_here(ready, state) if tried.state.session is state.session]
        anywhere = [tried for tried in moves_anywhere(ready, state) if tried.state.session is state.session]
        stands_for = small(ready, state)
        for tried in chance.sample([*here, *anywhere], min(TRIED, len(here) + len(anywhere))):
            if takes_back(tried) or hangs_on_the_record(ready, state.session, tried):
                continue
            if isinstance(tried.given, (Listening, Reopening)) and state.session.sound_kept is not None:
                # Whether sound may be kept is asked again in the walk, where it has been answered.
                continue
            whole = State(state.session, stands_for.watch, tried.state.at_s)
            little = State(stands_for.session, stands_for.watch, tried.state.at_s)
            assert shape(ready, whole, tried.given) == shape(ready, little, as_there(state, tried.given)), tried.words
            compared += 1
        # A careful job, so that it comes far, with something else now and then.
        careful = [tried for tried in here if tried.words not in ("undo",)]
        wild = chance.random() < 0.15 or not at_work(state.session)
        chosen = chance.choice(anywhere if wild else careful)
        reached, _events = after(ready, state, chosen.given)
        if reached.session.turn not in (Turn.CLOSED, Turn.HANDED_OVER, Turn.STOPPED):
            state = reached
    assert compared > MOVES


@pytest.mark.parametrize("seed", range(JOBS))
def test_what_an_undo_reaches_is_one_of_those_the_walk_tries(seed: int) -> None:
    ready, chance = compiled(shipped()), random.Random(100 + seed)
    state = begun(ready)
    compared = 0
    for _number in range(MOVES):
        if at_work(state.session) and state.session.turn is Turn.ASKING:
            stands_for = small(ready, state)
            undo = CommandSaid(Command.UNDO)
            given = Words(typed("undo"), Weighed.ACCEPTED, state.session.channel, state.at_s + 0.001, undo)
            tried = [
                each
                for each in (*moves_here(ready, stands_for), *moves_anywhere(ready, stands_for))
                if each.words.startswith("undo")
            ]
            shapes = {shape(ready, each.state, each.given) for each in tried}
            assert shape(ready, State(state.session, stands_for.watch, state.at_s), given) in shapes
            compared += 1
        here = [each for each in moves_here(ready, state) if each.state.session is state.session]
        anywhere = [each for each in moves_anywhere(ready, state) if each.state.session is state.session]
        chosen = chance.choice(here if here and chance.random() < 0.9 else anywhere)
        reached, _events = after(ready, state, chosen.given)
        if reached.session.turn not in (Turn.CLOSED, Turn.HANDED_OVER, Turn.STOPPED):
            state = reached
    assert compared > 0
