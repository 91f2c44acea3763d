"""Classes from paper: what is right is recorded as it was written, what is wrong is said at once, nothing is half taken."""

from __future__ import annotations

import csv
import errno
import io
import json
import time
from datetime import datetime, timedelta
from fractions import Fraction
from pathlib import Path

import pytest

from floorclock.clock.events import ClassEnded, EffortRated, Event, PartBegun
from floorclock.clock.splits import Coming, Split, Status
from floorclock.clock.state import ClassState
from floorclock.clock.tally import coming, results, splits
from floorclock.clock.timeline import part_timeline
from floorclock.errors import InputProblems, NotFound, ResourceError, WrongUsage
from floorclock.insight.history import ask_history, loads_before, prior_of
from floorclock.journal.reading import read_journal
from floorclock.journal.replay import replay
from floorclock.journal.shelf import Shelf
from floorclock.live.afterwards import add_event, recorded_digest
from floorclock.live.conductor import ManualClock
from floorclock.live.opening import resume_class
from floorclock.live.plan_files import Plan
from floorclock.pace.load import session_loads
from floorclock.pace.prior import NO_PRIOR
from floorclock.plan.work import Unit
from floorclock.report.export import splits_csv
from floorclock.simulate.rehearsal import rehearse_class
from floorclock.transfer.paper import IntakeSheet, blank_sheet, read_intake, reckoning, record_intake
from tests.checks.reading import rows as published
from tests.journal.failing_disk import RefusingDisk
from tests.opened_classes import plan_at
from tests.plan import shipped
from tests.plan.shipped import SESSION_NAMES

BEGAN = datetime(2026, 11, 20, 18, 0).astimezone()
SESSION = """\
session: Quay and back
class_time: 60:00
count_in: 0:10
parts:
  - {kind: open, title: Warm-up, time: 5:00}
  - kind: rotation
    title: The quay
    every: 1:00
    rounds: 4
    stations:
      - move: step-up
        target: 10 reps
        options: [{name: lower, move: low step-up, target: 10 reps}]
      - {move: row, target: {start: 200 m, step: 10 m}}
      - rest
  - {kind: open, title: Rest, time: 2:00}
  - kind: for_time
    title: Carry and sit
    cap: 6:00
    rounds: 4
    work: [{move: sit-up, target: 15 reps}]
    choose: [{name: shorter, rounds: 3}]
  - {kind: amrap, title: Rising tide, time: 5:00, work: [{move: squat, target: 10 reps}]}
  - {kind: paced, title: Lengths, shuttle: {distance: 20 m, stages: [{speed: 8 km/h, shuttles: 7}, {speed: 9 km/h, shuttles: 8}]}}
  - {kind: open, title: Cool down, time: 3:00}
"""
ROSTER = """\
roster: Three
athletes:
  - {name: Ilka, targets: {row: 180 m}}
  - {name: Bram, group: 2, options: {step-up: lower}}
  - {name: Späte Oda, group: 3}
"""
HEAD = "part,round,station,athlete,split\n"
HEAD_WITH_MOVE = "part,round,station,athlete,split,move\n"
GO_MS = 300_000 + 10_000


@pytest.fixture
def plan(tmp_path: Path) -> Plan:
    return plan_at(tmp_path, SESSION, ROSTER)


def read(text: str | bytes, plan: Plan) -> IntakeSheet:
    return read_intake("paper.csv", text, plan)


def problems(text: str | bytes, plan: Plan) -> list[str]:
    with pytest.raises(InputProblems) as refused:
        read(text, plan)
    return [str(problem) for problem in refused.value.problems]


def only_problem(row: str, plan: Plan, head: str = HEAD) -> str:
    found = problems(head + row + "\n", plan)
    assert len(found) == 1, found
    return found[0]


def state_at(home: Path, class_id: str) -> tuple[ClassState, tuple[Event, ...]]:
    reading = read_journal(home / "classes" / f"{class_id}.jsonl")
    assert reading.header is not None
    assert reading.damage == ()
    return replay(reading.header, reading.events), reading.events


def recorded(text: str, plan: Plan, home: Path) -> ClassState:
    return state_at(home, record_intake(read(text, plan), plan, home, BEGAN))[0]


def rows_of(sheet: str) -> list[list[str]]:
    return list(csv.reader(io.StringIO(sheet, newline="")))


def text_of(rows: list[list[str]], delimiter: str = ",") -> str:
    out = io.StringIO(newline="")
    csv.writer(out, delimiter=delimiter).writerows(rows)
    return out.getvalue()


def filled(plan: Plan, fields: dict[int, list[str]]) -> str:
    """The blank sheet of a plan with something written behind the first field of some rows."""
    rows = rows_of(blank_sheet(plan))
    for number, texts in fields.items():
        rows[number][1 : 1 + len(texts)] = texts
    return text_of(rows)


def of(state: ClassState, athlete: str) -> list[Split]:
    return [split for split in splits(state) if split.athlete == athlete]


def to_come(state: ClassState, athlete: str) -> list[Coming]:
    return [slot for run in state.runs for slot in coming(state, run, athlete)]


# -- what is on paper comes out -----------------------------------------------------------------------------------------


def test_splits_come_out_as_they_stand_on_paper(plan: Plan, home: Path) -> None:
    state = recorded(HEAD + "2,1,step-up,Ilka,31.4\n2,1,row,Ilka,0:44.05\n2,2,step-up,Ilka,1:00\n2,2,row,Ilka,nf\n", plan, home)
    found = [(split.round, split.interval, split.split_ms, split.status) for split in of(state, "Ilka")]
    assert found == [
        (1, 0, 31_400, Status.DONE),
        (1, 1, 44_050, Status.DONE),
        (2, 3, 60_000, Status.DONE),
        (2, 4, None, Status.NOT_FINISHED),
    ]
    # The first would have been a late tap for the interval before, had it been tapped.
    assert not any(split.credited for split in splits(state))


