"""A session file becomes a session, or everything that is wrong with it, each with its place."""

from __future__ import annotations

import subprocess
import sys
from fractions import Fraction

import pytest

from floorclock.errors import Problem
from floorclock.plan.read_session import read_session
from floorclock.plan.session import (
    Amrap,
    Choice,
    Cues,
    ForTime,
    Intervals,
    OpenPart,
    Paced,
    Room,
    Rotation,
    Session,
    Shuttle,
    Stage,
)
from floorclock.plan.work import REST, Option, Station, Target, Unit
from tests.plan.shipped import session_of

EVERYTHING = """
session: Everything at once
class_time: 60:00
rest_margin: 0:20
count_in: 0
resume_count_in: 5
tap_grace: 1.5
confidence: 85 %
kit: {kettlebell: 8, box: 6, barbell: {60 kg: 2, 45 lb: 1}}
room: {screen: 1.40 m, farthest: 12 m}
changeover: 0:30
pack_up: 2 min
volume_limit: {box jump: 60 reps}
cues: {count: 5, last_ten: no, half: on, pace: 2}
parts:
  - {kind: open, time: 12:00, min: 5:00, max: 15:00, notes: one thing}
  - kind: rotation
    title: The harbour
    every: 1:00
    for: 20:00
    rest_margin: 0:10
    count_in: 0:05
    caution: |
      Keep clear
      of the swing.
    stations:
      - move: swing
        target: {start: 40 reps, step: -1}
        least: 12 reps
        kit: [kettlebell, kettlebell]
        pattern: hinge
        standards: [stand tall, breathe]
        guarded: yes
        rest_margin: 0:30
        options:
          - {name: fewer, target: 7}
          - {name: lighter, move: deadlift, kit: {kettlebell: 1}, pattern: hinge}
      - rest
  - {kind: intervals, work: 0:20, rest: 10, sets: 8, stations: [{move: squat}], final_rest: true}
  - kind: for_time
    cap: 9:00
    wave_every: 1 min
    tap: round
    rounds: 3
    work: [{move: carry, target: 40 m}]
    choose: [{name: shorter, rounds: 2}, {name: other, work: [{move: walk}]}]
  - {kind: amrap, time: 12:00, work: [{move: sit-up, target: 12 cal}], choose: [{name: easy, work: [{move: bridge}]}]}
  - {kind: paced, move: step-up, beat: 96 per minute, beats_per_rep: 4, time: 3:00}
  - kind: paced
    shuttle: {distance: 20 m, stages: [{speed: 8.5 km/h, shuttles: 7}, {speed: 9, shuttles: 8}]}
  - {kind: paced, title: Short, shuttle: {distance: 20 m, start: 8.5 km/h, step: 0.5 km/h, stage: 1:00, count: 2}}
"""


def test_every_key_of_the_format_arrives_where_it_belongs() -> None:
    swing = Station(
        move="swing",
        target=Target(Fraction(40), Unit.REPS, Fraction(-1)),
        least=Fraction(12),
        kit=(("kettlebell", 2),),
        pattern="hinge",
        standards=("stand tall", "breathe"),
        guarded=True,
        rest_margin_ms=30_000,
        options=(
            Option("fewer", "swing", Target(Fraction(7), Unit.REPS), (("kettlebell", 2),), "hinge", True),
            Option("lighter", "deadlift", None, (("kettlebell", 1),), "hinge", False),
        ),
    )
    harbour = Rotation(
        title="The harbour",
        caution="Keep clear of the swing.",
        every_ms=60_000,
        for_ms=1_200_000,
        work=(swing, REST),
        rest_margin_ms=10_000,
        count_in_ms=5_000,
    )
    carry = Station(move="carry", target=Target(Fraction(40), Unit.METRES))
    choices = (Choice(name="shorter", rounds=2), Choice(name="other", work=(Station(move="walk"),)))
    stages = Shuttle(Fraction(20), (Stage(Fraction(17, 2), 7), Stage(Fraction(9), 8)))
    assert session_of(EVERYTHING.strip()) == Session(
        title="Everything at once",
        class_time_ms=3_600_000,
        rest_margin_ms=20_000,
        count_in_ms=0,
        resume_count_in_ms=5_000,
        tap_grace_ms=1_500,
        confidence=85,
        kit={"kettlebell": 8, "box": 6, "barbell": 3},
        kit_loads={"barbell": {"60 kg": 2, "45 lb": 1}},
        room=Room(screen_mm=1400, farthest_mm=12_000),
        changeover_ms=30_000,
        pack_up_ms=120_000,
        volume_limit={"box jump": Target(Fraction(60), Unit.REPS)},
        cues=Cues(count=5, last_ten=False, half=True, pace=2),
        parts=(
            OpenPart(title="Open time", notes=("one thing",), time_ms=720_000, min_ms=300_000, max_ms=900_000),
            harbour,
            Intervals(title="Intervals", work_ms=20_000, rest_ms=10_000, sets=8, work=(Station(move="squat"),), final_rest=True),
            ForTime(title="For time", cap_ms=540_000, wave_every_ms=60_000, tap="round", rounds=3, work=(carry,), choose=choices),
            Amrap(
                title="As many rounds as possible",
                time_ms=720_000,
                work=(Station(move="sit-up", target=Target(Fraction(12), Unit.CALORIES)),),
                choose=(Choice(name="easy", work=(Station(move="bridge"),)),),
            ),
            Paced(title="To the beat", move="step-up", beats_per_minute=Fraction(96), beats_per_rep=4, time_ms=180_000),
            Paced(title="Shuttle ladder", shuttle=stages),
            Paced(title="Short", shuttle=stages),
        ),
    )


