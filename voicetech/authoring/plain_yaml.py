"""Files of plain YAML that come with the program: what one holds, or in a sentence what is wrong with it and where."""

from pathlib import Path

from ruamel.yaml.error import MarkedYAMLError, YAMLError

from voicetech.authoring.quick_yaml import loaded


class PlainYamlError(Exception):
    """A file cannot be read as YAML; the message names it and the place."""


def read_plain(path: Path) -> object:
    """Return what a file holds. Raises PlainYamlError; FileNotFoundError where it is not there."""
    try:
        text = path.read_text(encoding="utf-8")
    except FileNotFoundError:
        raise
    except OSError as error:
        raise PlainYamlError(f"{path}: cannot be read ({error.strerror or error})") from None
    except UnicodeDecodeError:
        raise PlainYamlError(f"{path}: is not UTF-8 text") from None
    return plain(path, text)


def plain(name: Path | str, text: str) -> object:
    """Return what a text holds; `name` is what it is called. Raises PlainYamlError."""
    try:
        found: object = loaded(name, text)
    except MarkedYAMLError as error:
        mark = error.problem_mark
        where = f":{mark.line + 1}:{mark.column + 1}" if mark else ""
        raise PlainYamlError(f"{name}{where}: {error.problem or 'not YAML'}") from None
    except (YAMLError, ValueError, RecursionError) as error:
        # Signs that no text has, a number that is none, or too much inside each other.
        why = str(error).partition("\n")[0] or type(error).__name__
        raise PlainYamlError(f"{name}: not YAML ({why})") from None
    return found
