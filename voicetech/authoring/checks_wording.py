"""What is spoken: short enough, and no two answers that sound the same."""

import string
from collections.abc import Iterator, Sequence
from typing import Final

from voicetech.authoring.checking import Breach, Check, every_outcome, every_step, words_key
from voicetech.authoring.findings import Keys
from voicetech.language.spoken_length import FULL_PROMPT_S, SCRIPT_S, SHORT_PROMPT_S, spoken_length_s
from voicetech.procedure import Ask, Procedure


def long_prompts(procedure: Procedure) -> Iterator[Breach]:
    """A full prompt takes up to 8 seconds, a short one up to 4, placeholders filled with the longest."""
    longest = _longest(procedure)
    for keys, _section, step in every_step(procedure):
        yield from _too_long((*keys, words_key(step)), step.prompt.full, longest, FULL_PROMPT_S)
        yield from _too_long((*keys, "short"), step.prompt.short, longest, SHORT_PROMPT_S)
        yield from _too_long((*keys, "why"), step.prompt.why, longest, FULL_PROMPT_S)
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
    found["cause"] = max((cause.say for cause in causes), key=spoken_length_s, default="")
    found["why"] = max((cause.why_failed for cause in causes), key=spoken_length_s, default="")
    found["remedy"] = max((remedy.say for remedy in procedure.remedies.values()), key=spoken_length_s, default="")
    found["parts"] = max((", ".join(cause.parts) for cause in causes), key=spoken_length_s, default="")
    return found


def _too_long(keys: Keys, text: str, longest: _Longest, most_s: float) -> Iterator[Breach]:
    try:
        takes_s = spoken_length_s(string.Formatter().vformat(text, (), longest))
    except ValueError:
        return
    if takes_s > most_s:
        message = f"takes about {takes_s:.1f} s to say, at most {most_s:.0f} s; say it shorter or split the step"
        yield Breach(keys, message, "too-long")


def colliding_phrases(procedure: Procedure) -> Iterator[Breach]:
    """No phrase means two answers of one question, or two tests."""
    for keys, _section, step in every_step(procedure):
        if isinstance(step, Ask):
            said = [((*keys, "choices", choice.key), choice.hear) for choice in step.choices]
            yield from _collisions(said)
    calls = [(("sections", section.id, "call"), section.call) for section in procedure.sections if section.call]
    yield from _collisions(calls)


def _collisions(said: Sequence[tuple[Keys, tuple[str, ...]]]) -> Iterator[Breach]:
    first: dict[str, Keys] = {}
    for keys, phrases in said:
        for phrase in phrases:
            plain = " ".join(phrase.lower().split())
            other = first.setdefault(plain, keys)
            if other != keys:
                message = f"{phrase!r} means {_name(other)} too; keep it for one of them"
                yield Breach(keys, message, "phrases-collide")


def _name(keys: Keys) -> str:
    return str(keys[1] if keys[-1] == "call" else keys[-1])


CHECKS: Final[tuple[Check, ...]] = (long_prompts, long_scripts, colliding_phrases)
