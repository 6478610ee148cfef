"""Trials from a folder of recordings: which question each answers, what is right, and which group it counts under."""

import json
import random
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from pathlib import Path
from typing import Any, Final

from voicetech.language.meaning import Asking, Question
from voicetech.scoring import ALARMS, Expected, Limits, MeaningExpected, NothingExpected, WordsExpected
from voicetech.units import Unit

VARIABLE: Final = "VOICETECH_SPEECH"
GROUPS: Final = ("numbers", "letters", "digits", "spliced", "answers", "trade", "danger", "doubtful", "strangers")

_DIGITS: Final = ("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")
_TEENS_AND_TENS: Final = (
    *("ten", "eleven", "twelve", "thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen"),
    *("twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety"),
)
_NUMBER_WORDS: Final = frozenset((*_DIGITS, "oh", *_TEENS_AND_TENS, "hundred", "thousand", "and", "point"))
_MAY_BE_ANSWERS: Final = frozenset(
    (
        *(
            "yes",
            "no",
            "stop",
            "repeat",
            "next",
            "pause",
            "resume",
            "cancel",
            "undo",
            "help",
            "go",
            "start",
            "on",
            "off",
        ),
        *("enter", "erase", "rubout", "up", "down", "left", "right", "forward", "backward"),
        *("for", "to", "too", "tree", "won", "ate"),
    )
)
"""One of these, alone or with another word, may be an answer or be taken for one: neither stranger nor answer."""
_STRANGERS_ASKED: Final = (
    Asking.VOLTAGE,
    Asking.RESISTANCE,
    Asking.CONTINUITY,
    Asking.YES_NO,
    Asking.CURRENT,
    Asking.INSPECTION,
)
_SPLICED_EACH: Final = 25
_SUPPLIES: Final = ((108, 132, 108, 132), (187, 264, 216, 264))
"""Spliced readings: the lowest and highest value said, and the limits they are judged by."""
_UNITS: Final = {"V": Unit.VOLT, "ohm": Unit.OHM, "A": Unit.AMPERE, "W": Unit.WATT, "kW": Unit.KILOWATT}

Json = dict[str, Any]


class NoRecordingsError(Exception):
    """There are no recordings to measure on; the message says how to name them."""


@dataclass(frozen=True, slots=True)
class Trial:
    """One answer: its sounds (several are said in a row), the question, what is right, and who says it.

    `exact` are the words that have to be heard as they are, empty where the meaning decides.
    """

    group: str
    sounds: tuple[Path, ...]
    question: Question
    expected: Expected
    said: str
    source: str
    speaker: str | None = None
    synthetic: bool = False
    limits: Limits = None
    exact: tuple[str, ...] = ()

    @property
    def name(self) -> str:
        """Return what the trial is called, the same in every run."""
        return " ".join(f"{path.parent.name}/{path.name}" for path in self.sounds)


@dataclass(slots=True)
class _Strangers:
    """Hands out the questions that strangers are heard at, one kind after the other."""

    count: int = field(default=0)

    def question(self) -> Question:
        self.count += 1
        return Question(_STRANGERS_ASKED[self.count % len(_STRANGERS_ASKED)])


def read_trials(folder: Path) -> tuple[Trial, ...]:
    """Return the trials of a folder of sets, each with its `manifest.jsonl`. Raises NoRecordingsError."""
    manifests = sorted(folder.glob("*/manifest.jsonl")) if folder.is_dir() else []
    if not manifests:
        raise NoRecordingsError(
            f"{folder} holds no recordings: no set in it has a manifest.jsonl. Name the folder with --speech, or in "
            f"the environment variable {VARIABLE}."
        )
    strangers = _Strangers()
    found = [
        trial
        for manifest in manifests
        for row in _rows(manifest)
        if (trial := _trial(row, manifest.parent, strangers)) is not None
    ]
    return (*found, *_spliced(found))


def noise_files(folder: Path) -> tuple[Path, ...]:
    """Return the recordings of background noise."""
    return tuple(
        manifest.parent / str(row["file"])
        for manifest in folder.glob("noise/manifest.jsonl")
        for row in _rows(manifest)
    )


def chosen(trials: Iterable[Trial], every: int, only: Sequence[str]) -> list[Trial]:
    """Return every so-many-th trial of each group, of some groups or of all."""
    by_group: dict[str, list[Trial]] = {group: [] for group in only or GROUPS}
    for trial in trials:
        by_group.get(trial.group, []).append(trial)
    return [trial for group in by_group.values() for trial in group[::every]]


