"""The class at a glance as values."""

from __future__ import annotations

from dataclasses import replace

from floorclock.pace.summary import StationOverview
from floorclock.review.glance_facts import culprit, part_facts
from tests.pace.sample_class import summary

PART = summary().parts[1]


def station(number: int, tight: int, tapped: int) -> StationOverview:
    return StationOverview(station=number, name=f"station {number}", tapped=tapped, tight=tight, untapped=0)


def test_everybody_of_a_part_is_named() -> None:
    named = {name for one in part_facts(PART).people for name in one.names}
    assert named == {"Ilka", "Bram", "Sefa", "Odd", "Runa"}


def test_who_nobody_tapped_is_unknown_and_nothing_else() -> None:
    words = [one.word for one in part_facts(PART).people if "Runa" in one.names]
    assert words == ["untapped"]


def test_a_station_with_far_more_than_its_share_did_it() -> None:
    worst = station(1, 8, 20)
    assert culprit(replace(PART, stations=(station(0, 1, 20), worst, station(2, 1, 20)))) is worst


def test_nothing_is_blamed_where_stations_are_alike_or_little_was_tight() -> None:
    assert culprit(replace(PART, stations=(station(0, 4, 20), station(1, 4, 20)))) is None
    assert culprit(replace(PART, stations=(station(0, 0, 20), station(1, 2, 20)))) is None
    alike = part_facts(replace(PART, stations=(station(0, 4, 20), station(1, 4, 20))))
    assert "no station stands out" in alike.verdict


def test_a_drift_is_the_median_of_the_athletes_there() -> None:
    facts = part_facts(PART)
    slopes = sorted(
        one.slope_ms for athlete in PART.athletes for one in athlete.stations if one.station == 0 and one.slope_ms is not None
    )
    assert len(slopes) == 4
    assert facts.stations[0].drift_ms == (slopes[1] + slopes[2]) / 2
