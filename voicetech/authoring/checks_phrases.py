"""Every phrase of a procedure is understood as it is meant: nothing that is always listened for comes before it."""

from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from typing import Final

from voicetech.authoring.checking import Breach, Check, every_step
from voicetech.authoring.checks_wording import said
from voicetech.authoring.findings import Keys
from voicetech.authoring.lexicon_files import load_lexicon
from voicetech.dialogue.questions import asking_of, places_of
from voicetech.language.lexicon import Lexicon
from voicetech.language.meaning import (
    AnswerSaid,
    Asking,
    Choice,
    ChoiceSaid,
    Command,
    CommandSaid,
    DangerSaid,
    Meaning,
    Question,
    ReadingSaid,
    StateSaid,
    WordsSaid,
)
from voicetech.language.understand import understand
from voicetech.procedure import Ask, Hold, Procedure

MOST_TRIED: Final = 60
"""So many sentences of one phrase are tried; the rest differ in words that were tried already."""


def misunderstood(procedure: Procedure) -> Iterator[Breach]:
    """Each phrase of an answer, a hold or a test's name is understood as that."""
    words = lexicon()
    for keys, _section, step in every_step(procedure):
        match step:
            case Ask(choices=choices):
                for choice in choices:
                    heard = tuple(text for text in choice.hear if said(text))
                    for at, phrase in enumerate(choice.hear):
                        question = Question(asking_of(step), step.prompt.full)
                        wanted = ChoiceSaid(choice.key)
                        place = (*keys, "choices", choice.key, at)
                        yield from _tried(place, phrase, question, wanted, heard, words)
            case Hold(until=until):
                yield from _held(keys, until, step.prompt.full, words)
            case _:
                pass
    for test in places_of(procedure):
        heard = tuple(text for text in test.hear if said(text))
        for at, phrase in enumerate(test.hear):
            by_name = CommandSaid(Command.GO_TO, test.key)
            called = ("sections", test.key, "call", at)
            yield from _tried(called, phrase, Question(Asking.COMMAND), by_name, heard, words)


@cache
def lexicon() -> Lexicon:
    """Return the vocabulary that comes with the program, read once."""
    return load_lexicon()


def _tried(
    keys: Keys,
    phrase: str,
    question: Question,
    wanted: ChoiceSaid | CommandSaid,
    others: tuple[str, ...],
    lexicon: Lexicon,
) -> Iterator[Breach]:
    """Try the sentences of a phrase, by themselves and then beside the `others` that mean the same.

    Two answers with the same phrase are told by another rule.
    """
    for sentence in said(phrase)[:MOST_TRIED]:
        meaning = _meaning(sentence, question, wanted, (sentence,), lexicon)
        if meaning != wanted:
            meaning = _meaning(sentence, question, wanted, others, lexicon)
        if meaning != wanted:
            message = f"{sentence!r} is understood as {_as_what(meaning)}; take other words"
            yield Breach(keys, message, "misunderstood")
            return


def _meaning(
    sentence: str, question: Question, wanted: ChoiceSaid | CommandSaid, hear: tuple[str, ...], lexicon: Lexicon
) -> Meaning:
    if isinstance(wanted, ChoiceSaid):
        return understand(sentence, replace(question, choices=(Choice(wanted.key, hear),)), lexicon)
    return understand(sentence, replace(question, places=(Choice(wanted.argument or "", hear),)), lexicon)


def _held(keys: Keys, until: tuple[str, ...], wording: str, lexicon: Lexicon) -> Iterator[Breach]:
    exact = Question(Asking.COMMAND, wording, exact_words=until)
    plain = Question(Asking.COMMAND, wording)
    for at, words in enumerate(until):
        meaning = understand(words, exact, lexicon)
        if not isinstance(meaning, WordsSaid):
            if any(sign in words for sign in "[](|)"):
                # Told by the rule for phrases.
                continue
            message = f"{words!r} is understood as {_as_what(meaning)}; take other words"
            yield Breach((*keys, "until", at), message, "misunderstood")
            continue
        otherwise = understand(words, plain, lexicon)
        if isinstance(otherwise, (AnswerSaid, CommandSaid)):
            as_what = _as_what(otherwise)
            message = f"{words!r} is said at any step, as {as_what}; let a hold wait for words that tell what was done"
            yield Breach((*keys, "until", at), message, "hold-words")


def _as_what(meaning: Meaning) -> str:
    match meaning:
        case DangerSaid(kind=kind):
            return f"danger ({kind.value}), which stops the job"
        case CommandSaid(command=Command.GO_TO, argument=place):
            return f"a wish for the test {place}"
        case CommandSaid(command=command):
            return f"the command {command.value.replace('_', ' ')}"
        case AnswerSaid(yes=yes):
            return "yes" if yes else "no"
        case ReadingSaid() | StateSaid():
            return "a reading"
        case ChoiceSaid(key=key):
            return f"the answer {key}"
        case _:
            return "nothing that answers this"


ADVICE: Final[tuple[Check, ...]] = (misunderstood,)
"""What is told by the check alone."""
