"""What was said in the recordings of a job: let stand, confirmed, chosen, corrected, or not known."""

from dataclasses import replace
from decimal import Decimal

import pytest

from tests.dialogue.talker import Talker, lexicon, shipped
from voicetech.dialogue.given import Weighed, Words
from voicetech.events import Channel, ReadingTaken, Replied
from voicetech.heard import Alternative, Heard
from voicetech.labelling import How, Labels, WhyNot, labels_of
from voicetech.language.meaning import Asking, ReadingSaid
from voicetech.language.understand import understand
from voicetech.marks import Mark, Misheard, TakenBack
from voicetech.scoring import Expected, MeaningExpected, NothingExpected, WordsExpected
from voicetech.turn import Turn
from voicetech.units import Unit

UP_TO_THE_PLATE = ("no", "it won't bake", "all at once")
UP_TO_THE_MODEL = (*UP_TO_THE_PLATE, "two forty volts", "twelve kilowatts")


class Recorded(Talker):
    """Keeps a sound of everything said, named after the words and counted."""

    def __init__(self) -> None:
        super().__init__(channel=Channel.VOICE)
        self.said: list[str] = []

    def speak(self, *texts: str) -> str:
        """Say each text so that it is taken."""
        for text in texts:
            self.hear([text])
        return self.last.speak

    def hear(self, texts: list[str], acted_on: int = 0) -> None:
        """Hear several alternatives and take one of them."""
        meaning = understand(texts[acted_on], self.question, lexicon())
        self._given(texts, Weighed.ACCEPTED, meaning=meaning)

    def unsure(self, first: str, second: str) -> None:
        """Hear two readings that the program has to ask about."""
        rivals = [understand(text, self.question, lexicon()) for text in (first, second)]
        assert all(isinstance(rival, ReadingSaid) for rival in rivals)
        self._given([first, second], Weighed.ASK, rivals=(rivals[0], rivals[1]))

    def mumble(self) -> None:
        self._given(["mumble"], Weighed.AGAIN)

    def _given(self, texts: list[str], weighed: Weighed, **more: object) -> None:
        self.now_s += 5
        self.said.append(f"{len(self.said)} {texts[0]}")
        heard = Heard(tuple(Alternative(text, 0.5 / (place + 1)) for place, text in enumerate(texts)), "ear")
        words = Words(heard, weighed, Channel.VOICE, self.now_s, sound_sha256=self.said[-1])
        self._take(replace(words, **more))  # type: ignore[arg-type]  # fields of the record, by name

    @property
    def labels(self) -> Labels:
        return labels_of(self.procedure, self.events, lexicon())

    def known(self) -> dict[str, tuple[Expected, How]]:
        """Return what is known of each sound."""
        return {answer.sound_sha256: (answer.expected, answer.how) for answer in self.labels.answers}

    def left_out(self) -> dict[WhyNot, int]:
        return dict(self.labels.left_out)


@pytest.fixture
def talk() -> Recorded:
    return Recorded()


def at_the_tester(talk: Recorded) -> None:
    """Go on to a measurement that needs its own yes."""
    talk.say(
        *UP_TO_THE_MODEL,
        "type later",
        "type later",
        "house",
        "four wire cord",
        *["no"] * 4,
        "none of these",
        "two pole",
        "it's on",
        "covers are on",
        "done",
        "yes",
        "none of them",
        "plug is out",
    )
    assert talk.place == "make-safe/tester-before"


def at_the_supply(talk: Recorded) -> None:
    """Go on to a measurement whose value is taken at once."""
    at_the_tester(talk)
    talk.make_safe()
    talk.say("go to the supply", "done", "looks good", "looks good", "ready for live", "done")
    assert talk.place == "supply/supply-idle"


def volts(value: int) -> MeaningExpected:
    return MeaningExpected("reading", Decimal(value), Unit.VOLT)


