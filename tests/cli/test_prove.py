"""`voicetech prove`: what was walked and held, a broken rule with the way there, and all procedures in a row."""

import json
import shutil
from dataclasses import replace
from pathlib import Path

import pytest
from typer.testing import CliRunner

from tests.authoring.test_bad_files import BAD
from tests.cli.program import run
from voicetech.authoring.procedure_files import shipped_names
from voicetech.cli import app
from voicetech.procedure import Procedure
from voicetech.proof import proving
from voicetech.proof.proving import RULES, Broken, Leg, Proof

PROOF = Proof("", 1200, 34000, 26, 80, 300, 50, 49, (), ())


def kettle(folder: Path, name: str, *lines: str) -> Path:
    """Write a small sound procedure, with lines of its own."""
    (folder / "shared").mkdir(exist_ok=True)
    shutil.copy(BAD / "shared" / "base.yaml", folder / "shared")
    path = folder / f"{name}.yaml"
    path.write_text("\n".join((f"procedure: {name}", "include: [base.yaml]", *lines, "")), encoding="utf-8")
    return path


def test_one_procedure_is_told_with_what_was_held(tmp_path: Path) -> None:
    done = run(tmp_path / "home", "prove", str(kettle(tmp_path, "kettle")))
    told, walked, unneeded, held, *rules = done.stdout.splitlines()
    assert (done.returncode, told) == (0, "kettle: no rule is broken.")
    assert "states" in walked
    assert unneeded.strip() == "go-live is never asked, because no step needs it."
    assert held.strip() == "Held at every one of them:"
    assert [rule.strip() for rule in rules] == list(RULES)


def test_a_broken_rule_is_told_with_its_way_and_status_1(tmp_path: Path) -> None:
    path = kettle(
        tmp_path,
        "kettle",
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
        "        between: [[a, n]]",
        "        limits: {rule: closed-contact, source: s}",
        "        outcomes: {below: {}, within: {}, above: {say: High.}, over_range: {say: Open.}}",
    )
    done = run(tmp_path / "home", "prove", str(path), "--json")
    told = json.loads(done.stdout)
    assert (done.returncode, told["kept"]) == (1, False)
    (broken,) = told["broken"]
    assert broken["at"] == "more.ohms"
    assert broken["rule"].startswith("the test ends and wires")
    assert Path(broken["file"]) == path
    assert [leg["at"] for leg in broken["way"]] == ["more.ohms"]


def quickly(patch: pytest.MonkeyPatch, broken: str = "") -> None:
    """Let procedures be proved at once, one of them with a rule broken."""

    def proved(procedure: Procedure, _progress: object) -> Proof:
        step = procedure.sections[0].steps[0].id
        at = procedure.sections[0].id, step
        told = (Broken("a rule", at, (Leg(None, "the job is opened", at),)),) if procedure.id == broken else ()
        return replace(PROOF, procedure=procedure.id, broken=told)

    patch.setattr(proving, "prove", proved)


@pytest.mark.parametrize("given", [(), ("--all",)])
def test_all_that_comes_with_the_program_is_proved_with_a_total(
    given: tuple[str, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    quickly(monkeypatch)
    done = CliRunner().invoke(app, ["prove", *given])
    names = sorted(shipped_names())
    assert done.exit_code == 0, done.output
    lines = done.stdout.splitlines()
    assert [line.split(":")[0] for line in lines[: len(names)]] == names
    assert all("1,200 states, 34,000 moves" in line and "49 of 50 steps asked" in line for line in lines[: len(names)])
    assert lines[len(names)].startswith(f"{len(names)} procedures: no rule is broken; {1200 * len(names):,} states, ")
    assert [line.strip() for line in lines[-len(RULES) :]] == list(RULES)


def test_one_broken_among_all_fails_them_all(monkeypatch: pytest.MonkeyPatch) -> None:
    broken = sorted(shipped_names())[0]
    quickly(monkeypatch, broken)
    done = CliRunner().invoke(app, ["prove"])
    assert done.exit_code == 1
    assert f"{broken}: 1 rule broken" in done.stdout
    assert f"{len(shipped_names())} procedures: 1 rule broken; " in done.stdout
    assert "Held at every one of them" not in done.stdout


def test_all_and_some_are_not_asked_for_at_once(tmp_path: Path) -> None:
    done = run(tmp_path / "home", "prove", "--all", "dialogs")
    assert done.returncode == 2
    assert "--all" in done.stderr
