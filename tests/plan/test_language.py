"""What a coach writes on a whiteboard, as targets, loads, teams, blocks and rests in the file."""

from __future__ import annotations

from fractions import Fraction

import pytest

from floorclock.plan.kit_needs import kit_needs
from floorclock.plan.quantities import parse_load
from floorclock.plan.read_roster import read_roster
from floorclock.plan.read_session import read_session
from floorclock.plan.roster import Athlete, Roster, assign, make_teams, with_latecomer
from floorclock.plan.session import RestPart, Rotation
from floorclock.plan.totals import planned_ms, volume, windows
from floorclock.plan.work import KG_PER_LB, Load, LoadUnit, Station, Target, Unit
from tests.plan.shipped import session_of


@pytest.mark.parametrize(
    ("percent", "best", "step", "load"),
    [
        # By hand: no open worked example of the rounding was found.
        # 70 % of 53 kg is 37.1, nearest to 37.5; 80 % of 66 is 52.8, nearest to 52.5; halves go up.
        ("70 %", "53 kg", None, "37.5 kg"),
        ("80 %", "66 kg", None, "52.5 kg"),
        ("75 %", "105 kg", None, "80 kg"),
        ("75 %", "225 lb", None, "170 lb"),
        ("70 %", "53 kg", "1 kg", "37 kg"),
        ("70 %", "225 lb", "1 kg", "160 lb"),
    ],
)
def test_a_percentage_of_a_best_is_rounded_to_what_can_be_loaded(percent: str, best: str, step: str | None, load: str) -> None:
    found = parse_load(percent).of_best(parse_load(best), parse_load(step) if step else None)
    assert found.words() == load


def test_a_percentage_without_a_best_stays_one_and_a_weight_is_nobodys_share() -> None:
    assert parse_load("70 %").of_best(None).words() == "70 %"
    assert parse_load("24 kg").of_best(parse_load("100 kg")).words() == "24 kg"
    # The international pound, exact since 1959: 0.45359237 kg.
    assert float(KG_PER_LB) == pytest.approx(0.45359237, abs=1e-12)


ROTATION = "  - {kind: rotation, every: 1:00, rounds: %d, stations: [%s]}"
BY_LEVEL = "target: {strong: 18 reps, regular: 14 reps, new: 10 reps}, load: {strong: 24 kg, regular: 16 kg, new: 12 kg}"
LEVELS = ROTATION % (2, f"{{move: goblet squat, {BY_LEVEL}}}, {{move: dead bug, target: 10 reps each side}}")


def test_a_level_picks_its_target_and_its_load_and_no_level_has_the_middle_one() -> None:
    squat, bug = session_of(LEVELS).parts[0].stations
    done = {level: assign(Athlete(name="x", level=level), squat).words() for level in ("strong", "regular", "new", "")}
    assert done == {"strong": "18 at 24 kg", "regular": "14 at 16 kg", "new": "10 at 12 kg", "": "14 at 16 kg"}
    assert assign(Athlete(name="x", targets={"dead bug": Target(Fraction(16), Unit.REPS)}), bug).words() == "8 each side"


def test_each_side_counts_twice_in_the_volume_and_a_list_round_by_round() -> None:
    session = session_of(LEVELS)
    assert {found.move: found.amount for found in volume(session)} == {"goblet squat": 28, "dead bug": 40}
    work = "work: [{move: thruster, target: 21-15-9 reps}], buy_in: [{move: run, target: 400 m}]"
    plan = f"  - {{kind: for_time, cap: 9:00, rounds: 3, {work}}}"
    assert {found.move: found.amount for found in volume(session_of(plan))} == {"thruster": 45, "run": 400}


def test_who_avoids_a_move_or_its_pattern_is_given_an_option_that_is_for_them() -> None:
    hop, step = "{name: hop, move: hop, pattern: jump}", "{name: step, move: step-up, pattern: squat}"
    box_jump = f"{{move: box jump, pattern: jump, options: [{hop}, {step}]}}"
    jump, press = session_of(ROTATION % (1, f"{box_jump}, {{move: overhead press}}")).parts[0].stations
    knees, shoulder = Athlete(name="x", avoid=frozenset({"jump"})), Athlete(name="y", avoid=frozenset({"overhead press"}))
    assert (assign(knees, jump).move, assign(knees, jump).avoided) == ("step-up", False)
    assert (assign(shoulder, press).move, assign(shoulder, press).avoided) == ("overhead press", True)


def test_blocks_are_parts_of_their_own_and_a_rest_holds_the_count_in_that_follows() -> None:
    four = "{kind: amrap, title: Four, time: 4:00, work: [{move: row, target: 10 cal}]}"
    parts = session_of(f"  - {{kind: repeat, times: 2, parts: [{four}, {{kind: rest, time: 2:00}}]}}").parts
    assert [(part.title, part.written, part.block, part.path) for part in parts[:2]] == [
        ("Four, block 1 of 2", "Four", (1, 2), ("parts", 0, "parts", 0)),
        ("Rest, block 1 of 2", "Rest", (1, 2), ("parts", 0, "parts", 1)),
    ]
    rests = [part for part in parts if isinstance(part, RestPart)]
    # From the end of the work to the next go it is two minutes; the last rest has nothing to count in.
    assert [planned_ms(part) for part in rests] == [110_000, 120_000]


