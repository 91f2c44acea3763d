"""Every key of the key table on a running floor: what it does, what it asks first, and what it refuses in words."""

from __future__ import annotations

from dataclasses import replace

import pytest

from floorclock.clock.events import (
    Allowed,
    ChoiceTaken,
    ClassEnded,
    Event,
    OptionChosen,
    PartBegun,
    Paused,
    Regrouped,
    ResultEntered,
    Skipped,
    Tapped,
    WentBack,
)
from floorclock.clock.splits import Status
from floorclock.live.conductor import COUNT_LEAD_MS
from floorclock.plan.roster import SAFE_KEYS, Athlete
from floorclock.plan.session import Amrap, AnyPart, Choice, ForTime, OpenPart
from floorclock.plan.work import Station
from floorclock.tui.floor.commands import COMMANDS, KeyCommand, command_for
from floorclock.tui.floor.desk import FloorSettings
from floorclock.tui.floor.dialogs.athlete_sheet import AthleteSheet
from floorclock.tui.floor.moment import Phase, moment
from floorclock.tui.floor.view import FloorView
from tests.clock.classes import ILKA, LIGHTER, NOOR, STEP, SWING, harbour, reps
from tests.tui.floor.running_floor import Floor, floor_of

OPTIONS = replace(harbour(), work=(replace(SWING, options=(LIGHTER,)), STEP))
GUARDED = replace(harbour(), work=(Station(move="box jump", target=reps(5), guarded=True, caution="Step down."), STEP))
FINISHER = ForTime(title="Carry", cap_ms=60_000, rounds=4, work=(SWING,), choose=(Choice(name="shorter", rounds=3),))


def _phase(floor: Floor) -> Phase:
    return moment(floor.state, floor.state.now_ms).phase


def test_no_command_is_a_letter_or_a_digit() -> None:
    assert [command.shown for command in COMMANDS if command.character in SAFE_KEYS and command.character] == []
    assert all(command_for(key, key) is None for key in SAFE_KEYS)


@pytest.mark.parametrize(
    "command",
    [command for command in COMMANDS if command.key and not command.key.startswith("page")],
    ids=lambda command: command.shown,
)
async def test_every_key_of_the_table_is_answered_on_a_floor_at_work(command: KeyCommand) -> None:
    """By an event, a word, a dialog or another choice; what each key does is tried below and in test_advising.py."""
    async with floor_of(settings=FloorSettings(mute=lambda quiet: None)).at_work() as floor:
        await floor.press(floor.row("Ilka").key, "tab")
        before = (floor.notice, floor.view.rows, floor.app.screen, len(floor.run.journal.events))
        await floor.press(command.key)
        assert (floor.notice, floor.view.rows, floor.app.screen, len(floor.run.journal.events)) != before


async def test_enter_starts_the_class_and_goes_on_after_an_open_part() -> None:
    async with floor_of(OpenPart(title="Warm-up"), harbour()).open() as floor:
        await floor.press("enter")
        assert _phase(floor) is Phase.OPEN
        await floor.wait(20_000)
        await floor.press("enter")
        assert floor.state.runs[-1].index == 1


async def test_enter_pressed_twice_in_a_hurry_skips_no_part() -> None:
    async with floor_of(OpenPart(title="Warm-up"), OpenPart(title="Brief"), harbour()).open() as floor:
        await floor.press("enter")
        assert [run.index for run in floor.state.runs] == [0]


async def test_enter_in_an_open_part_before_its_minimum_asks_again() -> None:
    async with floor_of(OpenPart(title="Warm-up", time_ms=600_000, min_ms=120_000), harbour()).open() as floor:
        await floor.press("enter")
        await floor.wait(30_000)
        await floor.press("enter")
        assert "1:30 short of the planned minimum" in floor.notice
        assert floor.state.runs[-1].index == 0
        await floor.press("enter")
        assert floor.state.runs[-1].index == 1


async def test_enter_while_people_work_changes_nothing_and_says_so() -> None:
    async with floor_of().at_work() as floor:
        await floor.press("enter")
        assert "F9 ends this part" in floor.notice
        await floor.press("space", "enter")
        assert "space goes on" in floor.notice
    assert len(floor.sent(PartBegun)) == 1


async def test_enter_after_the_last_open_part_ends_it() -> None:
    async with floor_of(OpenPart(title="Cool down")).open() as floor:
        await floor.press("enter")
        await floor.wait(5_000)
        await floor.press("enter")
        assert _phase(floor) is Phase.OVER


