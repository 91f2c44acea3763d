"""What `check` finds in a plan for a roster, and how much of it is said."""

from __future__ import annotations

from datetime import date

import pytest

from floorclock.errors import Problem
from floorclock.plan.check import PlanCheck
from floorclock.plan.findings import WHY, Chance, Records, summed_up
from floorclock.plan.roster import Athlete
from tests.checks.reading import rows
from tests.plan.test_check import ROTATION, checked, people

TODAY = date(2026, 6, 10)
JUMP = "{move: box jump, target: 10 reps, guarded: false}"
LIMIT = "volume_limit: {box jump: 40 reps}"


def found(check: PlanCheck, kind: str) -> list[tuple[str, str]]:
    return [(one.severity, f"{one.path}: {one.message} ({one.hint})") for one in check.problems if one.kind == kind]


def rotation(*stations: str, rounds: int = 1) -> str:
    return ROTATION % (f"rounds: {rounds}", ", ".join(stations))


PIECE = "  - {kind: for_time, cap: %s, rounds: 5, work: [{move: air squat, target: 20}%s]}\n"
AMRAP = "  - {kind: amrap, time: 0:40, work: [{move: air squat, target: 20}]}\n"
BEAT = "  - {kind: paced, beat: %d per minute, time: 1:00, move: push-up}\n"
SETS = "  - {kind: intervals, work: %s, rest: 10, sets: 3, stations: [{move: a, target: 3}, {move: b}]}\n"
FALLING = "  - {kind: for_time, cap: 9:00, rounds: 5, work: [{move: a, target: {start: 6, step: -2}}]}\n"
PUSH, BOTH = "{move: push-up, target: %s}", "{work: [{move: row}, {move: bench dip}]}"
ROW_BURPEE = "{work: [{move: row, target: 100 m}, {move: burpee, target: %d}]}"
LADDER, SHORTER = PUSH % "{start: 10 reps, step: 4}", "{move: a, target: 10, least: 8, options: [{name: shorter, target: %d}]}"
A, B, C = "{move: a, pattern: push}", "{move: b, pattern: pull}", "{move: c, pattern: push}"
OVER = "under the rest margin of 0:30 (12 reps would keep it"
ROW = ", {move: row, target: 9 cal, kit: rower}"
NOTE, WARNING = "note", "warning"


