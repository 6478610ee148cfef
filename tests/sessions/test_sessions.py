"""Whole conversations in chat, replayed line by line and compared with what stands in the `.txt` files beside this one.

A line that begins with "> " was typed by the technician; the lines under it are what the program then shows, as
`voicetech chat --plain` prints them. Lines that begin with "#" are for readers, and a line "# 31 minutes later" lets
time pass. A line "# procedure: NAME" at the top names another procedure than the range's.

After a change that was meant, write them anew and read the difference before it is committed:

    VOICETECH_RENEW_SESSIONS=1 python -m pytest tests/sessions
"""

import io
import os
import re
from pathlib import Path

import pytest

from tests.dialogue.talker import shipped
from voicetech.authoring.procedure_files import load_shipped
from voicetech.cli.screen import Screen
from voicetech.events import Channel
from voicetech.job import open_job
from voicetech.journal.store import open_journal

HERE = Path(__file__).parent
SESSIONS = sorted(HERE.glob("*.txt"))
RENEW = "VOICETECH_RENEW_SESSIONS"
TURN_S = 5.0
LATER = re.compile(r"# (\d+) minutes later")
PROCEDURE = re.compile(r"# procedure: (\S+)")


def replayed(written: str, record: Path) -> str:
    """Return the session with the program's lines as they come today."""
    now_s = [1_000_000.0]
    out = io.StringIO()
    screen = Screen(plain=True, out=out)
    named = PROCEDURE.match(written)
    procedure = load_shipped(named[1]) if named else shipped()
    with open_journal(record) as journal:
        job, first = open_job(procedure, journal, "session", Channel.CHAT, lambda: now_s[0])
        started = False
        for line in written.splitlines():
            later = LATER.fullmatch(line)
            if line.startswith("#") and not later:
                out.write(f"{line}\n")
                continue
            if not started:
                screen.reply(first)
                started = True
            if later:
                out.write(f"{line}\n")
                now_s[0] += 60 * int(later[1])
                screen.reply(job.tick())
            elif line.startswith("> "):
                now_s[0] += TURN_S
                out.write(f"{line}\n")
                screen.reply(job.typed(line[2:]))
    return out.getvalue()


@pytest.mark.parametrize("session", SESSIONS, ids=[path.stem for path in SESSIONS])
def test_replayed_whole(session: Path, tmp_path: Path) -> None:
    written = session.read_text(encoding="utf-8")
    now = replayed(written, tmp_path / "jobs.db")
    if os.environ.get(RENEW):
        session.write_text(now, encoding="utf-8")
    else:
        assert now == written


def test_there_are_sessions_of_each_ending() -> None:
    told = {path.stem: path.read_text(encoding="utf-8") for path in SESSIONS}
    assert "Job closed: repaired." in told["bake-element-repaired"]
    assert "Job closed: handed over." in told["lost-leg-handed-over"]
    assert "danger: Stopped." in told["danger-and-the-way-back"]
    assert "Job closed: repaired." in told["burnt-receptacle-of-a-coil-cooktop"]
    assert "Job closed: left safe." in told["limiter-of-a-radiant-cooktop"]
    assert "made the other one fail" in told["dryer-fuse-and-vent"]


def test_a_wall_oven_is_drawn_out_for_its_cut_out_and_put_back_before_it_is_tried() -> None:
    told = (HERE / "cut-out-reset.txt").read_text(encoding="utf-8")
    order = ["onto a stand", "Never bypass", "slide it back level", "the original complaint", "Job closed: repaired."]
    places = [told.index(words) for words in order]
    assert places == sorted(places)
