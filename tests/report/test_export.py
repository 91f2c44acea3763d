"""A class for other programs."""

from __future__ import annotations

import csv
import io
import json
from dataclasses import replace
from fractions import Fraction
from typing import Any

import jsonschema
import pytest
from hypothesis import given
from hypothesis import strategies as st

from floorclock.clock.splits import Result
from floorclock.digest.class_digest import ClassDigest
from floorclock.pace.advice import Way
from floorclock.plan.session import ForTime, Rotation
from floorclock.plan.work import Station, Target, Unit
from floorclock.report.export import COLUMNS, review_json, splits_csv
from tests.checks.reading import rows
from tests.pace.sample_class import halfway, summary
from tests.pace.taps import split
from tests.report.outlooks import advice, digested
from tests.report.printing import as_printed, lines_of

NUMBER = {"type": ["number", "null"]}
WHOLE = {"type": ["integer", "null"]}
TEXT = {"type": "string"}


SWINGS = Rotation(title="x", every_ms=60_000, rounds=1, work=(Station("swing"),))


def exactly(**keys: Any) -> dict[str, Any]:
    return {"type": "object", "properties": keys, "required": list(keys), "additionalProperties": False}


def every(item: dict[str, Any]) -> dict[str, Any]:
    return {"type": "array", "items": item}


SPLIT = exactly(
    round={"type": "integer", "minimum": 1},
    station=TEXT,
    move=TEXT,
    split_s=NUMBER,
    rest_s=NUMBER,
    status={"enum": ["done", "untapped", "not finished"]},
    flags=every({"enum": ["not finished", "runs out", "tight", "fading"]}),
)
STATION = exactly(station=TEXT, median_split_s=NUMBER, slope_s_per_round=NUMBER, cv_percent=NUMBER, decrement_percent=NUMBER)
ADVICE = exactly(
    station=TEXT,
    target=NUMBER,
    unit={"enum": ["reps", "m", "cal", "s", None]},
    because=TEXT,
    move=TEXT,
    way={"enum": ["less", "more", "option", "keep"]},
    words=TEXT,
    round={"type": "integer", "minimum": 1},
    step=NUMBER,
    chance={"type": "number", "minimum": 0, "maximum": 1},
)
OPTION_ADVICE = exactly(**ADVICE["properties"], option=TEXT)
RESULT = exactly(time_s=NUMBER, rounds=WHOLE, reps=WHOLE)
CHANCE = {"type": "number", "minimum": 0, "maximum": 1}
FORECAST = exactly(
    station=TEXT,
    move=TEXT,
    round={"type": "integer"},
    split_s=NUMBER,
    low_s=NUMBER,
    high_s=NUMBER,
    chance_under_margin=CHANCE,
    chance_late=CHANCE,
)
DRIFT = exactly(percent={"type": "number"}, low_percent={"type": "number"}, high_percent={"type": "number"})
ATHLETE = exactly(
    name=TEXT,
    splits=every(SPLIT),
    stations=every(STATION),
    forecast=every(FORECAST),
    runs_out_round=WHOLE,
    advice=every({"anyOf": [ADVICE, OPTION_ADVICE]}),
    result={"anyOf": [RESULT, {"type": "null"}]},
    flags=every({"enum": ["not finished", "runs out", "tight", "fading"]}),
    runs_out_station={"type": ["string", "null"]},
    drift={"anyOf": [DRIFT, {"type": "null"}]},
)
PART = exactly(
    kind={"enum": ["open", "rotation", "intervals", "for_time", "amrap", "paced"]}, title=TEXT, athletes=every(ATHLETE)
)
REVIEW = {
    "type": "object",
    "properties": {
        "class": exactly(
            id=TEXT,
            session=TEXT,
            started={"type": ["string", "null"]},
            rest_margin_s={"type": "number"},
            rehearsal={"type": "boolean"},
        ),
        "parts": every(PART),
        "load": every(exactly(name=TEXT, effort=NUMBER, minutes=NUMBER, load=NUMBER)),
    },
    "required": ["class", "parts", "load"],
    "additionalProperties": False,
}
"""The shape that other programs may rely on, as the design page has it."""


def athlete(name: str, part: int = 1, made: ClassDigest | None = None) -> dict[str, Any]:
    people = review_json(made or summary())["parts"][part]["athletes"]
    found: dict[str, Any] = next(one for one in people if one["name"] == name)
    return found


