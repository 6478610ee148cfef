"""Tags of languages, as in en, es-MX or sr-Latn-RS.

Sources: BCP 47 (RFC 5646) for the shape, ISO 639-1 for the codes of two letters, ISO 639-2 for the codes qaa to qtz
that everybody may use for languages of their own, ISO 15924 and ISO 3166-1 for the shape of scripts and regions (all
from memory).
"""

import re
from typing import Final

ENGLISH: Final = "en"
"""What procedures are written in, and what is spoken and heard."""
_TWO_LETTERS: Final = frozenset({
    "aa", "ab", "ae", "af", "ak", "am", "an", "ar", "as", "av", "ay", "az", "ba", "be", "bg", "bi", "bm", "bn",
    "bo", "br", "bs", "ca", "ce", "ch", "co", "cr", "cs", "cu", "cv", "cy", "da", "de", "dv", "dz", "ee", "el",
    "en", "eo", "es", "et", "eu", "fa", "ff", "fi", "fj", "fo", "fr", "fy", "ga", "gd", "gl", "gn", "gu", "gv",
    "ha", "he", "hi", "ho", "hr", "ht", "hu", "hy", "hz", "ia", "id", "ie", "ig", "ii", "ik", "io", "is", "it",
    "iu", "ja", "jv", "ka", "kg", "ki", "kj", "kk", "kl", "km", "kn", "ko", "kr", "ks", "ku", "kv", "kw", "ky",
    "la", "lb", "lg", "li", "ln", "lo", "lt", "lu", "lv", "mg", "mh", "mi", "mk", "ml", "mn", "mr", "ms", "mt",
    "my", "na", "nb", "nd", "ne", "ng", "nl", "nn", "no", "nr", "nv", "ny", "oc", "oj", "om", "or", "os", "pa",
    "pi", "pl", "ps", "pt", "qu", "rm", "rn", "ro", "ru", "rw", "sa", "sc", "sd", "se", "sg", "si", "sk", "sl",
    "sm", "sn", "so", "sq", "sr", "ss", "st", "su", "sv", "sw", "ta", "te", "tg", "th", "ti", "tk", "tl", "tn",
    "to", "tr", "ts", "tt", "tw", "ty", "ug", "uk", "ur", "uz", "ve", "vi", "vo", "wa", "wo", "xh", "yi", "yo",
    "za", "zh", "zu"
})  # fmt: skip
_TAG: Final = re.compile(
    r"(?P<language>[a-z]{2,3})(-[A-Z][a-z]{3})?(-([A-Z]{2}|[0-9]{3}))?(-([a-z0-9]{5,8}|[0-9][a-z0-9]{3}))*"
    r"(-x(-[a-z0-9]{1,8})+)?"
)


def wrong_with_tag(tag: str) -> str | None:
    """Return what is wrong with a tag and what to do, None where it can be one."""
    found = _TAG.fullmatch(tag)
    if found is None:
        return f"{tag!r} is no tag of a language; name the folder as in es, es-MX or sr-Latn-RS"
    language = found["language"]
    if len(language) == len(ENGLISH) and language not in _TWO_LETTERS:
        return f"{language!r} is no language of ISO 639-1; correct it, or use qaa to qtz for one of your own"
    if tag == ENGLISH:
        return "procedures are written in English themselves; change the procedure's own texts"
    return None
