"""The paper a report is printed on."""

from enum import StrEnum


class Paper(StrEnum):
    """A size of paper, by the name that both layouts know it under."""

    LETTER = "letter"
    A4 = "a4"
