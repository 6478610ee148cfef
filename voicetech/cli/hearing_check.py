"""`voicetech hear --check`: how well a technician's own recordings are heard, told in tables or as JSON."""

import json
import sys
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Final

from voicetech.cli.tables import show_rows
from voicetech.cli.understand import as_sentence
from voicetech.hearing.answering import Answered, Hearing, told
from voicetech.hearing.errors import SoundFileError
from voicetech.hearing.labelled_folder import MANIFEST, BadLine, BadLineError, Labelled, read_labelled_folder
from voicetech.language.wording import shown
from voicetech.scoring import (
    MeaningExpected,
    NothingExpected,
    Result,
    Tally,
    WordFailure,
    WordsExpected,
    WordTrial,
    changes_verdict,
    plain_words,
    result_of,
    word_failures,
)
from voicetech.units import Reading
from voicetech.weigh import Accepted, AskWhich

if TYPE_CHECKING:
    from rich.console import Console

ALL: Final = "all"
NO_GROUP: Final = "recordings"
_STEP: Final = 25
"""Recordings between two lines of progress where the errors do not go to a terminal."""
_WORDS_SHOWN: Final = 20
_COLUMNS: Final = ("right", "at least", "asked", "again", "ignored", "wrong", "at most")
Json = dict[str, object]


@dataclass(frozen=True, slots=True)
class Checked:
    """One recording: what was said, what was heard, and what became of it."""

    labelled: Labelled
    result: Result
    heard: str
    would: str
    probability: float
    other_verdict: bool
    sayable: bool
    """Whether the words said are among those that may be said to the question; nothing else can be heard."""

    @property
    def said(self) -> str:
        """Return what was said, for people."""
        return said(self.labelled)


@dataclass(frozen=True, slots=True)
class HearingCheck:
    """A folder, measured; `lost` are lines and files that could not be."""

    folder: Path
    checked: tuple[Checked, ...]
    lost: tuple[BadLine, ...]

    def by_group(self) -> dict[str, list[Checked]]:
        """Return the recordings of each group, in the order of the manifest."""
        return _by(self.checked, lambda each: each.labelled.group or NO_GROUP)

    def by_speaker(self) -> dict[str, list[Checked]]:
        """Return the recordings of each named speaker; none where nobody is named."""
        named = [each for each in self.checked if each.labelled.speaker]
        return _by(named, lambda each: each.labelled.speaker or "")

    def failing_words(self) -> tuple[WordFailure, ...]:
        """Return the words that fail, those that fail most first."""
        return word_failures(
            _words(each) for each in self.checked if not isinstance(each.labelled.expected, NothingExpected)
        )


def check_folder(folder: Path, open_hearing: Callable[[], Hearing]) -> HearingCheck:
    """Return how the recordings of a folder are heard; progress goes to standard error.

    The recogniser is opened once the folder is known to hold recordings. Raises LabelledFolderError.
    """
    labelled = read_labelled_folder(folder)
    lost = list(labelled.bad_lines)
    checked: list[Checked] = []
    if labelled.recordings:
        hearing = open_hearing()
        with _progress(len(labelled.recordings)) as advance:
            for recording in labelled.recordings:
                try:
                    checked.append(_checked(recording, hearing))
                except (BadLineError, SoundFileError) as error:
                    lost.append(BadLine(recording.line, str(error)))
                advance()
    return HearingCheck(folder, tuple(checked), tuple(sorted(lost, key=lambda each: each.line)))


def tally(checked: Iterable[Checked]) -> Tally:
    """Return the counts of some recordings."""
    counts = Tally()
    for each in checked:
        counts = counts.counting(each.result, each.other_verdict)
    return counts


def said(labelled: Labelled) -> str:
    """Return what was said in a recording, for people."""
    match labelled.expected:
        case WordsExpected(text=text):
            return text
        case NothingExpected():
            return "(not for the program)"
        case MeaningExpected(kind=kind, value=value, unit=unit, command=command, note=note):
            if value is not None:
                before = "" if kind == "reading" else f"{kind} "
                return f"{before}{shown(Reading(value, unit))}"
            return " ".join(part for part in (command or kind, note) if part)