@pytest.mark.parametrize(
    ("parts", "head", "kind", "severity", "said"),
    [
        (PIECE % ("4:00", "") * 2, "class_time: 9:00", "hour", NOTE, "with 1 x 1:00 to change over the plan takes 9:20, 0:20"),
        (PIECE % ("4:00", "") * 2, "class_time: 9:00\nchangeover: 0:30", "hour", "", ""),
        (PIECE % ("4:00", ""), "class_time: 8:00\npack_up: 5:00", "hour", WARNING, "with 5:00 to pack up the plan takes 9:10"),
        (PIECE % ("4:00", ROW), "class_time: 7:00", "hour", NOTE, "3:00 to pack up"),
        (PIECE % ("3:20", ""), "", "window", WARNING, "cap: the work takes up to about 3:30, cap 3:20"),
        (PIECE % ("3:30", ""), "", "window", "", ""),
        (AMRAP, "", "window", WARNING, "time: one round takes up to about 0:50, time 0:40"),
        (BEAT % 70, "", "window", WARNING, "a rep every 0.9 s; even strong people usually take 1.5 s"),
        (BEAT % 40, "", "window", "", ""),
        (rotation(PUSH % 19), "", "rest", NOTE, "19 reps of push-up is about 0:42 of work in 1:00"),
        (rotation(PUSH % 18), "", "rest", "", ""),
        # 3 s to begin and 2.2 s a push-up: 20 take 47 s; 19 take 44.8 and leave the 15 s wanted; 14 leave 26 s.
        (rotation(PUSH % 20), "", "window", WARNING, "stations[0]: 20 reps of push-up leaves 0:13 of 1:00, under the"),
        (rotation(PUSH % 20), "", "window", WARNING, "(19 reps would keep it; taken as 3 s and 2.2 s a rep, regular"),
        (rotation(PUSH % 19), "", "window", "", ""),
        (rotation("{move: push-up, target: 14, rest_margin: 0:30}"), "", "window", WARNING, f"leaves 0:26 of 1:00, {OVER}"),
        (ROTATION % ("rounds: 1, rest_margin: 0:30", PUSH % 14), "", "window", WARNING, f"leaves 0:26 of 1:00, {OVER}"),
        (rotation(LADDER, rounds=5), "", "window", WARNING, "22 reps of push-up in round 4 leaves 0:09 of 1:00"),
        (rotation(LADDER, rounds=3), "", "window", "", ""),
        (rotation(PUSH % "10-22-10-22 reps", rounds=4), "", "window", WARNING, "22 reps of push-up in round 2 leaves"),
        # 8 + 100 x 0.27 s of rowing and 1 + 6 x 3.7 s of burpees are 58.2 s.
        (rotation(ROW_BURPEE % 6), "", "window", WARNING, "100 m of row and 6 reps of burpee leaves 0:02 of 1:00"),
        (rotation(ROW_BURPEE % 2), "", "window", "", ""),
        (rotation("{move: plank, target: 0:50}"), "", "window", WARNING, "under the rest margin of 0:15 (0:45 would keep it)"),
        (SETS % 15, "", "window", WARNING, "parts[0]: the rest margin of 0:15 leaves no time to work in 0:15"),
        (SETS % 20, "", "rounds", WARNING, "one round more at a (write sets: 2 or sets: 4)"),
        (ROTATION % ("for: 20:00", f"{A}, {B}, rest"), "", "rounds", WARNING, "one round more at a and b (write for: 18:00 or"),
        (FALLING, "", "plan", WARNING, "parts[0].work[0]: the ladder of a has nothing left after round 3 of 5"),
        (rotation(SHORTER % 7), "", "plan", WARNING, "options[0]: shorter is 7 reps, under the least of 8 reps (8 reps or"),
        (rotation(SHORTER % 8), "", "plan", "", ""),
        (rotation("{move: log toss, target: 5}"), "", "pace", NOTE, "no usual time is known of log toss"),
        (rotation("{move: log toss, target: 0:20}"), "", "pace", "", ""),
        (rotation("{move: pull-up}", "{move: farmer carry}"), "", "muscles", NOTE, "both hang on the grip"),
        (rotation("{move: push-up}", "{move: bench dip}"), "", "muscles", WARNING, "dip follows push-up, and both are push"),
        (rotation(A, B, C, rounds=2), "", "muscles", WARNING, "parts[0].stations[0]: a follows c, and both are push"),
        (rotation(A, B, C), "", "muscles", "", ""),
        (rotation(A, B, C, "rest", rounds=2), "", "muscles", "", ""),
        (rotation(A, C, rounds=2), "", "muscles", WARNING, "c follows a"),
        (rotation(A, rounds=2), "", "muscles", "", ""),
        (rotation("{move: push-up}", BOTH), "", "muscles", WARNING, "and both are push"),
        (rotation("{move: air squat}", "{move: push-up}"), "", "muscles", "", ""),
        (rotation(JUMP, rounds=5), LIMIT, "volume", WARNING, "volume_limit.box jump: 50 reps of box jump, over your limit of 40"),
        (rotation(JUMP, rounds=4), LIMIT, "volume", "", ""),
        (rotation(JUMP), "kit: {box: 4}", "kit", NOTE, "stations[0]: box jump usually needs box"),
        (rotation(JUMP), "room: {screen: 1.40 m, farthest: 60 m}", "wall", WARNING, "room: from 60 m no name can be read"),
        (rotation(JUMP), "room: {screen: 1.40 m, farthest: 15 m}", "wall", "", ""),
    ],
)
def test_a_plan_alone(parts: str, head: str, kind: str, severity: str, said: str) -> None:
    got = found(checked(parts, head=f"{head}\n" if head else ""), kind)
    assert [how for how, _ in got] == [severity] * bool(severity)
    assert all(said in words for _, words in got), got


