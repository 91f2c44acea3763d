"""What somebody does at a station, by the move that they do there.

Invariant: who does an option is never shown the name of a move that they do not do.
"""

from __future__ import annotations

from floorclock.pace.summary import AthleteSummary, PartSummary


def work_done(athlete: AthleteSummary, part: PartSummary, station: int) -> str:
    """The name of the station, or the athlete's own move there; where that changed, all of them: `swing / deadlift`."""
    moves = [one.split.move for one in athlete.splits if one.split.station == station]
    moves += [one.slot.move for one in athlete.forecast if one.slot.station == station]
    return " / ".join(dict.fromkeys(part.work_name(station, move) for move in moves)) or part.station_name(station)
