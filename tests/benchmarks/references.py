"""Other ways to hear the same sounds, for comparison; each is skipped, with the reason, where it is not installed.

What they write is read by the same `understand` as typed text is, so that only the hearing differs.
"""

import importlib
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import Any, Final, Protocol

import numpy as np

from tests.benchmarks.trials import Trial
from voicetech.heard import typed
from voicetech.hearing.frames import RATE_HZ, Utterance
from voicetech.hearing.recogniser import Recogniser
from voicetech.language.grammar import compile_words, export_jsgf, spoken_grammar
from voicetech.language.lexicon import Lexicon
from voicetech.language.meaning import Question
from voicetech.language.phrases import Choice, Maybe, Phrase, Repeat, Rule, Sequence, Word
from voicetech.language.spoken_numbers import spoken_digits
from voicetech.language.understand import understand
from voicetech.scoring import NothingExpected, Result, result_of, verdict
from voicetech.weigh import weigh

OH: Final = {"oh": "zero", "o": "zero"}
"""Two names of one digit."""


class SkippedError(Exception):
    """A reference cannot be used here; the message says why and how to install it."""


class Reference(Protocol):
    """Writes down what is said, and says when two texts of it are the same."""

    @property
    def name(self) -> str:
        """Return what it is called in tables."""

    def write(self, utterance: Utterance, question: Question) -> str:
        """Return what is said as the text that `understand` reads, nothing where nothing was heard."""

    def same(self, heard: str, said: str) -> bool:
        """Return whether the text heard is what was said word by word."""


def result_with(reference: Reference, utterances: list[Utterance], trial: Trial, lexicon: Lexicon) -> Result:
    """Return what would become of a trial if its text came from the reference."""
    texts = [text for utterance in utterances if (text := reference.write(utterance, trial.question))]
    if not texts:
        return Result.RIGHT if isinstance(trial.expected, NothingExpected) else Result.IGNORED
    if trial.exact:
        return Result.RIGHT if reference.same(" ".join(texts), " ".join(trial.exact)) else Result.WRONG
    meaning = understand(texts[0], trial.question, lexicon)
    outcome = weigh(typed(texts[0]), (meaning,), lambda each: verdict(each, trial.limits))
    return result_of(trial.expected, outcome, trial.question, lexicon)


@dataclass(slots=True)
class PocketsphinxGrammar:
    """pocketsphinx with its own English model, under the same grammar as the program, as JSGF.

    Words that its dictionary does not have are left out of the grammar, with the phrases they stand in. Spelled
    words are a plain loop, without a count, without an order and without commands beside them: the grammar as it is
    takes this decoder half a minute an answer. Its last pass over the best path is off: it takes as long.
    """

    lexicon: Lexicon
    numbers_only: bool = False
    """Whether nothing but numbers, with a unit or without, may be heard where a number or a spelled word is asked."""
    unknown: set[str] = field(default_factory=set)
    _decoder: Any = None
    _searches: dict[Question, str] = field(default_factory=dict)

    @property
    def name(self) -> str:
        """Return what it is called in tables."""
        return f"pocketsphinx, {'numbers only' if self.numbers_only else 'our grammar'}"

    def __post_init__(self) -> None:
        module = _installed("pocketsphinx", "pocketsphinx")
        # Without a language model of its own: only the grammar says what may be heard.
        self._decoder = module.Decoder(lm=None, samprate=RATE_HZ, bestpath=False, loglevel="FATAL")

    def write(self, utterance: Utterance, question: Question) -> str:
        """Return the words of the best path through the grammar."""
        self._decoder.activate_search(self._search(question))
        sound = np.rint(np.clip(utterance.samples, -1, 1) * 32_767).astype("<i2").tobytes()
        self._decoder.start_utt()
        self._decoder.process_raw(sound, full_utt=True)
        self._decoder.end_utt()
        found = self._decoder.hyp()
        return "" if found is None else str(found.hypstr)

    def same(self, heard: str, said: str) -> bool:
        """Return whether the words are the same, "oh" and "zero" being one."""
        return _with_zeros(heard) == _with_zeros(said)

    def _search(self, question: Question) -> str:
        name = self._searches.get(question)
        if name is None:
            name = self._searches[question] = f"question{len(self._searches)}"
            self._decoder.add_jsgf_string(name, self._jsgf(question))
        return name

    def _jsgf(self, question: Question) -> str:
        whole = spoken_grammar(question, self.lexicon)
        spelled, number, unit = (_rule(whole, name) for name in ("spelled", "number", "unit"))
        if spelled is not None:
            return self._loop(spoken_digits(self.lexicon) if self.numbers_only else spelled)
        if self.numbers_only and number is not None and unit is not None:
            whole = Sequence((number, Maybe(unit)))
        grammar = known_part(whole, self._knows)
        if grammar is None:
            raise SkippedError(f"pocketsphinx knows no answer to the question for {question.asking}")
        return export_jsgf(grammar, "question")

    def _loop(self, phrase: Phrase) -> str:
        words = sorted(word for word in compile_words(phrase).words() if self._knows(word))
        word = export_jsgf(Choice(tuple(map(Word, words))), "word").replace("public ", "")
        return f"{word}public <answer> = ( <word> )+;\n"

    def _knows(self, word: str) -> bool:
        known = self._decoder.lookup_word(word) is not None
        if not known:
            self.unknown.add(word)
        return known


