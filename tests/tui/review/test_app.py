"""The review driven by keys and clicks."""

from __future__ import annotations

from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from dataclasses import dataclass, replace
from typing import Any

import pytest
from textual import events
from textual.pilot import Pilot

from floorclock.digest.class_digest import AthleteDigest, Call, ClassDigest
from floorclock.pace.flags import Flag
from floorclock.tui.review.app import ALL_KEYS, ReviewApp
from floorclock.tui.review.view import TWO_COLUMNS
from tests.odd_names import A_FEW
from tests.tui.review.sample_reviews import RememberedSource, big_class, finishers_only, nothing_recorded, small_class

CLASSES: dict[str, Callable[[], ClassDigest]] = {
    "small": small_class,
    "finishers only": finishers_only,
    "nothing": nothing_recorded,
    "one athlete": lambda: big_class(1, 5),
    "still to come": lambda: big_class(9, 6, run_of=3),
    "forty by thirty": lambda: big_class(40, 30),
}


@dataclass
class Review:
    """A review that is open, and what it rated."""

    app: ReviewApp
    source: RememberedSource
    pilot: Pilot[int]

    async def after(self, *keys: str) -> str:
        """What stands on the screen after some keys, when everything that is on its way has arrived."""
        await self.pilot.press(*keys)
        await self.pilot.pause()
        await self.app.workers.wait_for_complete()
        await self.pilot.pause()
        return "\n".join(strip.text for strip in self.app.screen._compositor.render_strips())

    async def rows(self, *keys: str) -> list[str]:
        """The same, row by row."""
        return (await self.after(*keys)).split("\n")

    async def click(self, words: str, aside: int = 0) -> list[str]:
        """The rows after a click on the first of some words, or so many cells beside them."""
        y, row = next((y, row) for y, row in enumerate(await self.rows()) if words in row)
        await self.pilot.click(offset=(row.index(words) + aside, y))
        return await self.rows()

    async def at_once(self, *keys: str) -> str:
        """What stands there after keys in one burst, none of them waited for."""
        for key in keys:
            self.app.post_message(events.Key("full_stop" if key == "." else key, key if len(key) == 1 else None))
        await self.pilot.pause(0.1)
        return await self.after()

    async def later(self, digit: str, seconds: float) -> str:
        """What stands there after a digit that is pressed some seconds from now."""
        key = events.Key(digit, digit)
        key.time += seconds
        self.app.screen.post_message(key)
        return await self.after()


@asynccontextmanager
async def reviewing(found: ClassDigest | None = None, size: tuple[int, int] = (80, 24)) -> AsyncIterator[Review]:
    source = RememberedSource()
    app = ReviewApp(found or small_class(), source)
    async with app.run_test(size=size) as pilot:
        yield Review(app, source, pilot)


def with_athletes(found: ClassDigest, change: Callable[[AthleteDigest], AthleteDigest], **changes: Any) -> ClassDigest:
    """The class with everybody in its first part changed."""
    part = found.parts[0]
    return replace(found, parts=(replace(part, athletes=tuple(map(change, part.athletes))),), **changes)


def with_splits(athlete: AthleteDigest, **changes: Any) -> AthleteDigest:
    """An athlete without advice, each of their splits changed."""
    return replace(
        athlete,
        splits=tuple(replace(taken, split=replace(taken.split, **changes)) for taken in athlete.splits),
        advice=(),
    )


def rows_of(text: str) -> dict[str, str]:
    """The rows of the rest picture by the first word of their names, in their order."""
    lines = text.split("\n")
    first = next(at for at, line in enumerate(lines) if line.split()[-1:] and "median" in line) + 1
    return {line.split()[0].lstrip("▸"): line for line in lines[first:-1] if line.strip()}


@pytest.mark.parametrize(
    ("size", "name"), [*(((80, 24), name) for name in CLASSES), ((160, 45), "still to come"), ((240, 67), "small")], ids=str
)
async def test_every_view_of_every_class_can_be_shown(size: tuple[int, int], name: str) -> None:
    async with reviewing(CLASSES[name](), size) as review:
        for number, word in enumerate(("class", "rest", "athlete", "results", "effort"), start=1):
            rows = await review.rows(str(number))
            assert (f"▸{number} {word}" if word != "effort" else "▸effort") in rows[1]
            assert any(row.strip() for row in rows[3:-1])
            assert all(len(row) <= size[0] for row in rows if row.isascii())
    assert review.app.return_code in (None, 0)


