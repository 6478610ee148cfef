"""What a database says of its errors, in plain words with what to do next."""

import re
from typing import TYPE_CHECKING, Final

from voicetech.archive.address import Address
from voicetech.archive.errors import ArchiveError, BusyError, DamagedError, NotWritableError, UnreachableError

if TYPE_CHECKING:
    from sqlalchemy.exc import SQLAlchemyError

_UNREACHABLE: Final = (
    ("password authentication failed", "It refuses this user or password."),
    ("no pg_hba.conf entry", "It does not let this user in from here."),
    ("no password supplied", "It wants a password, and the address has none."),
    ("could not translate host name", "There is no computer of that name in the network."),
    ("failed to resolve host", "There is no computer of that name in the network."),
    ("connection refused", "Nothing answers there."),
    ("timeout", "It does not answer in time."),
    ("no such file or directory", "There is no such socket or folder."),
)
_NO_DATABASE: Final = re.compile(r'database ".*" does not exist')
_SQLITE: Final[tuple[tuple[str, type[ArchiveError], str], ...]] = (
    ("locked", BusyError, "Another program holds {address}. Close the other voicetech, then try again."),
    ("readonly", NotWritableError, "{address} cannot be written. Give yourself the right to, or choose another place."),
    ("unable to open", NotWritableError, "{address} cannot be opened. Look at its folder and your rights there."),
    ("not a database", DamagedError, "{address} is no archive of jobs. Move it aside, or choose another place."),
    ("malformed", DamagedError, "{address} is damaged. Move it aside and fill a new one."),
    ("disk is full", NotWritableError, "The disk of {address} is full. Free some space, then try again."),
    ("disk I/O error", NotWritableError, "The disk of {address} failed. Check it, or choose another place."),
)


def explained(error: "SQLAlchemyError", address: Address) -> ArchiveError:
    """Return the error of a database in plain words; the password of the address is never in it."""
    told = str(getattr(error, "orig", None) or error)
    if address.is_file:
        for sign, kind, words in _SQLITE:
            if sign in told:
                return kind(words.format(address=address.shown))
        return ArchiveError(f"The archive {address.shown} cannot be used ({address.without_password(told)}).")
    if _NO_DATABASE.search(told):
        return UnreachableError(
            f"The archive {address.shown} does not exist on its server. "
            f"Have the database made there (createdb), or correct the address."
        )
    if getattr(error, "connection_invalidated", False) or "server closed the connection" in told:
        return UnreachableError(
            f"The connection to the archive {address.shown} broke off. Nothing is lost: run the command again, "
            f"and it goes on where it stopped."
        )
    lowered = told.lower()
    if "permission denied" in lowered or "read-only transaction" in lowered:
        return NotWritableError(
            f"The archive {address.shown} does not let this user do that. Ask for the right to read and write in it."
        )
    for sign, words in _UNREACHABLE:
        if sign in lowered:
            return _not_reached(address, words)
    if "connection" in lowered or "connect" in lowered:
        return _not_reached(address, f"({address.without_password(told.splitlines()[0])})")
    return ArchiveError(
        f"The archive {address.shown} cannot be used ({address.without_password(told.splitlines()[0])}). "
        f"It may be a database of something else: an archive wants one of its own."
    )


def _not_reached(address: Address, why: str) -> UnreachableError:
    return UnreachableError(
        f"The archive {address.shown} cannot be reached. {why} "
        f"Check the address and the network, then run the command again; the jobs are safe in your own record."
    )
