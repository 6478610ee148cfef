"""`python -m voicetech`: the same commands without the installed script."""

from voicetech.cli import main

if __name__ == "__main__":
    main()
