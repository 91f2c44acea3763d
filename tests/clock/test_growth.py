"""A class that is ten times as long costs ten times as much to fold, never a hundred times: counted, not timed."""

from __future__ import annotations

import sys
from dataclasses import replace
from types import FrameType
from typing import Any

import pytest

from floorclock.clock.events import Event, PartBegun, SplitCorrected, Tapped
from floorclock.clock.fold import apply, fold
from floorclock.clock.state import new_state
from floorclock.plan.session import Rotation
from tests.clock.classes import ILKA, SWING, session_of


@pytest.mark.parametrize(("early", "word"), [(True, "a tap just after the boundary"), (False, "a correction of every tap")])
def test_what_an_event_looks_at_does_not_grow_with_the_class(early: bool, word: str) -> None:
    """Counted in lines of the clock that run for each event, in a class of 40 intervals and in one ten times as long."""

    def lines_an_event(rounds: int) -> float:
        session = session_of(Rotation(title="Long", every_ms=60_000, work=(SWING,), rounds=rounds), count_in_ms=0)
        state = new_state(session, [replace(ILKA, name=f"Athlete {number}", key="") for number in range(8)])
        apply(state, PartBegun(at_ms=0, part=0))
        told: list[Event] = [
            Tapped(at_ms=60_000 * (interval + 1) + 500 if early else 60_000 * interval + 30_000, athlete=name)
            for interval in range(rounds)
            for name in state.athletes
        ]
        if not early:
            told += [
                SplitCorrected(at_ms=60_000 * rounds, athlete=name, part=0, interval=interval, split_ms=31_000)
                for interval in range(rounds)
                for name in state.athletes
            ]
        counted = 0

        def count(frame: FrameType, event: str, argument: object) -> Any:
            nonlocal counted
            counted += event == "line"
            return count if "floorclock/clock" in frame.f_code.co_filename else None

        before = sys.gettrace()
        sys.settrace(count)
        try:
            fold(state, told)
        finally:
            sys.settrace(before)
        assert len(state.runs[0].marks) == 8 * rounds
        assert len(state.taken) == (8 * rounds if early else 0)
        return counted / len(told)

    short, long = lines_an_event(40), lines_an_event(400)
    assert long < 1.2 * short, f"{word}: {short:.0f} lines in a short class, {long:.0f} in a long one"
