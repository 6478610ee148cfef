"""What each event of a job is sealed with: a digest over it and everything before it in the job.

A seal tells a record that was damaged or changed by another hand from one that was not. It does not tell who did it:
whoever can write the file can seal it anew.
"""

import hashlib
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

FIRST: Final = b""
"""What stands before the first event of a job, and before the first one that is sealed at all."""


@dataclass(frozen=True, slots=True)
class SealedRow:
    """An event as it is stored; `seal` is None where it was written before events were sealed."""

    seq: int
    kind: str
    body: bytes
    seal: bytes | None


def seal(before: bytes, job: str, seq: int, kind: str, body: bytes) -> bytes:
    """Return the seal of an event, 32 bytes; `before` is the seal of the job's event before it, or FIRST."""
    digest = hashlib.sha256(before)
    for part in (job.encode(), str(seq).encode(), kind.encode(), body):
        # Each part with its length, so that no two events can be cut differently out of the same bytes.
        digest.update(len(part).to_bytes(8, "big"))
        digest.update(part)
    return digest.digest()


def broken(job: str, rows: Iterable[SealedRow]) -> tuple[int, ...]:
    """Return the numbers of the events whose seal does not fit them; the rows come in order.

    One that follows a missing event cannot be told and counts as whole.
    """
    numbers: list[int] = []
    before: bytes | None = FIRST
    last_seq = 0
    for row in rows:
        if row.seq != last_seq + 1:
            before = None
        if row.seal is not None and before is not None and seal(before, job, row.seq, row.kind, row.body) != row.seal:
            numbers.append(row.seq)
        before = FIRST if row.seal is None else row.seal
        last_seq = row.seq
    return tuple(numbers)
