"""How well the program hears: people and synthetic voices, as recorded, in noise, from afar, beside other ways.

    python -m tests.benchmarks.hearing --speech FOLDER --every 10 --snr 20 10 5 --room far mask --references

Wrong is only what was accepted and is not what was said. What is not meant for the program (strangers) is right
unless it was accepted or asked about. `README.md` beside this file says more.
"""

import argparse
import os
import resource
import subprocess
import sys
import time
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Final

from tests.benchmarks.calibration import Guess, curve, expected_calibration_error, reliability
from tests.benchmarks.conditions import ROOMS, Condition, Sounds, read_noises
from tests.benchmarks.measuring import Measured, measure, percentile, tally, tally_of
from tests.benchmarks.references import PocketsphinxGrammar, Reference, SkippedError, references
from tests.benchmarks.trials import GROUPS, VARIABLE, NoRecordingsError, Trial, chosen, noise_files, read_trials, who
from voicetech.authoring.lexicon_files import load_lexicon
from voicetech.hearing.answering import Hearing
from voicetech.hearing.ears import EARS, open_ear
from voicetech.hearing.errors import HearingError
from voicetech.hearing.second_ear import first_ear
from voicetech.scoring import Result, Tally

_STEP: Final = 100
_READY: Final = """
import sys
from pathlib import Path
from voicetech.authoring.lexicon_files import load_lexicon
from voicetech.hearing.answering import Hearing
from voicetech.hearing.ears import open_ear
from voicetech.language.meaning import Asking, Question
hearing = Hearing(open_ear(sys.argv[1] or None), load_lexicon())
hearing.recogniser.warm_up()
hearing.grammar(Question(Asking.VOLTAGE))
print("ready", flush=True)
for path in sys.argv[2:]:
    hearing.answer_file(Path(path), Question(Asking.VOLTAGE))
"""
"""What a program does from its start to its first listening and then to some answers, in a process of its own."""
_FIRST_ANSWERS: Final = 5
_BESIDE: Final = 40
"""Trials whose cost is told beside that of free writing, spread over all."""


def main(words: Sequence[str] | None = None) -> int:
    """Run the benchmark and return the exit code."""
    asked = _arguments().parse_args(words)
    if not asked.speech:
        sys.stderr.write(f"Name the folder of recordings with --speech, or in the environment variable {VARIABLE}.\n")
        return 1
    folder = Path(asked.speech)
    try:
        trials = chosen(read_trials(folder), asked.every, asked.only)
        # First of all: the peak memory of a child is never told lower than what this process has when it is started.
        cost = _cost(asked.ear, [str(trial.sounds[0]) for trial in trials[:_FIRST_ANSWERS]])
        ear = open_ear(asked.ear)
        hearing = Hearing(first_ear(ear) if asked.one_ear else ear, load_lexicon())
        hearing.recogniser.warm_up()
    except (NoRecordingsError, HearingError) as error:
        sys.stderr.write(f"{error}\n")
        return 1
    if not trials:
        sys.stderr.write("No recording of the folder belongs to these groups.\n")
        return 1
    _line(f"{len(trials)} trials of {folder}, every {asked.every}; ear: {hearing.recogniser.name}")
    used = _references(hearing) if asked.references else []
    sounds = Sounds(read_noises(noise_files(folder)))
    conditions = [Condition(), *(Condition(snr) for snr in asked.snr), *(Condition(room=room) for room in asked.room)]
    for condition in conditions:
        measured = measure(trials, condition, sounds, hearing, used, _progress(len(trials), condition))
        _show(condition, measured, used, asked.show)
    for reference in used:
        if isinstance(reference, PocketsphinxGrammar) and reference.unknown:
            left_out = ", ".join(sorted(reference.unknown))
            _line(f"\n{reference.name}: not in its dictionary, and left out of the grammar: {left_out}")
    _line(f"\n{_beside_free_writing(trials, sounds, hearing)}")
    _line(cost)
    peak = _peak_mb(resource.RUSAGE_SELF)
    _line(f"peak memory of this run, with all its recordings and references: {peak:.0f} MB")
    return 0


