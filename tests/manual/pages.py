"""The pages of the reference that are made of tables in the code: settings, words, limits, formats, the record."""

import ast
import inspect
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import fields
from decimal import Decimal
from typing import Any, Final, cast

import voicetech.authoring.checks_trade
import voicetech.diagnosis
import voicetech.events
import voicetech.journal.place
import voicetech.language.meaning
import voicetech.turn
from tests.manual.code_says import constants, members, one_line, variables
from tests.manual.markdown import code, codes, page, table
from voicetech.authoring.checks_trade import SETTINGS
from voicetech.authoring.format import (
    Anything,
    Key,
    Kinds,
    Lists,
    Named,
    Number,
    Shape,
    Span,
    Tables,
    Text,
    Texts,
    Truth,
    Value,
)
from voicetech.authoring.format_top import TOP
from voicetech.authoring.plain_yaml import read_plain
from voicetech.authoring.rules import RULES, Level
from voicetech.authoring.shipped import shipped_folder
from voicetech.drawing.limits_told import marginal_span, span, told_limits
from voicetech.events import KINDS
from voicetech.known_fields import NAMES, OWN, SENTENCES
from voicetech.language.meaning import Asking, Command, DangerKind
from voicetech.limit_rules import RULES as LIMIT_RULES
from voicetech.limit_rules import limits_for
from voicetech.procedure import LimitRule
from voicetech.turn import MOVES, Turn
from voicetech.units import UNITS_OF, Unit

_NOTATION: Final = "Words in square brackets may be left out; of words in round ones, divided by strokes, one is said. "


# Settings


def settings_page() -> str:
    """Return the settings: of this computer, of a procedure, and the files that are kept."""
    by_value = {
        each.value: each.says
        for module in (voicetech.authoring.checks_trade, voicetech.diagnosis)
        for each in constants(module)
    }
    return page(
        "Settings",
        "## Of this computer",
        "Environment variables, read when a command begins.",
        table(("variable", "what it sets"), [(code(name), says) for name, says in variables().items()]),
        "## Of a procedure",
        "Under `settings:` in its file; any other name may be set there that a text has in braces.",
        table(("setting", "what it sets"), [(code(name), by_value[name]) for name in SETTINGS]),
        "## What stands where",
        "In the folder that `VOICETECH_HOME` names, else in the user's data folder; `voicetech upkeep` says which "
        "folder that is.",
        table(("file or folder", "what it holds"), _KEPT),
    )


_KEPT: Final = (
    ("`jobs.db`", "The record: every event of every job, reviews, and the texts of the procedures that were followed."),
    ("`sounds/`", "What was said, where keeping it was agreed to: one FLAC file for each utterance."),
    ("`reports/`", "Reports that were written without naming a file."),
    ("`archive.db`", "The list of jobs, made of the record and made anew where it is gone."),
    ("`parts.csv`", "The shop's part book, where there is one; you put it there."),
)


# Words


def words_page() -> str:
    """Return what may be said: requests, danger, results, units."""
    commands = _vocabulary("commands")
    does = members(voicetech.language.meaning, "Command")
    by_command: dict[str, list[str]] = {each.value: [] for each in Command}
    for name, entry in commands.items():
        by_command[str(entry.get("command", name))] += entry.get("say", [])
    return page(
        "What may be said",
        "What is heard, and understood when typed. Typed, much more is understood; `voicetech understand` shows "
        f"what any words are taken for. {_NOTATION}The answers to a question's own choices are those of the procedure.",
        "## Requests, at any time",
        table(
            ("request", "what it does", "said as"),
            [(each.value, does[each.name], _said(by_command[each.value], each)) for each in Command],
        ),
        "## Danger",
        "Stops the job at once, in any state. In the past tense, or denied, it is asked first whether it is happening "
        "now. The Enter key by voice, Escape on the page, stop it too.",
        table(("kind", "said as"), [(kind.value, codes(_danger(kind))) for kind in DangerKind]),
        "## Yes and no",
        table(("answer", "said as"), [(name, codes(_vocabulary("answers")[name]["say"])) for name in ("yes", "no")]),
        "## What a circuit shows",
        table(("result", "said as"), [(name, codes(entry["say"])) for name, entry in _vocabulary("states").items()]),
        "## Units",
        "A reading is a number with its unit, or without it where the question says which: “two thirty eight volts”, "
        "“two three eight”, “twenty one point eight”, “one point one k”, “zero point two”. Over range is “open” or "
        "“over limit”.",
        table(("unit", "said as"), list(_units())),
        "## Kinds of question",
        f"As `--asking` takes them: {codes(each.value for each in Asking)}.",
        "## Whose turn it is",
        "What the program waits for, and what may follow.",
        table(("it waits", "", "may be followed by"), list(_turns())),
    )


