"""Rosters in YAML and CSV: the same people, the same problems and warnings, each with its place."""

from __future__ import annotations

from fractions import Fraction

import pytest

from floorclock.errors import Problem
from floorclock.plan.check import check_files
from floorclock.plan.read_roster import read_roster
from floorclock.plan.roster import Athlete, Roster, assign
from floorclock.plan.session import Session
from floorclock.plan.work import Target, Unit
from tests.checks.reading import rows
from tests.plan.shipped import session, session_of, source

AS_YAML = """
roster: Tuesday
athletes:
  - name: Ilka
    key: i
    level: regular
    options: {kettlebell swing: lighter}
    targets: {kettlebell deadlift: 12 reps, carry: 40 m}
    experienced: [box jump, rope climb]
    group: 2
    rest_margin: 0:20
  - Bram
  - {name: 李小雨, experienced: box jump}
"""
AS_CSV = (
    "Name, key,level,targets,options,experienced,group,rest_margin\r\n"
    'Ilka,i,regular,"kettlebell deadlift=12 reps; carry=40 m",kettlebell swing=lighter,box jump; rope climb,2,0:20\r\n'
    "Bram,,,,,,,\r\n"
    "\r\n"
    "李小雨,,,,,box jump\r\n"
)


def roster_of(text: str | bytes, file: str) -> Roster:
    made, problems = read_roster(text, file)
    assert made is not None, problems
    assert problems == ()
    return made


def test_yaml_and_csv_say_the_same() -> None:
    ilka = Athlete(
        name="Ilka",
        key="i",
        level="regular",
        options={"kettlebell swing": "lighter"},
        targets={"kettlebell deadlift": Target(Fraction(12), Unit.REPS), "carry": Target(Fraction(40), Unit.METRES)},
        experienced=frozenset({"box jump", "rope climb"}),
        group=2,
        rest_margin_ms=20_000,
    )
    everybody = (ilka, Athlete(name="Bram", key="b"), Athlete(name="李小雨", key="a", experienced=frozenset({"box jump"})))
    assert roster_of(AS_YAML.strip(), "tuesday.yaml") == Roster(title="Tuesday", athletes=everybody)
    assert roster_of(AS_CSV, "tuesday-evening.csv") == Roster(title="Tuesday evening", athletes=everybody)


@pytest.mark.parametrize(
    "text",
    [
        "name,key\nIlka,i\n",
        "name,key\r\nIlka,i",
        '"name","key"\r\n"Ilka","i"\r\n',
        "\ufeffname,key\r\nIlka,i\r\n",
        "name;key\nIlka;i\n",
        "key\tname\ni\tIlka\n",
    ],
)
def test_csv_is_known_by_its_first_line_whatever_made_it(text: str) -> None:
    assert roster_of(text.encode(), "people").athletes == (Athlete(name="Ilka", key="i"),)


@pytest.mark.parametrize("rule", ["6", "7"])
def test_quoted_fields_follow_the_published_rules(rule: str) -> None:
    """RFC 4180 section 2, rules 6 and 7, in `csv_rules.csv`: what a field is, and how it is written."""
    (row,) = [row for row in rows("csv_rules.csv") if row["rule"] == rule]
    written = {"6": '"a,b"', "7": '"b""bb"'}[rule]
    assert row["example_out"] == written
    assert roster_of(f"key,name\r\nk,{written}\r\n", "r.csv").athletes[0].name == row["example_in"]


PLAN = session_of(
    "  - {kind: rotation, every: 1:00, rounds: 1, stations: [{move: swing, options: [{name: lighter, move: deadlift}]}]}\n"
    "  - {kind: for_time, title: Finish, cap: 9:00, work: [{move: carry}], choose: [{name: shorter, rounds: 1}]}\n"
)