def test_what_is_left_out_has_the_usual_values() -> None:
    made = session_of("  - {kind: for_time, cap: 9:00, work: [{move: carry}]}")
    assert (made.rest_margin_ms, made.count_in_ms, made.resume_count_in_ms, made.tap_grace_ms) == (15_000, 10_000, 3_000, 2_000)
    assert (made.confidence, made.parts[0].stations[0].least) == (90, None)
    assert made.parts[0] == ForTime(title="For time", cap_ms=540_000, rounds=1, work=(Station(move="carry"),))


def test_an_option_of_the_same_move_stays_guarded_unless_it_says_otherwise() -> None:
    made = session_of(
        "  - kind: rotation\n    every: 1:00\n    rounds: 1\n    stations:\n"
        "      - {move: box jump, guarded: true, options: [{name: low, target: 5}, {name: open, target: 5, guarded: false}]}\n"
    )
    assert [option.guarded for option in made.parts[0].stations[0].options] == [True, False]


def problems_of(text: str) -> list[Problem]:
    made, problems = read_session(text, "plan.yaml")
    assert made is None
    assert all(problem.severity == "error" and problem.file == "plan.yaml" for problem in problems)
    return list(problems)


def part(text: str) -> str:
    return f"session: A test\nparts:\n  - {text}\n"


