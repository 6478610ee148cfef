"""An archive on each kind of database that it can be kept in."""

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from tests.archive.server import Server, running
from voicetech.archive.address import Address, address_from
from voicetech.archive.opening import Archive, open_archive

KINDS = ("sqlite", "postgresql")


@pytest.fixture(scope="session")
def server() -> Iterator[Server]:
    with running() as server:
        yield server


@pytest.fixture(params=KINDS)
def address(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    """Return the address of an archive that is not there yet."""
    if request.param == "sqlite":
        return f"sqlite:///{tmp_path / 'shop.db'}"
    server: Server = request.getfixturevalue("server")
    return server.database()


@pytest.fixture
def archive(address: str) -> Iterator[Archive]:
    with open_archive(address_from(address)) as archive:
        yield archive


@pytest.fixture
def opened() -> Iterator[Callable[[str], Archive]]:
    """Open archives that are closed at the end."""
    archives: list[Archive] = []

    def at(text: str | Address) -> Archive:
        archives.append(open_archive(address_from(text) if isinstance(text, str) else text))
        return archives[-1]

    yield at
    for archive in archives:
        archive.close()