ONE = "athletes:\n  - {name: Ilka, %s}\n"
MISTAKES = [
    (ONE % "key: ab", "2:23", "athletes[0].key", "no tap key", "one letter"),
    (ONE % "group: 0", "2:25", "athletes[0].group", "out of bounds", "at least 1"),
    (ONE % "grup: 1", "2:18", "athletes[0].grup", "unknown key", "`group`"),
    (ONE % "options: [lighter]", "2:27", "athletes[0].options", "a mapping goes here, not a list", ""),
    (ONE % "targets: {swing: many}", "2:35", "athletes[0].targets.swing", "no target", "14 reps"),
    (ONE % "options: {swing: ligter}", "2:35", "athletes[0].options.swing", "no option `ligter`", "did you mean lighter?"),
    (ONE % "options: {Finish: short}", "2:36", "athletes[0].options.Finish", "no option `short`", "did you mean shorter?"),
    ("athletes: []\n", "1:11", "athletes", "this list is empty", ""),
    ("roster: x\n", "1:1", "", "`athletes` is missing", ""),
    ("athletes:\n  - {key: a}\n", "2:5", "athletes[0]", "`name` is missing", ""),
    ("athletes:\n  - Ilka\n  - {name: ilka}\n", "3:12", "athletes[1].name", "taken by the athlete on line 2", "family name"),
    ("athletes:\n  - {name: a, key: x}\n  - {name: b, key: x}\n", "3:20", "athletes[1].key", "tap key `x` is taken", ""),
    ("athletes:\n  - Zoë\n  - Zoe\u0308\n", "3:5", "athletes[1].name", "taken", ""),
    ('athletes:\n  - "a\\eb"\n', "2:5", "athletes[0]", "U+001B", "take it out"),
    ("athletes: [" + ",".join(f"n{i}" for i in range(201)) + "]\n", "1:11", "athletes", "201 are too many", "at most 200"),
    ("name,name\na,b\n", "1:2", "", "stands here twice", "keep one"),
    ("name,key\na\n\nb,xy\n", "4:2", "athletes[1].key", "no tap key", "one letter"),
    ("name,key\na,b,c\n", "2:3", "athletes[0]", "3 fields, but the first line has 2", "quotes"),
    ("name,key\n,b\n", "2:1", "athletes[0]", "`name` is missing", ""),
    ("name,targets\na,swing\n", "2:2", "athletes[0].targets", "`swing` has no `=`", "move=value"),
    ("name,targets\na,swing=1; swing=2\n", "2:2", "athletes[0].targets", "twice", "keep one"),
    ("name,targets\na,swing=x\n", "2:2", "athletes[0].targets.swing", "no target", "14 reps"),
    ('name,key\n"a"b,c\n', "2:1", "", "not CSV", "quotes"),
    ('name,key\n"a\nb",c\n', "2:1", "athletes[0].name", "U+000A", "take it out"),
    ("name\n" + "x" * 200_000, "2:1", "", "not CSV", ""),
    (b"name\n\xff\n", "2:1", "", "not UTF-8", "save it"),
]


@pytest.mark.parametrize(("text", "place", "path", "message", "hint"), MISTAKES, ids=[case[3] for case in MISTAKES])
def test_a_mistake_is_one_problem_with_its_place_and_a_way_out(
    text: str | bytes, place: str, path: str, message: str, hint: str
) -> None:
    file = "r.csv" if text[:4] in ("name", b"name") else "r.yaml"
    made, (found,) = read_roster(text, file, PLAN)
    assert made is None
    assert (f"{found.line}:{found.column}", found.path, found.severity) == (place, path, "error")
    assert message in found.message
    assert hint in found.hint
    assert str(found).isprintable()


def test_a_table_without_names_is_refused() -> None:
    made, found = read_roster("key,level\na,b\n", "r.csv", PLAN)
    assert made is None
    assert "`name` is missing" in found[0].message


@pytest.mark.parametrize(
    ("field", "severity", "path", "hint"),
    [
        ("options: {carry: x}", "warning", "options.carry", "it has no options; as written then"),
        ("targets: {swng: 10}", "warning", "targets.swng", "did you mean swing?"),
        ("targets: {plank: 200 m}", "note", "targets.plank", "this session does without it"),
        ("options: {plank: shorter}", "note", "options.plank", "this session does without it"),
        ("experienced: [deadlifts]", "warning", "experienced[0]", "did you mean deadlift?"),
    ],
)
def test_what_the_session_does_without_is_said_and_no_mistake(field: str, severity: str, path: str, hint: str) -> None:
    made, (found,) = read_roster(ONE % field, "r.yaml", PLAN)
    assert made is not None
    assert (found.severity, found.path, found.hint) == (severity, f"athletes[0].{path}", hint)


def test_experience_in_other_moves_is_no_mistake() -> None:
    made, found = read_roster(ONE % "experienced: [muscle ring dip, carry, deadlift]", "r.yaml", PLAN)
    assert made is not None
    assert found == ()


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16"])
def test_a_list_of_members_from_elsewhere_is_taken_as_far_as_can_be(encoding: str) -> None:
    text = "Member,First name,Last name,Phone,Levl\n17,Ilka,Sørholt,0123,regular\n18,Bram,,,new\n"
    made, found = read_roster(text.replace(",", "\t").encode(encoding), "members.csv")
    assert made is not None
    assert [athlete.name for athlete in made.athletes] == ["Ilka Sørholt", "Bram"]
    assert [(one.severity, one.message) for one in found] == [
        ("warning", "passed over: the columns `member`, `phone`"),
        ("warning", "unknown column `levl`"),
    ]


