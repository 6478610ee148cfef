"""What Ctrl-C does from the program's first moment to its last.

Where it is for others, as in a program begun in the background, it stays so. Nothing here loads anything but `signal`.
"""

import signal


def ends_at_once() -> None:
    """Let Ctrl-C end the program without a word, as long as it is being loaded and has nothing to lose.

    What Python raises in the midst of loading shows as a traceback, or is swallowed and the program goes on.
    """
    if signal.getsignal(signal.SIGINT) is signal.default_int_handler:
        signal.signal(signal.SIGINT, signal.SIG_DFL)


def is_raised() -> None:
    """Let Ctrl-C be raised as KeyboardInterrupt: the command is loaded and knows what to say and to save."""
    if signal.getsignal(signal.SIGINT) is signal.SIG_DFL:
        signal.signal(signal.SIGINT, signal.default_int_handler)


def goes_by() -> None:
    """Leave Ctrl-C unheeded: the command is done, and Python can no longer say anything plainly."""
    if signal.getsignal(signal.SIGINT) is signal.default_int_handler:
        signal.signal(signal.SIGINT, signal.SIG_IGN)
