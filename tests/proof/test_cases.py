"""Whether answers can be on record with which some conditions hold and others do not: as trying them all would find."""

from collections.abc import Iterator, Mapping, Sequence
from itertools import product

from hypothesis import given
from hypothesis import strategies as st

from tests.dialogue.talker import shipped
from voicetech.procedure import Condition
from voicetech.proof.cases import OTHER, case_of

FIELDS, ANSWERS = ("home", "onset", "history"), ("one", "two")
CAUSES = tuple(shipped().causes)[:3]
REMEDIES = tuple(dict.fromkeys(shipped().causes[name].remedy for name in CAUSES))


@st.composite
def conditions(draw: st.DrawFn) -> Condition:
    field = draw(st.sampled_from((*FIELDS, "cause", "remedy", "found")))
    among = {"cause": CAUSES, "remedy": REMEDIES, "found": ("yes", "no")}.get(field, ANSWERS)
    return Condition(field, tuple(draw(st.lists(st.sampled_from(among), min_size=1, unique=True))), draw(st.booleans()))


def records() -> Iterator[Mapping[str, str]]:
    """Yield everything that may be on record, with what the engine makes of the cause."""
    for answers in product((OTHER, *ANSWERS), repeat=len(FIELDS)):
        for cause in (OTHER, *shipped().causes):
            found = {"cause": cause, "remedy": shipped().causes[cause].remedy} if cause else {}
            yield {**dict(zip(FIELDS, answers, strict=True)), **found, "found": "yes" if cause else "no"}


def holds(wanted: Sequence[Condition], known: Mapping[str, str]) -> bool:
    return all((known.get(each.field, "") in each.values) != each.absent for each in wanted)


def fits(known: Mapping[str, str], holding: Sequence[Condition], broken: Sequence[Sequence[Condition]]) -> bool:
    return holds(holding, known) and not any(holds(each, known) for each in broken)


@given(st.lists(conditions(), max_size=4), st.lists(st.lists(conditions(), max_size=3), max_size=3))
def test_a_case_is_found_where_there_is_one_and_none_where_there_is_none(
    holding: list[Condition], broken: list[list[Condition]]
) -> None:
    found = case_of(shipped(), holding, broken)
    if found is None:
        assert not any(fits(known, holding, broken) for known in records())
    else:
        cause = found.get("cause", OTHER)
        assert not cause or found["remedy"] == shipped().causes[cause].remedy
        assert fits({**found, "found": "yes" if cause else "no"}, holding, broken)


def test_no_number_of_conditions_is_too_many() -> None:
    many = [[Condition(f"field-{number}", ("yes",)), Condition("home", ("one",))] for number in range(40)]
    found = case_of(shipped(), [Condition("home", ("one",))], many)
    assert found is not None
    assert all(found[f"field-{number}"] != "yes" for number in range(40))
    assert case_of(shipped(), [Condition("field-39", ("yes",)), Condition("home", ("one",))], many) is None
