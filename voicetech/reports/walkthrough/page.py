"""The walkthrough as one page that needs nothing else: no network, no other file.

Words a technician said are untrusted: the template escapes everything, and what cannot be printed is replaced. The
page's own script and style are named by their digests, and nothing else may run in it.
"""

import base64
import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, tzinfo
from importlib import resources

from markupsafe import Markup

from voicetech import __version__
from voicetech.reports.bands import drawn
from voicetech.reports.clock import Clock
from voicetech.reports.facts.job import STATEMENT
from voicetech.reports.facts.results import TOGETHER, ReadingFact
from voicetech.reports.templating import TEMPLATES
from voicetech.reports.walkthrough.diagram import drawn_states
from voicetech.reports.walkthrough.facts import Flag, TurnFact, Walkthrough
from voicetech.reports.walkthrough.waves import HEIGHT, outline, path_of


@dataclass(frozen=True, slots=True)
class _Wave:
    """What is drawn of a sound: the path of its outline, how many columns it has, its length in seconds."""

    path: str
    columns: int
    length_s: float


def render_walkthrough(
    facts: Walkthrough,
    sounds: Mapping[str, bytes],
    *,
    record_id: str,
    served: bool,
    nonce: str | None = None,
    without_sound: bool = False,
    zone: tzinfo | None = None,
) -> str:
    """Return the page.

    `sounds` are FLAC files by the name of their sound; one that is missing is told at its place. With `served` marks go
    to the address the page came from, else they are kept in the page and can be saved as a file. `nonce` is what a
    server's own policy names the script and the style by; without it the page carries a policy of its own. Times are
    by the clock of `zone`, or of this computer where it is None.
    """
    clock = Clock(zone, facts.job.opened_at_s)
    style, script = _asset("walkthrough.css"), _asset("walkthrough.js")
    kept = {} if without_sound else {name: sounds[name] for name in facts.sounds if name in sounds}
    return TEMPLATES.get_template("walkthrough.html").render(
        facts=facts,
        job=facts.job,
        clock=clock,
        since=_Since(facts.job.opened_at_s or 0.0),
        Flag=Flag,
        counts={flag: sum(flag in turn.flags for turn in facts.turns) for flag in Flag},
        together=TOGETHER,
        band=_band,
        states=drawn_states(facts.moves),
        waves={name: wave for name, flac in kept.items() if (wave := _wave(flac)) is not None},
        wave_height=HEIGHT,
        without_sound=without_sound,
        longest_s=max((stay.to_s - stay.from_s for stay in facts.stays), default=0.0) or 1.0,
        percent=_percent,
        style=Markup(style),  # the page's own  # noqa: S704
        script=Markup(script),  # the page's own  # noqa: S704
        policy=None if nonce is not None else _policy(style, script, served),
        nonce=nonce,
        served=served,
        data=_as_data(_data(facts, record_id, served)),
        sounds=_as_data({name: base64.b64encode(flac).decode() for name, flac in kept.items()}),
        statement=STATEMENT,
        version=__version__,
    )


@dataclass(frozen=True, slots=True)
class _Since:
    """Writes moments as time since the job was opened."""

    opened_at_s: float

    def __call__(self, at_s: float) -> str:
        """Return minutes and seconds, with hours where there are any; never less than nothing."""
        whole = max(0, round(at_s - self.opened_at_s))
        hours, rest = divmod(whole, 3600)
        minutes, seconds = divmod(rest, 60)
        return f"{hours}:{minutes:02}:{seconds:02}" if hours else f"{minutes}:{seconds:02}"


def _asset(name: str) -> str:
    return (resources.files("voicetech.reports") / "templates" / name).read_text(encoding="utf-8")


def _policy(style: str, script: str, served: bool) -> str:
    def digest(text: str) -> str:
        return base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()

    connects = "'self'" if served else "'none'"
    return (
        f"default-src 'none'; script-src 'sha256-{digest(script)}'; style-src 'sha256-{digest(style)}'; "
        f"img-src data:; media-src blob:; connect-src {connects}; base-uri 'none'; form-action 'none'"
    )


def _wave(flac: bytes) -> _Wave | None:
    try:
        length_s, peaks = outline(flac)
    except ValueError:
        return None
    return _Wave(path_of(peaks), len(peaks), length_s)


def _band(reading: ReadingFact) -> Markup:
    if reading.band is None:
        return Markup("")
    return drawn(reading.band, f"{reading.value}, {reading.verdict}, limits {reading.limits}")


def _percent(share: float) -> str:
    """Return a share in whole per cent; what is neither all nor nothing is never shown as that."""
    if 0 < share < 0.01:
        return "under 1 %"
    if 0.99 < share < 1:
        return "over 99 %"
    return f"{share * 100:.0f} %"


def _data(facts: Walkthrough, record_id: str, served: bool) -> dict[str, object]:
    return {
        "job": facts.job.job,
        "record": record_id,
        "events": facts.events,
        "served": served,
        "flags": [flag.value for flag in Flag],
        "heard": {str(turn.number): _heard(turn) for turn in facts.turns if turn.said is not None},
        "spoken": {str(turn.number): turn.spoken for turn in facts.turns if turn.spoken},
        "made": datetime.now(UTC).isoformat(timespec="seconds"),
    }


def _heard(turn: TurnFact) -> list[str]:
    return [] if turn.said is None else list(dict.fromkeys(words for words, _ in turn.said.alternatives))


def _as_data(value: object) -> Markup:
    """Return JSON that cannot end the element it stands in."""
    text = json.dumps(value, ensure_ascii=True).replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")
    return Markup(text)  # nothing in it can be markup any more  # noqa: S704
