"""Rehearsals: every shipped session with every shipped roster, the same for a seed, recorded as what they are."""

from __future__ import annotations

import errno
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from floorclock.clock.events import ClassEnded, Event, Tapped, TargetChanged, WentBack
from floorclock.clock.run import PartRun
from floorclock.clock.splits import Mark, Status
from floorclock.digest.class_digest import ClassDigest
from floorclock.errors import ResourceError
from floorclock.journal.reading import read_journal
from floorclock.journal.shelf import Shelf
from floorclock.live.afterwards import recorded_digest
from floorclock.live.conductor import Conductor, ManualClock
from floorclock.live.opening import start_class
from floorclock.live.plan_files import Plan
from floorclock.plan.work import Target, Unit
from floorclock.report.export import review_json
from floorclock.simulate.athletes import SETTING_UP_S
from floorclock.simulate.coach import InventedAthletes, InventedCoach, play
from floorclock.simulate.rehearsal import rehearse_class
from tests.clock.classes import WALL, reps
from tests.journal.failing_disk import RefusingDisk
from tests.opened_classes import SESSION, plan_at, use_disk
from tests.plan import shipped
from tests.plan.shipped import ROSTER_NAMES, SESSION_NAMES

EVERYBODY_TAPS = ("gull-shuttles.yaml", "harbour.yaml", "tide-ladder.yaml")
"""In the other sessions people work by the clock, and a tap says that somebody had to stop."""


def events_of(home: Path) -> tuple[Event, ...]:
    """The events of the newest class."""
    return read_journal(Shelf(home).latest()).events


def without_label(summary: ClassDigest) -> dict[str, Any]:
    """A summary without the id and the time of its class."""
    values = review_json(summary)
    del values["class"]["id"], values["class"]["started"]
    return values


@pytest.mark.parametrize("roster", ROSTER_NAMES)
@pytest.mark.parametrize("session", SESSION_NAMES)
def test_every_shipped_session_plays_through_with_every_roster(session: str, roster: str, home: Path) -> None:
    plan = shipped.plan(session, roster)
    summary = rehearse_class(plan, home, seed=3)
    events = events_of(home)
    assert summary.rehearsal
    assert recorded_digest(Shelf(home).latest()) == summary
    assert isinstance(events[-1], ClassEnded)
    assert [part.title for part in summary.parts] == [part.title for part in plan.session.parts]
    tapped = {event.athlete for event in events if isinstance(event, Tapped)}
    if session in EVERYBODY_TAPS:
        assert tapped == {athlete.name for athlete in plan.roster.athletes}


def test_the_same_seed_plays_the_same_class_and_another_seed_another(tmp_path: Path) -> None:
    plan = shipped.plan("harbour.yaml")
    homes = [tmp_path / name for name in ("a", "b", "c")]
    first, again, other = (without_label(rehearse_class(plan, home, seed)) for home, seed in zip(homes, (5, 5, 6), strict=True))
    assert first == again != other
    assert events_of(homes[0]) == events_of(homes[1]) != events_of(homes[2])


def test_a_rehearsal_is_recorded_as_one_and_taken_for_no_interrupted_class(home: Path) -> None:
    rehearse_class(shipped.plan("harbour.yaml"), home, seed=1)
    (entry,) = Shelf(home).classes()
    assert (entry.rehearsal, entry.ended, entry.damage) == (True, True, 0)
    assert Shelf(home).interrupted() == ()


def test_a_roster_without_anybody_plays_through(tmp_path: Path, home: Path) -> None:
    plan = plan_at(tmp_path)
    empty = Plan(file=plan.file, text=plan.text, session=plan.session, roster=type(plan.roster)(title="", athletes=()))
    summary = rehearse_class(empty, home, seed=1)
    assert all(part.athletes == () for part in summary.parts)
    assert isinstance(events_of(home)[-1], ClassEnded)