def test_targets_and_options_of_the_roster_hold(plan: Plan, home: Path) -> None:
    state = recorded(HEAD + "2,1,row,Ilka,40\n2,2,row,Ilka,40\n2,1,step-up,Bram,40\n", plan, home)
    assert [(split.move, split.amount, split.unit) for split in of(state, "Ilka") if split.station == 1] == [
        ("row", Fraction(180), Unit.METRES),
        ("row", Fraction(190), Unit.METRES),
    ]
    assert next(split for split in of(state, "Bram") if split.split_ms).move == "low step-up"


@pytest.mark.parametrize(
    ("who", "rows", "moves"),
    [
        ("Ilka", "step-up,Ilka,50, | Low  Step-Up,Ilka,40, | step-up,Ilka,41,", "step-up low step-up step-up"),
        ("Ilka", "Lower,Ilka,50, | step-up,Ilka,40,", "low step-up step-up"),
        ("Ilka", "step-up,Ilka,50,low step-up | step-up,Ilka,40,step-up", "low step-up step-up"),
        ("Bram", "step-up,Bram,40,low step-up | step-up,Bram,41, | step-up,Bram,42,Step-Up", "low step-up low step-up step-up"),
    ],
    ids=["by its move as the station", "by its own name", "by the column of moves", "where an option is theirs anyway"],
)
def test_a_row_says_which_option_they_did_in_it(who: str, rows: str, moves: str, plan: Plan, home: Path) -> None:
    text = "".join(f"2,{number},{row}\n" for number, row in enumerate(rows.split(" | "), start=1))
    state = recorded(HEAD_WITH_MOVE + text, plan, home)
    assert " ".join(split.move for split in of(state, who) if split.station == 0 and split.split_ms) == moves


def test_an_option_that_is_theirs_anyway_changes_nothing_and_one_that_nobody_has_is_refused(plan: Plan, home: Path) -> None:
    class_id = record_intake(read(HEAD + "2,1,low step-up,Bram,40\n", plan), plan, home, BEGAN)
    assert [event.name for event in state_at(home, class_id)[1]] == ["part begun", "part begun", "split corrected", "class ended"]
    assert only_problem("2,1,step-up,Ilka,50,hop", plan, HEAD_WITH_MOVE) == (
        "paper.csv:2:6: move: nobody does `hop` at step-up (it has step-up, low step-up)"
    )


def test_the_name_of_an_option_gives_way_to_a_station_and_to_a_move(tmp_path: Path, home: Path) -> None:
    session = SESSION.replace("name: lower, move: low step-up", "name: row, move: low step-up")
    odd = plan_at(tmp_path / "odd", session, ROSTER.replace("options: {step-up: lower}", "options: {step-up: row}"))
    state = recorded(HEAD + "2,1,row,Ilka,50\n", odd, home)
    assert [(split.station, split.move) for split in of(state, "Ilka") if split.split_ms] == [(1, "row")]


def test_each_start_group_is_at_its_own_station(plan: Plan, home: Path) -> None:
    state = recorded(HEAD + "2,1,step-up,Ilka,30\n2,1,row,Bram,31\n2,1,step-up,späte oda,32\n", plan, home)
    taken = {split.athlete: (split.interval, split.station) for split in splits(state) if split.split_ms}
    assert taken == {"Ilka": (0, 0), "Bram": (0, 1), "Späte Oda": (1, 0)}


def test_what_nobody_wrote_down_before_the_end_is_untapped(plan: Plan, home: Path) -> None:
    state = recorded(HEAD + "2,1,step-up,Ilka,30\n2,1,row,Ilka,\n2,2,step-up,Ilka,33\n2,2,row,Bram,\n", plan, home)
    assert [split.status for split in of(state, "Ilka")] == [Status.DONE, Status.UNTAPPED, Status.DONE]
    assert {split.status for split in of(state, "Bram")} == {Status.UNTAPPED}


def test_who_has_no_row_is_in_no_figure_of_the_class_and_everybody_else_is_where_they_were(plan: Plan, home: Path) -> None:
    text = HEAD + "2,1,step-up,Späte Oda,32\n2,4,step-up,Späte Oda,33\n4,,,Späte Oda,5:00\n"
    state = recorded(text, plan, home)
    assert list(state.athletes) == ["Späte Oda"]
    assert {split.athlete for split in splits(state)} == {"Späte Oda"}
    assert [load.name for load in session_loads(state)] == ["Späte Oda"]
    # She is in start group 3, alone: her first step-up is in the second minute, as it would be with all three there.
    assert [(split.interval, split.round, split.split_ms) for split in of(state, "Späte Oda") if split.split_ms] == [
        (1, 1, 32_000),
        (10, 4, 33_000),
    ]
    planned = part_timeline(state.session.parts[1], state.session, (1, 2, 3))
    assert state.runs[1].timeline == planned != part_timeline(state.session.parts[1], state.session, (3,))
    summary = recorded_digest(Shelf(home).latest())
    assert summary.athletes == ("Späte Oda",)
    assert loads_before(home, ["Ilka", "Späte Oda"], BEGAN.date())["Ilka"].days[-1].classes == 0


