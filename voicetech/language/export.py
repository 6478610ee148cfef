"""A phrase tree as a standard grammar: JSGF, or the W3C's SRGS in its XML form.

Source: JSpeech Grammar Format 1.0 (W3C note) and Speech Recognition Grammar Specification 1.0 (from memory).
"""

import re
from collections.abc import Iterator
from typing import assert_never
from xml.sax.saxutils import escape, quoteattr

from voicetech.language.phrases import Choice, Maybe, Phrase, Repeat, Rule, Sequence, Word

_NOT_NAME = re.compile(r"[^A-Za-z0-9_]")


def export_jsgf(phrase: Phrase, name: str) -> str:
    """Return `phrase` as a JSGF 1.0 grammar called `name`, with one public rule of the same name.

    Named parts become rules of their own. Raises ValueError where one name stands for two different parts.
    """
    rules = _rules(phrase, name)
    lines = ["#JSGF V1.0 UTF-8 en;", f"grammar {_name(name)};", "", f"public <{_name(name)}> = {_jsgf(phrase)};"]
    lines += [f"<{_name(rule)}> = {_jsgf(part)};" for rule, part in rules.items()]
    return "\n".join(lines) + "\n"


def export_srgs(phrase: Phrase, name: str) -> str:
    """Return `phrase` as an SRGS 1.0 XML grammar whose root rule is `name`.

    Named parts become rules of their own. Raises ValueError where one name stands for two different parts.
    """
    rules = {name: phrase, **_rules(phrase, name)}
    root = _name(name)
    body = []
    for rule, part in rules.items():
        scope = ' scope="public"' if rule == name else ""
        body.append(f"  <rule id={quoteattr(_name(rule))}{scope}>{_srgs(part)}</rule>")
    head = (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        '<grammar xmlns="http://www.w3.org/2001/06/grammar" version="1.0" xml:lang="en-US" '
        f'mode="voice" root={quoteattr(root)}>'
    )
    return "\n".join([head, *body, "</grammar>"]) + "\n"


def _rules(phrase: Phrase, root: str) -> dict[str, Phrase]:
    rules: dict[str, Phrase] = {}
    for rule in _named(phrase):
        if _name(rule.name) == _name(root):
            raise ValueError(f"a part of the grammar is called {rule.name!r} as well; call the grammar otherwise")
        if rules.setdefault(rule.name, rule.part) != rule.part:
            raise ValueError(f"the rule name {rule.name!r} stands for two different parts; rename one")
    return rules


def _named(phrase: Phrase) -> Iterator[Rule]:
    match phrase:
        case Rule(_, part):
            yield phrase
            yield from _named(part)
        case Word():
            return
        case Maybe(part) | Repeat(part, _, _):
            yield from _named(part)
        case Choice(parts) | Sequence(parts):
            for part in parts:
                yield from _named(part)
        case _:
            assert_never(phrase)


def _name(text: str) -> str:
    return _NOT_NAME.sub("_", text)


def _jsgf(phrase: Phrase) -> str:
    match phrase:
        case Word(text):
            return text if re.fullmatch(r"[\w']+", text) else f'"{text}"'
        case Rule(name, _):
            return f"<{_name(name)}>"
        case Maybe(part):
            return f"[ {_jsgf(part)} ]"
        case Choice(options):
            return "( " + " | ".join(map(_jsgf, options)) + " )"
        case Sequence(parts):
            return " ".join(map(_jsgf, parts))
        case Repeat(part, least, most):
            text = f"( {_jsgf(part)} )"
            return " ".join([text] * least + [f"[ {text} ]"] * (most - least))
        case _:
            assert_never(phrase)


def _srgs(phrase: Phrase) -> str:
    match phrase:
        case Word(text):
            return escape(text)
        case Rule(name, _):
            return f"<ruleref uri={quoteattr('#' + _name(name))}/>"
        case Maybe(part):
            return f'<item repeat="0-1">{_srgs(part)}</item>'
        case Choice(options):
            return "<one-of>" + "".join(f"<item>{_srgs(option)}</item>" for option in options) + "</one-of>"
        case Sequence(parts):
            return " ".join(map(_srgs, parts))
        case Repeat(part, least, most):
            return f'<item repeat="{least}-{most}">{_srgs(part)}</item>'
        case _:
            assert_never(phrase)