def _arguments() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.hearing", description=__doc__.splitlines()[0])
    parser.add_argument("--speech", metavar="FOLDER", default=os.environ.get(VARIABLE), help=f"default: ${VARIABLE}")
    parser.add_argument("--every", metavar="K", type=_count, default=1, help="every K-th trial of each group")
    parser.add_argument("--snr", metavar="DB", type=float, nargs="*", default=[], help="also in noise at DB decibels")
    parser.add_argument("--room", nargs="*", default=[], choices=ROOMS, help="also from afar or through a mask")
    parser.add_argument("--only", metavar="GROUP", nargs="+", default=[], choices=GROUPS, help=", ".join(GROUPS))
    parser.add_argument("--ear", choices=EARS, help="the recogniser")
    parser.add_argument("--one-ear", action="store_true", help="without listening a second time where it is unsure")
    parser.add_argument("--references", action="store_true", help="beside other ways to hear, where installed")
    parser.add_argument("--show", metavar="N", type=int, default=10, help="name up to N wrong answers (default 10)")
    return parser


def _count(text: str) -> int:
    count = int(text)
    if count < 1:
        raise argparse.ArgumentTypeError("has to be 1 or more")
    return count


def _references(hearing: Hearing) -> list[Reference]:
    used: list[Reference] = []
    for reference in references(hearing.recogniser, hearing.lexicon):
        if isinstance(reference, SkippedError):
            _line(f"reference skipped: {reference}")
        else:
            used.append(reference)
    return used


def _progress(trials: int, condition: Condition) -> "_Progress":
    return _Progress(trials, condition.name)


class _Progress:
    """Says on standard error how far a condition has come."""

    def __init__(self, trials: int, name: str) -> None:
        self._trials, self._name, self._done = trials, name, 0

    def __call__(self) -> None:
        self._done += 1
        if self._done % _STEP == 0 and self._done < self._trials:
            sys.stderr.write(f"{self._name}: {self._done} of {self._trials}\n")


def _show(condition: Condition, measured: Sequence[Measured], used: Sequence[Reference], wrong_shown: int) -> None:
    sound_s = sum(each.sound_s for each in measured)
    took_s = sum(each.took_s for each in measured)
    waits = [each.decode_s for each in measured]
    _line(f"\n== {condition.name}: {sound_s:.0f} s of sound, {took_s / sound_s:.3f} x real time")
    _line(
        f"   decision after {percentile(waits, 0.5):.3f} s in the median, {percentile(waits, 0.95):.3f} s at the 95th"
    )
    _line(_row("group", "trials", "right", ">=", "asked", "again", "ignored", "wrong", "<=", "other verdict", "who"))
    for group, inside in _by_group(measured).items():
        of_whom = who(each.trial for each in inside)
        _line(_counts(group, tally(inside), of_whom))
        for reference in used:
            _line(_counts(f"  {reference.name}", tally_of(reference.name, inside), ""))
    _reliability(measured)
    _curve(measured)
    for each in [each for each in measured if each.result is Result.WRONG][:wrong_shown]:
        _line(f"   wrong: {each.trial.group} {each.trial.said!r} -> {each.heard!r} ({each.trial.name})")


def _by_group(measured: Iterable[Measured]) -> dict[str, list[Measured]]:
    found: dict[str, list[Measured]] = {}
    for each in measured:
        found.setdefault(each.trial.group, []).append(each)
    return found


def _counts(name: str, counts: Tally, of_whom: str) -> str:
    return _row(
        name,
        str(counts.trials),
        f"{counts.right} {counts.share(Result.RIGHT):.1%}",
        f"{counts.right_at_least:.1%}",
        str(counts.asked),
        str(counts.again),
        str(counts.ignored),
        f"{counts.wrong} {counts.share(Result.WRONG):.1%}",
        f"{counts.wrong_at_most:.1%}",
        str(counts.other_verdict) if of_whom else "",
        of_whom,
    )


