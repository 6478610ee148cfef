"""What prompts and reports fill in of the causes that were proved."""

import string
from collections.abc import Callable, Sequence

from voicetech.procedure import Procedure


def words_found(procedure: Procedure, proved: Sequence[str], filled: Callable[[str], str]) -> dict[str, str]:
    """Return the words for each placeholder of the diagnosis, by its name; none where nothing is proved.

    `filled` fills recorded answers into a cause's words. The first cause is `cause`, what was found beside it is
    `cause_too`; `why` is asked of the last one, which the others came of.
    """
    causes = [procedure.causes[each] for each in proved if each in procedure.causes]
    if not causes:
        return {}
    mended_by = dict.fromkeys(cause.remedy for cause in causes)
    remedy, *others = (procedure.remedies[each].say if each in procedure.remedies else each for each in mended_by)
    says = [filled(cause.say).rstrip(".") for cause in causes]
    parts = dict.fromkeys(part for cause in causes for part in cause.parts)
    needed = [part for part in parts if part != "none"] or ["none"]
    return {
        "cause": says[0],
        "cause_too": ", and ".join(says[1:]),
        "why": filled(causes[-1].why_failed),
        "remedy": filled(remedy),
        "remedy_too": filled(" ".join(others)),
        "parts": ", ".join(needed),
    }


def without_answer(says: str) -> str:
    """Return a cause's words without an end that a recorded answer fills: so it is called unless it is proved.

    The setting that keeps it off is told of one that does, not of one that might have been and of the answer "none".
    """
    begins, colon, end = says.partition(": ")
    filled_in = any(name is not None for _, name, _, _ in string.Formatter().parse(end))
    return begins if colon and filled_in else says
