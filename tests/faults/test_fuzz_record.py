"""A record with any damage, and one that other hands wrote and sealed: every command says what is wrong, or works."""

import json
import shutil
import sqlite3
from functools import cache
from pathlib import Path
from tempfile import mkdtemp
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from typer.testing import CliRunner

from tests.faults.bounds import bounded
from tests.replay.jobs import session_lines, typed_job
from voicetech.cli import app
from voicetech.journal.place import journal_path
from voicetech.journal.sealing import FIRST, seal
from voicetech.journal.store import open_journal

JOB = "one"
COMMANDS = (
    ("jobs",),
    ("jobs", "--figures"),
    ("jobs", "--about", "oven", "--json"),
    ("report", JOB, "--out", "{out}/r.html", "--json", "{out}/r.json", "--csv", "{out}/r.csv"),
    ("replay", JOB),
    ("review", JOB, "--out", "{out}/review.html"),
    ("chat", "--plain", "--resume", JOB),
    ("upkeep",),
    ("upkeep", "--mend"),
    ("push", "sqlite:///{out}/shop.db"),
    ("recordings", JOB, "--out", "{out}/recordings"),
    ("forget", JOB, "--yes"),
)
WHATEVER: st.SearchStrategy[object] = st.one_of(
    st.sampled_from([None, True, -1, 0, 10**30, 1e308, -0.5, "", "e", "x" * 5_000, [], [[]], {}, {"a": 1}, "\u0000"]),
    st.text(max_size=8),
)


@cache
def made() -> Path:
    """Return a record with a job worked to the middle of a test, and another that is closed."""
    folder = Path(mkdtemp(prefix="fuzzed-record-"))
    with open_journal(journal_path(folder)) as journal:
        typed_job(journal, JOB, session_lines("bake-element-repaired")[:36])
        typed_job(journal, "two", session_lines("lost-leg-handed-over"))
    return journal_path(folder)


def run_on(home: Path, arguments: tuple[str, ...], monkeypatch: pytest.MonkeyPatch) -> None:
    """Run a command on the record in this folder; nothing but its own end may come of it."""
    out = home.with_name("out")
    shutil.rmtree(out, ignore_errors=True)
    out.mkdir()
    monkeypatch.setenv("VOICETECH_HOME", str(home))
    done = CliRunner().invoke(app, [word.format(out=out) for word in arguments], input="status\nyes\n")
    if done.exception is not None and not isinstance(done.exception, SystemExit):
        raise done.exception
    assert done.exit_code in (0, 1)
    assert done.exit_code == 0 or done.output.strip(), "an error is told"


def fresh(tmp_path: Path) -> Path:
    home = tmp_path / "home"
    shutil.rmtree(home, ignore_errors=True)
    home.mkdir()
    shutil.copy(made(), journal_path(home))
    return home


@bounded(25)
@given(
    st.sampled_from(COMMANDS),
    st.lists(
        st.tuples(st.sampled_from(["flip", "zero", "cut", "swap"]), st.integers(0, 2**30), st.integers(1, 9_000)),
        min_size=1,
        max_size=4,
    ),
)
def test_bytes_that_are_damaged(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    arguments: tuple[str, ...],
    damage: list[tuple[str, int, int]],
) -> None:
    home = fresh(tmp_path)
    content = bytearray(journal_path(home).read_bytes())
    for kind, where, length in damage:
        at = where % len(content) if content else 0
        match kind:
            case "flip" if content:
                content[at] ^= 1 << length % 8
            case "zero":
                content[at : at + length] = bytes(len(content[at : at + length]))
            case "cut":
                del content[max(at, 1_000) :]
            case _:
                page = bytes(content[4096:8192])
                content[at : at + len(page)] = page
    journal_path(home).write_bytes(content)
    run_on(home, arguments, monkeypatch)


def changed(value: Any, way: list[int], to: object) -> Any:
    """Return a JSON value with something in it, found by going down `way`, put in the place of what is there."""
    if isinstance(value, dict) and value and way:
        key = sorted(value)[way[0] % len(value)]
        return {**value, key: changed(value[key], way[1:], to)}
    if isinstance(value, list) and value and way:
        at = way[0] % len(value)
        return [*value[:at], changed(value[at], way[1:], to), *value[at + 1 :]]
    return to


Rewriting = tuple[str, int, list[int], object]


def rewrite(path: Path, rewritings: list[Rewriting]) -> None:
    """Change events as somebody can who knows how they are sealed."""
    connection = sqlite3.connect(path, isolation_level=None)
    for (name,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
        connection.execute(f"DROP TRIGGER {name}")
    rows = connection.execute("SELECT kind, body, at_s FROM event WHERE job = ? ORDER BY seq", (JOB,)).fetchall()
    for what, where, way, to in rewritings:
        at = where % len(rows)
        kind, body, at_s = rows[at]
        match what:
            case "value":
                rows[at] = (kind, json.dumps(changed(json.loads(body), way, to)), at_s)
            case "kind":
                rows[at] = (rows[(at + 1 + len(way)) % len(rows)][0], body, at_s)
            case "unknown":
                rows[at] = ("of-a-later-year/7", body, at_s)
            case "twice":
                rows.insert(at, rows[at])
            case "gone" if len(rows) > 1:
                del rows[at]
            case "elsewhere":
                rows.insert((at + 7) % len(rows), rows.pop(at))
            case _:
                rows[at] = (kind, str(to), float(to) if isinstance(to, (int, float)) else at_s)
    connection.execute("DELETE FROM event WHERE job = ?", (JOB,))
    before = FIRST
    last = connection.execute("SELECT coalesce(max(nr), 0) FROM event").fetchone()[0]
    for seq, (kind, body, at_s) in enumerate(rows, start=1):
        before = seal(before, JOB, seq, kind, body.encode())
        connection.execute(
            "INSERT INTO event (nr, job, seq, kind, at_s, body, seal) VALUES (?, ?, ?, ?, ?, ?, ?)",
            (last + seq, JOB, seq, kind, at_s, body, before),
        )
    connection.close()


REWRITINGS = st.lists(
    st.tuples(
        st.sampled_from(["value", "value", "value", "kind", "unknown", "twice", "gone", "elsewhere", "body"]),
        st.integers(0, 2**20),
        st.lists(st.integers(0, 20), min_size=1, max_size=4),
        WHATEVER,
    ),
    min_size=1,
    max_size=3,
)


@bounded(60)
@given(st.sampled_from(COMMANDS), REWRITINGS)
def test_events_that_were_rewritten_and_sealed_anew(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, arguments: tuple[str, ...], rewritings: list[Rewriting]
) -> None:
    home = fresh(tmp_path)
    rewrite(journal_path(home), rewritings)
    run_on(home, arguments, monkeypatch)
