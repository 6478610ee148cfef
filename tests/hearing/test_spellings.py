from pathlib import Path

import pytest

from tests.hearing.recordings import LEXICON
from voicetech.hearing.spellings import SpellingsError, load_spellings, plain


def test_plain() -> None:
    assert plain(" It’s, twenty-EIGHT.  ohms! ") == "its twenty eight ohms"


DANGER = {"stop", "fire", "smoke", "sparks", "sparking", "gas", "shock", "shocked", "zapped", "burning", "help"}


def test_no_word_is_written_as_a_danger_word() -> None:
    table = load_spellings()
    for word in (table.forms.keys() | table.mishearings.keys()) - DANGER:
        assert not DANGER & {*table.of(word), *table.misheard(word)}


def test_forms_are_plain_and_no_number_takes_the_name_of_another() -> None:
    table = load_spellings()
    numbers = {words[0] for words, number in LEXICON.numbers.items() if number.spoken and len(words) == 1}
    for word in table.forms.keys() | table.mishearings.keys():
        forms = {*table.of(word), *table.misheard(word)}
        assert all(form == plain(form) and form for form in forms)
        if word in numbers and len(word) > 2:
            assert not (forms & numbers) - {word, "oh"}


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("spellings: {ohms: [homes]}", "mishearings"),
        ("spellings: {ohms: homes}\nmishearings: {}", "'ohms' must be a list"),
        ("spellings: {ohms: [1]}\nmishearings: {}", "'ohms' must be a list"),
        ("spellings: [", ":1:"),
        ("- ohms", "mappings"),
        ("spellings: {}\nmishearings: {}\njoined: ohms", "joined"),
        ("spellings: {}\nmishearings: {}\nunspelled: [1]", "unspelled"),
    ],
)
def test_mistakes_are_told_with_their_file(tmp_path: Path, text: str, says: str) -> None:
    path = tmp_path / "spellings.yaml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(SpellingsError, match=says) as told:
        load_spellings(path)
    assert str(path) in str(told.value)


def test_a_missing_table(tmp_path: Path) -> None:
    with pytest.raises(SpellingsError, match="cannot be read"):
        load_spellings(tmp_path / "none.yaml")
