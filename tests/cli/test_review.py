"""`voicetech review`: shown to this computer only, written to a file, captioned; marks taken to the record."""

import json
import socket
import sqlite3
import urllib.error
import urllib.request
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
import webvtt
from typer.testing import CliRunner, Result

from tests.cli.program import Program
from tests.dialogue.talker import shipped
from voicetech.cli import app
from voicetech.events import Channel, InputReceived
from voicetech.heard import Alternative, Heard
from voicetech.hearing.frames import RATE_HZ
from voicetech.job import open_job
from voicetech.journal.place import journal_path, sounds_folder
from voicetech.journal.sounds import save_sound, sound_path
from voicetech.journal.store import open_journal
from voicetech.marks import Commented, Mark, Misheard, TakenBack

SAID = ("no", "it won't bake", "all at once", "two thirty one volts", "note: call Zebulon Quark")


@pytest.fixture
def home(job_home: Path) -> Path:
    return job_home


def worked(home: Path, job: str = "one", *, sounds: bool = True) -> None:
    """Work a job by voice up to the end of the texts."""
    with open_journal(journal_path(home)) as journal:
        begun, _ = open_job(shipped(), journal, job, Channel.VOICE, lambda: 1_000_000.0)
        for place, text in enumerate(SAID, 1):
            samples = np.full(RATE_HZ, place * 100, np.int16)
            kept = save_sound(sounds_folder(home), samples) if sounds else None
            begun.heard(Heard((Alternative(text, 1.0),), "ear"), Channel.VOICE, kept)


def run(*arguments: str) -> Result:
    return CliRunner().invoke(app, ["review", *arguments])


def marks_of(home: Path, job: str = "one") -> tuple[Mark, ...]:
    with open_journal(journal_path(home)) as journal:
        return journal.marks(job)


def numbers_heard(home: Path) -> list[int]:
    with open_journal(journal_path(home)) as journal:
        return [nr for nr, event in enumerate(journal.events("one"), 1) if isinstance(event, InputReceived)]


def fetched(address: str, body: object = None, **headers: str) -> tuple[int, str]:
    """Return the status and the text of an answer; something is posted where there is a body."""
    named = {name.replace("_", "-"): value for name, value in headers.items()}
    sent = None if body is None else json.dumps(body).encode()
    if sent is not None:
        named = {"Content-Type": "application/json", "Origin": origin_of(address), **named}
    # Past any proxy: the page is on this computer.
    opener = urllib.request.build_opener(urllib.request.ProxyHandler({}))
    try:
        with opener.open(urllib.request.Request(address, sent, named), timeout=30) as answer:
            return answer.status, answer.read().decode()
    except urllib.error.HTTPError as error:
        with error:
            return error.code, error.read().decode()


def origin_of(address: str) -> str:
    """Return the address without its token and what follows."""
    return address.rsplit("/", 2)[0]


def seconds(time: str) -> float:
    hours, minutes, rest = time.split(":")
    return int(hours) * 3600 + int(minutes) * 60 + float(rest)


@pytest.fixture
def served(home: Path) -> Iterator[tuple[Program, str]]:
    worked(home)
    with Program(home, "review", "last", "--no-browser") as program:
        program.wait_for("http://127.0.0.1:")
        yield program, program.shown[-1]