async def test_keys_and_clicks_turn_between_the_views_and_question_mark_shows_all_keys() -> None:
    async with reviewing() as review:
        assert "▸2 rest" in await review.after("2")
        assert "▸3 athlete" in await review.after("tab")
        assert "▸effort" in await review.after("shift+tab", "shift+tab", "shift+tab")
        await review.pilot.press("tab")
        assert "▸4 results" in (await review.click("4 results", 2))[1]
        assert "All keys" in await review.after("question_mark")
        text = await review.after("escape")
        assert "All keys" not in text
        assert "▸4 results" in text


@pytest.mark.parametrize("key", ["q", "escape", "f10", "ctrl+c"])
async def test_it_can_be_left(key: str) -> None:
    async with reviewing() as review:
        await review.pilot.press(key)
        await review.pilot.pause(0.1)
    assert review.app.return_value == 0


async def test_enter_and_a_click_in_the_picture_look_at_an_athlete_and_escape_goes_back() -> None:
    async with reviewing() as review:
        rows = await review.rows("2", "down", "enter")
        assert "▸3 athlete" in rows[1]
        assert rows[3].startswith(" Bram")
        assert (await review.rows("right"))[3].startswith(" Sefa")
        assert (await review.rows("left", "left", "left"))[3].startswith(" Runa")
        assert "▸2 rest" in (await review.rows("escape"))[1]
        assert (await review.click("Sefa", 10))[3].startswith(" Sefa")
        await review.pilot.press("3", "escape")
        await review.pilot.pause(0.1)
    assert review.app.return_value == 0, "from a view that nobody was asked for in, Escape leaves"


async def test_a_click_on_somebody_to_talk_to_looks_at_them() -> None:
    async with reviewing(size=(160, 45)) as review:
        rows = await review.click("under the margin of 15 s")
        assert "▸3 athlete" in rows[1]
        assert rows[3].startswith(" Bram")


async def test_the_picture_shows_the_least_rest_or_one_station_with_its_signs_and_can_be_put_in_order() -> None:
    async with reviewing() as review:
        assert "the least rest of each round" in await review.after("2")
        rows = rows_of(await review.after("s"))
        assert "!" in rows["Bram"].split("24")[1]
        assert "/" in rows["Odd"]
        assert rows["Runa"].count("·") == 4
        assert "step-up" in (await review.rows("s"))[3]
        text = await review.after("s", "o", "o")
        assert "least rest first" in text.split("\n")[3]
        assert list(rows_of(text)) == ["Bram", "Odd", "Sefa", "Ilka", "Runa"]


@pytest.mark.parametrize("size", [(80, 24), (160, 45)], ids=str)
async def test_flags_in_the_picture_are_whole_words_or_signs_that_the_foot_explains(size: tuple[int, int]) -> None:
    async with reviewing(with_athletes(big_class(12, 8), lambda one: replace(one, flags=tuple(Flag))), size) as review:
        rows = await review.rows("2")
        row = next(row for row in rows if row.startswith(" ▸") and "effort" not in row)
        if size[0] >= TWO_COLUMNS:
            assert "/ not finished  x ran out  ! tight  v fading" in row
        else:
            assert "/  x  !  v" in row
            assert any("flags: / not finished  x ran out  ! tight  v fading" in row for row in rows)


async def test_many_to_talk_to_are_cut_short_and_counted() -> None:
    found = big_class(40, 8)
    calls = tuple(Call(name, 0, Flag.TIGHT, "under the margin") for name in found.athletes)
    async with reviewing(replace(found, calls=calls), (160, 45)) as review:
        text = await review.after()
        assert text.count("under the margin  ") == 12
        assert "and 28 more with a flag" in text


async def test_a_column_beside_a_name_from_the_right_loses_no_letter_to_its_mark() -> None:
    """Some terminals give the mark a cell: then the line is longer by one, and its end must be free."""
    async with reviewing(big_class(9, 6, run_of=3), (160, 45)) as review:
        marked = [row for row in (await review.rows())[2:] if "\N{LEFT-TO-RIGHT MARK}" in row]
        assert marked
        assert all(row.endswith(" " * row.count("\N{LEFT-TO-RIGHT MARK}")) for row in marked)


@pytest.mark.parametrize("paper", [False, True])
async def test_a_split_by_hand_is_marked_unless_all_of_them_are_from_paper(paper: bool) -> None:
    found = with_athletes(big_class(3, 4), lambda one: with_splits(one, corrected=True), paper=paper)
    async with reviewing(found, (80, 40)) as review:
        text = await review.after("3")
        assert ("* entered by hand" in text) is not paper
        assert "fixed" not in text