async def test_space_stops_the_clock_and_goes_on_after_a_count() -> None:
    async with floor_of().at_work() as floor:
        await floor.press("space")
        await floor.wait(60_000)
        assert floor.view.clock.text == "0:30"
        await floor.press("space")
        assert floor.view.clock.mood_word == "GET READY"
        await floor.wait(COUNT_LEAD_MS + floor.state.session.resume_count_in_ms)
        assert (floor.view.clock.text, floor.view.clock.mood_word) == ("0:30", "WORK")


async def test_space_stops_the_clock_where_it_stood_when_the_key_was_read() -> None:
    async with floor_of().at_work() as floor:
        floor.run.clock.move_ms(900)
        await floor.press("space", at_s=40.25)
    assert [event.at_ms for event in floor.sent(Paused)] == [40_250]


async def test_space_before_the_class_does_nothing() -> None:
    async with floor_of().open() as floor:
        await floor.press("space")
    assert floor.run.journal.events == []


async def test_f9_ends_the_part_only_when_the_coach_says_yes() -> None:
    async with floor_of(harbour(), harbour()).open() as floor:
        await floor.press("f9")
        assert floor.notice == "no part is running"
        await floor.press("enter")
        await floor.wait(40_000)
        await floor.press("i", "f9")
        assert "The harbour" in floor.dialog_text
        await floor.press("escape")
        assert _phase(floor) is Phase.WORK
        await floor.press("f9", "enter")
        assert _phase(floor) is Phase.BETWEEN
        assert floor.mark("Ilka", 0) is not None


async def test_f10_before_the_class_leaves_without_a_trace() -> None:
    async with floor_of().open() as floor:
        await floor.press("f10")
        assert "has not begun" in floor.dialog_text
        await floor.press("escape")
        assert floor.app.is_running
        await floor.press("f10", "enter")
        assert floor.app.return_code == 0
    assert floor.run.journal.events == []


async def test_f10_ends_the_class_and_then_leaves() -> None:
    async with floor_of(harbour(), harbour()).at_work() as floor:
        await floor.press("f10", "escape")
        assert not floor.state.over
        await floor.press("f10", "enter")
        assert floor.view.clock.mood_word == "OVER"
        assert floor.app.is_running
        await floor.press("f10", "enter")
        assert floor.app.return_code == 0
    assert len(floor.sent(ClassEnded)) == 1


async def test_a_class_that_came_to_its_end_is_ended_when_the_coach_leaves() -> None:
    async with floor_of(harbour(rounds=1), count_in_ms=0).at_work(181_000) as floor:
        assert floor.view.clock.mood_word == "OVER"
        await floor.press("f10", "enter")
        assert floor.app.return_code == 0
    assert len(floor.sent(ClassEnded)) == 1


@pytest.mark.parametrize(("key", "event", "asks"), [("right", Skipped, "skip"), ("left", WentBack, "clears its taps")])
async def test_arrows_that_lose_something_want_to_be_pressed_twice(key: str, event: type[Event], asks: str) -> None:
    async with floor_of().at_work() as floor:
        await floor.press(key)
        assert asks in floor.notice
        assert floor.sent(event) == []
        await floor.wait(3_500)
        await floor.press(key)
        assert floor.sent(event) == [], "the first press was too long ago"
        await floor.press(key)
        assert len(floor.sent(event)) == 1


async def test_one_arrow_does_not_confirm_the_other() -> None:
    async with floor_of().at_work() as floor:
        await floor.press("right", "left", "right")
    assert floor.sent(Skipped) == []
    assert floor.sent(WentBack) == []


async def test_skip_goes_to_the_next_interval_and_back_voids_this_one() -> None:
    async with floor_of().at_work() as floor:
        await floor.press("right", "right")
        assert floor.view.head.minute == "minute 2 of 9"
        assert floor.view.clock.text == "1:00"
        await floor.wait(20_000)
        await floor.press("i")
        await floor.press("left", "left")
        assert floor.view.clock.text == "1:00"
        assert floor.mark("Ilka", 1) is None


async def test_arrows_up_and_down_give_and_take_ten_seconds() -> None:
    async with floor_of().at_work() as floor:
        await floor.press("up")
        assert floor.view.clock.text == "0:40"
        await floor.press("down", "down")
        assert floor.view.clock.text == "0:20"