@dataclass(slots=True)
class FreeText:
    """The program's own recogniser without a grammar, its text put into digits by a package made for that."""

    name: str
    recogniser: Recogniser
    digits: Callable[[str], str]
    _last: tuple[Utterance, str] | None = None

    def write(self, utterance: Utterance, question: Question) -> str:
        """Return the free text, its numbers in digits."""
        return self.digits(_plain(self.recogniser.write_down(utterance).text))

    def same(self, heard: str, said: str) -> bool:
        """Return whether the texts are the same in digits and letters, spaces apart."""
        return _joined(heard) == _joined(self.digits(_plain(said)))


def known_part(phrase: Phrase, knows: Callable[[str], bool]) -> Phrase | None:
    """Return what a phrase can say in known words, None where it can say nothing."""
    match phrase:
        case Word(text=text):
            return phrase if all(knows(word) for word in text.split()) else None
        case Rule(name=name, part=part):
            rest = known_part(part, knows)
            return None if rest is None else Rule(name, rest)
        case Maybe(part=part):
            rest = known_part(part, knows)
            return Sequence(()) if rest is None else Maybe(rest)
        case Repeat(part=part, least=least, most=most):
            rest = known_part(part, knows)
            return None if rest is None else Repeat(rest, least, most)
        case Choice(options=options):
            some = tuple(each for option in options if (each := known_part(option, knows)) is not None)
            return Choice(some) if some else None
        case Sequence(parts=parts):
            every = [known_part(part, knows) for part in parts]
            kept = tuple(each for each in every if each is not None and each != Sequence(()))
            return None if None in every else Sequence(kept)


def _rule(phrase: Phrase, name: str) -> Phrase | None:
    """Return what the first rule of that name stands for, None where there is none."""
    match phrase:
        case Word():
            return None
        case Rule(name=found, part=part) if found == name:
            return part
        case Rule(part=part) | Maybe(part=part) | Repeat(part=part):
            return _rule(part, name)
        case Choice(options=parts) | Sequence(parts=parts):
            return next((rule for part in parts if (rule := _rule(part, name)) is not None), None)


def references(recogniser: Recogniser, lexicon: Lexicon) -> Iterator[Reference | SkippedError]:
    """Yield each reference, or why it is skipped."""
    makers: tuple[Callable[[], Reference], ...] = (
        lambda: PocketsphinxGrammar(lexicon),
        lambda: PocketsphinxGrammar(lexicon, numbers_only=True),
        lambda: FreeText("free text, text2num", recogniser, _text2num()),
        lambda: FreeText("free text, whisper-normalizer", recogniser, _whisper_normalizer()),
    )
    for make in makers:
        try:
            yield make()
        except SkippedError as error:
            yield error


def _text2num() -> Callable[[str], str]:
    module = _installed("text_to_num", "text2num")
    return lambda text: str(module.alpha2digit(text, "en"))


def _whisper_normalizer() -> Callable[[str], str]:
    module = _installed("whisper_normalizer.english", "whisper-normalizer")
    normalizer = module.EnglishTextNormalizer()
    return lambda text: str(normalizer(text))


def _installed(module: str, package: str) -> Any:
    try:
        return importlib.import_module(module)
    except ImportError as error:
        raise SkippedError(f"{package} is not installed here ({error}); pip install {package}") from error


def _plain(text: str) -> str:
    """Return the words and figures of a text without its signs."""
    return " ".join(OH.get(word, word) for word in re.findall(r"\d+(?:\.\d+)?|[a-z']+", text.lower()))


def _with_zeros(text: str) -> list[str]:
    return [OH.get(word, word) for word in text.lower().split()]


def _joined(text: str) -> str:
    return "".join(text.lower().split())
