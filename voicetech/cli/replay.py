"""`voicetech replay`: recorded jobs gone through again by today's program."""

import json
import sys
from collections import Counter
from collections.abc import Callable, Generator, Iterator
from contextlib import closing, contextmanager
from dataclasses import asdict, dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Final

import typer

from voicetech.cli.by_voice import Ear as EarOption
from voicetech.cli.by_voice import Model
from voicetech.cli.jobs import HOW_TO_START, job_named
from voicetech.cli.joining import plain_errors, procedure_named, record_to_read, stop
from voicetech.cli.options import refuse
from voicetech.language.plural import so_many

if TYPE_CHECKING:
    from voicetech.replay import Material, Reheard, Replayed
    from voicetech.replay.ear import Ear
    from voicetech.replaying import Difference

ALL: Final = "all"
_SHOWN: Final = 20


@dataclass(frozen=True, slots=True)
class _Named:
    """A job and the record it stands in."""

    record: Path
    job: str


def replay(
    jobs: Annotated[
        list[str],
        typer.Argument(metavar="JOB…", help="Names of jobs, last, all, or folders that hold records of jobs."),
    ],
    rehear: Annotated[
        bool, typer.Option("--rehear", help="Hear the kept sounds again, and show what changed.")
    ] = False,
    procedure: Annotated[
        str | None,
        typer.Option(
            "--procedure", metavar="NAME", help="Judge by this procedure instead of the text each job followed."
        ),
    ] = None,
    ear: EarOption = None,
    model: Model = None,
    cluster: Annotated[
        str | None,
        typer.Option("--cluster", metavar="ADDRESS", help="Work on a Dask cluster; its scheduler's address."),
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON object a job, then the sums.")] = False,
) -> None:
    """Go through recorded jobs again: is the record whole, and what would today's program do otherwise?

    Every turn is decided again from the session it was decided in, by the very text of the procedure that the job
    followed. With --rehear the kept sounds are heard again by today's recogniser and vocabulary, and what was heard
    then stands beside it; where the record knows what was said, it is told which of them was right. A folder is
    searched for records, and all cores work. Nothing is written. Ends with status 1 where a record is not whole or a
    turn is decided or worded otherwise.

    Examples: voicetech replay last, voicetech replay all --rehear, voicetech replay /media/archive --json
    """
    if not rehear:
        refuse({"--ear": ear, "--model": model}, "is for hearing the sounds again: add --rehear")
    with plain_errors():
        # A job that is named in several ways is one job.
        named = list(dict.fromkeys(found for job in jobs for found in _found(job)))
        if not named:
            stop(HOW_TO_START)
        if procedure is not None:
            # Told at once and in one place, rather than by every worker.
            procedure_named(procedure)
        sums = _Sums()
        with (
            _progress(len(named), as_json) as step,
            closing(_replayed(named, _ear(rehear, ear, model), procedure, cluster)) as replayed,
        ):
            for done in replayed:
                step()
                sums.add(done)
                sys.stdout.write(_as_json(done) if as_json else _in_words(done, single=len(named) == 1))
        sys.stdout.write(f"{json.dumps(sums.as_dict())}\n" if as_json else sums.in_words())
    if not sums.exact:
        raise typer.Exit(1)


def _ear(rehear: bool, ear: str | None, model: Path | None) -> "Ear | None":
    from voicetech.replay.ear import Ear, opened

    if not rehear:
        return None
    chosen = Ear(ear, model)
    # Told at once and in one place, rather than by every worker.
    opened(chosen)
    return chosen


def _found(name: str) -> Iterator[_Named]:
    from voicetech.journal.store import open_to_read

    place = Path(name)
    if name not in ("last", ALL) and (place.is_dir() or place.suffix == ".db"):
        records = sorted(place.rglob("jobs.db")) if place.is_dir() else [place]
        if not records:
            stop(f"{place} holds no record of jobs (jobs.db), nor does any folder in it. Name another folder.")
    else:
        own = record_to_read()
        if own is None:
            stop(HOW_TO_START)
        records = [own]
    for record in records:
        with open_to_read(record) as journal:
            if name in ("last", ALL) or not place.exists():
                names = [line.job for line in journal.jobs()] if name == ALL else [job_named(journal, name)]
            else:
                names = [line.job for line in journal.jobs()]
        yield from (_Named(record.resolve(), job) for job in reversed(names))


def _gathered(named: _Named, with_sounds: bool) -> "Material":
    from voicetech.journal.place import sounds_folder
    from voicetech.journal.store import open_to_read
    from voicetech.replay import material_of

    with open_to_read(named.record) as journal:
        sounds = sounds_folder(named.record.parent) if with_sounds else None
        return material_of(journal, named.job, str(named.record), sounds)


def _replayed(
    named: list[_Named], ear: "Ear | None", procedure: str | None, cluster: str | None
) -> "Generator[Replayed]":
    from voicetech.cores import cores
    from voicetech.replay.spreading import ClusterError, on_all_cores, on_cluster, one_by_one

    gathered = (partial(_gathered, one, ear is not None) for one in named)
    try:
        if cluster is not None:
            yield from on_cluster(gathered, ear, procedure, cluster)
        elif len(named) == 1 or cores() == 1:
            yield from one_by_one(gathered, ear, procedure)
        else:
            yield from on_all_cores(gathered, ear, procedure)
    except ClusterError as error:
        stop(str(error))


@contextmanager
def _progress(count: int, quiet: bool) -> "Iterator[Callable[[], None]]":
    if quiet or count == 1 or not sys.stderr.isatty():
        yield lambda: None
        return
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

    columns = (TextColumn("jobs"), BarColumn(), MofNCompleteColumn(), TimeRemainingColumn())
    with Progress(*columns, console=Console(stderr=True)) as progress:
        task = progress.add_task("jobs", total=count)
        yield lambda: progress.advance(task)


def _as_json(done: "Replayed") -> str:
    return f"{json.dumps({**asdict(done), 'exact': done.exact}, ensure_ascii=False)}\n"


def _in_words(done: "Replayed", single: bool) -> str:
    head = f"{done.job}: {so_many(done.events, 'event')}, {so_many(done.turns, 'turn')}"
    lines = [f"{head}: {'whole, and decided the same throughout' if done.exact else 'not the same'}."]
    if done.missing is not None:
        lines.append(f"  not gone through: {done.missing.value}")
    if done.other_text:
        lines.append("  the text of the procedure that it followed is not kept; judged by another one of the same name")
    lines += [f"  damaged: {what}" for what in done.damaged]
    for difference in done.differences:
        lines += _difference(difference)
    if done.reheard is not None:
        lines += _heard_again(done.reheard, done.without_sound, single)
    return "\n".join(lines) + "\n"


def _difference(difference: "Difference") -> Iterator[str]:
    what = "worded" if difference.worded_only else "decided"
    yield f"  {what} otherwise at event {difference.number}, {difference.said!r}"
    if difference.error:
        yield f"    it cannot be decided today: {difference.error}"
    for time, told in (("then", difference.then), ("now", difference.now)):
        yield from (f"    {time}: {line}" for line in told)


def _heard_again(reheard: "tuple[Reheard, ...]", without: int, single: bool) -> Iterator[str]:
    from voicetech.replay.replayed import Now

    changed = [one for one in reheard if one.compared is not Now.SAME]
    counts = Counter(one.compared.value for one in reheard)
    told = ", ".join(f"{count} {what}" for what, count in counts.items()) or "none"
    yield f"  heard again: {len(reheard)} ({told}); without their sound: {without}"
    for one in changed if single else changed[:_SHOWN]:
        right = "" if one.right_now is None else f" [{one.right_then} then, {one.right_now} now]"
        yield (
            f"    event {one.number} ({one.asked}): {one.then!r} {one.then_outcome}"
            f" -> {one.now!r} {one.now_outcome}{right}"
        )
    if not single and len(changed) > _SHOWN:
        yield f"    and {len(changed) - _SHOWN} more; for all of them: voicetech replay JOB --rehear"


class _Sums:
    """Counts over all jobs that were gone through."""

    def __init__(self) -> None:
        self._jobs: Counter[str] = Counter()
        self._turns: Counter[str] = Counter()
        self._heard: Counter[str] = Counter()
        self._right: Counter[tuple[str, str]] = Counter()
        self._sound_s = 0.0
        self._heard_s = 0.0

    @property
    def exact(self) -> bool:
        """Return whether every job was whole and decided the same."""
        return self._jobs["exact"] == self._jobs["all"]

    def add(self, done: "Replayed") -> None:
        """Add a job."""
        self._jobs.update(
            {"all": 1, "exact": int(done.exact), "damaged": int(bool(done.damaged)), "events": done.events}
        )
        self._jobs["not gone through"] += done.missing is not None
        worded = sum(difference.worded_only for difference in done.differences)
        self._turns.update({"all": done.turns, "decided": len(done.differences) - worded, "worded": worded})
        for one in done.reheard or ():
            self._heard[one.compared.value] += 1
            self._sound_s += one.length_s
            self._heard_s += one.heard_s
            if one.right_then is not None and one.right_now is not None:
                self._right[one.right_then, one.right_now] += 1
        self._heard["without sound"] += done.without_sound

    def as_dict(self) -> dict[str, object]:
        """Return the counts by name."""
        return {
            "jobs": self._jobs["all"],
            "exact": self._jobs["exact"],
            "damaged": self._jobs["damaged"],
            "not_gone_through": self._jobs["not gone through"],
            "events": self._jobs["events"],
            "turns": self._turns["all"],
            "decided_otherwise": self._turns["decided"],
            "worded_otherwise": self._turns["worded"],
            "heard_again": dict(self._heard),
            "known": [{"then": then, "now": now, "count": count} for (then, now), count in self._right.items()],
            "sound_s": round(self._sound_s, 1),
            "heard_s": round(self._heard_s, 1),
        }

    def in_words(self) -> str:
        """Return the counts for people."""
        jobs, turns = self._jobs, self._turns
        lines = [
            f"{so_many(jobs['all'], 'job')}, {so_many(jobs['events'], 'event')}, {so_many(turns['all'], 'turn')}: "
            f"{so_many(jobs['exact'], 'job')} whole and decided the same; "
            f"{so_many(turns['decided'], 'turn')} decided otherwise, {turns['worded']} only worded otherwise; "
            f"{so_many(jobs['damaged'], 'record')} damaged, {jobs['not gone through']} not gone through."
        ]
        heard = {what: count for what, count in self._heard.items() if what != "without sound"}
        if heard:
            words = ", ".join(f"{count} {what}" for what, count in sorted(heard.items()))
            lines.append(f"Heard again: {words} ({self._heard_s:.1f} s for {self._sound_s:.1f} s of sound).")
        if self._right:
            lines.append("Where the record knows what was said:")
            lines += [f"  {count:5} {then} then, {now} now" for (then, now), count in sorted(self._right.items())]
        return "\n".join(lines) + "\n"
