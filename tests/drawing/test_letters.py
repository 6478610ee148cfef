"""Words in lines: never wider than they are taken to be, and none lost."""

from hypothesis import given
from hypothesis import strategies as st

from tests.drawing.on_paper import HEAVY, WIDTHS
from voicetech.drawing.letters import line_width, lines_of, width_of

SENTENCES = st.text(st.characters(codec="ascii", categories=("L", "N", "P", "Zs")), max_size=200)


def test_letters_are_taken_to_be_at_least_as_wide_as_they_are() -> None:
    for letter, wide in WIDTHS.items():
        assert width_of(letter, 100) >= wide * 100, letter
        assert width_of(letter, 100, heavy=True) >= wide * 100 * HEAVY, letter


@given(SENTENCES, st.floats(20, 600), st.booleans())
def test_lines_fit_and_lose_nothing(text: str, width: float, heavy: bool) -> None:
    lines = lines_of(text, 12, width, heavy=heavy)
    assert "".join(word.text for line in lines for word in line) == "".join(text.split())
    for line in lines:
        assert line_width(line, 12) <= width or len(line) == 1
        assert all(len(word.text) == 1 or width_of(word.text, 12, heavy=heavy) <= width for word in line)
