"""Walk the shipped procedure whole and print how many states it has: `python -m tests.dialogue.prove`.

Ends with status 1 and the path in words where a safety rule can be broken, or where a step is never reached.
"""

import sys
import time
from dataclasses import replace
from functools import cache

from tests.dialogue.full_walk import walk
from tests.dialogue.talker import Talker, lexicon, shipped
from voicetech.language.meaning import Meaning, Question
from voicetech.language.understand import understand
from voicetech.procedure import Phase

_PLATE = ("at once", "two forty", "twelve kilowatts", "later", "later", "house")
_CALL = ("no", "bake", *_PLATE)
_HISTORY = ("no", "no", "no", "no", "none of these")
_TRIPPED = (*_CALL, "four wire cord", *_HISTORY, "two pole", "tripped")
_PROOF = ("plug is out", "one twenty", "yes", "all zero", "yes", "one twenty", "yes")
_MENDED = ("done", "a crack", "repair", "done", "done")
_PUT_BACK = ("done", "yes", "yes", "zero point two", "zero point three", "done", "yes", "yes")
STARTS = (
    (),
    _TRIPPED,
    # To the retest with the breaker still tripped: a burnt element is found and replaced before it is reset.
    (*_TRIPPED, "go to the breaker", "looks good", *_PROOF, "it's burnt", "bake", *_MENDED, *_PUT_BACK),
    (*_CALL, "hard wired", *_HISTORY, "two singles", "it's on"),
    # Steps that three wires or a wrong heat alone ask for.
    (*_CALL, "three wire cord", *_HISTORY, "two pole", "it's on", "go to frame ground", *_PROOF),
    ("no", "wrong heat", *_PLATE, "four wire cord", *_HISTORY, "two pole", "it's on", "go to oven relays", *_PROOF),
)


@cache
def understood(text: str, question: Question) -> Meaning:
    """Return what a line means at a question, remembered."""
    return understand(text, question, lexicon())


def nothing_found() -> tuple[str, ...]:
    """Return the lines that end every test as not fitted, so that nothing is found."""
    talker, lines = Talker(), list[str]()

    def say(line: str) -> None:
        lines.append(line)
        talker.say(line)

    for section in shipped().sections:
        if section.phase is not Phase.TEST or section.role is not None or talker.place.startswith("not-found"):
            continue
        say(f"go to {section.call[0]}")
        while talker.session.safety.proved_at_s is None and talker.place.startswith("make-safe"):
            say(talker.safe_answer())
        say("not fitted")
    return tuple(lines)


def _tell(found: int, left: int, moves: int) -> None:
    sys.stderr.write(f"\r{found} states, {left} left to try, {moves} moves")
    sys.stderr.flush()


def main() -> int:
    """Walk and print; return the exit status."""
    began_s = time.monotonic()
    # What is believed orders the tests; safety hangs on none of it, and in each state it would cost.
    found = walk(replace(shipped(), circuit=None), understood, starts=(*STARTS, nothing_found()), progress=_tell)
    every_step = {(section.id, step.id) for section in shipped().sections for step in section.steps}
    sys.stdout.write(
        f"{found.states} states, {found.moves} moves, {len(found.steps_asked)} of {len(every_step)} steps, "
        f"{time.monotonic() - began_s:.0f} s\n"
    )
    if found.broken is not None:
        sys.stdout.write("\n".join((f"BROKEN: {found.broken}", *found.path)) + "\n")
        return 1
    never_asked = sorted(every_step - found.steps_asked)
    for section, step in never_asked:
        sys.stdout.write(f"never asked: {section}/{step}\n")
    return 1 if never_asked else 0


if __name__ == "__main__":
    sys.exit(main())
