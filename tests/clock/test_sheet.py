"""The run sheet in the shape that other programs rely on (DESIGN, section 6)."""

from __future__ import annotations

import json
from fractions import Fraction
from typing import Any

import pytest

from floorclock.clock.sheet import run_sheet, sheet_json
from floorclock.plan.durations import seconds
from floorclock.plan.session import Amrap, AnyPart, ForTime, Intervals, OpenPart, Paced, Shuttle, Stage
from tests.clock.classes import BRAM, ILKA, STEP, SWING, harbour, session_of

EVERY_KIND: tuple[AnyPart, ...] = (
    OpenPart(title="Brief", time_ms=720_000),
    OpenPart(title="Rest as needed"),
    harbour(rounds=5),
    Intervals(title="Fast", work_ms=20_000, rest_ms=10_000, sets=8, work=(SWING,)),
    ForTime(title="Carry", cap_ms=540_000, rounds=4, work=(SWING, STEP, SWING), wave_every_ms=60_000),
    Amrap(title="As many", time_ms=720_000, work=(SWING,)),
    Paced(title="Steps", beats_per_minute=Fraction(96), time_ms=180_000),
    Paced(title="Shuttle", shuttle=Shuttle(Fraction(20), (Stage(Fraction(17, 2), 7), Stage(Fraction(9), 8)))),
)


def sheet_of(*parts: AnyPart, two_groups: bool = False) -> list[dict[str, Any]]:
    sheet = sheet_json(run_sheet(session_of(*parts), (ILKA, BRAM) if two_groups else ()))
    assert set(sheet) == {"parts"}
    parts_of: list[dict[str, Any]] = json.loads(json.dumps(sheet))["parts"]
    return parts_of


def test_every_part_interval_and_cue_has_the_keys_that_programs_rely_on() -> None:
    for part in sheet_of(*EVERY_KIND):
        assert set(part) == {"kind", "title", "time_s", "intervals", "cues"}
        for interval in part["intervals"]:
            assert set(interval) == {"start_s", "end_s", "kind", "round", "set", "station", "target"}
            assert interval["kind"] in ("work", "rest", "ready")
            assert interval["start_s"] < interval["end_s"]
        for cue in part["cues"]:
            assert set(cue) == {"at_s", "cue"}


def test_the_kinds_titles_and_times_are_those_of_the_plan() -> None:
    parts = sheet_of(*EVERY_KIND)
    assert [(part["kind"], part["time_s"]) for part in parts] == [
        ("open", 720),
        ("open", 0),
        ("rotation", 900),
        ("intervals", 230),
        ("for_time", 540),
        ("amrap", 720),
        ("paced", 180),
        ("paced", 123.294),
    ]
    assert [part["title"] for part in parts] == [part.title for part in EVERY_KIND]


def test_cues_are_in_order_and_a_timed_part_ends_with_its_end() -> None:
    for part in sheet_of(*EVERY_KIND)[2:]:
        at = [cue["at_s"] for cue in part["cues"]]
        assert at == sorted(at)
        assert {"at_s": part["time_s"], "cue": "end"} in part["cues"]


def test_the_count_in_lies_before_zero_and_is_to_get_ready() -> None:
    (part,) = sheet_of(harbour(rounds=1))
    assert part["intervals"][0] == {
        "start_s": -10,
        "end_s": 0,
        "kind": "ready",
        "round": None,
        "set": None,
        "station": None,
        "target": None,
    }


def test_intervals_name_round_set_station_and_target_as_a_coach_says_them() -> None:
    (part,) = sheet_of(harbour(rounds=2))
    assert [
        (interval["kind"], interval["round"], interval["set"], interval["station"], interval["target"])
        for interval in part["intervals"][1:]
    ] == [
        ("work", 1, 1, "kettlebell swing", "14 reps"),
        ("work", 1, 2, "step-up", "10 reps"),
        ("rest", 1, 3, "rest", None),
        ("work", 2, 4, "kettlebell swing", "14 reps"),
        ("work", 2, 5, "step-up", "11 reps"),
        ("rest", 2, 6, "rest", None),
    ]


def test_the_rest_between_sets_belongs_to_no_set_and_no_station() -> None:
    (part,) = sheet_of(Intervals(title="Fast", work_ms=20_000, rest_ms=10_000, sets=2, work=(SWING,)))
    assert [(interval["kind"], interval["set"], interval["station"]) for interval in part["intervals"][1:]] == [
        ("work", 1, "kettlebell swing"),
        ("rest", None, None),
        ("work", 2, "kettlebell swing"),
    ]


def test_with_several_start_groups_each_interval_has_a_lane_for_each() -> None:
    (part,) = sheet_of(harbour(rounds=1), two_groups=True)
    assert [[lane["station"] for lane in interval["lanes"]] for interval in part["intervals"][1:]] == [
        ["kettlebell swing", "step-up"],
        ["step-up", "rest"],
        ["rest", "kettlebell swing"],
    ]
    assert part["intervals"][1]["lanes"][1] == {"group": 2, "station": "step-up", "target": "10 reps"}


def test_waves_make_a_part_longer_by_the_last_start() -> None:
    assert sheet_of(EVERY_KIND[4], two_groups=True)[0]["time_s"] == 600


def test_the_work_of_a_part_against_the_clock_is_named_in_one_line_each_move_apart() -> None:
    assert sheet_of(EVERY_KIND[4])[0]["intervals"][1]["station"] == "kettlebell swing + step-up + kettlebell swing (2)"


@pytest.mark.parametrize(("ms", "s"), [(0, 0), (1_000, 1), (1_500, 1.5), (-10_000, -10), (59_294, 59.294)])
def test_seconds_are_whole_numbers_where_they_are_whole(ms: int, s: float) -> None:
    assert seconds(ms) == s
    assert isinstance(seconds(ms), int) == (ms % 1000 == 0)
