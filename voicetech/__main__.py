"""Where the program begins, installed or as `python -m voicetech`."""

from voicetech.ctrl_c import ends_at_once, goes_by


def main() -> None:
    """Run the command line."""
    ends_at_once()
    from voicetech.cli import main as run

    try:
        run()
    finally:
        goes_by()


if __name__ == "__main__":
    main()