class TestServed:
    def test_a_mark_made_on_the_page_is_on_record(self, served: tuple[Program, str], home: Path) -> None:
        program, address = served
        status, page = fetched(address)
        assert status == 200
        assert "Zebulon Quark" in page
        number = numbers_heard(home)[1]
        mark = {"kind": "misheard", "seq": number, "said": "it won't broil", "reviewer": "Ann"}
        status, told = fetched(f"{address}marks", mark)
        assert status == 200
        assert json.loads(told) == json.loads(fetched(f"{address}marks")[1])
        (made,) = marks_of(home)
        assert isinstance(made, Misheard)
        assert (made.seq, made.said, made.reviewer) == (number, "it won't broil", "Ann")
        assert "it won&#39;t broil" in fetched(address)[1], "a page that is loaded again shows it"
        assert fetched(f"{address}stop", {})[0] == 200
        code, errors = program.end()
        assert (code, errors) == (0, "")
        assert program.shown[-1] == "The review has ended."

    def test_everybody_else_is_refused(self, served: tuple[Program, str], home: Path) -> None:
        program, address = served
        root = origin_of(address)
        mark = {"kind": "commented", "seq": None, "text": "x", "reviewer": "Eve"}
        assert fetched(f"{root}/") == (404, "")
        assert fetched(f"{root}/{'x' * 32}/marks") == (404, "")
        assert fetched(f"{root}/{'x' * 32}/marks", mark) == (404, "")
        assert fetched(address, Host="evil.example")[0] == 421
        assert fetched(f"{address}marks", mark, Origin="http://evil.example")[0] == 403
        assert fetched(f"{address}marks", mark, Content_Type="text/plain")[0] == 415
        assert fetched(f"{address}marks", {**mark, "text": "x" * 70_000})[0] == 413
        assert marks_of(home) == ()
        code, rest, errors = program.interrupt()
        assert (code, errors) == (0, "")
        assert "The review has ended." in rest

    def test_a_port_that_is_taken_is_told(self, home: Path) -> None:
        worked(home)
        with socket.socket() as taken:
            taken.bind(("127.0.0.1", 0))
            taken.listen()
            done = run("last", "--no-browser", "--port", str(taken.getsockname()[1]))
        assert done.exit_code == 1
        assert "name another port, or leave --port out" in done.stderr


class TestWritten:
    def test_the_page_holds_all_it_needs(self, home: Path, tmp_path: Path) -> None:
        worked(home)
        done = run("last", "--out", str(tmp_path / "review.html"))
        assert done.exit_code == 0, done.output
        assert done.stdout.splitlines() == [str(tmp_path / "review.html")]
        page = (tmp_path / "review.html").read_text(encoding="utf-8")
        assert "Zebulon Quark" in page
        assert "fLaC" not in page
        assert page.count("ZkxhQ") == len(SAID), "each FLAC file, in base64"
        assert "src=" not in page

    def test_without_sound(self, home: Path, tmp_path: Path) -> None:
        worked(home)
        assert run("last", "--out", str(tmp_path / "r.html"), "--without-sound").exit_code == 0
        assert "ZkxhQ" not in (tmp_path / "r.html").read_text(encoding="utf-8")

    def test_without_names_nothing_said_is_left(self, home: Path, tmp_path: Path) -> None:
        worked(home)
        with open_journal(journal_path(home)) as journal:
            journal.add_marks("one", [Commented(None, "Zebulon again", "Quark", 1.0)])
        assert run("last", "--out", str(tmp_path / "r.html"), "--without-names").exit_code == 0
        page = (tmp_path / "r.html").read_text(encoding="utf-8")
        for word in ("Zebulon", "Quark", "zebulon", "won't bake", "ZkxhQ"):
            assert word not in page

    def test_without_names_is_for_files(self, home: Path, tmp_path: Path) -> None:
        worked(home)
        done = run("last", "--without-names")
        assert (done.exit_code, "--out FILE" in done.stderr) == (2, True)
        done = run("last", "--without-names", "--out", str(tmp_path / "a"), "--captions", str(tmp_path / "b"))
        assert (done.exit_code, "Leave out --captions" in done.stderr) == (2, True)
        assert not (tmp_path / "a").exists()

    def test_a_sound_that_is_gone_keeps_no_page_back(self, home: Path, tmp_path: Path) -> None:
        worked(home)
        for path in sorted((home / "sounds").iterdir())[:2]:
            path.write_bytes(b"x")
        assert run("last", "--out", str(tmp_path / "r.html")).exit_code == 0
        assert (tmp_path / "r.html").read_text(encoding="utf-8").count("ZkxhQ") == len(SAID) - 2

    def test_a_job_that_does_not_begin_is_told(self, home: Path, tmp_path: Path) -> None:
        worked(home)
        connection = sqlite3.connect(journal_path(home))
        connection.execute("DROP TRIGGER event_stays")
        connection.execute("UPDATE event SET body = '{}' WHERE seq = 1")
        connection.commit()
        connection.close()
        for arguments in (("--out", str(tmp_path / "r.html")), ("--no-browser",)):
            done = run("one", *arguments)
            assert done.exit_code == 1
            assert "voicetech report one" in done.stderr

    def test_a_place_that_cannot_be_written(self, home: Path, tmp_path: Path) -> None:
        worked(home)
        done = run("last", "--out", str(tmp_path / "no" / "deep" / "r.html"))
        assert done.exit_code == 1
        assert "--out" in done.stderr


