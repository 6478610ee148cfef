"""An archive opened: a file, a database on a server, or one in memory, its tables brought up to date."""

from collections.abc import Iterator
from contextlib import contextmanager
from types import TracebackType
from typing import Any, Final, Self

from sqlalchemy import Connection, Engine, create_engine, event, text
from sqlalchemy.exc import NoSuchModuleError, SQLAlchemyError
from sqlalchemy.pool import NullPool, StaticPool

from voicetech.archive import layouts
from voicetech.archive.address import Address
from voicetech.archive.errors import ArchiveError, DamagedError, NewerLayoutError, NotWritableError
from voicetech.archive.explaining import explained

BUSY_S: Final = 30.0
"""How long to wait for another program that is writing (judgement, no source)."""
ANSWER_S: Final = 10
"""How long to wait for a server that does not answer (judgement, no source)."""


class Archive:
    """An archive that is open; made by `open_archive`."""

    def __init__(self, engine: Engine, address: Address) -> None:
        self._engine = engine
        self.address = address

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    @property
    def dialect(self) -> str:
        """Return which kind of database it is: sqlite or postgresql."""
        return self._engine.dialect.name

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """Give a connection that sees the archive as it is at one moment. Raises ArchiveError."""
        options = {} if self.address.is_file else {"isolation_level": "REPEATABLE READ", "postgresql_readonly": True}
        with self._plainly(), self._engine.connect().execution_options(**options) as connection, connection.begin():
            yield connection

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """Give a connection whose writes all take place, or none where anything is raised. Raises ArchiveError."""
        with self._plainly(), self._engine.connect().execution_options(writes=True) as connection, connection.begin():
            yield connection

    @contextmanager
    def outside(self) -> Iterator[Connection]:
        """Give a connection outside any transaction, for what a database does only there. Raises ArchiveError."""
        options = {"isolation_level": "AUTOCOMMIT"}
        with self._plainly(), self._engine.connect().execution_options(**options) as connection:
            yield connection

    def close(self) -> None:
        """Let go of the database; safe to call twice."""
        self._engine.dispose()

    @contextmanager
    def _plainly(self) -> Iterator[None]:
        try:
            yield
        except SQLAlchemyError as error:
            raise explained(error, self.address) from None
        except DamagedError:
            raise DamagedError(
                f"{self.address.shown} belongs to another program. Nothing in it was changed. "
                f"Give the archive a place of its own."
            ) from None
        except NewerLayoutError:
            raise NewerLayoutError(
                f"The archive {self.address.shown} was written by a newer voicetech. Nothing in it was changed. "
                f"Install the newest voicetech."
            ) from None


def open_archive(address: Address, *, busy_s: float = BUSY_S, make: bool = True) -> Archive:
    """Return the archive at this address, its tables made where they are missing and brought up to date.

    `busy_s` is how many seconds to wait for another program's write; without `make` an archive that is not there or
    not up to date is left as it is. Raises ArchiveError.
    """
    archive = Archive(_engine(address, busy_s), address)
    try:
        _prepare(archive, make)
    except BaseException:
        archive.close()
        raise
    return archive


def _prepare(archive: Archive, make: bool) -> None:
    with archive.reading() as connection:
        _refuse_strangers(connection)
        found = layouts.versions(connection)
        if layouts.is_current(found):
            return
    if not make:
        what = "is not of this voicetech's layout yet" if found else "is empty"
        raise ArchiveError(f"The archive {archive.address.shown} {what}. Bring jobs to it with: voicetech push")
    if archive.address.path is not None:
        with archive.outside() as connection:
            connection.execute(text("PRAGMA journal_mode = WAL"))
    with archive.writing() as connection:
        if not archive.address.is_file:
            # Two laptops may bring their first jobs at once.
            connection.execute(text("SELECT pg_advisory_xact_lock(:key)"), {"key": layouts.APPLICATION_ID})
        layouts.bring_up_to_date(connection)
        if archive.address.is_file:
            connection.execute(text(f"PRAGMA application_id = {layouts.APPLICATION_ID}"))


def _refuse_strangers(connection: Connection) -> None:
    if connection.dialect.name != "sqlite":
        return
    mark = connection.execute(text("PRAGMA application_id")).scalar_one()
    used = connection.execute(text("SELECT count(*) FROM sqlite_master")).scalar_one()
    if mark != layouts.APPLICATION_ID and (used or mark):
        raise DamagedError("It belongs to another program.")


def _engine(address: Address, busy_s: float) -> Engine:
    if not address.is_file:
        return _server(address)
    path = address.path
    if path is not None and not path.parent.is_dir():
        raise NotWritableError(f"There is no folder {path.parent} for the archive. Make it, or choose another place.")
    arguments: dict[str, Any] = {"timeout": busy_s, "check_same_thread": False}
    engine = create_engine(address.url, poolclass=StaticPool if path is None else NullPool, connect_args=arguments)
    event.listen(engine, "connect", _in_autocommit)
    event.listen(engine, "begin", _begin)
    return engine


def _server(address: Address) -> Engine:
    arguments: dict[str, Any] = {} if "connect_timeout" in address.url.query else {"connect_timeout": ANSWER_S}
    try:
        return create_engine(address.url, connect_args=arguments)
    except (ModuleNotFoundError, NoSuchModuleError):
        raise ArchiveError(
            "An archive on a server needs one package more: pip install 'voicetech[postgresql]', then try again."
        ) from None


def _in_autocommit(connection: Any, _record: Any) -> None:
    # The module's own transactions begin too late for a read and too softly for a write; `_begin` says when.
    connection.isolation_level = None
    connection.execute("PRAGMA synchronous = NORMAL")
    # What is deleted is deleted down to the last byte.
    connection.execute("PRAGMA secure_delete = ON")


def _begin(connection: Connection) -> None:
    if connection.get_execution_options().get("isolation_level") != "AUTOCOMMIT":
        connection.exec_driver_sql("BEGIN IMMEDIATE" if connection.get_execution_options().get("writes") else "BEGIN")
