"""The question which appliance it is, as a procedure of its own: asked, heard and answered like any other question.

Each appliance is called by `call`, or else by the last words of `appliance` ("dryer", "clothes dryer"). Words that
several have in common lead to a second question, between those alone. What is heard is read back and confirmed, because
a whole job hangs on it.
"""

import re
from collections.abc import Iterable, Mapping
from itertools import groupby
from pathlib import Path
from typing import Final

from voicetech.authoring.building import built
from voicetech.authoring.filling import Parameters, filled
from voicetech.authoring.findings import Notes, Place
from voicetech.authoring.headings import Heading
from voicetech.authoring.including import INCLUDED_FROM, WrittenProcedure
from voicetech.authoring.places import Written, read_file
from voicetech.authoring.shipped import shipped_folder
from voicetech.language.number_words import DIGITS
from voicetech.procedure import Procedure

FIELD: Final = "appliance"
"""The field that the answer is recorded under."""
CONFIRMED: Final = "confirmed"
"""The field of the answer to what was read back."""
AFTER: Final = "after"
"""The step that stands open once it is answered."""
_OFTEN_FIRST: Final = "electric"
"""Every appliance here is; said or not, it tells none from another."""
_TELLING_NOTHING: Final = frozenset({
    "a", "an", "and", "at", "customer", "for", "has", "have", "her", "his", "i", "in", "is", "it", "its", "job",
    "kind", "me", "my", "of", "on", "one", "our", "please", "some", "that", "the", "their", "there", "this", "to",
    "type", "want", "we", "with"
})  # fmt: skip
"""Words that somebody puts around a name."""
_DANGER: Final = "danger.yaml"
_UNSAID: Final = "the emergency number"
_BETWEEN: Final = "+"


_WHICH: Final = "which"


def which_appliance(offered: Mapping[str, Heading], confirmed: bool) -> Procedure:
    """Return the procedure whose one question is answered with a name of these; `FIELD` holds it.

    Where it is to be `confirmed`, the name is read back and asked about, and a no asks anew.
    """
    notes = Notes(top=Place(Path(FIELD), 1, 1))
    steps: dict[str, dict[str, Written]] = {_WHICH: _question(offered, _answers(offered))}
    for names in _shared(offered):
        these = {name: offered[name] for name in names.split(_BETWEEN)}
        apart = _question(these, {name: hear for name, hear in _answers(offered).items() if name in these})
        steps[f"{_WHICH}-{names}"] = {**apart, "when": {FIELD: [names]}}
    for name, heading in offered.items() if confirmed else ():
        steps[f"right-{name}"] = {**_read_back(heading), "when": {FIELD: [name]}}
    # So that the question is not the last of its job: nothing comes after it.
    steps[AFTER] = {"instruct": "Say done.", "outcomes": {"done": {}}}
    numbers = (heading.emergency_number for heading in offered.values())
    table: dict[str, Written] = {
        "procedure": FIELD,
        "title": "Which appliance",
        "revision": "1",
        "appliance": FIELD,
        "settings": {"emergency_number": next(filter(None, numbers), _UNSAID)},
        "sections": {FIELD: {"title": FIELD, "phase": "intake", "steps": {**steps}}},
        "danger_scripts": _danger_scripts(notes),
    }
    return built(WrittenProcedure(table, ()), notes)


def meant(offered: Mapping[str, Heading], words: str) -> tuple[str, ...]:
    """Return the names of those that somebody's own words speak of: "dryer", "the oven in the wall".

    All of the words have to stand in the name, the title or what the appliance is called, but for those that tell
    nothing apart.
    """
    wanted = _words(words) - _TELLING_NOTHING
    return tuple(name for name, heading in offered.items() if wanted and wanted <= _known_by(name, heading))


def _known_by(name: str, heading: Heading) -> frozenset[str]:
    return _words(" ".join((name, heading.title, heading.appliance, *heading.call)))