def _row(name: str, *cells: str) -> str:
    widths = (6, 11, 7, 6, 6, 8, 9, 7, 14)
    numbers = " ".join(f"{cell:>{width}}" for cell, width in zip(cells, widths, strict=False))
    return f"{name:31} {numbers}  {cells[-1]}".rstrip()


def _reliability(measured: Sequence[Measured]) -> None:
    bins = reliability(each.guess for each in measured if each.guess is not None)
    if not bins:
        return
    _line("   likeliest meaning of what was answered: its probability and the share that is right")
    for each in bins:
        _line(f"   {each.low:.1f}-{each.high:.1f} {each.count:6} {each.probability:8.3f} {each.right:8.3f}")
    _line(f"   expected calibration error {expected_calibration_error(bins):.3f}")


def _curve(measured: Sequence[Measured]) -> None:
    nothing_taken = [
        Guess(0.0, False, answer=each.trial.group != "strangers") for each in measured if each.guess is None
    ]
    guesses = [each.guess for each in measured if each.guess is not None]
    _line("   were every likeliest meaning taken from a threshold up: answers right, wrong; strangers taken")
    for point in curve([*guesses, *nothing_taken]):
        _line(f"   {point.threshold:.2f} {point.right:8.1%} {point.wrong:8.1%} {point.strangers:8.1%}")


def _beside_free_writing(trials: Sequence[Trial], sounds: Sounds, hearing: Hearing) -> str:
    """Return what an answer costs as a multiple of writing the same sound down without a grammar.

    Processors differ several times over in how fast they run the model; this ratio hardly differs.
    """
    sound_s = answered_s = written_s = 0.0
    answers = [trial for trial in trials if trial.group != "strangers"]
    for trial in answers[:: max(len(answers) // _BESIDE, 1)]:
        utterances = sounds.utterances(trial, Condition())
        hearing.answer(utterances, trial.question, trial.limits)
        started_s = time.perf_counter()
        hearing.answer(utterances, trial.question, trial.limits)
        answered_at_s = time.perf_counter()
        for utterance in utterances:
            hearing.recogniser.write_down(utterance)
        written_s += time.perf_counter() - answered_at_s
        answered_s += answered_at_s - started_s
        sound_s += sum(utterance.length_s for utterance in utterances)
    if not written_s:
        return "beside free writing of the same sound: nobody speaks in it"
    ratio, free = answered_s / written_s, written_s / sound_s
    return f"beside free writing of the same sound: {ratio:.1f} x its time, which is {free:.3f} x real time here"


def _cost(ear: str | None, sounds: Sequence[str]) -> str:
    """Return how long a program takes to get ready, and the most memory it has after its first answers."""
    started = time.perf_counter()
    with subprocess.Popen([sys.executable, "-c", _READY, ear or "", *sounds], stdout=subprocess.PIPE) as child:
        ready = child.stdout is not None and child.stdout.readline() == b"ready\n"
        took_s = time.perf_counter() - started
    if not ready:
        return "start to ready: the program did not get ready"
    peak = _peak_mb(resource.RUSAGE_CHILDREN)
    return f"start to ready: {took_s:.2f} s; peak memory, {len(sounds)} answers included: {peak:.0f} MB"


def _peak_mb(of: int) -> float:
    # Linux counts in units of 1024 bytes, macOS in bytes. Source: getrusage(2) of both (from memory).
    peak = resource.getrusage(of).ru_maxrss
    return peak / (1_000_000 if sys.platform == "darwin" else 1_000_000 / 1024)


def _line(text: str) -> None:
    sys.stdout.write(f"{text}\n")
    sys.stdout.flush()


if __name__ == "__main__":
    sys.exit(main())
