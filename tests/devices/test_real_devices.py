"""Jobs by voice through a sound server: a microphone that goes and comes, one at another rate, a voice that hangs."""

import os
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.cli.program import run
from tests.demo_job import MOST_SAID_AGAIN, clip, results, turns, typed
from tests.devices.sound_server import MICROPHONE, SoundServer
from tests.devices.spoken_job import SpokenJob
from voicetech.events import ReadingTaken

pytestmark = pytest.mark.skipif(
    not os.environ.get("VOICETECH_SOUND_SERVER"),
    reason="takes nine minutes in real time: set VOICETECH_SOUND_SERVER, as .ci/run does beside all other tests",
)


@pytest.fixture
def server(tmp_path: Path) -> Iterator[SoundServer]:
    with SoundServer(tmp_path / "server") as running:
        yield running


@pytest.fixture
def home(tmp_path: Path) -> Path:
    return tmp_path / "home"


def test_a_whole_job_through_a_microphone(
    server: SoundServer, home: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with SpokenJob(home, server, monkeypatch, "--silent", "--keep-sound") as job:
        again = sum(job.answer(clip(turn)) for turn in turns())
        assert job.program.end()[0] == 0
    assert again <= MOST_SAID_AGAIN
    assert job.closed
    assert results(job.events) == results(typed(tmp_path / "typed"))
    assert all(event.sound_sha256 for event in job.said)


def test_prompts_are_spoken_and_answered_through_devices(
    server: SoundServer, home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with SpokenJob(home, server, monkeypatch, "--no-sound") as job:
        job.until(server.speaking, "the first prompt, aloud")
        for turn in turns()[:3]:
            job.answer(clip(turn))
    assert [event.text for event in job.accepted] == [turn.say for turn in turns()[:3]]


def test_a_microphone_that_is_pulled_out_is_told_and_comes_back_by_itself(
    server: SoundServer, home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Meanwhile answers are typed, and nothing said before is lost."""
    with SpokenJob(home, server, monkeypatch, "--silent", "--no-sound", terminal=True) as job:
        for turn in turns()[:2]:
            job.answer(clip(turn))
        server.pull_out()
        job.program.wait_for("the microphone is gone")
        assert "type your answers here" in job.program.shown[-1]
        job.program.type(turns()[2].say)
        job.until(lambda: len(job.accepted) == 3, "the typed answer")
        server.plug_in()
        job.program.wait_for("The microphone is back")
        job.answer(clip(turns()[3]))
        assert len(job.accepted) == 4


def test_a_microphone_that_gives_nothing_is_told_as_gone(
    server: SoundServer, home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As where another program has it for itself."""
    with SpokenJob(home, server, monkeypatch, "--silent", "--no-sound") as job:
        job.answer(clip(turns()[0]))
        server.hold_microphone()
        job.program.wait_for("the microphone is gone")
        assert "voicetech chat" in job.program.shown[-1]
        server.hold_microphone(False)
        job.program.wait_for("The microphone is back")
        job.answer(clip(turns()[1]))


def test_a_voice_that_hangs_does_not_hold_the_job_up(
    server: SoundServer, home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with SpokenJob(home, server, monkeypatch, "--no-sound", "--headset") as job:
        job.answer(clip(turns()[0]))
        server.hang_loudspeaker()
        for turn in turns()[1:4]:
            job.answer(clip(turn))
        assert job.program.runs


@pytest.mark.parametrize("rate_hz", [8_000, 44_100])
def test_a_microphone_works_at_its_own_rate(
    rate_hz: int, tmp_path: Path, home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """8 kHz is what many a wireless headset gives."""
    with (
        SoundServer(tmp_path / "other", rate_hz) as server,
        SpokenJob(home, server, monkeypatch, "--silent", "--no-sound") as job,
    ):
        for turn in turns()[:7]:
            job.answer(clip(turn))
    assert [event.text for event in job.accepted] == [turn.say for turn in turns()[:7]]


def test_silence_is_no_answer(server: SoundServer, home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with SpokenJob(home, server, monkeypatch, "--silent", "--no-sound") as job:
        server.play_silence(20)
        assert job.accepted == []
        assert not any(isinstance(event, ReadingTaken) for event in job.events)
        job.answer(clip(turns()[0]))


@pytest.mark.parametrize("wanted", ["studio", "99"])
def test_a_microphone_that_is_not_there_is_told_with_those_that_are(
    wanted: str, server: SoundServer, home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name, value in server.environment.items():
        monkeypatch.setenv(name, value)
    done = run(home, "talk", "--mic", wanted, "--plain", "--no-sound")
    assert done.returncode == 1
    assert "is no microphone here" in done.stderr
    assert MICROPHONE in done.stderr
    assert "voicetech chat" in done.stderr
    assert "Traceback" not in done.stderr


def test_no_sound_server_at_all_is_told(home: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PULSE_SERVER", f"unix:{tmp_path / 'nothing'}")
    done = run(home, "talk", "--plain", "--no-sound")
    assert done.returncode == 1
    assert "voicetech chat" in done.stderr
    assert "Traceback" not in done.stderr + done.stdout
