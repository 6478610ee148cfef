"""Files that people write, with damage that no hand makes on purpose: each mistake is told, none is a traceback."""

import json
import shutil
from collections.abc import Callable
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.authoring.test_bad_files import BAD
from tests.authoring.test_edits import texts
from tests.faults.bounds import bounded, message_of
from tests.languages.pseudo import TAG, overlay_of, write
from voicetech.authoring.findings import ProcedureFindings
from voicetech.authoring.headings import heading_in
from voicetech.authoring.lexicon_files import VOCABULARIES, load_lexicon
from voicetech.authoring.procedure_files import checked, checked_in_languages, load_procedure
from voicetech.authoring.shipped import shipped_folder
from voicetech.hearing.errors import HearingError
from voicetech.hearing.labelled_folder import LabelledFolderError, read_labelled_folder
from voicetech.hearing.spellings import load_spellings
from voicetech.language.lexicon import LexiconError
from voicetech.marks_json import BadMarkError, marks_file_from
from voicetech.reports.facts.part_book_file import PartBookError, load_part_book

MORSELS = st.sampled_from(
    [b"\xff", b"\xc3", b"\x00", b"\x08",
     b"\t", b"\r", b"\n\n", b"\xef\xbb\xbf", "\u2028".encode(), b": ", b"- ", b"[", b"]", b"{",
     b"}", b"&a ", b"*a", b"!!int ", b"!x ", b"? ", b"| ", b"> ", b"'", b'"', b"#", b"%YAML 9.9\n", b"---\n", b"...\n",
     b"<<: ", b"<block>", b"{cause}", b"~", b"null", b"1e999", b"-", b",,,", b'"\\x', b"\\ud800", b"=1+1", b"@", b"`",
     b"9" * 5000]
)  # fmt: skip
EDIT = st.tuples(
    st.sampled_from(["put in", "take out", "double", "swap", "flip"]),
    st.integers(0, 2**20),
    st.integers(1, 60),
    MORSELS,
)
EDITS = st.lists(EDIT, min_size=1, max_size=3)

Edits = list[tuple[str, int, int, bytes]]


def damaged(content: bytes, edits: Edits) -> bytes:
    """Return the bytes with pieces put in, taken out, doubled or exchanged, and bits turned."""
    made = content
    for kind, where, length, morsel in edits:
        at = where % (len(made) + 1)
        piece = made[at : at + length]
        match kind:
            case "put in":
                made = made[:at] + morsel + made[at:]
            case "take out":
                made = made[:at] + made[at + length :]
            case "double":
                made = made[:at] + piece * 2 + made[at + length :]
            case "swap":
                made = made[:at] + made[at + length : at + 2 * length] + piece + made[at + 2 * length :]
            case _ if piece:
                made = made[:at] + bytes([piece[0] ^ 1 << length % 8]) + made[at + 1 :]
            case _:
                pass
    return made


@cache
def own_procedure() -> bytes:
    return ("\n".join(texts()) + "\n").encode()


@cache
def of_another_language() -> bytes:
    with TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "edited.yaml").write_bytes(own_procedure())
        write(folder / "said.yaml", overlay_of(folder / "edited.yaml"))
        return (folder / "said.yaml").read_bytes()


@bounded(50)
@given(EDITS)
def test_a_procedure_is_taken_or_its_mistakes_are_told(tmp_path: Path, edits: Edits) -> None:
    file = tmp_path / "edited.yaml"
    file.write_bytes(damaged(own_procedure(), edits))
    heading_in(file)
    procedure, findings = checked(file)
    for finding in findings:
        assert finding.line >= 1
        assert finding.column >= 1
        assert finding.message.strip()
    if not message_of(ProcedureFindings, lambda: load_procedure(file)):
        assert load_procedure(file) == procedure


