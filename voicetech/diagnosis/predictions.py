"""What each measuring step would read with each fault, from the circuit of the appliance."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace

from voicetech.diagnosis.shown import WHOLE, Asked, Case, Faults, Plate, Predicted, Shown, reading, shown_together
from voicetech.electrical.appliance import Appliance, Setup, read_off
from voicetech.electrical.variants import Variants
from voicetech.procedure import Measure
from voicetech.units import READ_OFF, Quantity

__all__ = ["Faults", "Plate", "Predicted", "Predictions", "reading"]


class Predictions:
    """The readings of one appliance, worked out once each and kept.

    What a fault changes nothing at with one plate it changes nothing at with another, as long as the same parts are
    there: figures of a plate that become known cost only the readings they change. Readings that are asked for together
    are worked out together, at a small part of what they cost one by one.
    """

    def __init__(self, appliance: Appliance) -> None:
        self._appliance = appliance
        self._variants = Variants(appliance)
        self._readings: dict[tuple[str, str, bool], _Reading] = {}
        self._unusual: dict[Plate, Plate] = {}
        self._of_parts = frozenset(name for wanted in appliance.only.values() for name in wanted)
        """Recorded answers that say which parts are there."""

    def of_step(
        self, section: str, step: Measure, faults: Faults, plate: Plate, *, left_on: bool = False
    ) -> tuple[Predicted, ...]:
        """Return what each pair of the step would read with these faults; empty where the circuit cannot tell.

        `plate` are the recorded answers that the circuit uses, as pairs of field and value. With `left_on` the knobs
        stand where they may have been left.
        """
        return self.of_sets(section, step, (faults,), plate, left_on=left_on)[0]

    def of_sets(
        self, section: str, step: Measure, sets: Sequence[Faults], plate: Plate, *, left_on: bool = False
    ) -> list[tuple[Predicted, ...]]:
        """Return `of_step` for each of these sets of faults; sets that read alike have one tuple in common."""
        if step.quantity in READ_OFF:
            return self._read_off(step, sets)
        reading = self._reading(section, step, left_on)
        if reading is None:
            return [()] * len(sets)
        plate = self._that_tells(plate)
        found = reading.known(sets, plate)
        if found is None:
            self._foresee([reading], sets, plate)
            found = reading.known(sets, plate)
        if found is None:
            raise AssertionError(f"{section}/{step.id} was not worked out")
        return found

    def _read_off(self, step: Measure, sets: Sequence[Faults]) -> list[tuple[Predicted, ...]]:
        """Return what a stopwatch or a thermometer shows; neither is a matter of the network."""
        known: dict[float, tuple[Predicted, ...]] = {}
        found: list[tuple[Predicted, ...]] = []
        for faults in sets:
            value = read_off(self._appliance, faults, step.field or "")
            found.append(known.setdefault(value, (Predicted(value),) * len(step.pairs)))
        return found

    def foresee(self, steps: Iterable[tuple[str, Measure]], sets: Sequence[Faults], plate: Plate) -> None:
        """Work out together what each of these steps would read with each of these sets of faults.

        Steps come with their section. It saves time and changes no result.
        """
        readings = [
            self._reading(section, step, left_on)
            for section, step in steps
            for left_on in ((False, True) if step.setup is not None and step.setup.left_on else (False,))
        ]
        self._foresee([reading for reading in readings if reading is not None], sets, self._that_tells(plate))

    def _that_tells(self, plate: Plate) -> Plate:
        """Return the answers without which the appliance would be another."""
        found = self._unusual.get(plate)
        if found is None:
            found = tuple(answer for answer in plate if not self._variants.is_usual(answer))
            self._unusual[plate] = found
        return found

    def _reading(self, section: str, step: Measure, left_on: bool) -> "_Reading | None":
        setup = step.setup
        if setup is None:
            return None
        key = section, step.id, left_on
        found = self._readings.get(key)
        if found is None:
            if left_on:
                setup = replace(setup, knobs=(*setup.knobs, *setup.left_on))
            found = self._readings.setdefault(key, _Reading(step, setup, self._of_parts))
        return found

    def _foresee(self, readings: Sequence["_Reading"], sets: Sequence[Faults], plate: Plate) -> None:
        faults = tuple(dict.fromkeys(fault for each in sets for fault in each))
        plate_values = self._appliance.plate_values if plate else {}
        parts = tuple([answer for answer in plate if answer[0] in self._of_parts])
        answers = {
            name: tuple(dict.fromkeys(plate_values.get(name, ()))) for name, _ in plate if name not in self._of_parts
        }
        if parts:
            # What a figure moves is learnt of the usual parts, what a fault moves of those that are there.
            self._learn(readings, (), answers, ())
            answers = {}
        self._learn(readings, faults, answers, parts)
        for each, shown in self._shown([(each, each.to_know(sets, plate)) for each in readings]):
            each[0].keep(each[1], shown)

    def _learn(
        self, readings: Sequence["_Reading"], faults: Faults, answers: Mapping[str, Sequence[str]], parts: Plate
    ) -> None:
        wanted = [(each, each.to_learn(faults, answers, parts, self._variants)) for each in readings]
        for each, shown in self._shown(wanted):
            each[0].learn(each[1], shown)

    def _shown(
        self, wanted: Iterable[tuple["_Reading", tuple[Case, ...]]]
    ) -> Iterator[tuple[tuple["_Reading", tuple[Case, ...]], Shown]]:
        """Return each reading and its cases with what it shows; live networks are solved together, and dead ones."""
        some = [each for each in wanted if each[1]]
        for live in (True, False):
            these = [each for each in some if each[0].setup.live is live]
            if these:
                asked = [Asked(reading.step, reading.setup, cases) for reading, cases in these]
                yield from zip(these, shown_together(self._appliance, self._variants, asked), strict=True)


class _Reading:
    """The readings of one step, as asked or with knobs left on, as far as they are worked out."""

    def __init__(self, step: Measure, setup: Setup, of_parts: frozenset[str]) -> None:
        self.step, self.setup = step, setup
        self._of_parts = of_parts
        self._depends_on: dict[str, bool] = {}
        """Whether the readings depend on a recorded figure, by its field."""
        self._moved_by: dict[Plate, dict[str, bool]] = {}
        """Whether a fault moves the readings, by the answers that say which parts are there and by its name."""
        self._found: dict[Case, tuple[Predicted, ...]] = {}

    def known(self, sets: Sequence[Faults], plate: Plate) -> list[tuple[Predicted, ...]] | None:
        """Return what was worked out for each of these sets, or None where something of it is not."""
        try:
            return [self._found[case] for case in self._cases(sets, plate)]
        except KeyError:
            return None

    def _cases(self, sets: Sequence[Faults], plate: Plate) -> list[Case]:
        """Return of each set, and of the plate, the part that the readings depend on; KeyError where it is not known.

        Which parts are there always counts: a sound appliance may read alike with them and without, and a fault of it
        not. Only that two faults together show what neither shows alone is lost by this.
        """
        of_parts = self._of_parts
        parts = tuple([answer for answer in plate if answer[0] in of_parts]) if plate else plate
        plate = tuple([answer for answer in plate if answer[0] in of_parts or self._depends_on[answer[0]]])
        whole, moved_by = (plate, ()), self._moved_by.get(parts, {})
        cases: list[Case] = []
        for faults in sets:
            moving = [fault for fault in faults if moved_by[fault.id]]
            cases.append((plate, tuple(moving)) if moving else whole)
        return cases

    def to_learn(
        self, faults: Faults, answers: Mapping[str, Sequence[str]], parts: Plate, variants: Variants
    ) -> tuple[Case, ...]:
        """Return what shows which faults and answers move the readings, the appliance as it should be first.

        `answers` are values that would move some reading, by their field; `parts` are the answers that say which parts
        are there. What cannot move the readings is kept as such.
        """
        moved_by = self._moved_by.setdefault(parts, {})
        cases: list[Case] = [
            (((name, value),), ()) for name in answers if name not in self._depends_on for value in answers[name]
        ]
        cases += [(parts, (fault,)) for fault in faults if fault.id not in moved_by]
        if cases and not self.setup.live and self.step.quantity in (Quantity.RESISTANCE, Quantity.CONTINUITY):
            nodes = {node for pair in self.step.pairs for node in (pair.first, pair.second)}
            may_move = variants.may_move(cases, variants.stand(self.setup), nodes)
            for (plate, wrong), may in zip(cases, may_move, strict=True):
                if not may and wrong:
                    moved_by.update((fault.id, False) for fault in wrong)
                elif not may:
                    self._depends_on.update((name, False) for name, _ in plate)
            cases = [case for case, may in zip(cases, may_move, strict=True) if may]
        whole = (parts, ()) if parts else WHOLE
        return (whole, *cases) if cases or whole not in self._found else ()

    def learn(self, cases: Sequence[Case], shown: Shown) -> None:
        """Keep which faults and answers move the readings."""
        self._found[cases[0]] = shown.predicted(0)
        moved_by = self._moved_by[cases[0][0]]
        depends_on: dict[str, bool] = {}
        for number, ((plate, faults), moved) in enumerate(zip(cases, shown.moved(), strict=True)):
            if not faults and number:
                for name, _ in plate:
                    depends_on[name] = moved or depends_on.get(name, False)
            for fault in faults:
                if moved:
                    self._found[plate, faults] = shown.predicted(number)
                moved_by[fault.id] = moved
        # At once, because an answer may be waiting beside the working ahead: a field is right or not there.
        self._depends_on.update(depends_on)

    def to_know(self, sets: Sequence[Faults], plate: Plate) -> tuple[Case, ...]:
        """Return what is left to work out with each of these sets of faults."""
        return tuple([case for case in dict.fromkeys(self._cases(sets, plate)) if case not in self._found])

    def keep(self, cases: Sequence[Case], shown: Shown) -> None:
        """Keep what each of these cases reads."""
        for number, case in enumerate(cases):
            self._found[case] = shown.predicted(number)
