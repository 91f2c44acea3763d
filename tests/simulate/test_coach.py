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
from floorclock.live import shipped
from floorclock.live.afterwards import recorded_digest
from floorclock.live.conductor import Conductor, ManualClock
from floorclock.live.opening import start_class
from floorclock.live.plan_files import Plan, read_plan
from floorclock.pace.flags import Flag
from floorclock.plan.work import Target, Unit
from floorclock.report.export import review_json
from floorclock.simulate.athletes import SETTING_UP_S
from floorclock.simulate.coach import InventedAthletes, InventedCoach, play
from floorclock.simulate.rehearsal import rehearse_class
from tests.clock.classes import WALL
from tests.journal.failing_disk import RefusingDisk
from tests.opened_classes import SESSION, plan_at, use_disk
from tests.plan.shipped import ROSTER_NAMES, SESSION_NAMES, SESSIONS

SHORTER_ROW = SESSION.replace("200 m", "150 m")
EVERYBODY_TAPS = ("gull-shuttles.yaml", "harbour.yaml", "tide-ladder.yaml")
"""In the other sessions people work by the clock, and a tap says that somebody had to stop."""


def plan_of(session: str, roster: str) -> Plan:
    return read_plan(SESSIONS / session, SESSIONS / roster)


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
    plan = plan_of(session, roster)
    summary = rehearse_class(plan, home, seed=3)
    events = events_of(home)
    assert summary.rehearsal
    assert isinstance(events[-1], ClassEnded)
    assert [part.title for part in summary.parts] == [part.title for part in plan.session.parts]
    tapped = {event.athlete for event in events if isinstance(event, Tapped)}
    if session in EVERYBODY_TAPS:
        assert tapped == {one.name for one in plan.roster.athletes}


@pytest.mark.parametrize("session", SESSION_NAMES)
def test_what_is_recorded_sums_up_to_what_was_played(session: str, home: Path) -> None:
    played = rehearse_class(plan_of(session, "harbour-roster.yaml"), home, seed=2)
    assert recorded_digest(Shelf(home).latest()) == played


def test_the_same_seed_plays_the_same_class(tmp_path: Path) -> None:
    plan = plan_of("harbour.yaml", "harbour-roster.yaml")
    first, again = (rehearse_class(plan, tmp_path / name, seed=5) for name in ("a", "b"))
    assert without_label(first) == without_label(again)
    assert events_of(tmp_path / "a") == events_of(tmp_path / "b")


def test_another_seed_plays_another_class(tmp_path: Path) -> None:
    plan = plan_of("harbour.yaml", "harbour-roster.yaml")
    first, other = (rehearse_class(plan, tmp_path / str(seed), seed=seed) for seed in (5, 6))
    assert without_label(first) != without_label(other)


def test_the_demo_raises_flags_of_more_than_one_kind_and_leaves_most_alone(home: Path) -> None:
    plan = read_plan(shipped.folder("sessions") / shipped.DEMO_SESSION, shipped.folder("sessions") / shipped.DEMO_ROSTER)
    summary = rehearse_class(plan, home, shipped.DEMO_SEED)
    rotation = next(part for part in summary.parts if part.kind == "rotation")
    assert rotation.count(Flag.TIGHT) >= 2
    assert rotation.count(Flag.FADING) >= 2
    assert rotation.held >= len(plan.roster.athletes) // 4
    assert rotation.untapped > 0, "somebody forgets to tap in every class"
    assert summary.calls
    slopes = {round(athlete.slope_ms or 0) for athlete in rotation.athletes}
    assert len(slopes) > len(plan.roster.athletes) // 2, "they fade at different rates"


def test_a_rehearsal_is_recorded_as_one_and_taken_for_no_interrupted_class(home: Path) -> None:
    rehearse_class(plan_of("harbour.yaml", "harbour-roster.yaml"), home, seed=1)
    (entry,) = Shelf(home).classes()
    assert (entry.rehearsal, entry.ended, entry.damage) == (True, True, 0)
    assert Shelf(home).interrupted() == ()


def test_taps_of_a_rehearsal_lie_within_the_time_of_their_interval(home: Path) -> None:
    summary = rehearse_class(plan_of("harbour.yaml", "full-house.csv"), home, seed=4)
    splits = [one.split for part in summary.parts for athlete in part.athletes for one in athlete.splits]
    assert len(splits) > 500
    assert all(split.split_ms is None or 0 < split.split_ms <= split.window_ms for split in splits)


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