async def test_backspace_takes_back_the_last_tap_and_with_somebody_chosen_theirs() -> None:
    async with floor_of(athletes=(ILKA, replace(NOOR, group=1))).at_work() as floor:
        await floor.press("i", "n")
        await floor.press("backspace")
        assert floor.notice == "Noor: 30.0 undone"
        await floor.press("n")
        await floor.press("tab")
        assert floor.row("Ilka").selected
        await floor.press("backspace")
        assert floor.notice == "Ilka: 30.0 undone"
        assert (floor.mark("Ilka", 0), floor.mark("Noor", 0) is None) == (None, False)
        await floor.press("backspace")
        assert floor.notice == "no tap to undo"


async def test_a_tap_of_the_wrong_key_goes_to_the_right_one_with_its_time() -> None:
    async with floor_of().at_work() as floor:
        await floor.press("greater_than_sign")
        assert floor.notice == "no tap to undo"
        await floor.press("b")
        await floor.wait(7_000)
        await floor.press("greater_than_sign", "i")
        moved = floor.mark("Ilka", 0)
        assert floor.mark("Bram", 0) is None
        assert floor.notice == "Ilka 30.0, 30 left"
        await floor.press("greater_than_sign", "escape")
    assert moved is not None
    assert (moved.split_ms, moved.corrected) == (30_000, False)


async def test_a_new_target_on_a_ladder_is_said_as_it_is_in_the_round_it_is_given_for() -> None:
    async with floor_of(replace(harbour(), work=(STEP,))).at_work(60_000 + 30_000) as floor:
        await floor.press("f3", "i", "ctrl+t", "down", "enter")
        assert floor.notice == "Ilka: step-up 10 from now on"
        await floor.press("f3", "i")
        sheet = floor.app.screen
        assert isinstance(sheet, AthleteSheet)
        assert "work: step-up 10 reps" in [line.plain.strip() for line in sheet.facts(74, 20)]


async def test_a_round_that_comes_seconds_after_the_last_one_is_asked_about() -> None:
    part = Amrap(title="Ten", time_ms=600_000, work=(SWING,))
    async with floor_of(part, count_in_ms=0).open() as floor:
        await floor.press("enter")
        for wait_ms in (60_000, 6_000):
            await floor.wait(wait_ms)
            await floor.press("i")
        assert floor.state.runs[-1].laps["Ilka"] == [60_000]
        assert floor.notice == "Ilka: another round after 6 s? press again"
        await floor.press("b")
        await floor.press("i", "i")
        assert floor.state.runs[-1].laps == {"Ilka": [60_000, 66_000], "Bram": [66_000]}
        await floor.wait(40_000)
        await floor.press("i")
        assert len(floor.state.runs[-1].laps["Ilka"]) == 3


async def test_forty_people_have_keys_that_caps_lock_does_not_change() -> None:
    people = [Athlete(name=f"Athlete {number}") for number in range(40)]
    async with floor_of(athletes=people, count_in_ms=0).open() as floor:
        await floor.press("enter")
        assert not any(row.key.isupper() for row in floor.view.rows)
        last = floor.view.rows[-1]
        assert floor.screen.commands.athlete_of_key(last.key) == last.athlete
        await floor.press("f3", "A")
        assert "Athlete 0" in floor.dialog_text


async def test_louder_and_quieter_say_how_loud_it_is() -> None:
    steps: list[int] = []

    def change(step: int) -> int:
        steps.append(step)
        return 100 + 10 * sum(steps)

    async with floor_of(settings=FloorSettings(change_volume=change)).open() as floor:
        await floor.press("minus", "minus", "plus")
        assert floor.notice == "volume 90 %"
        assert ("+ -", "volume") in floor.view.keys


async def test_tab_goes_through_the_board_and_escape_chooses_nobody() -> None:
    async with floor_of().open() as floor:
        chosen = []
        for key in ("tab", "tab", "tab", "tab", "shift+tab", "shift+tab", "escape", "shift+tab"):
            await floor.press(key)
            await floor.wait(0)
            chosen.append(next((row.name for row in floor.view.rows if row.selected), ""))
    assert chosen == ["Ilka", "Bram", "Noor", "Ilka", "Noor", "Bram", "", "Noor"]


