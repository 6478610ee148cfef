"""Phrase templates: "[please] (say|tell me) again" to a phrase tree, and back to every sentence it can say.

Square brackets may be left out, round brackets choose, a bar separates, and `<name>` stands for a named list.
"""

import re
from collections.abc import Iterator, Mapping
from typing import assert_never

from voicetech.language.phrases import Choice, Maybe, Phrase, Repeat, Rule, Sequence, Word

_TOKEN = re.compile(r"[\[\]()|]|<[a-z_ ]+>|[^\s\[\]()|<>]+")


class TemplateError(ValueError):
    """A template that cannot be read; the message says where and what to do."""


def phrase_from(template: str, names: Mapping[str, Phrase] | None = None) -> Phrase:
    """Return the phrase tree of a template.

    Raises TemplateError for an unclosed bracket, an empty choice or a name that is not in `names`.
    """
    tokens = _TOKEN.findall(template)
    phrase, rest = _choice(tokens, 0, template, names or {})
    if rest != len(tokens):
        raise TemplateError(f"{template!r}: {tokens[rest]!r} closes nothing; remove it or open its bracket")
    return phrase


def _choice(tokens: list[str], at: int, template: str, names: Mapping[str, Phrase]) -> tuple[Phrase, int]:
    options: list[Phrase] = []
    while True:
        option, at = _sequence(tokens, at, template, names)
        options.append(option)
        if at == len(tokens) or tokens[at] != "|":
            return one_of(options), at
        at += 1


def _sequence(tokens: list[str], at: int, template: str, names: Mapping[str, Phrase]) -> tuple[Phrase, int]:
    parts: list[Phrase] = []
    while at < len(tokens) and tokens[at] not in ("|", "]", ")"):
        token = tokens[at]
        at += 1
        if token in ("[", "("):
            part, at = _choice(tokens, at, template, names)
            closing = "]" if token == "[" else ")"
            if at == len(tokens) or tokens[at] != closing:
                raise TemplateError(f"{template!r}: {token!r} is not closed; add {closing!r}")
            at += 1
            parts.append(Maybe(part) if token == "[" else part)
        elif token.startswith("<"):
            name = token[1:-1]
            if name not in names:
                raise TemplateError(f"{template!r}: there is no list named {name!r}; known: {sorted(names)}")
            parts.append(names[name])
        else:
            parts.append(Word(token))
    if not parts:
        raise TemplateError(f"{template!r}: an empty choice; write the words, or use [ ] for what may be left out")
    return in_order(parts), at


def one_of(options: list[Phrase]) -> Phrase:
    """Return the only option, or a choice of them."""
    return options[0] if len(options) == 1 else Choice(tuple(options))


def in_order(parts: list[Phrase]) -> Phrase:
    """Return the only part, or their sequence."""
    return parts[0] if len(parts) == 1 else Sequence(tuple(parts))


def words_phrase(text: str) -> Phrase:
    """Return the phrase of plain words, one after the other."""
    return in_order([Word(word) for word in text.split()])


def sentences(phrase: Phrase) -> Iterator[tuple[str, ...]]:
    """Yield every sentence a phrase can say; meant for commands and other short phrases."""
    match phrase:
        case Word(text):
            yield (text,)
        case Rule(_, part):
            yield from sentences(part)
        case Maybe(part):
            yield ()
            yield from sentences(part)
        case Choice(options):
            for option in options:
                yield from sentences(option)
        case Sequence(parts):
            yield from _joined(parts)
        case Repeat(part, least, most):
            for times in range(least, most + 1):
                yield from _joined((part,) * times)
        case _:
            assert_never(phrase)


def _joined(parts: tuple[Phrase, ...]) -> Iterator[tuple[str, ...]]:
    if not parts:
        yield ()
        return
    for head in sentences(parts[0]):
        for tail in _joined(parts[1:]):
            yield head + tail
