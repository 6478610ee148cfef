"""A whole job in a language made for the test: every text of the procedure comes from the overlay."""

import itertools
import random
import re
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from tests.cli.voices import DEMO
from tests.languages.pseudo import TAG, marked, overlay_of, texts_of, unmarked, write
from tests.languages.sentences import sentences
from voicetech.authoring.including import read_written
from voicetech.authoring.lexicon_files import lexicon_for, load_lexicon, vocabularies_of
from voicetech.authoring.procedure_files import (
    checked_in_languages,
    load_procedure,
    load_shipped,
    load_written,
    shipped_names,
)
from voicetech.authoring.said import said_texts
from voicetech.authoring.shipped import shipped_folder
from voicetech.cli import app
from voicetech.dialogue.reply import LineKind, Reply
from voicetech.events import CauseShown, Channel, Event, JobClosed, JobOpened, StepEntered, decoded, encoded
from voicetech.job import Job, open_job
from voicetech.journal.place import journal_path
from voicetech.journal.store import open_journal
from voicetech.procedure import Instruct, Phase, Procedure
from voicetech.rehearsal.appliance_at_hand import AtHand
from voicetech.rehearsal.technician import answer
from voicetech.replaying import differences, turns_of
from voicetech.session import Session
from voicetech.turn import Turn

DRYER = "electric-dryer-no-heat"
YES, NO, DONE = "jés", "néj", "gótówé"
SAID_SO = {"yes": YES, "no": NO, "done": DONE}
REQUESTS = ("how", "why", "where", "status", "what do you suspect", "repeat")
MOST_ANSWERS = 300
SOME_WORDS = 3


@pytest.fixture(scope="module")
def file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of the shipped procedures, the dryer's with texts in the language, and words to answer it by."""
    folder = tmp_path_factory.mktemp("dialogs") / "dialogs"
    shutil.copytree(str(shipped_folder("dialogs")), folder)
    own = folder / f"{DRYER}.yaml"
    write(folder / TAG / own.name, overlay_of(own))
    grammar = folder / TAG / "grammar"
    write(grammar / "commands.yaml", {"done": {"say": [DONE]}})
    write(grammar / "answers.yaml", {"yes": {"say": [YES], "doubtful": []}, "no": {"say": [NO], "doubtful": []}})
    write(grammar / "danger.yaml", {"kinds": {"fire": {"anywhere": {"say": ["brannskár"]}}}})
    return own


@pytest.fixture(scope="module")
def procedure(file: Path) -> Procedure:
    return load_procedure(file, TAG)


def worked(job: Job, at_hand: AtHand, translate: bool = True) -> Iterator[tuple[str, Reply]]:
    """Give what a careful and curious technician types until the job is over, and each reply."""
    chance = random.Random(5)
    for number in range(MOST_ANSWERS):
        if job.closed:
            return
        if job.session.turn is Turn.ASKING:
            request = REQUESTS[number % len(REQUESTS)]
            yield request, job.typed(request)
        before = job.session
        words = answer(job.procedure, before, at_hand, chance)
        words = SAID_SO.get(words, words) if translate else words
        yield words, job.typed(words)
        at_hand = mended(job, before, at_hand)
    raise AssertionError("the job does not end")


def mended(job: Job, before: Session, at_hand: AtHand) -> AtHand:
    """Return the appliance without what a step of the repair has just mended."""
    if before.at is None or job.session.at == before.at:
        return at_hand
    step = job.procedure.step(before.at.section, before.at.step)
    repairs = job.procedure.section(before.at.section).phase is Phase.REPAIR
    return at_hand.without(before.proved) if repairs and isinstance(step, Instruct) else at_hand


def at_hand_of(procedure: Procedure, fault: str) -> AtHand:
    circuit = procedure.circuit
    assert circuit is not None
    return AtHand(procedure, circuit, (circuit.fault(fault),), dict(circuit.usual))


