"""Model and serial numbers, spelled in letters, phonetic words and numbers."""

from voicetech.language.clean import Kind, Token
from voicetech.language.lexicon import Lexicon
from voicetech.language.meaning import Meaning, WordsSaid

PHONETIC = {
    "alfa": "A", "alpha": "A", "bravo": "B", "charlie": "C", "delta": "D", "echo": "E", "foxtrot": "F", "golf": "G",
    "hotel": "H", "india": "I", "juliett": "J", "juliet": "J", "kilo": "K", "lima": "L", "mike": "M", "november": "N",
    "oscar": "O", "papa": "P", "quebec": "Q", "romeo": "R", "sierra": "S", "tango": "T", "uniform": "U", "victor": "V",
    "whiskey": "W", "whisky": "W", "xray": "X", "yankee": "Y", "zulu": "Z", "dash": "-", "hyphen": "-", "slash": "/",
}  # fmt: skip
"""Source: the spelling alphabet of the International Civil Aviation Organization (from memory)."""
_NUMBER_ROLES = frozenset({"digit", "teen", "tens", "hundred", "thousand", "double", "triple", "point"})


def read_serial(tokens: tuple[Token, ...], lexicon: Lexicon) -> Meaning | None:
    """Return the spelled words as they were said, or None where a word cannot be part of a serial number."""
    words: list[str] = []
    for token in tokens:
        number = lexicon.numbers.get((token.text,))
        spelled = len(token.text) == 1 and token.text.isalnum()
        if token.kind is Kind.MARK and token.text in "-./,":
            continue
        if token.text == "ray" and words[-1:] == ["x"]:
            words[-1] = "xray"
            continue
        in_number = number is not None and number.role in _NUMBER_ROLES
        typed = token.kind is Kind.NUMBER or any(c.isdigit() for c in token.text)
        letters = token.kind is Kind.WORD and token.typed.isupper()
        if not (spelled or in_number or typed or letters or token.text in PHONETIC or token.text == "and"):
            return None
        words.append(token.text)
    return WordsSaid(" ".join(words), confirm=True) if words and words != ["and"] else None