def test_how_the_minutes_were_reckoned_is_said(plan: Plan) -> None:
    first = read(HEAD + "2,1,step-up,Ilka,30\n2,2,row,Ilka,30\n", plan)
    assert reckoning(first, plan) == (
        "10 minutes for everybody, by the times of the plan, up to the last interval written down (round 2 of The quay); "
        "what came after it is not in them: Rest, Carry and sit, Rising tide, Lengths, Cool down"
    )
    middle = read(HEAD + "4,,,Ilka,5:00\n", plan)
    assert reckoning(middle, plan) == (
        "13 minutes for everybody, by the times of the plan, up to the end of Carry and sit; "
        "what came after it is not in them: Rising tide, Lengths, Cool down"
    )
    whole = read(HEAD + "2,4,row,Ilka,30\n6,,,Ilka,1:05\n", plan)
    assert reckoning(whole, plan).endswith("minutes for everybody, by the times of the plan, up to the end of Cool down")


def test_the_class_stops_after_the_last_interval_that_says_anything(plan: Plan, home: Path) -> None:
    for last in ("35", "nf"):
        state = recorded(HEAD + f"2,1,step-up,Ilka,30\n2,2,step-up,Ilka,{last}\n2,2,row,Ilka,\n2,3,row,Bram,\n", plan, home)
        assert [split.interval for split in of(state, "Ilka")] == [0, 1, 3]
        assert [slot.interval for slot in to_come(state, "Ilka")] == [4, 6, 7, 9, 10]
        assert state.over
        assert session_loads(state)[0].minutes == (GO_MS + 4 * 60_000) / 60_000


def test_a_whole_class_has_its_cool_down_too(plan: Plan, home: Path) -> None:
    text = HEAD + "2,4,step-up,Bram,30\n4,,,Ilka,5:12.3\n5,7,,Ilka,\n6,,,Ilka,1:05\n"
    state, events = state_at(home, record_intake(read(text, plan), plan, home, BEGAN))
    shuttles_ms = state.runs[5].timeline.length_ms
    assert shuttles_ms is not None
    began = [event.at_ms for event in events if isinstance(event, PartBegun)]
    # The rest and the cool down begin by themselves, and every timed part has its count-in.
    assert began == [0, 300_000, GO_MS + 720_000 + 120_000, GO_MS + 840_000 + 370_000, GO_MS + 840_000 + 370_000 + 310_000]
    assert [run.index for run in state.runs] == [0, 1, 2, 3, 4, 5, 6]
    assert isinstance(events[-1], ClassEnded)
    assert events[-1].at_ms == began[-1] + 10_000 + shuttles_ms + 180_000
    assert session_loads(state)[1].minutes == events[-1].at_ms / 60_000
    assert to_come(state, "Ilka") == []


def test_a_part_that_stopped_early_before_a_later_one_was_ended_by_the_coach(plan: Plan, home: Path) -> None:
    state = recorded(HEAD + "2,1,step-up,Ilka,30\n4,,,Ilka,5:00\n", plan, home)
    assert [(run.index, run.ended_by_coach) for run in state.runs[:3]] == [(0, True), (1, True), (2, True)]
    assert state.runs[2].begun_ms == GO_MS + 60_000
    assert [result.time_ms for result in results(state)] == [300_000]
    # A part that nothing was written down of was not run, and has no untapped rounds.
    assert splits(recorded(HEAD + "4,,,Ilka,5:00\n", plan, home)) == ()


def test_results_of_every_kind(plan: Plan, home: Path) -> None:
    text = (
        "part,round,station,athlete,split,reps\n4,,,Ilka,5:12.3,\n4,3,shorter,Bram,nf,7\n4,,Shorter,Späte Oda,300,\n"
        "5,9,,Ilka,,4\n5,,,Bram,,\n6,,,Ilka,1:05,\n6,1,,Bram,,9\n"
    )
    found = {(result.part, result.athlete): result for result in results(recorded(text, plan, home))}
    first, second, third = found[3, "Ilka"], found[3, "Bram"], found[3, "Späte Oda"]
    assert (first.time_ms, first.rounds, first.choice, first.not_finished) == (312_300, None, "", False)
    assert (second.time_ms, second.rounds, second.reps, second.choice, second.not_finished) == (None, 3, 7, "shorter", True)
    assert (third.time_ms, third.choice) == (300_000, "shorter")
    assert (found[4, "Ilka"].rounds, found[4, "Ilka"].reps) == (9, 4)
    assert (4, "Bram") not in found
    # Seven shuttles of 20 m at 8 km/h take 63 s: who stops at 1:05 has a stage and seven shuttles.
    assert (found[5, "Ilka"].time_ms, found[5, "Ilka"].rounds, found[5, "Ilka"].reps) == (65_000, 1, 7)
    assert (found[5, "Bram"].rounds, found[5, "Bram"].reps) == (1, 9)


def test_sets_with_rest_between_are_found_by_round_and_station(tmp_path: Path, home: Path) -> None:
    session = (
        "session: Sets\ncount_in: 0\nparts:\n  - {kind: intervals, title: Sets, work: 0:40, rest: 0:20, sets: 6, "
        "final_rest: true, stations: [{move: squat, target: 10 reps}, {move: squat, target: 8 reps}]}\n"
    )
    two = plan_at(tmp_path / "squats", session, "athletes: [Ilka]\n")
    state = recorded(HEAD + "1,1,squat,Ilka,20.5\n1,1,SQUAT (2),Ilka,21.5\n1,3,squat (2),Ilka,22.5\n", two, home)
    assert [(one.interval, one.split_ms) for one in splits(state) if one.split_ms] == [(0, 20_500), (2, 21_500), (10, 22_500)]
    # After the last set the part goes on to the end of its rest.
    assert state.runs[0].ended_ms == 6 * 60_000


# -- the record ---------------------------------------------------------------------------------------------------------


