"""`voicetech prove`: what was walked and held, a broken rule with the way there, and all procedures on all cores."""

import json
import os
import pty
import signal
import subprocess
import sys
import time
from concurrent.futures.process import BrokenProcessPool
from dataclasses import replace
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from tests.authoring.test_bad_files import BAD
from tests.cli.program import ROOT, run
from tests.dialogue.breakages import outlives_a_pause
from voicetech.authoring.procedure_files import shipped_names
from voicetech.cli import app
from voicetech.procedure import Procedure
from voicetech.proof import proving
from voicetech.proof.proving import RULES, Broken, Leg, Proof

PROOF = Proof("", 1200, 34000, 26, 80, 300, 50, 49, (), ())


_ONE_PAIR = {
    "[[a, b], [a, n], [b, n], [a, f], [b, f], [n, f]]": "[[a, f]]",
    "[[a, n]]": "[[a, f]]",
    "[[a, b]]": "[[a, f]]",
    "revision: 1": "revision: 1\nsupply: [L1, frame]",
}
"""What makes the small procedure one of a single live part, which is walked in seconds."""


def kettle(folder: Path, name: str, *lines: str) -> Path:
    """Write a small sound procedure, with lines of its own."""
    (folder / "shared").mkdir(exist_ok=True)
    base = (BAD / "shared" / "base.yaml").read_text(encoding="utf-8")
    for pairs, fewer in _ONE_PAIR.items():
        assert pairs in base
        base = base.replace(pairs, fewer)
    (folder / "shared" / "base.yaml").write_text(base, encoding="utf-8")
    path = folder / f"{name}.yaml"
    path.write_text("\n".join((f"procedure: {name}", "include: [base.yaml]", *lines, "")), encoding="utf-8")
    return path


def leaky(folder: Path) -> Path:
    """Write the small procedure with a test after which a wire is left off."""
    return kettle(
        folder,
        "leaky",
        "sections:",
        "  more:",
        "    title: more",
        "    phase: test",
        "    call: [more]",
        "    asked: by-name",
        "    steps:",
        "      ohms:",
        "        measure: resistance",
        "        needs: dead",
        "        one_wire_off: yes",
        "        say: One wire off. Coil, ohms?",
        "        between: [[a, f]]",
        "        limits: {rule: closed-contact, source: s}",
        "        outcomes: {below: {}, within: {}, above: {say: High.}, over_range: {say: Open.}}",
    )


def test_several_are_proved_in_processes_and_told_in_their_order_with_a_total(tmp_path: Path) -> None:
    bad, mistaken = leaky(tmp_path), kettle(tmp_path, "wrong", "nonsense: yes")
    done = run(tmp_path / "home", "prove", str(bad), str(mistaken), "--cores", "2")
    assert done.returncode == 1
    assert done.stderr == ""
    lines = done.stdout.splitlines()
    assert lines[0].startswith("leaky: 1 rule broken; ")
    (broken,) = [line for line in lines if "BROKEN" in line]
    assert "the test ends and wires that were taken off are not back" in broken
    assert f"    at more, ohms ({bad}:10)" in lines
    assert any(line.startswith(f"    1. at more, ohms ({bad}:10): 'a reading ") for line in lines)
    told = [line for line in lines if not line.startswith(" ")]
    assert told[1] == f"{mistaken}: 1 mistake to be mended first: voicetech check {mistaken}"
    assert "states, " in told[2]
    assert told[2].startswith("2 procedures: 1 rule broken, 1 to be mended first; ")


def prove_here(*arguments: str) -> Result:
    """Run the command in this process, where the program can be changed."""
    return CliRunner().invoke(app, ["prove", *arguments, "--cores", "1"])


