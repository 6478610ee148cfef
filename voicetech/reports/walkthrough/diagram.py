"""The states of the conversation with the way that was taken through them, drawn for screen and paper.

The states and which of them may follow one another are those of `turn`; how often each was gone is the record's.
"""

import math
from collections.abc import Mapping
from typing import Final

from markupsafe import Markup, escape

from voicetech.language.plural import so_many
from voicetech.turn import Turn

WIDTH: Final = 720
HEIGHT: Final = 470
_CENTRE: Final = (WIDTH / 2, HEIGHT / 2)
_RADII: Final = (285.0, 190.0)
_BOX: Final = (118.0, 30.0)
_AROUND: Final = (
    Turn.CONFIRMING,
    Turn.PROBES_ON,
    Turn.CHOOSING,
    Turn.REASON,
    Turn.CLOSED,
    Turn.HANDED_OVER,
    Turn.RECOUNTING,
    Turn.STOPPED,
    Turn.SAFETY_QUESTION,
    Turn.ON_CALL,
    Turn.PAUSED,
)
"""Those that follow one another stand side by side; asking stands in the middle, because most lead from and to it."""
_APART: Final = 9.0
"""How far the ways there and back stand apart."""


def drawn_states(moves: Mapping[tuple[Turn, Turn], int]) -> Markup:
    """Return the picture as SVG; a state that was not reached is drawn with a broken line."""
    reached = {turn for move in moves for turn in move} | {Turn.ASKING}
    shapes = [_way(start, end, count) for (start, end), count in moves.items() if start is not end]
    shapes += [_state(turn, turn in reached, moves.get((turn, turn), 0)) for turn in Turn]
    return (
        Markup(  # made of numbers and of the names of states  # noqa: S704
            f'<svg class="states" role="img" viewBox="0 0 {WIDTH} {HEIGHT}" aria-labelledby="states-title states-says">'
            '<title id="states-title">States of the conversation, and the way taken</title>'
            f'<desc id="states-says">{escape(_in_words(moves))}</desc>'
            '<defs><marker id="tip" viewBox="0 0 8 8" refX="7" refY="4" markerWidth="7" markerHeight="7" orient="auto">'
            '<path d="M0 0 8 4 0 8z"/></marker></defs>'
        )
        + Markup("").join(shapes)
        + Markup("</svg>")
    )


def _in_words(moves: Mapping[tuple[Turn, Turn], int]) -> str:
    told = [f"{_name(start)} to {_name(end)} {so_many(count, 'time')}" for (start, end), count in moves.items()]
    return "; ".join(told) or "No way was taken yet"


def _name(turn: Turn) -> str:
    return turn.value.replace("-", " ")


def _place(turn: Turn) -> tuple[float, float]:
    if turn is Turn.ASKING:
        return _CENTRE
    angle = 2 * math.pi * _AROUND.index(turn) / len(_AROUND) - math.pi / 2
    return _CENTRE[0] + _RADII[0] * math.cos(angle), _CENTRE[1] + _RADII[1] * math.sin(angle)


def _state(turn: Turn, reached: bool, stayed: int) -> Markup:
    x, y = _place(turn)
    width, height = _BOX
    again = f" ↻ {stayed}" if stayed else ""
    return Markup(
        '<g class="{}"><rect x="{:.1f}" y="{:.1f}" width="{}" height="{}" rx="5"/>'
        '<text x="{:.1f}" y="{:.1f}">{}{}</text></g>'
    ).format(
        "state" if reached else "state idle", x - width / 2, y - height / 2, width, height, x, y + 4, _name(turn), again
    )


def _way(start: Turn, end: Turn, count: int) -> Markup:
    (x1, y1), (x2, y2) = _place(start), _place(end)
    length = math.hypot(x2 - x1, y2 - y1)
    aside_x, aside_y = -(y2 - y1) / length * _APART, (x2 - x1) / length * _APART
    x1, y1, x2, y2 = x1 + aside_x, y1 + aside_y, x2 + aside_x, y2 + aside_y
    from_x, from_y = _edge(x1, y1, x2, y2, start)
    to_x, to_y = _edge(x2, y2, x1, y1, end)
    # The figure stands nearer to where the way begins, so that those of ways that cross do not meet.
    at_x, at_y = from_x + (to_x - from_x) * 0.36, from_y + (to_y - from_y) * 0.36
    return Markup(
        '<g class="way"><line x1="{:.1f}" y1="{:.1f}" x2="{:.1f}" y2="{:.1f}" marker-end="url(#tip)"/>'
        '<text x="{:.1f}" y="{:.1f}">{}</text></g>'
    ).format(from_x, from_y, to_x, to_y, at_x + aside_x * 0.9, at_y + aside_y * 0.9 + 4, count)


def _edge(x: float, y: float, to_x: float, to_y: float, turn: Turn) -> tuple[float, float]:
    """Return where the line from a box to another point leaves the box."""
    centre_x, centre_y = _place(turn)
    half_width, half_height = _BOX[0] / 2 + 2, _BOX[1] / 2 + 2
    best = 1.0
    for at, towards, centre, half in ((x, to_x, centre_x, half_width), (y, to_y, centre_y, half_height)):
        if towards == at:
            continue
        side = centre + half if towards > at else centre - half
        best = min(best, max(0.0, (side - at) / (towards - at)))
    return x + (to_x - x) * best, y + (to_y - y) * best
