"""Who is in sight: nobody at work is hidden behind somebody who is not."""

from __future__ import annotations

from typing import Literal

from hypothesis import given
from hypothesis import strategies as st

from floorclock.tui.floor.board import BoardPage, kept_in_sight, page_of, page_words
from floorclock.tui.floor.view import RowView

Status = Literal["work", "done", "rest", "idle", "home"]
STATUSES: tuple[Status, ...] = ("work", "done", "rest", "idle", "home")


def rows_of(statuses: str, selected: str = "") -> tuple[RowView, ...]:
    """`wdr` is three athletes: at work, done, at rest; named a, b, c."""
    words: dict[str, Status] = {status[0]: status for status in STATUSES}
    names = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMN"
    return tuple(
        RowView(name, name, name, words[status], selected=name == selected) for name, status in zip(names, statuses, strict=False)
    )


classes = st.text(alphabet="wdrih", min_size=1, max_size=40)


def test_a_class_that_fits_is_one_page_in_its_own_order() -> None:
    assert page_of(rows_of("wdwr"), 4, 7) == BoardPage(("a", "b", "c", "d"), 1, 1, 0)


def test_those_at_work_are_on_every_page_and_the_others_take_turns() -> None:
    rows = rows_of("wdddwddd")
    assert page_of(rows, 4, 1).shown == ("a", "b", "c", "e")
    assert page_of(rows, 4, 2).shown == ("a", "d", "e", "f")
    assert page_of(rows, 4, 3) == BoardPage(("a", "e", "g", "h"), 3, 3, 0)
    assert page_of(rows, 4, 4) == page_of(rows, 4, 1)


def test_where_not_even_those_at_work_fit_they_take_turns_and_the_header_says_how_many_more() -> None:
    rows = rows_of("wwwdwwww")
    first, second = page_of(rows, 4, 1), page_of(rows, 4, 2)
    assert first.shown == ("a", "b", "c", "e")
    assert second.shown == ("e", "f", "g", "h")
    assert page_words(first) == "page 1 of 2, 3 more at work"


def test_there_are_no_words_about_pages_when_everybody_is_in_sight() -> None:
    assert page_words(page_of(rows_of("ww"), 4, 1)) == ""


@given(classes, st.integers(1, 40), st.integers(-3, 12))
def test_nobody_at_work_is_hidden_while_somebody_else_has_a_place(statuses: str, places: int, number: int) -> None:
    rows = rows_of(statuses)
    page = page_of(rows, places, number)
    at_work = {row.athlete for row in rows if row.status == "work"}
    assert len(page.shown) == min(places, len(rows)) == len(set(page.shown))
    hidden = at_work - set(page.shown)
    assert page.more_at_work == len(hidden)
    assert not hidden or set(page.shown) <= at_work


@given(classes, st.integers(1, 40))
def test_turning_through_all_pages_shows_everybody_who_can_be_shown(statuses: str, places: int) -> None:
    rows = rows_of(statuses)
    count = page_of(rows, places, 1).count
    seen = {name for number in range(1, count + 1) for name in page_of(rows, places, number).shown}
    at_work = {row.athlete for row in rows if row.status == "work"}
    assert at_work <= seen
    if len(at_work) < places:
        assert seen == {row.athlete for row in rows}


def test_a_tap_moves_nobody_while_the_page_stays() -> None:
    before, after = rows_of("wwdddd"), rows_of("dwdddd")
    shown = page_of(before, 4, 1).shown
    assert kept_in_sight(shown, after, 4) == shown


def test_somebody_who_goes_to_work_takes_the_place_of_one_who_is_not_and_the_others_stay() -> None:
    shown = page_of(rows_of("wddddd"), 3, 1).shown
    assert shown == ("a", "b", "c")
    assert kept_in_sight(shown, rows_of("wddddw"), 3) == ("a", "b", "f")


def test_a_tap_on_a_full_page_lets_the_next_one_at_work_in() -> None:
    assert kept_in_sight(("a", "b"), rows_of("wdw"), 2) == ("a", "c")


def test_the_athlete_whom_the_coach_selected_is_in_sight() -> None:
    assert kept_in_sight(("a", "b"), rows_of("wwww", selected="d"), 2) == ("a", "d")


def test_a_page_is_made_afresh_when_somebody_has_left_or_the_room_changed() -> None:
    assert kept_in_sight(("a", "z"), rows_of("www"), 2) == ()
    assert kept_in_sight(("a", "b"), rows_of("www"), 3) == ()


@given(classes, st.data(), st.integers(1, 40))
def test_whatever_comes_next_nobody_at_work_is_hidden_behind_others(statuses: str, data: st.DataObject, places: int) -> None:
    shown = page_of(rows_of(statuses), places, 1).shown
    later = rows_of("".join(data.draw(st.sampled_from("wdrih")) for _ in statuses))
    kept = kept_in_sight(shown, later, places)
    at_work = {row.athlete for row in later if row.status == "work"}
    assert len(set(kept)) == len(kept) == len(shown)
    assert not at_work - set(kept) or set(kept) <= at_work