def who(trials: Iterable[Trial]) -> str:
    """Return who speaks in the trials, and in which sets: "50 people (an4)"."""
    found = list(trials)
    named = {trial.speaker for trial in found if trial.speaker and "unknown" not in trial.speaker}
    unnamed = any(trial.speaker and "unknown" in trial.speaker for trial in found)
    voices = {trial.speaker for trial in found if trial.synthetic}
    people = len(named - voices)
    parts = [f"{people} {'person' if people == 1 else 'people'}"] if people else []
    parts += ["some unnamed"] if unnamed else []
    parts += [f"{len(voices)} synthetic voices"] if voices else []
    sources = ", ".join(sorted({trial.source for trial in found}))
    return f"{' and '.join(parts) or 'nobody'} ({sources})"


def _rows(manifest: Path) -> Iterator[Json]:
    for line in manifest.read_text(encoding="utf-8").splitlines():
        if line.strip():
            yield json.loads(line)


def _trial(row: Json, folder: Path, strangers: _Strangers) -> Trial | None:
    source, words = folder.name, tuple((row.get("transcript") or "").split())
    if source == "trade_phrases":
        return _trade(row, folder)

    def trial(group: str, asking: Asking, expected: Expected, exact: tuple[str, ...] = ()) -> Trial:
        doubted = group in ("digits", "answers") and row.get("label_check") == "unconfirmed"
        path = folder / row["file"]
        name = "doubtful" if doubted else group
        speaker = row.get("speaker")
        return Trial(name, (path,), Question(asking), expected, " ".join(words), source, speaker, exact=exact)

    if source == "an4" and words and all(word in _NUMBER_WORDS or len(word) == 1 for word in words):
        group = "numbers" if all(word in _NUMBER_WORDS for word in words) else "letters"
        return trial(group, Asking.SERIAL, WordsExpected(" ".join(words)), words)
    if source == "asterisk_prompts" and row.get("category") == "phonetic_letter":
        return trial("letters", Asking.SERIAL, WordsExpected(" ".join(words)), words)
    if source in ("fsdd", "speech_commands") and len(words) == 1 and words[0] in _DIGITS:
        ohms = MeaningExpected("reading", Decimal(_DIGITS.index(words[0])), Unit.OHM)
        return trial("digits", Asking.RESISTANCE, ohms)
    match words:
        case ("yes" | "no" as word,):
            return trial("answers", Asking.YES_NO, MeaningExpected(word))
        case ("stop" | "repeat" as word,):
            return trial("answers", Asking.VOLTAGE, MeaningExpected("command", command=word))
        case _ if _says_nothing(row, source, words):
            return None
        case _:
            return Trial(
                "strangers",
                (folder / row["file"],),
                strangers.question(),
                NothingExpected(),
                " ".join(words) or str(row.get("category") or ""),
                source,
                row.get("speaker"),
            )


def _says_nothing(row: Json, source: str, words: tuple[str, ...]) -> bool:
    """Return whether a recording tells nothing: it may be an answer, and it is not known to be one."""
    if source in ("sphinx_tests", "an4") or (source == "asterisk_prompts" and row.get("category") != "prompt"):
        return True
    return len(words) <= 2 and not (_NUMBER_WORDS | _MAY_BE_ANSWERS).isdisjoint(words)


def _trade(row: Json, folder: Path) -> Trial:
    said = row["expected"]
    value = said.get("value")
    expected = MeaningExpected(
        said["kind"],
        None if value is None else Decimal(str(value)),
        _UNITS.get(said.get("unit") or ""),
        said.get("command"),
    )
    limits = row.get("limits")
    return Trial(
        "danger" if said.get("command") in ALARMS else "trade",
        (folder / row["file"],),
        Question(Asking(row["asking"]), after_read_back=row.get("after") == "read-back"),
        expected,
        row["transcript"],
        folder.name,
        row["speaker"],
        synthetic=True,
        limits=None if limits is None else (Decimal(str(limits[0])), Decimal(str(limits[1]))),
    )


def _spliced(trials: Sequence[Trial]) -> Iterator[Trial]:
    """Yield readings of three digits, each put together from one person's digits."""
    digits: dict[str, dict[int, list[Path]]] = {}
    for trial in trials:
        expected = trial.expected
        if trial.source == "fsdd" and trial.group == "digits" and isinstance(expected, MeaningExpected):
            of_speaker = digits.setdefault(trial.speaker or "", {})
            of_speaker.setdefault(int(expected.value or 0), []).append(trial.sounds[0])
    chance = random.Random(11)
    for speaker, clips in sorted(digits.items()):
        for _ in range(_SPLICED_EACH):
            lowest, highest, low, high = chance.choice(_SUPPLIES)
            value = chance.randint(lowest, highest)
            places = [int(digit) for digit in str(value)]
            if not all(place in clips for place in places):
                continue
            yield Trial(
                "spliced",
                tuple(chance.choice(clips[place]) for place in places),
                Question(Asking.VOLTAGE),
                MeaningExpected("reading", Decimal(value), Unit.VOLT),
                " ".join(_DIGITS[place] for place in places),
                "fsdd",
                speaker,
                limits=(Decimal(low), Decimal(high)),
            )