class TestCaptions:
    def test_a_job_becomes_a_sound_and_its_captions(self, home: Path, tmp_path: Path) -> None:
        worked(home)
        number = numbers_heard(home)[0]
        with open_journal(journal_path(home)) as journal:
            journal.add_marks("one", [Misheard(number, "nope", "Ann", 1.0)])
        out = tmp_path / "captions"
        done = run("last", "--captions", str(out))
        assert done.exit_code == 0, done.output
        assert done.stdout.splitlines() == [str(out / "one.flac"), str(out / "one.vtt")]
        samples, rate_hz = soundfile.read(out / "one.flac", dtype="int16")
        found = webvtt.read(str(out / "one.vtt")).captions
        assert found[0].raw_text.endswith("\n<v Technician>nope")
        answers = [cue for cue in found if "<v Technician>" in cue.raw_text]
        assert len(answers) == len(SAID)
        for place, cue in enumerate(answers, 1):
            middle_s = (seconds(cue.start) + seconds(cue.end)) / 2
            assert samples[round(middle_s * rate_hz)] == place * 100

    def test_what_was_acted_on_is_captioned_and_not_what_sounded_likeliest(self, home: Path, tmp_path: Path) -> None:
        with open_journal(journal_path(home)) as journal:
            begun, _ = open_job(shipped(), journal, "one", Channel.VOICE, lambda: 1_000_000.0)
            for text in ("no", "it won't bake", "all at once"):
                begun.typed(text)
            kept = save_sound(sounds_folder(home), np.full(RATE_HZ, 100, np.int16))
            heard = Heard((Alternative("repeat", 0.5), Alternative("two forty volts", 0.49)), "ear")
            begun.heard(heard, Channel.VOICE, kept)
        assert run("last", "--captions", str(tmp_path / "captions")).exit_code == 0
        text = (tmp_path / "captions" / "one.vtt").read_text(encoding="utf-8")
        assert "<v Technician>two forty volts\n" in text
        assert "repeat" not in text

    def test_a_sound_that_is_gone_is_told_and_the_rest_is_captioned(self, home: Path, tmp_path: Path) -> None:
        worked(home)
        with open_journal(journal_path(home)) as journal:
            first = next(event for event in journal.events("one") if isinstance(event, InputReceived))
        sound_path(home / "sounds", first.sound_sha256 or "").unlink()
        done = run("last", "--captions", str(tmp_path / "captions"))
        assert done.exit_code == 0
        assert "is not there" in done.stderr
        assert (tmp_path / "captions" / "one.vtt").read_text(encoding="utf-8").count("<v Technician>") == len(SAID) - 1

    def test_a_job_without_sound_is_told(self, home: Path, tmp_path: Path) -> None:
        worked(home, sounds=False)
        done = run("last", "--captions", str(tmp_path / "captions"))
        assert done.exit_code == 1
        assert "no recorded sound" in done.stderr
        assert not (tmp_path / "captions").exists()

    @pytest.mark.parametrize(("place", "says"), [("no/deep", "There is no folder"), ("home/jobs.db", "is a file")])
    def test_a_place_that_cannot_be_written(self, home: Path, tmp_path: Path, place: str, says: str) -> None:
        worked(home)
        done = run("last", "--captions", str(tmp_path / place))
        assert done.exit_code == 1
        assert says in done.stderr


