"""Whether an answer is over: could anything the grammar lets follow change what it means?

"Two thirty" may become "two thirty eight", and "no" a correction; after "volts" nothing follows, and what may follow
"yes" ("yes it is") means the same. The grammar says what may follow, `understand` what it would mean.
"""

from collections.abc import Iterator
from typing import Final

from voicetech.heard import Heard
from voicetech.language.gist import gist
from voicetech.language.lexicon import Lexicon
from voicetech.language.meaning import (
    Asking,
    Command,
    CommandSaid,
    DangerSaid,
    Question,
    Unclear,
)
from voicetech.language.phrases import WordAutomaton
from voicetech.language.understand import understand

WORTH_WAITING: Final = 0.1
"""An alternative less likely than this is not waited for. Judgement, no source."""
WORDS_ON: Final = 4
"""Words that are looked ahead; what changes an answer comes at once ("eight", "and a half", "far along are we")."""
SENTENCES_ON: Final = 300
"""Sentences that are looked at; where more than that may follow, the answer counts as one that goes on."""


def is_over(heard: Heard, question: Question, automaton: WordAutomaton, lexicon: Lexicon) -> bool:
    """Return whether all that was likely said is settled; False where nothing was heard within the grammar."""
    likely = [a.text for a in heard.alternatives if a.probability >= WORTH_WAITING]
    return bool(likely) and all(is_settled(text, question, automaton, lexicon) for text in likely)


def is_settled(text: str, question: Question, automaton: WordAutomaton, lexicon: Lexicon) -> bool:
    """Return whether nothing that may follow `text` at this question would change its meaning.

    Danger that is happening is always settled: nobody waits for its end. What is not understood, and notes in free
    words, never are.
    """
    meaning = understand(text, question, lexicon)
    match meaning:
        case Unclear() | DangerSaid(present=False) | CommandSaid(command=Command.NOTE):
            return False
        case DangerSaid():
            return True
        case _ if question.asking is Asking.NOTE:
            return False
        case _:
            pass
    same = gist(meaning)
    words = text.split()
    state = _after(words, automaton)
    if state is None:
        return False
    for count, more in enumerate(_continuations(automaton, state)):
        if count >= SENTENCES_ON:
            return False
        then = understand(" ".join([*words, *more]), question, lexicon)
        # Danger that follows is heard by itself.
        if not isinstance(then, DangerSaid) and gist(then) != same:
            return False
    return True


def _after(words: list[str], automaton: WordAutomaton) -> int | None:
    state: int | None = 0
    for word in words:
        if state is None:
            return None
        state = automaton.step(state, word)
    return state


def _continuations(automaton: WordAutomaton, state: int) -> Iterator[tuple[str, ...]]:
    """Yield what may follow up to a whole sentence, the shortest first."""
    ahead: list[tuple[int, tuple[str, ...]]] = [(state, ())]
    for _ in range(WORDS_ON):
        ahead = [(there, (*said, word)) for at, said in ahead for word, there in automaton.arcs[at].items()]
        for at, said in ahead:
            if at in automaton.finals:
                yield said
