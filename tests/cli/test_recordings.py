"""`voicetech recordings`: a job's sounds become a folder that `hear --check` reads."""

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
from typer.testing import CliRunner, Result

from tests.dialogue.talker import shipped
from voicetech.cli import app
from voicetech.events import Channel, InputReceived
from voicetech.heard import Alternative, Heard
from voicetech.hearing.frames import RATE_HZ
from voicetech.hearing.labelled_folder import read_labelled_folder
from voicetech.job import open_job
from voicetech.journal.place import journal_path, sounds_folder
from voicetech.journal.sounds import save_sound
from voicetech.journal.store import open_journal
from voicetech.marks import Misheard

SAID = ("no", "it won't bake", "all at once", "two thirty one volts", "repeat")


@pytest.fixture
def home(job_home: Path) -> Path:
    return job_home


def worked(home: Path, job: str, *texts: str, sounds: bool = True) -> None:
    """Work a job by voice up to the end of the texts."""
    with open_journal(journal_path(home)) as journal:
        begun, _ = open_job(shipped(), journal, job, Channel.VOICE, lambda: 1_000_000.0)
        for place, text in enumerate(texts, 1):
            samples = np.full(RATE_HZ, place * 100, np.int16)
            kept = save_sound(sounds_folder(home), samples) if sounds else None
            begun.heard(Heard((Alternative(text, 1.0),), "ear"), Channel.VOICE, kept)


def run(*arguments: str) -> Result:
    return CliRunner().invoke(app, ["recordings", *arguments])


def lines(folder: Path) -> list[dict[str, Any]]:
    return [json.loads(line) for line in (folder / "manifest.jsonl").read_text(encoding="utf-8").splitlines()]


def test_a_job_becomes_a_folder_with_what_was_said(home: Path, tmp_path: Path) -> None:
    worked(home, "one", *SAID)
    out = tmp_path / "mine"
    done = run("last", "--out", str(out), "--speaker", "ann")
    assert done.exit_code == 0, done.output
    written = lines(out)
    assert [each["expected"] for each in written] == list(SAID[:-1])
    assert {each["group"] for each in written} == {"let stand"}
    assert {each["speaker"] for each in written} == {"ann"}
    assert [each["file"] for each in written][:2] == ["one-001.flac", "one-002.flac"]
    found = read_labelled_folder(out)
    assert found.bad_lines == ()
    assert "4 recordings of one" in done.stdout
    assert "4 let stand" in done.stdout
    assert "1 requests, confirmations" in done.stdout
    assert f"voicetech hear --check {out}" in done.stdout.replace("\n", " ")


def test_the_sounds_are_those_of_the_answers(home: Path, tmp_path: Path) -> None:
    worked(home, "one", *SAID)
    run("one", "--out", str(tmp_path / "mine"))
    for number in (1, 2):
        samples, rate_hz = soundfile.read(tmp_path / "mine" / f"one-00{number}.flac", dtype="int16")
        assert rate_hz == RATE_HZ
        assert (samples == np.full(RATE_HZ, number * 100)).all()


def test_several_jobs_in_one_folder(home: Path, tmp_path: Path) -> None:
    worked(home, "one", "no")
    worked(home, "two", "no", "it won't bake")
    done = run("one", "two", "last", "--out", str(tmp_path / "mine"))
    assert [each["file"] for each in lines(tmp_path / "mine")] == ["one-001.flac", "two-001.flac", "two-002.flac"]
    assert "3 recordings of one, two" in done.stdout


def test_a_folder_that_is_there_is_left_alone(home: Path, tmp_path: Path) -> None:
    worked(home, "one", "no")
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "precious.wav").write_bytes(b"x")
    done = run("one", "--out", str(tmp_path / "mine"))
    assert done.exit_code == 1
    assert "is not empty" in done.stderr
    assert [path.name for path in (tmp_path / "mine").iterdir()] == ["precious.wav"]


def test_a_job_without_sound_is_told(home: Path, tmp_path: Path) -> None:
    worked(home, "one", "no", sounds=False)
    done = run("one", "--out", str(tmp_path / "mine"))
    assert done.exit_code == 1
    assert "no recorded sound" in done.stderr
    assert "--no-sound" in done.stderr
    assert not (tmp_path / "mine").exists()


def test_a_job_that_tells_nothing_is_told(home: Path, tmp_path: Path) -> None:
    worked(home, "one", "repeat")
    done = run("one", "--out", str(tmp_path / "mine"))
    assert done.exit_code == 1
    assert "No recording of one tells what was said" in done.stderr
    assert "1 requests" in done.stderr
    assert not (tmp_path / "mine").exists()


def test_a_sound_that_is_gone_is_told_and_the_others_are_written(home: Path, tmp_path: Path) -> None:
    worked(home, "one", "no", "it won't bake")
    next(iter(sorted((home / "sounds").iterdir()))).unlink()
    done = run("one", "--out", str(tmp_path / "mine"))
    assert done.exit_code == 0
    assert len(lines(tmp_path / "mine")) == 1
    assert "1 recording of one" in done.stdout
    assert "1 let stand" in done.stdout
    assert "Not written: 1 sound is missing or damaged" in done.stdout
    assert "is not there" in done.stderr


def test_where_every_sound_is_gone_nothing_is_written(home: Path, tmp_path: Path) -> None:
    worked(home, "one", "no", "it won't bake")
    for sound in (home / "sounds").iterdir():
        sound.unlink()
    done = run("one", "--out", str(tmp_path / "mine"))
    assert done.exit_code == 1
    assert "No recording was written: 2 sounds are missing or damaged" in done.stderr
    assert done.stderr.count("is not there") == 2
    assert done.stdout == ""
    assert not (tmp_path / "mine").exists()


@pytest.mark.parametrize("job", ["nobody", "../jobs", ""])
def test_an_unknown_job(home: Path, tmp_path: Path, job: str) -> None:
    worked(home, "one", "no")
    done = run(job, "--out", str(tmp_path / "mine"))
    assert done.exit_code == 1
    assert "voicetech jobs" in done.stderr


def test_no_jobs_yet(home: Path, tmp_path: Path) -> None:
    done = run("last", "--out", str(tmp_path / "mine"))
    assert done.exit_code == 1
    assert "No jobs yet" in done.stderr
    assert list(home.iterdir()) == []


def test_reviewers_who_differ_are_noted(home: Path, tmp_path: Path) -> None:
    worked(home, "one", "no", "it won't bake")
    with open_journal(journal_path(home)) as journal:
        numbered = enumerate(journal.events("one"), 1)
        heard = [number for number, event in numbered if isinstance(event, InputReceived)]
        journal.add_marks("one", [Misheard(heard[1], "it won't broil", "Ann", 1.0), Misheard(heard[1], "", "Ben", 2.0)])
    done = run("one", "--out", str(tmp_path / "mine"))
    assert "Of 1 of them reviewers differ" in done.stdout
    first, second = lines(tmp_path / "mine")
    assert "note" not in first
    assert second["expected"] is None
    assert 'Ann says "it won\'t broil"; Ben says it was no answer' in second["note"]
    assert read_labelled_folder(tmp_path / "mine").recordings[1].note == second["note"]
