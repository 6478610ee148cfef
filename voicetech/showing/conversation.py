"""The conversation so far, line by line: who said what, and what each line of the program is."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from voicetech.dialogue.reply import reply
from voicetech.events import Event, InputReceived, Replied
from voicetech.heard import PRESSED, TYPED
from voicetech.procedure import Procedure
from voicetech.session import OVERHEARD, Session, followed

NO_WORDS = "(no words)"


@dataclass(frozen=True, slots=True)
class LineShown:
    """One line: `who` is "technician", "overheard" or "program".

    `kind` is "typed", "pressed" or "spoken" of the technician's, and what a line of the program is (`LineKind`), ""
    where only its words are on record. `nr` is the number of its event and `part` tells lines of one event apart.
    """

    nr: int
    part: int
    who: str
    kind: str
    text: str
    at_s: float


class Conversation:
    """Follows the events of one job and tells each as lines.

    A record keeps the words of a reply and not what each of its lines is. That is found by wording the turn again;
    where today's program would word it otherwise the recorded words stand, without it.
    """

    def __init__(self, procedure: Procedure) -> None:
        self._procedure = procedure
        self._session: Session | None = None
        self._turn: list[Event] = []
        self._nr = 0

    @property
    def session(self) -> Session | None:
        """Return the job as it stands after what was told, None before its opening."""
        return self._session

    def told(self, events: Iterable[Event]) -> tuple[LineShown, ...]:
        """Return the lines of the events that follow those told before. Raises ValueError as `followed` does."""
        return tuple(line for event in events for line in self._lines(event))

    def _lines(self, event: Event) -> Iterator[LineShown]:
        self._nr += 1
        self._session = followed(self._session, event)
        at_s = self._session.last_at_s
        match event:
            case InputReceived(text=text, free_text=free, engine=engine, outcome=outcome):
                self._turn = [event]
                who = "overheard" if outcome in OVERHEARD else "technician"
                kind = {TYPED: "typed", PRESSED: "pressed"}.get(engine, "spoken")
                yield LineShown(self._nr, 0, who, kind, text or free or NO_WORDS, at_s)
            case Replied(show=show):
                said = reply(self._procedure, self._session, self._turn).lines if self._turn else ()
                kinds = [line.kind.value for line in said] if tuple(line.show for line in said) == show else []
                for part, text in enumerate(show):
                    yield LineShown(self._nr, part, "program", kinds[part] if kinds else "", text, at_s)
                self._turn = []
            case _:
                self._turn.append(event)