async def test_f3_opens_the_sheet_of_the_chosen_athlete_or_asks_whose() -> None:
    async with floor_of().at_work() as floor:
        await floor.press("f3")
        assert "Which athlete?" in floor.dialog_text
        await floor.press("b")
        assert "Bram" in floor.dialog_text
        assert floor.sent(Tapped) == []
        await floor.press("escape", "tab", "f3")
        assert "Ilka" in floor.dialog_text


async def test_f4_adds_a_latecomer_who_can_be_tapped() -> None:
    async with floor_of().at_work() as floor:
        await floor.press("f4")
        await floor.type("[b]Oda[/]")
        await floor.press("enter")
        row = floor.row("[b]Oda[/]")
        assert row.key
        assert row.name in floor.text
        await floor.wait(60_000)
        await floor.press(row.key)
        assert floor.mark("[b]Oda[/]", 1) is not None


@pytest.mark.parametrize(
    ("part", "keys", "typed", "name", "reached"),
    [
        (Amrap(title="Tide", time_ms=60_000, work=(SWING,)), ["f6"], "5+12", "Ilka", (5, 12)),
        (ForTime(title="Tide", cap_ms=60_000, rounds=9, work=(SWING,)), ["f6", "down"], "3+8", "Bram", (3, 8)),
    ],
    ids=["rounds of an amrap", "what a capped finisher reached"],
)
async def test_f6_enters_results(part: AnyPart, keys: list[str], typed: str, name: str, reached: tuple[int, int]) -> None:
    async with floor_of(part, count_in_ms=0).open() as floor:
        await floor.press("f6")
        assert floor.notice == "no part with results was begun"
        await floor.press("enter")
        await floor.wait(61_000)
        await floor.press(*keys)
        assert "Tide" in floor.dialog_text
        await floor.type(typed)
        await floor.press("enter", "f6")
        assert floor.row(name).detail == f"{reached[0]} rounds + {reached[1]}"
        assert [(event.athlete, event.rounds, event.reps) for event in floor.sent(ResultEntered)] == [(name, *reached)]


async def test_page_keys_turn_the_board() -> None:
    async with floor_of(athletes=[replace(ILKA, name=f"Ilka {n}", key="") for n in range(40)]).open(size=(80, 24)) as floor:
        await floor.press("enter")
        first = floor.screen.stage.board.page.shown
        await floor.press("pagedown")
        second = floor.screen.stage.board.page.shown
        await floor.press("pageup")
        assert floor.screen.stage.board.page.shown == first
    assert first != second


async def test_f8_turns_the_sound_off_and_on_and_says_so() -> None:
    quiet: list[bool] = []
    async with floor_of(settings=FloorSettings(mute=quiet.append)).open() as floor:
        await floor.press("f8")
        assert "muted" in floor.notice
        await floor.press("f8")
        assert floor.notice == "sound on"
    assert quiet == [True, False]


async def test_the_question_mark_shows_every_key_and_any_key_closes_it() -> None:
    async with floor_of().open() as floor:
        await floor.press("question_mark")
        shown = floor.dialog_text
        await floor.press("end")
        shown += floor.dialog_text
        missing = [command.shown for command in COMMANDS if command.does and command.shown not in shown]
        await floor.press("escape")
        assert floor.app.screen is floor.screen
    assert missing == []


async def test_the_sheet_marks_not_finished_and_corrects() -> None:
    async with floor_of().at_work() as floor:
        await floor.press("f3", "i", "f11")
        while floor.app.screen is not floor.screen:
            await floor.press("enter")
        mark = floor.mark("Ilka", 0)
        assert mark is not None
        assert mark.status is Status.NOT_FINISHED
        await floor.flagged("Ilka", "not finished")
        await floor.press("f3", "i", "f3", "enter")
        await floor.type("41.5")
        await floor.press("enter")
        mark = floor.mark("Ilka", 0)
    assert mark is not None
    assert (mark.status, mark.split_ms, mark.corrected) == (Status.DONE, 41_500, True)


async def test_not_finished_on_the_sheet_is_a_whole_piece_of_work_as_it_is_on_the_floor() -> None:
    async with floor_of(FINISHER).at_work() as floor:
        await floor.press("f3", "i", "f11")
        assert floor.app.screen is floor.screen
        assert floor.notice == "Ilka: not finished"
        await floor.press("f11", "b")
        assert floor.state.runs[-1].not_finished == {"Ilka", "Bram"}