def table(made: ClassDigest) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(splits_csv(made), newline=""), strict=True))


def named(name: str, move: str = "swing") -> ClassDigest:
    parts = (replace(SWINGS, work=(Station(move),)), ForTime(title="x", cap_ms=1, rounds=1, work=()))
    reached = [Result(athlete=name, part=1, time_ms=61_500, rounds=0, reps=0)]
    return digested(*parts, taken=[split(20, part=0, athlete=name, move=move)], reached=reached, people=(name,))


class TestJson:
    def test_the_shape_is_the_one_that_programs_rely_on(self) -> None:
        for made in (summary(), halfway(), halfway(1)):
            jsonschema.validate(json.loads(json.dumps(review_json(made), allow_nan=False)), REVIEW)

    def test_the_shape_holds_for_an_empty_class_too(self) -> None:
        empty = replace(summary(), parts=(), started="")
        jsonschema.validate(json.loads(json.dumps(review_json(empty))), REVIEW)
        assert review_json(empty)["class"]["started"] is None

    def test_the_class_has_its_facts(self) -> None:
        assert review_json(summary())["class"] == {
            "id": "2026-11-24-1900-harbour",
            "session": "Five trips round the harbour",
            "started": "2026-11-24T19:00:05.120+01:00",
            "rest_margin_s": 15,
            "rehearsal": False,
        }

    def test_splits_carry_seconds_status_and_flags(self) -> None:
        sefa = [one for one in athlete("Sefa")["splits"] if one["station"] == "swing"]
        assert [one["split_s"] for one in sefa] == [30, 32, 34, 36.5]
        assert [one["rest_s"] for one in sefa] == [30, 28, 26, 23.5]
        bram = athlete("Bram")["splits"]
        assert bram[-1]["flags"] == ["tight", "fading"]
        odd = [one for one in athlete("Odd")["splits"] if one["split_s"] is None]
        assert [(one["round"], one["station"], one["status"], one["flags"]) for one in odd] == [
            (2, "swing", "not finished", ["not finished"]),
            (3, "step-up", "untapped", []),
        ]

    def test_stations_carry_their_figures(self) -> None:
        swing = athlete("Bram")["stations"][0]
        assert (swing["station"], swing["median_split_s"], swing["slope_s_per_round"]) == ("swing", 42, 4)
        assert swing["decrement_percent"] == pytest.approx(100 * 168 / 144 - 100)

    def test_while_rounds_are_to_come_each_has_a_forecast(self) -> None:
        bram, drift = athlete("Bram", made=halfway(2)), athlete("Odd", made=halfway())["drift"]
        slots = [(one["station"], one["round"]) for one in bram["forecast"]]
        assert slots == [("swing", 3), ("step-up", 3), ("swing", 4), ("step-up", 4)]
        assert all(0 < one["low_s"] < one["split_s"] < one["high_s"] for one in bram["forecast"])
        assert all(0 <= one["chance_late"] < one["chance_under_margin"] <= 1 for one in bram["forecast"])
        assert drift["low_percent"] < drift["percent"] < drift["high_percent"]

    def test_while_rounds_are_to_come_the_round_and_the_advice_are_about_them(self) -> None:
        odd = athlete("Odd", made=halfway())
        assert (odd["runs_out_round"], odd["runs_out_station"], odd["flags"]) == (4, "swing", ["not finished", "runs out"])
        (advice,) = odd["advice"]
        assert (advice["station"], advice["unit"], advice["way"], advice["round"]) == ("swing", "reps", "less", 4)
        assert advice["words"] == f"drop to {advice['target']} reps?"

    def test_when_all_was_run_it_is_the_round_in_which_the_margin_went_and_next_times_targets(self) -> None:
        bram, ilka = athlete("Bram"), athlete("Ilka")
        assert (bram["forecast"], bram["runs_out_round"], bram["runs_out_station"]) == ([], 4, "swing")
        assert (ilka["runs_out_round"], ilka["runs_out_station"], ilka["flags"]) == (None, None, [])
        assert [(one["station"], one["way"], one["round"]) for one in ilka["advice"]] == [
            ("swing", "more", 1),
            ("step-up", "more", 1),
        ]

    def test_an_option_says_which_and_what_is_then_to_be_done(self) -> None:
        target = Target(Fraction(12), Unit.REPS, Fraction(1))
        given: dict[str, Any] = {"amount": Fraction(14), "unit": Unit.REPS, "target": target, "round": 3}
        told = advice(0, Way.OPTION, 12, option="lighter", option_move="deadlift", **given)
        made = halfway(2)
        ilka = replace(made.parts[1].athletes[0], advice=(told,))
        made = replace(made, parts=(replace(made.parts[1], athletes=(ilka,)),))
        jsonschema.validate(json.loads(json.dumps(review_json(made))), REVIEW)
        (found,) = review_json(made)["parts"][0]["athletes"][0]["advice"]
        assert (found["station"], found["option"], found["move"]) == ("swing", "lighter", "deadlift")
        assert (found["target"], found["unit"], found["round"], found["step"]) == (14, "reps", 3, 1)

    def test_load_is_effort_times_minutes_and_null_without_an_effort(self) -> None:
        assert review_json(summary())["load"] == [
            {"name": "Ilka", "effort": 5, "minutes": 50.5, "load": 252.5},
            {"name": "Bram", "effort": None, "minutes": 50.5, "load": None},
        ]

    def test_without_the_work_of_the_plan_nothing_is_made_up(self) -> None:
        made = digested(SWINGS, taken=[split(20, part=0)])
        (one,) = review_json(made)["parts"][0]["athletes"]
        assert (one["forecast"], one["advice"], one["runs_out_round"], one["drift"]) == ([], [], None, None)
        assert review_json(made)["load"] == []

    def test_results_are_in_seconds_and_parts_of_splits_have_none(self) -> None:
        assert athlete("Ilka", part=2)["result"] == {"time_s": 361.05, "rounds": None, "reps": None}
        assert athlete("Bram", part=2)["result"] == {"time_s": None, "rounds": 3, "reps": 7}
        assert athlete("Sefa", part=3)["result"] == {"time_s": None, "rounds": None, "reps": None}
        assert athlete("Ilka")["result"] is None


