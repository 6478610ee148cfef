"""`voicetech rehearse`: an appliance with a hidden fault to practise on, or to measure the program with."""

import json
import random
import sys
import time
from collections.abc import Callable, Iterable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, replace
from itertools import combinations
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from voicetech.cli.appliance import NamedProcedure, procedure_chosen
from voicetech.cli.by_voice import (
    BY_KEYBOARD,
    AddressWord,
    Audio,
    Ear,
    Headset,
    Manners,
    Mic,
    Model,
    PushToTalk,
    Silent,
    check_choices,
    converse,
    fit_address,
    open_conversation,
    open_feed,
    tell_unheard,
)
from voicetech.cli.joining import (
    plain_errors,
    procedure_meant,
    stop,
    work_ahead_of,
)
from voicetech.cli.options import refuse
from voicetech.cli.screen import Screen
from voicetech.language.plural import so_many

if TYPE_CHECKING:
    from voicetech.dialogue.reply import Reply
    from voicetech.electrical.appliance import Appliance, Fault
    from voicetech.language.meaning import Meaning, Question
    from voicetech.procedure import Procedure
    from voicetech.rehearsal.appliance_at_hand import AtHand
    from voicetech.rehearsal.rehearsal import Rehearsed

_HELP = (
    "An appliance with a hidden fault. Answer as you would on the job. Type show to see what the meter, your eyes or "
    "the customer tell at this question, give up to see what it was. Ctrl-D leaves; nothing is recorded."
)
_VOICE_HELP = (
    "An appliance with a hidden fault. Answer aloud after the tone, as you would on the job; what the meter, your eyes "
    "or the customer tell stands on the screen. Say show me to see it again, give up to see what it was. Stop ends the "
    "practice; nothing is recorded and no sound is kept."
)
_BY_KEYBOARD = "voicetech rehearse"
_SOME_PAIRS = 60
_ALL = "all"
_PAIRS = "pairs"


