"""Who to talk to, and why in words.

Invariant: one call for each flagged athlete and part. What happened comes before what was only forecast, once there is
nothing more to come.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from floorclock.clock.splits import Status
from floorclock.pace.advice import Way
from floorclock.pace.flags import Flag, most_urgent

if TYPE_CHECKING:
    from floorclock.pace.summary import AthleteSummary, FlaggedSplit, PartSummary

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
            flag = _flag_of(athlete)
            if flag is not None:
                rest_ms = athlete.least_rest_ms if athlete.least_rest_ms is not None else 0
                call = Call(athlete.name, part.index, flag, _because(athlete, flag, part), _advice(athlete, part))
                found.append((_place(flag, athlete), rest_ms, call))
    return tuple(call for _, _, call in sorted(found, key=lambda item: item[:2]))


def _flag_of(athlete: AthleteSummary) -> Flag | None:
    """The flag to talk about: a `runs out` that stands no more only where nothing else was raised."""
    happened = [flag for flag in athlete.flags if flag is not Flag.RUNS_OUT or athlete.runs_out is not None]
    return most_urgent(happened) or most_urgent(athlete.flags)


def _place(flag: Flag, athlete: AthleteSummary) -> int:
    """A warning that never came true stands last."""
    return len(Flag) if flag is Flag.RUNS_OUT and athlete.runs_out is None else list(Flag).index(flag)


def _because(athlete: AthleteSummary, flag: Flag, part: PartSummary) -> str:
    if not athlete.splits:
        return f"{part.title} not finished"
    if flag is Flag.FADING:
        return _fading_words(athlete)
    if flag is Flag.RUNS_OUT:
        return _running_out_words(athlete, part)
    raised = [one for one in athlete.splits if flag in one.flags]
    if flag is Flag.NOT_FINISHED:
        places = ", ".join(f"round {one.split.round} at {one.station}" for one in raised)
        return f"{places} not finished"
    by_station: dict[str, list[FlaggedSplit]] = {}
    for one in raised:
        by_station.setdefault(one.station, []).append(one)
    worst = max(by_station, key=lambda station: len(by_station[station]))
    tapped = sum(one.station == worst and one.split.split_ms is not None for one in athlete.splits)
    margin = f"{raised[0].split.margin_ms / 1000:g} s"
    words = f"under the margin of {margin} in {len(by_station[worst])} of {tapped} rounds at {worst}: {_rests(athlete, worst)}"
    others = [station for station in by_station if station != worst]
    return f"{words}; also at {', '.join(others)}" if others else words


def _running_out_words(athlete: AthleteSummary, part: PartSummary) -> str:
    if athlete.runs_out is not None:
        slot = athlete.runs_out.slot
        name = part.station_name(slot.station)
        return f"{_rests(athlete, name)} at {name}; under {slot.margin_ms / 1000:g} by round {slot.round}"
    first = next(one for one in athlete.splits if Flag.RUNS_OUT in one.flags)
    return f"was running out from round {first.split.round} on at {first.station}: {_rests(athlete, first.station)}"


def _fading_words(athlete: AthleteSummary) -> str:
    worst = max(athlete.stations, key=lambda one: one.slope_ms or 0.0)
    return f"{(worst.slope_ms or 0) / 1000:.1f} s slower each round at {worst.name}: {_rests(athlete, worst.name)}"


def _rests(athlete: AthleteSummary, station: str) -> str:
    """`rest 24, 21, ?, 12 s`: whole seconds, rounded down, `?` where nobody tapped."""
    here = [one.split for one in athlete.splits if one.station == station and one.split.status is not Status.NOT_FINISHED]
    rests = ["?" if one.rest_ms is None else str(one.rest_ms // 1000) for one in here[-RESTS_SHOWN:]]
    return f"rest {', '.join(rests)} s"


def _advice(athlete: AthleteSummary, part: PartSummary) -> str:
    """The most urgent change that helps, with its station where there are several."""
    helps = next((one for one in athlete.advice if one.way in (Way.LESS, Way.OPTION)), None)
    if helps is None:
        return ""
    return f"{helps.words} at {part.station_name(helps.station)}" if len(athlete.stations) > 1 else helps.words
