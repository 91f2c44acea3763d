"""The class at a glance as values: who held, who faded, who ran out, and which station did it.

Invariant: everybody in a part with splits is named in it, and who nobody tapped is named as unknown, nowhere else.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from floorclock.pace.flags import Flag
from floorclock.pace.stats import median
from floorclock.pace.summary import PartSummary, StationOverview

FEWEST_TIGHT: Final = 3
"""Fewer tight intervals than that are no sign of a station, they are somebody's bad round."""
STANDS_OUT: Final = 1.5
"""A station is named when it has this many times its share of the tight intervals, or more."""

SAID: Final[dict[Flag, str]] = {
    Flag.NOT_FINISHED: "not finished",
    Flag.RUNS_OUT: "ran out",
    Flag.TIGHT: "tight",
    Flag.FADING: "faded",
}
"""The flags as they are said of a class that is over."""


@dataclass(frozen=True, slots=True)
class Named:
    """Some people of a part and what they have in common: a flag, or (without one) `word`."""

    word: str
    flag: Flag | None
    names: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class StationFacts:
    """One station: the class's medians with the median drift of its athletes; `did_it` marks the one that cost the rest."""

    overview: StationOverview
    drift_ms: float | None
    did_it: bool


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
    flagged = [
        Named(SAID[flag], flag, names)
        for flag in (Flag.RUNS_OUT, Flag.TIGHT, Flag.FADING, Flag.NOT_FINISHED)
        if (names := tuple(one.name for one in part.athletes if flag in one.flags))
    ]
    people = [Named("held", None, held)] if held else []
    people += flagged
    people += [Named("untapped", None, unknown)] if unknown else []
    guilty = culprit(part)
    stations = tuple(StationFacts(one, station_drift_ms(part, one.station), one is guilty) for one in part.stations)
    return PartFacts(part, tuple(people), stations, verdict(part, guilty))


def culprit(part: PartSummary) -> StationOverview | None:
    """The station with far more than its share of the tight intervals; None where none stands out."""
    tight, tapped = sum(one.tight for one in part.stations), sum(one.tapped for one in part.stations)
    if tight < FEWEST_TIGHT:
        return None
    worst = max(part.stations, key=lambda one: one.tight / max(1, one.tapped))
    share = worst.tight * tapped / max(1, tight * worst.tapped)
    if len(part.stations) > 1 and share < min(STANDS_OUT, len(part.stations) * 0.75):
        return None
    return worst


def station_drift_ms(part: PartSummary, station: int) -> float | None:
    """How much slower each round was at a station: the median of the athletes' slopes there."""
    slopes = [
        one.slope_ms
        for athlete in part.athletes
        for one in athlete.stations
        if one.station == station and one.slope_ms is not None
    ]
    return median(slopes) if slopes else None


def verdict(part: PartSummary, guilty: StationOverview | None) -> str:
    """Which station did it, in a sentence."""
    tight, tapped = sum(one.tight for one in part.stations), sum(one.tapped for one in part.stations)
    if not tapped:
        return "nobody was tapped: nothing is known"
    if not tight:
        return f"the margin was kept in all {tapped} tapped intervals" if tapped > 1 else "the margin was kept"
    under = f"{tight} of {tapped} tapped intervals were under the margin"
    if guilty is None:
        return under + ("; no station stands out" if len(part.stations) > 1 else "")
    if len(part.stations) == 1:
        return under
    return f"{guilty.name} did it: {guilty.tight} of the {tight} tight intervals"