@pytest.mark.parametrize(
    ("station", "head", "many", "said"),
    [
        ("{move: a, time: 2:00}", "", 2, "warning parts[0].stations[0].time: a station with its own time needs everybody"),
        ("{move: log press, load: 70 %}", "", 2, "warning parts[0].stations[0].load: P0 and P1: no best in log press"),
        ("{move: a}", "room: {screen: 1.40 m, farthest: 20 m}\n", 5, ""),
        ("{move: a}", "room: {screen: 1.40 m, farthest: 20 m}\n", 6, "note room: from 20 m 5 names can be read"),
    ],
)
def test_a_plan_for_so_many_people(station: str, head: str, many: int, said: str) -> None:
    problems = checked(rotation(station), *people(many, 2), head=head).problems
    assert len(problems) == bool(said)
    assert all(said in f"{one.severity} {one.path}: {one.message}" for one in problems), problems


# NSCA, Essentials of Strength Training and Conditioning, 4th ed., Tables 3.6 and 17.12, as in tests/checks/workrest.csv.
GUIDANCE = {row["system_or_goal"]: row for row in rows("workrest.csv")}


@pytest.mark.parametrize(
    ("goal", "work", "rest_low", "too_little"),
    [
        ("phosphagen", "0:10", "2:00", "1:59"),
        ("fast glycolysis", "0:20", "1:00", "0:59"),
        ("fast glycolysis", "0:30", "1:30", "1:29"),
    ],
)
def test_rests_after_full_effort_are_held_against_published_ones(goal: str, work: str, rest_low: str, too_little: str) -> None:
    low, high = GUIDANCE[goal]["work_s"].split("-")
    seconds = int(work[2:])
    assert int(low) <= seconds <= int(high)
    minutes, rest = rest_low.split(":")
    assert int(minutes) * 60 + int(rest) == seconds * int(GUIDANCE[goal]["rest_low"].rstrip("x"))
    part = "  - {kind: intervals, work: %s, rest: %s, sets: 4, rest_margin: 0, stations: [{move: bike, target: max cal}]}\n"
    assert found(checked(part % (work, rest_low)), "rest") == []
    ((severity, words),) = found(checked(part % (work, too_little)), "rest")
    assert (severity, "NSCA" in words, rest_low in words) == ("note", True, True)


def test_a_heavy_lift_is_held_against_the_published_rest() -> None:
    assert GUIDANCE["strength"]["rest_low"] == "2 min"
    part = "  - {kind: rotation, every: %s, rounds: 5, stations: [{move: back squat, target: 5 reps, load: %s}]}\n"
    assert "2:00 to 5:00 are published" in found(checked(part % ("2:00", "85 %")), "rest")[0][1]
    assert found(checked(part % ("2:30", "85 %")), "rest") == found(checked(part % ("2:00", "80 %")), "rest") == []


BRAM, NOOR, SEFA = (Athlete(name=name, level="regular", experienced=frozenset({"box jump"})) for name in ("Bram", "Noor", "Sefa"))


def test_the_limit_is_half_the_first_time_and_after_a_break() -> None:
    """Bram jumped three weeks ago, Noor last week, Sefa is in the records and never did; of Teo nothing is known."""
    days = {("Bram", "box jump"): date(2026, 5, 20), ("Noor", "box jumps"): date(2026, 6, 3)}
    records = Records(today=TODAY, people=frozenset({"Bram", "Noor", "Sefa"}), last_done=days)
    teo, new = Athlete(name="Teo"), Athlete(name="Runa", level="new")
    check = checked(rotation(JUMP, rounds=3), BRAM, NOOR, SEFA, teo, new, head=f"{LIMIT}\n", records=records)
    said = [words for _, words in found(check, "volume")]
    assert [words.partition(": ")[2].partition(",")[0] for words in said] == [
        "Bram: 30 reps of box jump after a break since 2026-05-20",
        "Sefa: 30 reps of box jump",
        "Runa: 30 reps of box jump for the first time",
    ]
    assert all("over your limit of 20 reps" in words for words in said)
    assert "which their last classes had none of" in said[1]