def rehearse(
    fault: Annotated[
        str, typer.Option("--fault", help="A fault by name, random, all or pairs.", metavar="NAME")
    ] = "random",
    seed: Annotated[
        int | None,
        typer.Option(
            "--seed", metavar="N", help="Repeats the same chance; without it each practice has another fault."
        ),
    ] = None,
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
            help="How the appliance is connected, as the procedure asks for it (a range: cord-4, cord-3, hard-wired); "
            "without it the usual way. Only faults that exist there are taken.",
            metavar="HOW",
        ),
    ] = None,
    fitted: Annotated[
        list[str] | None,
        typer.Option(
            "--fitted",
            help="What else the appliance is like, as the procedure asks for it, such as elements=single; may be given "
            "again.",
            metavar="FIELD=ANSWER",
        ),
    ] = None,
    names: Annotated[
        bool, typer.Option("--names", help="List the faults there are on this connection, and end.")
    ] = False,
    voice: Annotated[
        bool, typer.Option("--voice", help="Practise by voice, with the options of voicetech talk below.")
    ] = False,
    mic: Mic = None,
    audio: Audio = None,
    ear: Ear = None,
    model: Model = None,
    address_word: AddressWord = None,
    push_to_talk: PushToTalk = False,
    headset: Headset = False,
    silent: Silent = False,
    plain: Annotated[bool, typer.Option("--plain", help="No colour and no layout.")] = False,
    procedure: NamedProcedure = None,
) -> None:
    """Practise on a simulated appliance with a hidden fault.

    With --voice the prompts are spoken and your spoken answers heard, as by voicetech talk; at each question the
    screen shows what is found. With --json, or with all or pairs, a simulated technician answers, and each line tells
    the fault, what the customer complained of, whether it was found, and proved or only named with others that nothing
    told apart, how many tests it took, what was named and how often a safety rule was broken.

    Examples: voicetech rehearse, voicetech rehearse --voice --headset, voicetech rehearse --connection hard-wired,
    voicetech rehearse --fault bake-open --json, voicetech rehearse --fault all --connection cord-3 --json
    """
    from voicetech.diagnosis import LISTED, ORDER
    from voicetech.practice import ASIDES
    from voicetech.rehearsal.appliance_at_hand import AtHand, possible_faults

    only_by_voice = {
        "--mic": mic, "--audio": audio, "--ear": ear, "--model": model, "--address-word": address_word,
        "--push-to-talk": push_to_talk, "--headset": headset, "--silent": silent,
    }  # fmt: skip
    given = [name for name, value in only_by_voice.items() if value]
    if given and not voice:
        raise typer.BadParameter(f"{given[0]} is for practising by voice; add --voice")
    if voice and (as_json or fault in (_ALL, _PAIRS)):
        raise typer.BadParameter("--voice is for one fault that you look for yourself; leave --json, all and pairs out")
    alone = as_json or fault in (_ALL, _PAIRS)
    if names:
        idle = {"--fault": fault != "random", "--seed": seed is not None, "--json": as_json, "--listed": listed}
        refuse({**idle, "--voice": voice, "--plain": plain}, "does nothing beside --names: leave one of them out")
    if alone:
        refuse({"--plain": plain}, "is for practising yourself; lines of JSON have no layout: leave it out")
    check_choices(mic, audio, push_to_talk)
    with plain_errors():
        known = procedure_meant(procedure_chosen(procedure, asks=not alone))
        if listed:
            known = replace(known, settings={**known.settings, ORDER: LISTED})
        if known.circuit is None:
            stop(f"{known.title} has no circuit to rehearse on.")
        plate = {**_plate(known, known.circuit, connection), **_fitted(known, fitted or ())}
        if names:
            for each in possible_faults(known.circuit, plate):
                sys.stdout.write(f"{each.id}: {each.say}\n")
            return
        if alone and seed is None:
            seed = 0
        chance = random.Random(seed)  # noqa: S311  a rehearsal needs to repeat, not to be secret
        at_hand = [
            AtHand(known, known.circuit, faults, plate) for faults in _chosen(known.circuit, plate, fault, chance)
        ]
        if alone:
            _all(at_hand, seed or 0)
        elif voice:
            manners = Manners(silent, None, address_word, push_to_talk, headset, ASIDES, _BY_KEYBOARD)
            _practise_by_voice(at_hand[0], chance, Screen(plain), _Hearing(mic, audio, ear, model), manners)
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


def _fitted(procedure: "Procedure", given: Iterable[str]) -> dict[str, str]:
    """Return what the appliance is like by these, each as FIELD=ANSWER; BadParameter for what it never is."""
    from voicetech.rehearsal.appliance_at_hand import answers_of

    found: dict[str, str] = {}
    for said in given:
        field, _, answer = said.partition("=")
        known = answers_of(procedure, field)
        if answer not in known:
            told = f"{field} is one of {', '.join(known)}" if known else "write a question's field and an answer to it"
            raise typer.BadParameter(
                f"{said!r} is nothing that {procedure.title!r} asks for; {told}", param_hint="--fitted"
            )
        found[field] = answer
    return found


def _chosen(
    circuit: "Appliance", plate: dict[str, str], name: str, chance: random.Random
) -> "Iterator[tuple[Fault, ...]]":
    from voicetech.rehearsal.appliance_at_hand import possible_faults

    faults = possible_faults(circuit, plate)
    match name:
        case _ if name == _ALL:
            yield from ((each,) for each in faults)
        case _ if name == _PAIRS:
            pairs = [
                (one, other)
                for one, other in combinations(faults, 2)
                if one.cause != other.cause and not one.contradicts(other)
            ]
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
    if not fault.can_be(plate) and CONNECTION not in fault.only:
        wanted = " and ".join(f"--fitted {field}={answers[0]}" for field, answers in fault.only.items())
        raise typer.BadParameter(f"{name} ({fault.say}) exists only with {wanted}", param_hint="--fault")
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
        done = rehearsed(understood, at_hand, chance)
        sys.stdout.write(json.dumps(_record(at_hand, done)) + "\n")
        sys.stdout.flush()


