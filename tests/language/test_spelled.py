import pytest
from hypothesis import given
from hypothesis import strategies as st

from voicetech.language.spelled import characters


@pytest.mark.parametrize(
    ("words", "spelled"),
    [
        ("ten thirty one fifty eight", "103158"),
        ("one oh three one five eight", "103158"),
        ("six hundred and seventy eight", "678"),
        ("six hundred five", "605"),
        ("six hundred", "600"),
        ("one thousand", "1000"),
        ("forty oh", "400"),
        ("a bravo x-ray nine dash oh", "ABX9-0"),
        ("juliett juliet", "JJ"),
        ("burnt smell", None),
        ("one burnt", None),
        ("", ""),
    ],
)
def test_characters(words: str, spelled: str | None) -> None:
    assert characters(words) == spelled


DIGITS = ["zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine"]


@given(st.lists(st.integers(0, 9), max_size=20))
def test_digit_by_digit(digits: list[int]) -> None:
    assert characters(" ".join(DIGITS[d] for d in digits)) == "".join(map(str, digits))
