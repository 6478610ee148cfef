"""`voicetech hear`: what the program hears in sound files, one by one or as JSON lines."""

import json
import sys
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Annotated, TextIO, assert_never

import typer

from voicetech.authoring.lexicon_files import load_lexicon
from voicetech.cli.hearing_check import check_folder, write_json, write_lost, write_tables
from voicetech.cli.joining import plain_errors
from voicetech.cli.options import refuse
from voicetech.cli.understand import as_record, as_sentence, typed_lines
from voicetech.hearing.answering import Answered, Hearing, told
from voicetech.hearing.ears import EARS, MODEL_HELP, open_ear
from voicetech.hearing.errors import SoundFileError
from voicetech.hearing.labelled_folder import BadLineError, asking_from, limits_from
from voicetech.language.meaning import Asking, Question
from voicetech.scoring import Limits
from voicetech.weigh import Accepted, AskWhich, Ignored, Outcome, SayAgain

_ASKINGS = ", ".join(Asking)
_EXAMPLE = '{"file": "answer.wav", "asking": "voltage"}'
_SHOWN = 3
Json = dict[str, object]


@dataclass(frozen=True, slots=True)
class Request:
    """One recording and the question it answers."""

    path: Path
    question: Question
    limits: Limits = None
    named: Json = field(default_factory=dict)


def hear(
    files: Annotated[
        list[Path] | None, typer.Argument(metavar="FILE…", help="Sound files: WAV, FLAC, OGG, any rate.")
    ] = None,
    asking: Annotated[
        str | None, typer.Option("--asking", metavar="KIND", help=f"What was asked: {_ASKINGS}; any unless told.")
    ] = None,
    ear: Annotated[
        str | None, typer.Option("--ear", metavar="NAME", help=f"The recogniser: {', '.join(EARS)}.")
    ] = None,
    model: Annotated[Path | None, typer.Option("--model", metavar="FOLDER", help=MODEL_HELP)] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Read and write one JSON object a line.")] = False,
    check: Annotated[
        Path | None,
        typer.Option(
            "--check",
            metavar="FOLDER",
            help="Measure how well a folder of recordings is heard; its manifest.jsonl says what was said in each.",
        ),
    ] = None,
) -> None:
    """Show what is heard in recordings, with what else it may have been.

    With --json and no files, each line of standard input is an object with file, and where it helps id, asking,
    limits (two numbers) and after (read-back). With --check a folder is measured: voicetech recordings makes one of
    your own jobs.

    Examples: voicetech hear --asking voltage answer.wav, voicetech hear --check my-voice
    """
    if check is not None:
        refuse({"--asking": asking}, "is for sound files; in a folder the manifest says what was asked: leave it out")
    elif not files:
        refuse(
            {"--asking": asking}, "is for sound files; in lines each says what was asked: leave it out, or name files"
        )
    with plain_errors():
        try:
            question = Question(asking_from(asking or "any"))
        except BadLineError as error:
            raise typer.BadParameter(str(error)) from None
        if check is not None:
            if files:
                raise typer.BadParameter("give sound files or --check, not both")
            _check(check, ear, model, as_json=as_json)
            return
        if not files and not as_json:
            raise typer.BadParameter("name at least one sound file, or give --json and lines on standard input")
        hearing = Hearing(open_ear(ear, model), load_lexicon())
        if files:
            requests = [Request(path, question, named={"file": str(path)}) for path in files]
            good = _each(requests, hearing, sys.stdout, as_json=as_json)
        else:
            good = answer_lines(typed_lines(), sys.stdout, hearing)
    if not good:
        raise typer.Exit(1)


def _check(folder: Path, ear: str | None, model: Path | None, *, as_json: bool) -> None:
    check = check_folder(folder, lambda: Hearing(open_ear(ear, model), load_lexicon()))
    if as_json:
        write_json(check)
    elif check.checked:
        write_tables(check)
    write_lost(check)
    if check.lost:
        raise typer.Exit(1)


def answer_lines(lines: Iterable[str], out: TextIO, hearing: Hearing) -> bool:
    """Write one JSON line for each line read, as soon as it is known; return whether all could be answered."""
    good = True
    for line in lines:
        if not line.strip():
            continue
        try:
            request = request_from(line)
        except BadLineError as error:
            good = False
            _write({**_id_of(line), "outcome": "again", "error": str(error)}, out)
            continue
        good &= _each([request], hearing, out, as_json=True)
    return good


