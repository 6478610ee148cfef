"""A procedure proved: every state and every way walked, the rules that are held, and the way to each that is broken."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from voicetech.procedure import Procedure
from voicetech.proof import sections, walk

RULES: Final = (
    "nothing hands-on is asked without a proof of dead that stands: on every pair, the tester proved before and after",
    "no live or powered test is asked without its hold, and none is entered before the power is on",
    "a proof of dead ends with power, a pause, a restart, another device, an undo past it, danger, leaving and time",
    "numbers that decide safety are read back and need a yes",
    "holds end by their own words, and no safety step is skipped",
    "danger words stop the job whatever it waits for; words of the past ask whether it is happening now",
    "a stop, a doubt and a hand-over are left only by their own words",
    "what stops the work is followed by nothing",
    "every warning of a step is said where the step is asked",
    "wires that were taken off are back before power comes on and where a test ends",
    "power comes on after a repair only behind putting back",
    "every step is come to, every step leads on, and no round goes on for ever with the same answers",
    "the program never breaks down",
)
"""What the proof holds a procedure to."""

_COUNTED: Final = {
    "below": "a reading below its limits",
    "within": "a reading within its limits",
    "marginal": "a reading that is marginal",
    "above": "a reading above its limits",
    "over_range": "over range",
    "clean": "nothing wrong",
    "fault": "something wrong",
}
"""How results are called in a way."""


@dataclass(frozen=True, slots=True)
class Leg:
    """One part of the way to a broken rule: the step, what is said or done there, and where that leads.

    `words` is None where the step is one that comes up, or is asked for, in whatever order the job takes.
    """

    at: tuple[str, str] | None
    words: str | None
    to: tuple[str, str] | None
    turn: str = ""


@dataclass(frozen=True, slots=True)
class Broken:
    """A rule that is broken, in words, at which step, and the shortest way there."""

    rule: str
    at: tuple[str, str] | None
    way: tuple[Leg, ...]


@dataclass(frozen=True, slots=True)
class Proof:
    """What was walked of a procedure, and what was found broken.

    `views` are the ways making safe may stand where a step is entered, `spots` the steps of all sections with what
    their conditions look at, and `results` what can come of them. `unneeded` are sections that the engine puts in front
    of steps and no step of this procedure needs.
    """

    procedure: str
    states: int
    moves: int
    views: int
    spots: int
    results: int
    steps: int
    asked: int
    unneeded: tuple[str, ...]
    broken: tuple[Broken, ...]


def prove(
    procedure: Procedure, progress: Callable[[int, int, int], None] = lambda _found, _left, _moves: None
) -> Proof:
    """Return the proof of a procedure, or every rule of its sections and the first rule of safety that is broken."""
    ways = sections.walk_sections(procedure)
    walked = walk.walk(procedure, progress=progress)
    every = [(section.id, step.id) for section in procedure.sections for step in section.steps]
    broken = [
        Broken(each.rule, (each.section, each.step), tuple(_through(each.section, each.way))) for each in ways.broken
    ]
    if walked.broken is not None:
        legs = tuple(Leg(leg.at, leg.words, leg.to, leg.turn.value) for leg in walked.way)
        broken.append(Broken(walked.broken, legs[-1].to or legs[-1].at, legs))
    unneeded: tuple[str, ...] = ()
    if walked.broken is None:
        # What is put in front of other steps comes with the folder of shared parts, needed here or not.
        unneeded = tuple(
            section.id
            for section in procedure.sections
            if section.role is not None and not any(step[0] == section.id for step in walked.steps_asked)
        )
        never = [step for step in every if step[0] not in unneeded and step not in walked.steps_asked]
        broken += [Broken("whatever is said, this step is never asked", step, ()) for step in never]
    return Proof(
        procedure.id,
        walked.states,
        walked.moves,
        walked.views,
        ways.spots,
        ways.results,
        len(every),
        len(walked.steps_asked),
        unneeded,
        tuple(broken),
    )


def _through(section: str, way: sections.Way) -> list[Leg]:
    """Return the way through a section as legs."""
    steps = [step for step, _result in way]
    return [
        Leg((section, step), _COUNTED.get(result, result), (section, following) if following else None)
        for (step, result), following in zip(way, [*steps, None][1:], strict=True)
    ]
