"""The review driven by keys and clicks."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest
from textual import events
from textual.pilot import Pilot

from floorclock.digest.class_digest import Call, ClassDigest
from floorclock.pace.flags import Flag
from floorclock.tui.review.app import ALL_KEYS, ReviewApp
from floorclock.tui.review.view import TWO_COLUMNS
from tests.tui.review.sample_reviews import NAUGHTY, RememberedSource, big_class, finishers_only, nothing_recorded, small_class

CLASSES: dict[str, Callable[[], ClassDigest]] = {
    "small": small_class,
    "finishers only": finishers_only,
    "nothing": nothing_recorded,
    "one athlete": lambda: big_class(1, 5),
    "still to come": lambda: big_class(9, 6, run_of=3),
    "forty by thirty": lambda: big_class(40, 30),
}


def review(found: ClassDigest | None = None) -> tuple[ReviewApp, RememberedSource]:
    source = RememberedSource(small_class() if found is None else found)
    return ReviewApp(source.digest(), source), source


def text_of(app: ReviewApp) -> str:
    """What stands on the screen, row by row."""
    strips = app.screen._compositor.render_strips()
    return "\n".join(strip.text for strip in strips)


def rows_of(text: str) -> dict[str, str]:
    """The rows of the rest picture by the first word of their names, in their order."""
    lines = text.split("\n")
    first = next(at for at, line in enumerate(lines) if line.split()[-1:] and "median" in line) + 1
    return {line.split()[0].lstrip("▸"): line for line in lines[first:-1] if line.strip()}


def later(digit: str, seconds: float) -> events.Key:
    """A digit that is pressed some seconds from now."""
    key = events.Key(digit, digit)
    key.time += seconds
    return key


def press_at_once(app: ReviewApp, *keys: str) -> None:
    """Keys in one burst, none of them waited for."""
    for pressed in [events.Key("full_stop" if key == "." else key, key if len(key) == 1 else None) for key in keys]:
        app.post_message(pressed)


async def settled(pilot: Pilot[int]) -> str:
    """Waits until everything that is on its way has arrived."""
    assert isinstance(pilot.app, ReviewApp)
    await pilot.pause()
    await pilot.app.workers.wait_for_complete()
    await pilot.pause()
    return text_of(pilot.app)


@pytest.mark.parametrize(
    ("size", "name"), [*(((80, 24), name) for name in CLASSES), ((160, 45), "still to come"), ((240, 67), "small")], ids=str
)
async def test_every_view_of_every_class_can_be_shown(size: tuple[int, int], name: str) -> None:
    app, _ = review(CLASSES[name]())
    async with app.run_test(size=size) as pilot:
        for number, word in enumerate(("class", "rest", "athlete", "results", "effort"), start=1):
            await pilot.press(str(number))
            text = await settled(pilot)
            assert (f"▸{number} {word}" if word != "effort" else "▸effort") in text
            rows = text.split("\n")
            assert any(row.strip() for row in rows[3:-1])
            assert all(len(row) <= size[0] for row in rows if row.isascii())
    assert app.return_code in (None, 0)


async def test_keys_and_clicks_turn_between_the_views_and_question_mark_shows_all_keys() -> None:
    app, _ = review()
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("2")
        assert "▸2 rest" in await settled(pilot)
        await pilot.press("tab")
        assert "▸3 athlete" in await settled(pilot)
        await pilot.press("shift+tab", "shift+tab", "shift+tab")
        assert "▸effort" in await settled(pilot)
        await pilot.press("tab")
        line = (await settled(pilot)).split("\n")[1]
        await pilot.click(offset=(line.index("4 results") + 2, 1))
        assert "▸4 results" in await settled(pilot)
        await pilot.press("question_mark")
        assert "All keys" in await settled(pilot)
        await pilot.press("escape")
        text = await settled(pilot)
        assert "All keys" not in text
        assert "▸4 results" in text


@pytest.mark.parametrize("key", ["q", "escape", "f10", "ctrl+c"])
async def test_it_can_be_left(key: str) -> None:
    app, _ = review()
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press(key)
        await pilot.pause(0.1)
    assert app.return_value == 0


async def test_enter_and_a_click_in_the_picture_look_at_an_athlete_and_escape_goes_back() -> None:
    app, _ = review()
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("2", "down", "enter")
        text = await settled(pilot)
        assert "▸3 athlete" in text
        assert text.split("\n")[3].startswith(" Bram")
        await pilot.press("right")
        assert (await settled(pilot)).split("\n")[3].startswith(" Sefa")
        await pilot.press("left", "left", "left")
        assert (await settled(pilot)).split("\n")[3].startswith(" Runa")
        await pilot.press("escape")
        rows = (await settled(pilot)).split("\n")
        assert "▸2 rest" in rows[1]
        await pilot.click(offset=(12, next(y for y, row in enumerate(rows) if row[2:].startswith("Sefa"))))
        assert (await settled(pilot)).split("\n")[3].startswith(" Sefa")
        await pilot.press("3", "escape")
        await pilot.pause(0.1)
    assert app.return_value == 0, "from a view that nobody was asked for in, Escape leaves"


async def test_a_click_on_somebody_to_talk_to_looks_at_them() -> None:
    app, _ = review()
    async with app.run_test(size=(160, 45)) as pilot:
        rows = (await settled(pilot)).split("\n")
        y, row = next((y, row) for y, row in enumerate(rows) if "under the margin of 15 s" in row)
        await pilot.click(offset=(row.index("under the margin"), y))
        text = await settled(pilot)
        assert "▸3 athlete" in text
        assert text.split("\n")[3].startswith(" Bram")


async def test_the_picture_shows_the_least_rest_or_one_station_with_its_signs_and_can_be_put_in_order() -> None:
    app, _ = review()
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("2")
        assert "the least rest of each round" in await settled(pilot)
        await pilot.press("s")
        rows = rows_of(await settled(pilot))
        assert "!" in rows["Bram"].split("24")[1]
        assert "/" in rows["Odd"]
        assert rows["Runa"].count("·") == 4
        await pilot.press("s")
        assert "step-up" in (await settled(pilot)).split("\n")[3]
        await pilot.press("s", "o", "o")
        text = await settled(pilot)
        assert "least rest first" in text.split("\n")[3]
        assert list(rows_of(text)) == ["Bram", "Odd", "Sefa", "Ilka", "Runa"]


@pytest.mark.parametrize("size", [(80, 24), (160, 45)], ids=str)
async def test_flags_in_the_picture_are_whole_words_or_signs_that_the_foot_explains(size: tuple[int, int]) -> None:
    found = big_class(12, 8)
    part = found.parts[0]
    everything = tuple(replace(one, flags=tuple(Flag)) for one in part.athletes)
    app, _ = review(replace(found, parts=(replace(part, athletes=everything),)))
    async with app.run_test(size=size) as pilot:
        await pilot.press("2")
        rows = (await settled(pilot)).split("\n")
        row = next(row for row in rows if row.startswith(" ▸") and "effort" not in row)
        if size[0] >= TWO_COLUMNS:
            assert "/ not finished  x ran out  ! tight  v fading" in row
        else:
            assert "/  x  !  v" in row
            assert any("flags: / not finished  x ran out  ! tight  v fading" in row for row in rows)


async def test_many_to_talk_to_are_cut_short_and_counted() -> None:
    found = big_class(40, 8)
    calls = tuple(Call(name, 0, Flag.TIGHT, "under the margin") for name in found.athletes)
    app, _ = review(replace(found, calls=calls))
    async with app.run_test(size=(160, 45)) as pilot:
        text = await settled(pilot)
        assert text.count("under the margin  ") == 12
        assert "and 28 more with a flag" in text


async def test_a_column_beside_a_name_from_the_right_loses_no_letter_to_its_mark() -> None:
    """Some terminals give the mark a cell: then the line is longer by one, and its end must be free."""
    app, _ = review(big_class(9, 6, run_of=3))
    async with app.run_test(size=(160, 45)) as pilot:
        rows = (await settled(pilot)).split("\n")
        marked = [row for row in rows[2:] if "\N{LEFT-TO-RIGHT MARK}" in row]
        assert marked
        for row in marked:
            marks = row.count("\N{LEFT-TO-RIGHT MARK}")
            assert row.endswith(" " * marks)


async def test_a_split_by_hand_is_marked_unless_all_of_them_are_from_paper() -> None:
    found = big_class(3, 4)
    part = found.parts[0]
    by_hand = tuple(
        replace(one, splits=tuple(replace(flagged, split=replace(flagged.split, corrected=True)) for flagged in one.splits))
        for one in part.athletes
    )
    for paper in (False, True):
        app, _ = review(replace(found, paper=paper, parts=(replace(part, athletes=by_hand),)))
        async with app.run_test(size=(80, 40)) as pilot:
            await pilot.press("3")
            text = await settled(pilot)
            assert ("* entered by hand" in text) is not paper
            assert "fixed" not in text


async def test_who_does_an_option_is_shown_its_move() -> None:
    found = big_class(3, 4)
    part = found.parts[0]
    other = tuple(
        replace(one, splits=tuple(replace(flagged, split=replace(flagged.split, move="lift")) for flagged in one.splits))
        for one in part.athletes
    )
    told = tuple(replace(one, advice=()) for one in other)
    app, _ = review(replace(found, parts=(replace(part, athletes=told),)))
    async with app.run_test(size=(80, 40)) as pilot:
        await pilot.press("3")
        text = await settled(pilot)
        assert "lift: median" in text
        assert "swing" not in text


async def test_rounds_that_do_not_fit_can_be_reached() -> None:
    app, _ = review(big_class(3, 30))
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("2")
        heading = next(row for row in (await settled(pilot)).split("\n") if "athlete  " in row and "flags" in row)
        assert " 30" not in heading
        press_at_once(app, *["right"] * 40)
        text = await settled(pilot)
        assert next(row for row in text.split("\n") if "flags" in row and "least" in row).rstrip().endswith(" 30")
        assert "[/]" in rows_of(text)
        press_at_once(app, *["left"] * 40)
        assert heading in await settled(pilot)


async def test_the_plot_shows_splits_the_forecast_and_the_margin() -> None:
    app, _ = review(big_class(9, 6, run_of=3))
    async with app.run_test(size=(160, 45)) as pilot:
        await pilot.press("3", *["right"] * 8)
        text = await settled(pilot)
        plot = "\n".join(text.split("\n")[5:20])
        assert "●" in plot or "!" in plot
        assert plot.count("○") == 3
        assert "──" in plot
        assert "8 of 10" in text
        assert "to come" in text


async def test_results_stand_as_on_the_board_where_nobody_is_ranked_and_p_turns_to_the_next_part() -> None:
    app, _ = review()
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("4")
        rows = (await settled(pilot)).split("\n")
        assert "Carry and sit" in rows[3]
        # The plan ranks nobody, so they stand as on the board.
        assert [name for row in rows[5:10] for name in ("Ilka", "Bram", "Sefa", "Odd", "Runa") if name in row] == [
            "Ilka",
            "Bram",
            "Sefa",
            "Odd",
            "Runa",
        ]
        await pilot.press("p")
        assert "Rising tide" in (await settled(pilot)).split("\n")[3]
        await pilot.press("P", "P")
        assert "Steps" in (await settled(pilot)).split("\n")[3]


async def test_rounds_that_were_tapped_are_drawn() -> None:
    app, _ = review(finishers_only())
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("4")
        text = await settled(pilot)
        assert text.count("●") >= 3
        assert "median of the 2 with rounds tapped" in text


@pytest.mark.parametrize("size", [(60, 16), (160, 45)], ids=str)
async def test_a_result_of_more_than_an_hour_is_never_cut(size: tuple[int, int]) -> None:
    found = finishers_only()
    part = found.parts[0]
    first, *others = part.athletes
    assert first.result is not None
    slow = replace(first, result=replace(first.result, time_ms=3_725_990))
    app, _ = review(replace(found, parts=(replace(part, athletes=(slow, *others)),)))
    async with app.run_test(size=size) as pilot:
        await pilot.press("4")
        assert "62:05.9 " in await settled(pilot)


@pytest.mark.parametrize("view", ["4", "5"])
async def test_a_click_on_a_row_chooses_and_marks_it_there_and_back(view: str) -> None:
    app, _ = review()
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press(view)
        for name in ("Sefa", "Bram", "Sefa", "Ilka"):
            rows = (await settled(pilot)).split("\n")
            await pilot.click(offset=(14, next(y for y, row in enumerate(rows) if name in row)))
            marked = [row for row in (await settled(pilot)).split("\n")[3:] if row.strip().startswith("▸")]
            assert [row.split()[0] for row in marked if "strong" not in row] == [f"▸{name}"]


async def test_a_typed_effort_is_kept_at_once() -> None:
    app, source = review()
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("5", "7", "full_stop", "5")
        text = await settled(pilot)
        assert source.rated == [("Ilka", 7.0), ("Ilka", 7.5)]
        row = next(row for row in text.split("\n") if "Ilka" in row)
        assert "7.5" in row
        assert "338" in row
        assert "..." not in row


async def test_backspace_takes_a_rating_back_and_the_same_rating_is_not_sent_twice() -> None:
    app, source = review()
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("5", "4")
        await settled(pilot)
        await pilot.press("4", "backspace", "backspace")
        await settled(pilot)
        assert source.rated == [("Ilka", 4.0), ("Ilka", None)]


async def test_arrows_rate_by_half_a_step_and_leaving_waits_for_what_was_rated() -> None:
    app, source = review()
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("5", "6", "right", "left", "left")
        await settled(pilot)
        assert [effort for _, effort in source.rated] == [6.0, 6.5, 6.0, 5.5]
        await pilot.press("down", "9", "q")
        await pilot.pause(0.2)
    assert source.rated[4:] == [("Bram", 9.0)]


@pytest.mark.parametrize("size", [(80, 24), (240, 67)], ids=str)
async def test_a_click_on_the_scale_rates(size: tuple[int, int]) -> None:
    app, source = review()
    async with app.run_test(size=size) as pilot:
        await pilot.press("5", "down")
        rows = (await settled(pilot)).split("\n")
        y, row = next((y, row) for y, row in enumerate(rows) if "somewhat strong" in row)
        await pilot.click(offset=(row.index("somewhat strong") + 2, y))
        await settled(pilot)
        assert source.rated == [("Bram", 4.0)]


@pytest.mark.parametrize("size", [(160, 45), (40, 12)], ids=str)
async def test_a_rating_that_was_not_kept_says_so_and_does_not_stand(size: tuple[int, int]) -> None:
    app, source = review()
    source.refuses = True
    async with app.run_test(size=size) as pilot:
        await pilot.press("5", "8")
        text = await settled(pilot)
        assert "not kept: the disk is full" in text
        row = next(row for row in text.split("\n") if "Ilka" in row)
        assert " 8 " not in row
        source.refuses = False
        await pilot.press("8")
        assert "not kept" not in await settled(pilot)
        assert source.rated == [("Ilka", 8.0)]


async def test_a_name_is_shown_as_it_is() -> None:
    app, _ = review(big_class(len(NAUGHTY), 4))
    async with app.run_test(size=(160, 45)) as pilot:
        for key in ("2", "5"):
            await pilot.press(key)
            text = await settled(pilot)
            assert [name for name in NAUGHTY if name[:12] not in text] == []
        await pilot.press("shift+tab", "shift+tab")
        for name in NAUGHTY:
            assert name[:12] in (await settled(pilot)).split("\n")[3]
            await pilot.press("right")


async def test_a_list_that_does_not_fit_scrolls_by_key_and_wheel() -> None:
    app, _ = review(big_class(40, 6))
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("2", "end")
        text = await settled(pilot)
        assert "▸Athlete 32" in text
        assert "[/]" not in rows_of(text)
        await pilot.press("home")
        assert "▸[/]" in await settled(pilot)
        await pilot.press("pagedown")
        text = await settled(pilot)
        assert "▸[/]" not in text
        assert any(row.startswith(" ▸") for row in rows_of(text).values())


async def test_a_small_and_a_changed_terminal_still_show_the_class() -> None:
    app, _ = review()
    async with app.run_test(size=(160, 45)) as pilot:
        for size in ((40, 12), (20, 6)):
            await pilot.resize_terminal(*size)
            for key in ("2", "3", "4", "5", *["shift+tab"] * 4):
                await pilot.press(key)
                await settled(pilot)
        await pilot.resize_terminal(80, 24)
        assert "Five trips" in await settled(pilot)


async def test_keys_that_come_all_at_once_are_obeyed_in_their_order() -> None:
    app, source = review()
    async with app.run_test(size=(80, 24)) as pilot:
        press_at_once(app, "5", "down", "7", ".", "5", "down", "1", "0", "enter", "0")
        await pilot.pause(0.1)
        assert "▸effort" in await settled(pilot)
        assert source.rated == [("Bram", 7.0), ("Bram", 7.5), ("Sefa", 1.0), ("Sefa", 10.0), ("Odd", 0.0)]


async def test_every_key_of_the_help_page_is_obeyed_somewhere() -> None:
    app, _ = review()
    async with app.run_test(size=(80, 24)):
        obeyed = {*app.review.key_actions(), *(key for view in app.review.views for key in view.key_actions())}
    named = {"↑": "up", "↓": "down", "←": "left", "→": "right", "?": "question_mark", "Esc": "escape", "Page Up": "pageup"}
    named |= {"Page Down": "pagedown", "Shift+Tab": "shift+tab"}
    shown = [
        part
        for _, keys, _ in ALL_KEYS
        for part in keys.replace(" ↓", ", ↓").replace(" →", ", →").split(", ")
        if " to " not in part
    ]
    assert {named.get(key, key if len(key) == 1 else key.lower()) for key in shown} <= obeyed


async def test_a_digit_in_the_effort_view_says_whose_rating_it_takes_the_place_of() -> None:
    """It turns to no other view there, so the head shows no digits, and a slip is said."""
    app, source = review()
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("5", "5")
        assert "3 athlete" not in (await settled(pilot)).split("\n")[1]
        app.screen.post_message(later("3", 5.0))
        assert "Ilka: effort 3: moderate   was 5; Backspace: 5 again" in await settled(pilot)
        await pilot.press("backspace")
        assert "Ilka: effort 5: strong (heavy)  " in await settled(pilot)
        app.screen.post_message(later("3", 10.0))
        await pilot.pause()
        await pilot.press("enter", "up")
        assert "was 5" not in await settled(pilot)
        await pilot.press("backspace")
        assert "Ilka: not rated yet" in await settled(pilot)
        assert [effort for _, effort in source.rated] == [5.0, 3.0, 5.0, 3.0, None]


async def test_what_is_no_effort_changes_nothing_and_is_said() -> None:
    app, source = review()
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("5", "4")
        await settled(pilot)
        app.screen.post_message(later("1", 5.0))
        app.screen.post_message(later("2", 5.5))
        text = await settled(pilot)
        assert "12 is no rating: type 0 to 10" in text
        # The 1 was on the disk before anybody could know that it was no rating: the 4 of before stands again.
        assert source.rated == [("Ilka", 4.0), ("Ilka", 1.0), ("Ilka", 4.0)]
        assert "effort 4: somewhat strong" in text
        await pilot.press("full_stop", "5")
        assert "is no rating" not in await settled(pilot)
        assert source.rated[-1] == ("Ilka", 0.5)


@pytest.mark.parametrize("width", [40, 80, 160])
async def test_days_without_a_class_and_the_reason_for_no_monotony_are_never_cut(width: int) -> None:
    app, _ = review()
    async with app.run_test(size=(width, 30)) as pilot:
        await pilot.press("5")
        text = await settled(pilot)
        words = " ".join(text.split())
        assert "6 days without a class here" in words
        assert width < 160 or "no medical advice" in words
        if width >= 80:
            assert next(row for row in text.split("\n") if "▸Ilka" in row).split()[5:8] == ["undefined", "-", "6"]
        assert "No monotony: a class of the week without an effort, so the week is not known in full" in words