def test_a_coach_of_a_demo_does_not_wait_for_long_open_parts(tmp_path: Path, home: Path) -> None:
    plan = plan_at(tmp_path)
    clock = ManualClock(WALL)
    opened = start_class(plan, home, clock, rehearsal=True)
    coach = InventedCoach(longest_open_ms=8_000)
    for _ in range(100):
        coach.run(opened.conductor)
        opened.settle()
        opened.conductor.tick()
        clock.move_ms(500)
    assert opened.conductor.state.runs[0].ended_ms == 8_000
    opened.close()


def test_a_coach_of_a_rehearsal_leaves_a_paused_class_alone(tmp_path: Path, home: Path) -> None:
    opened = start_class(plan_at(tmp_path), home, ManualClock(WALL), rehearsal=True)
    coach = InventedCoach()
    coach.run(opened.conductor)
    opened.settle()
    opened.conductor.pause()
    opened.settle()
    coach.run(opened.conductor)
    assert not opened.conductor.on_their_way
    opened.close()


def test_invented_taps_are_stamped_with_their_own_time_however_seldom_one_looks(tmp_path: Path) -> None:
    plan = plan_at(tmp_path)
    splits = []
    for step_ms in (100, 1_000):
        clock = ManualClock(WALL)
        opened = start_class(plan, tmp_path / str(step_ms), clock, rehearsal=True)
        athletes = InventedAthletes(plan.session, plan.roster, 9)
        coach = InventedCoach()
        while not opened.conductor.state.over and opened.conductor.class_ms() < 700_000:
            coach.run(opened.conductor)
            opened.settle()
            athletes.run(opened.conductor)
            opened.settle()
            opened.conductor.tick()
            clock.move_ms(step_ms)
        opened.close()
        run = next(run for run in opened.conductor.state.runs if run.part.kind == "rotation")
        splits.append({place: mark.split_ms for place, mark in run.marks.items()})
    assert splits[0] == splits[1]
    assert len(splits[0]) > 10