def test_windows_of_their_own_follow_each_other_and_rests_lie_between_rounds() -> None:
    stations = "{move: run, target: 200 m, time: 1:30}, {move: plank, target: 0:20, time: 0:30}"
    (part,) = session_of(
        f"  - {{kind: rotation, together: true, every: 1:00, rounds: 2, round_rest: 0:45, stations: [{stations}]}}"
    ).parts
    assert isinstance(part, Rotation)
    assert list(windows(part)) == [
        (0, 90_000, 1, 0),
        (90_000, 120_000, 1, 1),
        (120_000, 165_000, 1, -1),
        (165_000, 255_000, 2, 2),
        (255_000, 285_000, 2, 3),
    ]


def test_several_moves_in_a_window_are_one_station_with_their_own_options() -> None:
    burpee = "{move: burpee, target: 10 reps, options: [{name: walk, move: walk-out, target: 8 reps}]}"
    plan = ROTATION % (1, f"{{work: [{{move: row, target: 200 m}}, {burpee}]}}")
    (station,) = session_of(plan).parts[0].stations
    assert station.move == "row + burpee"
    assert assign(Athlete(name="x", options={"burpee": "walk"}), station).words() == "200 m row + 8 walk-out"


@pytest.mark.parametrize(
    ("part", "says"),
    [
        ("{kind: repeat, times: 1, parts: [{kind: open}]}", "out of bounds"),
        ("{kind: repeat, times: 2, parts: [{kind: opne}]}", "did you mean open?"),
        ("{kind: rest}", "`time` is missing"),
        ("{kind: amrap, time: 4:00, in: couples, work: [{move: row}]}", "pairs, or teams of 3"),
        ("{kind: amrap, time: 4:00, score: joy, work: [{move: row}]}", "write reps or calories or metres or load"),
        ("{kind: rotation, every: 1:00, for: 4:00, stations: [{move: row, time: 2:00}]}", "do not fill a `for`"),
        ("{kind: rotation, every: 1:00, rounds: 1, stations: [{work: [{move: a, rest_margin: 5}, {move: b}]}]}", "the station"),
        ("{kind: rotation, every: 1:00, rounds: 1, stations: [{work: [{move: a}, {move: b}], stnadards: x}]}", "the keys here"),
        ("{kind: amrap, time: 4:00, work: [{move: row, time: 1:00}]}", "no window of its own"),
        ("{kind: amrap, time: 4:00, work: [{move: row, load: heavy}]}", "24 kg, 53 lb or 70 %"),
    ],
)
def test_what_cannot_be_meant_is_said_with_its_place(part: str, says: str) -> None:
    session, problems = read_session(f"session: x\nparts:\n  - {part}\n", "plan.yaml")
    assert session is None
    assert any(says in str(problem) and problem.line == 3 for problem in problems), problems


def test_a_roster_has_bests_teams_notes_and_what_people_stay_away_from() -> None:
    roster, problems = read_roster(
        "roster: x\nathletes:\n  - {name: Ilka, best: {front squat: 100 kg}, team: 2, note: left knee, avoid: [Jump]}\n", "r.yaml"
    )
    assert roster is not None, problems
    (ilka,) = roster.athletes
    assert ilka.best == {"front squat": Load(Fraction(100), LoadUnit.KG)}
    assert (ilka.team, ilka.note, ilka.avoid) == (2, "left knee", frozenset({"jump"}))


def test_teams_spread_the_levels_and_who_is_one_too_many_makes_a_larger_one() -> None:
    people = [Athlete(name=name, level=level) for name, level in zip("ABCDEFG", ["s", "s", "s", "n", "n", "n", "n"], strict=True)]
    teams = make_teams(people, 2)
    assert sorted(map(len, teams)) == [2, 2, 3]
    assert all(any(name in "ABC" for name in team) for team in teams)
    some = [Athlete(name="A", team=1), Athlete(name="B"), Athlete(name="C", team=1), Athlete(name="D")]
    assert make_teams(some, 2) == [("A", "C"), ("B", "D")]
    assert make_teams([Athlete(name="A")], 2) == [("A",)]
    assert with_latecomer([("A", "B"), ("C", "D", "E")], "F") == [("A", "B", "F"), ("C", "D", "E")]


def test_an_own_target_does_not_replace_as_many_as_possible() -> None:
    own = Athlete(name="Tove", targets={"swing": Target(Fraction(16), Unit.REPS)})
    most = Target(Fraction(0), Unit.REPS, most=True, within_ms=40_000)
    assert assign(own, Station(move="swing", target=most)).target == most
    assert assign(own, Station(move="swing", target=Target(Fraction(14), Unit.REPS))).target == own.targets["swing"]


@pytest.mark.parametrize(("turns", "rowers"), [("shared", 2), ("each round", 2), ("same time", 4)])
def test_a_pair_in_which_one_works_at_a_time_needs_one_of_everything(turns: str, rowers: int) -> None:
    work = "work: [{move: row, target: 250 m, kit: rower}]"
    session = session_of(f"  - {{kind: for_time, cap: 9:00, in: pairs, turns: {turns}, {work}}}\n")
    people = Roster(title="x", athletes=tuple(Athlete(name=name) for name in "ABCD"))
    assert [(need.kit, need.needed) for need in kit_needs(session, people)] == [("rower", rowers)]