fields = st.text(st.characters(exclude_characters="\0", exclude_categories=["Cs"]), min_size=1, max_size=12)


class TestCsv:
    def test_every_record_ends_with_crlf_and_has_all_fields(self) -> None:
        made = splits_csv(summary())
        assert made.endswith("\r\n")
        assert "\n" not in made.replace("\r\n", "")
        assert made.split("\r\n")[0] == ",".join(COLUMNS)
        assert {len(record) for record in csv.reader(io.StringIO(made, newline=""), strict=True)} == {len(COLUMNS)}

    def test_every_interval_and_every_result_has_a_row(self) -> None:
        """What was not tapped has no split, several flags stand in one field, results have columns of their own."""
        assert lines_of(splits_csv(summary())) == as_printed("splits")

    @pytest.mark.parametrize(
        "rule", [row for row in rows("csv_rules.csv") if row["rule"] in ("6", "7", "inj")], ids=lambda row: row["rule"]
    )
    def test_the_published_examples_come_out_as_published(self, rule: dict[str, str]) -> None:
        line = splits_csv(named(rule["example_in"])).split("\r\n")[1]
        assert line == f"1,1,swing,{rule['example_out']},40,20,done,,,,,swing"

    @pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r", "\0"])
    def test_a_text_that_begins_like_a_formula_is_made_a_text(self, start: str) -> None:
        for made in (named(f"{start}1+2"), named("Ilka", move=f"{start}cmd")):
            line = splits_csv(made).split("\r\n", 1)[1]
            assert f"\"'{start}" in line

    def test_numbers_below_zero_stay_numbers(self) -> None:
        (note,) = [row for row in rows("csv_rules.csv") if row["rule"] == "inj-note"]
        made = digested(SWINGS, taken=[split(-3, part=0)])
        assert table(made)[0]["rest"] == note["example_out"] == "-3"

    @given(fields, fields.map(lambda text: f"move {text}"))
    def test_any_name_and_move_come_back_through_pythons_reader(self, name: str, move: str) -> None:
        made = splits_csv(named(name, move=move))
        found = list(csv.reader(io.StringIO(made, newline=""), strict=True))[1]
        assert found[2] == move
        assert found[3].removeprefix("'") == name.removeprefix("'")
        assert not found[3].startswith(("=", "+", "-", "@", "\t", "\r"))
