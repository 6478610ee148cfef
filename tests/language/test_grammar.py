"""The spoken grammar: wide, fast to compile, and readable in every sentence it can say."""

import random
import xml.etree.ElementTree as ET
from collections.abc import Callable
from decimal import Decimal
from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from voicetech.language.grammar import compile_words, export_jsgf, export_srgs, sample, spoken_grammar
from voicetech.language.lexicon import Lexicon
from voicetech.language.meaning import Asking, Choice, Question, ReadingSaid, Unclear
from voicetech.language.phrases import Choice as AnyOf
from voicetech.language.phrases import Maybe, Phrase, Repeat, Rule, Sequence, Word
from voicetech.language.templates import sentences
from voicetech.language.understand import understand
from voicetech.language.wording import spoken
from voicetech.units import Reading, Unit


def _question(asking: Asking, after_read_back: bool = False) -> Question:
    return Question(
        asking,
        after_read_back=after_read_back,
        labels=("L1-L2", "L1-neutral"),
        choices=(Choice("plug", ("plug out",)),),
        places=(Choice("bake", ("bake element",)),),
        exact_words=("proved dead",),
    )


@pytest.mark.parametrize("asking", list(Asking))
@pytest.mark.parametrize("after_read_back", [False, True])
def test_whatever_the_grammar_can_say_is_understood(asking: Asking, after_read_back: bool, lexicon: Lexicon) -> None:
    question = _question(asking, after_read_back)
    grammar = spoken_grammar(question, lexicon)
    automaton = compile_words(grammar)
    rng = random.Random(7)
    for _ in range(400):
        words = sample(grammar, rng)
        assert automaton.accepts(words)
        said = understand(" ".join(words), question, lexicon)
        # A state said where a number is owed is understood, and asked about with what was heard.
        assert not isinstance(said, Unclear) or said.candidates, words


@pytest.mark.parametrize(
    "sentence",
    [
        "two thirty eight volts", "nine thousand nine hundred ninety nine volts", "nine nine nine nine point nine",
        "one point two k ohms", "point oh five", "minus three point two", "two and a half", "oh l", "no beep",
        "over limit", "it's smoking", "i got shocked", "make that one nineteen", "go to the bake element",
        "hold on", "skip this one", "all six zero", "l one to neutral one twenty", "twelve eighty", "yes", "plug out",
        "proved dead", "what's the limit", "four hundred eighty volts",
    ],
)  # fmt: skip
def test_the_voltage_grammar_can_say(sentence: str, lexicon: Lexicon) -> None:
    automaton = compile_words(spoken_grammar(_question(Asking.VOLTAGE), lexicon))
    assert automaton.accepts(sentence.split())


@pytest.mark.parametrize(
    ("sentence", "sayable"),
    [
        ("a b two hundred and five", True),
        ("one thousand six", True),
        ("double nine niner triple x", True),
        ("one five two and seven", False),
        ("and seven", False),
    ],
)
def test_and_joins_only_hundreds_in_a_serial_number(sentence: str, sayable: bool, lexicon: Lexicon) -> None:
    automaton = compile_words(spoken_grammar(Question(Asking.SERIAL), lexicon))
    assert automaton.accepts(sentence.split()) == sayable


def test_a_correction_is_sayable_after_a_read_back(lexicon: Lexicon) -> None:
    words = ["no", "two", "forty"]
    assert compile_words(spoken_grammar(_question(Asking.VOLTAGE, True), lexicon)).accepts(words)
    assert not compile_words(spoken_grammar(_question(Asking.VOLTAGE, False), lexicon)).accepts(words)


@pytest.mark.parametrize("value", ["0.1", "12.8", "48", "119.4", "208", "238.6", "999", "1080", "4700", "9999"])
@pytest.mark.parametrize(("asking", "unit"), [(Asking.VOLTAGE, Unit.VOLT), (Asking.RESISTANCE, Unit.OHM)])
def test_every_value_a_meter_shows_is_sayable_as_it_is_read_back(
    value: str, asking: Asking, unit: Unit, lexicon: Lexicon
) -> None:
    automaton = compile_words(spoken_grammar(_question(asking), lexicon))
    assert automaton.accepts(spoken(Reading(Decimal(value), unit)).split())


