"""The exported grammars are those the program hears with, and others can read them.

After a change to the grammar write them again with

    VOICETECH_RENEW_GRAMMARS=1 python -m pytest tests/authoring/test_exported_grammars.py
"""

import os
from pathlib import Path
from xml.etree import ElementTree

import pytest

from voicetech.authoring.exported_grammars import EXPORTED, exported
from voicetech.authoring.lexicon_files import load_lexicon
from voicetech.language.grammar import compile_words, spoken_grammar
from voicetech.language.meaning import Asking, Question

FOLDER = Path(__file__).resolve().parents[2] / "grammars" / "exported"
RENEW = "VOICETECH_RENEW_GRAMMARS"
SRGS = "{http://www.w3.org/2001/06/grammar}"


def test_the_files_are_in_step_with_the_grammar() -> None:
    files = exported(load_lexicon())
    if os.environ.get(RENEW):
        FOLDER.mkdir(exist_ok=True)
        for path in FOLDER.iterdir():
            path.unlink()
        for name, text in files.items():
            (FOLDER / name).write_text(text, encoding="utf-8")
    assert {path.name for path in FOLDER.iterdir()} == set(files)
    stale = [name for name, text in files.items() if (FOLDER / name).read_text(encoding="utf-8") != text]
    assert not stale, f"write {', '.join(stale)} again: {RENEW}=1 python -m pytest {Path(__file__).name}"


@pytest.mark.parametrize("asking", [Asking.RESISTANCE, Asking.CURRENT, Asking.POWER, Asking.CONTINUITY])
def test_one_file_serves_all_questions_for_a_reading(asking: Asking) -> None:
    lexicon = load_lexicon()
    volts = compile_words(spoken_grammar(EXPORTED["measurement"], lexicon))
    assert compile_words(spoken_grammar(Question(asking), lexicon)) == volts


@pytest.mark.parametrize("name", EXPORTED)
def test_every_reference_of_the_xml_has_its_rule(name: str) -> None:
    root = ElementTree.parse(FOLDER / f"{name}.grxml").getroot()
    rules = {rule.get("id") for rule in root.iter(f"{SRGS}rule")}
    assert root.get("root") in rules
    assert {ref.get("uri", "").removeprefix("#") for ref in root.iter(f"{SRGS}ruleref")} <= rules


@pytest.mark.parametrize("name", EXPORTED)
def test_another_reader_of_jsgf_takes_it(name: str) -> None:
    pocketsphinx = pytest.importorskip("pocketsphinx", reason="no wheel of pocketsphinx for this Python")
    text = (FOLDER / f"{name}.jsgf").read_text(encoding="utf-8")
    defined = [line.removeprefix("public ").partition(" =")[0] for line in text.splitlines() if " = " in line]
    assert len(set(defined)) == len(defined)
    grammar = pocketsphinx.Jsgf(str(FOLDER / f"{name}.jsgf"))
    rule = name.replace("-", "_")
    assert grammar.get_name() == rule
    assert grammar.get_rule(f"{rule}.{rule}") is not None
