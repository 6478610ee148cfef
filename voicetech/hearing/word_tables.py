"""Tables of words in `grammars/` that only the hearing needs, read with the place of whatever is wrong in them."""

from pathlib import Path

from ruamel.yaml.error import MarkedYAMLError

from voicetech.authoring.quick_yaml import loaded
from voicetech.hearing.errors import HearingError


def read_table(place: Path, wrong: type[HearingError]) -> object:
    """Return what a YAML file holds. Raises `wrong`, naming file and place, where it cannot be read."""
    try:
        found: object = loaded(place, place.read_text(encoding="utf-8"))
    except OSError as error:
        raise wrong(f"{place}: cannot be read ({error.strerror or error})") from error
    except MarkedYAMLError as error:
        mark = error.problem_mark
        where = f":{mark.line + 1}:{mark.column + 1}" if mark else ""
        raise wrong(f"{place}{where}: {error.problem or 'not YAML'}") from error
    return found
