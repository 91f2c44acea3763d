"""The shipped demo, round by round: it has to show what a pacing coach is for while there is still time to act."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from floorclock.clock.events import TargetChanged
from floorclock.clock.run import PartRun
from floorclock.clock.tally import athlete_splits, coming, splits, whole_part
from floorclock.live import shipped
from floorclock.live.conductor import ManualClock
from floorclock.live.opening import start_class
from floorclock.live.plan_files import read_plan
from floorclock.pace.advice import Advice, Way
from floorclock.pace.flags import Flag
from floorclock.pace.pacing import Outlook, PartPacing
from floorclock.simulate.coach import STEP_MS, InventedAthletes, InventedCoach
from tests.clock.classes import WALL

ROUNDS, STATIONS = 5, 4
Outlooks = dict[str, Outlook]


class Demo:
    """The demo with its seed, its rotation played in steps; a hand on the keyboard may take advice."""

    def __init__(self, home: Path) -> None:
        folder = shipped.folder("sessions")
        self.plan = read_plan(folder / shipped.DEMO_SESSION, folder / shipped.DEMO_ROSTER)
        self.clock = ManualClock(WALL)
        self.opened = start_class(self.plan, home, self.clock, rehearsal=True)
        self.hands = (
            InventedCoach(longest_open_ms=8_000),
            InventedAthletes(self.opened.roster, shipped.DEMO_SEED),
        )
        self.number = next(number for number, part in enumerate(self.plan.session.parts) if part.kind == "rotation")
        self.pacing = PartPacing(self.plan.session.parts[self.number], confidence=self.plan.session.confidence)

    def rounds(self) -> Iterator[Outlooks]:
        """What is to be said of everybody after each round but the last."""
        for round_number in range(1, ROUNDS):
            settled = round_number * STATIONS - 1
            over_ms = (settled + 1) * 60_000 + STEP_MS
            while (run := self.run) is None or run.position_ms(self.opened.conductor.class_ms()) < over_ms:
                for hand in self.hands:
                    hand.run(self.opened.conductor)
                    self.opened.settle()
                self.opened.conductor.tick()
                self.clock.move_ms(STEP_MS)
            self.pacing.settle(settled, splits(self.opened.conductor.state, self.number))
            yield {name: self._look(run, name) for name in self.opened.conductor.state.athletes}
        self.opened.close()

    @property
    def run(self) -> PartRun | None:
        return self.opened.conductor.state.run_of(self.number)

    def _look(self, run: PartRun, name: str) -> Outlook:
        state = self.opened.conductor.state
        taken, whole, ahead = (tuple(found(state, run, name)) for found in (athlete_splits, whole_part, coming))
        return self.pacing.look(taken, whole, ahead, state.athletes[name])  # type: ignore[arg-type]

    def take(self, advice: Advice) -> None:
        assert advice.target is not None
        at_ms = self.opened.conductor.stamp()
        self.opened.conductor.send(TargetChanged(at_ms=at_ms, athlete=advice.athlete, move=advice.move, target=advice.target))
        self.opened.settle()


def standing(outlooks: Outlooks, flag: Flag) -> set[str]:
    return {name for name, outlook in outlooks.items() if flag in outlook.standing.flags}


def test_every_kind_of_trouble_shows_while_something_can_be_done_and_most_hold(tmp_path: Path) -> None:
    after = list(Demo(tmp_path).rounds())
    for flag in (Flag.RUNS_OUT, Flag.TIGHT, Flag.FADING):
        assert any(standing(outlooks, flag) for outlooks in after[1:]), flag
    only_fading = {name for outlooks in after for name, outlook in outlooks.items() if outlook.standing.flags == (Flag.FADING,)}
    assert only_fading, "somebody fades without running out"
    assert not any(outlook.standing.flags for outlook in after[0].values()), "nobody is in trouble from the start"
    for outlooks in after[:3]:
        calm = [name for name, outlook in outlooks.items() if not outlook.standing.flags]
        assert len(calm) > len(outlooks) / 2
    warned = [outlooks[name] for outlooks in after for name in standing(outlooks, Flag.RUNS_OUT)]
    assert all(outlook.advice for outlook in warned), "and there is a number to change to"


def rests_at(demo: Demo, name: str, station: int) -> list[int | None]:
    run = demo.run
    assert run is not None
    return [split.rest_ms for split in athlete_splits(demo.opened.conductor.state, run, name) if split.station == station]


@pytest.fixture
def played(tmp_path: Path) -> Callable[[bool], tuple[Demo, dict[str, Advice]]]:
    """Plays the demo; with true, the first advice to do less that anybody gets is taken, once for each athlete."""

    def play(takes: bool) -> tuple[Demo, dict[str, Advice]]:
        demo, given = Demo(tmp_path / str(takes)), {}
        for outlooks in demo.rounds():
            for name, outlook in outlooks.items():
                less = [advice for advice in outlook.advice if advice.way is Way.LESS and advice.target is not None]
                if less and name not in given:
                    given[name] = less[0]
                    if takes:
                        demo.take(less[0])
        return demo, given

    return play


def test_who_is_given_the_advised_target_has_more_rest_in_the_rounds_after_it(
    played: Callable[[bool], tuple[Demo, dict[str, Advice]]],
) -> None:
    left_alone, advised = played(False)
    helped, given = played(True)
    # Somebody who took advice is a little different news for the class, so the chances may differ in their last digits.
    assert {name: (one.station, one.target) for name, one in given.items()} == {
        name: (one.station, one.target) for name, one in advised.items()
    }
    assert given
    for name, advice in given.items():
        without, with_it = (rests_at(demo, name, advice.station) for demo in (left_alone, helped))
        pairs = [(a, b) for a, b in zip(without, with_it, strict=True) if a is not None and b is not None and a != b]
        assert pairs, name
        assert all(more > less + 1_000 for less, more in pairs)
        assert without[: len(without) - len(pairs)] == with_it[: len(with_it) - len(pairs)], "nothing before it changes"
