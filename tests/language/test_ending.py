"""Which answers are over, and which may go on."""

import pytest

from voicetech.heard import Alternative, Heard
from voicetech.language.ending import is_over, is_settled
from voicetech.language.grammar import compile_words, spoken_grammar
from voicetech.language.lexicon import Lexicon
from voicetech.language.meaning import Asking, Choice, Question
from voicetech.language.phrases import WordAutomaton

_QUESTIONS = {
    "supply": Question(Asking.VOLTAGE, labels=("L1-L2", "L1-N")),
    "voltage": Question(Asking.VOLTAGE),
    "read back": Question(Asking.VOLTAGE, after_read_back=True),
    "resistance": Question(Asking.RESISTANCE),
    "continuity": Question(Asking.CONTINUITY),
    "temperature": Question(Asking.TEMPERATURE),
    "yes or no": Question(Asking.YES_NO),
    "inspection": Question(Asking.INSPECTION),
    "hold": Question(Asking.COMMAND, exact_words=("plug is out",), places=(Choice("supply", ("supply",)),)),
    "serial": Question(Asking.SERIAL),
    "complaint": Question(Asking.CHOICE, choices=(Choice("bake", ("bake",)), Choice("both", ("bake and broil",)))),
    "note": Question(Asking.NOTE),
}
_grammars: dict[str, WordAutomaton] = {}


def grammar(name: str, lexicon: Lexicon) -> WordAutomaton:
    if name not in _grammars:
        _grammars[name] = compile_words(spoken_grammar(_QUESTIONS[name], lexicon))
    return _grammars[name]


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ("voltage", "two thirty eight volts"),
        ("voltage", "about two forty volts"),
        ("voltage", "one twenty millivolts"),
        ("supply", "l one to l two two forty volts"),
        ("resistance", "forty four point one ohms"),
        ("temperature", "three fifty degrees fahrenheit"),
        ("resistance", "open"),
        ("resistance", "over limit"),
        ("continuity", "closed"),
        ("continuity", "it beeps"),
        ("continuity", "no continuity"),
        ("yes or no", "yes"),
        ("yes or no", "no"),
        ("read back", "yes"),
        ("read back", "no two forty volts"),
        ("inspection", "looks good"),
        ("hold", "plug is out"),
        ("hold", "go to the supply"),
        ("complaint", "bake and broil"),
        *((asked, said) for asked in ("voltage", "hold") for said in ("repeat", "go back", "hold on", "skip this one")),
        *((asked, said) for asked in ("voltage", "yes or no", "note") for said in ("stop", "smoke", "i got shocked")),
    ],
)
def test_nothing_could_follow(lexicon: Lexicon, asked: str, said: str) -> None:
    assert is_settled(said, _QUESTIONS[asked], grammar(asked, lexicon), lexicon)


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ("voltage", "two thirty"),
        ("voltage", "two thirty eight"),
        ("voltage", "two hundred and"),
        ("supply", "l one to l two"),
        ("supply", "all six zero"),
        ("resistance", "one point three k"),
        ("temperature", "three fifty degrees"),
        ("read back", "no"),
        ("complaint", "bake"),
        ("serial", "m seven four two"),
        ("voltage", "how"),
        ("voltage", "where"),
        ("voltage", "take a note"),
        ("note", "the left terminal is green"),
        ("yes or no", "it sparked last night"),
        ("voltage", "the meter on the other"),
        ("voltage", ""),
    ],
)
def test_it_could_go_on(lexicon: Lexicon, asked: str, said: str) -> None:
    assert not is_settled(said, _QUESTIONS[asked], grammar(asked, lexicon), lexicon)


def test_every_likely_alternative_has_to_be_over(lexicon: Lexicon) -> None:
    def over(*alternatives: tuple[str, float]) -> bool:
        heard = Heard(tuple(Alternative(text, share) for text, share in alternatives), "test")
        return is_over(heard, _QUESTIONS["voltage"], grammar("voltage", lexicon), lexicon)

    assert over(("forty volts", 0.6), ("fourteen volts", 0.4))
    assert not over(("forty volts", 0.6), ("forty", 0.4))
    assert over(("forty volts", 0.97), ("forty", 0.03))
    assert not over()
