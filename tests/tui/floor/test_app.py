"""The floor under a manual clock: every state, every tap, every size. No test waits for the class clock."""

from __future__ import annotations

import random
from dataclasses import replace
from fractions import Fraction

import pytest
from textual import events

from floorclock.clock.events import Allowed, CarriedOn, MarginChanged, PartBegun, Paused, Tapped, TargetChanged
from floorclock.digest.words import SAFETY
from floorclock.live.conductor import COUNT_LEAD_MS, Conductor
from floorclock.plan.roster import Athlete, give_keys
from floorclock.plan.session import Amrap, ForTime, Intervals, OpenPart, Paced
from floorclock.plan.work import Station
from floorclock.tui.floor.desk import FloorSettings
from floorclock.tui.floor.dialogs.dialog import PassedKey
from floorclock.tui.floor.dialogs.pages import Confirm, ResumeQuestion
from tests.clock.classes import BRAM, FORTY, ILKA, NOOR, STEP, SWING, Run, harbour, state_of
from tests.odd_names import A_FEW
from tests.tui.floor.running_floor import Floor, floor_of, key_event

WARM_UP = OpenPart(title="Warm-up", time_ms=60_000)
FOR_TIME = ForTime(title="Carry", cap_ms=300_000, rounds=2, work=(SWING, STEP))


async def test_a_class_goes_through_its_states() -> None:
    floor = floor_of(
        harbour(rounds=1), OpenPart(title="Walk"), Intervals(title="Short", work_ms=20_000, rest_ms=10_000, sets=2, work=(SWING,))
    )
    seen = []

    def look() -> None:
        seen.append((floor.view.clock.mood, floor.view.clock.mood_word.split("  ")[0]))

    async with floor.open():
        look()
        await floor.press("enter")
        look()
        await floor.wait(10_000)
        look()
        await floor.press("space")
        look()
        await floor.press("space")
        await floor.wait(COUNT_LEAD_MS + floor.state.session.resume_count_in_ms)
        await floor.wait(180_000)
        look()
        await floor.press("enter")
        await floor.wait(10_000 + 20_000)
        look()
        await floor.wait(30_000)
        look()
    assert seen == [
        ("ready", "READY"),
        ("count", "GET READY"),
        ("work", "WORK"),
        ("paused", "PAUSED"),
        ("open", "WALK"),
        ("rest", "REST"),
        ("over", "OVER"),
    ]


async def test_between_two_timed_parts_the_floor_waits_for_enter() -> None:
    async with floor_of(harbour(rounds=1), harbour(rounds=1), count_in_ms=0).at_work(180_000) as floor:
        assert floor.view.clock.mood_word == "NEXT PART"
        assert floor.view.brief is not None
        await floor.wait(600_000)
        assert len(floor.state.runs) == 1
        await floor.press("enter")
        assert floor.state.runs[-1].index == 1


async def test_before_the_class_the_brief_and_the_safety_line_are_on_the_wall() -> None:
    async with floor_of(replace(harbour(), caution="Nobody stands behind a swing.")).open() as floor:
        assert floor.view.brief is not None
        lines = [words for _, words in floor.view.brief.lines]
        assert SAFETY in lines
        assert "Nobody stands behind a swing." in lines
        await floor.press("enter")
        assert floor.view.coach.caution == "Nobody stands behind a swing."


@pytest.mark.parametrize(
    ("handled_ms", "read_s", "split_ms", "credited", "said"),
    [
        pytest.param(40_000, 41.234, 31_234, False, "Ilka 31.2, 28 left", id="the split is that of the time its bytes were read"),
        pytest.param(60_400, 69.9, 59_900, False, "Ilka 59.9, 0 left", id="read before the boundary and handled after it"),
        pytest.param(61_500, 71.5, 60_000, True, "Ilka: finished on the bell", id="just after the boundary it is credited"),
    ],
)
async def test_a_tap_counts_for_the_interval_it_was_meant_for(
    handled_ms: int, read_s: float, split_ms: int, credited: bool, said: str
) -> None:
    async with floor_of().at_work(handled_ms) as floor:
        await floor.press("i", at_s=read_s)
        assert floor.notice == said
        mark = floor.mark("Ilka", 0)
        assert mark is not None
        assert (mark.split_ms, mark.credited) == (split_ms, credited)
        assert floor.mark("Ilka", 1) is None