ROTATION = "{kind: rotation, every: 1:00, rounds: 5, stations: [%s]}"
ONE_PROBLEM = [
    ("sesion: x\nparts: [{kind: open}]", "1:1", "sesion", "unknown key `sesion`", "did you mean `session`?"),
    ("session: x\nparts: []", "2:8", "parts", "this list is empty", "begin each line"),
    ("session: x", "1:1", "", "`parts` is missing", "write parts:"),
    ("session: x\nclass_time: 61:61\nparts: [{kind: open}]", "2:13", "class_time", "is no duration", "did you mean"),
    ("session: x\nclass_time: 48 h\nparts: [{kind: open}]", "2:13", "class_time", "longer than a day", "24:00:00"),
    ("session: x\nclass_time:\nparts: [{kind: open}]", "2:12", "class_time", "nothing is written here", "leave the key out"),
    ("session: x\ncount_in: [1]\nparts: [{kind: open}]", "2:11", "count_in", "a duration goes here, not a list", ""),
    ("session: x\nkit: {bar: {heavy: 2}}\nparts: [{kind: open}]", "2:13", "kit.bar.heavy", "no load", "write it like"),
    ("session: x\nkit: {bar: {60 kg: some}}\nparts: [{kind: open}]", "2:20", "kit.bar.60 kg", "no whole number", "write it like"),
    ("session: x\nkit: {box: lots}\nparts: [{kind: open}]", "2:12", "kit.box", "no whole number", "write it like"),
    ('session: x\nkit: {"a\\tb": 1}\nparts: [{kind: open}]', "2:7", "kit.a<U+0009>b", "U+0009", "take it out"),
    ('session: "x\\u202Ey"\nparts: [{kind: open}]', "1:10", "session", "U+202E (right-to-left override)", "take it out"),
    ("[]", "1:1", "", "a mapping goes here, not a list", "key: value"),
    ("session: x\nparts: [{kind: open, kit: {box: 2}}]", "2:22", "parts[0].kit", "unknown key", "one level up, beside `parts`"),
    ("session: x\nconfidence: high\nparts: [{kind: open}]", "2:13", "confidence", "no whole percentage", "write it like 90 %"),
    ("session: x\nconfidence: 49\nparts: [{kind: open}]", "2:13", "confidence", "`49` is out of bounds", "at least 50 %"),
    ("session: x\nconfidence: 100 %\nparts: [{kind: open}]", "2:13", "confidence", "`100 %` is out of", "at most 99 %"),
    ("session: x\nconfidance: 90\nparts: [{kind: open}]", "2:1", "confidance", "unknown key", "did you mean `confidence`?"),
]
AMRAP = "{kind: amrap, time: 9:00, work: [{move: a%s}]%s}"
SHUTTLE = "{kind: paced, shuttle: {distance: 20 m, start: 8, step: 1, stage: 1:00%s}}"
IN_A_PART = [
    ("{kind: opn}", 12, ".kind", "no kind of part called `opn`", "did you mean open?"),
    ("{title: x}", 5, "", "`kind` is missing", "rotation"),
    ("rest", 5, "", "a mapping goes here, not a text", ""),
    ("{kind: open, time: 5:00, max: 4:00}", 24, ".time", "longer than `max`", "at most 4:00"),
    ("{kind: rotation, every: 1:00, stations: [{move: a}]}", 5, "", "how long it lasts is missing", "for: 20:00"),
    ("{kind: rotation, every: 1:00, rounds: 5, for: 5:00, stations: [{move: a}]}", 46, ".for", "twice", "keep one"),
    ("{kind: rotation, every: 90s, for: 5:00, stations: [{move: a}]}", 39, ".for", "no whole", "4:30 or 6:00"),
    ("{kind: rotation, every: 1:00, for: 0:30, stations: [{move: a}]}", 40, ".for", "no whole", "write 1:00"),
    ("{kind: rotation, every: 1:00, rounds: 9999, stations: [{move: a}, rest]}", 43, ".rounds", "too many", "10,000"),
    ("{kind: rotation, every: 1:00, rounds: 9999, stations: [{move: a}]}", 43, ".rounds", "longer than a day", "fewer"),
    ("{kind: intervals, work: 0:20, rest: 0:10, stations: [{move: a}]}", 5, "", "`sets` is missing", "sets: 8"),
    ("{kind: intervals, work: 5:00, rest: 5:00, sets: 9000, stations: [{move: a}]}", 53, ".sets", "longer than a day", "fewer"),
    ("{kind: for_time, cap: 9:00, work: [rest]}", 40, ".work[0]", "a mapping goes here, not a text", ""),
    ("{kind: for_time, cap: 9:00}", 5, "", "`work` is missing", "- move:"),
    ("{kind: for_time, cap: 9:00, wave_every: 9:00, work: [{move: a}]}", 45, ".wave_every", "the cap is over", "less than 9:00"),
    ("{kind: for_time, cap: 9:00, work: [{move: a}], choose: [{name: b}]}", 61, ".choose[0]", "changes nothing", "`rounds`"),
    ("{kind: for_time, caps: 9:00, work: [{move: a}]}", 22, ".caps", "unknown key", "did you mean `cap`?"),
    (AMRAP % ("", ", choose: [{name: b, rounds: 2, work: [{move: a}]}]"), 69, ".choose[0].rounds", "no number of", "take it"),
    ("{kind: paced, beat: 96 per minute}", 5, "", "`time` is missing", "time: 3:00"),
    ("{kind: paced}", 5, "", "the pace is missing", "shuttle"),
    ("{kind: paced, beat: 400, time: 5:00:00}", 36, ".time", "beats are too many", "20,000"),
    (
        "{kind: paced, time: 1:00, shuttle: {distance: 20 m, stages: [{speed: 8, shuttles: 7}]}}",
        19,
        ".time",
        "means nothing with a `shuttle`",
        "take it out",
    ),
    ("{kind: paced, shuttle: {distance: 20 m}}", 28, ".shuttle", "the stages are missing", "count"),
    (SHUTTLE % "", 28, ".shuttle", "`count` is missing", "short form"),
    (SHUTTLE % ", count: 80", 84, ".shuttle.count", "87 km/h", "at most 50"),
    (
        "{kind: paced, shuttle: {distance: 1 m, start: 20, step: 0, stage: 60:00, count: 100}}",
        85,
        ".shuttle.count",
        "shuttles are too many",
        "10,000",
    ),
    (AMRAP % (", target: 9, least: 5", ""), 59, ".work[0].least", "means nothing here", "take it out"),
    ("{kind: [a]}", 12, ".kind", "a word goes here", "write one of open, rest"),
    ("{kind: rotation, every: 0:01, for: 3:00:00, stations: [{move: a}]}", 40, ".for", "10,800 intervals are", "at most 10,000"),
    (AMRAP % ("", ", choose: [{name: b}]"), 59, ".choose[0]", "`work` is missing", "- move:"),
    ("{kind: for_time, cap: 9:00, rounds: 9999, work: [{move: a}, {move: b}]}", 41, ".rounds", "19,998 pieces", "10,000"),
    (
        "{kind: paced, beat: 9, shuttle: {distance: 20 m, stages: [{speed: 8, shuttles: 7}]}}",
        28,
        ".shuttle",
        "not both",
        "take one",
    ),
    (SHUTTLE % ", count: 2, stages: [{speed: 8, shuttles: 7}]", 45, ".shuttle.start", "`start` means nothing", "one of the two"),
    ("{kind: open, notes: [a, {b: c}]}", 29, ".notes[1]", "a sentence goes here, not a mapping", ""),
    ("{kind: open, title: " + "x" * 101 + "}", 25, ".title", "too many", "at most 100"),
]
AT_A_STATION = [
    ("rest", 56, "", "nobody works here", "- move:"),
    ("rst, {move: a}", 57, "[0]", "`rst` is no station", "the word rest"),
    ("{move: rest}", 64, "[0].move", "`rest` is no move", "- rest"),
    ("{move: a, rest_margin: 1:00}", 80, "[0].rest_margin", "no time to work", "shorter"),
    ("{move: a, options: [{name: b}]}", 77, "[0].options[0]", "changes nothing", "`target`"),
    ("{move: a, options: [{name: b, target: 1}, {name: b, target: 2}]}", 106, "[0].options[1].name", "`b` is taken", "own name"),
    ("{move: a, load: 0 kg}", 73, "[0].load", "there is nothing to move", "24 kg, 53 lb or 70 %"),
    ("{move: a}, {move: a}, {move: a (2)}", 86, "[2].move", "two stations", "another name"),
    ("{move: a, target: {start: 5 m, step: 1 rep}}", 94, "[0].target.step", "in reps, the start in m", "write 1"),
    ("{move: a, score: reps}", 67, "[0].score", "unknown key `score`", "write it one level up, beside `stations`"),
    ("{move: a, target: max}", 75, "[0].target", "`max` is no target", "write it like max reps"),
    ("{move: a, target: 9, leest: 6}", 78, "[0].leest", "unknown key", "did you mean `least`?"),
    ("{move: a, target: 9, least: few}", 85, "[0].least", "`few` is no amount", "6 reps, 150 m"),
    ("{move: a, target: 9, least: 0}", 85, "[0].least", "there is nothing to do", "6 reps, 150 m"),
    ("{move: a, target: 9, least: 5.5}", 85, "[0].least", "a rep is whole", "6 reps"),
    ("{move: a, least: 6 reps}", 67, "[0].least", "means nothing without a target", "give the station a target"),
    ("{move: a, target: 9, least: 10}", 85, "[0].least", "10 reps, and the target is 9 reps", "at most 9 reps"),
    ("{move: a, target: 21-15-9, least: 10}", 91, "[0].least", "10 reps, and the target is 9 reps", "at most 9 reps"),
    ("{move: a, target: 200 m, least: 9 cal}", 89, "[0].least", "in cal, the target in m", "an amount in m"),
    (
        "{move: a, target: {start: 12 reps, step: -2}, least: 7}",
        110,
        "[0].least",
        "`least` is 7 reps, and round 4 asks for 6 reps",
        "at most 4 reps",
    ),
]
ONE_PROBLEM += [(part(text), f"3:{column}", f"parts[0]{path}", message, hint) for text, column, path, message, hint in IN_A_PART]
ONE_PROBLEM += [
    (part(ROTATION % text), f"3:{column}", f"parts[0].stations{path}", message, hint)
    for text, column, path, message, hint in AT_A_STATION
]


