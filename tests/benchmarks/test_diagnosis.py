"""The benchmark on one fault; its times are looked at by nobody here."""

import pytest

from tests.benchmarks.diagnosis import main


def test_a_run(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--fault", "bake-open"]) == 0
    shown = capsys.readouterr().out
    rows = [line.split() for line in shown.splitlines() if line.startswith("bake-open")]
    assert [row[1] for row in rows] == ["cold", "ahead"]
    assert all(int(row[2]) >= 1 for row in rows)
    assert [line.partition(":")[0] for line in shown.splitlines() if " 50 ms" in line] == ["cold", "ahead"]
    assert "solved network of the whole appliance" in shown