async def test_a_second_tap_changes_nothing_and_says_so() -> None:
    async with floor_of().at_work() as floor:
        await floor.press("i")
        first = floor.mark("Ilka", 0)
        await floor.wait(5_000)
        await floor.press("i")
        assert floor.notice == "Ilka already done at 30.0"
        assert floor.view.coach.notice_kind == "warning"
        assert floor.mark("Ilka", 0) == first


@pytest.mark.parametrize(
    ("athletes", "tapped"),
    [
        pytest.param([ILKA], "Ilka", id="caps lock does not deafen the floor"),
        pytest.param([ILKA, Athlete(name="Imke", key="I")], "Imke", id="where both cases are keys each taps its own athlete"),
    ],
)
async def test_a_capital_taps_whose_key_it_is_or_would_be(athletes: list[Athlete], tapped: str) -> None:
    async with floor_of(athletes=athletes).at_work() as floor:
        await floor.press("I")
    assert [event.athlete for event in floor.sent(Tapped)] == [tapped]


async def test_a_key_of_nobody_says_so_and_taps_nobody() -> None:
    async with floor_of().at_work() as floor:
        await floor.press("z")
        assert floor.notice == "nobody has the key z"
    assert floor.sent(Tapped) == []


async def test_keys_that_print_nothing_tap_nobody_even_where_athletes_are_more_than_keys() -> None:
    crowd = give_keys([Athlete(name=f"Athlete {number}") for number in range(70)])
    assert crowd[-1].key == ""
    async with floor_of(athletes=crowd).at_work() as floor:
        await floor.press("f2", "f7", "home", "ctrl+t")
    assert floor.sent(Tapped) == []


async def test_a_burst_of_forty_taps_in_300_ms_loses_none_and_doubles_none() -> None:
    order = random.Random(5).sample(FORTY, len(FORTY))
    async with floor_of(athletes=FORTY).at_work(40_000) as floor:
        for number, athlete in enumerate(order):
            floor.app.post_message(key_event(athlete.key, 49.7 + number * 0.3 / 40))
        await floor.settle()
        marks = floor.state.runs[-1].marks
        done = [row for row in floor.view.rows if row.status == "done"]
    assert [event.athlete for event in floor.sent(Tapped)] == [athlete.name for athlete in order]
    assert {name: mark.split_ms for (name, _), mark in marks.items()} == {
        athlete.name: int(39_700 + number * 7.5) for number, athlete in enumerate(order)
    }
    assert len(done) == 40


async def test_taps_that_follow_one_another_go_before_what_is_thought_of_the_pace(monkeypatch: pytest.MonkeyPatch) -> None:
    async with floor_of(athletes=FORTY).at_work(40_000) as floor:
        screen = floor.screen
        assert screen._timer is not None
        screen._timer.cancel()
        thought: list[int] = []
        monkeypatch.setattr(screen.presenter.outlooks, "follow", lambda _: thought.append(screen.desk.ticks))
        began = screen.desk.ticks
        for tick in range(50):
            screen.desk.ticks += 1
            if tick < len(FORTY):
                await floor.press(FORTY[tick].key)
            screen._think()
    ticks = [tick - began for tick in thought]
    in_the_rush = [tick for tick in ticks if tick <= len(FORTY)]
    assert len(in_the_rush) in (2, 3), "every two seconds, no more"
    assert ticks[len(in_the_rush) :] == list(range(len(FORTY) + 2, 51))


async def test_the_pacing_is_there_before_anybody_taps() -> None:
    async with floor_of().open() as floor:
        await floor.until(lambda: floor.screen._pacing_here)
        assert not floor.state.runs


