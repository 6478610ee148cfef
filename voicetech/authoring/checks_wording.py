"""What is spoken: short enough, sayable, and with no two answers that are said alike."""

import re
import string
from collections.abc import Iterator, Sequence
from itertools import islice
from typing import Final

from voicetech.authoring.checking import Breach, Check, every_outcome, every_step, words_key
from voicetech.authoring.checks_references import every_text
from voicetech.authoring.findings import Keys
from voicetech.language.spoken_length import FULL_PROMPT_S, SCRIPT_S, SHORT_PROMPT_S, spoken_length_s
from voicetech.language.templates import TemplateError, phrase_from, sentences
from voicetech.procedure import Ask, Hold, Inspect, Instruct, Measure, Procedure

MOST_SENTENCES: Final = 2000
"""So many sentences of one phrase are looked at; people say none of the rest."""


def long_prompts(procedure: Procedure) -> Iterator[Breach]:
    """A full prompt takes up to 8 seconds, a short one up to 4, placeholders filled with the longest."""
    longest = _longest(procedure)
    for keys, _section, step in every_step(procedure):
        yield from _too_long((*keys, words_key(step)), step.prompt.full, longest, FULL_PROMPT_S)
        if step.prompt.short != step.prompt.full:
            yield from _too_long((*keys, "short"), step.prompt.short, longest, SHORT_PROMPT_S)
        elif SHORT_PROMPT_S < _takes_s(step.prompt.full, longest) <= FULL_PROMPT_S:
            message = f"has no words of at most {SHORT_PROMPT_S:.0f} s for those who know it; write `short`"
            yield Breach((*keys, words_key(step)), message, "too-long")
        yield from _too_long((*keys, "why"), step.prompt.why, longest, FULL_PROMPT_S)
        for number, pair in enumerate(step.pairs[1:] if isinstance(step, Measure) else (), start=1):
            yield from _too_long((*keys, "between", number), pair.say, longest, SHORT_PROMPT_S)
    for keys, _section, outcome in every_outcome(procedure):
        yield from _too_long((*keys, "say"), outcome.say, longest, FULL_PROMPT_S)
    for warning in procedure.warnings.values():
        yield from _too_long(("warnings", warning.id, "say"), warning.say, longest, FULL_PROMPT_S)


def long_scripts(procedure: Procedure) -> Iterator[Breach]:
    """Danger scripts and hand-overs take up to 20 seconds."""
    longest = _longest(procedure)
    for kind, script in procedure.danger_scripts.items():
        yield from _too_long(("danger_scripts", kind.value, "say"), script.say, longest, SCRIPT_S)
    for hand_over in procedure.hand_overs.values():
        yield from _too_long(("hand_overs", hand_over.id, "say"), hand_over.say, longest, SCRIPT_S)


class _Longest(dict[str, str]):
    def __missing__(self, key: str) -> str:
        return key


def _longest(procedure: Procedure) -> _Longest:
    causes = procedure.causes.values()
    found = _Longest(procedure.settings)
    for _keys, _section, step in every_step(procedure):
        if isinstance(step, Ask) and step.choices:
            said = [choice.hear[0] for choice in step.choices if choice.hear]
            found[step.field] = max(said, key=spoken_length_s, default="")
    found["cause"] = max((cause.say for cause in causes), key=spoken_length_s, default="")
    found["why"] = max((cause.why_failed for cause in causes), key=spoken_length_s, default="")
    found["remedy"] = max((remedy.say for remedy in procedure.remedies.values()), key=spoken_length_s, default="")
    found["cause_too"], found["remedy_too"] = found["cause"], found["remedy"]
    found["parts"] = max((", ".join(cause.parts) for cause in causes), key=spoken_length_s, default="")
    return found


def _takes_s(text: str, longest: _Longest) -> float:
    try:
        return spoken_length_s(string.Formatter().vformat(text, (), longest))
    except (ValueError, LookupError, AttributeError):
        # A brace without its partner is another rule's.
        return 0.0


def _too_long(keys: Keys, text: str, longest: _Longest, most_s: float) -> Iterator[Breach]:
    takes_s = _takes_s(text, longest)
    if takes_s > most_s:
        message = f"takes about {takes_s:.1f} s to say, at most {most_s:.0f} s; say it shorter or split the step"
        yield Breach(keys, message, "too-long")


def spoken_phrases(procedure: Procedure) -> Iterator[tuple[Keys, str]]:
    """Return every phrase that may be said as an answer or to ask for something, with the keys that lead to it."""
    yield from ((("call", at), text) for at, text in enumerate(procedure.call))
    for keys, _section, step in every_step(procedure):
        for choice in step.choices if isinstance(step, Ask) else ():
            yield from (((*keys, "choices", choice.key, at), text) for at, text in enumerate(choice.hear))
    for section in procedure.sections:
        yield from ((("sections", section.id, "call", at), text) for at, text in enumerate(section.call))


