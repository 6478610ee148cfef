"""The benchmark on one fault; its times are looked at by nobody here."""

import pytest

from tests.benchmarks.diagnosis import CONNECTION, FAULTS, PROCEDURE, main
from voicetech.authoring.procedure_files import load_shipped


def test_a_run(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--fault", "bake-open"]) == 0
    shown = capsys.readouterr().out
    rows = [line.split() for line in shown.splitlines() if line.startswith("bake-open")]
    assert [row[1] for row in rows] == ["cold", "ahead"]
    assert all(int(row[2]) >= 1 for row in rows)
    assert [line.partition(":")[0] for line in shown.splitlines() if " 50 ms" in line] == ["cold", "ahead"]
    assert "solved network of the whole appliance" in shown


def test_the_faults_it_takes_by_itself_are_there() -> None:
    circuit = load_shipped(PROCEDURE).circuit
    assert circuit is not None
    named = {name for fault in FAULTS for name in fault.split("+")}
    assert named <= {fault.id for fault in circuit.faults if fault.can_be(CONNECTION)}
