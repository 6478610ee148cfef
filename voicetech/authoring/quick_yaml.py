"""The YAML files that come with the program, read by libyaml: in a tenth of the time, and to the very same nodes.

Other files are not read so. What is wrong with them has to be told in an author's words (`yaml_errors`), and the two
differ about texts that nobody should write; of those that come with the program a test compares every node.
"""

from contextlib import suppress
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any, Final

from ruamel.yaml import YAML
from ruamel.yaml.nodes import MappingNode, Node, ScalarNode, SequenceNode
from ruamel.yaml.resolver import VersionedResolver
from ruamel.yaml.tag import Tag

from voicetech.authoring.shipped import shipped_folder

try:
    import yaml
    from yaml.cyaml import CParser
except ImportError:
    # A build without libyaml has no parser worth taking.
    yaml = CParser = None

_FOLDERS: Final = ("dialogs", "grammars")
_TEXT_TAG: Final = "tag:yaml.org,2002:str"
_LIST_TAG: Final = "tag:yaml.org,2002:seq"
_TABLE_TAG: Final = "tag:yaml.org,2002:map"


class UnlikeError(Exception):
    """The text is not read here: libyaml is missing, finds a mistake, or the text has what the two may differ about."""


def comes_along(path: Path) -> bool:
    """Return whether a file is one of those that come with the program."""
    whole = path.resolve()
    return any(whole.is_relative_to(shipped_folder(name)) for name in _FOLDERS)


def loaded(path: Path | str, text: str) -> Any:
    """Return what stands in the text of a file, as plain tables, lists and values. Raises YAMLError."""
    if isinstance(path, Path) and comes_along(path):
        with suppress(UnlikeError):
            return _value(quick_node(text))
    return YAML(typ="safe", pure=True).load(text)


def quick_node(text: str) -> Node:
    """Return the nodes of a text as ruamel.yaml would compose them. Raises UnlikeError."""
    if CParser is None:
        raise UnlikeError
    try:
        composer = _Composer(text)
        try:
            node = composer.get_single_node()
        finally:
            composer.dispose()
    except yaml.YAMLError as error:
        raise UnlikeError from error
    if node is None:
        raise UnlikeError
    return _Translated(text).node(node)


if CParser is not None:

    class _Composer(CParser):  # type: ignore[misc]
        """Composes nodes; what a plain text is taken for is decided by ruamel.yaml's rules, those of YAML 1.2."""

        def descend_resolver(self, _parent: Any, _index: Any) -> None:
            """Paths in a document mean nothing here."""

        def ascend_resolver(self) -> None:
            """Paths in a document mean nothing here."""

        def resolve(self, kind: Any, value: str | None, implicit: tuple[bool, bool] | bool) -> str:
            """Return the tag of a node that has none of its own."""
            if kind is yaml.nodes.ScalarNode:
                plain = isinstance(implicit, tuple) and implicit[0]
                return _tag(value or "") if plain else _TEXT_TAG
            return _LIST_TAG if kind is yaml.nodes.SequenceNode else _TABLE_TAG


_RULES: Final = VersionedResolver().versioned_resolver
"""By the first sign of a plain text, what such texts may be taken for."""


@cache
def _tag(value: str) -> str:
    return next((str(tag) for tag, looks in _RULES.get(value[:1], ()) if looks.match(value)), _TEXT_TAG)


@cache
def _shared(tag: str) -> Tag:
    return Tag(suffix=tag)


@dataclass(frozen=True, slots=True)
class _Mark:
    line: int
    column: int


class _Translated:
    """Nodes of libyaml as those of ruamel.yaml."""

    def __init__(self, text: str) -> None:
        self._lines = text.splitlines()

    def node(self, node: Any) -> Node:
        """Return a node with all below it."""
        match node:
            case yaml.nodes.ScalarNode():
                return _scalar_node(node, node.start_mark)
            case yaml.nodes.SequenceNode():
                items = [self.node(item) for item in node.value]
                return SequenceNode(
                    _shared(node.tag), items, node.start_mark, node.end_mark, flow_style=node.flow_style
                )
            case _:
                pairs = [(self.node(key), self._said(node, key, value)) for key, value in node.value]
                return MappingNode(_shared(node.tag), pairs, node.start_mark, node.end_mark, flow_style=node.flow_style)

    def _said(self, table: Any, key: Any, value: Any) -> Node:
        """Return what a key says; of nothing the two do not say that it stands in the same place."""
        if not isinstance(value, yaml.nodes.ScalarNode) or value.value or value.style:
            return self.node(value)
        if not table.flow_style:
            return _scalar_node(value, self._next(value.start_mark))
        end = key.end_mark
        behind = self._lines[end.line][end.column :]
        colon = len(behind) - len(behind.lstrip())
        if behind[colon : colon + 1] == ":":
            return _scalar_node(value, _Mark(end.line, end.column + colon + 1))
        return self.node(value)

    def _next(self, mark: Any) -> _Mark:
        line, column = mark.line, mark.column
        while line < len(self._lines):
            rest = self._lines[line][column:]
            if rest.strip() and not rest.lstrip().startswith("#"):
                return _Mark(line, column + len(rest) - len(rest.lstrip()))
            line, column = line + 1, 0
        return _Mark(line, 0)


def _scalar_node(node: Any, begins: Any) -> ScalarNode:
    return ScalarNode(_shared(node.tag), node.value, begins, node.end_mark, style=node.style or None)


def _value(node: Node) -> Any:
    match node:
        case SequenceNode():
            return [_value(item) for item in node.value]
        case MappingNode():
            table = {_value(key): _value(value) for key, value in node.value}
            if len(table) < len(node.value):
                raise UnlikeError
            return table
        case _:
            return _of_tag(node.tag or "", node.value)


def _of_tag(tag: str, value: str) -> Any:
    if tag == _TEXT_TAG:
        return value
    if tag == "tag:yaml.org,2002:int" and value.isdecimal() and value.isascii() and str(int(value)) == value:
        return int(value)
    if tag == "tag:yaml.org,2002:bool" and value in ("true", "false"):
        return value == "true"
    if tag == "tag:yaml.org,2002:null":
        return None
    raise UnlikeError
