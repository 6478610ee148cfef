"""One trial through the program's own path, and what many of them add up to."""

import math
import time
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from tests.benchmarks.calibration import Guess
from tests.benchmarks.conditions import Condition, Sounds
from tests.benchmarks.references import OH, Reference, result_with
from tests.benchmarks.trials import Trial
from voicetech.hearing.answering import Hearing, told
from voicetech.hearing.frames import Utterance
from voicetech.scoring import (
    NothingExpected,
    Result,
    Tally,
    changes_verdict,
    is_right,
    likeliest,
    plain_words,
    result_of,
)
from voicetech.weigh import FOR_US_AT_LEAST, Accepted


@dataclass(frozen=True, slots=True)
class Measured:
    """One trial, heard: what became of it, and how long that took, in seconds.

    `took_s` is the whole way from the sound to what would be done, `decode_s` what the recogniser says of itself.
    `guess` is the likeliest meaning, None where nothing was taken as an answer. `others` are the results with the
    references, by their names.
    """

    trial: Trial
    result: Result
    other_verdict: bool
    heard: str
    sound_s: float
    took_s: float
    decode_s: float
    guess: Guess | None
    others: dict[str, Result]


def measure(
    trials: Sequence[Trial],
    condition: Condition,
    sounds: Sounds,
    hearing: Hearing,
    references: Sequence[Reference] = (),
    advance: Callable[[], None] = lambda: None,
) -> list[Measured]:
    """Return every trial under a condition."""
    measured = []
    for trial in trials:
        utterances = sounds.utterances(trial, condition)
        measured.append(_measured(trial, utterances, hearing, references))
        advance()
    return measured


def tally(measured: Iterable[Measured]) -> Tally:
    """Return the counts of the program's own results."""
    counts = Tally()
    for each in measured:
        counts = counts.counting(each.result, each.other_verdict)
    return counts


def tally_of(reference: str, measured: Iterable[Measured]) -> Tally:
    """Return the counts of a reference's results."""
    counts = Tally()
    for each in measured:
        counts = counts.counting(each.others[reference])
    return counts


def percentile(values: Sequence[float], share: float) -> float:
    """Return the smallest value that this share of the values does not exceed (the nearest rank); 0 for none."""
    ranked = sorted(values)
    return ranked[max(math.ceil(share * len(ranked)), 1) - 1] if ranked else 0.0


def _measured(trial: Trial, utterances: list[Utterance], hearing: Hearing, references: Sequence[Reference]) -> Measured:
    hearing.grammar(trial.question)
    started_s = time.perf_counter()
    answers = hearing.answer(utterances, trial.question, trial.limits)
    took_s = time.perf_counter() - started_s
    answer = told(answers)
    sound_s = sum(utterance.length_s for utterance in utterances)
    others = {each.name: result_with(each, utterances, trial, hearing.lexicon) for each in references}
    stranger = isinstance(trial.expected, NothingExpected)
    if answer is None:
        result = Result.RIGHT if stranger else Result.IGNORED
        return Measured(trial, result, False, "", sound_s, took_s, 0.0, None, others)
    result = result_of(trial.expected, answer.outcome, trial.question, hearing.lexicon)
    text, other_verdict = answer.heard.text, False
    if isinstance(answer.outcome, Accepted):
        text, meaning = answer.outcome.text, answer.outcome.meaning
        if trial.exact:
            result = Result.RIGHT if same_words(text, " ".join(trial.exact)) else Result.WRONG
        other_verdict = result is Result.WRONG and changes_verdict(
            trial.expected, meaning, trial.limits, trial.question, hearing.lexicon
        )
    guess = None
    best = likeliest(answer.heard, answer.meanings)
    if best is not None and answer.heard.for_us >= FOR_US_AT_LEAST:
        right = not stranger and is_right(trial.expected, best[0], trial.question, hearing.lexicon)
        guess = Guess(min(best[1], 1.0), right, answer=not stranger)
    decode_s = sum(each.heard.decode_s for each in answers)
    return Measured(trial, result, other_verdict, text, sound_s, took_s, decode_s, guess, others)


def same_words(heard: str, said: str) -> bool:
    """Return whether the words are the same, "oh" and "zero" being one."""
    return [OH.get(word, word) for word in plain_words(heard)] == [OH.get(word, word) for word in plain_words(said)]
