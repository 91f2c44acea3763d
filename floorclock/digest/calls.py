"""Who to talk to, and why in words.

Invariant: one call for each flagged athlete and part. What happened comes before what is only forecast, and a number never
stands beside the reason of another station.
"""

from __future__ import annotations

from collections.abc import Container, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from floorclock.clock.splits import Status
from floorclock.pace.advice import Way
from floorclock.pace.flags import URGENCY, Flag, most_urgent
from floorclock.pace.rests import in_a_row

if TYPE_CHECKING:
    from floorclock.digest.summary import AthleteSummary, FlaggedSplit, PartSummary

RESTS_SHOWN = 8


@dataclass(frozen=True, slots=True)
class Call:
    """Somebody to talk to, why in words, and what to change, where something helps: `8 reps would hold at step-up`."""

    athlete: str
    part: int
    flag: Flag
    because: str
    advice: str = ""


def calls(parts: Sequence[PartSummary]) -> tuple[Call, ...]:
    """One for each flagged athlete and part, by urgency; within it those with the least rest first."""
    found = []
    for part in parts:
        for athlete in part.athletes:
            flag = most_urgent(athlete.flags)
            if flag is not None:
                rest_ms = athlete.least_rest_ms if athlete.least_rest_ms is not None else 0
                found.append((URGENCY[flag], rest_ms, _call(athlete, flag, part)))
    return tuple(call for _, _, call in sorted(found, key=lambda item: item[:2]))


def _call(athlete: AthleteSummary, flag: Flag, part: PartSummary) -> Call:
    if not athlete.splits:
        return Call(athlete.name, part.index, flag, f"{part.title} not finished")
    helps = {one.station: one for one in athlete.advice if one.way in (Way.LESS, Way.OPTION)}
    places, because = _reason(athlete, flag, part, helps)
    station = next((at for at in places if at in helps), next(iter(helps), None))
    if station is None:
        return Call(athlete.name, part.index, flag, because)
    advice = helps[station]
    name = advice.own_move or part.station_name(station)
    if station in places:
        words = f"{advice.words} at {name}" if len(athlete.stations) > 1 else advice.words
    else:
        # The number is of another station than the reason, so it comes with a reason of its own.
        words = f"{name}, {advice.because.replace(';', ',')}: {advice.words}"
    return Call(athlete.name, part.index, flag, because, words)


def _reason(athlete: AthleteSummary, flag: Flag, part: PartSummary, helps: Container[int]) -> tuple[list[int], str]:
    """The stations that the reason is about, and the reason; of several stations one that something helps at comes first."""
    if flag is Flag.FADING:
        worst = max(athlete.stations, key=lambda one: (one.station in helps and (one.slope_ms or 0) > 0, one.slope_ms or 0.0))
        return [
            worst.station
        ], f"{(worst.slope_ms or 0) / 1000:.1f} s slower each round at {worst.name}: {_rests(athlete, worst.name)}"
    if flag is Flag.RUNS_OUT and athlete.runs_out is not None:
        slot = athlete.runs_out.slot
        name = part.station_name(slot.station)
        return [slot.station], f"{_rests(athlete, name)} at {name}; under {slot.margin_ms / 1000:g} by round {slot.round}"
    raised = [one for one in athlete.splits if flag in one.flags]
    if flag is Flag.NOT_FINISHED:
        places = ", ".join(f"round {one.split.round} at {one.station}" for one in raised)
        return [one.split.station for one in raised], f"{places} not finished"
    return _tight_reason(athlete, raised, helps)


def _tight_reason(athlete: AthleteSummary, raised: Sequence[FlaggedSplit], helps: Container[int]) -> tuple[list[int], str]:
    by_station: dict[str, list[FlaggedSplit]] = {}
    for one in raised:
        by_station.setdefault(one.station, []).append(one)
    worst = max(by_station, key=lambda name: (by_station[name][0].split.station in helps, len(by_station[name])))
    tapped = sum(one.station == worst and one.split.split_ms is not None for one in athlete.splits)
    margin = f"{raised[0].split.margin_ms / 1000:g} s"
    words = f"under the margin of {margin} in {len(by_station[worst])} of {tapped} rounds at {worst}: {_rests(athlete, worst)}"
    others = [station for station in by_station if station != worst]
    return [by_station[worst][0].split.station], f"{words}; also at {', '.join(others)}" if others else words


def _rests(athlete: AthleteSummary, station: str) -> str:
    """`rest 24, 21 | 28, ?, 12 s`: whole seconds, rounded down, `?` where nobody tapped, a bar where the target changed."""
    here = [one for one in athlete.splits if one.station == station and one.split.status is not Status.NOT_FINISHED]
    shown = here[-RESTS_SHOWN:]
    rests = ["?" if one.split.rest_ms is None else str(one.split.rest_ms // 1000) for one in shown]
    return f"rest {in_a_row(rests, [one.changed for one in shown])} s"
