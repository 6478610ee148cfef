import pytest

from voicetech.authoring.lexicon_files import load_lexicon
from voicetech.language.lexicon import Lexicon


@pytest.fixture(scope="session")
def lexicon() -> Lexicon:
    return load_lexicon()
