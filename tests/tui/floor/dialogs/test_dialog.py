"""What holds for every dialog: no tap is lost, the floor stays seen and alive, and the panel keeps to its room."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from textual import events
from textual.geometry import Region

from floorclock.tui.floor.dialogs import (
    AddLatecomer,
    AskMargin,
    AthleteSheet,
    Confirm,
    HelpPage,
    PersonChoice,
    PickAthlete,
    ResultRow,
    ResultsEntry,
    ResumeQuestion,
)
from floorclock.tui.floor.dialogs.athlete_facts import AthleteFacts, GroupLine, SplitRow
from floorclock.tui.floor.dialogs.dialog import Dialog, DialogPanel
from tests.tui.floor.dialogs.floor_behind import NAUGHTY_NAMES, UNANSWERED, FloorBehind, Ticking, answer_to, look_at, opened

Maker = Callable[[], Dialog[Any]]

KEYS = [("class", "space", "pause and go on"), ("people", "a to z", "somebody is done")] * 12
LONG = "a very long explanation of what this would do to the class that runs, told in many more words than anybody reads " * 3

WITHOUT_TYPING: dict[str, Maker] = {
    "confirm": lambda: Confirm("End this part?", LONG, "ends the part"),
    "pick": lambda: PickAthlete([PersonChoice(name, key) for name, key in zip(NAUGHTY_NAMES, "ABCDEFG", strict=True)], "Who?"),
    "sheet": lambda: AthleteSheet(
        AthleteFacts(name=NAUGHTY_NAMES[0], key="s", splits=tuple(SplitRow(at, at + 1, "squat", "41.2") for at in range(30)))
    ),
    "resume": lambda: ResumeQuestion("The class was away for 3 min.", "round 3, 0:41 left", "round 4, 0:21 left"),
}
WITH_TYPING: dict[str, Maker] = {
    "latecomer": lambda: AddLatecomer(NAUGHTY_NAMES, "ABCDEFG", [GroupLine(1, LONG), GroupLine(2)]),
    "margin": lambda: AskMargin(15_000, f"for {NAUGHTY_NAMES[3]}"),
    "results": lambda: ResultsEntry([ResultRow(name, "", "7+12") for name in NAUGHTY_NAMES * 6], "amrap", "[/] results"),
}
ALL: dict[str, Maker] = {**WITHOUT_TYPING, **WITH_TYPING, "help": lambda: HelpPage(KEYS, "[/]")}


def each(makers: dict[str, Maker]) -> pytest.MarkDecorator:
    return pytest.mark.parametrize("make", makers.values(), ids=makers.keys())


@each(ALL)
async def test_escape_cancels(make: Maker) -> None:
    assert await answer_to(make(), "escape") in (None, False)


@each(ALL)
@pytest.mark.parametrize("size", [(80, 24), (40, 12), (160, 45), (20, 6), (240, 67)])
async def test_the_panel_stands_bottom_right_and_fits_its_room(make: Maker, size: tuple[int, int]) -> None:
    lines = await look_at(make(), size=size)
    assert lines[0].strip()


@each(ALL)
async def test_resizing_while_open_keeps_the_panel_in_its_room(make: Maker) -> None:
    app = FloorBehind()
    async with app.run_test(size=(160, 45)) as pilot:
        dialog = make()
        await opened(pilot, dialog)
        for width, height in [(40, 12), (20, 6), (100, 30)]:
            await pilot.resize_terminal(width, height)
            await pilot.pause()
            region = dialog.query_one(DialogPanel).region
            assert Region(0, 0, width, height).contains_region(region)
            assert (region.right, region.bottom) == (width, height)


@each(WITHOUT_TYPING)
async def test_a_dialog_without_typing_passes_taps_on_and_stays_open(make: Maker) -> None:
    app = FloorBehind()
    async with app.run_test() as pilot:
        dialog = make()
        await opened(pilot, dialog)
        await pilot.press("i", "space", "9", "é", "plus")
        await pilot.pause()
        assert app.passed_characters == "i 9é+"
        assert app.screen is dialog
        assert app.bubbled == []


@each(WITH_TYPING)
async def test_a_dialog_with_typing_says_so_and_keeps_what_is_typed(make: Maker) -> None:
    app = FloorBehind()
    async with app.run_test(size=(60, 20)) as pilot:
        dialog = make()
        await opened(pilot, dialog)
        title = dialog.query_one(DialogPanel).render_line(0).text
        await pilot.press("i", "9", "space")
        await pilot.pause()
        assert "typing: no taps" in title
        assert app.passed == []


async def test_a_passed_key_carries_the_time_at_which_it_was_read() -> None:
    app = FloorBehind()
    async with app.run_test() as pilot:
        await opened(pilot, Confirm("Leave?", "", "leaves"))
        key = events.Key("i", "i")
        key.time = 123.456
        app.post_message(key)
        await pilot.pause()
        assert [passed.time for passed in app.passed] == [123.456]


@each(ALL)
async def test_taps_on_the_heels_of_the_key_that_closes_are_not_lost(make: Maker) -> None:
    app = FloorBehind()
    async with app.run_test() as pilot:
        await opened(pilot, make())
        for key in ("escape", "i", "b", "n"):
            app.post_message(events.Key(key, None if key == "escape" else key))
        await pilot.pause()
        await pilot.pause()
        assert len(app.answers) == 1
        assert len(app.screen_stack) == 1
        heard = [key.key for key in app.passed] + [key for key in app.bubbled if key != "escape"]
        assert sorted(heard) == ["b", "i", "n"]


async def test_two_closing_keys_at_once_close_once() -> None:
    app = FloorBehind()
    async with app.run_test() as pilot:
        await opened(pilot, Confirm("Leave?", "", "leaves"))
        for key in ("enter", "enter", "escape"):
            app.post_message(events.Key(key, None))
        await pilot.pause()
        assert app.answers == [True]


@each(ALL)
async def test_the_floor_behind_goes_on_and_is_not_dimmed(make: Maker) -> None:
    app = FloorBehind()
    async with app.run_test(size=(160, 45)) as pilot:
        await opened(pilot, make())
        behind = app.screen_stack[0].query_one(Ticking)
        painted = behind.painted
        behind.text = "0:58"
        behind.refresh()
        await pilot.pause(0.1)
        assert behind.painted > painted
        assert app.screen.styles.background.a == 0
        assert "0:58" in app.export_screenshot()


async def test_the_app_can_tell_a_click_on_the_floor_from_one_on_the_panel() -> None:
    app = FloorBehind()
    async with app.run_test(size=(160, 45)) as pilot:
        dialog = Confirm("Leave?", "", "leaves")
        await opened(pilot, dialog)
        assert not dialog.covers(3, 3)
        assert dialog.covers(158, 43)


async def test_a_click_on_the_yes_is_a_yes() -> None:
    app = FloorBehind()
    async with app.run_test(size=(80, 24)) as pilot:
        dialog = Confirm("Leave?", "", "leaves")
        await opened(pilot, dialog)
        await pilot.click(DialogPanel, offset=(4, 2))
        await pilot.pause()
        assert app.answers == [True]


@each(ALL)
async def test_pasted_control_characters_never_get_in(make: Maker) -> None:
    app = FloorBehind()
    async with app.run_test() as pilot:
        dialog = make()
        await opened(pilot, dialog)
        app.post_message(events.Paste("a\x1b[31mb\x00"))
        await pilot.pause()
        panel = dialog.query_one(DialogPanel)
        text = "".join(panel.render_line(y).text for y in range(panel.content_size.height))
        assert "\x1b" not in text
        assert "\x00" not in text
        assert "31m" not in text


async def test_a_dialog_that_was_not_answered_answers_nothing() -> None:
    assert await answer_to(Confirm("Leave?", "", "leaves"), "i") is UNANSWERED