def _checked(labelled: Labelled, hearing: Hearing) -> Checked:
    question, expected = labelled.question, labelled.expected
    try:
        hearing.grammar(question)
    except ValueError as error:
        raise BadLineError(f"its question cannot be asked: {error}; mend it, or take it out") from None
    answer = told(hearing.answer_file(labelled.path, question, labelled.limits))
    words = plain_words(expected.text) if isinstance(expected, WordsExpected) else ()
    sayable = not words or hearing.grammar(question).accepts(words)
    if answer is None:
        result = Result.RIGHT if isinstance(expected, NothingExpected) else Result.IGNORED
        return Checked(labelled, result, "", "nobody speaks", 0.0, False, sayable)
    result = result_of(expected, answer.outcome, question, hearing.lexicon)
    text, would, probability = _told(answer)
    other = (
        result is Result.WRONG
        and isinstance(answer.outcome, Accepted)
        and changes_verdict(expected, answer.outcome.meaning, labelled.limits, question, hearing.lexicon)
    )
    return Checked(labelled, result, text, would, probability, other, sayable)


def _told(answer: Answered) -> tuple[str, str, float]:
    """Return the words heard, what would be done with them, and their probability."""
    heard = answer.heard
    best = heard.alternatives[0].probability if heard.alternatives else 0.0
    match answer.outcome:
        case Accepted(meaning=meaning, text=text, probability=probability):
            return text, as_sentence(meaning), probability
        case AskWhich(texts=texts):
            return heard.text, f"asks: {texts[0]}, or {texts[1]}?", best
        case outcome:
            return heard.text, outcome.why, best


def _words(each: Checked) -> WordTrial:
    right = each.result is Result.RIGHT
    if isinstance(each.labelled.expected, WordsExpected):
        return WordTrial(plain_words(each.said), plain_words(each.heard), right)
    return WordTrial((each.said,), (each.heard,) if each.heard else (), right)


def _by(checked: Iterable[Checked], name_of: Callable[[Checked], str]) -> dict[str, list[Checked]]:
    found: dict[str, list[Checked]] = {}
    for each in checked:
        found.setdefault(name_of(each), []).append(each)
    return found


@contextmanager
def _progress(recordings: int) -> Iterator[Callable[[], None]]:
    """Give what is called after each recording: a bar on a terminal, else a line now and then."""
    if sys.stderr.isatty():
        from rich.console import Console
        from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

        columns = (TextColumn("listening"), BarColumn(), MofNCompleteColumn(), TimeRemainingColumn())
        with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
            task = bar.add_task("", total=recordings)
            yield lambda: bar.advance(task)
        return
    done = 0

    def advance() -> None:
        nonlocal done
        done += 1
        if done % _STEP == 0 and done < recordings:
            sys.stderr.write(f"{done} of {recordings}\n")

    yield advance


def write_json(check: HearingCheck) -> None:
    """Write the whole check as one JSON object on a line."""
    record: Json = {
        "folder": str(check.folder),
        "groups": [_counts(name, each) for name, each in check.by_group().items()],
        "all": _counts(ALL, check.checked),
        "speakers": [_counts(name, each) for name, each in check.by_speaker().items()],
        "words": [
            {"word": word.word, "said": word.said, "failed": word.failed, "instead": dict(word.instead)}
            for word in check.failing_words()
        ],
        "recordings": [_as_json(each) for each in check.checked],
        "not_measured": [{"line": lost.line, "why": lost.why} for lost in check.lost],
    }
    sys.stdout.write(json.dumps(record, ensure_ascii=False) + "\n")


def _counts(name: str, checked: Sequence[Checked]) -> Json:
    counts = tally(checked)
    return {
        "name": name,
        "recordings": counts.trials,
        "speakers": _people(checked),
        **{result.value: counts.count(result) for result in Result},
        "wrong_other_verdict": counts.other_verdict,
        "right_at_least": round(counts.right_at_least, 4),
        "wrong_at_most": round(counts.wrong_at_most, 4),
    }


def _as_json(each: Checked) -> Json:
    return {
        "file": each.labelled.path.name,
        "line": each.labelled.line,
        "group": each.labelled.group,
        "speaker": each.labelled.speaker,
        "said": each.said,
        "heard": each.heard,
        "result": each.result.value,
        "told": each.would,
        "probability": round(each.probability, 4),
        "sayable": each.sayable,
    }