def _record(at_hand: "AtHand", done: "Rehearsed") -> dict[str, object]:
    from voicetech.rehearsal.appliance_at_hand import CONNECTION

    named = [*done.named, *(cause for cause in done.together if cause not in done.named)]
    causes = {fault.cause for fault in at_hand.faults}
    return {
        "fault": "+".join(fault.id for fault in at_hand.faults),
        "connection": at_hand.plate.get(CONNECTION),
        "complaint": done.complaint or None,
        "found": causes <= set(named),
        "proved": causes <= set(done.named),
        "tests": done.tests_until[0] if done.tests_until else done.tests,
        "named": named,
        "unsafe_steps": len(done.unsafe),
        "visits": done.visits,
        "beside_it": done.beside_it,
    }


def _practise(at_hand: "AtHand", chance: random.Random, screen: Screen) -> None:
    from voicetech.events import Channel
    from voicetech.practice import Practice

    work_ahead_of(at_hand.procedure)
    practice = Practice(at_hand, chance, Channel.CHAT, time.time, _showing(screen))
    screen.note(_HELP)
    screen.reply(practice.first)
    try:
        while not practice.closed:
            line = input("" if not sys.stdin.isatty() else "> ").strip()
            if line:
                screen.reply(practice.typed(line))
    except (EOFError, KeyboardInterrupt):
        screen.note("")
    _tell(at_hand, practice.rehearsed, screen)


@dataclass(frozen=True, slots=True)
class _Hearing:
    """Which microphone or recordings, and which recogniser."""

    mic: str | None
    audio: Path | None
    ear: str | None
    model: Path | None


def _practise_by_voice(
    at_hand: "AtHand", chance: random.Random, screen: Screen, hearing: _Hearing, manners: Manners
) -> None:
    from voicetech.events import Channel
    from voicetech.hearing.ears import open_ear
    from voicetech.practice import Practice
    from voicetech.talking import asks

    practice = Practice(at_hand, chance, Channel.VOICE, time.time, _showing(screen))
    manners = replace(manners, address_word=fit_address(practice, manners.address_word))

    def on_reply(reply: "Reply") -> None:
        screen.reply(reply)
        found = practice.found() if asks(reply) else None
        if found is not None:
            _showing(screen)(found)

    with ExitStack() as open_things, _by_keyboard_instead():
        recogniser = open_ear(hearing.ear, hearing.model)
        recogniser.warm_up()
        feed = open_feed(hearing.mic, hearing.audio, open_things)
        work_ahead_of(at_hand.procedure)
        screen.note(_VOICE_HELP)
        tell_unheard(practice, recogniser, screen)
        try:
            conversation = open_conversation(practice, recogniser, feed, screen, open_things, manners, on_reply)
            if feed.microphone is not None:
                feed.microphone.start_afresh()
            conversation.begin(practice.first)
            converse(conversation, feed, screen, manners)
        except KeyboardInterrupt:
            screen.note("")
        finally:
            _tell(at_hand, practice.rehearsed, screen)


@contextmanager
def _by_keyboard_instead() -> Iterator[None]:
    """Name this command where an error of microphone, recogniser or voice sends people to the keyboard."""
    from voicetech.hearing.errors import HearingError
    from voicetech.speaking.speaker import SpeakingError

    try:
        yield
    except HearingError as error:
        stop(str(error).replace(BY_KEYBOARD, _BY_KEYBOARD))
    except SpeakingError as error:
        stop(f"{error}\nPractise without a voice with --silent, or by keyboard: {_BY_KEYBOARD}")


def _showing(screen: Screen) -> Callable[[str], None]:
    return lambda found: screen.said("you find", found)


def _tell(at_hand: "AtHand", done: "Rehearsed", screen: Screen) -> None:
    record = _record(at_hand, done)
    screen.said("it was", "; ".join(fault.say for fault in at_hand.faults))
    screen.said("found", "yes" if record["found"] else "no")
    screen.said("tests", f"{record['tests']}, {so_many(done.beside_it, 'section')} of them could not show it")
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