async def test_the_same_key_three_times_in_a_burst_counts_once() -> None:
    async with floor_of().at_work(40_000) as floor:
        for at_s in (49.0, 49.05, 49.1):
            floor.app.post_message(key_event("i", at_s))
        await floor.settle()
        mark = floor.mark("Ilka", 0)
    assert mark is not None
    assert mark.split_ms == 39_000
    assert len(floor.sent(Tapped)) == 3


def _place_of(floor: Floor, name: str) -> tuple[int, int]:
    """A cell of an athlete's row on the screen."""
    region = floor.screen.stage.board.region
    for y, line in enumerate(floor.text.splitlines()):
        if region.y < y < region.bottom and name in line:
            return line.index(name), y
    raise AssertionError(f"{name} is not on the board")


async def _touch(floor: Floor, x: int, y: int, at_s: float) -> None:
    """A press of the mouse as a terminal reports it, read at a monotonic time."""
    press = events.MouseDown(None, x, y, 0, 0, 1, False, False, False)
    press.time = at_s
    floor.app.post_message(press)
    await floor.settle()


async def test_a_press_on_a_row_is_one_tap_of_the_time_it_was_read_at() -> None:
    async with floor_of().at_work(40_000) as floor:
        await _touch(floor, *_place_of(floor, "Ilka"), at_s=41.5)
        mark = floor.mark("Ilka", 0)
        await floor.pilot.click(offset=_place_of(floor, "Noor"))
        await floor.settle()
    assert mark is not None
    assert mark.split_ms == 31_500
    assert [event.athlete for event in floor.sent(Tapped)] == ["Ilka", "Noor"]


@pytest.mark.parametrize("dialog_key", ["f9", "f10", "f3", "f5", "question_mark"])
async def test_a_click_on_a_row_beside_an_open_dialog_is_still_a_tap(dialog_key: str) -> None:
    async with floor_of(athletes=FORTY).at_work() as floor:
        x, y = _place_of(floor, "Athlete 2 ")
        await floor.press(dialog_key)
        assert not floor.dialog.covers(x, y)
        await _touch(floor, x, y, at_s=39.5)
        assert floor.dialog is not None
        mark = floor.mark("Athlete 2", 0)
    assert mark is not None
    assert mark.split_ms == 29_500
    assert [event.athlete for event in floor.sent(Tapped)] == ["Athlete 2"]


@pytest.mark.parametrize(
    ("key", "opens"), [("f9", "End The harbour now?"), ("f10", "End the class now?"), ("question_mark", "All keys")]
)
async def test_taps_count_while_a_dialog_is_open(key: str, opens: str) -> None:
    async with floor_of().at_work() as floor:
        await floor.press(key)
        assert opens in floor.dialog_text
        await floor.press("b", at_s=39.0)
        mark = floor.mark("Bram", 0)
        assert floor.notice == "Bram 29.0, 31 left"
    assert mark is not None
    assert mark.split_ms == 29_000
    assert len(floor.sent(Tapped)) == 1


async def test_taps_count_in_a_sheet_and_the_margin_dialog_keeps_its_digits() -> None:
    async with floor_of().at_work() as floor:
        await floor.press("tab", "f3")
        await floor.press("b")
        assert floor.mark("Bram", 0) is not None
        await floor.press("escape")
        await floor.press("f5")
        await floor.type("0:20")
        await floor.press("enter")
        assert floor.state.margin_ms == 20_000
    assert [event.athlete for event in floor.sent(Tapped)] == ["Bram"]


async def _at_once(floor: Floor, *keys: str) -> None:
    """Keys as one read of the terminal brings them: all of them before the first is handled."""
    for key in keys:
        floor.app.post_message(key_event(key, floor.run.clock.monotonic_ns() / 1e9))
    for _ in range(5):
        await floor.settle()


