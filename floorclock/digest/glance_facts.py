"""The class at a glance as values: who held, who was flagged, and at which station the rest was short.

Invariant: everybody in a part with splits is named in it, and who nobody tapped is named as unknown, nowhere else. A forecast is
said to be one, and of a class that is over only what happened is said.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from floorclock.digest.summary import PartSummary, StationOverview
from floorclock.pace.flags import Flag
from floorclock.pace.stats import median

FEWEST_TIGHT: Final = 3
"""Fewer tight intervals than that are no sign of a station, they are somebody's bad round."""
STANDS_OUT: Final = 1.5
"""A station is named when it has this many times its share of the tight intervals, or more."""

FORECAST: Final = "forecast to run out"
RAN_OUT: Final = "ran out"


@dataclass(frozen=True, slots=True)
class Named:
    """Some people of a part and what they have in common: a flag, or (without one) `word`."""

    word: str
    flag: Flag | None
    names: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class StationFacts:
    """One station: the class's medians with the median drift of its athletes; `most` where it stands out as short of rest."""

    overview: StationOverview
    drift_ms: float | None
    most: bool


@dataclass(frozen=True, slots=True)
class PartFacts:
    """One part with splits."""

    part: PartSummary
    people: tuple[Named, ...]
    stations: tuple[StationFacts, ...]
    verdict: str


def part_facts(part: PartSummary) -> PartFacts:
    """What is to be said of a part with splits."""
    held = tuple(one.name for one in part.athletes if one.held)
    unknown = tuple(one.name for one in part.athletes if not one.tapped and not one.flags)
    people = [Named("held", None, held)] if held else []
    people += _flagged(part)
    people += [Named("untapped", None, unknown)] if unknown else []
    most = standing_out(part)
    stations = tuple(StationFacts(one, station_drift_ms(part, one.station), one in most) for one in part.stations)
    return PartFacts(part, tuple(people), stations, verdict(part, most))


def _flagged(part: PartSummary) -> list[Named]:
    """Who had which flag; a margin that is only forecast to go stands apart from one that went."""
    ahead = tuple(one.name for one in part.athletes if Flag.RUNS_OUT in one.flags and one.runs_out is not None)
    went = tuple(one.name for one in part.athletes if Flag.RUNS_OUT in one.flags and one.runs_out is None)
    found = [Named(FORECAST, Flag.RUNS_OUT, ahead), Named(RAN_OUT, Flag.RUNS_OUT, went)]
    for flag in (Flag.TIGHT, Flag.FADING, Flag.NOT_FINISHED):
        found.append(Named(str(flag), flag, tuple(one.name for one in part.athletes if flag in one.flags)))
    return [named for named in found if named.names]


def standing_out(part: PartSummary) -> tuple[StationOverview, ...]:
    """The station with far more than its share of the tight intervals, or those that have as many; often none."""
    tight, tapped = sum(one.tight for one in part.stations), sum(one.tapped for one in part.stations)
    if tight < FEWEST_TIGHT:
        return ()
    worst = max(part.stations, key=lambda one: (one.tight / max(1, one.tapped), one.tight))
    share = worst.tight * tapped / max(1, tight * worst.tapped)
    if len(part.stations) > 1 and share < min(STANDS_OUT, len(part.stations) * 0.75):
        return ()
    return tuple(one for one in part.stations if one is worst or one.tight >= worst.tight)


def station_drift_ms(part: PartSummary, station: int) -> float | None:
    """How much slower each round was at a station: the median of the athletes' slopes there."""
    slopes = [
        one.slope_ms
        for athlete in part.athletes
        for one in athlete.stations
        if one.station == station and one.slope_ms is not None
    ]
    return median(slopes) if slopes else None


def verdict(part: PartSummary, most: tuple[StationOverview, ...]) -> str:
    """How often the rest was short, and where that was most, in a sentence."""
    tight, tapped = sum(one.tight for one in part.stations), sum(one.tapped for one in part.stations)
    if not tapped:
        return "nobody was tapped: nothing is known"
    if not tight:
        return f"the margin was kept in all {tapped} tapped intervals" if tapped > 1 else "the margin was kept"
    under = f"{tight} of {tapped} tapped intervals were under the margin"
    if len(part.stations) == 1:
        return under
    if not most or len(most) == len(part.stations):
        return f"{under}; no station stands out"
    places = [f"{one.tight} of them at {one.name}" if not at else f"{one.tight} at {one.name}" for at, one in enumerate(most)]
    return f"{under}, {', '.join(places[:-1])}{' and ' if len(places) > 1 else ''}{places[-1]}"
