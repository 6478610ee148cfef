"""A PostgreSQL server for the tests: started in a temporary folder, reached through a socket there, gone afterwards.

It needs Debian's package `postgresql`; where its programs are not there, tests that need it are skipped and say so.
With VOICETECH_POSTGRESQL=required in the environment they fail instead, so that nobody takes a skip for a pass.
"""

import os
import pwd
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

REQUIRED = os.environ.get("VOICETECH_POSTGRESQL") == "required"
_USER = "postgres"


def programs() -> Path | None:
    """Return the folder of the newest server's programs, None where there is none."""
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"), key=lambda path: float(path.parts[-3]))
    return found[-1].parent if found else None


def not_here(why: str) -> None:
    """Skip the test, or fail it where the server is required."""
    if REQUIRED:
        pytest.fail(f"PostgreSQL is required here: {why}", pytrace=False)
    pytest.skip(why)


class Server:
    """A running server; `database` makes a new one on it and returns its address."""

    def __init__(self, folder: Path, binaries: Path) -> None:
        self._folder = folder
        self._binaries = binaries
        self._made = 0

    def database(self) -> str:
        """Return the address of a new, empty database."""
        self._made += 1
        name = f"shop{self._made}"
        _run(self._binaries / "createdb", "-h", str(self._folder), name)
        return f"postgresql://{_USER}@/{name}?host={self._folder}"

    def start(self) -> None:
        """Start the server, or start it again."""
        options = f"-c listen_addresses='' -c unix_socket_directories='{self._folder}' -c fsync=off"
        _control(self._binaries, self._folder, "start", "-o", options)

    def stop(self) -> None:
        """Stop the server at once, as when its power fails."""
        _control(self._binaries, self._folder, "stop", "-m", "immediate")


@contextmanager
def running() -> Iterator[Server]:
    """Give a running server."""
    binaries = programs()
    if binaries is None:
        not_here("there is no PostgreSQL server here (Debian: apt install postgresql)")
        raise AssertionError("not reached")
    # A socket's path may have 107 characters, which a test's own folder can exceed.
    folder = Path(tempfile.mkdtemp(prefix="vt-pg-"))
    try:
        if os.geteuid() == 0:
            shutil.chown(folder, _USER, _USER)
        _run(binaries / "initdb", "-D", str(folder / "data"), "-U", _USER, "-A", "trust", "-E", "UTF8", "--locale=C")
        server = Server(folder, binaries)
        server.start()
        try:
            yield server
        finally:
            server.stop()
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def _control(binaries: Path, folder: Path, *arguments: str) -> None:
    _run(binaries / "pg_ctl", "-D", str(folder / "data"), "-w", "-l", str(folder / "log"), *arguments)


def _run(program: Path, *arguments: str) -> None:
    # The server refuses to be run by root.
    user = pwd.getpwnam(_USER).pw_uid if os.geteuid() == 0 else None
    environment = {**os.environ, "PGUSER": _USER, "LC_ALL": "C"}
    done = subprocess.run(
        [str(program), *arguments],
        user=user,
        env=environment,
        cwd="/",
        stdin=subprocess.DEVNULL,
        # The server outlives pg_ctl and would hold a pipe open.
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE if program.name != "pg_ctl" else subprocess.DEVNULL,
        check=False,
    )
    if done.returncode:
        raise RuntimeError(f"{program.name} failed: {(done.stderr or b'').decode()}")
