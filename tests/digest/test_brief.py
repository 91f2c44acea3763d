"""The brief: everything of the plan is said, once, in order; who has what and who starts where."""

from __future__ import annotations

import pytest

from floorclock.clock.state import ClassState, new_state
from floorclock.digest.brief import BriefPart, brief_of
from floorclock.plan.read_roster import read_roster
from floorclock.plan.read_session import read_session
from tests.plan.shipped import SESSION_NAMES, session

PLAN = """\
session: Quays
class_time: 60:00
rest_margin: 0:15
parts:
  - {kind: open, title: Warm-up, time: 10:00, notes: [Easy.]}
  - kind: rotation
    title: Minutes
    every: 1:00
    rounds: 5
    stations:
      - move: box jump
        target: 10 reps
        guarded: true
        standards: [both feet on the box]
        caution: Step down.
        options:
          - {name: few, move: box jump, target: 6 reps}
          - {name: step, move: box step-up, target: 12 reps}
          - {name: more, move: box jump, target: 8 reps, guarded: true}
      - move: goblet squat
        target: 8 reps
        load: {strong: 24 kg, regular: 16 kg, new: 12 kg}
        options: [{name: air squat, move: air squat, target: 10 reps}]
      - rest
  - {kind: amrap, title: Piece, time: 8:00, in: pairs, work: [{move: row, target: 200 m}], buy_in: [{move: run, target: 400 m}]}
"""
ROSTER = """\
athletes:
  - {name: Ilka, level: strong, group: 1, experienced: [box jump]}
  - {name: Bram, level: regular, group: 2, options: {box jump: step}}
  - {name: Noor, level: regular, group: 3, targets: {goblet squat: 6 reps}}
"""


def state() -> ClassState:
    plan, _ = read_session(PLAN.encode(), "plan.yaml")
    assert plan is not None
    roster, _ = read_roster(ROSTER.encode(), "who.yaml", plan)
    assert roster is not None
    return new_state(plan, roster.athletes)


def said(part: BriefPart, heading: str) -> list[str]:
    """What stands under a heading of a part."""
    lines = [*part.lines, *part.starts, ("heading", "")]
    first = next(at for at, line in enumerate(lines) if line[0] == "heading" and line[1].startswith(heading))
    past = next(at for at in range(first + 1, len(lines)) if lines[at][0] == "heading")
    return [words for _, words in lines[first + 1 : past]]


def test_options_go_from_hardest_to_easiest_and_everybody_s_own_work_is_said() -> None:
    _, minutes, _ = brief_of(state())
    assert said(minutes, "box jump  10 reps") == [
        "both feet on the box",
        "more: box jump 8",
        "few: box jump 6",
        "step: box step-up 12",
        "Bram, Noor: 12 step",
        "Step down.",
        "box jump: only with the coach's yes",
    ]
    assert said(minutes, "goblet squat") == ["air squat 10", "Ilka: 24 kg", "Bram: 16 kg", "Noor: 6 at 16 kg"]


def test_who_starts_where_and_with_whom() -> None:
    _, minutes, piece = brief_of(state())
    assert said(minutes, "who starts where") == ["box jump: Ilka", "goblet squat: Bram", "rest: Noor"]
    assert said(piece, "teams") == ["Ilka + Bram + Noor"]


def test_a_wave_has_its_time() -> None:
    text = PLAN.replace("in: pairs", "wave_every: 3:00")
    plan, _ = read_session(text.encode(), "plan.yaml")
    assert plan is not None
    roster, _ = read_roster(ROSTER.encode(), "who.yaml", plan)
    assert roster is not None
    *_, piece = brief_of(new_state(plan, roster.athletes))
    assert said(piece, "who starts when") == ["wave 1, at 0:00: Ilka", "wave 2, at 3:00: Bram", "wave 3, at 6:00: Noor"]


@pytest.mark.parametrize(("rounds", "words"), [(1, "1 round"), (2, "2 rounds")])
def test_a_shorter_piece_says_its_rounds(rounds: int, words: str) -> None:
    work = f"kind: for_time, title: Piece, cap: 8:00, rounds: 3, choose: [{{name: shorter, rounds: {rounds}}}]"
    text = PLAN.replace("kind: amrap, title: Piece, time: 8:00, in: pairs", work)
    plan, _ = read_session(text.encode(), "plan.yaml")
    assert plan is not None
    *_, piece = brief_of(new_state(plan, ()))
    assert said(piece, "or shorter") == [words]


def test_the_whole_at_a_glance_and_the_board() -> None:
    warm_up, minutes, piece = brief_of(state())
    assert [part.begins_ms for part in (warm_up, minutes, piece)] == [0, 610_000, 1_520_000], "with their count-ins"
    assert (warm_up.is_open, warm_up.goal, minutes.goal, piece.goal) == (True, "", "done with 15 s left of every 1:00", "")
    assert minutes.work == ("box jump  10 reps", "goblet squat  8 reps at strong 24 kg, regular 16 kg, new 12 kg", "rest")
    assert piece.work == ("first run  400 m", "row  200 m")


@pytest.mark.parametrize("name", SESSION_NAMES)
def test_every_caution_standard_and_option_of_a_plan_is_said(name: str) -> None:
    plan = session(name)
    for written, part in zip(plan.parts, brief_of(new_state(plan, ())), strict=True):
        words = "\n".join(words for _, words in part.lines)
        assert written.caution in words
        for _, station in written.moves():
            assert station.move in words
            assert station.caution in words
            assert all(standard in words for standard in station.standards)
            assert all(option.name in words and option.move in words for option in station.options)
        assert part.starts == (), "nobody is on the board"