def test_a_broken_program_is_told_with_the_way_in_words(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    outlives_a_pause(monkeypatch)
    done = prove_here(str(kettle(tmp_path, "kettle")))
    assert done.exit_code == 1
    lines = done.stdout.splitlines()
    assert "  BROKEN: retest/again needs power and is asked without its covers on." in lines
    way = [line.strip() for line in lines if line.strip()[:1].isdigit()]
    assert way[0].startswith("1. the job is opened")
    assert any(": 'pause'" in line for line in way)
    assert ": 'resume'" in way[-1]


def quickly(patch: pytest.MonkeyPatch, broken: str = "") -> None:
    """Let procedures be proved at once, one of them with a rule broken."""

    def proved(procedure: Procedure, _progress: object) -> Proof:
        step = procedure.sections[0].steps[0].id
        at = procedure.sections[0].id, step
        told = (Broken("a rule", at, (Leg(None, "the job is opened", at),)),) if procedure.id == broken else ()
        return replace(PROOF, procedure=procedure.id, unneeded=("go-live",), broken=told)

    patch.setattr(proving, "prove", proved)


def test_one_procedure_is_told_with_what_was_held(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    quickly(monkeypatch)
    done = prove_here(str(kettle(tmp_path, "kettle")))
    told, walked, unneeded, held, *rules = done.stdout.splitlines()
    assert (done.exit_code, told) == (0, "kettle: no rule is broken.")
    assert "1,200 states and 34,000 moves" in walked
    assert unneeded.strip() == "go-live is never asked, because no step needs it."
    assert held.strip() == "Held at every one of them:"
    assert [rule.strip() for rule in rules] == list(RULES)


def test_each_is_one_object_for_other_programs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    quickly(monkeypatch, broken="leaky")
    paths = [kettle(tmp_path, "kettle"), leaky(tmp_path), kettle(tmp_path, "wrong", "nonsense: yes")]
    done = prove_here(*map(str, paths), "--json")
    good, bad, mistaken = map(json.loads, done.stdout.splitlines())
    assert done.exit_code == 1
    assert [each["kept"] for each in (good, bad, mistaken)] == [True, False, False]
    assert (good["procedure"], good["states"], good["moves"], good["asked"]) == ("kettle", 1200, 34000, 49)
    assert good["seconds"] >= 0
    (broken,) = bad["broken"]
    assert broken["way"][0]["words"] == "the job is opened"
    assert Path(broken["file"]).is_file()
    assert (mistaken["file"], mistaken["findings"]) == (str(paths[2]), 1)


def test_all_that_comes_with_the_program_is_proved_with_a_total(monkeypatch: pytest.MonkeyPatch) -> None:
    quickly(monkeypatch)
    done = prove_here()
    names = sorted(shipped_names())
    assert done.exit_code == 0, done.output
    lines = [line for line in done.stdout.splitlines() if "is never asked" not in line]
    assert [line.split(":")[0] for line in lines[: len(names)]] == names
    assert all("1,200 states, 34,000 moves" in line and "49 of 50 steps asked" in line for line in lines[: len(names)])
    assert lines[len(names)].startswith(f"{len(names)} procedures: no rule is broken; {1200 * len(names):,} states, ")
    assert [line.strip() for line in lines[-len(RULES) :]] == list(RULES)


def test_a_process_that_is_ended_from_outside_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def ended(procedure: Procedure, _progress: object) -> Proof:
        raise BrokenProcessPool(procedure.id)

    monkeypatch.setattr(proving, "prove", ended)
    done = prove_here(str(kettle(tmp_path, "kettle")))
    assert done.exit_code == 1
    assert "A process was ended from outside" in done.stderr
    assert "kettle" not in done.stdout


def begun(home: Path, *arguments: str, errors: int = subprocess.PIPE) -> "subprocess.Popen[bytes]":
    return subprocess.Popen(
        [sys.executable, "-m", "voicetech", "prove", *arguments],
        env={**os.environ, "VOICETECH_HOME": str(home), "PYTHONPATH": str(ROOT), "TERM": "xterm", "COLUMNS": "120"},
        stdout=subprocess.PIPE,
        stderr=errors,
        start_new_session=True,
        # A test run in the background may have been told to ignore Ctrl-C.
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),
    )


@pytest.mark.parametrize("later_s", [1.0, 4.0])
def test_ctrl_c_while_all_cores_prove_is_one_line(tmp_path: Path, later_s: float) -> None:
    done = begun(tmp_path)
    time.sleep(later_s)
    # A terminal sends it to all processes of the command.
    os.killpg(done.pid, signal.SIGINT)
    _, errors = done.communicate(timeout=60)
    # A shell shows 130 for both: Python ends by the signal itself where it struck while a module was loading.
    assert done.returncode in (130, -signal.SIGINT)
    assert errors.decode() in ("Ended with Ctrl-C.\n", "")


def test_a_terminal_sees_how_far_each_has_come(tmp_path: Path) -> None:
    shown, screen = pty.openpty()
    done = begun(tmp_path, "water heater", "dryer", "--cores", "2", errors=screen)
    os.close(screen)
    seen = b""
    try:
        while b"left" not in seen:
            seen += os.read(shown, 4096)
    finally:
        os.killpg(done.pid, signal.SIGINT)
        printed, _ = done.communicate(timeout=60)
        os.close(shown)
    assert b"0 of 2 procedures proved" in seen
    assert b"walking electric-" in seen
    # What others read is on standard output alone.
    assert printed == b""
