"""All sheets of a procedure, by what may be asked for: the overview, each section, the circuit, the points, the key."""

from collections.abc import Callable, Iterable

from voicetech.drawing.circuit_sheets import circuit_sheets
from voicetech.drawing.key_sheets import key_sheets
from voicetech.drawing.numbering import Numbers, numbered
from voicetech.drawing.overview import overview_sheets
from voicetech.drawing.page import Drawn
from voicetech.drawing.points_sheets import points_sheets
from voicetech.drawing.section_sheets import section_sheets
from voicetech.procedure import Procedure, Section

OVERVIEW = "overview"
CIRCUIT = "circuit"
POINTS = "points"
KEY = "key"


def sheet_names(procedure: Procedure) -> tuple[str, ...]:
    """Return what sheets there are, in their order: sections by their names."""
    sections = (section.id for section in numbered(procedure).sections)
    return (OVERVIEW, *sections, *((CIRCUIT,) if procedure.circuit is not None else ()), POINTS, KEY)


def sheets_of(procedure: Procedure, names: Iterable[str] = ()) -> tuple[Drawn, ...]:
    """Return the sheets with these names in their order, all of them where none is named."""
    numbers = numbered(procedure)
    wanted = set(names) or set(sheet_names(procedure))
    makers: dict[str, Callable[[], tuple[Drawn, ...]]] = {OVERVIEW: lambda: overview_sheets(procedure, numbers)}
    makers |= {section.id: _maker(procedure, numbers, section) for section in numbers.sections}
    makers |= {
        CIRCUIT: lambda: circuit_sheets(procedure, numbers),
        POINTS: lambda: points_sheets(procedure, numbers),
        KEY: lambda: key_sheets(procedure),
    }
    return tuple(sheet for name, made in makers.items() if name in wanted for sheet in made())


def _maker(procedure: Procedure, numbers: Numbers, section: Section) -> Callable[[], tuple[Drawn, ...]]:
    return lambda: section_sheets(procedure, numbers, section)
