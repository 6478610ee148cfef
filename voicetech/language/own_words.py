"""Commands in the technician's own words: politely framed, explained by a clause, or asked as a question.

Looked at last, when the utterance is nothing else. A command that puts something on record is then asked about; what
safety hangs on is never taken from here.
"""

from collections.abc import Sequence
from dataclasses import replace

from voicetech.language.clean import Kind, Token, words_of
from voicetech.language.commands import find_command, is_number
from voicetech.language.lexicon import Lexicon, Words
from voicetech.language.meaning import Command, CommandSaid, Question
from voicetech.language.phrasing import bare_words, longest, unframed

_NEVER = frozenset({Command.SAFE_AGAIN, Command.POWER_IS_ON, Command.CLOSE})
"""Commands that only their own words give."""
_PUTS_ON_RECORD = frozenset(
    {Command.DONE, Command.NEXT, Command.SKIP, Command.NOT_FITTED, Command.CANNOT_REACH, Command.LATER, Command.UNDO}
)
_LONGEST_QUESTION = 14
_SHORTEST_BEFORE_A_CLAUSE = 2
"""Words of a command that a clause may follow without a pause: what follows one word may be its object."""


def find_framed(words: Sequence[str], question: Question, lexicon: Lexicon) -> CommandSaid | None:
    """Return the command behind "could you" and before "for me", said once or more, or None."""
    for candidate in (*unframed(bare_words(words, lexicon), lexicon), *unframed(tuple(words), lexicon)):
        found = find_command(candidate, bare_words(candidate, lexicon), question, lexicon)
        if found is None:
            found = _said_twice(candidate, question, lexicon)
        if found is not None:
            return None if found.command in _NEVER else found
    return None


def find_explained(tokens: Sequence[Token], question: Question, lexicon: Lexicon) -> CommandSaid | None:
    """Return the command that talk stands beside ("half a mo, my torch has died"), or None.

    Talk that has a number in it, or takes something back, may be an answer: nothing is taken then.
    """
    parts = _parted(tokens)
    # "Sorry" and "right" open many sentences, so that by themselves they ask for nothing here.
    found = [
        None if longest(lexicon.cues.openings, part, 0) == len(part) else find_framed(part, question, lexicon)
        for part in parts
    ]
    talk = [part for part, command in zip(parts, found, strict=True) if command is None]
    said = next((command for command in found if command is not None), None)
    if said is None or not all(_only_talk(part, lexicon) for part in talk):
        said = _with_clause(words_of(tuple(tokens)), question, lexicon)
    if said is None:
        return None
    return replace(said, confirm=said.confirm or (bool(talk) and said.command in _PUTS_ON_RECORD))


def find_question(words: Sequence[str], lexicon: Lexicon) -> CommandSaid | None:
    """Return what is asked of the program in words of its own ("what's it meant to be"), or None.

    An answer to a question changes nothing, so its key words are enough.
    """
    bare = unframed(bare_words(words, lexicon), lexicon)[0]
    if not bare or len(bare) > _LONGEST_QUESTION or any(is_number(word, lexicon) for word in bare):
        return None
    for asked in lexicon.cues.questions:
        if bare[0] in asked.starts and (not asked.has or asked.has.intersection(bare[1:])):
            return CommandSaid(asked.command)
    return None


def _said_twice(words: Words, question: Question, lexicon: Lexicon) -> CommandSaid | None:
    """Return the command that is said in two ways, one behind the other ("bear with me two secs")."""
    for cut in range(1, len(words)):
        one = find_command(words[:cut], words[:cut], question, lexicon)
        other = find_command(words[cut:], words[cut:], question, lexicon) if one is not None else None
        if one is not None and other is not None and one.command is other.command:
            return one
    return None


def _with_clause(words: Words, question: Question, lexicon: Lexicon) -> CommandSaid | None:
    """Return the command with a clause right behind it ("be quiet a sec I'm on the phone")."""
    for cut in range(len(words) - 1, _SHORTEST_BEFORE_A_CLAUSE - 1, -1):
        if words[cut] in lexicon.cues.clauses and _only_talk(words[cut:], lexicon):
            found = find_framed(words[:cut], question, lexicon)
            if found is not None and found.command not in _PUTS_ON_RECORD:
                return found
    return None


def _parted(tokens: Sequence[Token]) -> list[Words]:
    parts: list[list[Token]] = [[]]
    for token in tokens:
        if token.kind is Kind.MARK and token.text in ",.;:!?…-–—":
            parts.append([])
        else:
            parts[-1].append(token)
    return [words for part in parts if (words := words_of(tuple(part)))]


def _only_talk(words: Words, lexicon: Lexicon) -> bool:
    """Return whether words beside a command leave it as it is: no refusal, no answer and no part of a reading."""
    refusing = words[:1] in lexicon.cues.refusing or words[:1] in (("don't",), ("wait",), ("actually",))
    if refusing and words[:2] != ("not", "sure"):
        return False
    answers = (lexicon.yes, lexicon.no, *lexicon.states.values())
    ends = {words[at:] for at in range(len(words))}
    if any(sayings.understood.accepts(end) for sayings in answers for end in ends):
        return False
    return not any(is_number(word, lexicon) or word in lexicon.units for word in words)
