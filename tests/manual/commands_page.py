"""The commands with all that they take, as a page of the reference."""

import inspect
from collections.abc import Iterator, Mapping
from enum import StrEnum
from importlib import import_module
from typing import Any, get_args, get_type_hints

import typer.main

from tests.manual.code_says import one_line
from tests.manual.markdown import code, page, table
from voicetech.cli import COMMANDS, app


def commands() -> dict[str, Any]:
    """Return every command as it is loaded, by its words: `report`, `judge element`."""
    group: Any = typer.main.get_command(app)
    found: dict[str, Any] = {}
    for name in COMMANDS:
        group.resolve_command(group.make_context("voicetech", [name], resilient_parsing=True), [name])
        command = group.commands[name]
        found[name] = command
        for below, each in getattr(command, "commands", {}).items():
            found[f"{name} {below}"] = each
    return found


def commands_page() -> str:
    """Return the page."""
    return page(
        "Commands and their options",
        "Each command takes `--help`, which says the same. Status 0 is that it went well, 1 that something was found "
        "or could not be done, 2 that what was typed is no command, 130 that it was ended with Ctrl-C.",
        "`voicetech --version` prints the program's version.",
        *(part for name, command in commands().items() for part in _command(name, command)),
    )


def _command(name: str, command: Any) -> Iterator[str]:
    yield f"{'###' if ' ' in name else '##'} voicetech {name}"
    yield from (one_line(each) for each in str(command.help).replace("\b", "").split("\n\n"))
    words = _words(name)
    arguments = [each for each in command.params if each.param_type_name == "argument"]
    if arguments:
        yield table(("it takes", ""), [(code(str(each.metavar)), _help(each)) for each in arguments])
    options = [each for each in command.params if each.param_type_name == "option" and each.name != "help"]
    if options:
        yield table(("option", ""), [(code(_option(each, words)), _help(each)) for each in options])


def _words(name: str) -> Mapping[str, tuple[str, ...]]:
    """Return the words to choose from, by the parameter that takes one of them."""
    words = name.split()
    module = import_module(f"voicetech.cli.{words[0]}")
    function = getattr(module, words[-1], None)
    if not inspect.isfunction(function):
        return {}
    hints = {name: (hint, *get_args(hint)) for name, hint in get_type_hints(function).items()}
    kinds = {name: next((each for each in hint if _is_words(each)), None) for name, hint in hints.items()}
    return {name: tuple(each.value for each in kind) for name, kind in kinds.items() if kind is not None}


def _is_words(kind: object) -> bool:
    return inspect.isclass(kind) and issubclass(kind, StrEnum)


def _option(option: Any, words: Mapping[str, tuple[str, ...]]) -> str:
    names = ", ".join([*option.opts, *option.secondary_opts])
    if option.is_flag:
        return names
    return f"{names} {option.metavar or '|'.join(words[option.name])}"


def _help(parameter: Any) -> str:
    says = one_line(parameter.help)
    default = parameter.default
    told = f" {code(str(default))} unless told." if isinstance(default, str) and default not in says else ""
    needed = " It has to be given." if parameter.required else ""
    return f"{says}{told}{needed}"