def test_the_record_is_a_class_like_any_other_and_says_that_it_is_from_paper(plan: Plan, home: Path) -> None:
    class_id = record_intake(read(HEAD + "2,1,step-up,Ilka,31.4\n", plan), plan, home, BEGAN)
    entry = Shelf(home).classes()[0]
    assert (entry.id, entry.ended, entry.running, entry.rehearsal, entry.paper) == (class_id, True, False, False, True)
    assert entry.started == BEGAN
    assert class_id.startswith("20261120-1800-")
    summary = recorded_digest(entry.path)
    assert summary.parts[1].athletes[0].splits[0].split.split_ms == 31_400
    assert Shelf(home).interrupted() == ()
    walls = read_journal(entry.path).walls
    assert walls[1] == BEGAN + timedelta(minutes=5)
    resume_class(entry.path, ManualClock(BEGAN)).close()
    add_event(entry.path, EffortRated(at_ms=0, athlete="Ilka", effort=5))
    assert state_at(home, class_id)[0].efforts == {"Ilka": 5}
    assert ask_history(home, lambda store: prior_of(store, ["Ilka"]), NO_PRIOR)["Ilka", "step-up", Unit.REPS].classes == 1


def test_the_same_sheet_is_recorded_twice_only_where_that_is_asked_for(plan: Plan, home: Path) -> None:
    sheet = read(HEAD + "2,1,step-up,Ilka,31.4\n2,1,row,Ilka,40\n", plan)
    first = record_intake(sheet, plan, home, BEGAN)
    # What was said of it afterwards does not make it another class.
    add_event(home / "classes" / f"{first}.jsonl", EffortRated(at_ms=0, athlete="Ilka", effort=5))
    for began in (BEGAN, BEGAN - timedelta(days=1), None):
        with pytest.raises(NotFound, match=f"this looks like class {first}, already recorded"):
            record_intake(sheet, plan, home, began)
    assert len(Shelf(home).classes()) == 1
    second = record_intake(sheet, plan, home, BEGAN, again=True)
    assert len({first, second, *(entry.id for entry in Shelf(home).classes())}) == 2
    # One tenth more is another class, and so is one that goes on where this one stops.
    record_intake(read(HEAD + "2,1,step-up,Ilka,31.5\n2,1,row,Ilka,40\n", plan), plan, home, BEGAN)
    record_intake(read(HEAD + "2,1,step-up,Ilka,31.4\n2,1,row,Ilka,40\n2,2,row,Ilka,41\n", plan), plan, home, BEGAN)
    assert len(Shelf(home).classes()) == 4


def test_a_class_cannot_have_begun_in_the_future(plan: Plan, home: Path) -> None:
    sheet = read(HEAD + "2,1,step-up,Ilka,31.4\n", plan)
    for began in (datetime.now().astimezone() + timedelta(hours=1), datetime(1, 1, 1)):
        with pytest.raises(WrongUsage, match="the class cannot have begun"):
            record_intake(sheet, plan, home, began)
    assert not Shelf(home).classes()
    record_intake(sheet, plan, home)
    started, now = Shelf(home).classes()[0].started, datetime.now().astimezone()
    assert started is not None
    # Without a word about it, the class ended just now: five minutes, ten seconds and a minute after it began.
    assert timedelta(seconds=369) < now - started < timedelta(seconds=430)


def test_a_disk_that_refuses_leaves_nothing(plan: Plan, home: Path) -> None:
    with pytest.raises(ResourceError, match="was not recorded: disk full"):
        record_intake(read(HEAD + "2,1,step-up,Ilka,31.4\n", plan), plan, home, BEGAN, disk=RefusingDisk(errno.ENOSPC))
    assert [path.name for path in (home / "classes").iterdir()] == []


@pytest.mark.parametrize("session", SESSION_NAMES)
def test_what_review_writes_as_csv_can_be_taken_in_again(session: str, home: Path, tmp_path: Path) -> None:
    """Splits, not finished intervals and results come back; an option somebody changed on the floor is not in that file."""
    plan = shipped.plan(session)
    first = splits_csv(rehearse_class(plan, home, seed=4))
    if all(row["split"] + row["time"] + row["rounds"] + row["reps"] == "" for row in csv.DictReader(io.StringIO(first))):
        assert "there is no split and no result" in problems(first, plan)[0]
        return
    assert essence(first)
    class_id = record_intake(read(first.encode("utf-8-sig"), plan), plan, tmp_path / "other", BEGAN)
    again = splits_csv(recorded_digest(tmp_path / "other" / "classes" / f"{class_id}.jsonl"))
    assert essence(again) == essence(first)


def essence(text: str) -> list[tuple[str, ...]]:
    """The rows without flags; of rows that say nothing, none: what was never begun need not be the same parts."""
    kept = ("part", "round", "station", "athlete", "split", "status", "time", "rounds", "reps")
    rows = [tuple(row[name] for name in kept) for row in csv.DictReader(io.StringIO(text))]
    return [row for row in rows if row[5] != "untapped"]


def test_a_large_class_is_taken_in_at_once_with_one_look_at_the_disk(tmp_path: Path, home: Path) -> None:
    roster = "athletes: [" + ", ".join(f"{{name: Guest {number}, group: {number % 6 + 1}}}" for number in range(40)) + "]\n"
    stations = ", ".join(f"{{move: move {number}, target: 10 reps}}" for number in range(6))
    session = f"session: Long\nparts:\n  - {{kind: rotation, title: Long, every: 1:00, rounds: 5, stations: [{stations}]}}\n"
    large = plan_at(tmp_path / "large", session, roster)
    rows = rows_of(blank_sheet(large))
    for row in rows:
        row[1:7] = ["31.5"] * 6 if row[0].startswith("Guest") else row[1:7]
    begin = time.perf_counter()
    class_id = record_intake(read(text_of(rows), large), large, home, BEGAN)
    took_s = time.perf_counter() - begin
    state, events = state_at(home, class_id)
    assert (len(events), len(splits(state))) == (1_202, 1_200)
    assert took_s < 5


