"""Where the folders that come with the program are, in a checkout and in an installed wheel."""

from pathlib import Path

_PACKAGE = Path(__file__).resolve().parent.parent


def shipped_folder(name: str) -> Path:
    """Return the folder `name` (grammars, dialogs, demo_audio) that comes with the program.

    Raises FileNotFoundError, saying where it was looked for, when it is in neither place.
    """
    places = (_PACKAGE / "_shipped" / name, _PACKAGE.parent / name)
    for place in places:
        if place.is_dir():
            return place
    tried = " and ".join(map(str, places))
    raise FileNotFoundError(f"the folder {name!r} is missing; looked in {tried}; install the program again")