async def test_keys_typed_at_once_belong_to_what_the_first_of_them_opens() -> None:
    async with floor_of().at_work() as floor:
        await _at_once(floor, "f3", "i", "enter", "enter", "8", "enter", "b")
        assert [event.target.amount for event in floor.sent(TargetChanged)] == [8]
        assert [event.athlete for event in floor.sent(Tapped)] == ["Bram"], "the key of the sheet is no tap, the one after it is"


async def test_keys_that_come_while_the_app_ends_are_nobodys() -> None:
    async with floor_of().open() as floor:
        await floor.press("f9", "question_mark")
    assert floor.app.screen_stack == []
    await floor.app.on_event(key_event("i"))
    floor.app.on_passed_key(PassedKey(key_event("i"), from_closed=True))
    assert floor.sent(Tapped) == []


async def test_fifty_times_the_same_key_never_stack_dialogs() -> None:
    async with floor_of().at_work() as floor:
        for key in ("question_mark", "f3", "f4", "f5", "f9", "f10"):
            await _at_once(floor, *[key] * 50)
            assert len(floor.app.screen_stack) <= 2, key
            await floor.press("escape")
            assert len(floor.app.screen_stack) == 1, key
        await floor.press("i")
        assert [event.athlete for event in floor.sent(Tapped)] == ["Ilka"]


async def test_behind_a_question_the_clock_goes_on_and_no_other_opens_over_it() -> None:
    async with floor_of().at_work() as floor:
        await floor.press("f9", "question_mark")
        assert isinstance(floor.dialog, Confirm)
        assert len(floor.app.screen_stack) == 2
        await floor.wait(10_000)
        assert floor.view.clock.text == "0:20"


async def test_every_size_of_the_terminal_keeps_a_running_class_on_the_wall() -> None:
    async with floor_of(athletes=FORTY).open(size=(80, 24)) as floor:
        await floor.press("enter")
        for size in [(20, 6), (400, 100), (21, 50), (80, 24), (240, 67), (40, 12), (160, 45)]:
            await floor.pilot.resize_terminal(*size)
            await floor.wait(7_000)
            await floor.press("f9")
            await floor.press("escape")
            assert len(floor.text.splitlines()) == size[1]
            assert {len(line) for line in floor.text.splitlines()} == {size[0]}
        await floor.press(FORTY[0].key)
        assert floor.mark(FORTY[0].name, 0) is not None


async def test_names_with_markup_are_names() -> None:
    people = give_keys([Athlete(name=name) for name in A_FEW])
    async with floor_of(athletes=people).at_work() as floor:
        for athlete in people:
            await floor.press(athlete.key)
            await floor.press("f3", athlete.key)
            assert athlete.name[:5] in floor.dialog_text
            await floor.press("escape")
        assert "[bold]Bo" in floor.text
        assert "[@click=quit]x[/]" in floor.text
        assert len(floor.state.runs[-1].marks) == len(A_FEW)


async def test_taps_in_a_part_for_time_are_finishes_and_in_an_amrap_rounds() -> None:
    async with floor_of(FOR_TIME, Amrap(title="Tide", time_ms=60_000, work=(SWING,)), count_in_ms=0).at_work(62_700) as floor:
        await floor.press("i")
        assert floor.row("Ilka").detail == "1:02.7"
        await floor.press("f9", "enter", "enter")
        for _ in range(3):
            await floor.wait(10_000)
            await floor.press("b")
        assert floor.row("Bram").detail == "3 rounds"


async def test_a_tap_in_a_paced_part_says_where_somebody_stopped() -> None:
    floor = floor_of(
        Paced(title="Low water", move="step-up", beats_per_minute=Fraction(80), beats_per_rep=4, time_ms=60_000), count_in_ms=0
    )
    async with floor.open():
        await floor.press("enter")
        await floor.wait(30_000)
        await floor.press("n")
        assert floor.row("Noor").status == "done"
        # 80 beats a minute, 4 to a rep: a beat every 0.75 s from 0, so 41 beats by 30 s, 10 whole reps.
        assert floor.row("Noor").detail == "10 reps"