def test_an_amrap_counts_by_the_rounds_that_are_likely() -> None:
    """10 jumps are 2 + 30 s: in 3:00 there are five rounds and 50 jumps (common practice, no source)."""
    check = checked(f"  - {{kind: amrap, time: 3:00, work: [{JUMP}]}}\n", BRAM, head=f"{LIMIT}\n")
    assert "Bram: 50 reps of box jump, over your limit of 40" in found(check, "volume")[0][1]


def test_who_will_not_make_it_by_their_own_history_is_named_the_unlikeliest_first() -> None:
    chances = {(0, 0, "Bram"): Chance(0.31, 3), (0, 0, "Noor"): Chance(0.9), (0, 0, "Sefa"): Chance(0.12, 2)}
    check = checked(rotation("{move: push-up, target: 30}"), BRAM, NOOR, SEFA, records=Records(today=TODAY, chances=chances))
    ((severity, words),) = found(check, "chance")
    assert severity == "warning"
    assert "Sefa (12 %) and Bram (31 %) will hardly keep the margin at push-up, from round 2 on" in words
    assert found(check, "window") == [], "the usual times are silent where there is a history"


@pytest.mark.parametrize(
    ("station", "said", "fixed"),
    [
        ("{move: box jump}", "Ilka not listed as experienced in it (write guarded: true and an option, such as {name: ea", False),
        ("{move: box jump, options: [{name: low, move: box step-up}]}", "Ilka not listed as experienced in it (write", True),
        ("{move: box jump, guarded: false}", "", False),
        ("{move: push-up}", "", False),
    ],
)
def test_a_move_that_is_usually_guarded_names_who_is_not_known_to_do_it(station: str, said: str, fixed: bool) -> None:
    check = checked(rotation(station), Athlete(name="Ilka"), BRAM)
    assert [said in words for _, words in found(check, "experience")] == [True] * bool(said)
    assert [one.fix.path[-1] for one in check.problems if one.fix] == ["guarded"] * fixed


def test_an_option_that_is_for_them_is_proposed() -> None:
    """Of the usual options of a pull-up, the ring row is the hardest that is not guarded; who avoids pulling gets none."""
    station = rotation("{move: pull-up, guarded: true}")
    assert "such as {name: easier, move: ring row}" in found(checked(station, Athlete(name="Ilka")), "experience")[0][1]
    avoiding = Athlete(name="Ilka", avoid=frozenset({"pull"}), experienced=frozenset({"pull-up"}))
    ((_, words),) = found(checked(rotation("{move: pull-up, guarded: true, pattern: pull}"), avoiding), "option")
    assert "such as" not in words


def test_a_level_without_a_number_is_named() -> None:
    ((severity, words),) = found(checked(rotation("{move: row, target: {strong: 9 cal, new: 6 cal}}"), BRAM), "option")
    assert (severity, "no target of row is for the level of Bram" in words) == ("note", True)


def test_kinds_are_told_together_with_why_and_many_alike_in_two_lines() -> None:
    kit = [Problem("a.yaml", line, 1, "", "no bell", "add it", "warning", "kit") for line in (3, 4, 4, 9, 12)]
    hour = Problem("a.yaml", 2, 1, "", "too long", "less", "warning", "hour")
    (why, lines), (_, (only,)) = summed_up([*kit[:2], hour, *kit[2:]])
    assert why == WHY["kit"]
    assert lines == ("a.yaml:3:1: no bell (add it)", "and 4 more like it: a.yaml, lines 4, 9, 12 (--json has them all)")
    assert only == str(hour)
