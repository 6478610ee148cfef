"""One long recording of a job: prompts in the program's own voice, another talker, answers, pauses, noise, a cry.

The recording is one stream from its first frame to its last; what is checked is when things were found and decided.
"""

from dataclasses import dataclass
from pathlib import Path

import pytest

from tests.dialogue.talker import shipped
from tests.hearing.recordings import EAR
from tests.hearing.room import QUIET_ROOM, Happening, Placed, Room, clang, clip, in_two
from voicetech.events import Channel
from voicetech.heard import Heard
from voicetech.hearing.detector import SileroDetector
from voicetech.hearing.endpoint import GOES_ON_S, LINGERS_S, SETTLED_S, UtteranceCutter
from voicetech.hearing.frames import FRAME_S, Utterance
from voicetech.hearing.listening import LOOK_S, listen
from voicetech.job import open_job
from voicetech.journal.store import open_journal
from voicetech.talking import Talk
from voicetech.turn import Turn

BEGINS_WITHIN_S = 0.2
"""A weak first consonant is speech to a listener before it is to the detector."""


@dataclass(frozen=True)
class Decided:
    """What was given to the job: the words, whether they were for it, and when that was, in seconds."""

    words: str
    taken: bool
    at_s: float


class Worked:
    """A job worked in a room."""

    def __init__(
        self,
        folder: Path,
        *happenings: Happening,
        headset: bool = False,
        noise: float = QUIET_ROOM,
        overheard: float = 0.3,
    ) -> None:
        self.room = Room(folder / "prompts", happenings, overheard=0.0 if headset else overheard, noise=noise)
        self.decided: list[Decided] = []
        self.utterances: list[Utterance] = []
        with open_journal(folder / "jobs.db") as journal:
            self.job, first = open_job(shipped(), journal, "one", Channel.VOICE, lambda: 1_000_000.0)
            cutter = UtteranceCutter()
            talk = Talk(
                self.job, EAR, self.room, lambda _reply: None, on_heard=self._heard,
                now_s=self.room.now_s, cutter=cutter, headset=headset,
            )  # fmt: skip
            self.room.busy = lambda: talk._voice.busy
            take = talk.take

            def taking(utterance: Utterance) -> None:
                self.utterances.append(utterance)
                take(utterance)

            talk.take = taking  # type: ignore[method-assign]
            talk.begin(first)
            talk.run(listen(self.room.frames(), cutter, SileroDetector()))
            talk.close()
        self.room.close()

    def _heard(self, heard: Heard, taken: bool) -> None:
        self.decided.append(Decided(heard.text, taken, self.room.now_s()))

    @property
    def taken(self) -> list[str]:
        return [one.words for one in self.decided if one.taken]

    def placed(self, name: str) -> Placed:
        return next(one for one in self.room.placed if one.name == name)

    def utterance(self, name: str) -> Utterance:
        """Return the utterance that a clip was found in."""
        middle_s = (self.placed(name).speech_start_s + self.placed(name).speech_end_s) / 2
        return next(one for one in self.utterances if one.start_s <= middle_s <= one.end_s)

    def silence_s(self, name: str) -> float:
        """Return how long after the end of a clip it was decided on."""
        end_s = self.placed(name).speech_end_s
        return next(one.at_s for one in self.decided if one.at_s > end_s) - end_s


@pytest.fixture(scope="module")
def by_the_speaker(tmp_path_factory: pytest.TempPathFactory) -> Worked:
    """The beginning of a job with a laptop's speaker: the microphone hears every prompt."""
    return Worked(
        tmp_path_factory.mktemp("speaker"),
        Happening("no", clip("no")),
        Happening("other talk", clip("goforward")),
        Happening("a pan", clang()),
        Happening("it won't bake", clip("it-won-t-bake")),
        Happening("all at once", clip("all-at-once")),
        Happening("cards over a prompt", clip("cards_005"), after_s=0.5, into=True),
        Happening("two thirty eight", clip("two-thirty-eight")),
        Happening("twelve kilowatts", clip("twelve-kilowatts")),
        Happening("i smell smoke", clip("flite_slt_081")),
    )


ANSWERS = ["no", "it won't bake", "all at once", "two thirty eight", "twelve kilowatts"]
SETTLED = ["no", "it won't bake", "all at once", "twelve kilowatts", "i smell smoke"]
GOES_ON = ["two thirty eight"]


def test_answers_are_taken_and_nothing_else_is(by_the_speaker: Worked) -> None:
    """Neither the program's own voice, nor another talker, nor a pan is an answer or an alarm."""
    assert by_the_speaker.taken == [*ANSWERS, "i smell smoke"]
    assert by_the_speaker.job.session.turn is Turn.STOPPED
    assert by_the_speaker.job.session.answers["plate_volts"] == "238"


