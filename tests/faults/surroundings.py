"""Languages, letters, terminals, time zones and clocks that a computer may have, and that may change on the way."""

import shutil
import subprocess
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Final

from tests.faults.bench import DONE, GIVEN, HALF, Bench
from tests.faults.homes import try_command
from tests.faults.running import ROOT, Surroundings, Tried, happened, wrong_with
from tests.faults.terminal import CTRL_D, Terminal
from tests.faults.working import Worked, job_lines, missing, worked
from voicetech.events import ProofEnded
from voicetech.journal.place import journal_path
from voicetech.journal.store import open_to_read

_SAID: Final = ("chat --resume", "judge", "jobs", "report", "hear", "check")
"""Commands whose words have signs of ohms, degrees and dashes in them."""
_LOCALES: Final = ("tr_TR.UTF-8", "de_DE.UTF-8", "de_DE.ISO-8859-1", "ja_JP.SJIS", "fr_CA.UTF-8")

LETTERS: Final[Mapping[str, Mapping[str, str | None]]] = {
    "LANG=C": {"LANG": "C", "LC_ALL": "C", "PYTHONUTF8": None},
    "LANG=C without UTF-8": {"LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"},
    "LANG=POSIX": {"LC_ALL": "POSIX", "LANG": "POSIX"},
    "no language set": {"LANG": None, "LC_ALL": None, "LC_CTYPE": None},
    "output in ASCII": {"PYTHONIOENCODING": "ascii"},
    "output in Latin-1": {"PYTHONIOENCODING": "latin-1"},
    "output in code page 437": {"PYTHONIOENCODING": "cp437"},
    "output in code page 1252": {"PYTHONIOENCODING": "cp1252:strict"},
}


def surroundings(bench: Bench) -> Iterator[Tried]:
    """Try languages, terminals, time zones and clocks."""
    yield from letters(bench)
    yield from terminals(bench)
    yield zones(bench)
    yield from clocks(bench)


def letters(bench: Bench) -> Iterator[Tried]:
    """Try what letters a computer may have."""
    made = {f"language {name}": found for name in _LOCALES if (found := _locale(bench.folder, name))}
    tried: dict[str, Mapping[str, str | None]] = {**LETTERS, **made}
    for fault, values in tried.items():
        for command in _SAID:
            bench.out()
            home = bench.home()
            given = GIVEN.get(command, "").replace("status\n", "status\nwhat's the limit\nnote: Küche, 21 Ω, 200 °F\n")
            line = try_command(bench, fault, command, Surroundings(home, values), given)
            wrong = () if line.happened.startswith("0:") else ("it does not work",)
            yield Tried(line.fault, line.command, line.happened, (*line.wrong, *wrong, *bench.lost(home)))


def _locale(folder: Path, name: str) -> dict[str, str | None] | None:
    """Return the variables of a language, made for this, None where it cannot be made here."""
    if shutil.which("localedef") is None:
        return None
    language, _, letters_ = name.partition(".")
    place = folder / "locales"
    place.mkdir(exist_ok=True)
    done = subprocess.run(
        ["localedef", "-c", "-i", language, "-f", {"SJIS": "SHIFT_JIS"}.get(letters_, letters_), str(place / name)],
        capture_output=True,
        check=False,
    )
    if not (place / name).exists():
        return None if done.returncode else {}
    return {"LOCPATH": str(place), "LC_ALL": name, "LANG": name, "PYTHONUTF8": "0"}


TERMINALS: Final[Sequence[tuple[str, Mapping[str, str | None], int, int]]] = (
    ("terminal of 20 columns", {}, 20, 40),
    ("terminal of 1 column", {}, 1, 40),
    ("terminal of no size", {}, 0, 0),
    ("terminal of 1000 columns", {}, 1000, 3),
    ("TERM=dumb", {"TERM": "dumb"}, 80, 24),
    ("TERM not set", {"TERM": None}, 80, 24),
    ("TERM of nothing", {"TERM": "no-such-terminal"}, 80, 24),
    ("terminal of ASCII", {"TERM": "vt100", "PYTHONIOENCODING": "ascii", "LC_ALL": "C"}, 80, 24),
    ("terminal of Latin-1", {"PYTHONIOENCODING": "latin-1"}, 80, 24),
    ("NO_COLOR", {"NO_COLOR": "1"}, 80, 24),
    ("COLUMNS that is no number", {"COLUMNS": "wide"}, 80, 24),
)


