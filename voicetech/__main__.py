"""Where the program begins, installed or as `python -m voicetech`."""

import sys

from voicetech.ctrl_c import ends_at_once, goes_by


def main() -> None:
    """Run the command line."""
    ends_at_once()
    try:
        from voicetech.cli import main as run

        run()
    except Exception as error:  # noqa: BLE001
        # Nobody in front of an appliance is helped by a traceback.
        from voicetech.last_words import tell

        tell(error)
        sys.exit(1)
    finally:
        goes_by()


if __name__ == "__main__":
    main()
