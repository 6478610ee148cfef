"""What may be said to a question, as one phrase tree.

The tree is far wider than any limit of any procedure: a reading that is out of limits must be heard as it was
said, never bent into one that passes. Whatever this tree can say, `understand` can read.
"""

from dataclasses import replace

from voicetech.language.automaton import compile_words
from voicetech.language.export import export_jsgf, export_srgs
from voicetech.language.lexicon import Lexicon
from voicetech.language.meaning import MEASURED, Asking, Question
from voicetech.language.number_words import DIGITS
from voicetech.language.phrases import Choice, Maybe, Phrase, Repeat, Rule, Sequence, Word
from voicetech.language.sampling import sample
from voicetech.language.spoken_numbers import spoken_digits, spoken_number
from voicetech.language.templates import in_order, one_of, phrase_from, words_phrase
from voicetech.units import Unit

__all__ = ["compile_words", "export_jsgf", "export_srgs", "sample", "spoken_grammar"]

_ELECTRICAL = (Unit.VOLT, Unit.OHM, Unit.AMPERE, Unit.WATT)
_READING = MEASURED | {Asking.ANY}
_PHONETIC = [
    "alpha",
    "bravo",
    "charlie",
    "delta",
    "echo",
    "foxtrot",
    "golf",
    "hotel",
    "india",
    "juliet",
    "kilo",
    "lima",
    "mike",
    "november",
    "oscar",
    "papa",
    "quebec",
    "romeo",
    "sierra",
    "tango",
    "uniform",
    "victor",
    "whiskey",
    "xray",
    "yankee",
    "zulu",
]
"""Source: the spelling alphabet of the International Civil Aviation Organization (from memory)."""
_LETTERS = "abcdefghijklmnpqrstuvwxyz"
"""Without o, which sounds like the zero "oh"; the reader asks which of the two it is."""
_SPELLED_WORDS = 20


def spoken_grammar(question: Question, lexicon: Lexicon) -> Phrase:
    """Return everything that may be said to `question`: answers, commands and danger, in lower-case words."""
    options: list[Phrase] = [
        Rule("danger", lexicon.danger.spoken),
        Rule("command", _commands(question, lexicon)),
    ]
    if question.exact_words:
        options.append(Rule("exact", one_of([words_phrase(words.lower()) for words in question.exact_words])))
    if question.choices:
        choices = [phrase_from(text.lower()) for choice in question.choices for text in choice.hear]
        options.append(Rule("choice", one_of(choices)))
    options += _answers(question, lexicon)
    return Rule("utterance", Choice(tuple(options)))


def _answers(question: Question, lexicon: Lexicon) -> list[Phrase]:
    asking = question.asking
    if asking is Asking.NOTE:
        return []
    if asking is Asking.SERIAL:
        return [Rule("spelled", Repeat(_spelled_word(lexicon), 1, _SPELLED_WORDS))]
    answers: list[Phrase] = [Rule("answer", _yes_or_no(lexicon))]
    if asking is Asking.INSPECTION:
        answers.append(Rule("finding", lexicon.findings.spoken))
    if asking in _READING:
        answers.append(Rule("reading", _reading(question, lexicon)))
        answers.append(Rule("state", lexicon.states_spoken))
    elif question.read_back in _READING:
        answers.append(Rule("correction", _correction(replace(question, asking=question.read_back), lexicon)))
    return answers


def _correction(question: Question, lexicon: Lexicon) -> Phrase:
    number = Sequence((_cues(question), Maybe(Word("it's")), spoken_number(lexicon), Maybe(_units(question, lexicon))))
    return Choice((number, phrase_from("scratch that|strike that|that's wrong")))


def _cues(question: Question) -> Phrase:
    cues = "make that|correction|i meant|scratch that"
    return phrase_from(f"no|no wait|no make that|{cues}" if question.after_read_back else cues)


def _yes_or_no(lexicon: Lexicon) -> Phrase:
    return one_of([phrase for phrase in (lexicon.yes.spoken, lexicon.no.spoken) if phrase is not None])


def _commands(question: Question, lexicon: Lexicon) -> Phrase:
    options = [lexicon.commands_spoken]
    places = [phrase_from(text.lower()) for place in question.places for text in place.hear]
    if places:
        options.append(Sequence((phrase_from("[go to] [the]"), one_of(places))))
    return one_of(options)


def _reading(question: Question, lexicon: Lexicon) -> Phrase:
    number = spoken_number(lexicon)
    unit = _units(question, lexicon)
    lead = phrase_from("it's|it reads|i get|i got|i'm getting|about|all [six|of them]|each leg")
    correction = _cues(question)
    label = _label(question)
    before: list[Phrase] = [lead, Sequence((correction, Maybe(Word("it's"))))]
    if label is not None:
        before.append(label)
    reading = Sequence((Maybe(one_of(before)), number, Maybe(unit)))
    half = Sequence((phrase_from("half (a|an)"), unit))
    alone = phrase_from("scratch that|strike that|that's wrong|zero on all")
    return Choice((reading, half, alone))


def _label(question: Question) -> Phrase | None:
    """Return the spoken labels of the terminals that the question names ("L1-L2": l one to l two)."""
    spoken = [in_order(parts) for label in question.labels if (parts := _label_words(label))]
    return one_of(spoken) if spoken else None


def _label_words(label: str) -> list[Phrase]:
    words: list[Phrase] = []
    for index, point in enumerate(label.lower().replace("–", "-").split("-")):
        if index:
            words.append(Word("to"))
        for part in point.split():
            letters, digit = part.rstrip("0123456789"), part[len(part.rstrip("0123456789")) :]
            words += [Word(letters)] if letters else []
            words += [Word(DIGITS[int(d)]) for d in digit]
    return words


def _units(question: Question, lexicon: Lexicon) -> Phrase:
    """Return the units that may be said: those of every electrical quantity, and degrees."""
    plain = sorted(word for word, unit in lexicon.units.items() if unit.spoken and unit.unit in _ELECTRICAL)
    degrees = sorted(
        word for word, unit in lexicon.units.items()
        if unit.spoken and unit.unit in (Unit.CELSIUS, Unit.FAHRENHEIT)
    )  # fmt: skip
    others = sorted(word for word, unit in lexicon.units.items() if unit.spoken and unit.unit is Unit.HERTZ)
    scale = sorted(words[0] for words, number in lexicon.numbers.items() if number.role == "scale" and number.spoken
                   and number.value > 1)  # fmt: skip
    scaled = Sequence((_words(scale), Maybe(_words(plain))))
    temperature = Sequence((phrase_from("degrees"), Maybe(_words(degrees))))
    units = [_words([*plain, *others]), scaled]
    if question.asking is Asking.DURATION:
        units.append(_words(sorted(w for w, unit in lexicon.units.items() if unit.spoken and unit.unit is Unit.SECOND)))
    if question.asking in (Asking.TEMPERATURE, Asking.ANY):
        units += [temperature, _words(degrees)]
    else:
        units.append(temperature)
    return Rule("unit", Choice(tuple(units)))


def _words(words: list[str]) -> Phrase:
    return one_of([words_phrase(word) for word in words])


def _spelled_word(lexicon: Lexicon) -> Phrase:
    spelled = [*_LETTERS, *_PHONETIC, "dash"]
    return Choice((*map(Word, spelled), spoken_digits(lexicon)))