async def test_an_untapped_interval_is_unknown_and_no_flag() -> None:
    async with floor_of().at_work(65_000) as floor:
        row = floor.row("Ilka")
    assert row.flag == ""
    assert row.detail == "untapped"
    assert row.past[-1].rest is None


@pytest.mark.parametrize(
    ("own_ms", "split_ms", "asked", "typed", "flags", "part"),
    [
        pytest.param(None, 40_000, "for the class", "25", ("", "tight"), None, id="of the class"),
        pytest.param(30_000, 35_000, "for this part", "10", ("tight", ""), 0, id="of a part with its own"),
    ],
)
async def test_another_margin_changes_the_flags_at_once(
    own_ms: int | None, split_ms: int, asked: str, typed: str, flags: tuple[str, str], part: int | None
) -> None:
    async with floor_of(replace(harbour(), rest_margin_ms=own_ms)).at_work(split_ms) as floor:
        await floor.press("i")
        await floor.flagged("Ilka", flags[0])
        await floor.press("f5")
        assert asked in floor.dialog_text
        await floor.type(typed)
        await floor.press("enter")
        await floor.flagged("Ilka", flags[1])
        assert floor.view.bar.left_words == f"done with {typed} left"
        assert [(event.margin_ms, event.part) for event in floor.sent(MarginChanged)] == [(int(typed) * 1000, part)]


def interrupted(away_ms: int) -> Floor:
    """A class that was tapped and paused, opened again: as `resume_class` does, on the state of its journal."""
    run = Run(state_of(harbour(), athletes=(ILKA, BRAM, NOOR)))
    for event in (PartBegun(at_ms=0, part=0), Tapped(at_ms=40_000, athlete="Ilka"), Paused(at_ms=40_000)):
        run.conductor.send(event)
    return Floor(Run(run.state), FloorSettings(away_ms=away_ms))


async def test_after_a_crash_the_floor_asks_and_goes_on_from_where_it_stopped() -> None:
    async with interrupted(away_ms=130_000).open() as floor:
        assert isinstance(floor.dialog, ResumeQuestion)
        assert "2:10" in floor.dialog_text
        assert floor.row("Ilka").split == "30.0"
        assert floor.view.clock.mood_word == "PAUSED"
        await floor.press("enter")
        assert [(event.away_ms, event.jump_ms) for event in floor.sent(CarriedOn)] == [(130_000, 0)]
        await floor.wait(COUNT_LEAD_MS + floor.state.session.resume_count_in_ms)
        assert floor.view.clock.text == "0:30"


async def test_after_a_crash_the_floor_can_go_on_from_where_the_clock_would_be() -> None:
    async with interrupted(away_ms=50_000).open() as floor:
        await floor.press("down", "enter")
        await floor.wait(0)
        assert floor.view.head.minute == "minute 2 of 9"
        assert floor.view.clock.text == "0:40"


async def test_a_question_left_open_leaves_the_class_paused_and_space_goes_on() -> None:
    async with interrupted(away_ms=50_000).open() as floor:
        await floor.press("escape")
        assert "space goes on" in floor.notice
        await floor.wait(5_000)
        assert floor.view.clock.mood_word == "PAUSED"
        await floor.press("space")
        assert not floor.state.paused


async def test_a_machine_that_slept_pauses_the_class_and_asks() -> None:
    async with floor_of().at_work() as floor:
        floor.run.clock.sleep_ms(90_000)
        await floor.wait(0)
        assert "1:30" in floor.dialog_text
        assert floor.state.paused


async def test_one_key_hides_from_the_class_what_is_the_coachs_and_brings_it_back() -> None:
    async with floor_of(harbour(rounds=5), count_in_ms=0).at_work(50_000) as floor:
        await floor.press("i")
        await floor.flagged("Ilka", "tight")
        assert floor.view.coach.calls
        await floor.press("f12")
        assert floor.app.settings.shows == "class"
        assert (floor.view.coach.calls, floor.row("Ilka").flag, floor.row("Ilka").status) == ((), "", "done")
        await floor.press("f2", "f7")
        assert floor.notice == "calls are in the coach view: F12"
        assert floor.state.quiet == set()
        await floor.press("f12")
        assert floor.view.coach.calls
        assert floor.row("Ilka").flag == "tight"


