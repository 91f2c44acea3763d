"""A class from its start to its journal and back: what is folded again is what was live, however the class ended."""

from __future__ import annotations

import errno
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest

from floorclock.clock.events import MarginChanged, Paused
from floorclock.clock.tally import splits
from floorclock.errors import InputProblems, NotFound
from floorclock.journal.beat import Beat, beat_path, write_beat
from floorclock.journal.reading import header_line, read_journal
from floorclock.journal.shelf import Shelf
from floorclock.live import shipped
from floorclock.live.afterwards import recorded_digest
from floorclock.live.conductor import ManualClock
from floorclock.live.opening import resume_class, start_class
from floorclock.live.plan_files import read_plan
from tests.clock.classes import WALL
from tests.journal.failing_disk import RefusingDisk
from tests.opened_classes import MovingWallClock, Opened, folded, plan_at, resumed, some_of_everything, started, use_disk


@pytest.fixture
def running(tmp_path: Path, home: Path) -> Opened:
    """A class in the middle of its second part."""
    live = started(plan_at(tmp_path), home)
    some_of_everything(live)
    return live


def restarted(running: Opened, after_s: float) -> MovingWallClock:
    """The clock of a machine that comes back after a while."""
    clock = MovingWallClock()
    clock.apart = running.clock.wall() - clock.wall() + timedelta(seconds=after_s)
    return clock


def test_a_class_folded_from_its_journal_equals_the_live_one(running: Opened) -> None:
    running.die()
    again = folded(running.opened.path, running.state.now_ms)
    assert again == running.state
    assert [split.split_ms for split in splits(again) if split.split_ms] != []


def test_an_event_is_on_the_disk_before_the_class_shows_it(tmp_path: Path, home: Path) -> None:
    live = started(plan_at(tmp_path), home)
    kept: list[bool] = []
    live.opened.conductor.on_folded.append(lambda event, _: kept.append(event in read_journal(live.opened.path).events))
    some_of_everything(live)
    live.die()
    assert len(kept) == len(read_journal(live.opened.path).events) > 10
    assert all(kept)


def test_a_resumed_class_has_every_tap_and_is_paused(running: Opened) -> None:
    before = splits(running.state)
    running.die()
    # A heartbeat from before the last event is of no use.
    write_beat(beat_path(running.opened.path), Beat(5_000, running.clock.wall()))
    again = resumed(running.opened.path)
    assert splits(again.state) == before
    assert again.state.paused
    assert (again.opened.id, again.state.margin_ms) == (running.opened.id, running.state.margin_ms)
    assert again.state.now_ms == running.state.now_ms
    again.die()


def test_a_class_paused_by_the_coach_is_not_paused_twice_and_waits_however_long_it_was_away(running: Opened) -> None:
    running.opened.conductor.pause()
    running.opened.settle()
    running.die()
    again = resumed(running.opened.path, restarted(running, 360))
    again.die()
    assert sum(isinstance(event, Paused) for event in read_journal(running.opened.path).events) == 2
    assert again.state.paused
    assert again.opened.away_ms is None


def test_a_floor_that_dies_while_it_asks_asks_again_from_where_the_class_really_stopped(running: Opened) -> None:
    running.die()
    for after_s in (120, 300):
        asked = resumed(running.opened.path, restarted(running, after_s))
        asked.die()
        assert asked.opened.away_ms == after_s * 1_000


