"""Which numbers of a part the floor asks for: those of each set, of the whole part, and how far everybody came.

Invariant: a set is asked for only when its time is over, the rest only when the part is; but who is out is asked for the reps of
their last round at once. Who was left out on purpose (`-`) is not missing.
"""

from __future__ import annotations

from dataclasses import dataclass

from floorclock.clock.run import PartRun
from floorclock.clock.state import ClassState
from floorclock.plan.session import Amrap, ForTime, Paced, Rotation
from floorclock.plan.typed_result import ResultKind

WHOLE_PART = -1
SHORTEST_ROUND_MS = 10_000
"""Nobody does whole rounds faster than this. Common practice, no source."""
RESULT = -2
"""How far they came: a time, rounds, or the reps of the round that put them out."""


@dataclass(frozen=True, slots=True)
class ScoreAsked:
    """The numbers of one set (or, with `WHOLE_PART` or `RESULT`, of the part), and who has none yet."""

    run: PartRun
    interval: int
    missing: tuple[str, ...]

    @property
    def kind(self) -> ResultKind:
        """How it is typed."""
        return (result_kind(self.run) or "score") if self.interval == RESULT else "score"

    def words(self) -> str:
        """`reps of set 3`, `reps of Twenty on, ten off`, `Results of The long one`."""
        if self.interval == RESULT:
            what = "Reps of the last round" if self.kind == "reps" else "Results"
            return f"{what} of {self.run.part.title}"
        unit = self.run.part.score.unit if self.run.part.score is not None else ""
        if self.interval == WHOLE_PART:
            return f"{unit} of {self.run.part.title}"
        return f"{unit} of set {self.run.timeline.intervals[self.interval].window + 1}"


def result_kind(run: PartRun | None) -> ResultKind | None:
    """The kind of result a part has beside its scores and splits; None for none."""
    if run is None:
        return None
    if isinstance(run.part, Rotation) and run.part.until_out:
        return "reps"
    kinds: dict[str, ResultKind] = {"for_time": "for_time", "amrap": "amrap", "paced": "paced"}
    return kinds.get(run.part.kind)


def score_asked(state: ClassState) -> ScoreAsked | None:
    """The first numbers of the latest part that asks for some where somebody has none; the last ones where nobody lacks any."""
    run = next((run for run in reversed(state.runs) if run.part.score is not None or result_kind(run) == "reps"), None)
    asked = numbers_of(state, run) if run is not None else ()
    return next((found for found in asked if found.missing), asked[-1] if asked else None)


def numbers_of(state: ClassState, run: PartRun) -> tuple[ScoreAsked, ...]:
    """All that can be asked of a part now, in its order."""
    position, score = run.position_ms(state.now_ms), run.part.score
    over: list[int] = []
    if score is not None and score.each == "part":
        over += [WHOLE_PART] if run.ended_ms is not None else []
    elif score is not None:
        intervals = enumerate(run.timeline.intervals)
        over += [index for index, interval in intervals if interval.window >= 0 and interval.end_ms <= position]
    if result_kind(run) is not None and (run.ended_ms is not None or any(_outs(state, run))):
        over.append(RESULT)
    return tuple(ScoreAsked(run, interval, _missing(state, run, interval)) for interval in over)


def _outs(state: ClassState, run: PartRun) -> tuple[str, ...]:
    return tuple(name for name in state.rows(run) if state.out_after(name, run.index) is not None)


def _missing(state: ClassState, run: PartRun, interval: int) -> tuple[str, ...]:
    here = {run.recorded_as(athlete.name) for athlete in state.present}
    if interval == RESULT:
        names = _outs(state, run) if result_kind(run) == "reps" else state.rows(run)
        known = {*run.entered, *run.not_finished, *(run.finishes if isinstance(run.part, ForTime | Paced) else ())}
        return tuple(name for name in names if name in here and name not in known)
    return tuple(
        name
        for name in state.rows(run)
        if name in here
        and (name, interval) not in run.scores
        and (name, interval) not in run.unscored
        and (interval == WHOLE_PART or (state.expected(name, run.index, interval) and _works(state, run, name, interval)))
    )


def planned_load(state: ClassState, asked: ScoreAsked, name: str) -> str:
    """The number that was on the bar in a set if all went by the plan, as it is typed; empty where that is not known."""
    score = asked.run.part.score
    work = state.assignment(name, asked.run, asked.interval) if score is not None and asked.interval >= 0 else None
    if score is None or score.unit != "load" or work is None or work.load is None or work.load.in_kg is None:
        return ""
    return f"{float(work.load.amount):g}"


def likely_rounds(run: PartRun) -> int | None:
    """The most rounds that anybody is likely to come to in a part; None where nobody counts them."""
    if isinstance(run.part, ForTime):
        return run.part.rounds
    return run.part.time_ms // SHORTEST_ROUND_MS if isinstance(run.part, Amrap) else None


def _works(state: ClassState, run: PartRun, name: str, interval: int) -> bool:
    """Nobody is asked for the number of a rest. A part for time or rounds has no station to rest at."""
    at = state.station_of(name, run, interval)
    return at is None or not run.part.stations[at].is_rest