def test_moves_of_other_sessions_are_one_note() -> None:
    moves = "".join(f"move {number}: 10 reps, " for number in range(9))
    roster = f"athletes: [{{name: a, targets: {{{moves}plank: 0:40}}}}, {{name: b, targets: {{plank: 0:30}}}}]"
    _, found = read_roster(roster, "r.yaml", PLAN)
    assert [one.message for one in found] == [
        "the session has no moves `move 0`, `move 1`, `move 2`, `move 3`, `move 4` and 5 more"
    ]


def test_a_target_belongs_to_its_station_where_two_have_the_same_move() -> None:
    squats = "{move: squat, target: 10 reps}, {move: row, target: 100 m}, {move: squat, target: 6 reps, load: 40 kg}"
    plan = session_of(f"  - {{kind: rotation, every: 1:00, rounds: 2, stations: [{squats}]}}")
    made, found = read_roster(
        "athletes: [{name: a, targets: {squat (2): 4 reps}, loads: {squat (2): 30 kg}}, {name: b, targets: {squat: 7 reps}}]",
        "r.yaml",
        plan,
    )
    assert made is not None
    assert found == ()
    stations = plan.parts[0].stations
    assert [[assign(one, station).words() for station in stations] for one in made.athletes] == [
        ["10", "100 m", "4 at 30 kg"],
        ["7", "100 m", "7 at 40 kg"],
    ]


QUAY_PARTS = """
  - kind: rotation
    title: The quay
    every: 1:00
    rounds: 3
    stations:
      - {move: swing, target: 14 reps, least: 8, options: [{name: lighter, move: deadlift, target: 12 reps}]}
      - {move: row, target: 200 m}
      - {move: plank, target: 0:30}
      - rest
  - {kind: intervals, title: Fast, work: 0:40, rest: 0:20, sets: 4, stations: [{move: burpee, target: 8}, {move: jog}]}
""".lstrip("\n")
QUAY = session_of(QUAY_PARTS)


def warnings(text: str, file: str = "r.yaml", plan: Session | None = QUAY) -> list[Problem]:
    made, problems = read_roster(text, file, plan)
    assert made is not None
    assert all(problem.severity == "warning" and problem.hint and str(problem).isprintable() for problem in problems)
    return list(problems)


OF_ONE = [
    (
        "targets: {swing: 12 cal}",
        "35 targets.swing",
        "12 cal of `swing`, and the plan counts it in reps",
        "write it like 14 reps",
    ),
    ("targets: {row: 20}", "33 targets.row", "do 20 reps of `row`, and the plan counts it in m", "write it like 200 m"),
    ("targets: {swing: 7 reps}", "35 targets.swing", "7 reps of `swing`, under the least of 8 reps", "8 reps or more, or"),
    ("options: {swing: lighter}, targets: {deadlift: 1}", "65 targets.deadlift", "1 rep of `deadlift`, under", "8 reps or"),
    ("rest_margin: 0:40", "31 rest_margin", "Ilka's rest margin of 0:40 leaves no time to work in 0:40 (Fast)", "less than 0:40"),
    ("group: 6", "25 group", "start group 6 begins with group 2, at row: The quay has 4 stations", "write a group from 1 to 4"),
    ("with: [Ilke]", "24 with", "nobody here is called `Ilke`", "did you mean Ilka?"),
    ("not_with: Yrsa", "28 not_with", "nobody here is called `Yrsa`", "leave it where they come another day"),
    ("with: ilka", "24 with", "this is the name of Ilka themselves", "name somebody else"),
]
CONCERNS = [
    *((ONE % field, f"2:{place.replace(' ', ' athletes[0].')}", message, hint) for field, place, message, hint in OF_ONE),
    (
        "athletes: [{name: Ilka, key: x}, {name: Bram, key: X}]\n",
        "1:52 athletes[1].key",
        "Bram taps with X and Ilka with x: with caps lock on the two change places",
        "keep caps lock off",
    ),
    ("name,targets\nIlka,swing=12 cal\n", "2:2 athletes[0].targets.swing", "the plan counts it in reps", "14 reps"),
    ("name,rest_margin\nIlka,5:00\n", "2:2 athletes[0].rest_margin", "leaves no time to work in 0:40", "less than 0:40"),
    (
        "athletes: [{name: A, not_with: b}, {name: B, with: C}, {name: C, with: a}]\n",
        "1:32 athletes[0].not_with",
        "A is to be with B and C, and not with B",
        "take one of the two out",
    ),
    ("name,not_with,with\nA,,B; C\nB,,\nC,B,\n", "4:2 athletes[2].not_with", "C is to be with A and B, and not with B", "take"),
    ("name,group\nIlka,5\n", "2:2 athletes[0].group", "begins with group 1, at swing", "1 to 4"),
]