def test_a_damaged_line_and_a_torn_tail_cost_no_other(running: Opened) -> None:
    running.die()
    lines = running.opened.path.read_bytes().splitlines(keepends=True)
    at = next(number for number, line in enumerate(lines) if b'"tap"' in line)
    lines[at] = lines[at].replace(b"Ilka", b"Ilko")
    lines[-1] = lines[-1][: len(lines[-1]) // 2]
    running.opened.path.write_bytes(b"".join(lines))
    again = resumed(running.opened.path)
    assert again.opened.damage == 1
    # The header is no event; two are lost, and the pause of the new floor has come.
    assert len(read_journal(running.opened.path).events) == len(lines) - 2
    names = {split.athlete for split in splits(again.state) if split.split_ms is not None}
    assert "Bram" in names
    again.die()


def test_a_beat_later_than_the_last_event_says_where_the_clock_stood(running: Opened) -> None:
    running.wait(12_000)
    beat_at = running.opened.conductor.class_ms()
    running.die()
    write_beat(beat_path(running.opened.path), Beat(beat_at, running.clock.wall()))
    again = resumed(running.opened.path, restarted(running, 100))
    assert again.state.now_ms == beat_at
    assert again.opened.away_ms == 100_000
    again.die()


def test_boundaries_that_passed_before_the_machine_died_have_passed(running: Opened) -> None:
    at_ms, wall = running.state.now_ms + 120_000, running.clock.wall() + timedelta(minutes=2)
    running.die()
    write_beat(beat_path(running.opened.path), Beat(at_ms, wall))
    again = resumed(running.opened.path)
    run = again.state.run
    assert run is not None
    assert run.interval_at(at_ms) == run.interval_at(again.state.now_ms)
    again.die()
    assert folded(running.opened.path, again.state.now_ms) == again.state


@pytest.mark.parametrize("jump_ms", [0, 90_000])
def test_a_class_goes_on_from_where_it_stopped_or_from_where_it_would_be(running: Opened, jump_ms: int) -> None:
    stopped = running.state.now_ms
    position = running.state.runs[-1].position_ms(stopped)
    running.die()
    again = resumed(running.opened.path, restarted(running, 90))
    assert again.opened.away_ms == 90_000
    again.opened.conductor.carry_on(90_000, jump_ms, 0)
    again.opened.settle()
    assert not again.state.paused
    again.wait(1_000)
    run = again.state.runs[-1]
    assert run.position_ms(again.state.now_ms) == position + jump_ms + 1_000
    again.die()
    assert folded(running.opened.path, again.state.now_ms) == again.state


def test_a_class_can_be_interrupted_again_and_again(running: Opened) -> None:
    path, taken = running.opened.path, [split for split in splits(running.state) if split.split_ms is not None]
    running.die()
    for _ in range(3):
        again = resumed(path)
        again.opened.conductor.carry_on(1_000, 0, 0)
        again.opened.settle()
        again.wait(200)
        again.die()
        assert folded(path, again.state.now_ms) == again.state
    assert [split for split in splits(folded(path)) if split.split_ms is not None] == taken


def test_a_class_that_never_began_leaves_no_record_whatever_was_pressed(tmp_path: Path, home: Path) -> None:
    live = started(plan_at(tmp_path), home)
    live.tap("Ilka")
    live.send(MarginChanged, margin_ms=20_000)
    live.opened.beat()
    live.opened.close()
    assert Shelf(home).classes() == Shelf(home).interrupted() == ()
    assert list((home / "classes").iterdir()) == []


def test_a_start_still_on_its_way_when_the_floor_closes_is_kept(tmp_path: Path, home: Path) -> None:
    live = started(plan_at(tmp_path), home)
    live.opened.conductor.begin(0)
    live.opened.close()
    assert len(read_journal(live.opened.path).events) == 1
    assert [entry.id for entry in Shelf(home).interrupted()] == [live.opened.id]


def test_a_plan_that_this_version_cannot_read_is_said_and_lets_the_class_go(running: Opened) -> None:
    running.die()
    lines = running.opened.path.read_bytes().splitlines(keepends=True)
    header = read_journal(running.opened.path).header
    assert header is not None
    other = replace(header, session_text="session: x\nparts: 3\n")
    running.opened.path.write_bytes(header_line(other) + b"".join(lines[1:]))
    for _ in range(2):
        with pytest.raises(InputProblems):
            resume_class(running.opened.path, MovingWallClock())
    with pytest.raises(InputProblems):
        recorded_digest(running.opened.path)


def test_a_journal_without_its_first_line_cannot_be_summed_up_and_says_so(running: Opened) -> None:
    running.die()
    lines = running.opened.path.read_bytes().splitlines(keepends=True)
    running.opened.path.write_bytes(b"".join(lines[1:]))
    with pytest.raises(NotFound, match="does not say what the class started from"):
        recorded_digest(running.opened.path)
    with pytest.raises(NotFound):
        resume_class(running.opened.path, MovingWallClock())


def test_what_was_chosen_for_a_run_holds_after_it_was_interrupted(tmp_path: Path, home: Path) -> None:
    plan = plan_at(tmp_path)
    opened = start_class(plan, home, ManualClock(WALL), cues="count=5 voice=on", margin_ms=25_000)
    opened.conductor.begin(0)
    opened.settle()
    opened.close()
    again = resume_class(opened.path, ManualClock(WALL))
    again.close()
    assert again.session.cues == replace(plan.session.cues, count=5, voice=True)
    assert again.conductor.state.margin_ms == 25_000


def test_the_roster_may_choose_an_alternative_to_a_part(tmp_path: Path, home: Path) -> None:
    folder = shipped.folder("sessions")
    (tmp_path / "who.yaml").write_text(
        "roster: x\nathletes:\n  - {name: Ilka, options: {Carry and sit: shorter}}\n  - Bram\n", encoding="utf-8"
    )
    opened = start_class(read_plan(folder / "harbour.yaml", tmp_path / "who.yaml"), home, ManualClock(WALL))
    opened.close()
    assert opened.conductor.state.choices == {("Ilka", 3): "shorter"}


def test_what_a_full_disk_refused_counts_but_is_told_as_not_saved_until_there_is_room(
    tmp_path: Path, home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    disk = RefusingDisk()
    use_disk(monkeypatch, disk)
    live = started(plan_at(tmp_path), home)
    saved: list[bool] = []
    live.opened.conductor.on_folded.append(lambda event, outcome: saved.append(outcome.saved))
    live.begin()
    live.begin()
    disk.error = errno.ENOSPC
    live.wait(30_000)
    live.tap("Ilka")
    live.tap("Bram")
    assert saved == [True, True, False, False]
    assert [event.name for event in live.opened.conductor.unsaved] == ["tap", "tap"]
    assert live.opened.trouble == "disk full"
    assert splits(live.state)[0].split_ms == 20_000
    disk.error = None
    while live.opened.conductor.unsaved:
        live.opened.queue.wait()
        live.opened.queue.drain()
    assert live.opened.trouble == ""
    assert [event.name for event in read_journal(live.opened.path).events] == ["part begun"] * 2 + ["tap"] * 2
    live.tap("Noor")
    assert saved[-1]
    disk.error = errno.ENOSPC
    live.tap("Ilka")
    live.tap("Bram")
    assert live.opened.close() == 2
