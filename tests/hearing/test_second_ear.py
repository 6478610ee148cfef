"""The second ear: whom it is asked about, what its scores do, and the aligner itself on recordings."""

from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.hearing.recordings import SOUNDS, sentences
from voicetech.heard import Alternative, Heard
from voicetech.hearing.errors import HearingError
from voicetech.hearing.frames import RATE_HZ, Samples, Utterance
from voicetech.hearing.second_ear import (
    PACKAGE,
    Aligner,
    PronunciationsError,
    TwoEars,
    first_ear,
    load_pronunciations,
    reconsidered,
    unsure,
    with_second_ear,
)
from voicetech.hearing.sound_file import whole_utterance
from voicetech.language.meaning import DangerKind, DangerSaid, Meaning, Unclear
from voicetech.language.phrases import WordAutomaton
from voicetech.weigh import Accepted, weigh

TEENS = (Alternative("fifteen", 0.55), Alternative("fifty", 0.4), Alternative("fifty five", 0.01))
CLIP = SOUNDS / "goforward.flac"
"""A person who says "go forward ten meters"."""
RIVALS = ("go forward ten meters", "go forward two meters", "go forward ten ten meters")
GRAMMAR = sentences("fifteen", "fifty")
SOUND = Utterance(np.full(RATE_HZ, 0.1, np.float32))


class First:
    """A first ear that always hears the same."""

    name = "first"

    def __init__(self, *alternatives: Alternative, for_us: float = 1.0) -> None:
        self.heard = Heard(alternatives, "first", for_us, "fifteen", 0.01)

    def hear(self, utterance: Utterance, automaton: WordAutomaton) -> Heard:
        return self.heard

    def write_down(self, utterance: Utterance) -> Heard:
        return self.heard

    def unknown_words(self, words: object) -> frozenset[str]:
        return frozenset({"zzz"})

    def warm_up(self) -> None:
        self.warm = True


class Second:
    """A second ear with a score for each text."""

    def __init__(self, **score_of: float) -> None:
        self.score_of = score_of
        self.asked: list[tuple[str, ...]] = []

    def scores(self, samples: Samples, texts: Sequence[str]) -> tuple[float | None, ...]:
        self.asked.append(tuple(texts))
        return tuple(self.score_of.get(text) for text in texts)

    def warm_up(self) -> None:
        self.warm = True


@pytest.mark.parametrize(
    ("chances", "fits", "asked"),
    [
        ((0.55, 0.4, 0.01), 1.0, 2),
        ((0.95, 0.04), 1.0, 0),
        ((0.95, 0.04), 0.8, 2),
        ((0.55, 0.4), 0.3, 0),
        ((0.6, 0.01), 1.0, 0),
        ((0.2,) * 5 + (0.1,), 1.0, 5),
        ((), 1.0, 0),
    ],
)
def test_it_is_asked_about_close_rivals_only(chances: tuple[float, ...], fits: float, asked: int) -> None:
    assert len(unsure([Alternative(f"words {n}", chance) for n, chance in enumerate(chances)], fits)) == asked


def test_what_fits_the_sound_better_gains() -> None:
    again = reconsidered(TEENS, {"fifteen": -300.0, "fifty": 0.0})
    assert [rival.text for rival in again] == ["fifty", "fifteen", "fifty five"]
    assert {rival.text: rival.at_first for rival in again} == {rival.text: rival.probability for rival in TEENS}


def test_it_never_decides_alone() -> None:
    sure = (Alternative("fifteen", 0.8), Alternative("fifty", 0.035))
    assert reconsidered(sure, {"fifteen": -1e6, "fifty": 0.0})[0].probability < 0.6
    assert reconsidered(sure, {"fifteen": -1e6, "fifty": 0.0}) == reconsidered(sure, {"fifteen": -1e9, "fifty": 0.0})


@pytest.mark.parametrize("scores", [{}, {"fifteen": None, "fifty": None}, {"fifteen": -5.0, "fifty": None}])
def test_with_fewer_than_two_scores_nothing_changes(scores: dict[str, float | None]) -> None:
    assert reconsidered(TEENS, scores) == TEENS


