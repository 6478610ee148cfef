"""An hour at the microphone: one spoken job, with the noises of a workshop between its answers and below them.

Its figures: memory, how long an answer takes, and what was taken for an answer while nobody spoke.
"""

import argparse
import os
import statistics
import sys
import tempfile
import time
import wave
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

import numpy as np
import pytest

from tests.benchmarks.conditions import read_noises, speech_power
from tests.benchmarks.trials import VARIABLE
from tests.demo_job import clip, turns
from tests.devices.sound_server import SoundServer, missing
from tests.devices.spoken_job import SpokenJob
from voicetech.events import DangerStopped, InputReceived
from voicetech.hearing.frames import RATE_HZ, Samples
from voicetech.hearing.sound_file import read_sound

_QUARTERS: Final = 4
_TRIES: Final = 8
"""In loud noise an answer is said more often; how often is among the figures."""


@dataclass(slots=True)
class Figures:
    """What was measured, in the order it was."""

    answered_s: list[float] = field(default_factory=list)
    memory_mb: list[float] = field(default_factory=list)
    said_again: int = 0
    between: list[str] = field(default_factory=list)
    """What was taken while nobody spoke."""

    def lines(self) -> Iterator[str]:
        """Yield the figures in words, a quarter of the time in each column."""
        yield f"{'':28}" + "".join(f"{f'quarter {n + 1}':>12}" for n in range(_QUARTERS))
        yield f"{'answer taken after, median s':28}" + _row(self.answered_s, statistics.median)
        yield f"{'longest s':28}" + _row(self.answered_s, max)
        yield f"{'memory, most MB':28}" + _row(self.memory_mb, max)
        yield f"answers {len(self.answered_s)}, said again {self.said_again}"
        yield f"taken while nobody spoke: {len(self.between)} {'; '.join(self.between)}".rstrip()


def main(arguments: list[str] | None = None) -> int:
    """Run the soak; return 1 where something was taken from noise alone, or memory or time grew."""
    parser = argparse.ArgumentParser(prog="python -m tests.devices.soak", description=__doc__)
    parser.add_argument("--minutes", type=float, default=60.0, help="how long (60)")
    parser.add_argument("--snr", type=float, default=15.0, help="noise below the answers, in decibels (15)")
    parser.add_argument(
        "--noise",
        type=Path,
        default=Path(os.environ.get(VARIABLE, ".")) / "noise",
        help=f"a folder of recorded noises (the one in {VARIABLE})",
    )
    given = parser.parse_args(arguments)
    noises = read_noises(sorted(given.noise.glob("*.flac"))) if given.noise.is_dir() else ()
    if missing() or not noises:
        parser.error(f"not on this machine: {missing()}" if missing() else f"no noises in {given.noise}; give --noise")
    with tempfile.TemporaryDirectory() as folder:
        figures = _soak(Path(folder), tuple(noises), given.minutes * 60, given.snr)
    print("\n".join(figures.lines()))  # noqa: T201
    return int(bool(figures.between) or _grows(figures.memory_mb) or _grows(figures.answered_s))


def _soak(folder: Path, noises: tuple[Samples, ...], lasts_s: float, snr_db: float) -> Figures:
    figures = Figures()
    noise = _written(folder / "noise.wav", noises, snr_db)
    answers = turns()
    with (
        SoundServer(folder / "server") as server,
        pytest.MonkeyPatch.context() as patch,
        SpokenJob(folder / "home", server, patch, "--silent", "--no-sound", longest_s=lasts_s + 600) as job,
    ):
        began_s = time.monotonic()
        playing = server.stream(noise)
        known = 0
        for number, turn in enumerate(answers):
            due_s = began_s + lasts_s * (number + 0.5) / len(answers)
            while time.monotonic() < due_s:
                if playing.poll() is not None:
                    playing = server.stream(noise)
                figures.memory_mb.append(job.program.memory_mb)
                time.sleep(min(5.0, max(0.0, due_s - time.monotonic())))
            figures.between += _taken(job, known)
            before_s = time.monotonic()
            figures.said_again += job.answer(clip(turn), _TRIES)
            figures.answered_s.append(job.answered_after_s)
            known = len(job.events)
            _progress(f"{(before_s - began_s) / 60:5.1f} min: {turn.say!r} after {job.answered_after_s:.2f} s")
        playing.terminate()
        job.until(lambda: job.closed, "the end of the job")
    return figures


def _taken(job: SpokenJob, known: int) -> Iterator[str]:
    """Yield what came onto the record since, and was taken or stopped the job, while nobody spoke."""
    for event in job.events[known:]:
        if isinstance(event, InputReceived) and event.outcome == "accepted":
            yield f"{event.text!r} at {event.at_s:.0f}"
        if isinstance(event, DangerStopped):
            yield f"a stop at {event.at_s:.0f}"


def _written(path: Path, noises: tuple[Samples, ...], snr_db: float) -> Path:
    """Write the noises, one after the other and each so far below the answers, and return where."""
    power = statistics.median(speech_power(read_sound(clip(turn))) for turn in turns()) * 10 ** (-snr_db / 10)
    with wave.open(str(path), "wb") as sound:
        sound.setnchannels(1)
        sound.setsampwidth(2)
        sound.setframerate(RATE_HZ)
        for noise in noises:
            part = noise * np.sqrt(power / np.mean(noise**2))
            sound.writeframes(np.rint(np.clip(part, -1, 1) * 32_767).astype("<i2").tobytes())
    return path


def _row(values: Sequence[float], of: Callable[[Sequence[float]], float]) -> str:
    cells = []
    for number in range(_QUARTERS):
        part = values[len(values) * number // _QUARTERS : len(values) * (number + 1) // _QUARTERS]
        cells.append(f"{of(part):12.2f}" if part else f"{'':12}")
    return "".join(cells)


def _grows(values: Sequence[float]) -> bool:
    """Return whether the last quarter is more than a tenth above the second: the first one still loads."""
    size = len(values) // _QUARTERS
    if size == 0:
        return False
    second, last = values[size : 2 * size], values[-size:]
    return statistics.median(last) > 1.1 * statistics.median(second)


def _progress(line: str) -> None:
    sys.stderr.write(f"{line}\n")
    sys.stderr.flush()


if __name__ == "__main__":
    sys.exit(main())
