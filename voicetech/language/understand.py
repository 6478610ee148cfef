"""Words in, one meaning out: the order in which an utterance is looked at.

Danger first, in any state. Then the exact words of a hold, commands, the question's own choices and places,
corrections, and last what the question asked for. Whatever is not understood whole is asked about: nothing is
picked out of a sentence.
"""

from dataclasses import replace

from voicetech.language.answers import antonym_answer, denied_answer, led_answer, said_yes_or_no
from voicetech.language.clean import Cleaned, Kind, Token, clean, words_of
from voicetech.language.commands import (
    choice_within,
    find_command,
    find_in_own_words,
    find_named_free_words,
    find_place,
    find_wait,
    matching_choice,
)
from voicetech.language.corrections import read_correction, read_repaired
from voicetech.language.danger import asked_about, find_danger, told_of_the_past
from voicetech.language.echoes import echoed_answer
from voicetech.language.inspections import inspection_answer
from voicetech.language.lexicon import Lexicon
from voicetech.language.meaning import (
    Asking,
    Command,
    CommandSaid,
    Flag,
    Meaning,
    Question,
    ReadingSaid,
    SeveralSaid,
    StateSaid,
    Unclear,
    WordsSaid,
)
from voicetech.language.one_breath import read_in_one_breath
from voicetech.language.own_words import find_explained, find_framed, find_question
from voicetech.language.phrasing import bare_words, without_single_fillers
from voicetech.language.results import read_agreed, read_result, read_with_a_beep
from voicetech.language.serials import read_serial
from voicetech.language.suggest import SAY_AGAIN, suggestion

_EMERGENCY_NUMBERS = (("nine", "one", "one"), ("911",))
_NO_METER = frozenset({Asking.CHOICE, Asking.YES_NO, Asking.INSPECTION, Asking.COMMAND})
_PIECES = frozenset({Flag.PARTIAL, Flag.NEGATED, Flag.MULTIPLE, Flag.NOT_MEASURED, Flag.TIME_LIKE, Flag.UNIT_MISMATCH})
"""Why a number among other words is no reading."""
_NOT_KNOWING = frozenset({"know", "knows", "sure", "idea", "clue", "idk", "dunno", "tell", "say"})
LONGEST_ANSWER = 60
"""Words of an answer, fillers not counted; longer talk is for somebody else. Common practice, no source."""


def understand(text: str, question: Question, lexicon: Lexicon) -> Meaning:
    """Return what `text` means as an answer to `question`; never raises, whatever the text.

    A danger phrase wins over everything and works in unfinished results too; any other unfinished result is
    Unclear. Numbers are decimal and in the base unit; the question gives a missing unit, never a size.
    """
    cleaned = clean(text, lexicon.contractions, lexicon.known, lexicon.letters)
    words = words_of(cleaned.tokens)
    danger = find_danger(words, question, lexicon)
    if danger is not None:
        return danger if danger.present else replace(danger, answers=told_of_the_past(words, question, lexicon))
    refused = _refused(cleaned, question)
    if refused is not None:
        begins = bool(cleaned.tokens) and cleaned.tokens[0].kind is Kind.WORD
        whole = begins and not question.partial and not cleaned.too_long
        return (find_named_free_words(cleaned.tokens, question, lexicon) if whole else None) or refused
    if len(words) > LONGEST_ANSWER and question.asking is not Asking.NOTE:
        short = without_single_fillers(cleaned.tokens, lexicon)
        note = find_in_own_words(cleaned.tokens, question, lexicon)
        if len(short) > LONGEST_ANSWER or note is not None:
            return note or Unclear("That was too long. Say it in short.")
        cleaned = replace(cleaned, tokens=short)
        words = words_of(short)
    meaning = _understood(text, cleaned, words, question, lexicon)
    unsure = cleaned.foreign_digits or text.rstrip().endswith("?") or _like_an_emergency_number(words)
    if unsure and isinstance(meaning, ReadingSaid):
        return replace(meaning, confirm=True)
    return meaning


def _like_an_emergency_number(words: tuple[str, ...]) -> bool:
    return any(words[at : at + len(number)] == number for number in _EMERGENCY_NUMBERS for at in range(len(words)))


def _refused(cleaned: Cleaned, question: Question) -> Unclear | None:
    flags = cleaned.flags
    if question.partial:
        return Unclear("", flags=flags | {Flag.PARTIAL})
    if cleaned.too_long:
        return Unclear("That was too long. Say it in short.", flags=flags)
    if question.asking is Asking.NOTE:
        return None
    if Flag.INJECTION in flags:
        return Unclear("Say the reading, please.", flags=flags)
    if Flag.WRONG_LANGUAGE in flags:
        return Unclear("In English, please.", flags=flags)
    if cleaned.lookalike_digits:
        return Unclear("Type plain digits, please.", flags=flags)
    return None


