"""From a phrase tree to the smallest deterministic automaton over its words."""

from collections.abc import Iterable
from typing import assert_never

from voicetech.language.phrases import Choice, Maybe, Phrase, Repeat, Rule, Sequence, Word, WordAutomaton


class _Drawn:
    """A nondeterministic automaton being drawn: word arcs and silent arcs between numbered states."""

    def __init__(self) -> None:
        self.arcs: list[dict[str, list[int]]] = [{}]
        self.silent: list[list[int]] = [[]]

    def state(self) -> int:
        self.arcs.append({})
        self.silent.append([])
        return len(self.arcs) - 1

    def draw(self, phrase: Phrase, start: int, end: int) -> None:
        """Add every sentence of `phrase` as a path from `start` to `end`."""
        match phrase:
            case Word(text):
                self.arcs[start].setdefault(text, []).append(end)
            case Rule(_, part):
                self.draw(part, start, end)
            case Maybe(part):
                self.draw(part, start, end)
                self.silent[start].append(end)
            case Choice(options):
                for option in options:
                    self.draw(option, start, end)
            case Sequence(parts):
                self._chain(parts, start, end)
            case Repeat(part, least, most):
                self._chain((part,) * least + (Maybe(part),) * (most - least), start, end)
            case _:
                assert_never(phrase)

    def _chain(self, parts: tuple[Phrase, ...], start: int, end: int) -> None:
        if not parts:
            self.silent[start].append(end)
            return
        for part in parts[:-1]:
            middle = self.state()
            self.draw(part, start, middle)
            start = middle
        self.draw(parts[-1], start, end)

    def closures(self) -> list[frozenset[int]]:
        """Return, for each state, the states it reaches in silence, itself included.

        Only states with word arcs or without silent ones can matter to what comes next.
        """
        reached: list[frozenset[int]] = []
        for state, direct in enumerate(self.silent):
            if not direct:
                reached.append(frozenset((state,)))
                continue
            seen, todo = {state}, list(direct)
            while todo:
                there = todo.pop()
                if there not in seen:
                    seen.add(there)
                    todo.extend(self.silent[there])
            reached.append(frozenset(s for s in seen if self.arcs[s] or not self.silent[s]))
        return reached


def compile_words(phrase: Phrase) -> WordAutomaton:
    """Return the smallest deterministic automaton that accepts the sentences of `phrase` and no others.

    Every state can reach a final one. Raises ValueError where the phrase can say nothing but silence.
    """
    drawn = _Drawn()
    end = drawn.state()
    drawn.draw(phrase, 0, end)
    arcs, finals = _determined(drawn, end)
    if not arcs[0]:
        raise ValueError("the phrase has no words; a grammar needs at least one sentence")
    return _smallest(arcs, finals)


def after_word(word: str, automaton: WordAutomaton) -> WordAutomaton:
    """Return the automaton whose sentences are this word and then a sentence of the given one."""
    shifted = tuple({w: state + 1 for w, state in arcs.items()} for arcs in automaton.arcs)
    return WordAutomaton(({word: 1}, *shifted), frozenset(state + 1 for state in automaton.finals))


def _determined(drawn: _Drawn, end: int) -> tuple[list[dict[str, int]], set[int]]:
    closures = drawn.closures()
    start = closures[0]
    numbers: dict[frozenset[int], int] = {start: 0}
    todo = [start]
    arcs: list[dict[str, int]] = [{}]
    finals: set[int] = set()
    merged: dict[frozenset[int], frozenset[int]] = {}
    while todo:
        states = todo.pop()
        number = numbers[states]
        if end in states:
            finals.add(number)
        out = arcs[number]
        for word, ends in _moves(drawn, states).items():
            direct = frozenset(ends)
            target = merged.get(direct)
            if target is None:
                target = frozenset().union(*(closures[s] for s in direct))
                merged[direct] = target
            if target not in numbers:
                numbers[target] = len(arcs)
                arcs.append({})
                todo.append(target)
            out[word] = numbers[target]
    return arcs, finals


def _moves(drawn: _Drawn, states: Iterable[int]) -> dict[str, list[int]]:
    moves: dict[str, list[int]] = {}
    for state in states:
        for word, ends in drawn.arcs[state].items():
            known = moves.get(word)
            moves[word] = ends if known is None else known + ends
    return moves


def _smallest(arcs: list[dict[str, int]], finals: set[int]) -> WordAutomaton:
    """Merge states with the same future, the last ones first.

    A phrase tree repeats nothing for ever, so its automaton has no cycle and one pass is enough. Every drawn
    path ends in the final state, so every state can reach one.
    """
    merged: dict[tuple[bool, frozenset[tuple[str, int]]], int] = {}
    kept: list[dict[str, int]] = []
    final: list[bool] = []
    name: dict[int, int] = {}
    for state in _last_first(arcs):
        out = {word: name[to] for word, to in arcs[state].items()}
        key = (state in finals, frozenset(out.items()))
        if key not in merged:
            merged[key] = len(kept)
            kept.append(out)
            final.append(state in finals)
        name[state] = merged[key]
    top = len(kept) - 1
    return WordAutomaton(
        tuple({word: top - to for word, to in sorted(out.items())} for out in reversed(kept)),
        frozenset(top - s for s, is_final in enumerate(final) if is_final),
    )


def _last_first(arcs: list[dict[str, int]]) -> list[int]:
    order: list[int] = []
    seen = {0}
    todo = [(0, iter(set(arcs[0].values())))]
    while todo:
        state, ends = todo[-1]
        for there in ends:
            if there not in seen:
                seen.add(there)
                todo.append((there, iter(set(arcs[there].values()))))
                break
        else:
            order.append(state)
            todo.pop()
    return order
