"""Rests, teams, loads, several moves, scores and who is out, as the floor shows and takes them."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

from floorclock.clock.events import LoadChanged, NotFinished, PartEnded, ResultEntered, ScoreEntered
from floorclock.clock.state import new_state
from floorclock.live.plan_files import read_plan
from floorclock.plan.work import Load, LoadUnit
from tests.clock.classes import Run
from tests.opened_classes import plan_at
from tests.tui.floor.running_floor import Floor

REPERTOIRE = Path(__file__).parents[2] / "repertoire"


def floor_of(folder: Path, session: str, roster: str = "athletes: [Ilka]\n") -> Floor:
    plan = plan_at(folder, session, roster)
    return Floor(Run(new_state(plan.session, plan.roster.athletes)))


def floor_for(number: str) -> Floor:
    plan = read_plan(next((REPERTOIRE / "plans").glob(f"{number}-*.yaml")), REPERTOIRE / "people.yaml")
    return Floor(Run(new_state(plan.session, plan.roster.athletes)))


async def test_a_rest_counts_down_to_the_go_says_what_comes_and_enter_goes_on_early() -> None:
    async with floor_for("13").at_work(270_000) as floor:
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
    async with floor_for("03").open() as floor:
        await floor.press("enter")
        lanes = floor.view.lanes.lanes
        assert [(lane.move, lane.target) for lane in lanes] == [
            ("row", "200 m"),
            ("burpee", "10 reps"),
            ("box step-up", "8 reps"),
        ]


async def test_loads_stand_beside_the_names_where_they_differ_and_start_places_before_the_start() -> None:
    async with floor_for("26").open() as floor:
        assert floor.view.brief is not None
        assert ("text", "bike: Sefa, Odd, Runa") in floor.view.brief.lines
        await floor.press("enter")
        lane = floor.view.lanes.lanes[0]
        assert (lane.move, lane.target) == ("deadlift", "8 reps")
        assert {person.name: person.own for person in lane.people}["Bram"] == "40 kg"


LIFTS = """
session: Lifts
parts:
  - {kind: rotation, every: 2:00, rounds: 2, together: true, score: load,
     stations: [{move: back squat, target: 5-3 reps, load: 75%}]}
"""
LIFTERS = """
athletes:
  - {name: Corvin}
  - {name: Aino, best: {back squat: 100 kg}}
  - {name: Halvar}
"""


async def test_who_has_no_load_of_their_own_stands_with_those_who_have_one(tmp_path: Path) -> None:
    async with floor_of(tmp_path, LIFTS, LIFTERS).open() as floor:
        await floor.press("enter")
        (lane,) = floor.view.lanes.lanes
        assert [(person.name, person.own) for person in lane.people] == [("Aino", "75 kg"), ("Corvin", ""), ("Halvar", "")]
        assert lane.note == ""


async def test_the_planned_load_of_a_set_is_what_enter_takes(tmp_path: Path) -> None:
    async with floor_of(tmp_path, LIFTS, LIFTERS).at_work(121_000) as floor:
        await floor.press("f6", "enter", "enter", "enter", "f6")
        assert [(sent.athlete, sent.amount) for sent in floor.sent(ScoreEntered)] == [("Aino", 75)]


async def test_results_of_teams_name_everybody_and_ask_about_rounds_that_nobody_does() -> None:
    async with floor_for("15").at_work(60_000) as floor:
        await floor.press("f6")
        assert "Ilka + Runa + Teo" in floor.dialog_text
        await floor.press("9", "9", "9", "enter")
        assert "999 rounds" in floor.dialog_text


PAIRS = """
session: Pairs
parts:
  - {kind: open, title: Warm-up, time: 8:00}
  - kind: amrap
    title: Together
    time: 18:00
    in: pairs
    turns: shared
    buy_in: [{move: row, target: 1000 m}]
    work: [{move: wall ball, target: 20 reps}, {move: box step-up, target: 10 reps}]
    cash_out: [{move: plank, target: 1:00}]
