"""What holds for every dialog: no tap is lost, the floor stays seen and alive, and the panel keeps to its room."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from rich.cells import cell_len
from rich.style import Style
from textual import events
from textual.geometry import Region

from floorclock.plan.roster import Athlete
from floorclock.tui.base.palette import INK, RAISED
from floorclock.tui.floor.dialogs.add_latecomer import AddLatecomer
from floorclock.tui.floor.dialogs.athlete_facts import AthleteFacts, SplitLine
from floorclock.tui.floor.dialogs.athlete_sheet import AthleteSheet
from floorclock.tui.floor.dialogs.dialog import (
    ALERT,
    CURSOR,
    FAINT,
    LONGEST_TEXT,
    STRONG,
    TITLE,
    Dialog,
    Field,
    first_in_sight,
    hint_line,
    in_cells,
    labelled,
    moved_cursor,
    paragraph,
    title_line,
)
from floorclock.tui.floor.dialogs.help_page import HelpPage
from floorclock.tui.floor.dialogs.offered import Offered
from floorclock.tui.floor.dialogs.pages import AskMargin, Confirm, ResumeQuestion
from floorclock.tui.floor.dialogs.pick_athlete import PickAthlete
from floorclock.tui.floor.dialogs.results_entry import ResultsEntry, ResultSoFar
from floorclock.tui.floor.view import OfferView
from tests.odd_names import A_FEW, ODD_NAMES
from tests.tui.base.test_palette import TEXT_CONTRAST, contrast
from tests.tui.floor.dialogs.floor_behind import (
    FloorBehind,
    Ticking,
    answer_to,
    opened,
    shown_lines,
)

Maker = Callable[[], Dialog[Any]]

NAMES = st.text(st.characters(exclude_categories=("Cc", "Cf", "Cs", "Co", "Cn")), max_size=40)
KEYS = [("class", "space", "pause and go on"), ("people", "a to z", "somebody is done")] * 12
LONG = "a very long explanation of what this would do to the class that runs, told in many more words than anybody reads " * 3

WITHOUT_TYPING: dict[str, Maker] = {
    "confirm": lambda: Confirm("End this part?", LONG, "ends the part"),
    "pick": lambda: PickAthlete([Athlete(name=name, key=key) for name, key in zip(A_FEW, "ABCDEFG", strict=True)], "Who?"),
    "sheet": lambda: AthleteSheet(
        AthleteFacts(
            name=A_FEW[0],
            recorded="",
            key="s",
            splits=tuple(SplitLine(0, at, at + 1, "squat", "41.2") for at in range(30)),
        )
    ),
    "offers": lambda: Offered([OfferView(name, name, "14 reps", "12 reps", LONG) for name in A_FEW * 5]),
    "resume": lambda: ResumeQuestion("The class was away for 3 min.", "round 3, 0:41 left", "round 4, 0:21 left"),
}
WITH_TYPING: dict[str, Maker] = {
    "latecomer": lambda: AddLatecomer(A_FEW, "ABCDEFG", {1: LONG, 2: ""}, 1),
    "margin": lambda: AskMargin(15_000, f"for {A_FEW[3]}"),
    "results": lambda: ResultsEntry([ResultSoFar(name, "", "7+12") for name in A_FEW * 6], "amrap", "[/] results"),
}
ALL: dict[str, Maker] = {**WITHOUT_TYPING, **WITH_TYPING, "help": lambda: HelpPage(KEYS)}


def each(makers: dict[str, Maker]) -> pytest.MarkDecorator:
    return pytest.mark.parametrize("make", makers.values(), ids=makers.keys())


@each(ALL)
async def test_escape_cancels(make: Maker) -> None:
    assert await answer_to(make(), "escape") is None


@each(ALL)
async def test_the_panel_stands_bottom_right_and_fits_its_room(make: Maker) -> None:
    dialog = make()
    async with opened(dialog, size=(240, 67)) as (_, pilot):
        for size in [(160, 45), (40, 12), (20, 6), (80, 24)]:
            await pilot.resize_terminal(*size)
            await pilot.pause()
            assert Region(0, 0, *size).contains_region(dialog.query_one("#panel").region)
            assert shown_lines(dialog, size)[0].strip()


@each(ALL)
async def test_a_window_without_room_for_a_letter_closes_nothing(make: Maker) -> None:
    dialog = make()
    async with opened(dialog, size=(1, 1)) as (app, pilot):
        for size in [(1, 6), (1, 45), (2, 6), (400, 1), (80, 24)]:
            await pilot.resize_terminal(*size)
            await pilot.pause()
        assert app.screen is dialog
        assert shown_lines(dialog, (80, 24))[0].strip()


@each(WITHOUT_TYPING)
async def test_a_dialog_without_typing_passes_taps_on_and_stays_open(make: Maker) -> None:
    dialog = make()
    async with opened(dialog, "i", "9", "é", "plus") as (app, _):
        assert app.passed_characters == "i9é+"
        assert app.screen is dialog
        assert app.bubbled == []


@each(WITH_TYPING)
async def test_a_dialog_with_typing_says_so_and_keeps_what_is_typed(make: Maker) -> None:
    dialog = make()
    async with opened(dialog, "i", "9", "space", size=(60, 20)) as (app, _):
        assert "typing: no taps" in shown_lines(dialog, (60, 20))[0]
        assert app.passed == []


async def test_a_passed_key_carries_the_time_at_which_it_was_read() -> None:
    async with opened(Confirm("Leave?", "", "leaves")) as (app, pilot):
        key = events.Key("i", "i")
        key.time = 123.456
        app.post_message(key)
        await pilot.pause()
        assert [passed.time for passed in app.passed] == [123.456]


@each(ALL)
async def test_taps_on_the_heels_of_the_key_that_closes_are_not_lost(make: Maker) -> None:
    async with opened(make(), "escape", "i", "b", "n") as (app, _):
        assert len(app.answers) == 1
        assert len(app.screen_stack) == 1
        heard = [key.key for key in app.passed] + [key for key in app.bubbled if key != "escape"]
        assert sorted(heard) == ["b", "i", "n"]


async def test_two_closing_keys_at_once_close_once() -> None:
    async with opened(Confirm("Leave?", "", "leaves"), "enter", "enter", "escape") as (app, _):
        assert app.answers == [True]


@each(ALL)
async def test_the_floor_behind_goes_on_and_is_not_dimmed(make: Maker) -> None:
    async with opened(make(), size=(160, 45)) as (app, pilot):
        behind = app.screen_stack[0].query_one(Ticking)
        painted = behind.painted
        behind.text = "0:58"
        behind.refresh()
        await pilot.pause(0.1)
        assert behind.painted > painted
        assert app.screen.styles.background.a == 0
        assert "0:58" in app.export_screenshot()


async def test_the_app_can_tell_a_click_on_the_floor_from_one_on_the_panel() -> None:
    dialog = Confirm("Leave?", "", "leaves")
    async with opened(dialog, size=(160, 45)):
        assert not dialog.covers(3, 3)
        assert dialog.covers(158, 43)


async def test_a_click_on_the_yes_is_a_yes() -> None:
    async with opened(Confirm("Leave?", "", "leaves")) as (app, pilot):
        await pilot.click("OptionList", offset=(4, 0))
        await pilot.pause()
        assert app.answers == [True]


@each(ALL)
async def test_pasted_control_characters_never_get_in(make: Maker) -> None:
    dialog = make()
    async with opened(dialog) as (app, pilot):
        app.post_message(events.Paste("a\x1b[31mb\x00"))
        await pilot.pause()
        text = "".join(shown_lines(dialog, (80, 24)))
        assert "\x1b" not in text
        assert "\x00" not in text
        assert "31m" not in text


@pytest.mark.parametrize("style", [FAINT, STRONG, ALERT, TITLE, CURSOR])
def test_every_style_is_read_on_the_panel(style: Style) -> None:
    """WCAG 2.2, success criterion 1.4.3: text has a contrast of 4.5 at least."""
    on_panel = Style(color=INK, bgcolor=RAISED) + style
    assert on_panel.color is not None
    assert on_panel.bgcolor is not None
    assert contrast(on_panel.color.name, on_panel.bgcolor.name) >= TEXT_CONTRAST


@settings(max_examples=200, deadline=None)
@given(NAMES, NAMES, st.integers(4, 60))
def test_a_line_fills_its_width_whatever_the_names(name: str, note: str, width: int) -> None:
    assert cell_len(in_cells(name, width)) == width
    assert labelled(name, note, width).cell_len == width
    assert title_line(name, "typing", width + 10).cell_len == width + 10


@pytest.mark.parametrize("name", ODD_NAMES)
def test_a_cut_name_keeps_its_start(name: str) -> None:
    assert in_cells(name, 4)[0] == name[0]


def test_the_name_is_kept_before_the_note() -> None:
    line = labelled("Alexandra", "runs out in round 5", 22).plain
    assert line.startswith("Alexandra  runs out")
    assert line.endswith("…")


def test_a_paragraph_is_broken_between_words_and_marked_once() -> None:
    assert [line.plain for line in paragraph("one two three four", 10, ALERT, 3, "!")] == [" ! one", "   two", "   three…"]
    assert paragraph("", 10) == []


def test_hints_that_do_not_fit_whole_are_left_out() -> None:
    hints = (("Enter", "yes"), ("Esc", "no"), ("F2", "more"))
    assert hint_line(hints, 80).plain == " Enter yes  Esc no  F2 more "
    assert hint_line(hints, 19).plain == " Enter yes  Esc no "
    assert hint_line(hints, 5).plain == ""


@pytest.mark.parametrize(
    ("cursor", "key", "there"),
    [
        (0, "up", 0),
        (0, "down", 3),
        (4, "up", 1),
        (9, "down", 9),
        (8, "down", 8),
        (0, "left", 0),
        (2, "right", 3),
        (9, "right", 9),
        (5, "home", 0),
        (5, "end", 9),
        (1, "pagedown", 7),
        (8, "pagedown", 9),
        (8, "pageup", 2),
        (5, "x", None),
        (5, "enter", None),
    ],
)
def test_the_cursor_moves_in_three_columns_of_two_rows(cursor: int, key: str, there: int | None) -> None:
    assert moved_cursor(cursor, key, 10, rows=2, columns=3) == there


def test_left_and_right_mean_nothing_in_one_column() -> None:
    assert moved_cursor(3, "left", 10, rows=5) is None
    assert moved_cursor(3, "right", 10, rows=5) is None


@given(st.integers(0, 99), st.integers(1, 100), st.integers(1, 30))
def test_what_is_in_sight_always_holds_the_cursor(at: int, count: int, rows: int) -> None:
    at = min(at, count - 1)
    first = first_in_sight(at, count, rows)
    assert 0 <= first <= at < first + rows


async def typed_into(offered: str, *keys: str) -> Field:
    """Single letters are typed, names of keys edit."""
    async with FloorBehind().run_test() as pilot:
        field = Field()
        await pilot.app.mount(field)
        field.offer(offered)
        for key in keys:
            if len(key) == 1:
                field.write(key)
            else:
                field.edit(key)
    return field


@pytest.mark.parametrize(
    ("keys", "text", "at"),
    [
        (("a", "b"), "ab", 2),
        (("a", "b", "left", "c"), "acb", 2),
        (("a", "b", "backspace"), "a", 1),
        (("backspace", "delete", "left"), "", 0),
        (("a", "b", "home", "delete"), "b", 0),
        (("a", "b", "home", "c", "end", "d"), "cabd", 4),
        (("a", "b", "c", "left", "ctrl+u"), "c", 0),
        (("a", "right", "b", "home", "right", "c"), "acb", 2),
    ],
)
async def test_keys_edit_a_field(keys: tuple[str, ...], text: str, at: int) -> None:
    field = await typed_into("", *keys)
    assert (field.value, field.cursor_position) == (text, at)


@pytest.mark.parametrize(("key", "text"), [("8", "8"), ("backspace", ""), ("delete", ""), ("left", "0:15"), ("end", "0:15")])
async def test_an_offered_text_is_typed_over_or_kept(key: str, text: str) -> None:
    assert (await typed_into("0:15", key)).value == text


async def test_a_field_has_a_longest_text() -> None:
    field = await typed_into("", *"a" * (LONGEST_TEXT - 1), "b", "c")
    assert field.value == "a" * (LONGEST_TEXT - 1) + "b"


async def test_other_keys_edit_nothing() -> None:
    field = await typed_into("ab", "f2", "enter", "tab")
    assert field.value == "ab"


async def test_what_still_waits_while_a_dialog_is_taken_down_does_no_harm() -> None:
    dialog = HelpPage(KEYS)
    async with opened(dialog):
        gone = dialog.remove()
        await dialog.query_one("#panel").remove()
        dialog.on_resize()
        dialog.on_key(events.Key("x", "x"))
        await gone