def test_what_was_read_back_and_let_stand(talk: Recorded) -> None:
    talk.speak(*UP_TO_THE_MODEL)
    assert talk.known() == {
        "0 no": (WordsExpected("no"), How.LET_STAND),
        "1 it won't bake": (WordsExpected("it won't bake"), How.LET_STAND),
        "2 all at once": (WordsExpected("all at once"), How.LET_STAND),
        "3 two forty volts": (WordsExpected("two forty volts"), How.LET_STAND),
        "4 twelve kilowatts": (WordsExpected("twelve kilowatts"), How.LET_STAND),
    }
    assert talk.left_out() == {}


def test_the_question_is_the_one_that_stood_open(talk: Recorded) -> None:
    talk.speak(*UP_TO_THE_MODEL)
    asked = [answer.question for answer in talk.labels.answers]
    assert [question.asking for question in asked] == [
        Asking.YES_NO,
        Asking.CHOICE,
        Asking.CHOICE,
        Asking.VOLTAGE,
        Asking.POWER,
    ]
    assert "bake" in [choice.key for choice in asked[1].choices]
    assert [question.after_read_back for question in asked] == [False, True, True, True, True]


def test_a_reading_brings_its_limits(talk: Recorded) -> None:
    at_the_supply(talk)
    talk.speak("two forty one")
    (answer,) = talk.labels.answers
    reading = talk.all_of(ReadingTaken)[-1]
    assert isinstance(reading, ReadingTaken)
    assert answer.limits == (reading.low, reading.high) != (None, None)


def test_the_alternative_that_was_acted_on_is_the_label(talk: Recorded) -> None:
    talk.speak(*UP_TO_THE_PLATE)
    talk.hear(["two fifteen volts", "two forty volts"], acted_on=1)
    assert talk.known()["3 two fifteen volts"] == (WordsExpected("two forty volts"), How.LET_STAND)


class TestCorrections:
    def test_what_was_heard_first_gets_the_corrected_value(self, talk: Recorded) -> None:
        talk.speak(*UP_TO_THE_PLATE, "two fifteen volts", "no two forty", "twelve kilowatts")
        known = talk.known()
        assert known["3 two fifteen volts"] == (volts(240), How.CORRECTED)
        assert known["4 no two forty"] == (WordsExpected("no two forty"), How.LET_STAND)
        assert talk.left_out() == {}

    def test_of_a_measurement(self, talk: Recorded) -> None:
        at_the_supply(talk)
        talk.speak("two fifteen", "no two forty one", "probes off")
        known = talk.known()
        assert known["0 two fifteen"] == (volts(241), How.CORRECTED)
        assert known["1 no two forty one"][1] is How.LET_STAND

    def test_of_a_correction(self, talk: Recorded) -> None:
        at_the_supply(talk)
        talk.speak("two thirty one", "no two thirty", "no two forty one")
        known = talk.known()
        assert known["0 two thirty one"] == known["1 no two thirty"] == (volts(241), How.CORRECTED)
        assert known["2 no two forty one"][1] is How.LET_STAND

    def test_an_undo_does_not_tell_what_was_said(self, talk: Recorded) -> None:
        talk.speak("no", "broil", "undo", "it won't bake")
        assert "1 broil" not in talk.known()
        assert talk.left_out() == {WhyNot.TAKEN_BACK: 1, WhyNot.NOT_READ_BACK: 1}

    @pytest.mark.parametrize("first", ["two fifteen", "two thirty one"])
    def test_in_two_breaths(self, talk: Recorded, first: str) -> None:
        """The first is read back with "right?", the other is taken and read back in passing."""
        at_the_supply(talk)
        talk.speak(first, "scratch that", "repeat", "two forty one")
        known = talk.known()
        assert known[f"0 {first}"] == (volts(241), How.CORRECTED)
        assert known["3 two forty one"][1] is How.LET_STAND
        assert talk.left_out() == {WhyNot.NOT_READ_BACK: 2}

    @pytest.mark.parametrize("first", ["two fifteen", "two thirty one"])
    def test_that_never_come(self, talk: Recorded, first: str) -> None:
        at_the_supply(talk)
        talk.speak(first, "scratch that", "stop")
        assert talk.known() == {}
        assert talk.left_out()[WhyNot.LEFT_OPEN] == 1

    def test_a_corrected_answer_that_is_undone_later_is_not_known(self, talk: Recorded) -> None:
        talk.speak(*UP_TO_THE_PLATE, "two fifteen volts", "no two forty", "undo", "undo")
        assert list(talk.known()) == ["0 no", "1 it won't bake"]
        assert talk.left_out()[WhyNot.TAKEN_BACK] == 3

    def test_of_several_values_in_one_breath(self, talk: Recorded) -> None:
        at_the_supply(talk)
        talk.speak("two forty one and one twenty one", "no one twenty two")
        assert "0 two forty one and one twenty one" not in talk.known()
        assert talk.left_out() == {WhyNot.SEVERAL: 1}


