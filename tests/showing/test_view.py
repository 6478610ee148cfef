"""What a screen shows of a job: every quick answer is an answer, and nothing is said to be proved that is not."""

from collections.abc import Iterator
from decimal import Decimal
from functools import cache
from pathlib import Path

import pytest

from tests.dialogue.talker import Talker, lexicon, shipped
from voicetech.authoring.shipped import shipped_folder
from voicetech.cli.demo import demo_turns
from voicetech.dialogue.draft import proof_s
from voicetech.dialogue.questions import question_for
from voicetech.events import Channel
from voicetech.language.meaning import MEASURED, DangerSaid, ReadingSaid, Unclear
from voicetech.language.understand import understand
from voicetech.session import Session
from voicetech.showing import View, view_of
from voicetech.turn import Turn

SIDEWAYS = (
    "pause", "resume", "stop", "everything is safe start again", "nothing happened", "skip", "cancel", "note",
    "the cord is warm", "how", "undo", "it smells burnt", "no", "hold on i have to take a call", "resume",
)  # fmt: skip


@cache
def seen() -> tuple[tuple[Session, float], ...]:
    """Return the job of the demo at each of its turns, and with a detour at every third of them."""
    return tuple(_walked())


def _walked() -> Iterator[tuple[Session, float]]:
    for number, turn in enumerate(demo_turns(Path(str(shipped_folder("demo_audio"))) / "script.yaml")):
        if number % 3 == 0:
            aside = Talker()
            aside.events, aside.session, aside.now_s = list(talker.events), talker.session, talker.now_s
            for line in SIDEWAYS:
                aside.say(line)
                yield aside.session, aside.now_s
        yield talker.session, talker.now_s
        talker.say(turn.say)
    assert talker.session.turn is Turn.CLOSED
    yield talker.session, talker.now_s


talker = Talker()


@cache
def views() -> tuple[tuple[Session, float, View], ...]:
    return tuple((session, at_s, view_of(shipped(), session, at_s)) for session, at_s in seen())


def test_every_quick_answer_and_request_is_understood_at_its_question() -> None:
    checked = set()
    for session, _, view in views():
        question = question_for(shipped(), session)
        for quick in (*view.answers, *view.requests):
            checked.add(quick.say)
            meaning = understand(quick.say, question, lexicon())
            assert not isinstance(meaning, Unclear | DangerSaid), (view.prompt, quick, meaning)
    assert {"yes", "no", "done", "open", "probes off", "resume", "undo", "what's the limit"} <= checked


def test_no_quick_answer_is_a_figure() -> None:
    for session, _, view in views():
        question = question_for(shipped(), session)
        for quick in view.answers:
            meaning = understand(quick.say, question, lexicon())
            if question.asking in MEASURED and session.turn is not Turn.CHOOSING:
                assert not isinstance(meaning, ReadingSaid), quick


def test_dead_is_said_only_while_a_proof_stands() -> None:
    states = set()
    for session, at_s, view in views():
        states.add(view.safety.state)
        stands = session.proof_stands(at_s, proof_s(shipped()))
        assert (view.safety.state == "dead") == stands
        assert (view.safety.until_s is not None) == stands
        assert "safe" not in view.safety.says.lower()
        late = view_of(shipped(), session, at_s + proof_s(shipped()))
        assert late.safety.state != "dead"
    assert states == {"dead", "isolated", "live", "unknown"}


def test_what_is_to_be_read_and_what_was_read_stand_where_their_figures_say() -> None:
    with_band = [view for _, _, view in views() if view.limit is not None and view.limit.band is not None]
    assert with_band
    for view in with_band:
        assert view.limit is not None
        assert view.limit.band is not None
        assert view.limit.band.value is None
        assert view.limit.band.beyond == 0
        assert view.limit.low or view.limit.high
    read = [reading for _, _, view in views() for reading in view.readings if reading.verdict]
    assert {reading.verdict for reading in read} >= {"within limits", "open"}
    for reading in read:
        assert reading.reason
        band = reading.band
        if band is not None and band.value is not None and band.low is not None and band.high is not None:
            assert (band.low <= band.value <= band.high) == (reading.good is not False)


def test_an_open_element_is_shown_beyond_the_right_end_of_its_band() -> None:
    opened = next(
        reading
        for _, _, view in views()
        for reading in view.readings
        if reading.verdict == "open" and reading.band is not None
    )
    assert opened.value == "OL"
    assert opened.band is not None
    assert (opened.band.value, opened.band.beyond) == (None, 1)


def test_the_places_are_those_of_the_open_pair() -> None:
    for session, _, view in views():
        if view.where and session.at is not None:
            step = shipped().step(session.at.section, session.at.step)
            pair = step.pairs[session.at.pair]  # type: ignore[union-attr]
            points = [shipped().points[name] for name in (pair.first, pair.second) if name in shipped().points]
            assert [(place.label, place.at) for place in view.where] == [(point.label, point.at) for point in points]


def test_shares_of_suspicion_fall_and_a_proved_cause_comes_first() -> None:
    proved = [view for _, _, view in views() if any(each.proved for each in view.suspects)]
    assert proved
    for _, _, view in views():
        shares = [each.share for each in view.suspects if not each.proved]
        assert shares == sorted(shares, reverse=True)
        assert not any(each.proved for each in view.suspects[1:] if not view.suspects[0].proved)


@pytest.mark.parametrize("channel", [Channel.CHAT, Channel.VOICE, Channel.PAGE])
def test_a_stop_leaves_only_the_words_that_end_it(channel: Channel) -> None:
    at_work = Talker(channel=channel)
    at_work.say("no", "stop")
    view = view_of(shipped(), at_work.session, at_work.now_s)
    assert view.turn == "stopped"
    assert [quick.say for quick in view.answers] == ["everything is safe start again"]
    assert not view.requests
    assert not view.tests
    assert not view.where
    assert "breaker" in view.prompt.lower()


def test_a_closed_job_says_how_it_ended_and_asks_nothing() -> None:
    session, _, view = views()[-1]
    assert view.outcome == session.outcome == "repaired"
    assert "closed" in view.prompt
    assert not (view.answers)
    assert not (view.requests)
    assert not (view.tests)
    assert not (view.ahead)
    assert not (view.correctable)


def test_the_limits_of_an_element_come_from_its_plate() -> None:
    ohms = next(view for _, _, view in views() if view.unit == "Ω" and view.limit is not None and view.limit.band)
    assert ohms.limit is not None
    low, high = (Decimal(end.removesuffix(" Ω")) for end in (ohms.limit.low, ohms.limit.high))
    assert low < high
    assert str(low) in ohms.limit.says