@pytest.mark.parametrize(("text", "place", "path", "message", "hint"), ONE_PROBLEM, ids=[case[3] for case in ONE_PROBLEM])
def test_a_mistake_is_one_problem_with_its_place_and_a_way_out(text: str, place: str, path: str, message: str, hint: str) -> None:
    (found,) = problems_of(text)
    assert (f"{found.line}:{found.column}", found.path) == (place, path)
    assert message in found.message
    assert hint in found.hint
    assert str(found).startswith(f"plan.yaml:{place}: ")
    assert str(found).isprintable()


@pytest.mark.parametrize(
    ("station", "least"),
    [
        ("{move: a, target: 9, least: 9}", 9),
        ("{move: a, target: 200 m, least: 150}", 150),
        ("{move: a, target: 1 km, least: 0.4 km}", 400),
        ("{move: a, target: 0:40, least: 0:20}", 20),
        ("{move: a, target: {start: 4, step: 1}, least: 4}", 4),
        ("{move: a, target: {start: 10, step: -1}, least: 6}", 6),
        # From round 3 on nothing is left to do, so that nothing can be too little.
        ("{move: a, target: {start: 10, step: -5}, least: 5}", 5),
    ],
)
def test_the_least_amount_is_in_the_unit_of_the_target(station: str, least: int) -> None:
    (made,) = session_of(f"  - {ROTATION % station}").parts
    assert made.stations[0].least == least


