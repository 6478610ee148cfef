"""Which written texts count as which spoken words."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.hearing.recordings import DIGITS, loop, sentences
from voicetech.hearing.spellings import Spellings
from voicetech.hearing.token_acceptor import DEAD, START, TokenAcceptor
from voicetech.language.phrases import WordAutomaton
from voicetech.language.spelled import characters

SPELLINGS = Spellings(
    {"ohms": ("homes", "oh ms"), "two": ("to",), "u": ("you",)},
    {"eight": ("a",), "five": ("fire",)},
    frozenset({"ohms"}),
    frozenset({"by"}),
)
ONES = [word for word in DIGITS if word not in ("zero", "oh")]


def said(text: str, automaton: WordAutomaton) -> set[str]:
    return {" ".join(parse.words) for parse in TokenAcceptor(automaton, SPELLINGS, []).parses(text)}


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("Twenty-eight ohms.", "twenty eight ohms"),
        (" twenty, EIGHT homes", "twenty eight ohms"),
        ("twenty eighthomes", "twenty eight ohms"),
        ("twenty eight oh-ms!", "twenty eight ohms"),
        ("twenty a ohms", "twenty eight ohms"),
        ("It’s", "it's"),
        ("its.", "it's"),
    ],
)
def test_written_forms_of_one_sentence(text: str, words: str) -> None:
    assert said(text, sentences("twenty eight ohms", "it's", "one point two")) == {words}


@pytest.mark.parametrize(
    "text",
    [
        "twenty",
        "twenty eight ohms five",
        "twentyeight ohms",
        "eight",
        "",
        " . ",
        "homes",
        "208 ohms",
        "20 8.5 ohms",
        "ohm",
    ],
)
def test_what_is_not_a_whole_sentence_says_nothing(text: str) -> None:
    assert said(text, sentences("twenty eight ohms")) == set()


def test_glued_letters_and_digits() -> None:
    assert said("Ux-ab", loop([*"abux"])) == {"u x a b"}
    assert said("you five", loop(["u", "five"])) == {"u five"}


@pytest.mark.parametrize(
    ("text", "readings"),
    [
        ("238", {"two three eight", "two thirty eight", "two hundred thirty eight", "two hundred and thirty eight"}),
        ("238.5", {"two three eight point five", "two thirty eight point five"}),
        ("20", {"two zero", "two oh", "twenty"}),
        ("28", {"two eight", "twenty eight"}),
        ("2 38", {"two thirty eight", "two three eight"}),
        ("2:40", {"two forty", "two four zero", "two four oh"}),
    ],
)
def test_figures_are_read_as_people_say_them(text: str, readings: set[str]) -> None:
    numbers = loop(["zero", "oh", *ONES, "twenty", "thirty", "forty", "hundred", "and", "point"])
    found = said(text, numbers)
    assert readings <= found
    assert all(figures_of(words) == text.replace(" ", "").replace(":", "") for words in found)


def figures_of(words: str) -> str:
    """Return what the words say in figures, worked out by another road: the reading of serial numbers."""
    return str(characters(words))


def test_a_decimal_is_never_run_together() -> None:
    assert "two three eight five" not in said("238.5", loop(["two", "three", "eight", "five", "point"]))


def test_figures_are_followed_where_letters_may_come_next() -> None:
    tokens = [" 2", " two", "b"]
    readings = TokenAcceptor(loop([*ONES, "k"]), SPELLINGS, tokens)
    serial = TokenAcceptor(loop([*ONES, *"abcdefghijklmnopqrstuvwxyz"]), SPELLINGS, tokens)
    assert readings.step(START, 0) == DEAD
    assert serial.step(serial.step(START, 0), 2) != DEAD


def test_a_long_token_is_a_word_and_spells_nothing() -> None:
    acceptor = TokenAcceptor(loop([*"abcdefghijklmnopqrstuvwxyz"]), SPELLINGS, [" pretty", " pr", "et", "ty"])
    assert acceptor.step(START, 0) == DEAD
    state = START
    for token in (1, 2, 3):
        state = acceptor.step(state, token)
    assert acceptor.final(state)


def test_a_short_word_spells_nothing_unless_it_stands_in_capitals() -> None:
    letters = loop([*"abcdefghijklmnopqrstuvwxyz", *ONES])
    assert said("One by two", letters) == set()
    assert said("1BY2", letters) >= {"one b y two"}
    assert said("1-b-y-2", letters) >= {"one b y two"}
    acceptor = TokenAcceptor(letters, SPELLINGS, [" by", "BY"])
    assert acceptor.step(START, 0) == DEAD
    assert acceptor.step(START, 1) != DEAD


def test_mishearings_are_counted() -> None:
    (parse,) = TokenAcceptor(sentences("eight eight"), SPELLINGS, []).parses("a eight")
    assert parse.misheard == 1


def test_readings_of_glued_letters_stay_few() -> None:
    grammar = loop([*"abcdefghijklmnopqrstuvwxyz", *DIGITS, "eleven", "kilo"])
    assert 0 < len(TokenAcceptor(grammar, SPELLINGS, []).parses("u" + "you" * 12)) <= 64


TOKENS = [" two", " to", " thi", "rty", "rt", "y", " eight", "2", ".", ",", " ", "é", " homes", "h", "omes"]


def test_tokens_step_to_the_end_or_die() -> None:
    acceptor = TokenAcceptor(sentences("two thirty ohms"), SPELLINGS, TOKENS)
    state = START
    for token in (1, 2, 4, 5, 7 + 1):
        state = acceptor.step(state, token)
        assert state != DEAD
        assert not acceptor.final(state)
    assert acceptor.step(state, 11) == DEAD
    assert acceptor.final(acceptor.step(state, 12))
    assert acceptor.step(START, 6) == DEAD


@given(st.lists(st.sampled_from(range(len(TOKENS))), max_size=8))
def test_stepping_agrees_with_parsing(tokens: list[int]) -> None:
    grammar = sentences("two thirty eight ohms", "two ohms", "eight two", "two")
    acceptor = TokenAcceptor(grammar, SPELLINGS, TOKENS)
    state = START
    for token in tokens:
        state = acceptor.step(state, token) if state != DEAD else DEAD
    text = "".join(TOKENS[token] for token in tokens)
    parses = acceptor.parses(text)
    if any("2" in TOKENS[token] for token in tokens):
        assert state == DEAD
    else:
        assert (state != DEAD and acceptor.final(state)) == bool(parses)
    assert all(grammar.accepts(parse.words) for parse in parses)


@given(st.lists(st.sampled_from(ONES), min_size=1, max_size=6))
def test_every_sentence_is_read_as_itself(words: list[str]) -> None:
    assert " ".join(words) in said(" ".join(words), loop(ONES))
