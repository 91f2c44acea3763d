"""Figures in words."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from floorclock.digest.words import chance_words, drift_words, forecast_words, hardest, load_words, target_words
from floorclock.pace.advice import Way
from floorclock.pace.load import SessionLoad
from floorclock.plan.work import Target, Unit
from tests.pace.sample_class import summary
from tests.report.outlooks import advice, class_of, to_come


@pytest.mark.parametrize(
    ("drift", "words"),
    [
        (None, "too little was tapped to tell"),
        (0.0, "the same pace from round to round"),
        (-0.0049, "the same pace from round to round"),
        (0.032, "3.2 % slower each round"),
        (-0.02, "2.0 % faster each round"),
    ],
)
def test_drift(drift: float | None, words: str) -> None:
    assert drift_words(drift) == words


def test_what_to_give() -> None:
    ladder = Target(Fraction(6), Unit.REPS, Fraction(2))
    metres = Target(Fraction(200), Unit.METRES)
    assert target_words(advice(0, Way.LESS, 8)) == "8"
    assert target_words(advice(0, Way.MORE, 8, target=metres)) == "200 m"
    assert target_words(advice(0, Way.LESS, 8, target=ladder, round=4)) == "12 in round 4, +2 each round"
    assert target_words(advice(0, Way.OPTION, 8, option="lighter")) == "lighter 8"
    assert target_words(advice(0, Way.OPTION, 8, option="lighter", target=None)) == "lighter"
    given = advice(0, Way.OPTION, 8, option="lighter", target=None, amount=Fraction(14), unit=Unit.REPS)
    assert target_words(given) == "lighter 14"


def test_no_chance_is_surer_than_anybody_can_be() -> None:
    said = [chance_words(advice(0, Way.LESS, 8, chance=chance)) for chance in (1.0, 0.995, 0.92, 0.0)]
    assert said == ["over 99%", "over 99%", "92%", "under 1%"]
    assert chance_words(advice(0, Way.OPTION, 8, option="lighter", chance=0.0)) == "not known"


def test_a_forecast_never_stands_without_its_span() -> None:
    assert forecast_words(to_come(0, 5, 50)) == "50 s (45 to 55)"


def test_load_is_effort_times_minutes_and_unknown_without_an_effort() -> None:
    # Foster 1998: a rating of 6 for 42 minutes is 252; the product is the definition (tests/checks has the published weeks).
    assert load_words(SessionLoad(name="x", effort=6, minutes=42)) == "effort 6 x 42 minutes = load 252"
    assert load_words(SessionLoad(name="x", effort=0, minutes=42)) == "effort 0 x 42 minutes = load 0"
    assert load_words(SessionLoad(name="x", effort=None, minutes=42)) == "effort not rated, 42 minutes"


def test_the_hardest_station_is_named_with_its_count() -> None:
    harbour = summary().parts[1]
    swing, step_up = harbour.stations
    worse = replace(harbour, stations=(replace(swing, tight=3), step_up))
    assert hardest(worse) == "swing: 3 of 15 tapped rounds there were under the margin, and 1 elsewhere"
    assert hardest(class_of(["Ilka"], ["swing"], 1).parts[0]) == ""


def test_of_two_stations_as_hard_none_is_named_alone() -> None:
    assert hardest(summary().parts[1]) == "swing and step-up: 1 tapped round each under the margin"
