"""Counts with what is counted, in the number it stands in."""


def so_many(count: int, one: str, many: str = "") -> str:
    """Return a count and its word: "1 job", "2 jobs"; `many` is said of several, else `one` with an s."""
    return f"{count:,} {one if count == 1 else many or f'{one}s'}"
