"""Reported cases worked as sessions in chat, with their words as they were spoken.

    python -m tests.benchmarks.cases --cases FILE

FILE has one case a line as JSON: its appliance, plate, readings with the words they were said in, the verdict expected
of each, and the true fault. `case_points.yaml` beside this file tells where each reading is taken here, and
`README.md` what the columns mean.
"""

import argparse
import json
import random
import sys
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

from ruamel.yaml import YAML

from tests.dialogue.talker import Talker, shipped
from voicetech import diagnosis
from voicetech.dialogue.danger import CLEAR_WORDS
from voicetech.dialogue.outcomes import in_three, outcome_of
from voicetech.events import (
    AnswerTaken,
    DangerStopped,
    Event,
    JobClosed,
    PartInspected,
    ReadingTaken,
    SaidAgain,
)
from voicetech.judge import IN_THREE, InThree, VerdictWord
from voicetech.language.meaning import Asking
from voicetech.procedure import Ask, Inspect, Measure, Phase, Procedure
from voicetech.rehearsal.appliance_at_hand import AtHand
from voicetech.rehearsal.technician import answer
from voicetech.turn import Turn

POINTS: Final = Path(__file__).with_name("case_points.yaml")
MOST_LINES: Final = 400
MOST_TRIES: Final = 3
_UNITS: Final = {"ohm": "ohms", "V": "volts", "A": "amps", "F": "degrees fahrenheit"}
_WORST: Final = (InThree.PASS, InThree.MARGINAL, InThree.FAIL)


@dataclass(frozen=True, slots=True)
class Case:
    """A reported case, and where its readings are taken here."""

    id: str
    told: Mapping[str, Any]
    points: Mapping[str, Any]

    @property
    def readings(self) -> Sequence[Mapping[str, Any]]:
        """Return its readings in the order they are reported in."""
        return tuple(self.told["readings"])

    def expected(self, number: int) -> str:
        """Return the verdict expected of a reading."""
        return next(str(v["verdict"]) for v in self.told["expected_verdicts"] if v["reading"] == number)

    def targets(self, number: int) -> Sequence[str]:
        """Return the steps a reading belongs to."""
        return tuple(self.points["readings"][number])


@dataclass(slots=True)
class Worked:
    """What became of a case: a verdict for each reading, None where it was not taken."""

    case: Case
    verdicts: list[InThree | None]
    asked_back: set[int] = field(default_factory=set)
    """Readings whose words had to be confirmed or said more plainly."""
    lines: list[str] = field(default_factory=list)
    over: str = ""
    suspects: tuple[str, ...] = ()
    proved: tuple[str, ...] = ()

    @property
    def rank(self) -> str:
        """Return where the true fault stands among the suspects, from 1; "proved" where it is."""
        causes = self.case.points["causes"]
        if not causes:
            return "none" if not self.proved else f"proved {', '.join(self.proved)}"
        if set(causes) & set(self.proved):
            return "proved"
        return next((str(n) for n, cause in enumerate(self.suspects, 1) if cause in causes), "not among them")

    def why_apart(self, key: int | str) -> str:
        """Return what is written about a verdict or rank that differs."""
        return str(self.case.points.get("apart", {}).get(key, ""))


