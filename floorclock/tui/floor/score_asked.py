"""Which numbers of a part with a score the floor asks for.

Invariant: a set is asked for only when its time is over; a part that is scored once, only when it is over.
"""

from __future__ import annotations

from dataclasses import dataclass

from floorclock.clock.run import PartRun
from floorclock.clock.state import ClassState

WHOLE_PART = -1


@dataclass(frozen=True, slots=True)
class ScoreAsked:
    """The numbers of one set (or, with `WHOLE_PART`, of the part), and who has none yet."""

    run: PartRun
    interval: int
    missing: tuple[str, ...]

    def words(self) -> str:
        """`reps of set 3`, `reps of Twenty on, ten off`."""
        unit = self.run.part.score.unit if self.run.part.score is not None else ""
        if self.interval == WHOLE_PART:
            return f"{unit} of {self.run.part.title}"
        return f"{unit} of set {self.run.timeline.intervals[self.interval].window + 1}"


def score_asked(state: ClassState) -> ScoreAsked | None:
    """The first set of the latest part with a score where somebody has no number; the last set where nobody lacks one."""
    run = next((run for run in reversed(state.runs) if run.part.score is not None), None)
    if run is None or run.part.score is None:
        return None
    position = run.position_ms(state.now_ms)
    if run.part.score.each == "part":
        over = [WHOLE_PART] if run.ended_ms is not None else []
    else:
        intervals = enumerate(run.timeline.intervals)
        over = [index for index, interval in intervals if interval.window >= 0 and interval.end_ms <= position]
    asked = [ScoreAsked(run, interval, _missing(state, run, interval)) for interval in over]
    return next((found for found in asked if found.missing), asked[-1] if asked else None)


def _missing(state: ClassState, run: PartRun, interval: int) -> tuple[str, ...]:
    here = {run.recorded_as(athlete.name) for athlete in state.present}
    return tuple(
        name
        for name in state.rows(run)
        if name in here
        and (name, interval) not in run.scores
        and (interval == WHOLE_PART or (state.expected(name, run.index, interval) and _works(state, run, name, interval)))
    )


def _works(state: ClassState, run: PartRun, name: str, interval: int) -> bool:
    """Nobody is asked for the number of a rest. A part for time or rounds has no station to rest at."""
    at = state.station_of(name, run, interval)
    return at is None or not run.part.stations[at].is_rest
