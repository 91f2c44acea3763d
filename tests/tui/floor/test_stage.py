"""The whole floor: at every size, and repainting only what differs."""

from __future__ import annotations

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import replace
from typing import get_args

import pytest
from textual.geometry import Region
from textual.pilot import Pilot

from floorclock.tui.base.painted import Painted
from floorclock.tui.base.palette import Mood
from floorclock.tui.floor.clock_widget import NumeralPane
from floorclock.tui.floor.view import FloorView
from tests.tui.floor.sample_views import floor_view, later
from tests.tui.floor.stage_app import StageApp

SWEEP = [
    (20, 6),
    (21, 7),
    (30, 9),
    (40, 12),
    (63, 10),
    (64, 11),
    (80, 24),
    (100, 30),
    (160, 45),
    (30, 80),
    (240, 8),
    (240, 67),
    (400, 100),
]
VIEWS = {
    "six": floor_view(6, lane=True),
    "forty": floor_view(40),
    "odd names": floor_view(20, odd_names=True),
    "brief": floor_view(14, "ready", brief=True),
    "nobody": replace(floor_view(0), rows=()),
}


def widgets(app: StageApp) -> list[Painted[object]]:
    return list(app.query(Painted))


def in_sight(app: StageApp) -> list[Painted[object]]:
    shown = {widget for widget, _ in app.screen._compositor.visible_widgets.items()}
    return [widget for widget in widgets(app) if widget in shown]


@asynccontextmanager
async def on_stage(view: FloorView, size: tuple[int, int] = (160, 45)) -> AsyncIterator[tuple[StageApp, Pilot[None]]]:
    """A view, shown and drawn."""
    app = StageApp(view)
    async with app.run_test(size=size) as pilot:
        await pilot.pause()
        yield app, pilot


def screen_text(app: StageApp) -> str:
    return "\n".join(strip.text for strip in app.screen._compositor.render_strips())


@pytest.mark.parametrize("view", VIEWS.values(), ids=VIEWS.keys())
async def test_every_size_is_painted_to_the_cell(view: FloorView) -> None:
    async with on_stage(view, (80, 24)) as (app, pilot):
        for width, height in SWEEP:
            await pilot.resize_terminal(width, height)
            await pilot.pause()
            for widget in in_sight(app):
                for y in range(widget.size.height):
                    assert widget.render_line(y).cell_length == widget.size.width, (widget, width, height, y)
            assert len(screen_text(app).splitlines()) == height


@pytest.mark.parametrize("mood", get_args(Mood))
async def test_every_mood_is_said_in_words_or_letters(mood: Mood) -> None:
    view = floor_view(14, mood)
    async with on_stage(view, (80, 24)) as (app, _):
        assert view.clock.mood_word in screen_text(app)


async def test_a_screen_smaller_than_anything_sensible_keeps_running() -> None:
    async with on_stage(floor_view(14), (80, 24)) as (app, pilot):
        for width, height in [(1, 1), (2, 2), (5, 3), (10, 4), (19, 5), (300, 1), (1, 60), (80, 24)]:
            await pilot.resize_terminal(width, height)
            await pilot.pause()
        assert "Fenna" in screen_text(app)


class Refreshes:
    """What each widget asked to have repainted; a numeral of the clock goes by its character."""

    def __init__(self, app: StageApp, monkeypatch: pytest.MonkeyPatch) -> None:
        self.asked: dict[str, tuple[Region, ...]] = {}
        for widget in widgets(app):
            monkeypatch.setattr(widget, "refresh", self._note(widget))

    def _note(self, widget: Painted[object]) -> object:
        def refresh(*regions: Region, **_: object) -> None:
            name = str(widget.view[0]) if isinstance(widget, NumeralPane) and widget.view else widget.id or ""
            self.asked[name] = regions

        return refresh


async def test_the_same_view_again_repaints_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    view = floor_view(24)
    async with on_stage(view) as (app, _):
        refreshes = Refreshes(app, monkeypatch)
        app.stage.show(replace(view, head=replace(view.head)))
        assert refreshes.asked == {}


async def test_a_second_repaints_the_numeral_that_changed_and_the_end_of_the_bar(monkeypatch: pytest.MonkeyPatch) -> None:
    view = floor_view(24)
    async with on_stage(view) as (app, _):
        refreshes = Refreshes(app, monkeypatch)
        app.stage.show(later(view, "0:26", 0.57))
        assert set(refreshes.asked) == {"6", "bar"}
        assert sum(region.area for region in refreshes.asked["bar"]) <= 6


