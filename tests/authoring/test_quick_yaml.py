"""Files that come with the program are read by libyaml; that has to come to the same as reading them at leisure."""

from pathlib import Path

import pytest
from ruamel.yaml import YAML
from ruamel.yaml.nodes import MappingNode, Node, ScalarNode, SequenceNode

from voicetech.authoring import quick_yaml
from voicetech.authoring.quick_yaml import UnlikeError, comes_along, loaded, quick_node
from voicetech.authoring.shipped import shipped_folder

FILES = sorted(file for name in ("dialogs", "grammars") for file in shipped_folder(name).rglob("*.yaml"))
VOCABULARIES = sorted(shipped_folder("grammars").rglob("*.yaml"))


def at_leisure(text: str) -> Node:
    node: Node = YAML(typ="safe", pure=True).compose(text)
    return node


def told(node: Node) -> object:
    """Return all that reading a file looks at in a node, and where it stands."""
    about = (type(node), node.tag, node.anchor, node.start_mark.line, node.start_mark.column)
    match node:
        case ScalarNode():
            return *about, node.value, bool(node.style)
        case SequenceNode():
            return *about, [told(item) for item in node.value]
        case MappingNode():
            return *about, [(told(key), told(value)) for key, value in node.value]
        case _:
            raise TypeError(node)


@pytest.mark.parametrize("file", FILES, ids=lambda file: f"{file.parent.name}-{file.stem}")
def test_every_node_of_every_file_is_the_same_and_stands_at_the_same_place(file: Path) -> None:
    text = file.read_text(encoding="utf-8")
    assert told(quick_node(text)) == told(at_leisure(text))


@pytest.mark.parametrize("file", VOCABULARIES, ids=lambda file: file.stem)
def test_every_vocabulary_holds_the_same(file: Path) -> None:
    text = file.read_text(encoding="utf-8")
    assert loaded(file, text) == YAML(typ="safe", pure=True).load(text)


@pytest.mark.parametrize(
    "text",
    [
        "a:\n",
        "a:\nb: c\n",
        "a:\n  b:   # none\n\n# none\n  c:\nd: e\n",
        "- \n- b\n-\n",
        "a: {b: , c: d}\n",
        "a: {b: }\n",
        "a: {b, c}\n",
        "a: [b, {c:   }]\n",
        "a: on\nb: yes\nc: 0o7\nd: 1.80\ne: ~\nf: 12\ng: 'null'\nh: True\n",
    ],
)
def test_nothing_and_plain_words_are_what_they_are_at_leisure(text: str) -> None:
    assert told(quick_node(text)) == told(at_leisure(text))


@pytest.mark.parametrize("text", ["a: [b\n", "a: {b:, c: d}\n", "a: b: c\n", "\ta: b\n", "a: &b c\nd: *e\n", ""])
def test_what_is_no_yaml_is_left_to_the_reader_that_says_why(text: str) -> None:
    with pytest.raises(UnlikeError):
        quick_node(text)


def test_a_file_of_somebodys_own_is_read_at_leisure(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(_text: str) -> Node:
        raise AssertionError

    monkeypatch.setattr(quick_yaml, "quick_node", refuse)
    assert comes_along(FILES[0])
    assert not comes_along(tmp_path / "mine.yaml")
    assert loaded(tmp_path / "mine.yaml", "a: 0o7\nb: on\n") == {"a": 7, "b": "on"}


def test_without_libyaml_all_is_read_at_leisure(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(quick_yaml, "CParser", None)
    text = VOCABULARIES[0].read_text(encoding="utf-8")
    assert loaded(VOCABULARIES[0], text) == YAML(typ="safe", pure=True).load(text)
    with pytest.raises(UnlikeError):
        quick_node(text)