@bounded(25)
@given(EDITS)
def test_a_procedure_in_another_language_is_taken_or_its_mistakes_are_told(tmp_path: Path, edits: Edits) -> None:
    (tmp_path / TAG).mkdir(exist_ok=True)
    (tmp_path / "edited.yaml").write_bytes(own_procedure())
    (tmp_path / TAG / "edited.yaml").write_bytes(damaged(of_another_language(), edits))
    for finding in checked_in_languages(tmp_path / "edited.yaml"):
        assert finding.message.strip()
    message_of(ProcedureFindings, lambda: load_procedure(tmp_path / "edited.yaml", TAG))


@bounded(30)
@given(EDITS)
def test_a_shared_part_is_taken_or_its_mistakes_are_told(tmp_path: Path, edits: Edits) -> None:
    (tmp_path / "shared").mkdir(exist_ok=True)
    (tmp_path / "shared" / "base.yaml").write_bytes(damaged((BAD / "shared" / "base.yaml").read_bytes(), edits))
    file = tmp_path / "edited.yaml"
    file.write_text("procedure: edited\ninclude: [base.yaml]\n", encoding="utf-8")
    for finding in checked(file)[1]:
        assert finding.message.strip()


@bounded(20)
@given(st.sampled_from(VOCABULARIES), EDITS)
def test_a_vocabulary_is_taken_or_told_with_its_file(tmp_path: Path, name: str, edits: Edits) -> None:
    grammars = tmp_path / "grammars"
    if not grammars.exists():
        shutil.copytree(shipped_folder("grammars"), grammars)
    file = grammars / f"{name}.yaml"
    whole = file.read_bytes()
    file.write_bytes(damaged(whole, edits))
    try:
        said = message_of(LexiconError, lambda: load_lexicon(grammars))
    finally:
        file.write_bytes(whole)
    assert not said or name in said


@bounded(60)
@given(EDITS)
def test_spellings_are_taken_or_told(tmp_path: Path, edits: Edits) -> None:
    file = tmp_path / "spellings.yaml"
    file.write_bytes(damaged((shipped_folder("grammars") / "spellings.yaml").read_bytes(), edits))
    said = message_of(HearingError, lambda: load_spellings(file))
    assert not said or "spellings" in said


BOOK = b"model,function,number,name,price\nRX-12*,bake element,PN-100,Bake element,39.00\n*,oven sensor,PN-7,Sensor,\n"
MARKS = json.dumps(
    {"voicetech": "marks", "version": 1, "record": "0" * 32, "job": "one", "reviewer": "Ann", "marks": [
        {"kind": "misheard", "input": 4, "said": "two forty", "at": "2026-11-01T10:00:00+00:00"}]}
).encode()  # fmt: skip
MANIFEST = (
    b'{"file": "one.wav", "asking": "voltage", "expected": {"value": 240, "unit": "volt"}, "limits": [1, 2]}\n' * 3
)


def _of_book(file: Path) -> None:
    load_part_book(file)


def _of_marks(file: Path) -> None:
    marks_file_from(file.read_bytes().decode(errors="replace"))


@pytest.mark.parametrize(
    ("content", "read", "told"),
    [(BOOK, _of_book, PartBookError), (MARKS, _of_marks, BadMarkError)],
    ids=["part book", "marks"],
)
@bounded(120)
@given(edits=EDITS)
def test_what_is_brought_is_taken_or_told(
    tmp_path: Path, content: bytes, read: Callable[[Path], None], told: type[Exception], edits: Edits
) -> None:
    file = tmp_path / "brought"
    file.write_bytes(damaged(content, edits))
    message_of(told, lambda: read(file))


@bounded(80)
@given(EDITS)
def test_a_folder_of_recordings_is_taken_or_told(tmp_path: Path, edits: Edits) -> None:
    (tmp_path / "one.wav").write_bytes(b"")
    (tmp_path / "manifest.jsonl").write_bytes(damaged(MANIFEST, edits))
    message_of(LabelledFolderError, lambda: read_labelled_folder(tmp_path))
