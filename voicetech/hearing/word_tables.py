"""Tables of words in `grammars/` that only the hearing needs, read with the place of whatever is wrong in them."""

from pathlib import Path

from voicetech.authoring.plain_yaml import PlainYamlError, read_plain
from voicetech.hearing.errors import HearingError


def read_table(place: Path, wrong: type[HearingError]) -> object:
    """Return what a YAML file holds. Raises `wrong`, naming file and place, where it cannot be read."""
    try:
        return read_plain(place)
    except FileNotFoundError as error:
        raise wrong(f"{place}: cannot be read ({error.strerror}); install the program again") from error
    except PlainYamlError as error:
        raise wrong(f"{error}; mend it, or install the program again") from error
