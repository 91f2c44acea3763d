"""Another target tried on a plan."""

from __future__ import annotations

import pytest

from floorclock.plan.durations import UnreadableError
from floorclock.plan.read_session import read_session
from floorclock.plan.session import Session
from floorclock.plan.tried import read_tries, with_targets

TEXT = """\
session: Quays
parts:
  - kind: rotation
    title: Minutes
    every: 1:00
    rounds: 5
    stations:
      - {move: box jump, target: {strong: 12 reps, new: 8 reps}, options: [{name: step, move: box step-up}]}
      - {move: step-up, target: {start: 10 reps, step: 2}}
      - work: [{move: row, target: 200 m}, {move: dead bug, target: 6 reps each side}]
  - kind: for_time
    title: Piece
    cap: 9:00
    work: [{move: box jump, target: 21-15-9 reps}]
    choose: [{name: shorter, work: [{move: box jump, target: 10 reps}]}]
"""


def plan() -> Session:
    session, _ = read_session(TEXT.encode(), "plan.yaml")
    assert session is not None
    return session


@pytest.mark.parametrize(
    ("tries", "said"),
    [
        (["box jump=8"], ["8", "10, +2 each round", "200 m", "6 each side", "8", "8"]),
        (["step-up = 6", "row=150 m"], ["strong 12, new 8", "6, +2 each round", "150 m", "6 each side", "21-15-9", "10"]),
        (["dead bug=5"], ["strong 12, new 8", "10, +2 each round", "200 m", "5 each side", "21-15-9", "10"]),
        (["box jump=15-12-9"], ["15-12-9", "10, +2 each round", "200 m", "6 each side", "15-12-9", "15-12-9"]),
    ],
)
def test_a_target_is_tried_wherever_the_move_is_done_and_a_ladder_keeps_its_step(tries: list[str], said: list[str]) -> None:
    session = plan()
    changed = with_targets(session, read_tries(tries, session))
    assert [station.target.plan_words() for station in changed.moves() if station.target is not None] == said
    assert session == plan(), "the plan itself stays as it is"


def test_an_option_is_a_move_as_well() -> None:
    session = plan()
    (station, *_) = with_targets(session, read_tries(["box step-up=12"], session)).parts[0].stations
    assert station.target == session.parts[0].stations[0].target
    assert [option.target.words() for option in station.options if option.target is not None] == ["12"]


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("box jump", "`box jump` is no move with a target (write it like box jump=8"),
        ("=8", "`=8` is no move"),
        ("boxjump=8", "the session has no `boxjump` (did you mean box jump?)"),
        ("juggling=8", "the session has no `juggling` (name a move of the session)"),
        ("row=8", "8 is in reps, and row in m (write it like row=200 m)"),
        ("box jump=many", "`many` is no target"),
        ("box jump=\x1b[2J", "is no target"),
    ],
)
def test_what_cannot_be_tried_is_said_with_what_to_write(typed: str, said: str) -> None:
    with pytest.raises(UnreadableError) as raised:
        read_tries([typed], plan())
    assert said in str(raised.value)
    assert "\x1b" not in str(raised.value)