def terminals(bench: Bench) -> Iterator[Tried]:
    """Try terminals: a job taken up, with a drawing of the test points, and lists."""
    for fault, values, columns, rows in TERMINALS:
        for arguments, lines in (
            (("chat", "--resume", HALF), ("status", "what's the limit", "where", "how")),
            (("jobs",), ()),
            (("jobs", "--figures"), ()),
            (("rehearse", "--fault", "bake-open"), ("show me", "give up")),
            (("check", str(ROOT / "dialogs" / "electric-range-no-heat.yaml")), ()),
            (("--help",), ()),
        ):
            home = bench.home()
            with Terminal(Surroundings(home, values), arguments, columns, rows) as terminal:
                answered = True
                for line in lines:
                    answered = answered and terminal.waits()
                    terminal.type(f"{line}\n".encode())
                if lines:
                    terminal.waits(longest_s=10.0)
                    terminal.type(CTRL_D)
                ran = terminal.ended()
            wrong = wrong_with(ran) if answered else (*wrong_with(ran), "no prompt")
            told = f"{ran.status}, {len(ran.out.splitlines())} lines"
            yield Tried(fault, " ".join(arguments[:2]), told, (*wrong, *bench.lost(home)))


def zones(bench: Bench) -> Tried:
    """Try a job of which each part is worked in another time zone, one of them none, and its report in a last one."""
    home = bench.home()
    lines = job_lines()
    at = 0
    whole = Worked([], None, Surroundings(home).run("jobs"))
    wrong: list[str] = []
    for zone in ("America/Los_Angeles", "Asia/Tokyo", "Antarctica/Troll", "nowhere/at-all", "XYZ-99:99", "", ":"):
        arguments = ("chat", "--plain", *(("--resume", "last") if at else ("--procedure", "range")))
        done = worked(Surroundings(home, {"TZ": zone}), lines[at : at + 3], arguments)
        wrong += wrong_with(done.ran)
        at += 3
        whole = Worked([*whole.acknowledged, *done.acknowledged], done.on_its_way, done.ran)
    wrong += missing(home, whole)
    for command in ("jobs", "report", "upkeep", "replay"):
        bench.out()
        ran = Surroundings(home, {"TZ": "Pacific/Kiritimati"}).run(*bench.words(command))
        wrong += wrong_with(ran) if ran.status == 0 else (f"{command}: {ran.first}",)
    told = f"{len(whole.acknowledged)} answers in 7 zones on record once each, listed and reported in another"
    return Tried("time zone that changes on the way", "chat", told, tuple(wrong))


CLOCK: Final = """
import os
import time

_true = time.time


def _told():
    try:
        with open(os.environ["FAULTS_CLOCK"], encoding="ascii") as file:
            return _true() + float(file.read() or 0)
    except (OSError, ValueError):
        return _true()


time.time = _told
"""
"""A sitecustomize under which the clock goes wrong by as much as a file says."""
_PROVED: Final = 28
"""Lines of the job until it is proved dead."""
_JUMPS_S: Final = {
    "an hour back": -3_600.0,
    "an hour on": 3_600.0,
    "years back, before the job was begun": -3e8,
    "to the year 1970": -1.79e9,
    "fifty years on": 1.6e9,
}


def clocks(bench: Bench) -> Iterator[Tried]:
    """Try a clock that is set while a job is at work: a proof of dead that it may have outlived does not stand."""
    place = bench.folder / "clock"
    place.mkdir(exist_ok=True)
    (place / "sitecustomize.py").write_text(CLOCK, encoding="utf-8")
    ahead = place / "ahead"
    values: dict[str, str | None] = {"PYTHONPATH": f"{place}:{ROOT}", "FAULTS_CLOCK": str(ahead)}
    lines = [*job_lines()[:_PROVED], "status", "repeat", "status"]
    for fault, by_s in _JUMPS_S.items():
        home = bench.home()
        ahead.write_text("0", encoding="ascii")

        def jumps(number: int, _process: object, by_s: float = by_s) -> None:
            if number == _PROVED:
                ahead.write_text(f"{by_s}", encoding="ascii")

        done = worked(Surroundings(home, values), lines, before_line=jumps)
        wrong = [*wrong_with(done.ran), *missing(home, done)]
        with open_to_read(journal_path(home)) as journal:
            ended_ = [event for event in journal.events(journal.last_job() or "") if isinstance(event, ProofEnded)]
        if not ended_:
            wrong.append("a proof of dead outlives the jump")
        for command in ("chat --resume", "jobs", "jobs --figures", "report", "replay", "upkeep", "push", "forget"):
            bench.out()
            # The last job is the one whose clock jumped.
            words = [word if word not in (HALF, DONE) else "last" for word in bench.words(command)]
            ran = Surroundings(home, values).run(*words, given=GIVEN.get(command, ""))
            wrong += [f"{command}: {each}" for each in wrong_with(ran)]
            if ran.status != 0:
                wrong.append(f"{command}: {happened(ran, {})}")
        told = f"the proof of dead ended, {len(done.acknowledged)} answers on record, listed, reported and replayed"
        yield Tried(f"clock set {fault}", "chat", told, tuple(wrong))