@pytest.mark.parametrize(("text", "place", "message", "hint"), CONCERNS, ids=[case[2] for case in CONCERNS])
def test_a_concern_is_one_warning_with_its_place_and_a_way_out(text: str, place: str, message: str, hint: str) -> None:
    (found,) = warnings(text, "r.csv" if text.startswith("name") else "r.yaml")
    assert f"{found.line}:{found.column} {found.path}" == place
    assert message in found.message
    assert hint in found.hint


@pytest.mark.parametrize(
    "field",
    [
        "targets: {swing: 8 reps, row: 150 m, plank: 0:20, deadlift: 8}",
        "targets: {jog: 100 m}",  # The plan gives a jog no target, so any unit will do.
        "targets: {deadlift: 2}",  # Nobody swings lighter here: the target is not in force.
        "rest_margin: 0:39",
        "group: 4",
        "with: [], not_with: []",
    ],
)
def test_what_is_as_it_should_be_is_not_spoken_of(field: str) -> None:
    assert warnings(ONE % field) == []


def test_groups_without_a_station_are_spoken_of_once_for_the_whole_roster() -> None:
    people = ", ".join(f"{{name: P{place}, group: {group}}}" for place, group in enumerate((1, 2, 4, 7, 5, 5, 9)))
    (found,) = warnings(f"athletes: [{people}]\n")
    assert found.path == "athletes[3].group"
    assert found.message.startswith("start group 7 begins with group 3, at plank")
    assert found.message.endswith("; so do 2 more groups with others")


@pytest.mark.parametrize(
    "parts",
    [
        "  - {kind: intervals, work: 20, rest: 10, sets: 8, stations: [{move: squat}]}\n",
        "  - {kind: for_time, cap: 9:00, wave_every: 1:00, work: [{move: carry}]}\n" + QUAY_PARTS,
        "  - {kind: for_time, cap: 9:00, work: [{move: carry}]}\n",
    ],
    ids=["one station", "waves", "no stations in turn"],
)
def test_groups_that_are_no_places_of_a_rotation_may_have_any_number(parts: str) -> None:
    assert warnings(ONE % "group: 9", plan=session_of(parts)) == []


def test_forty_people_have_keys_that_differ_by_more_than_case() -> None:
    assert warnings("name\n" + "".join(f"{number:02}\n" for number in range(40)), "r.csv", None) == []


def test_keys_that_differ_by_case_alone_are_said_once() -> None:
    (found,) = warnings("athletes: [{name: Žofie, key: ž}, {name: Zoë, key: Ž}, {name: Ilka, key: i}, {name: Ingo, key: I}]\n")
    assert found.path == "athletes[1].key"
    assert found.message.startswith("Zoë taps with Ž and Žofie with ž")
    assert found.message.endswith("; 1 more pair is like that")


def test_a_margin_without_time_to_work_is_not_said_again_at_every_station() -> None:
    plan = f"session: x\nparts:\n{QUAY_PARTS}".encode()
    check = check_files(
        plan, "plan.yaml", b"athletes: [{name: Ilka, rest_margin: 1:00}, {name: Bram, rest_margin: 0:35}]\n", "r.yaml"
    )
    assert [problem.file for problem in check.problems if "Ilka" in problem.message] == ["r.yaml"]
    assert any("Bram: 0:30 of plank leaves 0:30 of 1:00" in problem.message for problem in check.problems)


@pytest.mark.parametrize(
    ("name", "people", "paths"), [("harbour-roster.yaml", 16, []), ("full-house.csv", 40, ["athletes[20].group"])]
)
def test_a_shipped_roster_fits_the_harbour_but_for_groups_without_a_place(name: str, people: int, paths: list[str]) -> None:
    made, problems = read_roster(source(name), name, session("harbour.yaml"))
    assert made is not None
    assert [problem.path for problem in problems] == paths
    keys = [athlete.key for athlete in made.athletes]
    assert "" not in keys
    assert len(set(keys)) == len(keys) == people