_WORDS = st.sampled_from("abc").map(Word)
_PHRASES = st.recursive(
    _WORDS,
    lambda part: st.one_of(
        st.lists(part, min_size=1, max_size=3).map(lambda parts: Sequence(tuple(parts))),
        st.lists(part, min_size=1, max_size=3).map(lambda parts: AnyOf(tuple(parts))),
        part.map(Maybe),
        part.map(lambda p: Rule("r", p)),
        st.tuples(part, st.integers(0, 1), st.integers(1, 2)).map(lambda t: Repeat(*t)),
    ),
    max_leaves=5,
)


@given(_PHRASES)
@settings(max_examples=150, deadline=None)
def test_the_automaton_accepts_the_sentences_of_the_tree_and_no_others(phrase: Phrase) -> None:
    said = set(sentences(phrase))
    if said <= {()}:
        return
    automaton = compile_words(phrase)
    longest = min(4, max(map(len, said)) + 1)
    for length in range(longest + 1):
        for words in product("abc", repeat=length):
            assert automaton.accepts(words) == (words in said)
    reached = {0} | {state for arcs in automaton.arcs for state in arcs.values()}
    assert reached == set(range(len(automaton.arcs)))
    assert all(arcs or state in automaton.finals for state, arcs in enumerate(automaton.arcs))


def test_equal_futures_share_a_state() -> None:
    phrase = AnyOf((Sequence((Word("a"), Word("c"))), Sequence((Word("b"), Word("c")))))
    assert len(compile_words(phrase).arcs) == 3


def test_a_grammar_without_words_is_refused() -> None:
    with pytest.raises(ValueError, match="no words"):
        compile_words(Sequence(()))


def test_jsgf_names_its_rules_and_closes_every_bracket(lexicon: Lexicon) -> None:
    text = export_jsgf(spoken_grammar(_question(Asking.VOLTAGE), lexicon), "volts at the block")
    assert text.startswith("#JSGF V1.0 UTF-8 en;\ngrammar volts_at_the_block;\n")
    assert "public <volts_at_the_block> = <utterance>;" in text
    assert "<number> = " in text
    assert text.count("(") == text.count(")")
    assert text.count("[") == text.count("]")


def test_srgs_is_well_formed_and_every_reference_has_its_rule(lexicon: Lexicon) -> None:
    root = ET.fromstring(export_srgs(spoken_grammar(_question(Asking.SERIAL), lexicon), "serial"))
    space = "{http://www.w3.org/2001/06/grammar}"
    rules = {rule.get("id") for rule in root.iter(f"{space}rule")}
    references = {(ref.get("uri") or "").removeprefix("#") for ref in root.iter(f"{space}ruleref")}
    assert root.get("root") in rules
    assert references <= rules


@pytest.mark.parametrize("export", [export_jsgf, export_srgs])
def test_a_grammar_may_not_be_called_like_one_of_its_parts(export: Callable[[Phrase, str], str]) -> None:
    with pytest.raises(ValueError, match="call the grammar otherwise"):
        export(Rule("number", Word("one")), "number")


def test_one_rule_name_for_two_parts_is_refused() -> None:
    phrase = Sequence((Rule("n", Word("a")), Rule("n", Word("b"))))
    with pytest.raises(ValueError, match="'n' stands for two"):
        export_jsgf(phrase, "g")


def test_a_sampled_reading_is_the_reading_that_is_parsed(lexicon: Lexicon) -> None:
    said = understand("two hundred thirty eight point six volts", Question(Asking.VOLTAGE), lexicon)
    assert isinstance(said, ReadingSaid)
    assert spoken(Reading(said.value, said.unit)) == "two hundred thirty eight point six volts"
