"""The conversation of a job so far, shown again."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

from voicetech.cli.screen import Screen

if TYPE_CHECKING:
    from voicetech.events import Event

LAST_TURNS: Final = 3
"""Turns that are shown where a job is taken up."""
_MINUTE_S: Final = 60
_HOUR_S: Final = 60 * _MINUTE_S
_DAY_S: Final = 24 * _HOUR_S


def show_conversation(screen: Screen, events: "Sequence[Event]", most: int | None = None) -> None:
    """Print what was said and shown under a heading, or the last turns of it; nothing where nothing was."""
    from voicetech.events import InputReceived, Replied

    said = [event for event in events if isinstance(event, (InputReceived, Replied))]
    answers = [number for number, event in enumerate(said) if isinstance(event, InputReceived)]
    cut = most is not None and len(answers) > most
    start = answers[-most] if most is not None and cut else 0
    if not said:
        return
    screen.gap()
    screen.item("history", "the end of the conversation so far" if cut else "the conversation so far", "bold")
    for event in said[start:]:
        match event:
            case InputReceived(text=text):
                screen.said("technician", text)
            case Replied(show=show):
                for line in show:
                    screen.item("voicetech", line, "dim")
    screen.item("history", "its end", "bold")


def left_ago(events: "Sequence[Event]", now_s: float) -> str:
    """Return how long ago the last thing was said in a job; `now_s` in seconds since 1970."""
    last_s = max((at_s for event in events if isinstance(at_s := getattr(event, "at_s", None), float)), default=now_s)
    return f"It was left {ago(now_s - last_s)}."


def ago(seconds: float) -> str:
    """Return a time that has passed, in its largest unit."""
    for unit_s, unit in ((_DAY_S, "day"), (_HOUR_S, "hour"), (_MINUTE_S, "minute")):
        count = int(seconds // unit_s)
        if count >= 1:
            return f"{count} {unit}{'s' if count > 1 else ''} ago"
    return "just now"