class Floor:
    """An open class with invented athletes on it, at the go of its rotation."""

    def __init__(self, tmp_path: Path, home: Path, session: str = SHORTER_ROW) -> None:
        self.plan = plan_at(tmp_path, session)
        self.clock = ManualClock(WALL)
        self.opened = start_class(self.plan, home, self.clock, rehearsal=True)
        self.athletes = InventedAthletes(self.plan.session, self.plan.roster, 9)
        self.coach = InventedCoach(longest_open_ms=8_000)
        while self.run is None or self.run.part.kind != "rotation" or self.position_ms < 0:
            self.pass_time(100)

    @property
    def run(self) -> PartRun | None:
        return self.opened.conductor.state.run

    @property
    def rotation(self) -> PartRun:
        return next(run for run in self.opened.conductor.state.runs if run.part.kind == "rotation")

    @property
    def position_ms(self) -> int:
        return self.rotation.position_ms(self.opened.conductor.class_ms())

    def pass_time(self, ms: int) -> None:
        for step_ms in [100] * (ms // 100) + [ms % 100]:
            self.clock.move_ms(step_ms)
            self.coach.run(self.opened.conductor)
            self.athletes.run(self.opened.conductor)
            self.opened.settle()
            self.opened.conductor.tick()

    def until(self, position_ms: int) -> None:
        self.pass_time(position_ms - self.position_ms)

    def give(self, athlete: str, move: str, amount: int, unit: Unit) -> None:
        at_ms = self.opened.conductor.stamp()
        self.opened.conductor.send(TargetChanged(at_ms=at_ms, athlete=athlete, move=move, target=Target(Fraction(amount), unit)))
        self.opened.settle()

    def mark(self, athlete: str, interval: int) -> Mark:
        return self.rotation.marks[athlete, interval]


def plain_class(tmp_path: Path) -> dict[tuple[str, int], Mark]:
    """What everybody does where nobody changes anything."""
    floor = Floor(tmp_path / "plain", tmp_path / "plain home")
    floor.until(500_000)
    floor.opened.close()
    return floor.rotation.marks


def test_an_amount_changed_in_mid_class_changes_the_next_splits_in_proportion(tmp_path: Path) -> None:
    before = plain_class(tmp_path)
    floor = Floor(tmp_path, tmp_path / "home")
    floor.until(130_000)
    floor.give("Ilka", "step-up", 5, Unit.REPS)
    floor.give("Ilka", "row", 300, Unit.METRES)
    floor.until(500_000)
    floor.opened.close()
    after = floor.rotation.marks
    assert {place: mark for place, mark in after.items() if place[0] != "Ilka" or place[1] < 2} == {
        place: mark for place, mark in before.items() if place[0] != "Ilka" or place[1] < 2
    }
    half, whole = after["Ilka", 6], before["Ilka", 6]
    assert half.amount == 5
    assert whole.amount == 10
    assert half.split_ms is not None
    assert whole.split_ms is not None
    # Half the reps take half the time, and setting up takes what it took.
    set_up_ms = 2 * half.split_ms - whole.split_ms
    assert set_up_ms == pytest.approx(SETTING_UP_S * 1000, rel=0.15)
    assert before["Ilka", 7].status is Status.DONE
    assert after["Ilka", 7].status is Status.NOT_FINISHED, "three halves of a row that just fitted"


def test_who_is_told_of_less_in_the_middle_of_the_work_stops_there(tmp_path: Path) -> None:
    whole_ms = plain_class(tmp_path)["Ilka", 0].split_ms or 0
    floor = Floor(tmp_path, tmp_path / "home")
    floor.until(whole_ms - 3_000)
    floor.give("Ilka", "step-up", 9, Unit.REPS)
    floor.until(60_000)
    assert floor.mark("Ilka", 0).amount == 9
    assert whole_ms - 3_000 < (floor.mark("Ilka", 0).split_ms or 0) < whole_ms - 1_000
    floor.opened.close()
    late = Floor(tmp_path / "late", tmp_path / "late home")
    late.until(whole_ms - 3_000)
    late.give("Ilka", "step-up", 2, Unit.REPS)
    late.until(60_000)
    late.opened.close()
    assert late.mark("Ilka", 0).split_ms == pytest.approx(whole_ms - 3_000, abs=200), "who has done more already stops at once"


def test_who_is_done_already_does_no_more_for_a_changed_amount(tmp_path: Path) -> None:
    whole_ms = plain_class(tmp_path)["Ilka", 0].split_ms or 0
    floor = Floor(tmp_path, tmp_path / "home")
    floor.until(whole_ms + 2_000)
    floor.give("Ilka", "step-up", 14, Unit.REPS)
    floor.until(60_000)
    floor.opened.close()
    assert floor.mark("Ilka", 0).split_ms == whole_ms
    assert floor.mark("Ilka", 0).amount == 10


def test_an_interval_that_begins_again_is_worked_again(tmp_path: Path) -> None:
    floor = Floor(tmp_path, tmp_path / "home")
    floor.until(50_000)
    first = {place: mark.split_ms for place, mark in floor.rotation.marks.items()}
    floor.opened.conductor.send(WentBack(at_ms=floor.opened.conductor.stamp()))
    floor.opened.settle()
    assert floor.rotation.marks == {}
    floor.pass_time(55_000)
    floor.opened.close()
    assert {place: mark.split_ms for place, mark in floor.rotation.marks.items()} == first != {}


def test_playing_ends_with_the_class(tmp_path: Path, home: Path) -> None:
    plan = plan_at(tmp_path)
    clock = ManualClock(WALL)
    opened = start_class(plan, home, clock, rehearsal=True)
    play(opened.conductor, clock, InventedAthletes(plan.session, plan.roster, 1), opened.settle)
    opened.close()
    assert opened.conductor.state.over
    assert opened.conductor.state.ended_by_coach


def test_a_rehearsal_looks_at_its_athletes_twice_an_interval_however_long_it_is(tmp_path: Path, home: Path) -> None:
    plan = plan_at(tmp_path, SESSION.replace("rounds: 3", "rounds: 40"))
    clock = ManualClock(WALL)
    opened = start_class(plan, home, clock, rehearsal=True)
    looks: list[int] = []

    class Watched(InventedAthletes):
        def run(self, conductor: Conductor) -> None:
            looks.append(conductor.class_ms())
            super().run(conductor)

    play(opened.conductor, clock, Watched(plan.session, plan.roster, 1), opened.settle)
    opened.close()
    rotation = next(run for run in opened.conductor.state.runs if run.part.kind == "rotation")
    within = [at_ms for at_ms in looks if rotation.begun_ms < at_ms < (rotation.ended_ms or 0)]
    assert len(within) <= 2 * (len(rotation.timeline.intervals) + 1) == 242
    assert len(rotation.marks) > 200