async def test_before_the_go_nobody_has_missed_anything_on_the_sheet_as_on_the_floor() -> None:
    async with floor_of(FINISHER).open() as floor:
        await floor.press("enter")
        await floor.press("f3", "i", "f11", "escape")
        await floor.press("f11", "i")
        assert floor.state.runs[-1].not_finished == set()
        assert not floor.state.runs[-1].marks


async def test_the_sheet_changes_a_target_on_the_spot() -> None:
    async with floor_of().at_work() as floor:
        await floor.press("f3", "i", "enter", "enter")
        await floor.type("10")
        await floor.press("enter")
        own = floor.own_work("Ilka")
        await floor.press("i")
        mark = floor.mark("Ilka", 0)
    assert own == ["10"]
    assert mark is not None
    assert mark.amount == 10


async def test_another_target_in_the_middle_of_a_ladder_keeps_its_steps() -> None:
    async with floor_of(athletes=(replace(ILKA, group=2),), count_in_ms=0).open() as floor:
        await floor.press("enter")
        await floor.wait(3 * 60_000 + 5_000)
        assert floor.view.head.round == "round 2 of 3"
        await floor.press("f3", "i", "enter", "enter")
        await floor.type("9")
        await floor.press("enter")
        work = floor.state.assignment("Ilka", floor.state.runs[-1], 3)
        later = floor.state.assignment("Ilka", floor.state.runs[-1], 6)
    assert work is not None
    assert work.target is not None
    assert later is not None
    assert later.target is not None
    assert [work.target.in_round(2), later.target.in_round(3)] == [9, 10]


async def test_the_sheet_sends_somebody_home_and_they_are_not_chosen_any_more() -> None:
    async with floor_of().at_work() as floor:
        await floor.press("b", "tab", "tab")
        assert floor.row("Bram").selected
        await floor.press("f3")
        await floor.press("delete")
        while floor.app.screen is not floor.screen:
            await floor.press("enter")
        assert [row.name for row in floor.view.rows] == ["Ilka", "Noor"]
        await floor.press("i", "backspace")
        assert floor.notice == "Ilka: 30.0 undone", "backspace went to somebody who is not there"
        await floor.press("b")
        assert floor.notice == "nobody has the key b"


@pytest.mark.parametrize(
    ("part", "downs", "sent", "next_says"),
    [
        (OPTIONS, 4, OptionChosen(at_ms=0, athlete="Ilka", move="kettlebell swing", option="lighter"), ""),
        (OPTIONS, 10, Regrouped(at_ms=0, athlete="Ilka", group=2), ""),
        (FINISHER, 4, ChoiceTaken(at_ms=0, athlete="Ilka", part=0, choice="shorter"), "shorter: Ilka"),
        (GUARDED, 9, Allowed(at_ms=0, athlete="Ilka", move="box jump"), ""),
    ],
    ids=["an option", "a start group", "a choice of a finisher", "the yes to a guarded move"],
)
async def test_what_is_chosen_on_the_sheet_is_sent(part: AnyPart, downs: int, sent: Event, next_says: str) -> None:
    async with floor_of(part, count_in_ms=0).at_work(5_000) as floor:
        await floor.press("f3", "i", "home", *["down"] * downs, "enter", "down", "enter")
        assert [replace(event, at_ms=0) for event in floor.sent(type(sent))] == [sent]
        assert next_says in floor.view.lanes.next


async def test_keys_are_told_on_the_floor_in_every_state() -> None:
    floor = floor_of(harbour(rounds=1), OpenPart(title="Walk"), count_in_ms=0)

    def keys(view: FloorView) -> set[str]:
        return {key for key, _ in view.keys}

    async with floor.open():
        assert {"Enter", "?"} <= keys(floor.view)
        await floor.press("enter")
        assert {"space", "backspace", "F9", "?"} <= keys(floor.view)
        await floor.wait(181_000)
        assert {"Enter", "?"} <= keys(floor.view)
        await floor.press("enter")
        assert {"F6", "F10", "?"} <= keys(floor.view)


def test_the_key_that_takes_an_advice_back_is_known_by_every_name_that_terminals_give_it() -> None:
    found = [command_for(key, None) for key in ("shift+f2", "f14", "\x1a")]
    assert [command.shown if command else "" for command in found] == ["Shift+F2"] * 3