def main(words: Sequence[str] | None = None) -> int:
    """Run the cases and return the exit code: 1 where a difference is not explained."""
    parser = argparse.ArgumentParser(
        prog="python -m tests.benchmarks.cases", description=(__doc__ or "").splitlines()[0]
    )
    parser.add_argument("--cases", required=True, metavar="FILE", help="the cases, one JSON object a line")
    parser.add_argument("--only", nargs="*", default=[], metavar="ID", help="only these cases")
    parser.add_argument("--lines", action="store_true", help="print every line typed and what was said to it")
    asked = parser.parse_args(words)
    try:
        cases = list(read_cases(Path(asked.cases)))
    except (OSError, ValueError, KeyError) as error:
        sys.stderr.write(f"{asked.cases}: {error}\n")
        return 1
    unexplained = 0
    agreed = compared = 0
    ranks: list[str] = []
    asked_back = 0
    for case in cases:
        if asked.only and case.id not in asked.only:
            continue
        worked = Session(case).work()
        if asked.lines:
            sys.stdout.write("".join(f"    {line}\n" for line in worked.lines))
        shown, apart, here, same = _told(worked)
        unexplained += apart
        compared, agreed = compared + here, agreed + same
        ranks.append(worked.rank)
        asked_back += len(worked.asked_back)
        sys.stdout.write(shown)
    first = sum(rank in ("proved", "1", "none") for rank in ranks)
    sys.stdout.write(
        f"{len(ranks)} cases, {compared} readings with a test point here, {agreed} verdicts agreed; "
        f"the true fault proved or first (or rightly none) in {first} of {len(ranks)}; "
        f"{asked_back} readings asked back; {unexplained} differences not explained\n"
    )
    return 1 if unexplained else 0


def read_cases(path: Path) -> Iterator[Case]:
    """Yield the cases of the file that have points here, in its order."""
    points = YAML(typ="safe").load(POINTS.read_text(encoding="utf-8"))
    for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), 1):
        if not line.strip():
            continue
        try:
            told = json.loads(line)
        except json.JSONDecodeError as error:
            raise ValueError(f"line {number} is no JSON: {error}") from None
        if told["id"] in points:
            yield Case(told["id"], told, points[told["id"]])


def _told(worked: Worked) -> tuple[str, int, int, int]:
    case = worked.case
    out = [f"{case.id}  {case.told['complaint']}\n"]
    unexplained = compared = agreed = 0
    for number, reading in enumerate(case.readings):
        expected, found = case.expected(number), worked.verdicts[number]
        without = case.points.get("without", {}).get(number)
        note = ""
        if without is not None:
            note = f"no test point: {without}"
        elif found is not None and found.value == expected:
            compared, agreed = compared + 1, agreed + 1
            note = "agreed"
        else:
            compared += 1
            why = worked.why_apart(number)
            unexplained += not why
            note = f"APART, {why or 'NOT EXPLAINED'}"
        note += ", asked back" if number in worked.asked_back else ""
        verdict = found.value if found is not None else "not taken"
        out.append(f"   {reading['as_spoken']!r:55} expected {expected:9} here {verdict:9} {note}\n")
    rank = worked.rank
    why = worked.why_apart("rank")
    good = rank in ("proved", "none") or (rank.isdigit() and int(rank) <= 3)
    unexplained += not good and not why
    told = "" if good else f"  APART, {why or 'NOT EXPLAINED'}"
    out.append(f"   true fault: {case.told['true_fault']}\n   rank: {rank}{told}; ended: {worked.over or 'goes on'}")
    out.append("\n")
    if case.told.get("stop_work"):
        out.append(f"   stop-work: {case.told['stop_work']}\n")
    return "".join(out) + "\n", unexplained, compared, agreed