def unreadable_phrases(procedure: Procedure) -> Iterator[Breach]:
    """A phrase can be read: its brackets are closed, with words in them; the words of a hold have none."""
    for keys, text in spoken_phrases(procedure):
        try:
            phrase_from(text.lower())
        except TemplateError as error:
            yield Breach(keys, f"cannot be read as a phrase: {error}", "phrase")
        except RecursionError:
            yield Breach(keys, "has brackets in brackets too deep to read; write it flatter", "phrase")
    for keys, _section, step in every_step(procedure):
        for at, text in enumerate(step.until if isinstance(step, Hold) else ()):
            if re.search(r"[\[\]()|<>]", text):
                message = "the words of a hold are said exactly so, without brackets; write each way by itself"
                yield Breach((*keys, "until", at), message, "phrase")


def said(text: str) -> tuple[str, ...]:
    """Return the sentences that a phrase stands for, none where it cannot be read."""
    try:
        return tuple(" ".join(words) for words in islice(sentences(phrase_from(text.lower())), MOST_SENTENCES))
    except (TemplateError, RecursionError):
        return ()


def colliding_phrases(procedure: Procedure) -> Iterator[Breach]:
    """No phrase means two answers of one question, or two tests."""
    for keys, _section, step in every_step(procedure):
        if isinstance(step, Ask):
            yield from _collisions([((*keys, "choices", choice.key), choice.hear) for choice in step.choices])
    yield from _collisions(
        [(("sections", section.id, "call"), section.call) for section in procedure.sections if section.call]
    )


def _collisions(said_of: Sequence[tuple[Keys, tuple[str, ...]]]) -> Iterator[Breach]:
    first: dict[str, Keys] = {}
    for keys, phrases in said_of:
        for at, phrase in enumerate(phrases):
            for plain in said(phrase):
                other = first.setdefault(plain, keys)
                if other != keys:
                    means = f"{plain!r}, which {phrase!r} takes in," if plain != phrase.lower() else repr(phrase)
                    message = f"{means} means {_name(other)} too; keep it for one of them"
                    yield Breach((*keys, at), message, "phrases-collide")
                    break


def _name(keys: Keys) -> str:
    return str(keys[1] if keys[-1] == "call" else keys[-1])


_SAYABLE: Final = re.compile(r"[A-Za-z0-9\u00c0-\u024f]|[\s.,:;?!'’\"()\-–—/…_{}]")


def unspeakable(procedure: Procedure) -> Iterator[Breach]:
    """What is said aloud is written in words, without signs."""
    for keys, text in every_text(procedure):
        signs = dict.fromkeys(sign for sign in text if not _SAYABLE.fullmatch(sign))
        if signs:
            message = f"{' '.join(signs)} cannot be said; write it in words"
            yield Breach(keys, message, "unspeakable")


def say_done(procedure: Procedure) -> Iterator[Breach]:
    """An instruction ends in "Say done", so that nobody waits for the other."""
    for keys, _section, step in every_step(procedure):
        if isinstance(step, Instruct) and step.prompt.full and "say done" not in step.prompt.full.lower():
            message = "does not tell what is waited for; end it with: Say done."
            yield Breach((*keys, "instruct"), message, "say-done")


def hold_words(procedure: Procedure) -> Iterator[Breach]:
    """A hold tells the words that end it."""
    for keys, _section, step in every_step(procedure):
        if isinstance(step, Hold) and step.prompt.full and step.until:
            told = _plain(step.prompt.full)
            if not any(_plain(words) in told for words in step.until):
                message = f"does not tell the words it waits for; say in it: {step.until[0]}"
                yield Breach((*keys, "hold"), message, "hold-words")


def _plain(text: str) -> str:
    return " ".join(re.sub(r"[^\w\s']", " ", text.lower()).split())


_GOOD: Final = frozenset(
    {"good", "ok", "okay", "fine", "intact", "sound", "undamaged", "unharmed", "tight", "alright", "right"}
)
_NO: Final = frozenset({"not", "no", "or", "isn't", "aren't", "never", "wrong", "bad", "loose", "burnt", "damaged"})


def asks_for_good(procedure: Procedure) -> Iterator[Breach]:
    """An inspection asks so that yes means that something is wrong."""
    for keys, _section, step in every_step(procedure):
        if not isinstance(step, Inspect):
            continue
        for key, text in ((words_key(step), step.prompt.full), ("short", step.prompt.short)):
            if key == "short" and text == step.prompt.full:
                continue
            asked = set(_plain(re.split(r"[.!;:]\s", text)[-1]).split())
            if text.rstrip().endswith("?") and asked & _GOOD and not asked & _NO:
                message = "a yes to this would be taken for a fault; ask for what is wrong, as in: burnt or loose?"
                yield Breach((*keys, key), message, "asks-for-good")


CHECKS: Final[tuple[Check, ...]] = (
    long_prompts,
    long_scripts,
    unreadable_phrases,
    colliding_phrases,
    asks_for_good,
    hold_words,
)
ADVICE: Final[tuple[Check, ...]] = (unspeakable, say_done)
"""What is told by the check alone."""
