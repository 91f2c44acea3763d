"""Rests, teams, loads, several moves, scores and who is out, as the floor shows and takes them."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

from floorclock.clock.events import LoadChanged, NotFinished, PartEnded, ScoreEntered
from floorclock.clock.state import new_state
from floorclock.live.plan_files import read_plan
from floorclock.plan.work import Load, LoadUnit
from tests.clock.classes import Run
from tests.tui.floor.running_floor import Floor

REPERTOIRE = Path(__file__).parents[2] / "repertoire"


def floor_for(number: str) -> Floor:
    path = next((REPERTOIRE / "plans").glob(f"{number}-*.yaml"))
    plan = read_plan(path, REPERTOIRE / "people.yaml")
    return Floor(Run(new_state(plan.session, plan.roster.athletes)))


async def test_a_rest_counts_down_to_the_go_says_what_comes_and_enter_goes_on_early() -> None:
    floor = floor_for("13")
    async with floor.open():
        await floor.press("enter")
        await floor.wait(10_000 + 240_000 + 30_000)
        view = floor.view
        assert (view.clock.mood, view.clock.text) == ("rest", "1:30")
        assert view.brief is not None
        assert view.brief.title == "then: Four minutes, block 2 of 3"
        assert ("heading", "row  10 cal") in view.brief.lines
        assert {row.status for row in view.rows} == {"idle"}
        await floor.press("enter")
        assert len(floor.sent(PartEnded)) == 1
        assert floor.view.clock.mood_word == "GET READY"


async def test_several_moves_in_one_window_are_shown_each_with_its_target() -> None:
    floor = floor_for("03")
    async with floor.open():
        await floor.press("enter")
        lanes = floor.view.lanes.lanes
        assert [(lane.move, lane.target) for lane in lanes] == [
            ("row", "200 m"),
            ("burpee", "10 reps"),
            ("box step-up", "8 reps"),
        ]


async def test_loads_stand_beside_the_names_where_they_differ_and_start_places_before_the_start() -> None:
    floor = floor_for("26")
    async with floor.open():
        assert floor.view.brief is not None
        assert ("text", "bike: Sefa, Odd, Runa") in floor.view.brief.lines
        await floor.press("enter")
        lane = floor.view.lanes.lanes[0]
        assert (lane.move, lane.target) == ("deadlift", "8 reps")
        assert {person.name: person.own for person in lane.people}["Bram"] == "40 kg"


async def test_the_load_of_one_athlete_is_changed_from_their_sheet() -> None:
    floor = floor_for("26")
    async with floor.open():
        await floor.press("enter", "tab", "f3", "home", *["down"] * 5, "enter")
        assert "load" in floor.dialog_text
        await floor.type("72")
        await floor.press("full_stop", "5", "enter")
        (sent,) = floor.sent(LoadChanged)
        assert (sent.athlete, sent.load) == ("Ilka", Load(Fraction(145, 2), LoadUnit.KG))


async def test_a_team_has_one_row_any_of_its_keys_taps_and_the_turn_moves_on_with_each_round() -> None:
    floor = floor_for("15")
    async with floor.open():
        await floor.press("enter")
        assert floor.notice == "one more in: Ilka + Runa + Teo"
        assert [row.name for row in floor.view.rows] == ["▸Ilka + Runa + Teo", "▸Bram + Sefa", "▸Noor + Wim", "▸Odd + Dunja"]
        await floor.wait(70_000)
        await floor.press("s")
        assert floor.row("Bram").name == "Bram + ▸Sefa"
        assert floor.row("Bram").detail == "1 round"


async def test_the_numbers_of_a_set_are_asked_for_and_a_key_goes_to_its_athlete() -> None:
    floor = floor_for("19")
    async with floor.open():
        await floor.press("enter")
        await floor.wait(10_000 + 21_000)
        assert ("F6", "numbers missing") in floor.view.keys
        await floor.press("f6")
        assert "reps of set 1" in floor.dialog_text
        await floor.press("n", "1", "8", "enter", "f2")
        (sent,) = floor.sent(ScoreEntered)
        assert (sent.athlete, sent.amount) == ("Noor", 18)
        assert floor.row("Noor").detail == "18"


async def test_who_misses_the_minute_is_out_in_one_step_and_a_tap_of_theirs_says_so() -> None:
    floor = floor_for("06")
    async with floor.open():
        await floor.press("enter")
        await floor.wait(10_000 + 65_000)
        await floor.press("tab", "f11")
        (sent,) = floor.sent(NotFinished)
        assert (sent.athlete, sent.interval) == ("Ilka", 0)
        assert (floor.row("Ilka").status, floor.row("Ilka").detail) == ("idle", "out in round 1")
        assert floor.row("Bram").status == "work"
        await floor.press("i")
        assert "out" in floor.notice
