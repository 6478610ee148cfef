"""What comes with the program is proved: no state that its procedures can lead to breaks a rule of safety."""

import pytest

from voicetech.authoring.procedure_files import load_shipped, shipped_names
from voicetech.proof.proving import prove


@pytest.mark.parametrize("name", shipped_names())
def test_no_state_of_it_breaks_a_rule(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    found = prove(load_shipped(name))
    with capsys.disabled():
        print(f"\n  {name}: {found.states:,} states, {found.moves:,} moves, {found.asked} of {found.steps} steps asked")  # noqa: T201  the count is the proof's size
    assert found.broken == ()
    assert found.asked == found.steps