"""


async def test_before_a_class_the_whole_work_of_a_part_is_said_and_teams_stand_apart(tmp_path: Path) -> None:
    async with floor_of(tmp_path, PAIRS, "athletes: [Aino, Brisa, Corvin, Eskil]\n").open() as floor:
        brief = floor.view.brief
        assert brief is not None
        lines = [words for _, words in brief.lines]
        assert {"first: row 1000 m", "wall ball 20 reps, box step-up 10 reps", "last: plank 1:00"} <= set(lines)
        teams = floor.state.teams(1)
        assert len(teams) == 2
        assert "; ".join(" + ".join(team) for team in teams) in lines
        await floor.press("enter", "enter")
        await floor.wait(10_000 + 83_900)
        await floor.press("b")
        mine = next(team for team in teams if "Brisa" in team)
        assert floor.notice == f"{' + '.join(mine)} 1:23.9 since the start"


async def test_a_class_that_is_over_names_each_key_once_and_everybody_on_one_page(tmp_path: Path) -> None:
    people = "athletes:\n" + "".join(f"  - {{name: Athlete {number}}}\n" for number in range(1, 16))
    async with floor_of(tmp_path, LIFTS, people).at_work(241_000, size=(80, 24)) as floor:
        assert floor.view.clock.mood == "over"
        keys = [key for key, _ in floor.view.keys]
        assert sorted(keys) == sorted(set(keys))
        assert ("F6", "numbers missing") in floor.view.keys
        await floor.pilot.pause()
        assert floor.screen.stage.board.page.count == 1


async def test_the_load_of_one_athlete_is_changed_from_their_sheet() -> None:
    async with floor_for("26").open() as floor:
        await floor.press("enter", "tab", "f3", "home", *["down"] * 5, "enter")
        assert "load" in floor.dialog_text
        await floor.type("72")
        await floor.press("full_stop", "5", "enter")
        (sent,) = floor.sent(LoadChanged)
        assert (sent.athlete, sent.load) == ("Ilka", Load(Fraction(145, 2), LoadUnit.KG))


async def test_a_team_has_one_row_any_of_its_keys_taps_and_the_turn_moves_on_with_each_round() -> None:
    async with floor_for("15").open() as floor:
        await floor.press("enter")
        assert floor.notice == "one more in: Ilka + Runa + Teo"
        assert [row.name for row in floor.view.rows] == ["▸Ilka + Runa + Teo", "▸Bram + Sefa", "▸Noor + Wim", "▸Odd + Dunja"]
        await floor.wait(70_000)
        await floor.press("s")
        assert floor.row("Bram").name == "Bram + ▸Sefa"
        assert floor.row("Bram").detail == "1 round"


async def test_the_numbers_of_a_set_are_asked_for_and_a_key_goes_to_its_athlete() -> None:
    async with floor_for("19").at_work(21_000) as floor:
        assert ("F6", "numbers missing") in floor.view.keys
        await floor.press("f6")
        assert "reps of set 1" in floor.dialog_text
        await floor.press("n", "1", "8", "enter", "f6")
        (sent,) = floor.sent(ScoreEntered)
        assert (sent.athlete, sent.amount) == ("Noor", 18)
        assert floor.row("Noor").detail == "18"


async def test_numbers_are_set_right_set_by_set_and_a_dash_is_asked_for_no_more() -> None:
    async with floor_for("19").at_work(51_000) as floor:
        everybody = len(floor.view.rows)
        await floor.press("f6", *["1", "8", "enter"] * (everybody - 1), "minus", "f6")
        # All are in, or left out on purpose: the next set is asked for by itself, and arrows turn from one to the other.
        assert "reps of set 2" in floor.dialog_text
        await floor.press("left")
        assert "reps of set 1" in floor.dialog_text
        await floor.press("i", "1", "9", "right", "escape", "tab", "f3", "f3")
        assert "reps of set 1" in floor.dialog_text
        scores = floor.sent(ScoreEntered)
        assert [one.amount for one in scores[:everybody]] == [18] * (everybody - 1) + [None]
        assert (scores[-1].athlete, scores[-1].interval, scores[-1].amount) == ("Ilka", 0, 19)


async def test_one_score_is_changed_from_the_sheet_of_its_athlete() -> None:
    async with floor_for("19").at_work(21_000) as floor:
        await floor.press("tab", "f3", "f3", "enter", "1", "2", "enter")
        (sent,) = floor.sent(ScoreEntered)
        assert (sent.athlete, sent.interval, sent.amount) == ("Ilka", 0, 12)


async def test_a_part_with_rounds_and_a_number_asks_for_both(tmp_path: Path) -> None:
    work = "{kind: amrap, title: Both, time: 1:00, score: {each: part, unit: metres}, work: [{move: row, target: 100 m}]}"
    async with floor_of(tmp_path, f"session: Both\nparts:\n  - {work}\n").at_work(65_000) as floor:
        await floor.press("f6", "3", "5", "0", "enter", "f6")
        assert "Results of Both" in floor.dialog_text
        await floor.press("3", "plus", "5", "0", "f6")
        (score,), (result,) = floor.sent(ScoreEntered), floor.sent(ResultEntered)
        assert (score.amount, result.rounds, result.reps) == (350, 3, 50)
        assert ("F6", "numbers missing") not in floor.view.keys


async def test_the_last_reps_of_who_is_out_are_asked_for() -> None:
    async with floor_for("06").at_work(65_000) as floor:
        await floor.press("tab", "f11")
        assert ("F6", "numbers missing") in floor.view.keys
        await floor.press("f6")
        assert "Reps of the last round" in floor.dialog_text
        await floor.press("4", "f6")
        (sent,) = floor.sent(ResultEntered)
        assert (sent.athlete, sent.rounds, sent.reps) == ("Ilka", None, 4)
        assert ("F6", "numbers missing") not in floor.view.keys


async def test_answers_name_the_whole_team_and_who_of_it_is_meant_is_asked() -> None:
    async with floor_for("15").at_work(60_000) as floor:
        assert "▸ now: Ilka, Bram, Noor, Odd" in floor.view.lanes.next
        await floor.press("s")
        assert floor.notice.startswith("Bram + Sefa")
        assert "▸ now: Ilka, Noor, Sefa, Odd" in floor.view.lanes.next
        await floor.press("tab", "tab", "f3")
        assert "Who of the team?" in floor.dialog_text
        await floor.press("s", "delete", "down", "enter")
        assert floor.notice == "Sefa went home; Bram goes on"


async def test_who_misses_the_minute_is_out_in_one_step_and_a_tap_of_theirs_says_so() -> None:
    async with floor_for("06").at_work(65_000) as floor:
        await floor.press("tab", "f11")
        (sent,) = floor.sent(NotFinished)
        assert (sent.athlete, sent.interval) == ("Ilka", 0)
        assert (floor.row("Ilka").status, floor.row("Ilka").detail) == ("idle", "out in round 1")
        assert floor.row("Bram").status == "work"
        await floor.press("i")
        assert "out" in floor.notice


async def test_an_option_of_a_list_of_rounds_is_shown_with_all_of_them(tmp_path: Path) -> None:
    """`Ilka 3 rows` beside `2-4-6` was read as three rows in every round."""
    floor = floor_of(
        tmp_path,
        "session: Up\ncount_in: 0\nparts:\n"
        "  - {kind: for_time, cap: 9:00, rounds: 3, work: [{move: pull-up, target: 2-4-6 reps, options: "
        "[{name: rows, move: ring row, target: 3-6-9 reps}]}]}\n",
        "athletes: [{name: Ilka, options: {pull-up: rows}}, Bram]\n",
    )
    async with floor.open():
        await floor.press("enter")
        (lane,) = floor.view.lanes.lanes
        assert (lane.move, lane.target) == ("pull-up", "2-4-6")
        assert [(person.name, person.own) for person in lane.people] == [("Ilka", "3-6-9 rows")]
