"""What a coach is warned of before the class, and the JSON that other programs rely on."""

from __future__ import annotations

import json
from fractions import Fraction

import pytest

from floorclock.errors import Problem
from floorclock.plan.check import PlanCheck, check_files, check_plan
from floorclock.plan.concerns_pace import fit_of
from floorclock.plan.findings import WHY, Records
from floorclock.plan.read_moves import usual_moves
from floorclock.plan.read_session import read_session_places
from floorclock.plan.roster import Athlete, Roster
from floorclock.plan.work import Station, Target, Unit
from tests.plan.shipped import SESSION_NAMES, session_of, source


def checked(parts: str, *athletes: Athlete, head: str = "", records: Records | None = None) -> PlanCheck:
    session, problems, places = read_session_places(f"session: A test\n{head}parts:\n{parts}", "plan.yaml")
    assert session is not None, problems
    roster = Roster(title="Here", athletes=athletes) if athletes else None
    return check_plan(session, roster, moves=usual_moves(), file="plan.yaml", places=places, records=records)


def people(count: int, groups: int = 1) -> list[Athlete]:
    return [Athlete(name=f"P{index}", group=index % groups + 1) for index in range(count)]


def said(check: PlanCheck, severity: str = "warning") -> list[str]:
    assert all(problem.severity != "error" and problem.hint and problem.kind in WHY for problem in check.problems)
    return [str(problem) for problem in check.problems if problem.severity == severity]


ROTATION = "  - {kind: rotation, every: 1:00, %s, stations: [%s]}\n"


@pytest.mark.parametrize("name", SESSION_NAMES)
def test_every_shipped_session_raises_no_warning(name: str) -> None:
    assert said(check_files(source(name), name)) == []


def test_the_demo_class_has_nothing_to_warn_of() -> None:
    files = ("harbour.yaml", "harbour-roster.yaml")
    check = check_files(source(files[0]), files[0], source(files[1]), files[1])
    assert check.problems == ()
    assert not check.has_errors
    assert 45 * 60_000 <= check.time_ms + check.count_in_ms <= (check.class_time_ms or 0)


def test_a_part_in_waves_lasts_until_the_last_wave_has_had_its_time() -> None:
    waves = "  - {kind: for_time, cap: 9:00, wave_every: 2:30, work: [{move: a, target: 20 reps}]}\n"
    check = checked(waves, *people(9, 3), head="class_time: 12:00\n")
    assert check.parts[0].time_ms == (9 * 60 + 2 * 150) * 1000
    assert any("the plan takes 14:10 with its count-ins, 2:10 longer" in line for line in said(check))


def test_a_plan_longer_than_the_class_says_by_how_much() -> None:
    (warning,) = said(checked("  - {kind: amrap, time: 15:00, work: [{move: a}]}\n", head="class_time: 15:00\n"))
    assert warning == (
        "plan.yaml:2:13: class_time: the plan takes 15:10 with its count-ins, 0:10 longer than the class"
        " (take out 0:10, or write class_time: 15:10)"
    )


def test_everybody_is_taken_at_the_pace_of_their_level() -> None:
    """14 push-ups at 3 s a rep are 45 s with the set-up, 15 are 48; at 1.5 s nobody needs longer than 26."""
    new, strong = Athlete(name="Bram", level="new"), Athlete(name="Tove", level="strong")
    (warning,) = said(checked(ROTATION % ("rounds: 1", "{move: push-up, target: 15 reps}"), new, strong))
    assert "Bram: 15 reps of push-up leaves 0:12" in warning
    assert said(checked(ROTATION % ("rounds: 1", "{move: push-up, target: 14 reps}"), new, strong)) == []


def test_an_athletes_own_target_option_and_margin_are_asked_too() -> None:
    station = "{move: push-up, target: 10 reps, options: [{name: slow, move: pull-up, target: 12}]}"
    own = [
        Athlete(name="Ilka", targets={"push-up": Target(Fraction(22), Unit.REPS)}),
        Athlete(name="Bram", options={"push-up": "slow"}),
        Athlete(name="Noor", rest_margin_ms=40_000),
        Athlete(name="Sefa"),
    ]
    ilka, bram, noor = said(checked(ROTATION % ("rounds: 1", station), *own))
    assert "Ilka: 22 reps of push-up leaves 0:09" in ilka
    assert "Bram: 12 reps of pull-up leaves 0:09" in bram
    assert "Noor: 10 reps of push-up leaves 0:35 of 1:00, under the rest margin of 0:40" in noor


BELLS = (
    "{move: swing, pattern: hinge, kit: bell, options: [{name: bare, move: bridge}]}, "
    "{move: carry, pattern: carry, kit: {bell: 2}}, rest"
)
KIT = "kit: {bell: 6}\n"


def test_kit_is_counted_for_the_start_groups_at_the_same_instant() -> None:
    """By hand: 3 groups of 3; whoever swings uses 3 bells while the carriers use 6: 9 at once, one less without Bram."""
    check = checked(ROTATION % ("rounds: 2", BELLS), *people(9, 3), head=KIT)
    assert [(need.kit, need.needed, need.has) for need in check.kit] == [("bell", 9, 6)]
    (warning,) = said(check)
    assert "parts[0].stations[0]: 9 x bell are needed at once at swing and carry, in interval 1, and there are 6" in warning
    bram = Athlete(name="Bram", options={"swing": "bare"})
    assert checked(ROTATION % ("rounds: 2", BELLS), bram, head=KIT).kit[0].needed == 2
    assert said(checked(ROTATION % ("rounds: 2", BELLS), *people(6, 3), head=KIT)) == []
    assert checked(ROTATION % ("rounds: 2", BELLS), head=KIT).kit == ()


