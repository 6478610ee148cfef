"""A job at work on a terminal: around each reply, where it stands, where to measure, and what a reading means."""

import time
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Final

from voicetech.cli.screen import ASKING, Screen
from voicetech.cli.text_band import text_band

if TYPE_CHECKING:
    from voicetech.dialogue.reply import Line, Reply
    from voicetech.events import Event, ReadingTaken
    from voicetech.job import Job
    from voicetech.procedure import Procedure
    from voicetech.session import Session
    from voicetech.showing import View
    from voicetech.showing.bands import Placed

_MOVED: Final = 0.1
"""By how much a share of the suspicion has to move to be told."""
_QUIET: Final = "dim"


class JobOnScreen:
    """Prints the replies of a job. `spoken` prints less around them, for a job whose words are heard as well."""

    def __init__(
        self, job: "Job", screen: Screen, *, spoken: bool = False, clock: Callable[[], float] = time.time
    ) -> None:
        self._job = job
        self._screen = screen
        self._spoken = spoken
        self._clock = clock
        self._stage = ""
        self._power = ""
        self._suspected: dict[str, float] = {}
        self._told: set[tuple[str, ...]] = set()
        self._step: tuple[str, str] | None = None
        self._at: tuple[object, ...] = ()

    def reply(self, reply: "Reply") -> None:
        """Print a reply and what belongs to it."""
        if not reply.lines:
            return
        kinds = [line.kind.value for line in reply.lines]
        if "danger" in kinds:
            # Nothing stands before it, on the screen or in time.
            self._screen.lines(reply.lines)
            if not self._spoken:
                self._quick(())
            return
        asked = next((number for number, kind in enumerate(kinds) if kind in ASKING), len(kinds))
        if self._spoken:
            self._results(reply.lines[:asked])
            if self._moved_on():
                self._standing(self._view())
            self._screen.lines(reply.lines[asked:])
            return
        # Worked out before the first line, so that what is said to one answer comes in one go.
        view = self._view()
        self._results(reply.lines[:asked])
        self._suspicion(view)
        self._standing(view)
        self._screen.lines(reply.lines[asked:])
        if "prompt" in kinds:
            self._measurement(view)
        asks_figure = view.unit and view.turn == "asking"
        self._quick((f"a figure in {view.unit}",) if asks_figure else ())

    def _view(self) -> "View":
        from voicetech.showing import view_of

        return view_of(self._job.procedure, self._job.session, self._clock())

    def _moved_on(self) -> bool:
        """Return whether the section or the power is another: else a spoken prompt waits for nothing."""
        session = self._job.session
        before, self._at = self._at, (session.at and session.at.section, session.safety)
        return before != self._at

    def answered(self, reply: "Reply") -> None:
        """Print the reply to a typed line; where it has none, what stands open: nobody types to a silent screen."""
        if reply.lines:
            self.reply(reply)
        else:
            self.again()

    def again(self) -> None:
        """Print what stands open once more, whole."""
        self._step = None
        self.reply(self._job.prompt())

    def _results(self, lines: "Sequence[Line]") -> None:
        judged = _read(self._job.caused)
        for line in lines:
            self._screen.lines((line,))
            taken = next((each for each in judged if each.reason in line.show), None)
            if line.kind.value == "verdict" and taken is not None:
                judged.remove(taken)
                self._reading_band(taken)

    def _reading_band(self, taken: "ReadingTaken") -> None:
        from voicetech.language.wording import shown
        from voicetech.showing.bands import band_of_reading, placed
        from voicetech.units import Reading

        band = band_of_reading(self._job.procedure, taken)
        if band is not None:
            low, high = ("" if end is None else shown(Reading(end, taken.unit)) for end in (taken.low, taken.high))
            self._band(placed(band), low, high)

    def _band(self, band: "Placed", low: str, high: str) -> None:
        ends = f"{low} to {high}" if low and high else f"at least {low}" if low else f"at most {high}"
        drawn = text_band(band, self._screen.columns_beside("band", ends), ascii_only=self._screen.ascii)
        self._screen.item("band", f"{drawn}  {ends}" if drawn else ends)

    def _suspicion(self, view: "View") -> None:
        """Print what is suspected, where a result has changed it."""
        now = {each.says: each.share for each in view.suspects}
        before, self._suspected = self._suspected, now
        if not _tests(self._job.procedure, self._job.caused):
            return
        moved = [*before] != [*now] or any(abs(now[says] - before[says]) >= _MOVED for says in now)
        if moved and view.suspects and not any(each.proved for each in view.suspects):
            said = "; ".join(f"{each.says} ({each.share:.0%})" for each in view.suspects)
            self._screen.item("suspected", f"{said}.", _QUIET)

    def _standing(self, view: "View") -> None:
        """Print the stage of the job and its power, in one line, where they changed."""
        stage, power = _stage(view), _power(view)
        said = [("stage", stage)] if stage and stage != self._stage else []
        said += [("power", power)] if power != self._power else []
        self._stage, self._power = stage or self._stage, power
        if not said:
            return
        if self._screen.plain:
            for word, text in said:
                self._screen.item(word, text)
        else:
            self._screen.item(said[0][0], " ".join(text for _, text in said), _QUIET)

    def _measurement(self, view: "View") -> None:
        """Print where is measured and what it should read, each once in a step."""
        at = self._job.session.at
        step = None if at is None else (at.section, at.step)
        if step != self._step or _asked_again(self._job.caused):
            self._step, self._told = step, set()
        for place in view.where:
            self._once("where", f"{place.label}: {place.at}")
        if view.limit is not None and self._once("limits", view.limit.says) and view.limit.band is not None:
            self._band(view.limit.band, view.limit.low, view.limit.high)

    def _once(self, word: str, text: str) -> bool:
        if (word, text) in self._told:
            return False
        self._told.add((word, text))
        self._screen.item(word, text)
        return True

    def _quick(self, first: tuple[str, ...]) -> None:
        """Print the likely answers to what stands open."""
        from voicetech.showing.quick_answers import quick_answers

        likely = [*first, *(each.say for each in quick_answers(self._job.procedure, self._job.session))]
        if likely:
            self._screen.item("answers", " / ".join(likely), _QUIET)


