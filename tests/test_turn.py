"""The table of the conversation's moves."""

import pytest

from voicetech.turn import MOVES, IllegalMoveError, Move, Turn, advance, machine, may


def test_every_move_of_the_table_is_a_move_of_the_machine_and_no_other() -> None:
    built = machine()
    edges = {
        (Turn[edge.source], move, Turn[str(edge.dest)]) for move in Move for edge in built.get_transitions(move.value)
    }
    assert edges == {(source, move, target) for move, sources, target in MOVES for source in sources}


def test_the_machine_has_no_way_around_the_table() -> None:
    built = machine()
    assert set(built.events) == {move.value for move in Move}
    assert not hasattr(built, "to_ASKING")


@pytest.mark.parametrize("turn", list(Turn))
def test_danger_stops_every_turn(turn: Turn) -> None:
    assert advance(turn, Move.ALARM) is Turn.STOPPED


def test_a_stop_is_left_by_its_own_move_only() -> None:
    ways_out = {move for move in Move if may(Turn.STOPPED, move) and advance(Turn.STOPPED, move) is not Turn.STOPPED}
    assert ways_out == {Move.CLEAR}
    assert advance(Turn.STOPPED, Move.CLEAR) is Turn.RECOUNTING


def test_nothing_goes_back_to_work_after_a_hand_over() -> None:
    working = {Turn.ASKING, Turn.CONFIRMING, Turn.CHOOSING, Turn.PROBES_ON, Turn.REASON, Turn.PAUSED}
    reached = {advance(Turn.HANDED_OVER, move) for move in Move if may(Turn.HANDED_OVER, move)}
    assert not reached & working


def test_a_move_the_table_lacks_is_an_error_and_changes_nothing() -> None:
    with pytest.raises(IllegalMoveError, match="resume is not possible while asking"):
        advance(Turn.ASKING, Move.RESUME)
