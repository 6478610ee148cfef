"""Where probes are held and what is said of it: one source for the tester, both ends, both legs, the unit asked for."""

import re
from collections.abc import Iterator, Mapping
from decimal import Decimal
from typing import Final

from voicetech.authoring.checking import Breach, Check, every_step, words_key
from voicetech.authoring.checks_measuring import FIGURES
from voicetech.authoring.format_steps import EACH
from voicetech.dialogue.measuring import SUPPLY_PAIRS
from voicetech.electrical.appliance import Heater
from voicetech.limit_rules import SUPPLY_PAIRS as SUPPLY_RULE
from voicetech.procedure import FRAME, Ask, Measure, Pair, Phase, Procedure, SafetyRole, Section
from voicetech.units import Quantity, Unit

_UNIT_WORDS: Final[Mapping[str, Unit]] = {
    "volts": Unit.VOLT,
    "ohms": Unit.OHM,
    "amps": Unit.AMPERE,
    "watts": Unit.WATT,
    "kilowatts": Unit.KILOWATT,
    "fahrenheit": Unit.FAHRENHEIT,
    "celsius": Unit.CELSIUS,
    "seconds": Unit.SECOND,
}
_UNIT_ASKED: Final = re.compile(rf"(?:how many |[,.:;] |^)({'|'.join(_UNIT_WORDS)})\b[^,.:;?]*\?")
"""A unit that is asked for; one that is only named may be a plate's or a supply's."""
_ANY_POINT: Final = frozenset({"terminal", "the", "of", "to"})
"""Words that many points have and that tell none from another."""
_FIGURES: Final[Mapping[str, str]] = {"one": "1", "two": "2", "three": "3", "four": "4"}
_GROUND: Final = re.compile(r"\b(ground|earth)\b")
_ENDS: Final = 2
_NUMBER: Final = re.compile(r"\d+(?:\.\d+)?")
_SPAN: Final = re.compile(r"(\d+(?:\.\d+)?) to (\d+(?:\.\d+)?)")
_POWER: Final = frozenset({Unit.WATT, Unit.KILOWATT})
_TESTER: Final = (SafetyRole.TESTER_BEFORE, SafetyRole.TESTER_AFTER)
_LEAKS: Final = frozenset({"open", "open-cold"})
"""An insulation tester comes afterwards, when the element is known to be whole."""
_A_BUZZER_TELLS: Final = frozenset({"fuse", "closed-contact"})


def tester_source(procedure: Procedure) -> Iterator[Breach]:
    """The tester is proved before and after at the same known live source."""
    for section in procedure.sections:
        proved = [step for step in section.steps if isinstance(step, Measure) and step.role in _TESTER]
        for step in proved[1:]:
            first, ends = ({frozenset((pair.first, pair.second)) for pair in each.pairs} for each in (proved[0], step))
            if first != ends:
                message = f"the tester is proved at other points than by {proved[0].id}; take the same live source"
                yield Breach(("sections", section.id, "steps", step.id, "between"), message, "tester-source")


def supply_limits(procedure: Procedure) -> Iterator[Breach]:
    """A supply that is judged as a whole takes the one rule whose limits go by the pair."""
    for keys, _section, step in every_step(procedure):
        if isinstance(step, Measure) and step.judged_as != EACH and step.limits.rule != SUPPLY_RULE:
            message = f"a supply is judged as a whole, whatever these limits say; write `rule: {SUPPLY_RULE}`"
            yield Breach((*keys, "limits", "rule"), message, "supply-limits")


def units_said(procedure: Procedure) -> Iterator[Breach]:
    """The unit that a question names is the unit that its answer counts in."""
    for keys, _section, step in every_step(procedure):
        unit = step.unit if isinstance(step, (Ask, Measure)) else None
        if unit is None:
            continue
        # Who names watts or kilowatts beside the number is understood either way.
        fits = _POWER if unit in _POWER else {unit}
        for key, words in ((words_key(step), step.prompt.full), ("short", step.prompt.short)):
            said = _UNIT_ASKED.findall(words.lower())
            if said and not fits & {_UNIT_WORDS[word] for word in said}:
                message = f"asks for {said[-1]}, and the answer counts in {unit.name.lower()}s; correct one of the two"
                yield Breach((*keys, key), message, "unit-said")
                break


