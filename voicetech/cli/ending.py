"""How a command ends that is broken off or whose words cannot be written: in one line, for every command."""

import errno
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from typing import Any, Final

import typer
from typer.core import TyperGroup

from voicetech.cli.joining import plain_errors
from voicetech.last_words import part_missing, without_passwords

BY_CTRL_C: Final = 130
"""What a shell gives for a program ended by Ctrl-C."""
_BY_CTRL_C: Final = "Ended with Ctrl-C."
_NOT_WRITTEN: Final = frozenset({errno.ENOSPC, errno.EDQUOT, errno.EFBIG, errno.EIO, errno.EBADF})
"""How a stream fails that takes nothing more; none of them names a file."""


_Misused: Final[Any] = typer.BadParameter.__bases__[0]
"""What is raised where a command is not used as it can be."""


class Commands(TyperGroup):
    """All commands; what a user can cause is told plainly by each, and Ctrl-C unless it has told more itself."""

    def invoke(self, ctx: Any) -> Any:
        """Return what the command returns."""
        try:
            with plain_errors():
                return super().invoke(ctx)
        except _Misused as error:
            # What is quoted of it may be the address of an archive.
            error.message = without_passwords(error.message)
            raise
        except KeyboardInterrupt:
            sys.stderr.write(f"{_BY_CTRL_C}\n")
            raise typer.Exit(BY_CTRL_C) from None


@contextmanager
def ended_plainly() -> Iterator[None]:
    """End the program in one line where it is broken off, or where what it prints cannot be written."""
    try:
        try:
            yield
        finally:
            # Here rather than when the program is gone already and can tell nothing.
            sys.stdout.flush()
    except BrokenPipeError:
        # Whoever read it has seen enough, as with head.
        print_no_more()
        sys.exit(1)
    except KeyboardInterrupt:
        sys.stderr.write(f"{_BY_CTRL_C}\n")
        sys.exit(BY_CTRL_C)
    except OSError as error:
        if part_missing(error) or (error.filename is None and error.errno not in _NOT_WRITTEN):
            raise
        print_no_more()
        sys.stderr.write(_in_words(error))
        sys.exit(1)


def _in_words(error: OSError) -> str:
    why = error.strerror or str(error)
    if error.filename is not None:
        return f"{error.filename}: {why}. Check the path and the disk, then try again.\n"
    return f"The output cannot be written ({why}). Free some space, or send it elsewhere.\n"


def print_no_more() -> None:
    """Let what could not be written go, so that it does not fail once more at the very end."""
    with suppress(OSError, ValueError):
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, sys.stdout.fileno())
        os.close(nowhere)
