"""Folders of recordings with what was said in them: read line by line, written whole."""

import json
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path

import numpy as np
import pytest
import soundfile

from voicetech.hearing.frames import RATE_HZ
from voicetech.hearing.labelled_folder import (
    EXAMPLE,
    Labelled,
    LabelledFolderError,
    read_labelled_folder,
    write_labelled_folder,
)
from voicetech.language.meaning import Asking, Choice, Question
from voicetech.scoring import Expected, MeaningExpected, NothingExpected, WordsExpected
from voicetech.units import Unit

QUIET = np.zeros(RATE_HZ // 10, np.int16)
Folder = Callable[..., Path]


@pytest.fixture
def folder(tmp_path: Path) -> Folder:
    """Return a folder with one sound, `a.wav`, and a manifest of these lines."""

    def make(*lines: object) -> Path:
        made = tmp_path / "recordings"
        made.mkdir()
        soundfile.write(made / "a.wav", QUIET, RATE_HZ)
        texts = [line if isinstance(line, str) else json.dumps(line) for line in lines]
        (made / "manifest.jsonl").write_text("\n".join(texts) + "\n", encoding="utf-8")
        return made

    return make


def line(**more: object) -> dict[str, object]:
    return {"file": "a.wav", "asking": "voltage", "expected": "two forty", **more}


class TestReading:
    def test_a_line_in_full(self, folder: Folder) -> None:
        made = folder(line(limits=[216, 264.5], after="read-back", speaker="me", group="numbers", licence="mine"))
        (found,) = read_labelled_folder(made).recordings
        assert found == Labelled(
            made / "a.wav",
            Question(Asking.VOLTAGE, after_read_back=True),
            WordsExpected("two forty"),
            (Decimal(216), Decimal("264.5")),
            "me",
            "numbers",
            line=1,
        )

    def test_the_example_it_gives_can_be_read(self, folder: Folder) -> None:
        made = folder(EXAMPLE.replace("answer.wav", "a.wav"))
        assert len(read_labelled_folder(made).recordings) == 1

    @pytest.mark.parametrize(
        ("raw", "expected"),
        [
            (None, NothingExpected()),
            (" two forty ", WordsExpected("two forty")),
            (
                {"kind": "reading", "value": 238.5, "unit": "V"},
                MeaningExpected("reading", Decimal("238.5"), Unit.VOLT),
            ),
            ({"kind": "reading", "value": "12", "unit": "ohm"}, MeaningExpected("reading", Decimal(12), Unit.OHM)),
            (
                {"kind": "correction", "value": 240, "unit": "volts", "command": None},
                MeaningExpected("correction", Decimal(240), Unit.VOLT),
            ),
            ({"kind": "yes"}, MeaningExpected("yes")),
            ({"kind": "command", "command": "emergency"}, MeaningExpected("command", command="emergency")),
            ({"kind": "choice", "note": "bake"}, MeaningExpected("choice", note="bake")),
        ],
    )
    def test_what_was_said(self, folder: Folder, raw: object, expected: Expected) -> None:
        (found,) = read_labelled_folder(folder(line(expected=raw))).recordings
        assert found.expected == expected

    def test_a_question_in_full(self, folder: Folder) -> None:
        question = {"choices": [{"key": "bake", "hear": ["bake"]}], "likely": ["1", "2.5"], "labels": ["L1-L2"]}
        (found,) = read_labelled_folder(folder(line(asking="choice", question=question))).recordings
        assert found.question == Question(
            Asking.CHOICE,
            choices=(Choice("bake", ("bake",)),),
            likely=(Decimal(1), Decimal("2.5")),
            labels=("L1-L2",),
        )

    @pytest.mark.parametrize(
        ("bad", "says"),
        [
            ("nonsense", "not JSON"),
            ("[" * 100_000, "not JSON"),
            ("3", "not an object"),
            (line(file=""), "no file"),
            (line(file="nul\0.wav"), "cannot be shown"),
            (line(file="b.wav"), "b.wav is not there"),
            (line(file="x" * 5000), "is not there"),
            (line(group="\x1b[31mred"), "cannot be shown"),
            (line(expected="two \ud800"), "cannot be shown"),
            (line(expected={"kind": "command", "command": ["stop"]}), "unknown command"),
            (line(expected={"kind": "reading", "value": "1e9999"}), "no number that a meter shows"),
            ({"file": "a.wav", "expected": "x"}, "no asking"),
            ({"file": "a.wav", "asking": "voltage"}, "no expected"),
            (line(asking="weather"), "unknown asking"),
            (line(asking="note"), "not judged"),
            (line(limits=[9, 1]), "reversed"),
            (line(limits=["a"]), "two numbers"),
            (line(expected=""), "neither words nor a meaning"),
            (line(expected=240), "neither words nor a meaning"),
            (line(expected={"kind": "number"}), "unknown kind"),
            (line(expected={"kind": "reading"}), "no value"),
            (line(expected={"kind": "reading", "value": "many"}), "no number that"),
            (line(expected={"kind": "reading", "value": float("nan")}), "no number that"),
            (line(expected={"kind": "reading", "value": 3, "unit": "stone"}), "unknown unit"),
            (line(expected={"kind": "command", "command": "dance"}), "unknown command"),
            (line(question=3), "is no object"),
            (line(question={"choices": "bake"}), "choices"),
        ],
    )
    def test_a_bad_line_is_told_with_its_number_and_the_others_are_good(
        self, folder: Folder, bad: object, says: str
    ) -> None:
        found = read_labelled_folder(folder(line(), "", bad, line()))
        assert [each.line for each in found.recordings] == [1, 4]
        (told,) = found.bad_lines
        assert told.line == 3
        assert says in told.why

    def test_bytes_that_are_no_text(self, folder: Folder) -> None:
        made = folder(line())
        manifest = made / "manifest.jsonl"
        manifest.write_bytes(b"\xef\xbb\xbf" + manifest.read_bytes() + b"\xff\xfe\n")
        found = read_labelled_folder(made)
        assert len(found.recordings) == 1
        assert "UTF-8" in found.bad_lines[0].why

    def test_no_folder(self, tmp_path: Path) -> None:
        with pytest.raises(LabelledFolderError, match="is no folder"):
            read_labelled_folder(tmp_path / "nowhere")

    def test_without_a_manifest_it_says_how_to_write_one(self, tmp_path: Path) -> None:
        with pytest.raises(LabelledFolderError, match=r"has no manifest\.jsonl.*two thirty eight volts"):
            read_labelled_folder(tmp_path)

    def test_an_empty_manifest(self, folder: Folder) -> None:
        with pytest.raises(LabelledFolderError, match=r"is empty.*Write one line"):
            read_labelled_folder(folder("", "  "))


class TestWriting:
    LABELS = (
        Labelled(
            Path("1.flac"),
            Question(
                Asking.CHOICE,
                wording="Which?",
                after_read_back=True,
                read_back=Asking.VOLTAGE,
                choices=(Choice("bake", ("bake", "it won't bake")),),
                places=(Choice("supply", ("supply",)),),
                likely=(Decimal("1.5"), Decimal(300)),
                exact_words=("covers are on",),
            ),
            WordsExpected("it won't bake"),
        ),
        Labelled(
            Path("2.flac"),
            Question(Asking.VOLTAGE),
            MeaningExpected("reading", Decimal("238.50"), Unit.VOLT),
            (Decimal(216), Decimal(264)),
            "me",
            "corrected",
        ),
        Labelled(Path("3.flac"), Question(Asking.ANY), NothingExpected()),
    )

    def test_what_is_written_is_what_is_read(self, tmp_path: Path) -> None:
        out = tmp_path / "out"
        sounds = [np.full(1600, place * 100, np.int16) for place in range(3)]
        assert write_labelled_folder(out, zip(self.LABELS, sounds, strict=True)) == 3
        found = read_labelled_folder(out)
        assert found.bad_lines == ()
        for written, read, samples in zip(self.LABELS, found.recordings, sounds, strict=True):
            assert read.path == out / written.path
            assert (read.question, read.expected, read.limits) == (written.question, written.expected, written.limits)
            assert (read.speaker, read.group) == (written.speaker, written.group)
            back, rate_hz = soundfile.read(read.path, dtype="int16")
            assert rate_hz == RATE_HZ
            assert (back == samples).all()

    def test_a_folder_that_holds_something_is_left_alone(self, tmp_path: Path) -> None:
        (tmp_path / "mine.txt").write_text("mine", encoding="utf-8")
        with pytest.raises(LabelledFolderError, match=r"is not empty\. Nothing was written"):
            write_labelled_folder(tmp_path, [(self.LABELS[0], QUIET)])
        assert [path.name for path in tmp_path.iterdir()] == ["mine.txt"]

    def test_a_file_of_that_name_is_left_alone(self, tmp_path: Path) -> None:
        out = tmp_path / "out"
        out.write_text("mine", encoding="utf-8")
        with pytest.raises(LabelledFolderError, match="there already"):
            write_labelled_folder(out, [(self.LABELS[0], QUIET)])
        assert out.read_text(encoding="utf-8") == "mine"

    def test_an_empty_folder_will_do(self, tmp_path: Path) -> None:
        assert write_labelled_folder(tmp_path, [(self.LABELS[0], QUIET)]) == 1

    def test_nowhere_to_put_it(self, tmp_path: Path) -> None:
        with pytest.raises(LabelledFolderError, match="Make that folder first"):
            write_labelled_folder(tmp_path / "a" / "b", [(self.LABELS[0], QUIET)])
