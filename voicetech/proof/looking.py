"""A session that tells whether anybody looked at the answer that was read back.

Who does not look at it cannot go by it, and does the same whatever it is.
"""

from typing import Final

from voicetech.events import AnswerProposed, RivalsOffered
from voicetech.session import Session

_LOOKS: Final = "looks"


class Looked(Session):
    """A session whose pending answer is read through a property, which counts; what follows from it counts too."""

    @property
    def pending(self) -> AnswerProposed | RivalsOffered | None:
        """Return the answer that waits for its yes, and count the look."""
        self.__dict__.get(_LOOKS, []).append(True)
        found: AnswerProposed | RivalsOffered | None = self.__dict__["pending"]
        return found

    @pending.setter
    def pending(self, pending: AnswerProposed | RivalsOffered | None) -> None:
        # Only for a copy that is made field by field; the copier has looked at the field.
        self.__dict__["pending"] = pending

    @property
    def looked_at(self) -> bool:
        """Return whether the pending answer of this session, or of one that came of it, was looked at."""
        return bool(self.__dict__[_LOOKS])


def counting(session: Session) -> Looked:
    """Return the same session, counting."""
    made = object.__new__(Looked)
    made.__dict__.update(session.__dict__)
    made.__dict__[_LOOKS] = []
    return made


def plain(session: Session) -> Session:
    """Return the same session, no longer counting."""
    if type(session) is Session:
        return session
    made = object.__new__(Session)
    made.__dict__.update(session.__dict__)
    made.__dict__.pop(_LOOKS, None)
    return made
