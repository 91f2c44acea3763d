"""The classes of an ordinary month, as a coach has them on a whiteboard: read, timed, shared out and folded as they are meant.

All totals were worked out by hand. n windows of work have n - 1 rests between them (published protocols count so).
"""

from __future__ import annotations

from pathlib import Path

import pytest

from floorclock.clock.events import PartBegun
from floorclock.clock.fold import apply
from floorclock.clock.state import new_state
from floorclock.live.plan_files import Plan, read_plan
from floorclock.plan.check import check_files
from tests.repertoire.any_plan import check_timeline

HERE = Path(__file__).parent
PLANS = sorted((HERE / "plans").glob("*.yaml"))
PEOPLE = HERE / "people.yaml"

PLANNED_S = {
    # 20 x 1:00; the same; 8 x 2:00; 6 x (1:30 + 1:00 + 0:30); 5 x 3:00; 20 x 1:00.
    1: 1200, 2: 1200, 3: 960, 4: 1080, 5: 900, 6: 1200,
    # Caps.
    7: 720, 8: 900, 9: 840, 10: 1500, 11: 1080,
    12: 720,
    # From the first go: 3 x (4:00 + 2:00); the count-in of the second and third lies in the rest before it.
    13: 1080 - 20,
    # 3 x 3:00 + 2 x 1:00.
    14: 660 - 20,
    15: 960, 16: 1200,
    # 12 x 0:40 + 11 x 0:20.
    17: 700,
    18: 900,
    # 8 x 0:20 + 7 x 0:10 = 3:50, as it is published.
    19: 230, 20: 230,
    # 18 x 0:40 + 3 x 5 x 0:20 + 2 x 1:00.
    21: 1140,
    # A cap of 12:00 after the third wave's start.
    22: 2 * 120 + 720,
    23: 240,
    24: 599, 25: 240, 26: 960, 27: 1200, 28: 1500, 29: 600,
    # 6 x 0:40 + 5:00 + 5 x 2:30 + 4:00 less a count-in of 0:10 + 14:00 + 8:00.
    30: 2840,
    31: 720, 32: 1200,
    # 9 x 1:00 + 2 x 1:00.
    33: 660,
    34: 1500,
    # 16 x 0:20 + 15 x 0:10.
    35: 470,
    36: 720,
}  # fmt: skip


def number_of(path: Path) -> int:
    return int(path.name[:2])


def plan_of(number: int) -> Plan:
    return read_plan(next(path for path in PLANS if number_of(path) == number), PEOPLE)


@pytest.mark.parametrize("path", PLANS, ids=lambda path: path.stem)
def test_a_plan_can_be_run_and_takes_as_long_as_it_says(path: Path) -> None:
    checked = check_files(path.read_bytes(), path.name, PEOPLE.read_bytes(), PEOPLE.name)
    assert not checked.has_errors, [str(problem) for problem in checked.problems]
    # A shuttle ladder of whole shuttles comes near its ten minutes; all other plans are exact.
    within_s = 20 if number_of(path) == 24 else 0
    assert abs(checked.time_ms / 1000 - PLANNED_S[number_of(path)]) <= within_s


@pytest.mark.parametrize("path", PLANS, ids=lambda path: path.stem)
def test_a_timeline_has_no_gap_and_no_overlap_and_the_same_windows_for_everybody(path: Path) -> None:
    plan = read_plan(path, PEOPLE)
    check_timeline(plan.session, plan.roster.athletes)


@pytest.mark.parametrize("path", PLANS, ids=lambda path: path.stem)
def test_a_class_can_be_begun_part_after_part_to_its_end(path: Path) -> None:
    plan = read_plan(path, PEOPLE)
    state = new_state(plan.session, plan.roster.athletes)
    at_ms = 0
    while not state.over:
        coach_ends_it = state.run is None or state.run.timeline.length_ms is None
        if coach_ends_it and state.next_part is None:
            break
        if coach_ends_it:
            assert apply(state, PartBegun(at_ms=at_ms, part=state.next_part or 0)).took_effect
        at_ms += 60_000
        state.advance(at_ms)
        assert at_ms < 3 * 3600_000
    assert len(state.runs) == len(state.session.parts)
