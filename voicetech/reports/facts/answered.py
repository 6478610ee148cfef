"""Answers and steps of one stage of the job, as lines of text."""

from voicetech.dialogue.answering import LATER
from voicetech.reports.blocks import Run, Style, Text
from voicetech.reports.clock import Clock
from voicetech.reports.facts.job import JobFacts
from voicetech.reports.facts.naming import Stage
from voicetech.reports.facts.plate import written
from voicetech.reports.facts.results import AnswerFact
from voicetech.reports.text import LEFT_OUT, line, said

_SPELLED = frozenset({"model", "serial"})
_OWN_WORDS = frozenset({"refusal", "seen_too", "why_it_failed"})


def answers_at(facts: JobFacts, stage: Stage, but: frozenset[str] = frozenset()) -> tuple[Text, ...]:
    """Return the answers of a stage in order, those that stand under the fields of `but` being told elsewhere."""
    return tuple(
        answer_line(answer)
        for answer in facts.answers
        if answer.stage is stage and (answer.field not in but or answer is not facts.answer(answer.field))
    )


def answer_line(answer: AnswerFact) -> Text:
    """Return an answer as one line: a sentence where a yes or a no makes one, else its name and what was said."""
    told = answer.sentence
    runs = (Run(told),) if told is not None else (Run(f"{answer.called}: "), *answer_runs(answer))
    return line(runs, withdrawn=answer.withdrawn, unverified=answer.unverified)


def answer_runs(answer: AnswerFact) -> Text:
    """Return what was answered: numbers that were spelled in characters, own words as a quotation."""
    if answer.given == LATER:
        return (Run("not known"),)
    characters = written(answer.given) if answer.field in _SPELLED else None
    if characters is not None and answer.given != LEFT_OUT:
        as_said = "" if characters.lower() == answer.given.lower() else f" (said: {answer.value})"
        return (Run(characters), Run(as_said, Style.SMALL))
    return (said(answer.value) if answer.field in _OWN_WORDS else Run(answer.value),)


def done_at(facts: JobFacts, stage: Stage, clock: Clock) -> tuple[Text, ...]:
    """Return what was done in a stage, in order, with its times."""
    return tuple(
        line((Run(done.what.rstrip(".")),), clock.time(done.at_s), withdrawn=done.withdrawn)
        for done in facts.done
        if done.stage is stage
    )