def _understood(text: str, cleaned: Cleaned, words: tuple[str, ...], question: Question, lexicon: Lexicon) -> Meaning:
    bare = bare_words(words, lexicon)
    exact = {" ".join(w.lower().split()) for w in question.exact_words}
    if " ".join(bare) in exact or " ".join(words) in exact:
        return WordsSaid(" ".join(words))
    note = find_in_own_words(cleaned.tokens, question, lexicon)
    if note is not None:
        return note
    choice = matching_choice(words, bare, question) if question.asking is Asking.CHOICE else None
    # "The breaker is tripped" is no alarm where that is what was asked.
    worry = asked_about(words, lexicon.danger) if choice is None else None
    if worry is not None and not isinstance(read_result(cleaned.tokens, words, question, lexicon), StateSaid):
        finding = inspection_answer(words, question, lexicon) if question.asking is Asking.INSPECTION else None
        return finding or replace(worry, answers=told_of_the_past(words, question, lexicon))
    free = question.asking in (Asking.NOTE, Asking.SERIAL)
    noise = not free and (words in lexicon.noise or bare in lexicon.noise)
    if not words or (noise and find_command(words, bare, question, lexicon) is None):
        return Unclear("", flags=frozenset({Flag.NOISE}))
    found = _said(cleaned.tokens, words, bare, question, lexicon)
    put_up = isinstance(found, Unclear) and question.after_read_back and bool(found.candidates)
    among = choice_within(words, question) if found is None or isinstance(found, Unclear) else None
    if among is not None and question.asking is Asking.CHOICE:
        return Unclear(candidates=(among,), offer=True)
    if isinstance(found, Unclear) and question.asking in _NO_METER and not put_up and not found.flags - _PIECES:
        # What the question needs is said instead; nobody holds a meter for it.
        return replace(found, ask="", candidates=(), offer=False)
    if found is not None:
        return found
    if question.asking is Asking.NOTE:
        return WordsSaid(text.strip())
    ask = suggestion(words, lexicon) if question.chat else SAY_AGAIN
    return Unclear("" if ask == SAY_AGAIN and question.asking in _NO_METER else ask)


def _said(
    tokens: tuple[Token, ...], words: tuple[str, ...], bare: tuple[str, ...], question: Question, lexicon: Lexicon
) -> Meaning | None:
    """Return the first meaning that takes all of the words; the order is the point."""
    command = find_command(words, bare, question, lexicon)
    if question.asking is Asking.NOTE and command == CommandSaid(Command.LATER) and _NOT_KNOWING.intersection(words):
        # Where one's own words are asked for, not to know is an answer.
        command = None
    choice = matching_choice(words, bare, question)
    answer = said_yes_or_no(words, bare, question, lexicon)
    if question.asking is Asking.CHOICE and choice is not None:
        return choice
    corrected = replace(question, asking=question.read_back) if question.read_back else question
    correction = read_correction(tokens, words, corrected, lexicon)
    result = read_result(tokens, words, question, lexicon)
    if result is None or isinstance(result, Unclear):
        named = read_in_one_breath(tokens, question, lexicon)
        result = named or read_with_a_beep(tokens, question, lexicon) or result
    if isinstance(result, (StateSaid, SeveralSaid)):
        correction = None
    if question.asking is Asking.DURATION and isinstance(result, ReadingSaid):
        # "Two minutes" asks for a pause at any other question.
        command = None
    if question.after_read_back and correction is not None:
        return correction
    if question.asking in (Asking.YES_NO, Asking.INSPECTION):
        answer = antonym_answer(words, question, lexicon) or answer
        if question.asking is Asking.INSPECTION:
            answer = inspection_answer(words, question, lexicon) or answer
        elif answer is None:
            answer = (
                led_answer(words, question, lexicon)
                or echoed_answer(words, question, lexicon)
                or denied_answer(bare, question, lexicon)
            )
        if answer is not None:
            return answer
    first = choice or command or find_place(words, bare, question, lexicon)
    if first is not None:
        return first
    if question.asking is Asking.NOTE:
        return None
    if question.asking is Asking.SERIAL:
        return read_serial(tokens, lexicon)
    found = (
        correction
        or read_repaired(tokens, question, lexicon)
        or read_agreed(tokens, question, lexicon)
        or (answer if isinstance(result, Unclear) and not (result.candidates or result.flags) else None)
        or result
        or answer
    )
    if found is None or isinstance(found, Unclear):
        wait = find_wait(tokens, lexicon) if found is None or not found.candidates else None
        return (
            wait
            or find_framed(words, question, lexicon)
            or find_explained(tokens, question, lexicon)
            or find_question(words, lexicon)
            or found
        )
    return found