async def test_a_text_of_another_shape_moves_the_numerals() -> None:
    view = floor_view(24)
    async with on_stage(view) as (app, pilot):
        pane = next(widget for widget in in_sight(app) if isinstance(widget, NumeralPane))
        before = pane.region
        app.stage.show(later(view, "-12:34.5", 0.57))
        await pilot.pause()
        assert pane.region != before
        assert pane.view is not None
        assert pane.view[0] == "5"
        await pilot.resize_terminal(100, 30)
        await pilot.pause()
        assert pane.size.height == pane.view[1].rows
        app.stage.show(later(view, "-12:34.6", 0.57))
        await pilot.pause()
        assert pane.view[0] == "6"


async def test_a_tap_repaints_one_row_of_one_column_and_the_header(monkeypatch: pytest.MonkeyPatch) -> None:
    view = floor_view(24)
    async with on_stage(view) as (app, _):
        refreshes = Refreshes(app, monkeypatch)
        at = next(at for at, row in enumerate(view.rows) if row.status == "work")
        tapped = replace(view.rows[at], status="done", split="33.0", left="27 left")
        app.stage.show(replace(view, rows=(*view.rows[:at], tapped, *view.rows[at + 1 :])))
        assert set(refreshes.asked) == {"board"}
        header, row = refreshes.asked["board"]
        assert (header.y, header.height, row.y, row.height) == (0, 1, 1 + at, 1)
        assert row.right <= app.stage.board.size.width // 2


async def test_a_press_names_the_athlete_under_it_and_when() -> None:
    async with on_stage(floor_view(14)) as (app, pilot):
        app.last_event_time = 12.5
        await pilot.mouse_down("#board", offset=(8, 2))
        await pilot.pause()
        assert [(press.athlete, press.stamp_s) for press in app.pressed] == [("Bram", 12.5)]
        app.last_event_time = None
        await pilot.mouse_down("#board", offset=(8, 0))
        await pilot.mouse_down("#board", offset=(8, 1))
        await pilot.pause()
        assert [press.athlete for press in app.pressed] == ["Bram", "Ilka"]
        assert app.pressed[1].stamp_s > 0


async def test_the_board_turns_its_pages_and_those_at_work_stay_in_sight() -> None:
    view = floor_view(40)
    at_work = {row.athlete for row in view.rows if row.status == "work"}
    async with on_stage(view, (80, 24)) as (app, pilot):
        seen: set[str] = set()
        for number in range(1, app.stage.board.page.count + 1):
            assert f"page {number} of {app.stage.board.page.count}" in screen_text(app)
            assert at_work <= set(app.stage.board.page.shown)
            seen |= set(app.stage.board.page.shown)
            app.stage.turn_page()
            await pilot.pause()
        assert seen == {row.athlete for row in view.rows}
        assert app.stage.board.page.number == 1


async def test_a_whole_class_at_work_takes_turns_on_a_small_screen() -> None:
    view = floor_view(40)
    view = replace(view, rows=tuple(replace(row, status="work") for row in view.rows))
    async with on_stage(view, (80, 24)) as (app, _):
        page = app.stage.board.page
        assert f"page 1 of {page.count}, {40 - len(page.shown)} more at work" in screen_text(app)
        app.stage.turn_page(-1)
        assert app.stage.board.page.number == page.count


async def test_nobody_can_be_turned_out_of_sight_where_everybody_fits() -> None:
    async with on_stage(floor_view(14)) as (app, _):
        before = app.stage.board.page
        app.stage.turn_page()
        assert app.stage.board.page == before


async def test_a_brief_stands_in_place_of_the_lanes_and_goes_again() -> None:
    async with on_stage(floor_view(14, "ready", brief=True)) as (app, pilot):
        assert app.stage.brief in in_sight(app)
        assert app.stage.lanes not in in_sight(app)
        app.stage.show(floor_view(14))
        await pilot.pause()
        assert app.stage.brief not in in_sight(app)
        assert app.stage.lanes in in_sight(app)


async def test_the_badge_and_the_calls_and_the_caution_are_in_sight_at_80_by_24() -> None:
    view = floor_view(24)
    async with on_stage(view, (80, 24)) as (app, _):
        text = screen_text(app)
        assert view.head.badge in text
        assert "Sefa runs out in round 5" in text
        assert "Odd tight" in text
        assert "CAUTION  Stop on sharp pain, chest pain or dizziness" in text


async def test_a_long_caution_stands_whole_above_the_calls_and_in_few_rows_turns_its_pages() -> None:
    words = "Walk tall, never run with a load. Set the bell down with a straight back. " * 2 + "Nobody stands behind it."
    view = floor_view(14)
    view = replace(view, coach=replace(view.coach, caution=words))
    for size, whole in (((80, 24), True), ((40, 12), False)):
        app = StageApp(view)
        async with app.run_test(size=size) as pilot:
            seen = set[str]()
            for _ in range(9):
                await pilot.pause()
                seen |= set(" ".join(screen_text(app).split()).split("CAUTION")[-1].split())
                assert not whole or set(words.split()) <= seen
                app.stage.turn_page()
            assert set(words.split()) <= seen
