"""Read the vocabulary files that come with the program."""

from pathlib import Path

from ruamel.yaml import YAML
from ruamel.yaml.error import YAMLError

from voicetech.authoring.shipped import shipped_folder
from voicetech.language.lexicon import Lexicon, LexiconError, lexicon_from

VOCABULARIES = ("numbers", "units", "commands", "danger", "answers", "states", "speech", "findings")


def load_lexicon(folder: Path | None = None) -> Lexicon:
    """Return the lexicon of the vocabulary files in `folder` (default: the ones that come with the program).

    Raises LexiconError, naming the file, for a file that is missing, is not YAML or says something unusable.
    """
    folder = folder or shipped_folder("grammars")
    return lexicon_from({name: _read(folder / f"{name}.yaml") for name in VOCABULARIES})


def _read(path: Path) -> dict[str, object]:
    yaml = YAML(typ="safe", pure=True)
    try:
        raw = yaml.load(path.read_text(encoding="utf-8"))
    except FileNotFoundError:
        raise LexiconError(f"{path} is missing; install the program again") from None
    except YAMLError as error:
        raise LexiconError(f"{path} is not YAML: {error}") from error
    if not isinstance(raw, dict):
        raise LexiconError(f"{path} must be a mapping of names to words")
    return {str(key): value for key, value in raw.items()}
