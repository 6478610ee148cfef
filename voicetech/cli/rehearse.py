"""`voicetech rehearse`: an appliance with a hidden fault to practise on, or to measure the program with."""

import json
import random
import sys
from collections.abc import Callable, Iterator
from dataclasses import replace
from itertools import combinations
from typing import TYPE_CHECKING, Annotated

import typer

from voicetech.cli.joining import DEFAULT_PROCEDURE, plain_errors, procedure_named, stop
from voicetech.cli.screen import Screen

if TYPE_CHECKING:
    from voicetech.electrical.appliance import Appliance, Fault
    from voicetech.language.meaning import Meaning, Question
    from voicetech.procedure import Procedure
    from voicetech.rehearsal.appliance_at_hand import AtHand
    from voicetech.rehearsal.rehearsal import Rehearsed

_SHOW = "show"
_HELP = (
    "An appliance with a hidden fault. Answer as you would on the job. Type show to see what the meter, your eyes or "
    "the customer tell at this question, give up to see what it was. Ctrl-D leaves; nothing is recorded."
)
_GIVE_UP = "give up"
_SOME_PAIRS = 60


def rehearse(
    fault: Annotated[
        str, typer.Option("--fault", help="A fault by name, random, all or pairs.", metavar="NAME")
    ] = "random",
    seed: Annotated[int, typer.Option("--seed", help="Repeats the same chance.")] = 0,
    as_json: Annotated[
        bool, typer.Option("--json", help="A careful technician works it alone; one JSON object for each fault.")
    ] = False,
    listed: Annotated[
        bool, typer.Option("--listed", help="Test in the order the procedure is written in, to compare.")
    ] = False,
    connection: Annotated[
        str | None,
        typer.Option(
            "--connection",
            help="How the appliance is connected, as the procedure asks for it (the range: cord-4, cord-3, "
            "hard-wired); without it the usual way. Only faults that exist there are taken.",
            metavar="HOW",
        ),
    ] = None,
    names: Annotated[
        bool, typer.Option("--names", help="List the faults there are on this connection, and end.")
    ] = False,
    plain: Annotated[bool, typer.Option("--plain", help="No colour and no layout.")] = False,
    procedure: Annotated[
        str, typer.Option("--procedure", help="A shipped procedure by name, or a file.", metavar="NAME")
    ] = DEFAULT_PROCEDURE,
) -> None:
    """Practise on a simulated appliance with a hidden fault.

    With --json, or with all or pairs, a simulated technician answers, and each line tells the fault, whether it was
    found, how many tests it took, what was named and how often a safety rule was broken.

    Examples: voicetech rehearse, voicetech rehearse --connection hard-wired, voicetech rehearse --fault bake-open
    --json, voicetech rehearse --fault all --connection cord-3 --json
    """
    from voicetech.diagnosis import LISTED, ORDER
    from voicetech.rehearsal.appliance_at_hand import AtHand, possible_faults

    with plain_errors():
        known = procedure_named(procedure)
        if listed:
            known = replace(known, settings={**known.settings, ORDER: LISTED})
        if known.circuit is None:
            stop(f"{known.title} has no circuit to rehearse on.")
        plate = _plate(known, known.circuit, connection)
        if names:
            for each in possible_faults(known.circuit, plate):
                sys.stdout.write(f"{each.id}: {each.say}\n")
            return
        chance = random.Random(seed)  # noqa: S311  a rehearsal needs to repeat, not to be secret
        at_hand = [
            AtHand(known, known.circuit, faults, plate) for faults in _chosen(known.circuit, plate, fault, chance)
        ]
        if as_json or len(at_hand) > 1:
            _all(at_hand, seed)
        else:
            _practise(at_hand[0], chance, Screen(plain))


def _plate(procedure: "Procedure", circuit: "Appliance", connection: str | None) -> dict[str, str]:
    """Return the answers that hold of the appliance before anybody asks: how it is connected."""
    from voicetech.rehearsal.appliance_at_hand import CONNECTION, connections

    there = connections(procedure)
    if connection is None:
        return dict(circuit.usual)
    if connection not in there:
        known = f"it has these: {', '.join(there)}" if there else "it asks for none; leave --connection out"
        raise typer.BadParameter(
            f"{procedure.title!r} knows no connection {connection!r}; {known}", param_hint="--connection"
        )
    return {**circuit.usual, CONNECTION: connection}


