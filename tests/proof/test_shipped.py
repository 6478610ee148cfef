"""What comes with the program is proved: no state that its smallest procedure can lead to breaks a rule of safety.

All of them take minutes: `voicetech prove`.
"""

import pytest

from voicetech.authoring.procedure_files import load_shipped
from voicetech.proof.proving import prove

SMALLEST = "electric-water-heater-no-heat"


def test_no_state_of_it_breaks_a_rule(capsys: pytest.CaptureFixture[str]) -> None:
    found = prove(load_shipped(SMALLEST))
    with capsys.disabled():
        print(f"\n  {SMALLEST}: {found.states:,} states, {found.moves:,} moves")  # noqa: T201  the count is the proof's size
    assert found.broken == ()
    assert found.asked == found.steps