async def test_who_does_an_option_is_shown_its_move() -> None:
    async with reviewing(with_athletes(big_class(3, 4), lambda one: with_splits(one, move="lift")), (80, 40)) as review:
        text = await review.after("3")
        assert "lift: median" in text
        assert "swing" not in text


async def test_rounds_that_do_not_fit_can_be_reached() -> None:
    async with reviewing(big_class(3, 30)) as review:
        heading = next(row for row in await review.rows("2") if "athlete  " in row and "flags" in row)
        assert " 30" not in heading
        text = await review.at_once(*["right"] * 40)
        assert next(row for row in text.split("\n") if "flags" in row and "least" in row).rstrip().endswith(" 30")
        assert "[/]" in rows_of(text)
        assert heading in await review.at_once(*["left"] * 40)


async def test_the_plot_shows_splits_the_forecast_and_the_margin() -> None:
    async with reviewing(big_class(9, 6, run_of=3), (160, 45)) as review:
        text = await review.after("3", *["right"] * 8)
        plot = "\n".join(text.split("\n")[5:20])
        assert "●" in plot or "!" in plot
        assert plot.count("○") == 3
        assert "──" in plot
        assert "8 of 10" in text
        assert "to come" in text


async def test_results_stand_as_on_the_board_where_nobody_is_ranked_and_p_turns_to_the_next_part() -> None:
    async with reviewing() as review:
        rows = await review.rows("4")
        assert "Carry and sit" in rows[3]
        # The plan ranks nobody, so they stand as on the board.
        board = ["Ilka", "Bram", "Sefa", "Odd", "Runa"]
        assert [name for row in rows[5:10] for name in board if name in row] == board
        assert "Rising tide" in (await review.rows("p"))[3]
        assert "Steps" in (await review.rows("P", "P"))[3]


async def test_rounds_that_were_tapped_are_drawn() -> None:
    async with reviewing(finishers_only()) as review:
        text = await review.after("4")
        assert text.count("●") >= 3
        assert "median of the 2 with rounds tapped" in text


@pytest.mark.parametrize("size", [(60, 16), (160, 45)], ids=str)
async def test_a_result_of_more_than_an_hour_is_never_cut(size: tuple[int, int]) -> None:
    def slowed(one: AthleteDigest) -> AthleteDigest:
        return replace(one, result=replace(one.result, time_ms=3_725_990)) if one.result is not None else one

    async with reviewing(with_athletes(finishers_only(), slowed), size) as review:
        assert "62:05.9 " in await review.after("4")


@pytest.mark.parametrize("view", ["4", "5"])
async def test_a_click_on_a_row_chooses_and_marks_it_there_and_back(view: str) -> None:
    async with reviewing() as review:
        await review.pilot.press(view)
        for name in ("Sefa", "Bram", "Sefa", "Ilka"):
            marked = [row for row in (await review.click(name, 12))[3:] if row.strip().startswith("▸")]
            assert [row.split()[0] for row in marked if "strong" not in row] == [f"▸{name}"]


async def test_a_typed_effort_is_kept_at_once() -> None:
    async with reviewing() as review:
        rows = await review.rows("5", "7", "full_stop", "5")
        assert review.source.rated == [("Ilka", 7.0), ("Ilka", 7.5)]
        row = next(row for row in rows if "Ilka" in row)
        assert "7.5" in row
        assert "338" in row
        assert "..." not in row


async def test_backspace_takes_a_rating_back_and_the_same_rating_is_not_sent_twice() -> None:
    async with reviewing() as review:
        await review.after("5", "4")
        await review.after("4", "backspace", "backspace")
        assert review.source.rated == [("Ilka", 4.0), ("Ilka", None)]


async def test_arrows_rate_by_half_a_step_and_leaving_waits_for_what_was_rated() -> None:
    async with reviewing() as review:
        await review.after("5", "6", "right", "left", "left")
        assert [effort for _, effort in review.source.rated] == [6.0, 6.5, 6.0, 5.5]
        await review.pilot.press("down", "9", "q")
        await review.pilot.pause(0.2)
    assert review.source.rated[4:] == [("Bram", 9.0)]


@pytest.mark.parametrize("size", [(80, 24), (240, 67)], ids=str)
async def test_a_click_on_the_scale_rates(size: tuple[int, int]) -> None:
    async with reviewing(size=size) as review:
        await review.pilot.press("5", "down")
        await review.click("somewhat strong", 2)
        assert review.source.rated == [("Bram", 4.0)]