class TestReadBacksThatNeedAYes:
    def test_yes(self, talk: Recorded) -> None:
        at_the_tester(talk)
        talk.speak("one twenty", "yes")
        assert talk.known() == {"0 one twenty": (WordsExpected("one twenty"), How.CONFIRMED)}
        assert talk.left_out() == {WhyNot.NOT_READ_BACK: 1}

    def test_no_and_said_again(self, talk: Recorded) -> None:
        at_the_tester(talk)
        talk.speak("one twelve", "no", "one twenty", "yes")
        assert talk.known() == {
            "0 one twelve": (volts(120), How.CORRECTED),
            "2 one twenty": (WordsExpected("one twenty"), How.CONFIRMED),
        }

    def test_no_and_the_value(self, talk: Recorded) -> None:
        at_the_tester(talk)
        talk.speak("one twelve", "no one twenty", "yes")
        assert talk.known() == {
            "0 one twelve": (volts(120), How.CORRECTED),
            "1 no one twenty": (WordsExpected("no one twenty"), How.CONFIRMED),
        }

    def test_a_serial_number(self, talk: Recorded) -> None:
        talk.say(*UP_TO_THE_MODEL)
        talk.speak("m seven four two", "no", "n seven four two", "yes")
        assert talk.known() == {
            "0 m seven four two": (MeaningExpected("words", note="n seven four two"), How.CORRECTED),
            "2 n seven four two": (WordsExpected("n seven four two"), How.CONFIRMED),
        }

    def test_never_answered(self, talk: Recorded) -> None:
        at_the_tester(talk)
        talk.speak("one twenty", "stop")
        assert talk.known() == {}
        assert talk.left_out() == {WhyNot.LEFT_OPEN: 1, WhyNot.NOT_READ_BACK: 1}
        assert talk.session.turn is Turn.STOPPED

    def test_cancelled(self, talk: Recorded) -> None:
        at_the_tester(talk)
        talk.speak("one twelve", "cancel", "one twenty", "yes")
        assert list(talk.known()) == ["2 one twenty"]
        assert talk.left_out()[WhyNot.TAKEN_BACK] == 1


class TestTwoThatSoundAlike:
    def test_one_is_chosen(self, talk: Recorded) -> None:
        at_the_supply(talk)
        talk.unsure("two fifteen", "two forty")
        talk.speak("two forty")
        assert talk.known() == {
            "0 two fifteen": (volts(240), How.CHOSEN),
            "1 two forty": (WordsExpected("two forty"), How.LET_STAND),
        }

    def test_neither(self, talk: Recorded) -> None:
        at_the_supply(talk)
        talk.unsure("two fifteen", "two forty")
        talk.speak("no", "two thirty")
        assert talk.known()["0 two fifteen"][0] == volts(230)


def test_what_is_not_read_back_is_left_out_and_counted(talk: Recorded) -> None:
    talk.mumble()
    talk.speak("repeat", "note: the cord is chafed", "no")
    assert list(talk.known()) == ["3 no"]
    assert talk.left_out() == {WhyNot.NOT_TAKEN: 1, WhyNot.NOT_READ_BACK: 1, WhyNot.FREE_WORDS: 1}
    assert talk.labels.sounds == 4