class TestMarksOfAFile:
    def saved(self, home: Path, path: Path, **changed: object) -> Path:
        with open_journal(journal_path(home)) as journal:
            record = journal.record_id
        at = "2026-11-26T09:41:00.5+00:00"
        marks: list[Any] = [
            {"kind": "misheard", "seq": numbers_heard(home)[3], "said": "two forty volts", "reviewer": "Ann", "at": at},
            {"kind": "commented", "seq": None, "text": "well worked", "reviewer": "Ann", "at": at},
            {"kind": "taken-back", "mark": 2, "reviewer": "Ann", "at": at},
        ]
        path.write_text(json.dumps({"job": "one", "record": record, "marks": marks, **changed}), encoding="utf-8")
        return path

    def test_go_to_the_record_once(self, home: Path, tmp_path: Path) -> None:
        worked(home)
        with open_journal(journal_path(home)) as journal:
            journal.add_marks("one", [Commented(1, "somebody else's", "Ben", 1.0)])
        path = self.saved(home, tmp_path / "marks.json")
        done = run("one", "--marks", str(path))
        assert done.exit_code == 0, done.output
        assert done.stdout == "3 marks taken to job one.\n"
        made = marks_of(home)
        assert [type(mark) for mark in made] == [Commented, Misheard, Commented, TakenBack]
        assert isinstance(made[3], TakenBack)
        assert made[3].mark == 3, "its own comment, not the second mark on record"
        assert run("one", "--marks", str(path)).stdout == "0 marks taken to job one; 3 on record already.\n"
        assert marks_of(home) == made

    def test_and_a_page_written_with_them_shows_them(self, home: Path, tmp_path: Path) -> None:
        worked(home)
        path = self.saved(home, tmp_path / "marks.json")
        done = run("one", "--marks", str(path), "--out", str(tmp_path / "r.html"))
        assert done.exit_code == 0
        assert "two forty volts" in (tmp_path / "r.html").read_text(encoding="utf-8")

    @pytest.mark.parametrize(
        ("changed", "says"),
        [
            ({"job": "two"}, "holds marks of job two, not of one"),
            ({"record": "0" * 32}, "in another record. Nothing was taken over"),
            ({"marks": {}}, "no marks in it"),
            (
                {"marks": [{"kind": "commented", "seq": 1, "text": "x", "reviewer": "A", "at": "soon"}]},
                "mark 1: Its time",
            ),
            (
                {
                    "marks": [
                        {"kind": "commented", "seq": 1, "text": "x", "reviewer": "A", "at": "2026-11-26T09:41:00Z"},
                        {"kind": "misheard", "seq": 1, "said": "x", "reviewer": "A", "at": "2026-11-26T09:41:00Z"},
                    ]
                },
                "mark 2: Event 1",
            ),
        ],
    )
    def test_that_are_not_of_this_job_are_told(
        self, home: Path, tmp_path: Path, changed: dict[str, object], says: str
    ) -> None:
        worked(home)
        done = run("one", "--marks", str(self.saved(home, tmp_path / "marks.json", **changed)))
        assert done.exit_code == 1
        assert says in done.stderr
        assert str(tmp_path / "marks.json") in done.stderr
        assert marks_of(home) == ()

    @pytest.mark.parametrize(
        ("content", "says"), [(b'{"job":\n one}', "marks.json:2:2: not JSON"), (b"\xff", "not UTF-8"), (b"", ":1:1: ")]
    )
    def test_that_cannot_be_read_are_told(self, home: Path, tmp_path: Path, content: bytes, says: str) -> None:
        worked(home)
        (tmp_path / "marks.json").write_bytes(content)
        done = run("one", "--marks", str(tmp_path / "marks.json"))
        assert done.exit_code == 1
        assert says in done.stderr

    def test_that_are_not_there_are_told(self, home: Path, tmp_path: Path) -> None:
        worked(home)
        assert "Not found" in run("one", "--marks", str(tmp_path / "none.json")).stderr
        assert "is a folder" in run("one", "--marks", str(tmp_path)).stderr

    def test_they_show_in_the_recordings(self, home: Path, tmp_path: Path) -> None:
        worked(home)
        run("one", "--marks", str(self.saved(home, tmp_path / "marks.json")))
        with open_journal(journal_path(home)) as journal:
            journal.add_marks("one", [Misheard(numbers_heard(home)[0], "", "Ann", 5.0)])
        done = CliRunner().invoke(app, ["recordings", "one", "--out", str(tmp_path / "mine")])
        assert "2 reviewed" in done.stdout
        written = [json.loads(line) for line in (tmp_path / "mine" / "manifest.jsonl").read_text().splitlines()]
        reviewed = [each["expected"] for each in written if each["group"] == "reviewed"]
        assert reviewed == [None, "two forty volts"]


@pytest.mark.parametrize("job", ["nobody", "../jobs", ""])
def test_an_unknown_job(home: Path, job: str) -> None:
    worked(home)
    done = run(job, "--no-browser")
    assert done.exit_code == 1
    assert "voicetech jobs" in done.stderr


def test_no_jobs_yet(home: Path) -> None:
    done = run("last")
    assert done.exit_code == 1
    assert "No jobs yet" in done.stderr
    assert list(home.iterdir()) == []
