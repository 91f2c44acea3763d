"""The class at a glance as values."""

from __future__ import annotations

from dataclasses import replace

from floorclock.digest.glance_facts import part_facts, standing_out

from floorclock.digest.figures import StationOverview
from floorclock.pace.flags import Flag
from tests.pace.sample_class import summary
from tests.tui.review.sample_reviews import big_class

PART = summary().parts[1]


def station(number: int, tight: int, tapped: int) -> StationOverview:
    return StationOverview(station=number, name=f"station {number}", tapped=tapped, tight=tight, untapped=0)


def test_everybody_of_a_part_is_named() -> None:
    named = {name for one in part_facts(PART).people for name in one.names}
    assert named == {"Ilka", "Bram", "Sefa", "Odd", "Runa"}


def test_who_nobody_tapped_is_unknown_and_nothing_else() -> None:
    words = [one.word for one in part_facts(PART).people if "Runa" in one.names]
    assert words == ["untapped"]


def test_a_station_with_far_more_than_its_share_stands_out() -> None:
    worst = station(1, 8, 20)
    part = replace(PART, stations=(station(0, 1, 20), worst, station(2, 1, 20)))
    assert standing_out(part) == (worst,)
    assert part_facts(part).verdict == "10 of 60 tapped intervals were under the margin, 8 of them at station 1"


def test_stations_with_as_many_are_named_together() -> None:
    part = replace(PART, stations=(station(0, 0, 36), station(1, 3, 36), station(2, 3, 36)))
    assert [one.station for one in standing_out(part)] == [1, 2]
    facts = part_facts(part)
    assert facts.verdict == "6 of 108 tapped intervals were under the margin, 3 of them at station 1 and 3 at station 2"
    assert [one.most for one in facts.stations] == [False, True, True]


def test_a_forecast_is_said_to_be_one_and_of_a_class_that_is_over_only_who_did_go_under() -> None:
    part = big_class(9, 6, run_of=3).parts[0]
    ahead = [one.name for one in part.athletes if one.runs_out is not None]
    assert ahead
    named = {one.word: one.names for one in part_facts(part).people}
    assert list(named["forecast to run out"]) == ahead
    under = {one.name for one in part.athletes if any(Flag.TIGHT in split.flags for split in one.splits)}
    assert set(named.get("ran out", ())) <= under
    whole = big_class(12, 8).parts[0]
    over = {one.word: one.names for one in part_facts(whole).people}
    assert "forecast to run out" not in over
    under = {one.name for one in whole.athletes if any(Flag.TIGHT in split.flags for split in one.splits)}
    assert set(over.get("ran out", ())) <= under | set(over["not finished"])


def test_nothing_is_blamed_where_stations_are_alike_or_little_was_tight() -> None:
    assert standing_out(replace(PART, stations=(station(0, 4, 20), station(1, 4, 20)))) == ()
    assert standing_out(replace(PART, stations=(station(0, 0, 20), station(1, 2, 20)))) == ()
    alike = part_facts(replace(PART, stations=(station(0, 4, 20), station(1, 4, 20))))
    assert "no station stands out" in alike.verdict


def test_a_drift_is_the_median_of_the_athletes_there() -> None:
    facts = part_facts(PART)
    slopes = sorted(
        one.slope_ms for athlete in PART.athletes for one in athlete.stations if one.station == 0 and one.slope_ms is not None
    )
    assert len(slopes) == 4
    assert facts.stations[0].drift_ms == (slopes[1] + slopes[2]) / 2
