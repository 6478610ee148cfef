"""What is said where the program cannot go on and nobody foresaw why: in plain words, never with a traceback.

Nothing here loads anything beside the standard library: it has to speak where a package is missing.
"""

import os
import re
import sys
import threading
import traceback
from pathlib import Path
from typing import Final

TRACEBACK_VARIABLE: Final = "VOICETECH_TRACEBACK"
"""Set, it shows whoever works on the program the traceback as well."""
_LOADING: Final = "<module>"
"""How Python calls the body of a module, which runs while it is loaded."""
_NO_TEMPLATE: Final = "TemplateNotFound"
"""What is raised where a page's template is gone, by a package that is not loaded here."""
_IN_ADDRESS: Final = r"(\w://[^\s:@/]*:)\S*@"
_IN_QUERY: Final = r"(?i)([?&](?:password|passwd|pwd)=)[^&\s]*"
_LONGEST: Final = 120
"""Letters that are told of what an error says."""
_KEPT: Final = "Whatever was acknowledged is on record; go on with: voicetech chat --resume last."


def last_words(error: BaseException) -> str:
    """Return what to tell of an error that ends the program: what it is, and what to do next."""
    if isinstance(error, MemoryError):
        return f"The computer has no memory left. Close other programs, then try again. {_KEPT}"
    if part_missing(error):
        return (
            f"A part of voicetech is missing or cannot be loaded ({_in_short(error)}). Install voicetech again, the "
            f"way you did at first, for the same Python: {sys.executable}. Jobs on record stay as they are."
        )
    return (
        f"voicetech has come upon a mistake of its own ({_in_short(error)}{_where(error)}). {_KEPT} Please tell "
        "whoever looks after the program what you did and what stands in the brackets."
    )


def without_passwords(text: str) -> str:
    """Return a text with the passwords of addresses in it struck out."""
    return re.sub(_IN_QUERY, r"\1***", re.sub(_IN_ADDRESS, r"\1***@", text))


def part_missing(error: BaseException) -> bool:
    """Return whether a part of the program itself, or a package, is missing or cannot be loaded."""
    if isinstance(error, (ImportError, SyntaxError)) or type(error).__name__ == _NO_TEMPLATE:
        return True
    named = getattr(error, "filename", None)
    if isinstance(error, FileNotFoundError) and isinstance(named, str):
        return Path(__file__).parent in Path(named).parents
    return any(frame.name == _LOADING for frame in traceback.extract_tb(error.__traceback__))


def tell(error: BaseException) -> None:
    """Print the last words, and the traceback where it is asked for."""
    if os.environ.get(TRACEBACK_VARIABLE):
        traceback.print_exception(error)
    sys.stderr.write(f"{last_words(error)}\n")


def tell_of_threads() -> None:
    """Let a thread that dies say so in plain words too."""
    threading.excepthook = _thread_died


def _thread_died(died: threading.ExceptHookArgs) -> None:
    if died.exc_value is not None and sys.stderr is not None:
        tell(died.exc_value)


def _in_short(error: BaseException) -> str:
    # The first line alone, and no more of it than is needed: it may quote what somebody said.
    said = (str(error).splitlines() or [""])[0]
    name = type(error).__name__
    return (
        f"{name}: {without_passwords(said)[:_LONGEST]}"
        if said and isinstance(error, (ImportError, OSError, SyntaxError))
        else name
    )


def _where(error: BaseException) -> str:
    """Return the last place in the program's own files that the error passed."""
    package = Path(__file__).parent
    own = [frame for frame in traceback.extract_tb(error.__traceback__) if package in Path(frame.filename).parents]
    return f" at {Path(own[-1].filename).relative_to(package).as_posix()}:{own[-1].lineno}" if own else ""
