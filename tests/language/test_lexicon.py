"""A vocabulary that cannot be used is refused with its place and what to do."""

from copy import deepcopy
from pathlib import Path

import pytest
from ruamel.yaml import YAML

from voicetech.authoring.lexicon_files import VOCABULARIES, load_lexicon
from voicetech.authoring.shipped import shipped_folder
from voicetech.language.lexicon import LexiconError, lexicon_from
from voicetech.language.templates import TemplateError, phrase_from, sentences


@pytest.fixture(scope="module")
def files() -> dict[str, dict[str, object]]:
    yaml = YAML(typ="safe", pure=True)
    return {name: yaml.load(shipped_folder("grammars") / f"{name}.yaml") for name in VOCABULARIES}


@pytest.mark.parametrize(
    ("file", "key", "value", "complaint"),
    [
        ("commands", "dance", {"say": ["dance"]}, "unknown command 'dance'"),
        ("commands", "repeat", {"say": ["say (again"]}, "is not closed"),
        ("units", "furlong", {"say": ["furlong"]}, "unknown unit 'furlong'"),
        ("numbers", "digits", ["one"], "must be a mapping"),
        ("danger", "kinds", {"boredom": {}}, "unknown danger 'boredom'"),
        ("speech", "time", [7], "7 is not text"),
    ],
)
def test_a_mistake_is_named_with_its_file(
    files: dict[str, dict[str, object]], file: str, key: str, value: object, complaint: str
) -> None:
    broken = deepcopy(files)
    broken[file][key] = value
    with pytest.raises(LexiconError, match=complaint) as caught:
        lexicon_from(broken)
    assert f"grammars/{file}.yaml" in str(caught.value)


def test_a_missing_file_is_named(files: dict[str, dict[str, object]], tmp_path: Path) -> None:
    with pytest.raises(LexiconError, match=r"danger\.yaml is missing"):
        lexicon_from({name: raw for name, raw in files.items() if name != "danger"})
    with pytest.raises(LexiconError, match="is missing"):
        load_lexicon(tmp_path)


def test_a_file_that_is_not_yaml_is_named(tmp_path: Path) -> None:
    (tmp_path / "numbers.yaml").write_text("digits: [", encoding="utf-8")
    with pytest.raises(LexiconError, match=r"numbers\.yaml:\d+:\d+: "):
        load_lexicon(tmp_path)


def test_an_unknown_folder_says_where_it_was_looked_for() -> None:
    with pytest.raises(FileNotFoundError, match="'songs' is missing; looked in"):
        shipped_folder("songs")


def test_templates() -> None:
    assert set(sentences(phrase_from("say (it|that) again [please]"))) == {
        ("say", "it", "again"), ("say", "that", "again"), ("say", "it", "again", "please"),
        ("say", "that", "again", "please"),
    }  # fmt: skip


@pytest.mark.parametrize("template", ["(a|b", "a]", "a | ", "()", "<nothing>"])
def test_a_bad_template_is_refused(template: str) -> None:
    with pytest.raises(TemplateError):
        phrase_from(template)
