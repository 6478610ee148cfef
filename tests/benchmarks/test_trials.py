"""Which recordings become which trials."""

import json
from decimal import Decimal
from pathlib import Path

import pytest

from tests.benchmarks.trials import NoRecordingsError, Trial, chosen, noise_files, read_trials, who
from tests.hearing.recordings import DIGITS
from voicetech.language.meaning import Asking
from voicetech.scoring import MeaningExpected, NothingExpected, WordsExpected
from voicetech.units import Unit

Row = dict[str, object]


def folder(tmp_path: Path, **sets: list[Row]) -> Path:
    for name, rows in sets.items():
        (tmp_path / name).mkdir()
        lines = [json.dumps({"file": f"{place}.flac", **row}) for place, row in enumerate(rows)]
        (tmp_path / name / "manifest.jsonl").write_text("\n".join(lines) + "\n", encoding="utf-8")
    return tmp_path


def only(tmp_path: Path, name: str, **row: object) -> Trial | None:
    found = read_trials(folder(tmp_path, **{name: [{"speaker": "ann", **row}]}))
    return found[0] if found else None


@pytest.mark.parametrize(
    ("source", "row", "group", "asking"),
    [
        ("an4", {"transcript": "fifty six oh five"}, "numbers", Asking.SERIAL),
        ("an4", {"transcript": "c q q f seven"}, "letters", Asking.SERIAL),
        ("asterisk_prompts", {"transcript": "bravo", "category": "phonetic_letter"}, "letters", Asking.SERIAL),
        ("asterisk_prompts", {"transcript": "call forwarding", "category": "prompt"}, "strangers", None),
        ("fsdd", {"transcript": "seven"}, "digits", Asking.RESISTANCE),
        ("speech_commands", {"transcript": "seven", "label_check": "confirmed"}, "digits", Asking.RESISTANCE),
        ("speech_commands", {"transcript": "seven", "label_check": "unconfirmed"}, "doubtful", Asking.RESISTANCE),
        ("speech_commands", {"transcript": "yes"}, "answers", Asking.YES_NO),
        ("speech_commands", {"transcript": "stop", "label_check": "unconfirmed"}, "doubtful", Asking.VOLTAGE),
        ("speech_commands", {"transcript": "bird"}, "strangers", None),
        ("noise", {"transcript": "", "speaker": None}, "strangers", None),
        ("order_sentences", {"transcript": None}, "strangers", None),
    ],
)
def test_groups(tmp_path: Path, source: str, row: Row, group: str, asking: Asking | None) -> None:
    trial = only(tmp_path, source, **row)
    assert trial is not None
    assert trial.group == group
    assert trial.source == source
    if asking is not None:
        assert trial.question.asking is asking
    else:
        assert trial.expected == NothingExpected()


@pytest.mark.parametrize(
    ("source", "row"),
    [
        ("an4", {"transcript": "enter zero"}),
        ("sphinx_tests", {"transcript": "ten of clubs"}),
        ("speech_commands", {"transcript": "left"}),
        ("home_commands", {"transcript": "pause music"}),
        ("asterisk_prompts", {"transcript": "forty", "category": "number"}),
    ],
)
def test_what_may_be_an_answer_and_is_not_known_to_be_one_is_left_out(tmp_path: Path, source: str, row: Row) -> None:
    assert only(tmp_path, source, **row) is None


def test_what_is_right(tmp_path: Path) -> None:
    words: list[Row] = [{"transcript": word, "speaker": "b"} for word in ("nine", "yes", "stop")]
    numbers: list[Row] = [{"transcript": "fifty six", "speaker": "a"}]
    number, digit, yes, stop = read_trials(folder(tmp_path, an4=numbers, speech_commands=words))
    assert number.expected == WordsExpected("fifty six")
    assert number.exact == ("fifty", "six")
    assert digit.expected == MeaningExpected("reading", Decimal(9), Unit.OHM)
    assert yes.expected == MeaningExpected("yes")
    assert stop.expected == MeaningExpected("command", command="stop")
    assert stop.exact == ()


def test_trade_phrases_bring_their_question_limits_and_answer(tmp_path: Path) -> None:
    row = {"transcript": "no one ten", "asking": "voltage", "limits": [108, 132], "after": "read-back"}
    said = {"kind": "correction", "value": 110, "unit": "V", "command": None}
    stop = {"transcript": "i smell smoke", "asking": "any", "expected": {"kind": "command", "command": "emergency"}}
    made = folder(
        tmp_path, trade_phrases=[{"speaker": "flite-slt", "expected": said, **row}, {"speaker": "flite-rms", **stop}]
    )
    trade, danger = read_trials(made)
    assert (trade.group, danger.group) == ("trade", "danger")
    assert trade.question.after_read_back
    assert trade.expected == MeaningExpected("correction", Decimal(110), Unit.VOLT)
    assert trade.limits == (Decimal(108), Decimal(132))
    assert who([trade, danger]) == "2 synthetic voices (trade_phrases)"


def test_readings_are_spliced_from_one_persons_digits(tmp_path: Path) -> None:
    rows: list[Row] = [{"transcript": word, "speaker": name} for name in "ab" for word in DIGITS if word != "oh"]
    found = [trial for trial in read_trials(folder(tmp_path, fsdd=rows)) if trial.group == "spliced"]
    assert len(found) == 50
    for trial in found:
        first = 0 if trial.speaker == "a" else 10
        said = "".join(str(int(path.stem) - first) for path in trial.sounds)
        assert isinstance(trial.expected, MeaningExpected)
        assert trial.expected.value == Decimal(said)
        assert trial.limits is not None
        assert len(trial.sounds) == 3
    assert found == [trial for trial in read_trials(tmp_path) if trial.group == "spliced"], "the same in every run"


def test_every_so_many_of_each_group(tmp_path: Path) -> None:
    rows: list[Row] = [{"transcript": "bird", "speaker": str(n)} for n in range(5)]
    rows += [{"transcript": "yes", "speaker": str(n)} for n in range(4)]
    trials = read_trials(folder(tmp_path, speech_commands=rows))
    assert [(trial.group, trial.speaker) for trial in chosen(trials, 3, [])] == [
        ("answers", "0"),
        ("answers", "3"),
        ("strangers", "0"),
        ("strangers", "3"),
    ]
    assert {trial.group for trial in chosen(trials, 1, ["answers"])} == {"answers"}


def test_who_speaks(tmp_path: Path) -> None:
    names = ("ann", "ann", "bob", "unknown (several)")
    rows: list[Row] = [{"transcript": "bird", "speaker": name} for name in names]
    found = read_trials(folder(tmp_path, speech_commands=rows, noise=[{"transcript": "", "speaker": None}]))
    assert who(found) == "2 people and some unnamed (noise, speech_commands)"
    assert who(found[:1]) == "nobody (noise)"
    assert [path.name for path in noise_files(tmp_path)] == ["0.flac"]


def test_no_recordings(tmp_path: Path) -> None:
    with pytest.raises(NoRecordingsError, match="VOICETECH_SPEECH"):
        read_trials(tmp_path / "nowhere")
    with pytest.raises(NoRecordingsError, match="holds no recordings"):
        read_trials(tmp_path)