def journal_of(
    folder: Path, procedure: Procedure, fault: str, translate: bool
) -> tuple[list[Reply], tuple[Event, ...]]:
    """Work a job, and return all that was said and the record of it."""
    clock = itertools.count(1_000_000.0, 4.0)
    with open_journal(journal_path(folder)) as journal:
        job, first = open_job(procedure, journal, "one", Channel.CHAT, lambda: next(clock))
        said = [first, *(reply for _, reply in worked(job, at_hand_of(procedure, fault), translate))]
        return said, journal.events("one")


FAULT = "heater-open"


@pytest.fixture(scope="module")
def job(procedure: Procedure, tmp_path_factory: pytest.TempPathFactory) -> tuple[list[Reply], tuple[Event, ...]]:
    return journal_of(tmp_path_factory.mktemp("home"), procedure, FAULT, translate=True)


def test_the_job_goes_as_it_does_in_english(job: tuple[list[Reply], tuple[Event, ...]], tmp_path: Path) -> None:
    """The same questions, readings and causes in the same order, and it is mended and closed."""
    _, english = journal_of(tmp_path, load_shipped(DRYER), FAULT, translate=False)
    assert [type(event) for event in job[1]] == [type(event) for event in english]
    ways = [[(e.section, e.step) for e in events if isinstance(e, StepEntered)] for events in (job[1], english)]
    assert ways[0] == ways[1]
    assert [e.cause for e in job[1] if isinstance(e, CauseShown)] == [
        e.cause for e in english if isinstance(e, CauseShown)
    ]
    assert isinstance(job[1][-1], JobClosed) or any(isinstance(event, JobClosed) for event in job[1])


def test_every_prompt_is_the_overlays(job: tuple[list[Reply], tuple[Event, ...]]) -> None:
    """Word by word: all that the program says of its own before a prompt is that it is measured once more."""
    prompts = [line.show for reply in job[0] for line in reply.lines if line.kind is LineKind.PROMPT]
    assert len(prompts) > 60
    left = {" ".join(unmarked(prompt.removeprefix("Once more, to be sure. "))) for prompt in prompts}
    assert left == {""}


def test_no_text_of_the_procedure_is_said_in_english(job: tuple[list[Reply], tuple[Event, ...]], file: Path) -> None:
    english = said_texts(read_written(file)[0].table)
    whole = {text for value in english.values() for text in texts_of(value) if len(text.split()) > 1 and unmarked(text)}
    # Labels of readings are names on record. Why a reading passes is the program's own sentence, which may say them.
    whole -= {point.label for point in load_shipped(DRYER).points.values()}
    said = [line.show for reply in job[0] for line in reply.lines if line.kind is not LineKind.VERDICT]
    assert len(whole) > 500
    assert len(said) > 250
    assert [(text, line) for text in whole for line in said if text in line] == []


def test_what_is_english_is_in_the_list_of_the_program_s_sentences(job: tuple[list[Reply], tuple[Event, ...]]) -> None:
    """`sentences` misses none that this job says: whoever puts them into a language can go by it."""
    lines = {line.show for reply in job[0] for line in reply.lines if line.kind is not LineKind.SAID_BACK}
    english = {line for line in lines if len(unmarked(line)) >= SOME_WORDS}
    assert len(english) > 40
    assert {line for line in english if not any(each.pattern.search(line) for each in sentences())} == set()


def test_what_is_typed_is_understood_by_the_language_s_words(procedure: Procedure, tmp_path: Path) -> None:
    """Its own yes, no and done, and not the English ones that it replaces; what it has no words for is English."""
    assert vocabularies_of(procedure) == ("answers", "commands", "danger")
    clock = itertools.count(1.0, 4.0)
    with open_journal(journal_path(tmp_path)) as journal:
        job, _first = open_job(procedure, journal, "one", Channel.CHAT, lambda: next(clock))
        at = job.session.at
        job.typed("no")
        assert job.session.at == at, "English, and the language has a word for it"
        job.typed("repeat")
        assert job.typed("how").lines, "the language has no word for it, so that it is understood in English"
        job.typed(NO)
        assert job.session.at != at