@given(
    st.lists(st.floats(0.001, 1.0), min_size=1, max_size=8),
    st.lists(st.one_of(st.none(), st.floats(-2000, 0)), min_size=8, max_size=8),
)
def test_probabilities_stay_probabilities(chances: list[float], scores: list[float | None]) -> None:
    whole = sum(chances) * 1.1
    ordered = sorted(chances, reverse=True)
    rivals = tuple(Alternative(f"words {n}", chance / whole) for n, chance in enumerate(ordered))
    again = reconsidered(rivals, {rival.text: score for rival, score in zip(rivals, scores, strict=False)})
    assert {rival.text for rival in again} == {rival.text for rival in rivals}
    assert sum(rival.probability for rival in again) == pytest.approx(sum(rival.probability for rival in rivals))
    assert [r.probability for r in again] == sorted((r.probability for r in again), reverse=True)


def test_two_ears_ask_the_second_only_where_the_first_is_unsure() -> None:
    second = Second(fifteen=-400.0, fifty=0.0)
    unsure_ears = TwoEars(First(*TEENS), second)
    assert unsure_ears.hear(SOUND, GRAMMAR).text == "fifty"
    assert second.asked == [("fifteen", "fifty")]
    sure = TwoEars(First(Alternative("fifteen", 0.97), Alternative("fifty", 0.03)), second)
    assert sure.hear(SOUND, GRAMMAR) == sure.first.hear(SOUND, GRAMMAR)
    assert len(second.asked) == 1


def test_two_ears_are_the_first_one_in_all_else() -> None:
    first, second = First(*TEENS), Second()
    both = TwoEars(first, second)
    both.warm_up()
    assert first.warm
    assert second.warm
    assert both.name == "first"
    assert both.write_down(SOUND) is first.heard
    assert both.unknown_words(["zzz"]) == {"zzz"}
    assert first_ear(both) is first
    assert first_ear(first) is first


def test_without_its_package_the_first_ear_hears_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("voicetech.hearing.second_ear.find_spec", lambda name: None)
    first = First(*TEENS)
    assert with_second_ear(first) is first


def test_a_second_listening_never_calms_danger() -> None:
    smoke = DangerSaid(DangerKind.FIRE, present=True, words="smoke")
    ears = TwoEars(First(Alternative("soak", 0.7), Alternative("smoke", 0.25)), Second(soak=0.0, smoke=-900.0))
    heard = ears.hear(SOUND, GRAMMAR)
    assert heard.alternatives[1].probability < 0.1
    meanings: tuple[Meaning, ...] = (Unclear(), smoke)
    outcome = weigh(heard, meanings, lambda meaning: meaning)
    assert isinstance(outcome, Accepted)
    assert outcome.meaning == smoke


@pytest.mark.parametrize(
    ("text", "says"),
    [("amps: [AE, M]", "mapping"), ("- amps", "mapping"), ("a: [", ":1:"), ("1: AE", "mapping")],
)
def test_mistakes_in_the_table_are_told_with_their_file(tmp_path: Path, text: str, says: str) -> None:
    path = tmp_path / "pronunciations.yaml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(PronunciationsError, match=says) as told:
        load_pronunciations(path)
    assert str(path) in str(told.value)


def test_a_missing_table(tmp_path: Path) -> None:
    with pytest.raises(HearingError, match="cannot be read"):
        load_pronunciations(tmp_path / "none.yaml")


@pytest.fixture(scope="module")
def aligner() -> Aligner:
    pytest.importorskip(PACKAGE, reason="no wheel of pocketsphinx for this Python")
    return Aligner()


def test_it_prefers_what_was_said(aligner: Aligner) -> None:
    clip = whole_utterance(CLIP).samples
    right, wrong, longer = aligner.scores(clip, RIVALS)
    assert right is not None
    assert wrong is not None
    assert longer is not None
    assert right > max(wrong, longer)


def test_words_that_it_does_not_know_have_no_score(aligner: Aligner) -> None:
    clip = np.full(RATE_HZ, 0.1, np.float32)
    assert aligner.scores(clip, ["qwxyz"]) == (None,)


def test_every_word_of_the_table_can_be_aligned(aligner: Aligner) -> None:
    aligner.warm_up()
    clip = whole_utterance(CLIP).samples
    assert all(score is not None for score in aligner.scores(clip, list(load_pronunciations())))


def test_the_same_sound_gets_the_same_scores(aligner: Aligner) -> None:
    clip = whole_utterance(CLIP).samples
    first = aligner.scores(clip, RIVALS)
    aligner.scores(np.zeros(RATE_HZ, np.float32), RIVALS)
    assert aligner.scores(clip, RIVALS) == first


def test_wrong_phones_are_told() -> None:
    pytest.importorskip(PACKAGE, reason="no wheel of pocketsphinx for this Python")
    with pytest.raises(PronunciationsError, match="qwxyz"):
        Aligner({"qwxyz": "NOT PHONES"}).warm_up()
