"""What somebody did: the move that they do at a station, and their flags as things stand.

Invariant: who does an option is never shown the name of a move that they do not do, and what is over is no forecast.
"""

from __future__ import annotations

from floorclock.digest.summary import AthleteSummary, PartSummary
from floorclock.pace.flags import SYMBOL, Flag


def work_done(athlete: AthleteSummary, part: PartSummary, station: int) -> str:
    """The name of the station, or the athlete's own move there; where that changed, all of them: `swing / deadlift`."""
    moves = [one.split.move for one in athlete.splits if one.split.station == station]
    moves += [one.slot.move for one in athlete.forecast if one.slot.station == station]
    return " / ".join(dict.fromkeys(part.work_name(station, move) for move in moves)) or part.station_name(station)


def flags_said(athlete: AthleteSummary) -> str:
    """All flags with their signs, `x ran out` where nothing is to come any more; `untapped` where nothing is known."""
    if not athlete.flags:
        return "" if athlete.tapped else "untapped"
    over = not athlete.forecast
    return ", ".join(f"{SYMBOL[flag]} {'ran out' if over and flag is Flag.RUNS_OUT else flag}" for flag in athlete.flags)