@pytest.mark.parametrize(
    ("part", "rounds"),
    [
        ("{kind: rotation, every: 1:00, for: 6:00, stations: [%s, rest]}", 3),
        ("{kind: intervals, work: 20, rest: 10, sets: 5, stations: [%s, {move: b}]}", 3),
        ("{kind: intervals, work: 20, rest: 10, sets: 4, stations: [%s]}", 4),
    ],
)
def test_a_falling_ladder_is_followed_to_the_last_round_of_its_part(part: str, rounds: int) -> None:
    text = "  - " + part % "{move: a, target: {start: 20, step: -1}, least: %d}"
    assert session_of(text % (21 - rounds)).parts
    (found,) = problems_of(f"session: x\nparts:\n{text % (22 - rounds)}\n")
    assert f"round {rounds} asks for {21 - rounds} reps" in found.message


def test_all_problems_come_at_once_and_in_the_order_of_the_file() -> None:
    text = (
        "session: x\nclass_tim: 60:00\nparts:\n  - kind: rotation\n    every: 0\n    for: 2:30\n    rounds: many\n    stations:\n"
        "      - {move: a, target: 2.5}\n      - {mov: b}\n  - kind: paced\n    beat: fast\n    time: 3:00\n    time: 4:00\n"
    )
    found = problems_of(text)
    places = ["2:1", "5:12", "6:5", "7:13", "9:27", "10:10", "12:11", "14:5"]
    assert [f"{problem.line}:{problem.column}" for problem in found] == places


def test_a_file_full_of_mistakes_says_how_many_were_left_out() -> None:
    found = problems_of("session: x\n" + "".join(f"k{number}: 1\n" for number in range(500)))
    assert len(found) == 101
    assert "401 more problems" in found[-1].message


def test_the_plan_is_read_without_anything_that_a_terminal_or_a_server_brings() -> None:
    code = (
        "import sys; import floorclock.plan.read_session, floorclock.plan.read_roster, floorclock.plan.check; "
        "print([name for name in ('textual', 'rich', 'starlette', 'sqlalchemy', 'miniaudio', 'typer') if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60, check=True)
    assert done.stdout.strip() == "[]"
