"""How a run is broken off: Ctrl-C at every prompt, a closed terminal, signals, and streams that are closed."""

import random
import signal
import subprocess
import time
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Final

from tests.crash.spoken import recordings
from tests.faults.bench import DONE, GIVEN, HALF, SERVING, SPOKEN, Bench
from tests.faults.homes import try_command
from tests.faults.running import Surroundings, Tried, ended, happened, until, wrong_with
from tests.faults.serving import address_of
from tests.faults.terminal import CTRL_C, CTRL_D, Terminal
from voicetech.authoring.procedure_files import load_shipped
from voicetech.cli.ending import BY_CTRL_C
from voicetech.events import CauseShown, InputReceived, JobClosed
from voicetech.journal.place import journal_path
from voicetech.journal.store import open_to_read
from voicetech.procedure import Procedure
from voicetech.rehearsal.appliance_at_hand import AtHand
from voicetech.rehearsal.technician import answer
from voicetech.replay import material_of, replay
from voicetech.session import fold
from voicetech.turn import Turn

UNSEEN: Final = frozenset({">&-", "<&- >&- 2>&-", ">/dev/full"})
"""Where nobody sees what is printed."""
_FAULT: Final = "bake-open"
_PLATE: Final = {"connection": "cord-4"}
_MOST_PROMPTS: Final = 400


def ends(bench: Bench) -> Iterator[Tried]:
    """Try ways to break a run off."""
    yield from closed_streams(bench)
    yield from prompts(bench)
    yield from signals(bench)
    yield ctrl_c_at_every_prompt(bench.folder / "ctrl-c")


def ctrl_c_at_every_prompt(home: Path, most: int = _MOST_PROMPTS) -> Tried:
    """Work a job in a terminal, ended with Ctrl-C once at every prompt that comes up, as far as `most` of them.

    A job that is taken up makes safe anew, so that one that is broken off at each prompt again and again never ends:
    at a prompt where it was broken off before, it goes on. Every other time a line is half typed by then. What was
    answered has to be on record once, the half lines not at all, and the job has to come to its end.
    """
    procedure = load_shipped("electric-range-no-heat")
    chance = random.Random(5)
    at_hand = _range(procedure)
    sent: list[str] = []
    wrong: list[str] = []
    places: set[tuple[object, ...]] = set()
    job, over = "", False
    while len(places) < most and not over and not wrong:
        resume = ["--resume", job] if job else ["--procedure", "range"]
        with Terminal(Surroundings(home), ["chat", *resume]) as terminal:
            while terminal.waits():
                job = job or _last(home)
                place = _place(home, job)
                if place not in places:
                    places.add(place)
                    terminal.type((b"half a li" if len(places) % 2 else b"") + CTRL_C)
                    break
                line = _next(procedure, home, job, at_hand, chance)
                if line is None:
                    break
                terminal.type(f"{line}\n".encode())
                sent.append(line)
            ran = terminal.ended()
        over = ran.status == 0 and "Print the report" in ran.out
        wrong += wrong_with(ran)
        if not over and (ran.status != BY_CTRL_C or f"voicetech chat --resume {job}" not in ran.out):
            wrong.append(f"ends with {ran.status} and does not say how to go on")
    wrong += _compared(home, job, sent, whole=over)
    told = f"{len(places)} prompts, {len(sent)} answers on record once each, none of the half typed lines"
    return Tried("Ctrl-C at every prompt of a job", "chat", told, tuple(wrong))


def _place(home: Path, job: str) -> tuple[object, ...]:
    """Return what tells the open prompt from every other."""
    with open_to_read(journal_path(home)) as journal:
        session = fold(journal.events(job))
    return (session.at, session.turn)


def _range(procedure: Procedure) -> AtHand:
    circuit = procedure.circuit
    assert circuit is not None
    return AtHand(procedure, circuit, (circuit.fault(_FAULT),), _PLATE)


def _last(home: Path) -> str:
    with open_to_read(journal_path(home)) as journal:
        return journal.last_job() or ""


def _next(procedure: Procedure, home: Path, job: str, at_hand: AtHand, chance: random.Random) -> str | None:
    """Return what a careful technician says next, None after the job's end."""
    with open_to_read(journal_path(home)) as journal:
        session = fold(journal.events(job))
    if session.turn is Turn.CLOSED:
        return None
    return "close the job" if session.turn is Turn.HANDED_OVER else answer(procedure, session, at_hand, chance)


def _compared(home: Path, job: str, sent: Sequence[str], *, whole: bool) -> Iterator[str]:
    with open_to_read(journal_path(home)) as journal:
        events = journal.events(job)
        exact = replay(material_of(journal, job, "faults")).exact
    said = [event.text for event in events if isinstance(event, InputReceived)]
    if said != list(sent):
        yield f"answers lost or doubled: {len(said)} on record of {len(sent)}"
    if not exact:
        yield "the job cannot be gone through again"
    if whole and not any(isinstance(event, JobClosed) and event.outcome == "repaired" for event in events):
        yield "the job does not come to its end"
    if whole and not any(isinstance(event, CauseShown) for event in events):
        yield "the fault is not found"


