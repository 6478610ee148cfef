"""What every test finds around it."""

from collections.abc import Iterator

import pytest

from tests.cli.program import RANGE
from voicetech.last_words import TRACEBACK_VARIABLE


@pytest.fixture(scope="session", autouse=True)
def _the_range_where_none_is_named() -> Iterator[None]:
    """Tests of the question which appliance it is take this away again."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("VOICETECH_PROCEDURE", RANGE)
        # A mistake of the program's own shows as what it is.
        patch.setenv(TRACEBACK_VARIABLE, "1")
        yield