def _vocabulary(name: str) -> Mapping[str, Any]:
    return cast(Mapping[str, Any], read_plain(shipped_folder("grammars") / f"{name}.yaml"))


def _said(phrases: Iterable[str], command: Command) -> str:
    cues = _vocabulary("speech")["cues"]
    behind = {
        Command.NOTE: [f"{each} …" for each in cues["notes"][:3]],
        Command.GO_TO: [f"{each} …" for each in cues["going"][:3]],
        Command.SKIP: [f"{each} …" for each in cues["reasons"][:3]],
    }
    return codes([*phrases, *behind.get(command, [])])


def _danger(kind: DangerKind) -> Iterator[str]:
    entry = _vocabulary("danger")["kinds"][kind.value]
    for place in ("whole", "anywhere"):
        yield from entry.get(place, {}).get("say", [])


def _units() -> Iterator[tuple[str, str]]:
    for unit, entry in _vocabulary("units").items():
        said = [*entry.get("say", [])]
        for scale in ("kilo", "mega", "milli", "micro", "minute"):
            said += entry.get(scale, {}).get("say", [])
        if said:
            yield Unit(unit).name.lower(), codes(said)


def _turns() -> Iterator[tuple[str, str, str]]:
    says = members(voicetech.turn, "Turn")
    for turn in Turn:
        after = dict.fromkeys(target.value for _, sources, target in MOVES if turn in sources)
        yield turn.value, says[turn.name], ", ".join(after)


# Limits


_EXAMPLE: Final = {
    "watts": "2600",
    "volts": "240",
    "measured": "236",
    "fahrenheit": "70",
    "connection": "cord-4",
    "on": "10",
    "part": "1085",
}
_THE_PROCEDURE: Final = "as the procedure says"


def limits_page() -> str:
    """Return the rules by which limits are computed, each with what it gives for an example and its source."""
    return page(
        "What readings are judged by",
        "Which units a quantity is taken in:",
        table(
            ("quantity", "units"),
            [(each.value, codes(u.name.lower() for u in units)) for each, units in UNITS_OF.items()],
        ),
        "A procedure names a rule, and the rule computes the limits from what is recorded. A reading is judged with "
        "the meter's own uncertainty taken off; one too near a limit is marginal. The maker's service sheet outranks "
        "every figure here, and so does local code.",
        f"The example has {codes(f'{name}={value}' for name, value in _EXAMPLE.items())}, of a part of 2600 watts at "
        "240 volts in a range with a cord of four wires.",
        table(("rule", "for", "passes in the example", "marginal", "source"), list(_limits())),
    )


def _limits() -> Iterator[tuple[str, ...]]:
    for name in sorted(LIMIT_RULES):
        own = name == "figures"
        figures = {"low": Decimal(5), "high": Decimal(25)} if own else {}
        rule = LimitRule(name, figures, {} if own else {key: key for key in _EXAMPLE}, _THE_PROCEDURE)
        for label in ("L1-L2", "L1-N", "N-frame") if name == "supply-pairs" else ("L1-L2",):
            limits = limits_for(rule, _EXAMPLE, label)
            told = told_limits(rule, {}, label)
            by = one_line(f"{limits.reason}. {told.rule}" if told.rule else f"{limits.reason}")
            shown = name if name != "supply-pairs" else f"{name}, {label}"
            yield shown, by, _plain(span(limits)), _plain(marginal_span(limits)), one_line(limits.source)


def _plain(text: str) -> str:
    return text.replace("\N{NO-BREAK SPACE}", " ").removeprefix("marginal ")


# Rules of the check


def rules_page() -> str:
    """Return the rules a procedure is held to."""
    return page(
        "Rules for procedures",
        "What `voicetech check` looks for, as `voicetech check --rules` lists it. No job is begun by a procedure that "
        "breaks a rule of level error; a warning makes a job worse than it could be.",
        *(
            part
            for level in Level
            for part in (
                f"## Level {level.value}",
                table(
                    ("rule", "what it asks for", "why"),
                    [(code(name), rule.says, rule.why) for name, rule in RULES.items() if rule.level is level],
                ),
            )
        ),
    )


