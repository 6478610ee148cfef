"""How long is fuzzed: little and always the same by itself, longer and by chance with `python -m tests.faults fuzz`."""

import os
from collections.abc import Callable
from typing import Final

from hypothesis import HealthCheck, Phase, settings

TIMES_VARIABLE: Final = "VOICETECH_FUZZ"
"""How many times longer than with every change."""


def bounded(few: int) -> settings:
    """Return the settings of a test that tries so few examples with every change."""
    times = float(os.environ.get(TIMES_VARIABLE, "1"))
    return settings(
        max_examples=max(1, int(few * times)),
        derandomize=times == 1,
        database=None,
        # The first that is found is what is wanted, not the smallest.
        phases=[Phase.explicit, Phase.generate],
        deadline=None,
        suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large, HealthCheck.function_scoped_fixture],
    )


def message_of(kind: type[Exception] | tuple[type[Exception], ...], call: Callable[[], object]) -> str:
    """Return what an error of this kind says, empty where there is none; any other is raised."""
    try:
        call()
    except kind as error:
        said = str(error)
        assert said.strip(), "an error says what is wrong"
        return said
    return ""