def _each(requests: Iterable[Request], hearing: Hearing, out: TextIO, *, as_json: bool) -> bool:
    good = True
    for request in requests:
        try:
            answers = hearing.answer_file(request.path, request.question, request.limits)
        except SoundFileError as error:
            good = False
            if as_json:
                _write({**request.named, "outcome": "again", "error": str(error)}, out)
            else:
                sys.stderr.write(f"{error}\n")
            continue
        if as_json:
            _write({**request.named, **as_json_record(answers)}, out)
        else:
            out.write("\n".join(as_lines(request.path, answers)) + "\n")
            out.flush()
    return good


def request_from(line: str) -> Request:
    """Return the request in a JSON line. Raises BadLineError saying what to write instead."""
    try:
        raw = json.loads(line)
    except (ValueError, RecursionError) as error:
        raise BadLineError(f"not JSON ({error}); write {_EXAMPLE}") from None
    if not isinstance(raw, dict) or not isinstance(raw.get("file"), str) or "\0" in raw["file"]:
        raise BadLineError(f"no file; write {_EXAMPLE}")
    after = raw.get("after") == "read-back"
    question = Question(asking_from(raw.get("asking", "any")), after_read_back=after)
    named: Json = {"id": raw["id"]} if "id" in raw else {"file": raw["file"]}
    return Request(Path(raw["file"]), question, limits_from(raw.get("limits")), named)


def _id_of(line: str) -> Json:
    try:
        raw = json.loads(line)
    except (ValueError, RecursionError):
        return {}
    return {"id": raw["id"]} if isinstance(raw, dict) and "id" in raw else {}


def as_json_record(answers: list[Answered]) -> Json:
    """Return the first utterance that was not ignored, else the first, as plain values."""
    chosen = told(answers)
    if chosen is None:
        return {"outcome": "ignored", "text": "", "probability": 0.0, "decode_s": 0.0, "for_us": 0.0}
    heard, outcome = chosen.heard, chosen.outcome
    best = heard.alternatives[0].probability if heard.alternatives else 0.0
    record: Json = {"outcome": outcome_name(outcome), "text": heard.text, "probability": round(best, 4)}
    match outcome:
        case Accepted(meaning, text, probability):
            record = {**as_record(meaning), **record, "text": text, "probability": round(probability, 4)}
        case AskWhich(rivals, texts):
            record |= {"rivals": [as_record(rival) for rival in rivals], "texts": list(texts)}
        case SayAgain(why) | Ignored(why):
            record |= {"why": why}
        case _:
            assert_never(outcome)
    alternatives = [{"text": a.text, "probability": round(a.probability, 4)} for a in heard.alternatives]
    return record | {
        "alternatives": alternatives,
        "free_text": heard.free_text,
        "for_us": round(heard.for_us, 4),
        "decode_s": round(heard.decode_s, 4),
    }


def outcome_name(outcome: Outcome) -> str:
    """Return accepted, ask, again or ignored."""
    match outcome:
        case Accepted():
            return "accepted"
        case AskWhich():
            return "ask"
        case SayAgain():
            return "again"
        case Ignored():
            return "ignored"
        case _:
            assert_never(outcome)


def as_lines(path: Path, answers: list[Answered]) -> list[str]:
    """Return what was heard as lines for people, rivals included."""
    if not answers:
        return [f"{path}: nobody speaks"]
    lines = []
    for answer in answers:
        when = f" at {answer.utterance.start_s:.1f} s" if len(answers) > 1 else ""
        lines.append(f"{path}{when}: {_sentence(answer)}")
        for alternative, meaning in list(zip(answer.heard.alternatives, answer.meanings, strict=True))[:_SHOWN]:
            lines.append(f"  {alternative.probability:6.1%}  {alternative.text}  ({as_sentence(meaning)})")
    return lines


def _sentence(answer: Answered) -> str:
    match answer.outcome:
        case Accepted(meaning):
            return as_sentence(meaning)
        case AskWhich(_, texts):
            return f"asks: {texts[0]}, or {texts[1]}?"
        case SayAgain(why):
            return f"asks to say it again ({why})"
        case Ignored(why):
            return f"ignored ({why})"
        case _:
            assert_never(answer.outcome)


def _write(record: Json, out: TextIO) -> None:
    out.write(json.dumps(record, ensure_ascii=False) + "\n")
    out.flush()