def test_what_was_typed_has_no_sound_and_still_corrects(talk: Recorded) -> None:
    talk.speak(*UP_TO_THE_PLATE, "two fifteen volts")
    talk.say("no two forty", channel=Channel.VOICE)
    assert talk.known()["3 two fifteen volts"] == (volts(240), How.CORRECTED)
    assert talk.labels.sounds == 4


def test_a_step_that_is_gone_from_the_procedure_is_left_out(talk: Recorded) -> None:
    talk.speak(*UP_TO_THE_PLATE)
    sections = tuple(
        replace(section, steps=tuple(step for step in section.steps if step.id != "complaint"))
        for section in shipped().sections
    )
    labels = labels_of(replace(shipped(), sections=sections), talk.events, lexicon())
    assert "1 it won't bake" not in [answer.sound_sha256 for answer in labels.answers]
    assert dict(labels.left_out)[WhyNot.NO_LONGER_ASKED] >= 1


def test_a_record_without_its_opening(talk: Recorded) -> None:
    with pytest.raises(ValueError, match="begins with its opening"):
        labels_of(shipped(), talk.events[1:], lexicon())


class TestReviews:
    def reviewed(self, talk: Recorded, *marks: Mark) -> dict[str, tuple[Expected, How]]:
        labels = labels_of(talk.procedure, talk.events, lexicon(), marks)
        assert labels.sounds == len(talk.said)
        return {answer.sound_sha256: (answer.expected, answer.how) for answer in labels.answers}

    def number(self, talk: Recorded, sound: str) -> int:
        return next(nr for nr, event in enumerate(talk.events, 1) if getattr(event, "sound_sha256", None) == sound)

    def test_a_reviewers_words_count_before_what_was_let_stand(self, talk: Recorded) -> None:
        talk.speak(*UP_TO_THE_PLATE, "two fifteen volts")
        mark = Misheard(self.number(talk, "3 two fifteen volts"), "two forty volts", "Ann", 1.0)
        known = self.reviewed(talk, mark)
        assert known["3 two fifteen volts"] == (WordsExpected("two forty volts"), How.REVIEWED)
        assert known["2 all at once"] == (WordsExpected("all at once"), How.LET_STAND)
        assert self.reviewed(talk, mark, TakenBack(1, "Ann", 2.0)) == talk.known()

    def test_what_the_record_did_not_know_a_reviewer_does(self, talk: Recorded) -> None:
        talk.mumble()
        talk.speak("repeat", "no")
        known = self.reviewed(
            talk,
            Misheard(self.number(talk, "0 mumble"), "no", "Ann", 1.0),
            Misheard(self.number(talk, "1 repeat"), "", "Ann", 1.0),
        )
        assert known["0 mumble"] == (WordsExpected("no"), How.REVIEWED)
        assert known["1 repeat"] == (NothingExpected(), How.REVIEWED)

    def test_limits_are_those_of_the_reading_that_was_taken(self, talk: Recorded) -> None:
        at_the_supply(talk)
        talk.speak("two forty one")
        marks = (Misheard(self.number(talk, "0 two forty one"), "two forty", "Ann", 1.0),)
        (answer,) = labels_of(talk.procedure, talk.events, lexicon(), marks).answers
        assert answer.how is How.REVIEWED
        assert answer.limits == talk.labels.answers[0].limits
        assert answer.limits is not None

    def test_numbers_are_those_of_the_record_where_events_are_missing(self, talk: Recorded) -> None:
        talk.speak(*UP_TO_THE_PLATE)
        events = [event for event in talk.events if not isinstance(event, Replied)]
        numbers = [nr for nr, event in enumerate(talk.events, 1) if not isinstance(event, Replied)]
        mark = Misheard(self.number(talk, "1 it won't bake"), "it won't broil", "Ann", 1.0)
        labels = labels_of(talk.procedure, events, lexicon(), (mark,), numbers)
        assert labels.answers[1].expected == WordsExpected("it won't broil")