def _words(text: str) -> frozenset[str]:
    return frozenset(re.findall(r"[^\W_]+", text.lower().replace("'s", " ")))


def called(heading: Heading) -> str:
    """Return how an appliance is called: the first of its `call`, or else what it is, without that it is electric."""
    words = heading.call[0] if heading.call else heading.appliance or heading.title
    return words.removeprefix(f"{_OFTEN_FIRST} ")


def _question(these: Mapping[str, Heading], answers: Mapping[str, list[Written]]) -> dict[str, Written]:
    *first, last = (called(heading) for heading in these.values())
    names = f"{', '.join(first)}, or {last}" if first else last
    return {
        "ask": "choice",
        "field": FIELD,
        "say": f"Which appliance: {names}?",
        "short": f"{names[:1].upper()}{names[1:]}?",
        "how": "Say what it is called.",
        "why": "Each has questions and tests of its own.",
        "choices": dict(answers),
        "outcomes": {"any": {}},
    }


def _read_back(heading: Heading) -> dict[str, Written]:
    name = called(heading)
    return {
        "ask": "yes-no",
        "field": CONFIRMED,
        "say": f"{name[:1].upper()}{name[1:]}. Is that right?",
        "how": "Say yes, and the job is begun. Say no, and you are asked again.",
        "why": "The whole job is asked and tested for this appliance.",
        "outcomes": {"yes": {"next": AFTER}, "no": {"next": _WHICH}},
    }


def _answers(offered: Mapping[str, Heading]) -> dict[str, list[Written]]:
    """Return the phrases for each, and for those that are called alike, under their names together."""
    found: dict[str, list[Written]] = {name: [] for name in offered}
    claimed = _claimed(offered)
    # What it is called first is how an answer is read back.
    first = [called(heading) for heading in offered.values()]
    for phrase in sorted(claimed, key=lambda phrase: (phrase not in first, phrase)):
        answers = found.setdefault(_BETWEEN.join(claimed[phrase]), [])
        answers += [phrase, f"[it's|it is] [a|an|the] [{_OFTEN_FIRST}] {phrase}"]
    for number, name in enumerate(offered, start=1):
        found[name] += _numbered(number)
    return found


def _numbered(number: int) -> list[Written]:
    """Return how its place in the list is said, and typed."""
    said = [f"number {DIGITS[number]}"] if number < len(DIGITS) else []
    return [*said, f"number {number}"]


def _claimed(offered: Mapping[str, Heading]) -> dict[str, tuple[str, ...]]:
    """Return what each may be called, with the names of those that are called so."""
    said = sorted((phrase, name) for name, heading in offered.items() for phrase in _calls(heading))
    return {phrase: tuple(name for _, name in pairs) for phrase, pairs in groupby(said, key=lambda pair: pair[0])}


def _calls(heading: Heading) -> set[str]:
    endings = {ending for text in (called(heading), heading.appliance) for ending in _endings(_bare(text))}
    return endings | {_bare(phrase) for phrase in heading.call}


def _endings(text: str) -> Iterable[str]:
    words = text.split()
    return (" ".join(words[at:]) for at in range(len(words)))


def _bare(phrase: str) -> str:
    return phrase.lower().removeprefix(f"{_OFTEN_FIRST} ")


def _shared(offered: Mapping[str, Heading]) -> Iterable[str]:
    return sorted({_BETWEEN.join(names) for names in _claimed(offered).values() if len(names) > 1})


def _danger_scripts(notes: Notes) -> Written:
    """Return what is said in danger of an appliance that nobody has named yet."""
    path = shipped_folder("dialogs") / INCLUDED_FROM / _DANGER
    shared = read_file(path, _DANGER, notes, [])
    parameters = Parameters({"appliance": FIELD}, {}, frozenset({"appliance"}))
    return filled(shared.table, shared.places, parameters, notes).table.get("danger_scripts")