# The format of procedures


def format_page() -> str:
    """Return every table of a procedure's file with its keys."""
    shapes: dict[str, Shape] = {}
    _gather(TOP, shapes)
    return page(
        "The format of procedures",
        "Every table of a procedure's file with its keys; what has to be there is marked with a star. What they mean "
        "together is told beside the procedures, in `dialogs/README.md`, and step by step in `dialogs/GUIDE.md`. "
        "`voicetech check --schema` prints the same for editors.",
        *(part for shape in shapes.values() for part in _shape(shape)),
        "## Fields that the program knows",
        "Answers are recorded under fields. These are looked at by the program itself: " + codes(sorted(OWN)) + ".",
        "Those below read in a report like this; a procedure gives its own under `fields`.",
        table(("field", "in a report"), [(code(name), says) for name, says in NAMES.items()]),
        table(("field", "answered yes", "answered no"), [(code(name), *both) for name, both in SENTENCES.items()]),
    )


def _gather(value: Value, found: dict[str, Shape]) -> None:
    match value:
        case Shape():
            if value.name in found:
                return
            found[value.name] = value
            for key in value.keys.values():
                _gather(key.holds, found)
        case Tables(shape=shape):
            _gather(shape, found)
        case Named(value=below):
            _gather(below, found)
        case Kinds(shapes=shapes):
            for each in shapes.values():
                _gather(each, found)
        case _:
            pass


def _shape(shape: Shape) -> Iterator[str]:
    yield f"## {shape.name}"
    yield shape.says
    yield table(("key", "holds", ""), [_key(name, key) for name, key in shape.keys.items()])


def _key(name: str, key: Key) -> tuple[str, str, str]:
    return f"{code(name)}{' *' if key.needed else ''}", _holds(key.holds), key.says


def _holds(value: Value) -> str:
    match value:
        case Text(words=()):
            return "a text"
        case Text(words=words):
            return f"one of {codes(words)}"
        case Truth():
            return "`yes` or `no`"
        case Number(above=above, whole=whole):
            over = "" if above is None else f" above {above:g}"
            return f"a {'whole ' if whole else ''}number{over}"
        case Texts(words=words, count=count):
            many = "texts" if count is None else f"{count} texts"
            return f"a list of {codes(words)}" if words else f"a list of {many}"
        case Span():
            return "two numbers, the lower first"
        case Lists(least=least, most=most):
            return f"a list of lists, each of {least} to {most} texts"
        case Named(value=below, names=names):
            under = codes(names) if names else "names of yours"
            return f"a table: under {under}, {_holds(below)}"
        case Shape(name=name):
            return f"a table: {name}"
        case Tables(shape=below):
            return f"a list of tables: {below.name}"
        case Kinds(shapes=shapes):
            return f"a table of one kind: {', '.join(each.name for each in shapes.values())}"
        case Anything():
            return "anything"


# The record


def record_page() -> str:
    """Return the events of the record with what each of them holds."""
    return page(
        "What is on record",
        "A job is a list of events and nothing else. Each is stored under its kind, as JSON in the order in which it "
        "happened; times are seconds since 1970, UTC; readings keep the digits that were given, in the base unit.",
        "A number behind the kind is its version: a field that is added has a value for older records, and another "
        "meaning gets another kind, so that every record that was ever written can be read.",
        table(
            ("kind", "what happened", "what it holds"),
            [
                (code(kind), one_line(inspect.getdoc(event)), codes(each.name for each in fields(event)))
                for kind, event in KINDS.items()
            ],
        ),
        "## Values",
        *(part for name, says, texts in _enumerations() for part in (f"**{name}.** {says} {codes(texts)}.",)),
    )


def _enumerations() -> Iterator[tuple[str, str, list[str]]]:
    tree = ast.parse(inspect.getsource(voicetech.events))
    for each in tree.body:
        if isinstance(each, ast.ClassDef) and any(
            isinstance(base, ast.Name) and base.id == "StrEnum" for base in each.bases
        ):
            kind = getattr(voicetech.events, each.name)
            yield each.name, one_line(inspect.getdoc(kind)), [member.value for member in kind]
    for kind in (Unit, DangerKind):
        yield kind.__name__, one_line(inspect.getdoc(kind)), [member.value for member in kind]