def _read(events: "Sequence[Event]") -> "list[ReadingTaken]":
    from voicetech.events import ReadingTaken

    return [event for event in events if isinstance(event, ReadingTaken)]


def _tests(procedure: "Procedure", events: "Sequence[Event]") -> bool:
    """Return whether something was found out about the appliance; making safe tests the tester and the meter."""
    from voicetech.events import PartInspected, ReadingTaken

    found = [event for event in events if isinstance(event, (PartInspected, ReadingTaken))]
    return any(procedure.section(event.section).role is None for event in found)


def _asked_again(events: "Sequence[Event]") -> bool:
    from voicetech.events import Asked

    return any(isinstance(event, Asked) for event in events)


def _stage(view: "View") -> str:
    names = [stage.name for stage in view.stages]
    now = next((number for number, stage in enumerate(view.stages) if stage.state == "now"), None)
    if now is None:
        return ""
    return f"{names[now]} ({now + 1} of {len(names)}): {view.section}."


def _power(view: "View") -> str:
    if view.safety.until_s is None:
        return view.safety.says
    until = time.strftime("%H:%M", time.localtime(view.safety.until_s))
    return f"{view.safety.says} The proof runs out at {until}."


def where_it_stands(procedure: "Procedure", session: "Session") -> str:
    """Return where a job stands that is taken up, and what is done again before it goes on."""
    from voicetech.procedure import SectionRole

    if session.at is None:
        return "It stands at its beginning."
    section = procedure.section(session.at.section)
    if session.resume is None:
        return f"It stands at: {section.title}."
    waiting = procedure.section(session.resume.section).title
    if section.role is SectionRole.MAKE_SAFE:
        return f"It stands at: {waiting}. Before that the proof of dead is made again."
    return f"It stands at: {waiting}. Before that: {section.title}."