class Session:
    """One case at work: the technician says its words where they belong, and elsewhere that all is well."""

    def __init__(self, case: Case) -> None:
        self.case = case
        self.talker = Talker()
        self.procedure: Procedure = self.talker.procedure
        self.worked = Worked(case, [None] * len(case.readings))
        self._said: dict[str, tuple[int, int]] = {}
        """Steps that were answered with a reading of the case, with its number and the visit to its section."""
        self._visits: dict[str, int] = {}
        self._taken: set[tuple[int, str]] = set()
        self._dangers: set[str] = set()
        """Steps where a reading of the case stopped the work; once it is safe again, it is not so any more."""
        self._tries: dict[int, int] = {}
        self._answers: dict[str, str] = dict(case.points.get("answers", {}))
        self._chance = random.Random(0)
        circuit = shipped().circuit
        assert circuit is not None
        self._well = AtHand(shipped(), circuit, (), {"connection": self._answers.get("connection", "cord-4")})

    def work(self) -> Worked:
        """Work the case until its readings are taken, or work is stopped for good."""
        for _ in range(MOST_LINES):
            turn = self.talker.session.turn
            done = not self._pending() and not self._to_be_stopped() and self._settled()
            if turn in (Turn.HANDED_OVER, Turn.CLOSED) or done:
                break
            if turn is Turn.STOPPED and not self._pending():
                break
            self._step()
        session = self.talker.session
        found = diagnosis.suspects(self.procedure, session)
        self.worked.proved = tuple(session.proved)
        self.worked.suspects = tuple(s.cause for s in found if s.standing != "excluded")
        self.worked.over = self._over()
        return self.worked

    def _settled(self) -> bool:
        """Return whether the step of the last reading is left, so that what follows from it has followed."""
        session = self.talker.session
        if session.turn is not Turn.ASKING or session.at is None:
            return False
        place = f"{session.at.section}/{session.at.step}"
        return not any(said == place or said.startswith(f"{place}/") for said in self._said)

    def _to_be_stopped(self) -> bool:
        """Return whether the case asks for work to stop, so that the job is worked on to its end."""
        return bool(self.case.told.get("stop_work"))

    def _over(self) -> str:
        session = self.talker.session
        if session.handed_over is not None:
            return f"handed over, {session.handed_over}"
        closed = [event for event in self.talker.events if isinstance(event, JobClosed)]
        if closed:
            return closed[-1].outcome
        danger = [event for event in self.talker.events if isinstance(event, DangerStopped)]
        return f"stopped for {danger[-1].kind.value}" if danger else ""

    def _pending(self) -> list[tuple[int, str]]:
        return [
            (number, target)
            for number in range(len(self.case.readings))
            for target in self.case.targets(number)
            if (number, target) not in self._taken and self._tries.get(number, 0) < MOST_TRIES
        ]

    def _say(self, line: str) -> tuple[Event, ...]:
        place = self.talker.place or self.talker.session.turn.value
        self.talker.say(line)
        self.worked.lines.append(f"{place}: {line}  ->  {self.talker.last.speak}")
        return self.talker.last_events

    def _step(self) -> None:
        session = self.talker.session
        if session.turn is Turn.STOPPED:
            self._say(CLEAR_WORDS[0])
        elif session.turn is Turn.RECOUNTING:
            self._say("it was as the customer told, the breaker is off now")
        elif session.turn is not Turn.ASKING or session.at is None:
            self._say(answer(self.procedure, session, self._well, self._chance))
        elif not self._goes_elsewhere():
            self._answer()

    def _goes_elsewhere(self) -> bool:
        """Ask for the section of the next reading, where it is another and may be asked for now."""
        at = self.talker.session.at
        assert at is not None
        here = self.procedure.section(at.section)
        if here.role is not None or here.phase in (Phase.INTAKE, Phase.SETTINGS):
            return False
        pending = self._pending()
        if any(target.split("/")[0] == here.id for _, target in pending) and here.phase is Phase.TEST:
            return False
        for number, target in pending:
            section = self.procedure.section(target.split("/")[0])
            if section.phase is not Phase.TEST or section.role is not None:
                continue
            self._tries[number] = self._tries.get(number, 0) + 1
            self._answers.update(self.case.points.get("then", {}).get(number, {}))
            self._visits[section.id] = self._visits.get(section.id, 0) + 1
            self._say(f"go to {section.call[0]}")
            return True
        return False

    def _key(self) -> tuple[str, str]:
        at = self.talker.session.at
        assert at is not None
        step = self.procedure.step(at.section, at.step)
        place = f"{at.section}/{at.step}"
        label = step.pairs[at.pair].label if isinstance(step, Measure) else ""
        return place, f"{place}/{label}"

    def _answer(self) -> None:
        keys = self._key()
        at = self.talker.session.at
        assert at is not None
        for number, target in self._pending():
            if target in keys:
                self._take(number, target)
                return
        words = next((self.case.points["filled"][key] for key in keys if key in self.case.points.get("filled", {})), "")
        before = next((key for key in keys if key in self._said), None)
        if words:
            self._say(words)
        elif before in self._dangers:
            self._say(self._otherwise())
        elif before is not None and self._said[before][1] == self._visits.get(at.section, 0):
            self._take(self._said[before][0], before)
        elif before is not None and self.procedure.section(at.section).phase is Phase.TEST:
            self._say("skip because it was done before")
        else:
            self._say(self._otherwise())

    def _otherwise(self) -> str:
        at = self.talker.session.at
        assert at is not None
        step = self.procedure.step(at.section, at.step)
        if isinstance(step, Ask) and step.field in self._answers:
            key = self._answers[step.field]
            choice = next((choice for choice in step.choices if choice.key == key), None)
            return choice.hear[0] if choice is not None else key
        plate = self.case.told["nameplate"]
        if isinstance(step, Ask) and step.field.endswith("_watts") and step.field != "plate_watts":
            return f"{plate['element_watts']} watts" if "element_watts" in plate else "later"
        if isinstance(step, Ask) and step.asking is Asking.POWER and step.field.endswith("watts"):
            return "12 kilowatts"
        return answer(self.procedure, self.talker.session, self._well, self._chance)

    def _take(self, number: int, target: str) -> None:
        reading = self.case.readings[number]
        at = self.talker.session.at
        assert at is not None
        step = self.procedure.step(at.section, at.step)
        self._said[target] = (number, self._visits.get(at.section, 0))
        events = list(self._say(str(reading["as_spoken"])))
        self._taken.add((number, target))
        if any(isinstance(event, DangerStopped) for event in events):
            self._dangers.add(target)
        if self._confirming():
            self.worked.asked_back.add(number)
            events += self._say("yes")
        elif any(isinstance(event, SaidAgain) for event in events) or self.talker.session.turn is Turn.CHOOSING:
            self.worked.asked_back.add(number)
            plain = self._plainly(number, step)
            if plain:
                events += self._say(plain)
                if self._confirming():
                    events += self._say("yes")
        found = _verdict(step, self.procedure.section(at.section).phase, events)
        known = self.worked.verdicts[number]
        if found is not None:
            self.worked.verdicts[number] = found if known is None else max(known, found, key=_WORST.index)

    def _confirming(self) -> bool:
        return self.talker.session.turn is Turn.CONFIRMING

    def _plainly(self, number: int, step: object) -> str:
        reading = self.case.readings[number]
        if isinstance(step, Inspect):
            return "it's burnt" if self.case.expected(number) == "fail" else "looks good"
        if isinstance(step, Ask) and step.asking in (Asking.YES_NO, Asking.CHOICE):
            return str(self.case.points.get("means", {}).get(number, ""))
        if reading["value"] == "OL":
            return "over range"
        if reading["value"] == "beep":
            return ""
        unit = _UNITS.get(str(reading["unit"]), "")
        value = str(reading["value"]).split(" ")[0]
        return f"{value} {unit}".strip()


def _verdict(step: object, phase: Phase, events: Sequence[Event]) -> InThree | None:
    found: InThree | None = None
    for event in events:
        match event:
            case ReadingTaken(verdict=word):
                found = IN_THREE[VerdictWord(word)]
            case PartInspected(fault=fault):
                found = InThree.FAIL if fault else InThree.PASS
            case AnswerTaken(value=value) if isinstance(step, Ask):
                outcome = outcome_of(step.outcomes, value)
                number = step.asking not in (Asking.YES_NO, Asking.CHOICE)
                found = InThree.PASS if number else in_three(outcome, phase)
            case DangerStopped():
                found = InThree.FAIL
            case _:
                pass
    if found is None and isinstance(step, Measure) and any(isinstance(event, SaidAgain) for event in events):
        return IN_THREE[VerdictWord.UNUSABLE]
    return found


if __name__ == "__main__":
    sys.exit(main())
