"""The shipped range's circuit, and the steps that read it."""

from functools import cache

from tests.dialogue.talker import shipped
from voicetech.diagnosis.predictions import Predictions
from voicetech.electrical.appliance import Appliance
from voicetech.procedure import Measure


def circuit() -> Appliance:
    found = shipped().circuit
    assert found is not None
    return found


@cache
def predictions() -> Predictions:
    return Predictions(circuit())


def read_steps() -> list[tuple[str, Measure]]:
    """Return every step that says how the appliance stands, with its section."""
    return [
        (section.id, step)
        for section in shipped().sections
        for step in section.steps
        if isinstance(step, Measure) and step.setup is not None
    ]
