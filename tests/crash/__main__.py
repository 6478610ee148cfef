"""`python -m tests.crash`: end the real program some hundreds of times, and say what became of what it acknowledged."""

import argparse
import random
import shutil
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

from tests.crash.driving import Driver, LostError, Told
from tests.crash.endings import endings
from tests.crash.spoken import recordings, run_once


def main() -> int:
    """Run the series; return the exit status."""
    parser = argparse.ArgumentParser(prog="python -m tests.crash", description=__doc__)
    parser.add_argument("--times", type=int, default=300, help="how often to end the program")
    parser.add_argument("--spoken", type=int, default=30, help="how often to end a job by voice")
    parser.add_argument("--seed", type=int, default=1, help="the same seed ends it in the same ways")
    arguments = parser.parse_args()
    folder = Path(tempfile.mkdtemp())
    told = Told()
    chance = random.Random(arguments.seed)
    driver = Driver(folder / "home", chance, told)
    ways = endings()
    began_s = time.monotonic()
    try:
        for number in range(1, arguments.times + 1):
            driver.run_once(chance.choice(ways))
            if sys.stderr.isatty():
                sys.stderr.write(f"\r{number} of {arguments.times} ")
        spoken = _spoken(folder, arguments.spoken if shutil.which("strace") else 0, chance)
    except LostError as error:
        sys.stdout.write(
            f"LOST after {sum(told.endings.values())} endings (seed {arguments.seed}), see {folder}: {error}\n"
        )
        return 1
    shutil.rmtree(folder)
    sys.stdout.write(in_words(told) + "\n")
    sys.stdout.write(
        f"By voice it was ended {spoken['endings']} times: {spoken['answers']} answers acknowledged, 0 lost; "
        f"{spoken['sounds']} sounds named by events, all whole.\n"
    )
    sys.stdout.write(f"{time.monotonic() - began_s:.0f} s\n")
    return 0


def _spoken(folder: Path, times: int, chance: random.Random) -> Counter[str]:
    told: Counter[str] = Counter()
    clips = recordings(folder / "clips")
    for _ in range(times):
        run_once(folder / "spoken", clips, chance, told)
    return told


def in_words(told: Told) -> str:
    """Return what was found."""
    lines = [f"The program was ended {sum(told.endings.values())} times:"]
    lines += [f"  {count:4} {ending}" for ending, count in sorted(told.endings.items())]
    lines += [
        f"{told.acknowledged} answers were acknowledged: 0 lost, 0 doubled.",
        f"Of the answers that were on their way, {told.in_flight_kept} were on record and {told.in_flight_gone} not; "
        "none was there in part.",
        f"{told.writes_lost} writes that were not flushed were made undone.",
        f"{told.jobs} jobs were begun, {told.closed} worked to their end with {told.readings} readings; each of these "
        "comes out of its record exactly as it was.",
    ]
    if told.last_words:
        lines.append("What the program said when the disk failed:")
        lines += [f"  {count:4} {words}" for words, count in told.last_words.most_common()]
    return "\n".join(lines)


if __name__ == "__main__":
    sys.exit(main())