@pytest.mark.parametrize("name", [*ANSWERS, "i smell smoke"])
def test_utterances_begin_and_end_where_somebody_speaks(by_the_speaker: Worked, name: str) -> None:
    placed, utterance = by_the_speaker.placed(name), by_the_speaker.utterance(name)
    assert utterance.speech_start_s is not None
    assert utterance.speech_end_s is not None
    assert utterance.speech_start_s == pytest.approx(placed.speech_start_s, abs=BEGINS_WITHIN_S)
    assert utterance.start_s <= placed.speech_start_s, "the sound before it is kept"
    assert -FRAME_S <= utterance.speech_end_s - placed.speech_end_s <= LINGERS_S + FRAME_S
    assert utterance.whole


@pytest.mark.parametrize("name", SETTLED)
def test_what_nothing_could_follow_is_decided_at_once(by_the_speaker: Worked, name: str) -> None:
    assert 0.0 < by_the_speaker.silence_s(name) <= SETTLED_S + FRAME_S


@pytest.mark.parametrize("name", GOES_ON)
def test_what_could_go_on_is_decided_later(by_the_speaker: Worked, name: str) -> None:
    assert SETTLED_S + FRAME_S < by_the_speaker.silence_s(name) <= GOES_ON_S + FRAME_S


def test_a_listening_program_never_speaks_over_an_answer(by_the_speaker: Worked) -> None:
    begun_s = [at_s for _, at_s in by_the_speaker.room.prompts]
    for name in ANSWERS:
        placed = by_the_speaker.placed(name)
        assert not any(placed.speech_start_s <= at_s <= placed.speech_end_s for at_s in begun_s)


@pytest.fixture(scope="module")
def with_a_headset(tmp_path_factory: pytest.TempPathFactory) -> Worked:
    """The same with a headset, and without the patience to hear a prompt out."""
    return Worked(
        tmp_path_factory.mktemp("headset"),
        Happening("no", clip("no"), after_s=1.0, into=True),
        Happening("cards over a prompt", clip("cards_005"), after_s=0.4, into=True),
        Happening("it won't bake", clip("it-won-t-bake")),
        Happening("all at once", clip("all-at-once"), after_s=0.7, into=True),
        Happening("two forty ... volts", in_two(clip("two-forty-volts"), 0.5), after_s=0.6, into=True),
        headset=True,
    )


def test_with_a_headset_an_answer_cuts_the_prompt_short(with_a_headset: Worked) -> None:
    assert with_a_headset.taken == ["no", "it won't bake", "all at once", "two forty volts"]
    for name in ("no", "all at once"):
        assert 0.0 < with_a_headset.silence_s(name) <= SETTLED_S + FRAME_S
        placed = with_a_headset.placed(name)
        cut_s = [end_s for _, start_s, end_s in with_a_headset.room.said if start_s < placed.speech_end_s < end_s + 1.0]
        assert cut_s, "it was said into a prompt"
        assert max(cut_s) <= placed.speech_end_s + SETTLED_S + FRAME_S


def test_with_a_headset_people_nearby_do_not_cut_it_short_for_good(with_a_headset: Worked) -> None:
    cards = with_a_headset.placed("cards over a prompt")
    answered_s = with_a_headset.placed("it won't bake").speech_start_s
    whole = [
        words for words, start_s, end_s in with_a_headset.room.said
        if "What is cold" in words and end_s <= answered_s and end_s - start_s > 5.0
    ]  # fmt: skip
    assert whole, "the question was said to its end"
    assert cards.speech_end_s < answered_s


def test_an_answer_that_pauses_is_one_answer(with_a_headset: Worked) -> None:
    placed = with_a_headset.placed("two forty ... volts")
    utterance = with_a_headset.utterance("two forty ... volts")
    assert utterance.start_s <= placed.speech_start_s
    assert utterance.speech_end_s is not None
    assert utterance.speech_end_s >= placed.speech_end_s - FRAME_S
    assert 0.0 < with_a_headset.silence_s("two forty ... volts") <= SETTLED_S + FRAME_S


def test_in_noise_the_end_is_found_as_soon(tmp_path: Path) -> None:
    worked = Worked(tmp_path, Happening("no", clip("no")), headset=True, noise=0.01)
    assert worked.taken == ["no"]
    assert 0.0 < worked.silence_s("no") <= SETTLED_S + FRAME_S


def test_a_cry_over_a_prompt_silences_it_and_its_repetition_stops_the_job(tmp_path: Path) -> None:
    """Two voices at once are not understood: the program falls silent, and hears the second cry."""
    worked = Worked(
        tmp_path,
        Happening("no", clip("no")),
        Happening("a cry", clip("fest_kal_diphone_361"), after_s=1.5, into=True),
        Happening("again", clip("fest_kal_diphone_361"), after_s=0.6),
        overheard=0.15,
    )
    cry = worked.placed("a cry")
    silenced_s = next(end_s for _, start_s, end_s in worked.room.said if start_s < cry.speech_start_s < end_s)
    assert silenced_s <= cry.speech_start_s + LOOK_S + 3 * FRAME_S
    assert worked.job.session.turn is Turn.STOPPED
    assert worked.taken[0] == "no"
    assert worked.taken[-1] == "it's sparking"
    assert all("spark" in words for words in worked.taken[1:]), "the first may be half understood, and stop it too"
