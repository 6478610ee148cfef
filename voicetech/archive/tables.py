"""The tables of an archive, as SQLAlchemy Core sees them; `layouts` makes them.

`KEPT` is what laptops hand in: events as they were written, and nothing can replace it. `SUMMARIES` is made of that,
or of a laptop's own record, and is made anew whenever its layout changes. The words of a job are looked up in
`words`, which each database keeps in its own way (`word_index`).
"""

from sqlalchemy import Column, Double, Integer, LargeBinary, MetaData, Table, Text

BASE = MetaData()
KEPT = MetaData()
SUMMARIES = MetaData()

layout = Table("layout", BASE, Column("name", Text, primary_key=True), Column("version", Integer, nullable=False))

record = Table(
    "record",
    BASE,
    Column("id", Text, primary_key=True),
    Column("name", Text, nullable=False),
    Column("event_nr", Integer, nullable=False),
    Column("mark_nr", Integer, nullable=False),
    Column("pushed_at_s", Double),
)
"""A laptop's record: what its owner calls it, and how far the summaries have followed it."""

pending = Table("pending", BASE, Column("record", Text, primary_key=True), Column("job", Text, primary_key=True))
"""Jobs whose summary is still to be made."""

event = Table(
    "event",
    KEPT,
    Column("record", Text, primary_key=True),
    Column("job", Text, primary_key=True),
    Column("seq", Integer, primary_key=True),
    Column("kind", Text, nullable=False),
    Column("at_s", Double),
    Column("body", LargeBinary, nullable=False),
    Column("seal", LargeBinary),
)
mark = Table(
    "mark",
    KEPT,
    Column("record", Text, primary_key=True),
    Column("job", Text, primary_key=True),
    Column("nr", Integer, primary_key=True),
    Column("kind", Text, nullable=False),
    Column("body", Text, nullable=False),
)
written = Table(
    "written",
    KEPT,
    Column("digest", Text, primary_key=True),
    Column("procedure", Text, nullable=False),
    Column("files", Text, nullable=False),
)
sound = Table(
    "sound",
    KEPT,
    Column("record", Text, primary_key=True),
    Column("job", Text, primary_key=True),
    Column("sha256", Text, primary_key=True),
    Column("flac", LargeBinary, nullable=False),
)
sounded = Table(
    "sounded",
    KEPT,
    Column("record", Text, primary_key=True),
    Column("job", Text, primary_key=True),
    Column("events", Integer, nullable=False),
)
"""Jobs all of whose sounds are here, as far as so many of their events go."""

gone = Table(
    "gone",
    KEPT,
    Column("record", Text, primary_key=True),
    Column("job", Text, primary_key=True),
    Column("at_s", Double, nullable=False),
)
"""Jobs that were deleted, so that no older copy of their record brings them back."""

job = Table(
    "job",
    SUMMARIES,
    Column("nr", Integer, primary_key=True),
    Column("record", Text, nullable=False),
    Column("job", Text, nullable=False),
    Column("procedure", Text),
    Column("revision", Integer),
    Column("digest", Text),
    Column("model", Text),
    Column("model_words", Text, nullable=False),
    Column("serial", Text),
    Column("opened_at_s", Double),
    Column("last_at_s", Double),
    Column("from_s", Double, nullable=False),
    Column("to_s", Double, nullable=False),
    Column("worked_s", Integer, nullable=False),
    Column("closed", Integer, nullable=False),
    Column("events", Integer, nullable=False),
    Column("unreadable", Integer, nullable=False),
    Column("proofs_of_dead", Integer, nullable=False),
    Column("tests", Integer),
)
"""`from_s` and `to_s` are when it was opened and worked on last, 0 where the record does not say."""

term = Table(
    "term",
    SUMMARIES,
    Column("id", Integer, primary_key=True),
    Column("kind", Text, nullable=False),
    Column("name", Text, nullable=False),
    Column("says", Text, nullable=False),
)
"""A name jobs have in common: an appliance, a complaint, an outcome, a fault, a part.

`says` is what its procedure calls it; where two procedures, or two revisions, call one name otherwise, there are two.
"""

job_term = Table(
    "job_term",
    SUMMARIES,
    Column("term", Integer, primary_key=True),
    Column("nr", Integer, primary_key=True),
    Column("place", Integer, nullable=False),
    Column("state", Text, nullable=False),
)
"""`place` is the order of the names of a kind in their job, `state` what the record says of a fault."""

step = Table(
    "step",
    SUMMARIES,
    Column("id", Integer, primary_key=True),
    Column("procedure", Text, nullable=False),
    Column("section", Text, nullable=False),
    Column("step", Text, nullable=False),
)
"""A prompt's step, or a section where `step` is empty."""

section_time = Table(
    "section_time",
    SUMMARIES,
    Column("nr", Integer, primary_key=True),
    Column("step", Integer, primary_key=True),
    Column("visits", Integer, nullable=False),
    Column("seconds", Integer, nullable=False),
)
prompt_count = Table(
    "prompt_count",
    SUMMARIES,
    Column("nr", Integer, primary_key=True),
    Column("step", Integer, primary_key=True),
    Column("asked", Integer, nullable=False),
    Column("answered", Integer, nullable=False),
    Column("first", Integer, nullable=False),
    Column("repeated", Integer, nullable=False),
    Column("again", Integer, nullable=False),
    Column("which", Integer, nullable=False),
    Column("corrected", Integer, nullable=False),
    Column("denied", Integer, nullable=False),
    Column("misheard", Integer, nullable=False),
)
lines = Table("lines", SUMMARIES, Column("nr", Integer, primary_key=True), Column("lines", LargeBinary, nullable=False))
"""What was said in a job, compressed: read only for the jobs that are shown."""

wording = Table("wording", SUMMARIES, Column("digest", Text, primary_key=True), Column("words", Text, nullable=False))
"""What summaries borrow of a procedure, by the digest of its text."""
