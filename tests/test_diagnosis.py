"""What is suspected, and which test comes next. The weights are judgement; the arithmetic is checked by hand."""

from dataclasses import replace
from decimal import Decimal

from tests.dialogue.talker import Talker, shipped
from voicetech.diagnosis import next_test, suspects, untried, weights, worths
from voicetech.events import Remarked, SectionEnded
from voicetech.procedure import Phase
from voicetech.session import Session, evolve


def complaining(of: str) -> Talker:
    talker = Talker()
    talker.say("no", of)
    return talker


def test_the_shares_of_what_is_suspected_add_up_to_one() -> None:
    talker = complaining("bake")
    shares = [s.share for s in suspects(shipped(), talker.session) if s.standing == "suspected"]
    assert abs(sum(shares, Decimal(0)) - 1) < Decimal("1e-12")
    assert shares == sorted(shares, reverse=True)


def test_without_a_circuit_the_next_test_has_the_most_weight_for_its_minutes() -> None:
    procedure = replace(shipped(), circuit=None)
    for complaint in ("bake", "broil", "nothing heats", "one coil", "oven"):
        session = complaining(complaint).session
        owed = weights(procedure, session)
        worth = {
            section.id: sum((w for c, w in owed.items() if procedure.causes[c].tested_by == section.id), Decimal(0))
            / section.cost_min
            for section in procedure.sections
            if section.phase is Phase.TEST and section.role is None
        }
        chosen = next_test(procedure, session)
        assert chosen is not None
        assert worth[chosen.id] == max(worth.values())


def test_a_dearer_test_of_the_same_weight_comes_later() -> None:
    procedure = shipped()
    session = complaining("bake").session
    first = next_test(procedure, session)
    assert first is not None
    dear = replace(
        procedure,
        sections=tuple(
            replace(section, cost_min=section.cost_min * 1000) if section.id == first.id else section
            for section in procedure.sections
        ),
    )
    second = next_test(dear, session)
    assert second is not None
    assert second.id != first.id


def test_a_proved_cause_takes_the_whole_suspicion() -> None:
    talker = Talker()
    talker.say("go to the bake element")
    talker.make_safe()
    talker.say("it's swollen")
    first, *others = suspects(shipped(), talker.session)
    assert (first.cause, first.standing, first.share) == ("bake-damaged", "proved", Decimal(1))
    assert all(other.share == 0 for other in others)


def test_nothing_is_left_to_test_when_every_part_was_done() -> None:
    procedure = shipped()
    assert next_test(procedure, complaining("bake").session, fits=lambda _section: False) is None


def supply_done(session: Session) -> Session:
    return evolve(session, SectionEnded(session.next_seq, "supply", "done"))


def test_what_is_open_serves_every_test_behind_it() -> None:
    """Cord and ground are behind the cover that the supply has opened."""
    procedure = shipped()
    owed = {"cord": Decimal(1), "ground": Decimal(1), "bake": Decimal(1)}
    talker = complaining("nothing heats")
    shut = {each.section.id: each.takes_min for each in worths(procedure, talker.session, owed)}
    opened = replace(supply_done(talker.session), covers_open=True)
    once_open = {each.section.id: each.takes_min for each in worths(procedure, opened, owed)}
    back_min = float(procedure.access["back"].cost_min)
    assert shut["cord"] - once_open["cord"] == back_min
    assert shut["ground"] - once_open["ground"] == back_min
    assert shut["bake"] == once_open["bake"]


def test_closed_up_again_nothing_is_open() -> None:
    procedure = shipped()
    owed = {"cord": Decimal(1)}
    session = replace(supply_done(complaining("nothing heats").session), covers_open=False)
    (cord,) = worths(procedure, session, owed)
    assert cord.takes_min == float(procedure.section("cord").cost_min + procedure.access["back"].cost_min)


def test_a_test_chosen_against_its_worth_says_what_it_costs() -> None:
    talker = complaining("bake")
    talker.say("go to the supply")
    remark = next(event for event in talker.last_events if isinstance(event, Remarked))
    assert "about 5 minutes" in remark.text
    assert "bake element" in remark.text


def test_a_test_that_shows_nothing_suspected_says_so() -> None:
    talker = complaining("bake")
    talker.say("go to the receptacle")
    assert any(
        isinstance(event, Remarked) and "none of what is suspected" in event.text for event in talker.last_events
    )


def test_the_test_worth_most_is_taken_without_a_word() -> None:
    talker = complaining("bake")
    talker.say("go to the bake element")
    assert not any(isinstance(event, Remarked) for event in talker.last_events)


def test_what_is_nearly_sure_is_proved_next_though_its_test_tells_little_for_its_minutes() -> None:
    """Other tests would tell more of what little doubt is left, one after the other, before the part itself."""
    session = complaining("bake").session
    sure = shipped().causes["bake-relay-open"]
    weighed = {sure.id: Decimal(4000), "bake-open": Decimal(60), "setting": Decimal(60)}
    procedure = replace(
        shipped(),
        complaints={"bake": replace(shipped().complaints["bake"], weights=weighed)},
        sections=tuple(
            replace(section, cost_min=section.cost_min * 100) if section.id == sure.tested_by else section
            for section in shipped().sections
        ),
    )
    by_worth = max(
        worths(procedure, session, {"bake": Decimal(1), sure.tested_by: Decimal(1)}), key=lambda w: w.per_min
    )
    assert by_worth.section.id != sure.tested_by
    chosen = next_test(procedure, session)
    assert chosen is not None
    assert chosen.id == sure.tested_by


def test_a_plate_that_a_test_asks_for_by_itself_is_reckoned_with_before() -> None:
    """Ohms of the wrong element tell the two apart, though nobody has told the watts yet."""
    session = complaining("bake").session
    weighed = {"bake-wrong-ohms": Decimal(1), "broil-wrong-ohms": Decimal(1)}
    procedure = replace(shipped(), complaints={"bake": replace(shipped().complaints["bake"], weights=weighed)})
    assert "bake_watts" not in session.answers
    (worth,) = worths(procedure, session, {"bake": Decimal(1)})
    assert worth.gain_bits > 0.5


def test_where_the_test_of_what_is_nearly_sure_is_done_what_narrows_it_is_next() -> None:
    procedure, session = shipped(), complaining("bake").session
    weighed = {"supply-joint": Decimal(4000), "bake-open": Decimal(60), "setting": Decimal(60)}
    narrowing = replace(
        procedure,
        complaints={"bake": replace(procedure.complaints["bake"], weights=weighed)},
        sections=tuple(
            replace(each, narrows=("supply-joint",), cost_min=each.cost_min * 100) if each.id == "cord" else each
            for each in procedure.sections
        ),
    )
    chosen = next_test(narrowing, supply_done(session))
    assert chosen is not None
    assert chosen.id == "cord"


def test_a_test_that_only_narrows_comes_up_for_what_it_narrows() -> None:
    procedure, session = shipped(), complaining("bake").session
    narrowing = tuple(
        replace(section, narrows=("bake-open",)) if section.id == "outlet-volts" else section
        for section in procedure.sections
    )
    assert "outlet-volts" not in untried(procedure, session, lambda _section: True)
    owed = untried(replace(procedure, sections=narrowing), session, lambda _section: True)
    assert owed["outlet-volts"] == weights(procedure, session)["bake-open"]