def one_end(procedure: Procedure) -> Iterator[Breach]:
    """The test of an element looks for a leak at both its ends: one that is open leaks at one end only."""
    circuit = procedure.circuit
    heaters = [part for part in circuit.parts if isinstance(part, Heater)] if circuit is not None else []
    for section in procedure.sections:
        pairs = [{pair.first, pair.second} for step in _measured(section) for pair in step.pairs]
        leaks = [step for step in _measured(section) if step.limits.rule in _LEAKS]
        for heater in heaters:
            ends = {heater.first, heater.second}
            for step in leaks if ends in pairs else ():
                for number, pair in enumerate(step.pairs):
                    metal = {pair.first, pair.second} - ends
                    read = {end for each in step.pairs for end in _other_end(each, metal)}
                    if len(metal) == 1 and len(read) == 1:
                        lost = next(iter(ends - read))
                        message = f"an open element leaks at one end only; measure {lost} of {heater.name} too"
                        yield Breach(("sections", section.id, "steps", step.id, "between", number), message, "one-end")


def _other_end(pair: Pair, metal: set[str]) -> set[str]:
    """Return the end of a pair that is not this metal; nothing where the pair is not measured to it."""
    ends = {pair.first, pair.second}
    return ends - metal if metal <= ends else set()


def _measured(section: Section) -> list[Measure]:
    return [step for step in section.steps if isinstance(step, Measure)]


def one_leg(procedure: Procedure) -> Iterator[Breach]:
    """Where one leg of a supply is read to neutral or frame, the other is read too."""
    for keys, _section, step in every_step(procedure):
        if not isinstance(step, Measure) or step.judged_as == EACH:
            continue
        places = {SUPPLY_PAIRS.get(pair.label) for pair in step.pairs}
        for one, other in (("l1_n", "l2_n"), ("l1_frame", "l2_frame")):
            if (one in places) != (other in places):
                message = "reads one leg and not the other, which is what tells a low leg from a low supply; read both"
                yield Breach((*keys, "between"), message, "one-leg")


def labels_like_names(procedure: Procedure) -> Iterator[Breach]:
    """The label of a point has a word in common with its name or with what it is called."""
    for point in procedure.points.values():
        known = _words(point.id, *point.call)
        if not _words(point.label) & known:
            message = f"a report would show {point.label!r} for {point.call[0]!r}; label it by what it is called"
            yield Breach(("points", point.id, "label"), message, "label-unlike")


def _words(*texts: str) -> set[str]:
    found = {word for text in texts for word in re.findall(r"[a-z]+|\d+", text.lower())}
    return {_FIGURES.get(word, word) for word in found} - _ANY_POINT


def buzzers(procedure: Procedure) -> Iterator[Breach]:
    """A buzzer tells a wire, a fuse and a closed contact; anything else is measured in ohms."""
    for keys, _section, step in every_step(procedure):
        buzzed = isinstance(step, Measure) and step.quantity is Quantity.CONTINUITY
        if buzzed and isinstance(step, Measure) and step.limits.rule not in _A_BUZZER_TELLS:
            message = f"a buzzer tells nothing of what the rule {step.limits.rule} limits; write `measure: resistance`"
            yield Breach((*keys, "measure"), message, "buzzer")


def earth_from_frame(procedure: Procedure) -> Iterator[Breach]:
    """Before power comes back the path to ground is measured from the frame to where its ground comes in."""
    for keys, section, step in every_step(procedure):
        if not isinstance(step, Measure) or step.limits.rule != "earth" or section.phase is not Phase.PUT_BACK:
            continue
        for number, pair in enumerate(step.pairs):
            ends = [procedure.points[end] for end in (pair.first, pair.second) if end in procedure.points]
            grounds = [point for point in ends if _GROUND.search(" ".join((point.label, *point.call)).lower())]
            if len(ends) == _ENDS and (not grounds or all(point.label != FRAME for point in ends)):
                message = "that proves no ground; take the frame, and the point where its ground comes in"
                yield Breach((*keys, "between", number), message, "earth-from-frame")


def figures_in_source(procedure: Procedure) -> Iterator[Breach]:
    """The figures of a limit stand in its source too, so that a slip in one place is told by the other."""
    for keys, _section, step in every_step(procedure):
        if not isinstance(step, Measure) or step.limits.rule != FIGURES:
            continue
        figures, source = step.limits.figures, step.limits.source
        known = {Decimal(number) for number in _NUMBER.findall(source)}
        for key, figure in figures.items():
            if figure and figure not in known:
                message = f"the source does not name {figure}; correct the figure, or write it with where it is from"
                yield Breach((*keys, "limits", key), message, "figure-source")
        for first, second in _SPAN.findall(source):
            for key, figure, other, other_figure in (("low", first, "high", second), ("high", second, "low", first)):
                if figures.get(key) == Decimal(figure) and other not in figures:
                    message = f"the source names {first} to {second}, and there is no `{other}`; write {other_figure}"
                    yield Breach((*keys, "limits"), message, "figure-source")


ADVICE: Final[tuple[Check, ...]] = (
    tester_source,
    supply_limits,
    units_said,
    one_end,
    one_leg,
    labels_like_names,
    buzzers,
    earth_from_frame,
    figures_in_source,
)
"""What is told by the check alone."""