def _people(checked: Iterable[Checked]) -> int:
    return len({each.labelled.speaker for each in checked if each.labelled.speaker})


def write_tables(check: HearingCheck) -> None:
    """Write the check for people: groups, speakers, the words that fail, the files that were wrong."""
    from rich.console import Console

    console = Console(highlight=False, soft_wrap=True)
    groups = check.by_group()
    rows = {**groups, ALL: list(check.checked)} if len(groups) > 1 else groups
    _table(console, "group", rows)
    speakers = check.by_speaker()
    if len(speakers) > 1:
        _table(console, "speaker", speakers)
    _bounds(console, tally(check.checked))
    _failing(console, check.failing_words())
    _named(console, "Wrong (accepted, and not what was said):", check.checked, Result.WRONG)
    _named(console, "Asked which of two it was:", check.checked, Result.ASKED)
    _named(console, "Asked to say again:", check.checked, Result.AGAIN)
    _named(console, "Ignored:", check.checked, Result.IGNORED)
    _unsayable(console, check.checked)


def _table(console: "Console", heading: str, rows: dict[str, list[Checked]]) -> None:
    shown = []
    for name, checked in rows.items():
        counts, people = tally(checked), _people(checked) or "not named"
        shown.append((name, str(counts.trials), str(people), *_cells(counts)))
    show_rows(console, (heading, "count", "people", *_COLUMNS), shown, names=1)


def _cells(counts: Tally) -> tuple[str, ...]:
    def cell(result: Result) -> str:
        places = 0 if counts.count(result) in (0, counts.trials) else 1
        return f"{counts.count(result)} ({counts.share(result):.{places}%})"

    return (
        cell(Result.RIGHT),
        f"{counts.right_at_least:.1%}",
        str(counts.asked),
        str(counts.again),
        str(counts.ignored),
        cell(Result.WRONG),
        f"{counts.wrong_at_most:.1%}",
    )


def _bounds(console: "Console", counts: Tally) -> None:
    console.print(
        f"{counts.wrong} wrong of {counts.trials}: as far as these recordings tell, the true share may be as high as "
        f"{counts.wrong_at_most:.1%}. "
        "At least and at most are 95 % bounds (Clopper and Pearson 1934). They count every recording for itself: many "
        "by one person tell less about others.",
        markup=False,
    )
    if counts.wrong and counts.other_verdict < counts.wrong:
        same = counts.wrong - counts.other_verdict
        console.print(f"Of the wrong ones, on the same side of the limits as what was said: {same}.", markup=False)


def _failing(console: "Console", words: Sequence[WordFailure]) -> None:
    if not words:
        return
    console.print("\nWords that fail most, and what was heard instead:", markup=False)
    for word in words[:_WORDS_SHOWN]:
        instead = ", ".join(f"{other} {count}" for other, count in word.instead)
        times = f"{word.failed} of {word.said}" if word.said else str(word.failed)
        console.print(f"  {word.word}: {times} ({instead})", markup=False)
    if len(words) > _WORDS_SHOWN:
        console.print(f"  and {len(words) - _WORDS_SHOWN} more; --json lists them all", markup=False)


def _named(console: "Console", heading: str, checked: Iterable[Checked], result: Result) -> None:
    found = [each for each in checked if each.result is result]
    if not found:
        return
    console.print(f"\n{heading}", markup=False)
    for each in found:
        verdict = "  (another verdict)" if each.other_verdict and each.labelled.limits else ""
        heard = each.heard or "nothing"
        console.print(
            f"  {each.labelled.path.name}: said {each.said}; heard {heard}; {each.would}{verdict}", markup=False
        )


def _unsayable(console: "Console", checked: Iterable[Checked]) -> None:
    counts = Counter(each.said for each in checked if not each.sayable)
    if not counts:
        return
    console.print("\nSaid in words that may not be said to their question, so that they cannot be heard:", markup=False)
    for words, count in counts.most_common():
        console.print(f"  {words} ({count})", markup=False)


def write_lost(check: HearingCheck) -> None:
    """Write to standard error what could not be measured."""
    for lost in check.lost:
        sys.stderr.write(f"{check.folder / MANIFEST}:{lost.line}: {lost.why}\n")
    if check.lost:
        sys.stderr.write(f"{len(check.lost)} of {len(check.lost) + len(check.checked)} could not be measured.\n")