# -- what is wrong ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("row", "problem"),
    [
        ("8,1,row,Ilka,30", "2:1: part: the session has no part `8` (it has 7, the first is 1)"),
        ("0,1,row,Ilka,30", "2:1: part: the session has no part `0` (it has 7, the first is 1)"),
        ("The Quay,1,row,Ilka,30", "2:1: part: the session has no part `The Quay` (`The Quay` is part 2)"),
        (",1,row,Ilka,30", "2:1: part: nothing is written here (write the number of the part, 1 to 7)"),
        ("1,1,row,Ilka,30", "2:1: part: nothing is timed in `Warm-up` (leave the row out)"),
        ("2,5,row,Ilka,30", "2:2: round: there is no round 5 (`The quay` has rounds 1 to 4)"),
        ("2,0,row,Ilka,30", "2:2: round: there is no round 0 (`The quay` has rounds 1 to 4)"),
        ("2,one,row,Ilka,30", "2:2: round: `one` is no whole number (write it like 5)"),
        ("2,,row,Ilka,30", "2:2: round: nothing is written here (write the number of the round, from 1)"),
        ("2,1,rwo,Ilka,30", "2:3: station: `The quay` has no station `rwo` (did you mean row?)"),
        (
            "2,1,handstand,Ilka,30",
            "2:3: station: `The quay` has no station `handstand` (it has step-up, row, rest; as options low step-up)",
        ),
        ("2,1,lowstep-up,Ilka,30", "2:3: station: `The quay` has no station `lowstep-up` (did you mean low step-up?)"),
        ("2,1,,Ilka,30", "2:3: station: nothing is written here (write the move of the station)"),
        ("2,1,rest,Ilka,30", "2:3: station: nobody works there: it is a rest (leave the row out)"),
        ("2,1,row,Ika,30", "2:4: athlete: nobody called `Ika` is on the roster (did you mean Ilka?)"),
        ("2,1,row,Odda,30", "2:4: athlete: nobody called `Odda` is on the roster (did you mean Späte Oda?)"),
        ("2,1,row,Zachary,30", "2:4: athlete: nobody called `Zachary` is on the roster"),
        ("2,1,row,,30", "2:4: athlete: nothing is written here (write the athlete's name)"),
        ("2,1,row,Ilka,61", "2:5: split: 1:01 is longer than the interval of 1:00 (write nf if they did not finish)"),
        ("2,1,row,Ilka,1:75", "2:5: split: `1:75` is no duration: after a colon come two digits, 00 to 59 (did you mean 2:15?)"),
        ("2,1,row,Ilka,0", "2:5: split: `0` is no split: it is above 0 (leave it empty where nobody took it)"),
        ("2,1,row,Ilka,-3", "2:5: split: `-3` is no split: it is above 0 and has no sign (write it like 43.5 or 0:43.5)"),
        ("2,1,row,Ilka,fast", "2:5: split: `fast` is no duration (write it like 43.5, 0:43.5 or nf)"),
        ("2,1,row,Ilka,43.1234", "2:5: split: `43.1234` is finer than a millisecond (write it like 43.5, 0:43.5 or nf)"),
        (
            '2,1,row,Ilka,"43,5"',
            "2:5: split: `43,5` is no duration (write it like 43.5: in a file parted by commas a number has a decimal point)",
        ),
        ("4,,,Ilka,6:00.1", "2:5: split: 6:00.1 is longer than the 6:00 it had (write nf if they did not finish)"),
        ("4,5,,Ilka,nf", "2:2: round: 5 rounds, but `Carry and sit` has 4 (write how many they did in full)"),
        ("4,,short,Ilka,5:00", "2:3: station: `Carry and sit` has no alternative `short` (did you mean shorter?)"),
        (
            "5,,,Ilka,5:00",
            "2:5: split: `5:00` is no result (rounds+reps such as 7+12, rounds alone such as 7, or +12 in the first round)",
        ),
        ("4,,,Ilka,9+12", "2:5: split: 9 rounds, but `Carry and sit` has 4 (write how many they did in full)"),
        ("5,3,,Ilka,4+1", "2:5: split: `4+1` here, but `3` in the column `round` (keep one of them)"),
        ("5,x,,Ilka,", "2:2: round: `x` is no whole number (write it like 5)"),
        ("2,1,step-up,Ilka,1.30", "2:5: split: `1.30` may be 1.30 seconds or 1:30 (write 1:30, or 1.300 for seconds)"),
        ("2,1,step-up,Ilka,0.45", "2:5: split: `0.45` may be 0.45 seconds or 0:45 (write 0:45, or 0.450 for seconds)"),
        ("4,,,Ilka,4.30", "2:5: split: `4.30` may be 4.30 seconds or 4:30 (write 4:30, or 4.300 for seconds)"),
        ("6,,,Ilka,9:00", "2:5: split: 9:00 is longer than the 2:07 it had (leave it empty if they stayed)"),
    ],
)
def test_each_mistake_is_said_with_its_row_and_column_and_what_would_be_right(row: str, problem: str, plan: Plan) -> None:
    assert only_problem(row, plan) == f"paper.csv:{problem}"


