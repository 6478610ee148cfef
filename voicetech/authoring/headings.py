"""What the top of a procedure's file says of it: enough to choose one by, without reading it whole."""

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from ruamel.yaml import YAML
from ruamel.yaml.error import YAMLError
from ruamel.yaml.events import (
    Event,
    MappingEndEvent,
    MappingStartEvent,
    ScalarEvent,
    SequenceEndEvent,
    SequenceStartEvent,
)

from voicetech.authoring.places import Written


@dataclass(frozen=True, slots=True)
class Heading:
    """How a procedure is chosen: its title, what it is for, and how that is called.

    `call` is how its appliance is called; `emergency_number` what its settings say.
    """

    title: str = ""
    appliance: str = ""
    call: tuple[str, ...] = ()
    emergency_number: str = ""


def heading_in(path: Path) -> Heading:
    """Return what the top of a file says, read no further than to its sections; empty where nothing can be read."""
    try:
        found = _top(iter(YAML(typ="safe", pure=True).parse(path.read_text(encoding="utf-8"))))
    except (OSError, UnicodeDecodeError, YAMLError):
        return Heading()
    call, settings = found.get("call"), found.get("settings")
    return Heading(
        title=_plain(found.get("title")),
        appliance=_plain(found.get("appliance")),
        call=tuple(_plain(each) for each in (call if isinstance(call, list) else [call]) if each),
        emergency_number=_plain(settings.get("emergency_number")) if isinstance(settings, dict) else "",
    )


def _plain(value: Written) -> str:
    return " ".join(value.split()) if isinstance(value, str) else ""


def _top(events: Iterator[Event]) -> dict[str, Written]:
    """Return the entries of the table at the top that come before its sections."""
    found: dict[str, Written] = {}
    if not any(isinstance(event, MappingStartEvent) for event in events):
        return found
    for event in events:
        if not isinstance(event, ScalarEvent) or event.value == "sections":
            break
        found[str(event.value)] = _value(next(events), events)
    return found


def _value(first: Event, events: Iterator[Event]) -> Written:
    match first:
        case ScalarEvent(value=value):
            return str(value)
        case SequenceStartEvent():
            items: list[Written] = []
            for event in events:
                if isinstance(event, SequenceEndEvent):
                    break
                items.append(_value(event, events))
            return items
        case MappingStartEvent():
            table: dict[str, Written] = {}
            for event in events:
                if isinstance(event, MappingEndEvent):
                    break
                key = _value(event, events)
                table[key if isinstance(key, str) else ""] = _value(next(events), events)
            return table
        case _:
            return None
