"""`voicetech prove`: every state of a procedure walked, and the shortest way to a rule of safety that is broken."""

import json
import sys
import time
from collections.abc import Iterator
from concurrent.futures.process import BrokenProcessPool
from contextlib import closing, contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Final

import typer

from voicetech.cli.joining import stop
from voicetech.cli.procedure_paths import procedures_in
from voicetech.cli.proofs import Come, Proved, all_proved
from voicetech.cores import cores
from voicetech.language.plural import so_many

if TYPE_CHECKING:
    from rich.status import Status

    from voicetech.authoring.findings import Places
    from voicetech.proof.proving import Broken, Leg, Proof

_SHOWN: Final = 6
"""How many procedures on their way are shown at most."""


def prove(
    files: Annotated[
        list[Path] | None,
        typer.Argument(
            metavar="FILE…",
            help="Procedures: files, folders of them, or names of those that come with the program; without one, all "
            "of these.",
        ),
    ] = None,
    at_once: Annotated[
        int | None,
        typer.Option("--cores", min=1, metavar="N", help="How many procedures are proved at a time; else one a core."),
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON object for each procedure.")] = False,
) -> None:
    """Walk every state that a procedure can lead to, whatever is said, and hold it to the rules of safety.

    Each step is tried in every way that making safe may stand, with every answer, request, pause, restart, other
    device, word of danger and proof grown old, in every order of tests. One line tells what was walked of each
    procedure, and the last one the sum. A broken rule is told with the shortest way to it, file and line of each step,
    and status 1. A procedure takes about half a minute of a core; voicetech check tells mistakes at once.

    Examples: voicetech prove, voicetech prove my-range.yaml, voicetech prove dialogs/ --json
    """
    from voicetech.authoring.shipped import shipped_folder

    paths = [path for given in files or [shipped_folder("dialogs")] for path in procedures_in(given)]
    proofs: list[Proof | None] = []
    began_s = time.monotonic()
    progress = _Progress(len(paths))
    try:
        with progress.shown(), closing(all_proved(paths, at_once or cores(), progress.tell)) as found:
            for done in found:
                with progress.away():
                    _tell_one(done, as_json, alone=len(paths) == 1)
                proofs.append(done.proof)
    except BrokenProcessPool:
        stop("A process was ended from outside before its proof was done, perhaps for want of memory. Try --cores 1.")
    if not as_json and len(paths) > 1:
        _tell_total([each for each in proofs if each is not None], len(proofs), time.monotonic() - began_s)
    if not all(each is not None and not each.broken for each in proofs):
        raise typer.Exit(1)


def _tell_one(done: Proved, as_json: bool, alone: bool) -> None:
    """Tell what came of one procedure."""
    from voicetech.authoring.including import read_written

    if done.proof is None:
        _tell_findings(done.path, done.findings, as_json)
    else:
        # Only what is broken has to be found in the files.
        places = read_written(done.path)[1].places if done.proof.broken else {}
        if as_json:
            typer.echo(json.dumps(_as_json(done.proof, places, done.took_s), ensure_ascii=False))
        else:
            _tell(done.proof, places, done.took_s, alone)
    # Whoever waits for the next one sees this.
    sys.stdout.flush()


def _tell_findings(path: Path, count: int, as_json: bool) -> None:
    told = f"{so_many(count, 'mistake')} to be mended first: voicetech check {path}"
    if as_json:
        typer.echo(json.dumps({"file": str(path), "kept": False, "findings": count}, ensure_ascii=False))
    else:
        typer.echo(f"{path}: {told}")


class _Progress:
    """What shows on a terminal how far the walks have come."""

    def __init__(self, procedures: int) -> None:
        self._procedures = procedures
        self._over = 0
        self._walking: dict[str, Come] = {}
        self._status: Status | None = None

    @contextmanager
    def shown(self) -> Iterator[None]:
        """Show it, where there is a terminal."""
        if not sys.stderr.isatty():
            yield
            return
        from rich.console import Console

        with Console(stderr=True).status(self._words()) as self._status:
            yield

    @contextmanager
    def away(self) -> Iterator[None]:
        """Leave the terminal to a result."""
        if self._status is not None:
            self._status.stop()
        yield
        if self._status is not None:
            self._status.start()

    def tell(self, come: Come) -> None:
        """Take in how far a procedure has come."""
        if come.over:
            self._over += 1
            self._walking.pop(come.procedure, None)
        else:
            self._walking[come.procedure] = come
        if self._status is not None:
            self._status.update(self._words())

    def _words(self) -> str:
        lines = [f"{self._over} of {so_many(self._procedures, 'procedure')} proved"] if self._procedures > 1 else []
        for come in list(self._walking.values())[:_SHOWN]:
            far = f": {so_many(come.states, 'state')}, {come.left:,} of them left, {so_many(come.moves, 'move')}"
            lines.append(f"walking {come.procedure}{far if come.states else '…'}")
        return "\n".join(lines)


def _tell(found: "Proof", places: "Places", took_s: float, alone: bool) -> None:
    """Tell a proof; one of several in a line, as long as no rule is broken."""
    kept = "no rule is broken" if not found.broken else f"{so_many(len(found.broken), 'rule')} broken"
    if alone:
        typer.echo(f"{found.procedure}: {kept}.")
        typer.echo(
            f"  Walked: {so_many(found.states, 'state')} and {so_many(found.moves, 'move')}, in "
            f"{so_many(found.views, 'way')} that making safe may stand where a step is entered; {_counted(found)}; "
            f"{took_s:.0f} s."
        )
    else:
        typer.echo(
            f"{found.procedure}: {kept}; {so_many(found.states, 'state')}, {so_many(found.moves, 'move')}, "
            f"{_counted(found)}; {took_s:.0f} s."
        )
    for name in found.unneeded:
        typer.echo(f"  {name} is never asked, because no step needs it.")
    for broken in found.broken:
        typer.echo(f"  BROKEN: {broken.rule}.")
        typer.echo(f"    at {_place(broken.at, places)}")
        for number, leg in enumerate(broken.way, start=1):
            typer.echo(f"    {number}. {_words(leg, places)}")
    if alone and not found.broken:
        _tell_rules("  ")


def _counted(found: "Proof") -> str:
    return (
        f"{so_many(found.results, 'result')} at {so_many(found.spots, 'spot')} of the sections; "
        f"{found.asked:,} of {so_many(found.steps, 'step')} asked"
    )


def _tell_total(proofs: "list[Proof]", procedures: int, took_s: float) -> None:
    broken = sum(len(each.broken) for each in proofs)
    kept = f"{so_many(broken, 'rule')} broken" if broken else "no rule is broken"
    unread = procedures - len(proofs)
    left_out = f", {unread:,} to be mended first" if unread else ""
    typer.echo(
        f"{so_many(procedures, 'procedure')}: {kept}{left_out}; "
        f"{so_many(sum(each.states for each in proofs), 'state')}, "
        f"{so_many(sum(each.moves for each in proofs), 'move')}, "
        f"{so_many(sum(each.results for each in proofs), 'result')} at "
        f"{so_many(sum(each.spots for each in proofs), 'spot')} of the sections; "
        f"{sum(each.asked for each in proofs):,} of {so_many(sum(each.steps for each in proofs), 'step')} asked; "
        f"{took_s:.0f} s."
    )
    if proofs and not broken and not unread:
        _tell_rules("")


def _tell_rules(indent: str) -> None:
    from voicetech.proof.proving import RULES

    typer.echo(f"{indent}Held at every one of them:")
    for rule in RULES:
        typer.echo(f"{indent}  {rule}")


def _words(leg: "Leg", places: "Places") -> str:
    """Return a part of the way in words: where, what is said, where it leads."""
    leads = f", then {_named(leg.to)}" if leg.to is not None and leg.to != leg.at else ""
    turn = f" ({leg.turn})" if leg.turn not in ("", "asking") else ""
    if leg.at is None:
        return f"{leg.words}{leads}"
    if leg.words is None:
        return f"{_named(leg.at)} comes up or is asked for ({_line(leg.at, places)}){leads}{turn}"
    return f"at {_named(leg.at)} ({_line(leg.at, places)}): {leg.words!r}{leads}{turn}"


def _named(at: tuple[str, str]) -> str:
    return ", ".join(at)


def _place(at: tuple[str, str] | None, places: "Places") -> str:
    return "no step" if at is None else f"{_named(at)} ({_line(at, places)})"


def _line(at: tuple[str, str], places: "Places") -> str:
    place = places.get(("sections", at[0], "steps", at[1])) or places.get(("sections", at[0]))
    return f"{place.path}:{place.line}" if place else "not in a file"


def _as_json(found: "Proof", places: "Places", took_s: float) -> dict[str, object]:
    from voicetech.proof.proving import RULES

    return {
        "procedure": found.procedure,
        "kept": not found.broken,
        "states": found.states,
        "moves": found.moves,
        "views": found.views,
        "spots": found.spots,
        "results": found.results,
        "steps": found.steps,
        "asked": found.asked,
        "unneeded": list(found.unneeded),
        "seconds": round(took_s, 1),
        "rules": list(RULES),
        "broken": [_broken_json(broken, places) for broken in found.broken],
    }


def _broken_json(broken: "Broken", places: "Places") -> dict[str, object]:
    return {
        "rule": broken.rule,
        **_place_json(broken.at, places),
        "way": [
            {
                **_place_json(leg.at, places),
                "words": leg.words,
                "to": None if leg.to is None else ".".join(leg.to),
                "turn": leg.turn or None,
            }
            for leg in broken.way
        ],
    }


def _place_json(at: tuple[str, str] | None, places: "Places") -> dict[str, object]:
    place = None if at is None else places.get(("sections", at[0], "steps", at[1]))
    return {
        "at": None if at is None else ".".join(at),
        "file": None if place is None else str(place.path),
        "line": None if place is None else place.line,
    }