def test_a_station_that_a_start_group_does_not_reach_in_a_round(tmp_path: Path) -> None:
    session = SESSION.replace("rounds: 4\n    stations", "for: 4:00\n    stations")
    short = plan_at(tmp_path / "short", session, ROSTER)
    assert only_problem("2,2,row,Ilka,30", short) == (
        "paper.csv:2:3: station: Ilka is not at row in round 2 (start group 1 has step-up in that round)"
    )
    # Round 2 of four minutes: the others are elsewhere, and one of them rests.
    assert len(read(HEAD + "2,2,row,Bram,30\n", short).splits) == 1
    assert only_problem("2,2,row,Späte Oda,30", short).endswith("(start group 3 has none in that round)")


def test_an_option_that_two_stations_have_needs_the_station(tmp_path: Path) -> None:
    session = SESSION.replace(
        "{move: row, target: {start: 200 m, step: 10 m}}",
        "{move: row, target: 200 m, options: [{name: walk, move: low step-up, target: 9 reps}]}",
    )
    both = plan_at(tmp_path / "both", session, ROSTER)
    assert only_problem("2,1,low step-up,Ilka,30", both) == (
        "paper.csv:2:3: station: `low step-up` is an option at step-up and row (write the name of the station)"
    )


def test_a_row_that_is_there_twice_names_both(plan: Plan) -> None:
    text = HEAD + "2,1,row,Ilka,30\n2,1,row,Bram,30\n2,1,ROW,ilka,\n4,,,Ilka,5:00\n4,,,Ilka,5:01\n"
    assert problems(text, plan) == [
        "paper.csv:4:4: athlete: Ilka has a row for this already, on line 2 (keep line 2 or line 4)",
        "paper.csv:6:4: athlete: Ilka has a row for this already, on line 5 (keep line 5 or line 6)",
    ]


def test_everything_is_said_at_once_in_the_order_of_the_file_and_nothing_is_taken(plan: Plan, home: Path) -> None:
    text = HEAD + "2,1,row,Ilka,30\n2,9,rwo,Ika,1:75\n\n2,1,row,Bram,30,31\n9,1,row,Odda,x\n"
    places = [problem.removeprefix("paper.csv:").split(": ")[0] for problem in problems(text, plan)]
    assert places == ["3:2", "3:3", "3:4", "3:5", "5:6", "6:1", "6:4", "6:5"]
    assert not (home / "classes").exists()


def test_a_file_full_of_mistakes_is_not_told_without_end(plan: Plan) -> None:
    found = problems(HEAD + "".join(f"2,1,move {n},Guest {n},1:75\n" for n in range(5_000)), plan)
    assert len(found) == 101
    assert found[-1].endswith("and 14,900 more problems from here on")


NO_SPLITS = "there is no split and no result in the file (fill in the column `split`)"
COLUMNS = "part,round,station,athlete,split"


@pytest.mark.parametrize(
    ("text", "problem"),
    [
        ("", f"1:1: the file is empty (begin with the line {COLUMNS})"),
        ("\n\n", f"1:1: the first line has no column names (begin with the line {COLUMNS})"),
        (HEAD, f" {NO_SPLITS}"),
        (HEAD + "2,1,row,Ilka,\n", f" {NO_SPLITS}"),
        ("part,round,station,athlete,splits\n", "1:5: the column `split` is missing (is that the column `splits`?)"),
        ("part,round,station,athlete\n", f"1:1: the column `split` is missing (the columns are {COLUMNS})"),
        ("part,part,round,station,athlete,split\n", "1:2: the column `part` stands here twice (keep one of them)"),
        (HEAD + '2,1,"row,Ilka,30\n', "2:1: this is not CSV: unexpected end of data"),
        ((HEAD + "2,1,row,Späte Oda,30\n").encode("latin-1"), "2:11: the file is not UTF-8: byte 0xE4 (save it as UTF-8)"),
        (HEAD + "2,1,row,Il\x00ka,30\n", "2:11: U+0000 is a control character; a plan is plain text (take it out)"),
    ],
)
def test_a_file_that_is_no_sheet_says_so(text: str | bytes, problem: str, plan: Plan) -> None:
    assert problems(text, plan)[0].startswith(f"paper.csv:{problem}")


def test_a_file_that_never_ends_is_refused(plan: Plan) -> None:
    assert "the file is too large" in problems(HEAD.encode() + b"2,1,row,Ilka,30\n" * 100_000, plan)[0]
    assert "401 characters are too many here (at most 400)" in problems(HEAD + f"2,1,row,{'x' * 401},30\n", plan)[0]


# -- how it may be written ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "text",
    [
        HEAD + "2,1,row,Ilka,43.5\n",
        "\ufeff" + HEAD.replace("\n", "\r\n") + "2,1,row,Ilka,43.5",
        "athlete,split,part,station,round\nIlka,0:43.5,2,row,1\n",
        "Part;Round;Station;Athlete;Split\n2;1;row;Ilka;43,5\n",
        "part\tround\tstation\tathlete\tsplit\n2\t1\trow\tIlka\t0:43,5\n",
        '"part","round","station","athlete","split"\n"2","1"," row ","ilka","43.5"\n',
        "part,round,station,athlete,split,notes,rest,flags\n2,1,row,Ilka,43.5,strong today,16.5,tight\n\n,,,,\n",
        HEAD + "2,1,row,Ilka,00:00:43.5\n",
        HEAD + "2,1,row,Ilka,43.500 s\n",
    ],
)
def test_the_same_sheet_in_other_clothes(text: str, plan: Plan) -> None:
    one = read(text, plan).splits
    assert [(split.athlete, split.part, split.interval, split.split_ms) for split in one] == [("Ilka", 1, 1, 43_500)]


