"""What the page sends: a closed set of messages, checked before anything is done with them."""

import json
import re
from dataclasses import dataclass
from typing import Annotated, Any, Final, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, TypeAdapter, ValidationError

LONGEST_LINE: Final = 4_000
LONGEST_MESSAGE: Final = 16 * 1024
"""Bytes of one message of text."""
_HALF: Final = re.compile("[\ud800-\udfff]")
SLOWEST_HZ: Final = 8_000
FASTEST_HZ: Final = 192_000


class BadMessageError(Exception):
    """A message of the page cannot be understood; the message says what was wrong with it."""


def _whole(text: object) -> object:
    """Return a text with a mark in the place of halves of letters, which a browser sends and nothing can keep."""
    return _HALF.sub("\N{REPLACEMENT CHARACTER}", text) if isinstance(text, str) else text


Text = Annotated[str, BeforeValidator(_whole)]


class _Message(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, strict=True)


class Answer(_Message):
    """A typed line, or an answer that was pressed; `open` names what stood open on the page."""

    kind: Literal["answer"]
    text: Annotated[Text, Field(min_length=1, max_length=LONGEST_LINE)]
    open: Annotated[Text, Field(max_length=40)] = ""


class Stop(_Message):
    """The big stop."""

    kind: Literal["stop"]


class TakeUp(_Message):
    """The job is gone on with on this page."""

    kind: Literal["take-up"]


class Listen(_Message):
    """The microphone of this tab follows, at `rate_hz` samples a second.

    `keep` says whether the sound may be kept, None where that was answered before. With a `headset` the microphone does
    not hear the prompts; with `press` only what is said after a press is an answer.
    """

    kind: Literal["listen"]
    rate_hz: Annotated[int, Field(ge=SLOWEST_HZ, le=FASTEST_HZ)]
    keep: bool | None = None
    headset: bool = False
    press: bool = False


class Press(_Message):
    """What is said next is an answer."""

    kind: Literal["press"]


class Quiet(_Message):
    """The microphone of this tab is off."""

    kind: Literal["quiet"]


class Aloud(_Message):
    """Prompts are spoken in this tab, or no more."""

    kind: Literal["aloud"]
    on: bool


class Said(_Message):
    """A sound was played to its end; `failed` says why it was not."""

    kind: Literal["said"]
    nr: Annotated[int, Field(ge=0, lt=2**31)]
    failed: Annotated[Text, Field(max_length=400)] = ""


Message = Answer | Stop | TakeUp | Listen | Press | Quiet | Aloud | Said
_MESSAGES: Final[TypeAdapter[Message]] = TypeAdapter(Annotated[Message, Field(discriminator="kind")])


def message_from(text: str) -> Message:
    """Return the message that this text is. Raises BadMessageError."""
    if len(text.encode(errors="surrogatepass")) > LONGEST_MESSAGE:
        raise BadMessageError(f"A message may have {LONGEST_MESSAGE} bytes. Shorten it.")
    try:
        return _MESSAGES.validate_python(json.loads(text))
    except (ValueError, RecursionError) as error:
        raise BadMessageError(f"The page sent what is no message of it ({_why(error)}). Reload the page.") from None


def _why(error: ValueError | RecursionError) -> str:
    if isinstance(error, ValidationError):
        first = error.errors()[0]
        where = ".".join(map(str, first["loc"]))
        return f"{where}: {first['msg']}" if where else first["msg"]
    return "no JSON"


@dataclass(frozen=True, slots=True)
class ToPage:
    """A message to the page: an object of JSON, and the sound that follows it, if any."""

    told: dict[str, Any]
    sound: bytes | None = None

    def text(self) -> str:
        """Return the object as it is sent."""
        return json.dumps(self.told, ensure_ascii=False, separators=(",", ":"))