@pytest.mark.parametrize(
    ("part", "helps"),
    [
        ("{kind: rotation, title: Lift, every: 2:00, rounds: 2, together: true, stations: [{move: a, kit: bell}]}", "two waves"),
        ("{kind: for_time, title: End, cap: 9:00, work: [{move: a, kit: bell}]}", "`wave_every: 3:00`"),
        ("{kind: rotation, title: Turn, every: 1:00, rounds: 2, stations: [{move: a, kit: bell}, {move: b}]}", "start groups of"),
    ],
)
def test_what_helps_where_kit_is_short_is_what_can_help_there(part: str, helps: str) -> None:
    (warning,) = said(checked(f"  - {part}\n", *people(7), head=KIT))
    assert "7 x bell are needed at once" in warning
    assert helps in warning
    assert ("floorclock groups" in warning) is ("together" not in part)


def test_pairs_are_not_proposed_to_pairs() -> None:
    part = "{kind: amrap, time: 9:00, in: pairs, work: [{move: a, kit: bell}]}"
    (warning,) = said(checked(f"  - {part}\n", *people(14), head=KIT))
    assert "7 x bell are needed at once" in warning
    assert "`in: pairs`" not in warning
    assert "`wave_every: 3:00`" in warning


def test_in_a_finisher_everybody_holds_on_to_their_kit() -> None:
    parts = (
        "  - kind: for_time\n    title: End\n    cap: 9:00\n    rounds: 2\n"
        "    work: [{move: a, kit: bell}, {move: b, kit: {bell: 2}}]\n"
        "    choose: [{name: bare, work: [{move: walk}]}]\n"
    )
    assert checked(parts, *people(4), head=KIT).kit[0].needed == 8
    assert checked(parts, *people(3), Athlete(name="Odd", options={"End": "bare"}), head=KIT).kit[0].needed == 6


def test_kit_that_the_session_does_not_have_is_named_with_its_nearest_spelling() -> None:
    (warning,) = said(checked(ROTATION % ("rounds: 1", "{move: a, kit: bel}"), *people(2), head=KIT))
    assert "parts[0].stations[0]: the session's kit has no bel (did you mean bell?)" in warning
    assert said(checked(ROTATION % ("rounds: 1", "{move: a, kit: bel}"))) == []


def test_guarded_moves_name_who_may_not_do_them_yet() -> None:
    guarded = "{move: box jump, guarded: true%s}"
    ilka, bram = Athlete(name="Ilka", experienced=frozenset({"box jump"})), Athlete(name="Bram")
    (warning,) = said(checked(ROTATION % ("rounds: 1", guarded % ""), ilka, bram))
    assert "box jump is guarded, without an open option for Bram" in warning
    with_option = guarded % ", options: [{name: low, move: step-up}]"
    assert said(checked(ROTATION % ("rounds: 1", with_option), ilka, bram)) == []
    assert said(checked(ROTATION % ("rounds: 1", guarded % ""))) == []


def test_the_json_has_exactly_the_promised_shape() -> None:
    parts = ROTATION % ("for: 3:00", "{move: run, target: 2.5 m}, rest") + "  - {kind: open, time: 0:01.5}\n"
    check = checked(parts)
    assert json.loads(json.dumps(check.to_json())) == {
        "session": "A test",
        "problems": [
            {
                "severity": "warning",
                "file": "plan.yaml",
                "line": 3,
                "column": 40,
                "path": "parts[0].for",
                "message": "3 intervals over 2 stations: one round more at run",
                "hint": "write for: 2:00 or for: 4:00",
                "kind": "rounds",
                "why": WHY["rounds"],
            }
        ],
        "time_s": 181.5,
        "parts": [
            {"kind": "rotation", "title": "Rotation", "time_s": 180, "intervals": 3, "rounds_per_station": {"run": 2, "rest": 1}},
            {"kind": "open", "title": "Open time", "time_s": 1.5, "intervals": 0, "rounds_per_station": {}},
        ],
        "volume": [{"move": "run", "unit": "m", "amount": 5}],
    }


def test_problems_of_both_files_come_together_and_without_a_session_there_is_no_time() -> None:
    check = check_files(b"session: x\n", "plan.yaml", b"name,key\na,zz\n", "people.csv")
    assert check.has_errors
    assert [problem.file for problem in check.problems] == ["plan.yaml", "people.csv"]
    made = check.to_json()
    assert (made["session"], made["time_s"], made["parts"], made["volume"]) == (None, None, [], [])


def test_warnings_without_places_still_name_the_path() -> None:
    session = session_of("session: x\nclass_time: 1:00\nparts: [{kind: open, time: 2:00}]\n")
    (problem,) = check_plan(session, moves=usual_moves()).problems
    assert problem == Problem("", 0, 0, "class_time", problem.message, problem.hint, "warning", "hour")


@pytest.mark.parametrize(
    "station", [Station("crawl", Target(Fraction(20), Unit.METRES)), Station("plank"), Station("no such move")]
)
def test_nobody_guesses_at_a_move_that_nobody_knows(station: Station) -> None:
    assert fit_of(usual_moves(), station, 60_000, 15_000) is None


def test_what_is_said_of_a_block_is_said_once() -> None:
    block = "      - {kind: amrap, title: Ours, time: 4:00, work: [{move: press, target: 9, load: 20 kg, kit: bar}]}\n"
    check = checked(f"  - kind: repeat\n    times: 3\n    parts:\n{block}", *people(4), head="kit: {bar: 2}\n")
    assert [part.work for part in check.parts] == [("press 9 at 20 kg",), (), ()]
    assert sum("4 x bar are needed" in line for line in said(check)) == 1