async def test_standing_notices_are_in_the_head_and_change_with_the_machine() -> None:
    words = ["NOT SAVED: disk full"]
    async with floor_of(settings=FloorSettings(badges=lambda: words[0])).open() as floor:
        assert floor.view.head.badge == "NOT SAVED: disk full"
        assert "NOT SAVED: disk full" in floor.text
        words[0] = ""
        await floor.wait(100)
        assert "NOT SAVED" not in floor.text


async def test_warnings_about_the_plan_are_said_when_the_floor_opens() -> None:
    async with floor_of(settings=FloorSettings(remark=lambda: "2 things to think about")).open() as floor:
        assert floor.notice == "2 things to think about"


async def test_a_notice_goes_away_by_itself() -> None:
    async with floor_of().open() as floor:
        await floor.press("z")
        assert floor.notice
        floor.screen.desk.ticks += 200
        await floor.wait(0)
        assert floor.notice == ""


async def test_a_demo_floor_starts_by_itself_and_its_hands_tap() -> None:
    class Hands:
        def run(self, conductor: Conductor) -> None:
            """Starts the class, and taps Ilka once people work."""
            if not conductor.state.runs:
                conductor.begin(0)
            if conductor.state.run is not None and conductor.class_ms() > 40_000 and not conductor.state.taken:
                conductor.tap("Ilka")

    async with floor_of(settings=FloorSettings(autopilot=Hands())).open() as floor:
        assert floor.state.runs
        await floor.wait(45_000)
        await floor.until(lambda: floor.mark("Ilka", 0) is not None)


async def test_the_class_clock_is_noted_every_second_for_a_machine_that_dies() -> None:
    beats: list[int] = []
    floor = floor_of(harbour())
    floor.app.settings.beat = lambda: beats.append(floor.app.conductor.class_ms())
    async with floor.open():
        await floor.press("enter")
        await floor.wait(12_345)
        await floor.until(lambda: 12_345 in beats)


async def test_cues_that_say_more_than_the_time_are_words_too() -> None:
    async with floor_of(count_in_ms=0).at_work(50_000) as floor:
        assert floor.view.clock.mood_word == "WORK  LAST TEN"


async def test_an_athlete_without_work_says_rest_and_a_tap_changes_nothing() -> None:
    async with floor_of(count_in_ms=0).at_work() as floor:
        assert floor.row("Noor").status == "rest"
        await floor.press("n")
        assert floor.notice == "Noor is resting: not counted"
    assert floor.state.runs[-1].marks == {}


async def test_a_class_without_a_roster_runs() -> None:
    async with floor_of(athletes=()).at_work(size=(80, 24)) as floor:
        await floor.press("tab", "backspace", "f3", "escape", "f6")
        assert floor.view.rows == ()
        assert floor.view.clock.text == "0:30"


async def test_a_gated_move_is_said_on_the_lane_until_the_coach_says_yes() -> None:
    guarded = Station(move="box jump", target=SWING.target, guarded=True)
    async with floor_of(replace(harbour(), work=(guarded, STEP)), athletes=(ILKA,), count_in_ms=0).open() as floor:
        await floor.press("enter")
        assert floor.own_work("Ilka") == ["needs the coach's yes"]
        floor.run.send(Allowed, athlete="Ilka", move="box jump")
        await floor.wait(0)
        assert not any(floor.own_work("Ilka"))


async def test_ctrl_c_does_not_end_a_class() -> None:
    async with floor_of().open() as floor:
        await floor.press("enter", "ctrl+c")
        assert floor.app.is_running
        await floor.press("ctrl+q")
        assert floor.app.is_running, "a slip of a finger must not end a class"