def test_how_the_file_was_read_is_said(plan: Plan) -> None:
    assert read(HEAD + "2,1,row,Ilka,43.5\n", plan).form == "fields parted by ,"
    semicolons = read("part;round;station;athlete;split\n2;1;row;Ilka;43,5\n4;;;Bram;nf\n", plan)
    assert semicolons.form == "fields parted by ;, a decimal comma in numbers"
    assert semicolons.words.startswith("1 split and 1 result of 2 athletes; ")


def test_who_has_no_row_is_said_to_be_taken_as_not_there(plan: Plan) -> None:
    sheet = read(HEAD + "2,1,row,Ilka,43.5\n2,1,row,Bram,\n", plan)
    assert (sheet.absent, sheet.unfilled) == (("Späte Oda",), ("Bram",))
    assert sheet.words == (
        "1 split of 1 athlete; 1 of the roster has no row and is taken as not there: Späte Oda; "
        "1 has empty rows only, there but untapped: Bram"
    )
    everybody = read(HEAD + "2,1,row,Ilka,43.5\n2,1,row,Bram,40\n2,1,step-up,Späte Oda,40\n", plan)
    assert everybody.words == "3 splits of 3 athletes"


def test_a_name_that_looks_like_a_formula_goes_out_and_comes_back(tmp_path: Path, home: Path) -> None:
    # OWASP ASVS 5, 1.2.10: an apostrophe in front of a text that begins like a formula.
    assert next(row for row in published("csv_rules.csv") if row["rule"] == "inj")["example_out"].strip('"').startswith("'")
    names = ["=Ilka", "@Bram", "'Quo\"te, Oda"]
    roster = f"athletes: [{', '.join(f'{{name: {json.dumps(name)}}}' for name in names)}]\n"
    odd = plan_at(tmp_path / "odd", SESSION, roster)
    assert '"\'=Ilka"' in blank_sheet(odd)
    state = recorded(filled(odd, {number: ["33.3"] for number in (6, 7, 8)}), odd, home)
    assert {split.athlete for split in splits(state) if split.split_ms == 33_300} == set(names)


def test_a_blank_sheet_has_people_down_and_rounds_across_part_after_part(plan: Plan) -> None:
    rows = [[*row[:9]] for row in rows_of(blank_sheet(plan))]
    people = (["Ilka"], ["Bram"], ["Späte Oda"])
    assert [[field for field in row if field] for row in rows] == [
        ["session", "Quay and back"],
        ["minutes", "how long the class was; who was not there: absent behind the name"],
        [],
        ["part 2", "The quay", "done after: 43.5 or 0:43.5; nf: not finished"],
        ["round", "1", "1", "2", "2", "3", "3", "4", "4"],
        ["station", *["step-up", "row"] * 4],
        *people,
        [],
        ["part 4", "Carry and sit", "the time: 8:42, or nf 3+5 (rounds + reps)"],
        ["athlete", "result", "work"],
        *people,
        [],
        ["part 5", "Rising tide", "rounds + reps: 9+12"],
        ["athlete", "result"],
        *people,
        [],
        ["part 6", "Lengths", "when they stopped: 2:10, or stage + shuttle: 5+3"],
        ["athlete", "result"],
        *people,
    ]


@pytest.mark.parametrize("session", SESSION_NAMES)
def test_no_grid_of_a_shipped_session_is_wider_than_a_page_and_its_blank_sheet_is_read_without_a_complaint(session: str) -> None:
    plan = shipped.plan(session, "full-house.csv")
    (width,) = {len(row) for row in rows_of(blank_sheet(plan))}
    assert 3 <= width <= 11
    assert problems(blank_sheet(plan), plan) == ["paper.csv: there is no split and no result in the file (write into the grid)"]


def test_a_filled_grid_is_the_class_that_the_long_form_tells(plan: Plan, home: Path) -> None:
    fields = {6: ["31.4", "0:44", "nf"], 7: ["", "30"], 12: ["5:12.3"], 13: ["nf 3+7", "shorter"], 18: ["9+12"], 19: ["'+4"]}
    text = filled(plan, {**fields, 20: ["7"], 24: ["1:05"], 25: ["1+9"]})
    grid = read(text, plan)
    long_form = read(
        "part,round,station,athlete,split,reps\n2,1,step-up,Ilka,31.4,\n2,1,row,Ilka,44,\n2,2,step-up,Ilka,nf,\n2,1,row,Bram,30,\n"
        "4,,,Ilka,5:12.3,\n4,3,shorter,Bram,nf,7\n5,9,,Ilka,,12\n5,0,,Bram,,4\n5,7,,Späte Oda,,0\n6,,,Ilka,1:05,\n6,1,,Bram,,9\n",
        plan,
    )
    assert (grid.splits, grid.results) == (long_form.splits, long_form.results)
    assert (grid.absent, grid.unfilled) == ((), ())
    state = recorded(text, plan, home)
    assert [(result.rounds, result.reps) for result in results(state) if result.part == 4] == [(9, 12), (0, 4), (7, 0)]


@pytest.mark.parametrize(
    ("split", "found"),
    [
        ("9+12", (9, 12)),
        ("9", (9, 0)),
        ("'+12", (0, 12)),
        ("nf 3+5", (3, 5)),
    ],
)
def test_a_result_is_written_as_on_the_floor_in_the_long_form_too(split: str, found: tuple[int, int], plan: Plan) -> None:
    (one,) = read(HEAD + f"5,,,Ilka,{split}\n", plan).results
    assert (one.rounds, one.reps) == found
    assert one.not_finished is split.startswith("nf")