def test_a_rehearsal_that_no_disk_takes_is_said(tmp_path: Path, home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    use_disk(monkeypatch, RefusingDisk(errno.ENOSPC))
    with pytest.raises(ResourceError, match="never reached the disk: disk full"):
        rehearse_class(plan_at(tmp_path), home, seed=1)


def test_a_coach_of_a_rehearsal_leaves_a_paused_class_alone(tmp_path: Path, home: Path) -> None:
    opened = start_class(plan_at(tmp_path), home, ManualClock(WALL), rehearsal=True)
    coach = InventedCoach(longest_open_ms=0)
    coach.run(opened.conductor)
    opened.settle()
    opened.conductor.pause()
    opened.settle()
    coach.run(opened.conductor)
    assert not opened.conductor.on_their_way
    opened.close()


class Floor:
    """An open class with invented athletes on it, at the go of its rotation; somebody looks every `step_ms`."""

    def __init__(self, home: Path, plan: Plan | None = None, seed: int = 9, step_ms: int = 100) -> None:
        plan = plan or plan_at(home / "plan", SESSION.replace("200 m", "150 m"))
        self.clock, self.step_ms = ManualClock(WALL), step_ms
        self.opened = start_class(plan, home, self.clock, rehearsal=True)
        self.conductor = self.opened.conductor
        self.athletes = InventedAthletes(self.opened.roster, seed)
        self.coach = InventedCoach(longest_open_ms=8_000)
        while (run := self.conductor.state.run) is None or run.part.kind != "rotation" or self.position_ms < 0:
            self.pass_time(step_ms)

    @property
    def rotation(self) -> PartRun:
        return next(run for run in self.conductor.state.runs if run.part.kind == "rotation")

    @property
    def position_ms(self) -> int:
        return self.rotation.position_ms(self.conductor.class_ms())

    @property
    def splits_ms(self) -> dict[tuple[str, int], int | None]:
        return {place: mark.split_ms for place, mark in self.rotation.marks.items()}

    def pass_time(self, ms: int) -> None:
        for step_ms in [self.step_ms] * (ms // self.step_ms) + [ms % self.step_ms]:
            self.clock.move_ms(step_ms)
            self.coach.run(self.conductor)
            self.athletes.run(self.conductor)
            self.opened.settle()
            self.conductor.tick()

    def until(self, position_ms: int) -> None:
        self.pass_time(position_ms - self.position_ms)

    def ended_at(self, position_ms: int) -> dict[tuple[str, int], Mark]:
        """What everybody did until there, with the class closed."""
        self.until(position_ms)
        self.opened.close()
        return self.rotation.marks

    def give(self, athlete: str, move: str, target: Target) -> None:
        self.conductor.send(TargetChanged(at_ms=self.conductor.stamp(), athlete=athlete, move=move, target=target))
        self.opened.settle()


def plain_class(tmp_path: Path) -> dict[tuple[str, int], Mark]:
    """What everybody does where nobody changes anything."""
    return Floor(tmp_path / "plain").ended_at(500_000)


def test_invented_taps_are_stamped_with_their_own_time_however_seldom_one_looks(tmp_path: Path) -> None:
    often, seldom = (Floor(tmp_path / str(step_ms), step_ms=step_ms) for step_ms in (100, 1_000))
    assert often.ended_at(500_000).keys() == seldom.ended_at(500_000).keys()
    assert often.splits_ms == seldom.splits_ms
    assert len(often.splits_ms) > 10


def test_an_amount_changed_in_mid_class_changes_the_next_splits_in_proportion(tmp_path: Path) -> None:
    before = plain_class(tmp_path)
    floor = Floor(tmp_path)
    floor.until(130_000)
    floor.give("Ilka", "step-up", reps(5))
    floor.give("Ilka", "row", Target(Fraction(300), Unit.METRES))
    after = floor.ended_at(500_000)
    assert {place: mark for place, mark in after.items() if place[0] != "Ilka" or place[1] < 2} == {
        place: mark for place, mark in before.items() if place[0] != "Ilka" or place[1] < 2
    }
    half, whole = after["Ilka", 6], before["Ilka", 6]
    assert (half.amount, whole.amount) == (Fraction(5), Fraction(10))
    # Half the reps take half the time, and setting up takes what it took.
    set_up_ms = 2 * (half.split_ms or 0) - (whole.split_ms or 0)
    assert set_up_ms == pytest.approx(SETTING_UP_S * 1000, rel=0.15)
    assert before["Ilka", 7].status is Status.DONE
    assert after["Ilka", 7].status is Status.NOT_FINISHED, "three halves of a row that just fitted"


@pytest.mark.parametrize(
    ("told_ms", "told", "ends_ms", "amount"),
    [(-3_000, 9, (-3_000, -1_000), 9), (-3_000, 2, (-3_200, -2_800), 2), (2_000, 14, (0, 0), 10)],
    ids=["stops at the lower number", "with more than that done, at once", "who is done already does no more"],
)
def test_who_is_told_of_another_amount_in_the_middle_of_the_work(
    tmp_path: Path, told_ms: int, told: int, ends_ms: tuple[int, int], amount: int
) -> None:
    """Times are from when they are done where nobody tells them."""
    whole_ms = plain_class(tmp_path)["Ilka", 0].split_ms or 0
    floor = Floor(tmp_path)
    floor.until(whole_ms + told_ms)
    floor.give("Ilka", "step-up", reps(told))
    mark = floor.ended_at(60_000)["Ilka", 0]
    assert ends_ms[0] <= (mark.split_ms or 0) - whole_ms <= ends_ms[1]
    assert mark.amount == amount


def test_a_coach_of_a_demo_does_not_wait_for_long_open_parts(tmp_path: Path) -> None:
    floor = Floor(tmp_path)
    floor.opened.close()
    assert floor.conductor.state.runs[0].ended_ms == 8_000


def test_an_interval_that_begins_again_is_worked_again(tmp_path: Path) -> None:
    floor = Floor(tmp_path)
    floor.until(50_000)
    first = floor.splits_ms
    floor.conductor.send(WentBack(at_ms=floor.conductor.stamp()))
    floor.opened.settle()
    assert floor.rotation.marks == {}
    floor.pass_time(55_000)
    floor.opened.close()
    assert floor.splits_ms == first != {}


def test_a_rehearsal_looks_at_its_athletes_twice_an_interval_however_long_it_is(tmp_path: Path, home: Path) -> None:
    plan = plan_at(tmp_path, SESSION.replace("rounds: 3", "rounds: 40"))
    clock = ManualClock(WALL)
    opened = start_class(plan, home, clock, rehearsal=True)
    looks: list[int] = []

    class Watched(InventedAthletes):
        def run(self, conductor: Conductor) -> None:
            looks.append(conductor.class_ms())
            super().run(conductor)

    play(opened.conductor, clock, Watched(plan.roster, 1), opened.settle)
    opened.close()
    rotation = next(run for run in opened.conductor.state.runs if run.part.kind == "rotation")
    within = [at_ms for at_ms in looks if rotation.begun_ms < at_ms < (rotation.ended_ms or 0)]
    assert len(within) <= 2 * (len(rotation.timeline.intervals) + 1) == 242
    assert len(rotation.marks) > 200
