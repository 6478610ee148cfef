"""Which tokens the speech model may write next, so that the text stays a beginning of something sayable.

The acceptor reads written text character by character against the spoken-word automaton, through the table of
written forms. Its states are sets of places (automaton state, place in a tree of forms), numbered as they are
met; a step is worked out once for each state and character, and remembered for each state and token.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from voicetech.hearing.spellings import Spellings
from voicetech.language.phrases import WordAutomaton

Readings = dict[tuple[str, ...], tuple[int, int]]
"""Words read so far, with the counts of `Parse`."""
READINGS = 64
"""Ways to read a text that are followed at once; a run of glued letters may have thousands."""
DEAD = -1
START = 0
_SEPARATORS = frozenset(" ,.-?!:;…")
_APOSTROPHES = frozenset("'’‘`")


@dataclass(frozen=True, slots=True)
class End:
    """A written form ends here: the automaton state after it and the words it stands for."""

    state: int
    words: tuple[str, ...]
    short: bool
    """True for single letters, which are often written without a space between."""
    misheard: bool
    """True where the form stands for the word at a cost."""


@dataclass(slots=True)
class Node:
    """A place in a tree of written forms."""

    after: "dict[str, Node]" = field(default_factory=dict)
    ends: list[End] = field(default_factory=list)

    def add(self, form: str, end: End) -> None:
        """Add one form below this node."""
        node = self
        for character in form:
            node = node.after.setdefault(character, Node())
        if end not in node.ends:
            node.ends.append(end)


@dataclass(frozen=True, slots=True)
class Place:
    """Where reading stands: an automaton state and a node among the forms that may come next there."""

    state: int
    node: Node

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Place) and self.node is other.node and self.state == other.state

    def __hash__(self) -> int:
        return hash((self.state, id(self.node)))


@dataclass(slots=True)
class Forms:
    """The trees at one automaton state: all forms, and those that may be glued to what was just written."""

    full: Node
    glued_to_word: Node
    glued_to_short: Node


@dataclass(frozen=True, slots=True)
class Parse:
    """Words that a written text may stand for.

    `misheard` counts the words written as mishearings, `glued` the letters written without a space before them.
    """

    words: tuple[str, ...]
    misheard: int
    glued: int


class TokenAcceptor:
    """The automaton, the table of written forms and the model's tokens, joined and cached."""

    def __init__(self, automaton: WordAutomaton, spellings: Spellings, tokens: Sequence[str]) -> None:
        self._automaton = automaton
        self._spellings = spellings
        self._tokens = tokens
        self._forms: dict[int, Forms] = {}
        first = frozenset({Place(0, self._at(0).full)})
        self._states: list[frozenset[Place]] = [first]
        self._numbers: dict[frozenset[Place], int] = {first: START}
        self._steps: list[dict[int, int]] = [{}]
        self._characters: list[dict[str, int]] = [{}]
        self._finals: dict[int, bool] = {}

    def step(self, state: int, token: int) -> int:
        """Return the state after a token, or DEAD."""
        steps = self._steps[state]
        found = steps.get(token)
        if found is None:
            found = steps[token] = self._read(state, self._tokens[token].lower())
        return found

    def final(self, state: int) -> bool:
        """Return whether the text so far is a whole sentence of the grammar."""
        found = self._finals.get(state)
        if found is None:
            found = self._finals[state] = any(
                end.state in self._automaton.finals for place in self._states[state] for end in place.node.ends
            ) or any(
                place.state in self._automaton.finals and place.node is self._at(place.state).full
                for place in self._states[state]
            )
        return found

    def parses(self, text: str) -> tuple[Parse, ...]:
        """Return every way to read a whole written text as words of the grammar."""
        runs: dict[Place, Readings] = {Place(0, self._at(0).full): {(): (0, 0)}}
        for character in text.lower():
            if character in _APOSTROPHES:
                continue
            grown: dict[Place, Readings] = {}
            for place, readings in runs.items():
                for after, end in self._next(place, character):
                    into = grown.setdefault(after, {})
                    glued = end is not None and character.isalpha() and len(end.words[-1]) == 1
                    for words, (misheard, letters) in readings.items():
                        counts = (misheard + (end is not None and end.misheard), letters + glued)
                        _fewest(into, words + end.words if end else words, counts)
            runs = {place: _plainest(readings) for place, readings in grown.items()}
        whole: Readings = {}
        for place, readings in runs.items():
            for words, (misheard, letters) in readings.items():
                if place.state in self._automaton.finals and place.node is self._at(place.state).full and words:
                    _fewest(whole, words, (misheard, letters))
                for ending in place.node.ends:
                    if ending.state in self._automaton.finals:
                        _fewest(whole, words + ending.words, (misheard + ending.misheard, letters))
        return tuple(Parse(words, *counts) for words, counts in _plainest(whole).items())

    def _read(self, state: int, text: str) -> int:
        for character in text:
            if character in _APOSTROPHES:
                continue
            after = self._characters[state].get(character)
            if after is None:
                after = self._characters[state][character] = self._after(state, character)
            if after == DEAD:
                return DEAD
            state = after
        return state

    def _after(self, state: int, character: str) -> int:
        places = frozenset(after for place in self._states[state] for after, _ in self._next(place, character))
        if not places:
            return DEAD
        number = self._numbers.get(places)
        if number is None:
            number = self._numbers[places] = len(self._states)
            self._states.append(places)
            self._steps.append({})
            self._characters.append({})
        return number

    def _next(self, place: Place, character: str) -> Iterator[tuple[Place, End | None]]:
        """Yield each place after a character, with the form that ended before it, if one did."""
        node = place.node
        if character in _SEPARATORS:
            yield from self._separated(place)
            return
        deeper = node.after.get(character)
        if deeper is not None:
            yield Place(place.state, deeper), None
        for end in node.ends:
            forms = self._at(end.state)
            glued = (forms.glued_to_short if end.short else forms.glued_to_word).after.get(character)
            if glued is not None:
                yield Place(end.state, glued), end

    def _separated(self, place: Place) -> Iterator[tuple[Place, End | None]]:
        node = place.node
        if node is self._at(place.state).full:
            yield place, None
        inside = node.after.get(" ")
        if inside is not None:
            yield Place(place.state, inside), None
        for end in node.ends:
            yield Place(end.state, self._at(end.state).full), end

    def _at(self, state: int) -> Forms:
        forms = self._forms.get(state)
        if forms is None:
            forms = self._forms[state] = self._grow(state)
        return forms

    def _grow(self, state: int) -> Forms:
        arcs = self._automaton.arcs[state]
        forms = Forms(Node(), Node(), Node())
        for word, target in arcs.items():
            for form in self._spellings.of(word):
                self._add(forms, form, End(target, (word,), len(word) == len(form) == 1, misheard=False), word)
            for form in self._spellings.misheard(word):
                self._add(forms, form, End(target, (word,), len(word) == len(form) == 1, misheard=True), word)
        return forms

    def _add(self, forms: Forms, form: str, end: End, word: str) -> None:
        forms.full.add(form, end)
        if word in self._spellings.joined:
            forms.glued_to_word.add(form, end)
        if end.short or word in self._spellings.joined:
            forms.glued_to_short.add(form, end)


def _plainest(readings: Readings) -> Readings:
    """Keep the readings with the fewest mishearings, then the fewest glued letters and words."""
    if len(readings) <= READINGS:
        return readings
    ordered = sorted(readings.items(), key=lambda item: (item[1], len(item[0]), item[0]))
    return dict(ordered[:READINGS])


def _fewest(readings: Readings, words: tuple[str, ...], counts: tuple[int, int]) -> None:
    readings[words] = min(readings.get(words, counts), counts)
