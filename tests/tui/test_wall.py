"""The second screen: what the class may see of a class that another process runs."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from pathlib import Path

import pytest

from floorclock.clock.events import ClassEnded
from floorclock.errors import NotFound
from floorclock.journal.beat import beat_path
from floorclock.live.conductor import SystemClock
from floorclock.live.opening import start_class
from floorclock.tui.floor.view import FloorView
from floorclock.tui.wall import WallApp, running_class
from tests.opened_classes import Opened, plan_at, started

SESSION = """\
session: Quay
count_in: 0
parts:
  - kind: rotation
    title: The quay
    every: 1:00
    rounds: 3
    stations: [{move: step-up, target: 10 reps}, {move: row, target: 9 reps}]
"""
LONGEST_WAIT_S = 5.0


@pytest.fixture
def running(tmp_path: Path) -> Opened:
    """A class that runs by this machine's clock, with one tap."""
    opened = start_class(plan_at(tmp_path, SESSION), tmp_path / "home", SystemClock())
    one = Opened(opened, opened.conductor.clock)  # type: ignore[arg-type]
    one.begin()
    one.tap("Ilka")
    opened.beat()
    return one


async def test_it_goes_on_to_the_next_class(running: Opened, tmp_path: Path) -> None:
    app = WallApp(running.opened.path)
    async with app.run_test(size=(160, 45)):
        await until(app, lambda view: view.clock.mood == "work")
        running.send(ClassEnded)
        running.opened.close()
        following = start_class(plan_at(tmp_path, SESSION.replace("Quay", "Pier")), tmp_path / "home", SystemClock())
        following.beat()
        view = await until(app, lambda view: view.head.session == "Pier")
        assert view.clock.mood == "ready"
        following.close()


async def until(app: WallApp, true: Callable[[FloorView], bool]) -> FloorView:
    """The first view of which something is true."""
    ends = asyncio.get_running_loop().time() + LONGEST_WAIT_S
    while app.panel.view is None or not true(app.panel.view):
        assert asyncio.get_running_loop().time() < ends, app.panel.view
        await asyncio.sleep(0.01)
    return app.panel.view


async def test_it_shows_clock_work_names_and_who_is_done_and_nothing_else_of_anybody(running: Opened) -> None:
    app = WallApp(running.opened.path)
    async with app.run_test(size=(160, 45)):
        view = await until(app, lambda view: view.clock.mood == "work")
        assert [(row.name, row.status) for row in view.rows] == [("Ilka", "done"), ("Bram", "work"), ("Noor", "work")]
        assert all(not (row.split or row.left or row.detail or row.past or row.flag) for row in view.rows)
        assert (view.coach.calls, view.coach.notice) == ((), "")
        assert [key for key, _ in view.keys] == ["Page Down", "Esc"]
        running.tap("Bram")
        await until(app, lambda view: view.rows[1].status == "done")
    running.die()


async def test_a_floor_that_is_gone_is_said_and_an_ended_class_is_shown_as_ended(running: Opened) -> None:
    app = WallApp(running.opened.path)
    beat_path(running.opened.path).unlink(missing_ok=True)
    async with app.run_test():
        await until(app, lambda view: view.head.badge == "THE FLOOR DOES NOT ANSWER")
        running.opened.beat()
        await until(app, lambda view: view.head.badge == "")
    running.die()


async def test_escape_closes_it_and_the_records_are_as_they_were(running: Opened) -> None:
    before = running.opened.path.read_bytes()
    app = WallApp(running.opened.path)
    async with app.run_test() as pilot:
        await until(app, lambda view: bool(view.rows))
        await pilot.press("escape")
    assert running.opened.path.read_bytes() == before
    running.die()


async def test_a_journal_that_says_nothing_closes_it_with_words(tmp_path: Path) -> None:
    (tmp_path / "x.jsonl").write_bytes(b"nothing\n")
    app = WallApp(tmp_path / "x.jsonl")
    async with app.run_test():
        pass
    assert "does not say what the class started from" in app.trouble


def test_the_class_that_runs_is_followed_and_one_that_is_named_whether_it_runs_or_not(tmp_path: Path) -> None:
    home = tmp_path / "home"
    over = started(plan_at(tmp_path), home)
    over.begin()
    over.opened.close()
    with pytest.raises(NotFound, match="no class runs on this machine"):
        running_class(home)
    one = started(plan_at(tmp_path), home)
    one.begin()
    assert running_class(home) == one.opened.path
    assert running_class(home, over.opened.id) == over.opened.path
    one.opened.close()
