"""Beside an editor: what was saved is shown, what can't be read leaves what was there."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from textual.pilot import Pilot

from floorclock.tui.edit import EditApp
from tests.plan.shipped import SESSIONS

ROSTER = SESSIONS / "harbour-roster.yaml"


@pytest.fixture
def plan(tmp_path: Path) -> Path:
    path = tmp_path / "plan.yaml"
    path.write_bytes((SESSIONS / "harbour.yaml").read_bytes())
    return path


async def saved(pilot: Pilot[None], path: Path, text: str) -> None:
    """Saves as editors do, by another file in the place of the old one, and waits until it is shown."""
    app = pilot.app
    assert isinstance(app, EditApp)
    before = app.looks
    path.with_suffix(".new").write_text(text, encoding="utf-8")
    os.replace(path.with_suffix(".new"), path)
    for _ in range(200):
        await pilot.pause(0.02)
        if app.looks > before:
            return
    raise AssertionError("the save was not seen")


def shown(app: EditApp, pane: str) -> str:
    return str(app.query_one(f"#{pane} Static").render())


@pytest.mark.parametrize("size", [(80, 24), (160, 45)])
async def test_all_four_are_there_at_once(plan: Path, size: tuple[int, int]) -> None:
    app = EditApp(plan, ROSTER)
    async with app.run_test(size=size) as pilot:
        await pilot.pause()
        assert str(app.query_one("#findings").border_title) == "Five trips round the harbour: nothing to mend"
        assert "12:10  The harbour: every minute on the minute" in shown(app, "timeline")
        assert "box jump: Sefa, Odd, Runa, Kasimir" in shown(app, "groups")
        assert "kettlebell: 16 at once, 16 there" in shown(app, "groups")
        assert "14 names at once" in shown(app, "legibility")
        titles = [str(app.query_one(f"#{pane}").border_title) for pane in ("timeline", "groups", "legibility")]
        assert titles == ["the hour", "who starts where", "from the back"]
        assert all(app.query_one(f"#{pane}").size.height >= 3 for pane in ("findings", "timeline", "groups", "legibility"))


async def test_a_save_is_shown_and_a_mistake_leaves_the_last_good_plan(plan: Path) -> None:
    text = plan.read_text(encoding="utf-8")
    app = EditApp(plan, None)
    async with app.run_test(size=(100, 30)) as pilot:
        await pilot.pause()
        assert "a roster tells who starts where" in shown(app, "groups")
        await saved(pilot, plan, text.replace("time: 12:00", "time: 14:00"))
        assert "14:10  The harbour" in shown(app, "timeline")
        await saved(pilot, plan, text.replace("every: 1:00", "evry: 1:00"))
        assert str(app.query_one("#findings").border_title) == "plan.yaml: 1 problem"
        assert "x 21: unknown key `evry` (did you mean `every`?)" in shown(app, "findings")
        assert "14:10  The harbour" in shown(app, "timeline")
        plan.unlink()
        await pilot.pause(0.3)
        assert "no such file" in shown(app, "findings")
        await saved(pilot, plan, text)
        assert str(app.query_one("#findings").border_title) == "Five trips round the harbour: nothing to mend"


async def test_nothing_is_worked_out_while_nothing_is_saved_and_markup_is_text(plan: Path) -> None:
    text = plan.read_text(encoding="utf-8")
    plan.write_text(text.replace("session: Five trips round the harbour", "session: '[/]Five'"), encoding="utf-8")
    app = EditApp(plan, ROSTER)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause(0.3)
        assert app.looks == 1
        assert "[/]Five" in app.screen._compositor.render_strips()[0].text
        await pilot.press("escape")
