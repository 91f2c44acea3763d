"""What each widget writes, as pure lines."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

import pytest

from floorclock.tui.base.digits import size_of
from floorclock.tui.base.keys_line import kept_keys
from floorclock.tui.base.lines import Line, width_of
from floorclock.tui.base.palette import ALERT, ALERT_PLATE, LOOKS
from floorclock.tui.floor.board import at_work_lines, board_grid, header_line, page_of
from floorclock.tui.floor.brief import LETTERED_FROM, pages
from floorclock.tui.floor.clock_widget import NumeralPane, mood_words, numeral_places, shape_of, words_box
from floorclock.tui.floor.lane_lines import LetterSizes, lane_block, people_lines, squeezed_lines
from floorclock.tui.floor.lanes import LanesPanel, planned
from floorclock.tui.floor.strips import MARGIN_MARK, CoachLines, HeadLine, bar_row, caution_pages, mark_column, words_row
from floorclock.tui.floor.view import (
    BarView,
    BriefLine,
    BriefView,
    CallLine,
    CoachView,
    HeadView,
    LanesView,
    LaneView,
    PersonView,
)
from tests.tui.floor.sample_views import BRIEF, NAMES, floor_view

HEAD = HeadView("Five trips", "part 2 of 3", "round 3 of 5", "minute 11 of 20", "18:42", "NOT SAVED: disk full")
WORDS = ("Sefa runs out in round 5.", "Odd is tight.", "Runa is fading.")


def text(line: Line) -> str:
    return "".join(segment.text for segment in line)


def stations(*groups: Sequence[str]) -> tuple[LaneView, ...]:
    """A lane for each group of names."""
    moves = ("row", "run", "ski", "sit")
    return tuple(LaneView(moves[at], "9", tuple(map(PersonView, names))) for at, names in enumerate(groups))


@pytest.mark.parametrize(
    ("width", "gone"),
    [(120, []), (90, ["Five trips"]), (60, ["Five trips", "18:42", "minute"]), (40, ["Five trips", "18:42", "minute", "part"])],
)
def test_the_head_drops_the_least_important_first_and_the_badge_last(width: int, gone: list[str]) -> None:
    (painted,) = HeadLine().paint(HEAD, width, 1)
    line = text(painted)
    assert "NOT SAVED: disk full" in line
    for word in ("Five trips", "18:42", "minute", "part", "round 3 of 5"):
        assert (word in line) == (word not in gone), line
    assert width_of(painted) == width


def test_the_bar_shows_where_you_are_and_the_margin_on_both_sides_of_it() -> None:
    view = BarView(0.5, 0.75, "work", "done with 15 left", "part 9:00")
    row = bar_row(view, 40)
    assert width_of(row) == 40
    assert width_of(row[:1]) == 20
    assert text(tuple(row)).index(MARGIN_MARK) == mark_column(view, 40) == 30
    late = bar_row(replace(view, done=0.9), 40)
    assert text(tuple(late)).index(MARGIN_MARK) == 30
    assert "╱" in text(tuple(late))[31:36]


def test_a_bar_without_a_margin_has_no_mark() -> None:
    assert MARGIN_MARK not in text(tuple(bar_row(BarView(0.5, None, "work", "", ""), 40)))


@pytest.mark.parametrize("done", [-1.0, 0.0, 1.0, 7.0])
def test_the_bar_never_leaves_its_line(done: float) -> None:
    for width in (0, 1, 2, 20, 400):
        assert width_of(bar_row(BarView(done, 0.75, "rest", "", ""), width)) == width


def test_the_words_of_the_bar_stand_at_the_mark() -> None:
    line = text(words_row("done with 30 left", "class 31:20 left", 40, 80))
    assert line.index(f"{MARGIN_MARK} done with 30 left") == 40
    assert line.rstrip().endswith("class 31:20 left")


@pytest.mark.parametrize("clock_text", ["0:47", "12:34", "-0:05", "1:02:33", "-1:02:33.4", "9"])
def test_the_numerals_never_leave_the_clock_and_never_touch(clock_text: str) -> None:
    for width in range(1, 120, 7):
        for height in range(0, 40, 3):
            box = words_box("WORK", width, height)
            places = numeral_places(shape_of(clock_text), box, width, height)
            if places is None:
                continue
            assert box.beside or places.top >= box.rows
            assert places.top + places.size.rows <= height
            edges = [edge for left, across in places.columns for edge in (left, left + across)]
            assert edges == sorted(edges)
            assert edges[0] >= (box.width if box.beside else 0)
            assert edges[-1] <= width
            assert all(after - before >= 1 for before, after in zip(edges[1:-1:2], edges[2::2], strict=True))


def test_the_numerals_do_not_change_size_while_they_count() -> None:
    box = words_box("WORK", 60, 12)
    assert len({numeral_places(shape_of(f"0:{second:02d}"), box, 60, 12) for second in range(60)}) == 1
    assert numeral_places(shape_of("10"), box, 60, 12) == numeral_places(shape_of(" 9"), box, 60, 12)


def test_a_pane_paints_its_numeral_and_nothing_else() -> None:
    size = size_of(12, 9)
    lines = NumeralPane().paint(("7", size, "work"), 12, 9)
    assert [width_of(line) for line in lines] == [12] * 9
    assert text(lines[0]) == " " * 12
    assert lines[0][0].style == LOOKS["work"].fill


def test_the_mood_is_said_by_its_word_at_every_size() -> None:
    small = words_box("REST", 23, 6)
    assert (small.rows, small.beside) == (1, False)
    line = text(mood_words("rest", "REST", "until work", small)[0])
    assert "REST" in line
    assert "until work" in line
    assert [len(mood_words("rest", "REST", "until work", words_box("REST", 59, rows))) for rows in (15, 30)] == [4, 7]
    wide = words_box("REST", 160, 20)
    assert (wide.size, wide.beside) == (2, True)


def test_a_label_beside_the_plate_has_its_words_whole_or_is_not_there() -> None:
    box = words_box("REST", 46, 15)
    assert not box.beside
    whole = " ".join(text(line) for line in mood_words("rest", "REST", "this minute", box))
    assert "this" in whole
    assert "minute" in whole
    cramped = " ".join(text(line) for line in mood_words("rest", "GET READY", "to go on", words_box("GET READY", 46, 15)))
    assert "…" not in cramped
    narrow = " ".join(text(line) for line in mood_words("rest", "GET READY", "interval", words_box("GET READY", 46, 15)))
    assert "int" not in narrow


def test_a_mood_word_without_drawn_letters_is_plain_text() -> None:
    assert "休息" in text(mood_words("rest", "休息", "", words_box("休息", 60, 30))[0])


def test_warnings_outlast_cautions_and_cautions_outlast_calls() -> None:
    view = CoachView("NOT SAVED", "warning", tuple(map(CallLine, WORDS)), "Keep the space clear.")
    painted = {rows: "\n".join(text(line) for line in CoachLines().paint(view, 60, rows)) for rows in (1, 4, 5)}
    assert painted[1].split() == ["!", "NOT", "SAVED"]
    assert "CAUTION  Keep the space clear." in painted[4]
    assert [words in painted[4] for words in WORDS] == [True, True, False]
    assert all(words in painted[5] for words in WORDS)


@pytest.mark.parametrize("rows", [1, 2, 3, 5])
@pytest.mark.parametrize("width", [40, 78, 140])
def test_a_caution_is_said_to_its_last_word_on_pages_where_there_is_no_room(width: int, rows: int) -> None:
    words = "Walk tall, never run with a load. Set the bell down with a straight back.   Nobody stands behind who swings."
    view = CoachView(calls=tuple(map(CallLine, WORDS)), caution=words)
    pages = caution_pages(words, width, rows)
    assert all(len(page) <= rows and width_of(line) == width for page in pages for line in page)
    plates = re.compile(r"CAUTION( \d of \d)?")
    said = plates.sub("", " ".join(text(line) for page in pages for line in page))
    assert said.split() == words.split()
    painted = CoachLines().paint(view, width, rows)
    assert painted[-len(pages[0]) :] == pages[0]


def test_a_long_call_takes_the_rows_that_are_free() -> None:
    view = CoachView(calls=(CallLine("one two three four five six seven eight nine ten eleven twelve"),))
    assert "twelve" in text(CoachLines().paint(view, 50, 3)[1])
    assert "…" in text(CoachLines().paint(view, 50, 1)[0])


def test_the_last_key_is_the_last_to_go() -> None:
    keys = (("space", "pause"), ("F2", "advice"), ("?", "all keys"))
    assert kept_keys(keys, 80) == keys
    assert kept_keys(keys, 30) == (keys[0], keys[2])
    assert kept_keys(keys, 14) == (keys[2],)
    assert kept_keys(keys, 3) == ()


def test_names_without_room_in_a_lane_are_counted() -> None:
    people = tuple(PersonView(name) for name in ("Ilka", "Bram", "Noor", "Sefa", "Odd"))
    assert text(people_lines(people, 20, 1)[0]).rstrip() == " Ilka  Bram   +3"
    assert len(people_lines(people, 20, 9)) == 2


def test_people_show_their_own_target_and_that_they_are_done() -> None:
    people = (PersonView("Bram", "10 lighter"), PersonView("Noor", done=True))
    assert text(people_lines(people, 40, 1)[0]).rstrip() == " Bram 10 lighter  Noor ✓"


def test_every_lane_shows_its_move_and_target_however_little_room_there_is() -> None:
    lanes = floor_view(14).lanes
    for height in (3, 4, 5, 6, 8, 11, 15, 20, 30, 39):
        for width in range(34, 120, 17):
            lines = LanesPanel().paint(lanes, width, height)
            assert len(lines) <= height
            assert all(width_of(line) == width for line in lines)
            written = "\n".join(text(line) for line in lines)
            missing = [move for move in ("KETTLEBELL SWING", "BOX STEP-UP") if move not in written]
            assert not missing or any(map(_draws_letters, lines)), (height, width)
            assert "REST" in written or any(map(_draws_letters, lines))


def _draws_letters(line: Line) -> bool:
    """Whether letters are drawn in it: by half rows, or by cells that are filled."""
    filled = (segment.style and segment.style.bgcolor and segment.style.color is None for segment in line)
    return bool({"▀", "▄"} & set(text(line))) or any(filled)


def test_lanes_in_one_row_show_the_first_move_and_count_the_others() -> None:
    line = text(LanesPanel().paint(floor_view(14).lanes, 30, 1)[0])
    assert line.startswith(" KETTLEBELL SWING  14")
    assert line.rstrip().endswith("+2")


def test_a_single_lane_is_lettered_as_large_as_the_panel_allows() -> None:
    lanes = LanesView((LaneView("row", "250 m", (PersonView("Ilka"),)),), next="")
    inked = [sum(map(_draws_letters, LanesPanel().paint(lanes, width, height))) for width, height in ((60, 10), (120, 30))]
    assert inked[1] >= 2 * inked[0] > 0


def test_names_grow_with_the_room_and_what_the_room_cannot_read_goes_on_pages_by_station() -> None:
    three = planned((LaneView("row", "250 m", tuple(map(PersonView, NAMES[:3]))),), 158, 22, 0)
    forty = stations(*(NAMES[at::4] for at in range(4)))
    assert three is not None
    assert three.letters.name >= 2
    for least, paged in ((0, False), (1, True)):
        plan = planned(forty, 158, 22, least)
        assert plan is not None
        assert (plan.letters.name >= 1, len(plan.pages) > 1) == (paged, paged)
        assert {person.name for page in plan.pages for lane in page for person in lane.people} == set(NAMES)


def test_who_is_in_several_lanes_has_the_words_of_each() -> None:
    """As in work for time, where everybody does all moves: the load of one must never stand beside another."""
    moves = (("swing", "16 kg"), ("deadlift", "90 kg"))
    lanes = tuple(LaneView(move, "9", (PersonView("Ilka", own), PersonView("Bram", own, done=True))) for move, own in moves)
    words = " ".join(text(line) for line in LanesPanel().paint(LanesView(lanes, next=""), 60, 5)).split()
    assert [words[at + 1] for at, word in enumerate(words) if word in {"Ilka", "Bram"}] == ["16", "16", "90", "90"]


def test_the_people_of_one_station_share_pages_where_the_room_could_not_read_them() -> None:
    lanes = tuple(
        LaneView(move, "10 reps", tuple(map(PersonView, NAMES[at::2][:5]))) for at, move in enumerate(("run", "sit-up"))
    )
    plan = planned(lanes, 118, 9, 1)
    assert plan is not None
    assert plan.letters.name == 1
    assert [person.name for page in plan.pages for lane in page for person in lane.people] == [*NAMES[::2][:5], *NAMES[1::2][:5]]


def test_what_somebody_has_of_their_own_is_never_cut() -> None:
    lane = LaneView("box jump", "10 reps", (PersonView("Maximiliana", "12 step-up"),))
    cut = replace(lane, people=(PersonView("Maxi…", "12 step-up"),))
    assert lane_block(lane, 40, LetterSizes(1, 1)) is None
    blocks = [lane_block(one, 75, LetterSizes(1, 1)) for one in (lane, cut)]
    assert len({tuple(map(text, block.lines)) for block in blocks if block is not None}) == 1


def test_a_title_makes_way_for_names() -> None:
    lanes = stations(*(NAMES[at::4][:7] for at in range(4)))
    view = LanesView(lanes, "next: rest")
    assert all(name in _painted(view, 78, 10) for lane in lanes for name in [person.name for person in lane.people])
    assert "NOW" in _painted(view, 78, 16)


def _painted(view: LanesView, width: int, height: int) -> str:
    return "\n".join(map(text, LanesPanel().paint(view, width, height)))


def test_a_press_on_a_name_in_letters_means_that_athlete() -> None:
    block = lane_block(*stations(NAMES[:6]), 158, LetterSizes(1, 1))
    assert block is not None
    assert [name for _, name in block.places] == list(NAMES[:6])
    assert all(not a.overlaps(b) for a, _ in block.places for b, _ in block.places if a is not b)


def test_people_of_the_first_station_have_the_rows_that_are_free() -> None:
    lines = [text(line) for line in squeezed_lines(stations(*[NAMES[:8]] * 3), 30, 6)]
    assert "ROW  9  Ilka" in lines[0]
    assert all(name in " ".join(lines[:3]) for name in NAMES[:8])


def test_a_brief_is_on_its_pages_whole_and_no_page_ends_in_a_heading() -> None:
    for height in range(3, 30):
        bound = pages(BRIEF, 44, height, 0)
        written = "".join(text(line) for page in bound for line in page).replace(" ", "")
        assert all(len(page) <= height for page in bound)
        if 6 < height < LETTERED_FROM:
            assert all(words.replace(" ", "") in written for _, words in BRIEF.lines)
        assert all(text(page[-1]).strip() not in {"Options"} for page in bound if height > 4)


def test_cautions_in_a_brief_have_a_mark_of_their_own() -> None:
    view = BriefView("The harbour", (("caution", "Keep clear."),))
    assert text(pages(view, 40, 3, 0)[0][1]).startswith(" !  Keep clear.")


def test_a_brief_is_as_large_as_one_page_allows_and_for_the_room_large_on_several() -> None:
    view = BriefView("The harbour", (("text", "Walk tall."), ("small", "Qualified staff decide.")))
    assert len(pages(view, 156, 28, 0)) == 1
    assert sum(map(_draws_letters, pages(view, 156, 28, 0)[0])) > 12
    long = BriefView("The harbour", tuple(("text", f"Walk tall, round {number}, and set the bell down.") for number in range(12)))
    assert not _draws_letters(pages(long, 156, 19, 0)[0][-1])
    assert all(any(map(_draws_letters, page)) for page in pages(long, 156, 28, 2))


def test_a_heading_in_letters_is_whole_and_has_what_it_heads_beside_it() -> None:
    said: tuple[BriefLine, ...] = (
        ("heading", "The harbour"),
        ("text", "3 of 6 held"),
        ("heading", "Carry and sit"),
        ("text", "6 of 6 done"),
    )
    for rows in range(9, 40):
        bound = pages(BriefView("", said), 80, rows, 2)
        assert len(bound) <= 2, "larger letters are worth no more than one page"
        for page in bound:
            assert sum(map(_draws_letters, page)) >= 6, "a heading and a line under it"


@pytest.mark.parametrize(
    ("people", "width", "height", "columns"), [(40, 158, 11, 4), (24, 158, 13, 2), (14, 78, 8, 2), (6, 78, 9, 1)]
)
def test_the_board_takes_the_fewest_columns_that_hold_everybody(people: int, width: int, height: int, columns: int) -> None:
    grid = board_grid(people, width, height)
    assert grid.columns == columns
    assert grid.places >= people


def test_every_place_of_the_board_is_under_its_own_cells() -> None:
    grid = board_grid(40, 158, 11)
    assert grid.place_at(0, 0) is None
    assert grid.place_at(3, 1) == 0
    assert grid.place_at(3, 2) == 1
    assert grid.place_at(grid.cell + 2, 1) == grid.lines
    assert grid.place_at(157, 10) == 39


def test_the_header_says_which_page_and_how_many_are_at_work() -> None:
    rows = floor_view(24).rows
    line = text(header_line(rows, page_of(rows, 18, 1), 78))
    assert "24 here" in line
    assert "8 at work" in line
    assert "page 1 of 2" in line


def test_a_sliver_of_board_names_those_at_work_and_counts_the_rest() -> None:
    line = text(at_work_lines(floor_view(14).rows, 20, 1)[0])
    assert line.rstrip() == "b Bram  e Odd  +3"


CALL = CallLine(
    "Sefa runs out in round 5 at step-up: rest 24, 19, 16 s. Drop to 8 reps?", "give 8", ("Sefa runs out. Drop to 8 reps?",)
)


def test_a_call_keeps_what_would_help_and_its_key_where_the_reasons_have_no_room() -> None:
    wide, narrow = (CoachLines().paint(CoachView(calls=(CALL,)), width, 2) for width in (110, 60))
    assert "rest 24, 19, 16 s. Drop to 8 reps?   F2 give 8" in text(wide[0])
    assert "Sefa runs out. Drop to 8 reps?   F2 give 8" in text(narrow[0])


def test_calls_do_not_jump_when_an_answer_comes_and_goes() -> None:
    calls = (CALL, CallLine("Odd tight: rest 12 s"), CallLine("Runa fading: rest 30, 26, 22 s"))
    silent, answered = (CoachLines().paint(CoachView(notice, calls=calls), 60, 4) for notice in ("", "Ilka 31.4, 28 left"))
    assert silent[:3] == answered[:3]


def test_a_chance_is_no_alarm() -> None:
    view = CoachView(calls=(CALL, CallLine("Runa has rest to spare", kind="chance"), CallLine("2 targets", "give", kind="offer")))
    lines = CoachLines().paint(view, 120, 5)
    alarming = [any(segment.style in (ALERT, ALERT_PLATE) for segment in line) for line in lines[:3]]
    assert alarming == [True, False, False]
    assert "ROOM FOR MORE  Runa" in text(lines[1])