@pytest.mark.parametrize("words", ["I smell gas", "smoke", "brannskár"])
def test_danger_is_understood_in_both(procedure: Procedure, tmp_path: Path, words: str) -> None:
    clock = itertools.count(1.0, 4.0)
    with open_journal(journal_path(tmp_path)) as journal:
        job, _ = open_job(procedure, journal, "one", Channel.CHAT, lambda: next(clock))
        stopped = job.typed(words)
        assert job.session.turn is Turn.STOPPED
        assert marked("Stopped.") in stopped.lines[0].show, "the script is the overlay's"


def test_english_is_heard_as_ever_beside_it(procedure: Procedure) -> None:
    assert lexicon_for(load_shipped(DRYER)) == load_lexicon()
    assert lexicon_for(procedure) != load_lexicon()


def test_the_record_keeps_the_language_and_goes_on_in_it(
    job: tuple[list[Reply], tuple[Event, ...]], procedure: Procedure
) -> None:
    opened, *_ = job[1]
    assert isinstance(opened, JobOpened)
    assert opened.language == TAG
    again = load_written(procedure.texts)
    assert (again, again.language) == (procedure, TAG), "made of the files that the record keeps"
    turns = turns_of(job[1], range(1, len(job[1]) + 1))
    assert set(differences(again, lexicon_for(again), turns)) == {None}


def test_a_record_from_before_is_english() -> None:
    kind, text = encoded(JobOpened("one", "range", 1, "d", Channel.CHAT, 1.0, TAG))
    old = decoded(kind, text.replace(f',"language":"{TAG}"', ""))
    assert isinstance(old, JobOpened)
    assert old.language == "en"


@pytest.mark.parametrize("name", shipped_names())
def test_every_shipped_procedure_can_be_put_into_a_language(name: str, tmp_path: Path) -> None:
    shutil.copytree(str(shipped_folder("dialogs")), tmp_path / "dialogs")
    own = tmp_path / "dialogs" / f"{name}.yaml"
    write(own.parent / TAG / own.name, overlay_of(own))
    assert checked_in_languages(own) == ()
    left = {text for value in said_texts(read_written(own, TAG)[0].table).values() for text in texts_of(value)}
    assert [text for text in left if unmarked(re.sub(r"\{[^}]*\}", "", text))] == []


def chat(*arguments: str, given: str = "") -> Result:
    return CliRunner().invoke(app, ["chat", "--plain", *arguments], input=given)


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("VOICETECH_HOME", str(tmp_path / "home"))
    return tmp_path / "home"


def test_chat_works_it_and_takes_it_up_again(home: Path, file: Path) -> None:
    begun = chat("--procedure", str(file), "--language", TAG, given=f"{NO}\n")
    assert begun.exit_code == 0, begun.output
    assert f"The procedure's texts are in {TAG}." in begun.output
    assert "its own words for answers, commands, danger, and by the English ones for the rest" in begun.output
    again = chat("--resume", "last", given=f"{YES}\n")
    assert f"The procedure's texts are in {TAG}." in again.output
    assert marked("stops midway") in again.output
    with open_journal(journal_path(home)) as journal:
        opened, *_ = journal.events(journal.jobs()[0].job)
    assert isinstance(opened, JobOpened)
    assert opened.language == TAG


def test_only_english_is_spoken_and_heard(home: Path, file: Path) -> None:
    chat("--procedure", str(file), "--language", TAG)
    with open_journal(journal_path(home)) as journal:
        job = journal.jobs()[0].job
        before = journal.events(job)
    refused = CliRunner().invoke(app, ["talk", "--silent", "--resume", job, "--audio", str(DEMO / "no.flac")])
    assert refused.exit_code == 1
    assert "only English is spoken and heard" in refused.output
    with open_journal(journal_path(home)) as journal:
        assert journal.events(job) == before


def test_a_language_that_is_not_there_is_told_with_those_that_are(home: Path, file: Path) -> None:
    refused = chat("--procedure", str(file), "--language", "de")
    assert refused.exit_code != 0
    assert f"is not there in 'de'; it is in en, {TAG}" in " ".join(refused.output.split())
    assert "it is in en." in " ".join(chat("--procedure", "range", "--language", "de").output.split())
    assert chat("--resume", "last", "--language", TAG).exit_code == 2
    assert not home.joinpath("journal.db").exists() or chat("--resume", "last").exit_code == 1