def _chosen(
    circuit: "Appliance", plate: dict[str, str], name: str, chance: random.Random
) -> "Iterator[tuple[Fault, ...]]":
    from voicetech.rehearsal.appliance_at_hand import possible_faults

    faults = possible_faults(circuit, plate)
    match name:
        case "all":
            yield from ((each,) for each in faults)
        case "pairs":
            pairs = [pair for pair in combinations(faults, 2) if pair[0].cause != pair[1].cause]
            yield from chance.sample(pairs, min(_SOME_PAIRS, len(pairs)))
        case "random":
            yield (chance.choice(faults),)
        case _:
            yield tuple(_named(circuit, plate, each) for each in name.split("+"))


def _named(circuit: "Appliance", plate: dict[str, str], name: str) -> "Fault":
    from voicetech.rehearsal.appliance_at_hand import CONNECTION

    try:
        fault = circuit.fault(name)
    except KeyError:
        raise typer.BadParameter(
            f"there is no fault {name!r}; voicetech rehearse --names lists them", param_hint="--fault"
        ) from None
    if not fault.can_be(plate):
        how = plate.get(CONNECTION, "")
        raise typer.BadParameter(
            f"{name} ({fault.say}) does not exist with the connection {how}, only with "
            f"{' or '.join(fault.only.get(CONNECTION, ()))}; voicetech rehearse --connection {how} --names lists "
            "those that do",
            param_hint="--fault",
        )
    return fault


def _all(appliances: "list[AtHand]", seed: int) -> None:
    from voicetech.rehearsal.rehearsal import rehearse as rehearsed

    understood = _understood()
    for number, at_hand in enumerate(appliances):
        chance = random.Random(seed * 100_003 + number)  # noqa: S311
        done = rehearsed(at_hand.procedure, understood, at_hand, chance)
        sys.stdout.write(json.dumps(_record(at_hand, done)) + "\n")
        sys.stdout.flush()


def _record(at_hand: "AtHand", done: "Rehearsed") -> dict[str, object]:
    from voicetech.rehearsal.appliance_at_hand import CONNECTION

    named = [*done.named, *(cause for cause in done.together if cause not in done.named)]
    found = [fault.cause in named for fault in at_hand.faults]
    return {
        "fault": "+".join(fault.id for fault in at_hand.faults),
        "connection": at_hand.plate.get(CONNECTION),
        "found": all(found),
        "tests": done.tests_until[0] if done.tests_until else done.tests,
        "named": named,
        "unsafe_steps": len(done.unsafe),
        "visits": done.visits,
        "beside_it": done.beside_it,
    }


def _practise(at_hand: "AtHand", chance: random.Random, screen: Screen) -> None:
    from voicetech.rehearsal.rehearsal import Rehearsed, Visit

    visit = Visit(at_hand.procedure, _understood(), at_hand, chance, Rehearsed())
    screen.note(_HELP)
    screen.reply(visit.reply)
    try:
        while not visit.over:
            line = input("" if not sys.stdin.isatty() else "> ").strip()
            if line.lower() == _SHOW:
                screen.said("you find", visit.shows())
            elif line.lower() == _GIVE_UP:
                break
            elif line:
                visit.say(line)
                screen.reply(visit.reply)
    except (EOFError, KeyboardInterrupt):
        screen.note("")
    _tell(at_hand, visit.rehearsed, screen)


def _tell(at_hand: "AtHand", done: "Rehearsed", screen: Screen) -> None:
    record = _record(at_hand, done)
    screen.said("it was", "; ".join(fault.say for fault in at_hand.faults))
    screen.said("found", "yes" if record["found"] else "no")
    screen.said("tests", f"{record['tests']}, {done.beside_it} sections of them could not show it")
    screen.said("safety", "kept" if not done.unsafe else "; ".join(done.unsafe))


def _understood() -> "Callable[[str, Question], Meaning]":
    from voicetech.authoring.lexicon_files import load_lexicon
    from voicetech.language.understand import understand

    lexicon = load_lexicon()
    known: dict[tuple[str, Question], Meaning] = {}

    def understood(line: str, question: "Question") -> "Meaning":
        key = (line, question)
        if key not in known:
            known[key] = understand(line, question, lexicon)
        return known[key]

    return understood