def prompts(bench: Bench) -> Iterator[Tried]:
    """Try Ctrl-C, Ctrl-D, rubbish and a closed window at each other question that a command asks at a terminal."""
    asked: Sequence[tuple[str, Sequence[str], bytes, dict[str, str | None]]] = (
        ("which appliance", ("chat",), b"> ", {"VOICETECH_PROCEDURE": None}),
        ("first question", ("chat", "--procedure", "range"), b"> ", {}),
        ("taken up", ("chat", "--resume", HALF), b"> ", {}),
        ("rehearsal", ("rehearse", "--fault", "bake-open"), b"> ", {}),
        ("really delete", ("forget", DONE), b"]: ", {}),
    )
    for fault, keys in (
        ("Ctrl-C", CTRL_C),
        ("Ctrl-C twice", CTRL_C + CTRL_C),
        ("Ctrl-D", CTRL_D),
        ("bytes that are no text", b"\xff\xfe\xc3(\n" + CTRL_D),
        ("a line without end", b"x" * 4_000 + b"\n" + CTRL_D),
        ("signs of control", b"\x1b[A\x1b[2J\x07\n" + CTRL_D),
        ("closed window", b""),
    ):
        for where, arguments, prompt, values in asked:
            home = bench.home()
            with Terminal(Surroundings(home, values), arguments) as terminal:
                waited = terminal.waits(prompt, 30.0)
                if keys:
                    for each in keys.splitlines(keepends=True) if b"\n" in keys else [keys]:
                        terminal.type(each)
                        time.sleep(0.3)
                else:
                    terminal.close()
                ran = terminal.ended()
            wrong = list(wrong_with(ran, None if keys else signal.SIGHUP))
            told = ran.out.strip().splitlines()[-1:] if keys else ()
            line = f"{ran.status}: {(told or [''])[0][:120]}"
            wrong += [] if waited else ["no prompt"]
            yield Tried(f"{fault} at a prompt", f"{arguments[0]} ({where})", line, (*wrong, *bench.lost(home)))


def signals(bench: Bench) -> Iterator[Tried]:
    """Try signals at commands that are at work, one of them in the midst of what it says."""
    clips = recordings(bench.folder / "clips")
    at_work: Sequence[tuple[str, Sequence[str]]] = (
        ("chat", ("chat", "--plain", "--resume", HALF)),
        ("talk", ("talk", "--audio", str(clips), "--silent", "--plain", "--keep-sound", "--resume", HALF)),
        ("talk aloud", ("talk", "--audio", str(clips), "--plain", "--no-sound", "--resume", HALF)),
        ("demo", ("demo", "--plain", "--silent")),
        ("rehearse", ("rehearse", "--plain", "--fault", "bake-open")),
        ("serve", ("serve", "--no-browser")),
        ("review", ("review", SPOKEN, "--no-browser")),
        ("replay", ("replay", "all", "--rehear")),
        ("hear", ("hear", *map(str, sorted(clips.iterdir())))),
        ("prove", ("prove",)),
    )
    for number in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP):
        for command, arguments in at_work:
            home = bench.home()
            process = Surroundings(home).begun(*arguments)
            _until_at_work(process, command)
            time.sleep(0.5)
            process.send_signal(number)
            ran = ended(process, longest_s=30.0)
            wrong = wrong_with(ran, None if number is signal.SIGINT else number)
            told = happened(ran, {str(bench.folder): "…"})
            lost = (*bench.lost(home), *(bench.resumed(home) if command in ("chat", "talk") else ()))
            yield Tried(number.name, command, told, (*wrong, *lost))


def _until_at_work(process: "subprocess.Popen[bytes]", command: str) -> None:
    if command in SERVING:
        address_of(process)
        return
    if command in ("replay", "prove"):
        time.sleep(4.0)
        return
    assert process.stdout is not None
    process.stdout.readline()


def closed_streams(bench: Bench) -> Iterator[Tried]:
    """Try commands whose streams are closed, full or read no further."""
    commands = ("chat --resume", "talk", "jobs", "report", "rehearse", "serve", "demo")
    for fault, redirected in (
        ("no input", "<&-"),
        ("no output", ">&-"),
        ("no errors", "2>&-"),
        ("none of the three streams", "<&- >&- 2>&-"),
        ("output that is full", ">/dev/full"),
        ("errors that are full", "2>/dev/full"),
        ("input that is binary", "</dev/urandom"),
    ):
        for command in commands:
            bench.out()
            home = bench.home()
            if "binary" in fault and command not in ("chat --resume", "talk"):
                continue
            before = ("sh", "-c", f'exec "$@" {redirected}', "sh")
            given = "" if "<" in redirected else GIVEN.get(command, "")
            if command == "serve" and redirected in UNSEEN:
                # Nobody is told the address then; it is ended once it serves.
                line = _ended_unseen(bench, fault, Surroundings(home, before=before))
            elif "binary" in fault:
                before = ("sh", "-c", 'head -c 20000 /dev/urandom | "$@"', "sh")
                line = try_command(bench, fault, command, Surroundings(home, before=before))
            else:
                line = try_command(bench, fault, command, Surroundings(home, before=before), given)
            silent = [] if "2>" not in redirected else ["ends with an error and no word"]
            wrong = [each for each in line.wrong if each not in silent]
            yield Tried(line.fault, line.command, line.happened, (*wrong, *bench.lost(home)))
    yield from _read_no_further(bench)


def _ended_unseen(bench: Bench, fault: str, surroundings: Surroundings) -> Tried:
    process = surroundings.begun("serve", "--no-browser")
    until(lambda: process.poll() is not None, 6.0)
    if process.poll() is None:
        process.send_signal(signal.SIGINT)
    return bench.tried(fault, "serve", ended(process, longest_s=30.0))


def _read_no_further(bench: Bench) -> Iterator[Tried]:
    for command in (
        "jobs",
        "jobs --about",
        "chat --resume",
        "demo",
        "rehearse",
        "upkeep",
        "procedures",
        "check",
        "talk",
    ):
        bench.out()
        home = bench.home()
        words = bench.words(command)
        before = ("sh", "-c", '"$@" | head -n 1', "sh")
        given = GIVEN.get(command, "") * 50
        ran = Surroundings(home, before=before).run(*words, given=given)
        yield bench.tried("output read for one line (head -n 1)", command, ran, *bench.lost(home))