def test_who_is_absent_on_the_grid_was_not_there_and_an_empty_line_says_nothing(plan: Plan) -> None:
    sheet = read(filled(plan, {6: ["31.4"], 8: ["absent"], 14: ["Absent"], 20: ["absent"], 26: ["absent"]}), plan)
    assert (sheet.absent, sheet.unfilled) == (("Späte Oda",), ("Bram",))
    assert problems(filled(plan, {6: ["31.4"], 8: ["absent", "30"]}), plan) == [
        "paper.csv:9:3: Späte Oda is absent, and has `30` (keep one of them)"
    ]


def test_a_field_that_is_nobodys_is_marked_and_says_nothing(tmp_path: Path) -> None:
    short = plan_at(tmp_path / "short", SESSION.replace("rounds: 4\n    stations", "for: 4:00\n    stations"), ROSTER)
    assert [row[:5] for row in rows_of(blank_sheet(short))[6:9]] == [
        ["Ilka", "", "", "", "x"],
        ["Bram", "", "", "x", ""],
        ["Späte Oda", "", "", "x", "x"],
    ]
    assert [split.athlete for split in read(filled(short, {6: ["30"]}), short).splits] == ["Ilka"]
    assert "`x` is no duration" in problems(filled(short, {6: ["30", "x"]}), short)[0]


def test_how_long_the_class_was_can_be_said_and_counts_for_everybody(plan: Plan, home: Path) -> None:
    text = filled(plan, {1: ["52"], 6: ["31.4"], 7: ["30"]})
    assert reckoning(read(text, plan), plan) == "52 minutes for everybody, as was said"
    state = recorded(text, plan, home)
    assert {load.minutes for load in session_loads(state)} == {52.0}
    # It changes nothing else: the splits are where the plan has them.
    assert [split.interval for split in of(state, "Ilka") if split.split_ms] == [0]
    assert problems(filled(plan, {1: ["an hour"], 6: ["31.4"]}), plan) == [
        "paper.csv:2:2: minutes: `an hour` is no whole number of minutes (write it like 5)"
    ]


def test_a_grid_of_semicolons_with_decimal_commas_is_read(plan: Plan) -> None:
    text = text_of(rows_of(filled(plan, {6: ["43,5"]})), delimiter=";")
    assert [split.split_ms for split in read("\ufeff" + text, plan).splits] == [43_500]


@pytest.mark.parametrize(
    ("line", "fields", "problem"),
    [
        (0, ["session", "Tide"], "1:2: this sheet is of `Tide` (the plan is `Quay and back`)"),
        (3, ["part 9"], "4:1: the session has no part `9` (it has 7, the first is 1)"),
        (4, ["lap", "1"], "5:1: `lap` stands where the line `round` belongs (print a new sheet with --blank)"),
        (6, ["Ika", "31.4"], "7:1: athlete: nobody called `Ika` is on the roster (did you mean Ilka?)"),
        (
            6,
            ["Ilka", "1:75"],
            "7:2: split: `1:75` is no duration: after a colon come two digits, 00 to 59 (did you mean 2:15?)",
        ),
        (6, ["Ilka", *[""] * 8, "30"], "7:10: `30` stands under no round (write it under the round it is of)"),
        (12, ["Ilka", "9+1"], "13:2: split: 9 rounds, but `Carry and sit` has 4 (write how many they did in full)"),
        (2, ["Ilka", "30"], "3:1: `Ilka` stands before the first part (begin a part with a line such as part 1)"),
    ],
)
def test_what_is_wrong_on_a_grid_is_said_with_its_place(line: int, fields: list[str], problem: str, plan: Plan) -> None:
    rows = rows_of(blank_sheet(plan))
    rows[line] = fields
    assert problems(text_of(rows), plan)[0] == f"paper.csv:{problem}"


def test_numbers_that_the_plan_asks_for_and_teams_come_from_the_grid(tmp_path: Path, home: Path) -> None:
    session = (
        "session: Sum\ncount_in: 0\nparts:\n"
        "  - {kind: intervals, title: Sets, work: 0:40, rest: 0:20, sets: 2, score: reps, tap: none, stations: [{move: squat}]}\n"
        "  - {kind: amrap, title: Far, time: 5:00, in: pairs, score: {each: part, unit: metres}, "
        "work: [{move: row, target: 200 m}]}\n"
    )
    scored = plan_at(tmp_path / "scored", session, "athletes: [Ilka, Bram, Odd, Runa]\n")
    assert [row[0] for row in rows_of(blank_sheet(scored))[-2:]] == ["Ilka + Odd", "Bram + Runa"]
    text = filled(scored, {6: ["14", "12"], 7: ["13"], -2: ["1250"], -1: ["1180.5"]})
    sheet = read(text, scored)
    assert (sheet.words, sheet.unfilled) == ("2 results and 3 scores of 2 athletes", ())  # Odd and Runa have what their pair has.
    found = {(result.part, result.athlete): result.scores for result in results(recorded(text, scored, home))}
    assert found[0, "Ilka"] == ((1, Fraction(14)), (2, Fraction(12)))
    assert found[1, "Bram"] == ((0, Fraction("1180.5")),)
    assert problems(filled(scored, {6: ["many"]}), scored) == [
        "paper.csv:7:2: score: `many` is no score (write a number, such as 104 or 47.5)"
    ]


@pytest.mark.parametrize(
    ("text", "split_ms"), [("43.50", 43_500), ("9.55", 9_550), ("1.300", 1_300), ("0:45", 45_000), ("31.4", 31_400)]
)
def test_a_time_that_can_be_seconds_only_is_taken(text: str, split_ms: int, plan: Plan) -> None:
    (split,) = read(HEAD + f"2,1,step-up,Ilka,{text}\n", plan).splits
    assert split.split_ms == split_ms