@pytest.mark.parametrize("size", [(160, 45), (40, 12)], ids=str)
async def test_a_rating_that_was_not_kept_says_so_and_does_not_stand(size: tuple[int, int]) -> None:
    async with reviewing(size=size) as review:
        review.source.refuses = True
        text = await review.after("5", "8")
        assert "not kept: the disk is full" in text
        assert " 8 " not in next(row for row in text.split("\n") if "Ilka" in row)
        review.source.refuses = False
        assert "not kept" not in await review.after("8")
        assert review.source.rated == [("Ilka", 8.0)]


async def test_a_name_is_shown_as_it_is() -> None:
    async with reviewing(big_class(len(A_FEW), 4), (160, 45)) as review:
        for key in ("2", "5"):
            text = await review.after(key)
            assert [name for name in A_FEW if name[:12] not in text] == []
        await review.pilot.press("shift+tab", "shift+tab")
        for name in A_FEW:
            assert name[:12] in (await review.rows())[3]
            await review.pilot.press("right")


async def test_a_list_that_does_not_fit_scrolls_by_key() -> None:
    async with reviewing(big_class(40, 6)) as review:
        text = await review.after("2", "end")
        assert "▸Athlete 32" in text
        assert "[/]" not in rows_of(text)
        assert "▸[/]" in await review.after("home")
        text = await review.after("pagedown")
        assert "▸[/]" not in text
        assert any(row.startswith(" ▸") for row in rows_of(text).values())


async def test_a_small_and_a_changed_terminal_still_show_the_class() -> None:
    async with reviewing(size=(160, 45)) as review:
        for size in ((40, 12), (20, 6)):
            await review.pilot.resize_terminal(*size)
            for key in ("2", "3", "4", "5", *["shift+tab"] * 4):
                await review.after(key)
        await review.pilot.resize_terminal(80, 24)
        assert "Five trips" in await review.after()


async def test_keys_that_come_all_at_once_are_obeyed_in_their_order() -> None:
    async with reviewing() as review:
        assert "▸effort" in await review.at_once("5", "down", "7", ".", "5", "down", "1", "0", "enter", "0")
        assert review.source.rated == [("Bram", 7.0), ("Bram", 7.5), ("Sefa", 1.0), ("Sefa", 10.0), ("Odd", 0.0)]


async def test_every_key_of_the_help_page_is_obeyed_somewhere() -> None:
    async with reviewing() as review:
        screen = review.app.review
        obeyed = {*screen.key_actions(), *(key for view in screen.views for key in view.key_actions())}
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
    async with reviewing() as review:
        assert "3 athlete" not in (await review.rows("5", "5"))[1]
        assert "Ilka: effort 3: moderate   was 5; Backspace: 5 again" in await review.later("3", 5.0)
        assert "Ilka: effort 5: strong (heavy)  " in await review.after("backspace")
        await review.later("3", 10.0)
        assert "was 5" not in await review.after("enter", "up")
        assert "Ilka: not rated yet" in await review.after("backspace")
        assert [effort for _, effort in review.source.rated] == [5.0, 3.0, 5.0, 3.0, None]


async def test_what_is_no_effort_changes_nothing_and_is_said() -> None:
    async with reviewing() as review:
        await review.after("5", "4")
        await review.later("1", 5.0)
        text = await review.later("2", 5.5)
        assert "12 is no rating: type 0 to 10" in text
        # The 1 was on the disk before anybody could know that it was no rating: the 4 of before stands again.
        assert review.source.rated == [("Ilka", 4.0), ("Ilka", 1.0), ("Ilka", 4.0)]
        assert "effort 4: somewhat strong" in text
        assert "is no rating" not in await review.after("full_stop", "5")
        assert review.source.rated[-1] == ("Ilka", 0.5)


@pytest.mark.parametrize("width", [40, 80, 160])
async def test_days_without_a_class_and_the_reason_for_no_monotony_are_never_cut(width: int) -> None:
    async with reviewing(size=(width, 30)) as review:
        rows = await review.rows("5")
        words = " ".join(" ".join(rows).split())
        assert "6 days without a class here" in words
        assert width < 160 or "no medical advice" in words
        if width >= 80:
            assert next(row for row in rows if "▸Ilka" in row).split()[5:8] == ["undefined", "-", "6"]
        assert "No monotony: a class of the week without an effort, so the week is not known in full" in words
