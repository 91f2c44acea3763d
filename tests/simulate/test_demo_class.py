"""The shipped demo, round by round: it has to show what a pacing coach is for while there is still time to act."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from floorclock.clock.tally import athlete_splits, coming, splits, whole_part
from floorclock.live import shipped
from floorclock.live.plan_files import read_plan
from floorclock.pace.advice import Advice, Way
from floorclock.pace.flags import Flag
from floorclock.pace.pacing import Outlook, PartPacing
from floorclock.simulate.coach import STEP_MS
from tests.simulate.test_coach import Floor

ROUNDS, STATIONS = 5, 4
Outlooks = dict[str, Outlook]


class Demo(Floor):
    """The demo with its seed; advice may be taken."""

    def __init__(self, home: Path) -> None:
        folder = shipped.folder("sessions")
        super().__init__(home, read_plan(folder / shipped.DEMO_SESSION, folder / shipped.DEMO_ROSTER), shipped.DEMO_SEED, STEP_MS)
        self.pacing = PartPacing(self.rotation.part, confidence=self.opened.session.confidence)

    def rounds(self) -> Iterator[Outlooks]:
        """What is to be said of everybody after each round but the last."""
        state = self.conductor.state
        for interval in range(STATIONS - 1, ROUNDS * STATIONS - 1, STATIONS):
            self.until((interval + 1) * 60_000 + STEP_MS)
            self.pacing.settle(interval, [split for split in splits(state) if split.part == self.rotation.index])
            yield {name: self._look(name) for name in state.athletes}
        self.opened.close()

    def _look(self, name: str) -> Outlook:
        state, run = self.conductor.state, self.rotation
        taken, whole, ahead = athlete_splits(state, run, name), whole_part(state, run, name), coming(state, run, name)
        return self.pacing.look(tuple(taken), tuple(whole), tuple(ahead), state.athletes[name])

    def rests_at(self, name: str, station: int) -> list[int | None]:
        taken = athlete_splits(self.conductor.state, self.rotation, name)
        return [split.rest_ms for split in taken if split.station == station]


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
                    if takes and less[0].target is not None:
                        demo.give(name, less[0].move, less[0].target)
        return demo, given

    return play


def test_who_is_given_the_advised_target_has_more_rest_in_the_rounds_after_it(
    played: Callable[[bool], tuple[Demo, dict[str, Advice]]],
) -> None:
    left_alone, advised = played(False)
    helped, given = played(True)
    # Somebody who took advice is a little different news for the class, so the chances may differ in their last digits.
    assert {name: (advice.station, advice.target) for name, advice in given.items()} == {
        name: (advice.station, advice.target) for name, advice in advised.items()
    }
    assert given
    for name, advice in given.items():
        without, with_it = (demo.rests_at(name, advice.station) for demo in (left_alone, helped))
        pairs = [(a, b) for a, b in zip(without, with_it, strict=True) if a is not None and b is not None and a != b]
        assert pairs, name
        assert all(more > less + 1_000 for less, more in pairs)
        assert without[: len(without) - len(pairs)] == with_it[: len(with_it) - len(pairs)], "nothing before it changes"
