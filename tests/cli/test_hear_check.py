"""`voicetech hear --check`: a folder of recordings is measured, and what cannot be measured is told."""

import json
from collections.abc import Callable, Iterable
from importlib import import_module
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
from typer.testing import CliRunner, Result

from tests.dialogue.talker import lexicon
from voicetech.cli import app
from voicetech.heard import Alternative, Heard
from voicetech.hearing.frames import RATE_HZ, Samples, Utterance
from voicetech.language.phrases import WordAutomaton

Folder = Callable[..., Path]
LIMITS = {"limits": [216, 264]}


def line(expected: object, heard: str, **more: object) -> dict[str, object]:
    return {"asking": "voltage", "expected": expected, "heard": heard, **more}


class FileEar:
    """Hears in a sound what its level stands for, sure of it where the grammar has it."""

    name = "file"

    def __init__(self) -> None:
        self.texts: list[str] = []

    def sound(self, text: str) -> Samples:
        self.texts.append(text)
        wave = np.tile(np.array([1, -1], np.float32), RATE_HZ // 4)
        return wave * np.float32(len(self.texts) / 1000)

    def hear(self, utterance: Utterance, automaton: WordAutomaton) -> Heard:
        text = self.texts[round(float(np.abs(utterance.samples).max()) * 1000) - 1]
        fits = automaton.accepts(text.split())
        return Heard((Alternative(text, 1.0),), self.name, 1.0 if fits else 0.0)

    def write_down(self, utterance: Utterance) -> Heard:
        raise AssertionError("a check writes nothing down freely")

    def unknown_words(self, words: Iterable[str]) -> frozenset[str]:
        return frozenset()

    def warm_up(self) -> None:
        pass


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Folder:
    """Return a folder with a sound for each line, and an ear that hears what its line says."""
    monkeypatch.setenv("COLUMNS", "140")
    monkeypatch.setattr(import_module("voicetech.cli.hear"), "load_lexicon", lexicon)
    ear = FileEar()
    monkeypatch.setattr(import_module("voicetech.cli.hear"), "open_ear", lambda _name, _model: ear)

    def make(*lines: dict[str, object] | str) -> Path:
        made = tmp_path / "my voice"
        made.mkdir()
        texts = []
        for place, each in enumerate(lines):
            if isinstance(each, str):
                texts.append(each)
                continue
            soundfile.write(made / f"{place}.wav", ear.sound(str(each["heard"])), RATE_HZ, subtype="FLOAT")
            texts.append(json.dumps({"file": f"{place}.wav", **each}))
        (made / "manifest.jsonl").write_text("\n".join(texts), encoding="utf-8")
        return made

    return make


def run(folder: Path, *options: str) -> Result:
    return CliRunner().invoke(app, ["hear", "--check", str(folder), *options])


def checked(folder: Path) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(run(folder, "--json").stdout)
    return found


SOME = (
    line("two thirty", "two thirty", group="numbers", speaker="ann"),
    line("two thirty volts", "two thirty one volts", group="numbers", speaker="bob", **LIMITS),
    line({"kind": "reading", "value": 240, "unit": "V"}, "one ninety", group="numbers", speaker="bob", **LIMITS),
    line("two thirty volts", "ten of clubs", group="numbers", speaker="ann"),
    line(None, "one ten", group="talk"),
    line(None, "ten of clubs", group="talk"),
)


def test_counts_of_each_group_and_speaker(folder: Folder) -> None:
    found = checked(folder(*SOME))
    numbers, talk = found["groups"]
    assert (numbers["name"], talk["name"]) == ("numbers", "talk")
    assert (numbers["recordings"], numbers["speakers"]) == (4, 2)
    assert [numbers[key] for key in ("right", "asked", "again", "ignored", "wrong")] == [1, 0, 0, 1, 2]
    assert numbers["wrong_other_verdict"] == 1
    assert [talk[key] for key in ("right", "wrong")] == [1, 1]
    assert found["all"]["recordings"] == 6
    assert found["all"]["wrong_at_most"] > 0.5
    assert {each["name"]: (each["right"], each["wrong"]) for each in found["speakers"]} == {
        "ann": (1, 0),
        "bob": (0, 2),
    }


def test_words_that_fail_and_what_was_heard_instead(folder: Folder) -> None:
    found = checked(folder(*SOME))
    words = {each["word"]: each for each in found["words"]}
    assert words["240 V"]["instead"] == {"one ninety": 1}
    assert words["(nothing)"]["instead"] == {"one": 1}
    assert words["thirty"]["said"] == 3
    assert words["thirty"]["failed"] == 1
    assert "ten" not in words, "what was not meant for the program has no words to fail"


def test_every_recording_is_told_with_its_line(folder: Folder) -> None:
    recordings = checked(folder(*SOME))["recordings"]
    assert [(each["file"], each["line"], each["result"]) for each in recordings[:3]] == [
        ("0.wav", 1, "right"),
        ("1.wav", 2, "wrong"),
        ("2.wav", 3, "wrong"),
    ]


def test_tables_for_people(folder: Folder) -> None:
    done = run(folder(*SOME))
    assert done.exit_code == 0
    shown = done.stdout
    assert "numbers" in shown
    assert "2 (50.0%)" in shown
    assert "bob" in shown
    assert "3 wrong of 6" in shown
    assert "may be as high as" in shown
    assert "1.wav: said two thirty volts; heard two thirty one volts; reading: 231 V\n" in shown
    assert "2.wav: said 240 V; heard one ninety; reading: 190 V  (another verdict)" in shown
    assert "4.wav: said (not for the program); heard one ten" in shown
    assert "on the same side of the limits as what was said: 1" in shown
    assert "Ignored:" in shown


def test_none_wrong_is_told_with_how_high_it_may_be(folder: Folder) -> None:
    done = run(folder(*[line("two thirty", "two thirty")] * 10))
    assert "0 wrong of 10" in done.stdout
    assert "25.9%" in done.stdout, "1 - 0.05 ** (1 / 10)"


def test_words_that_cannot_be_heard_at_their_question(folder: Folder) -> None:
    done = run(folder(line("ten of clubs", "ten"), line("two thirty", "two thirty")))
    assert "cannot be heard" in done.stdout
    assert "ten of clubs (1)" in done.stdout
    assert "two thirty (1)" not in done.stdout


def test_a_bad_line_or_sound_loses_nothing_of_the_rest(folder: Folder) -> None:
    made = folder("nonsense", line("two thirty", "two thirty"), line("two thirty", "two thirty"), line("x", "x"))
    (made / "3.wav").unlink()
    (made / "2.wav").write_bytes(b"not a sound")
    done = run(made)
    assert done.exit_code == 1
    assert "manifest.jsonl:1: not JSON" in done.stderr
    assert f"manifest.jsonl:3: {made / '2.wav'}: cannot be read as sound" in done.stderr
    assert "manifest.jsonl:4: 3.wav is not there" in done.stderr
    assert "3 of 4 could not be measured" in done.stderr
    assert "0 wrong of 1" in done.stdout
    assert "Traceback" not in done.output


def test_a_question_that_cannot_be_asked_loses_nothing_of_the_rest(folder: Folder) -> None:
    unclosed = {"choices": [{"key": "bake", "hear": ["[bake"]}]}
    done = run(folder(line("bake", "bake", question=unclosed), line("two thirty", "two thirty")))
    assert done.exit_code == 1
    assert "manifest.jsonl:1: its question cannot be asked: '[bake'" in done.stderr
    assert "0 wrong of 1" in done.stdout


def test_only_bad_lines(folder: Folder) -> None:
    done = run(folder("nonsense"))
    assert done.exit_code == 1
    assert done.stdout == ""
    assert "1 of 1 could not be measured" in done.stderr


def test_no_manifest_and_no_folder_are_told(tmp_path: Path) -> None:
    done = run(tmp_path)
    assert done.exit_code == 1
    assert "has no manifest.jsonl" in done.stderr
    assert '{"file": "answer.wav", "asking": "voltage", "expected": "two thirty eight volts"}' in done.stderr
    assert run(tmp_path / "nowhere").exit_code == 1


def test_a_folder_or_files(tmp_path: Path) -> None:
    done = CliRunner().invoke(app, ["hear", "--check", str(tmp_path), "a.wav"])
    assert done.exit_code == 2
    assert "not both" in done.output


def test_long_work_is_told_on_the_way(folder: Folder) -> None:
    done = run(folder(*[line("two thirty", "two thirty")] * 60))
    assert "25 of 60\n50 of 60\n" in done.stderr
    assert "25 of 60" not in done.stdout
