"""The board: one row for each athlete, and who needs the coach.

Invariant: what is kept of an athlete was made from the state as it is; events and boundaries have it made anew.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from floorclock.clock.run import PartRun
from floorclock.clock.splits import Result, Split, Status
from floorclock.clock.state import ClassState
from floorclock.clock.tally import athlete_result, athlete_splits
from floorclock.floor.moment import Moment, Phase
from floorclock.floor.view import RestBar, RowView
from floorclock.floor.words import rest_words, split_words
from floorclock.pace.flags import Flag, Standing, standing
from floorclock.plan.session import Amrap, ForTime, Intervals, Rotation

RowStatus = Literal["work", "done", "rest", "idle", "home"]
PAST_SHOWN = 24
SEVERITY = (Flag.NOT_FINISHED, Flag.RUNS_OUT, Flag.TIGHT, Flag.FADING)
MOST_CALLS = 3


@dataclass(frozen=True, slots=True)
class _Known:
    """What is known of one athlete in the part on the board."""

    splits: tuple[Split, ...]
    stands: Standing
    result: Result | None
    row: RowView


class BoardRows:
    """The rows of one class. A tap makes the row of who tapped anew and leaves everybody else's as it was.

    Whoever folds events says whom they concern: `forget`.
    """

    def __init__(self, state: ClassState) -> None:
        self._state = state
        self._run: PartRun | None = None
        self._place: tuple[object, ...] = ()
        self._known: dict[str, _Known] = {}

    def forget(self, name: str | None) -> None:
        """Something happened to one athlete, or (None) to the class."""
        if name is None:
            self._known.clear()
        else:
            self._known.pop(name, None)

    def make(self, here: Moment, selected: str) -> tuple[tuple[RowView, ...], tuple[str, ...]]:
        """The rows in the order of the board, and the words about who needs the coach now, the most urgent first."""
        run = here.run if here.run is not None and here.run.part.kind != "open" else _last_measured(self._state)
        if run is not self._run:
            self._run, self._known = run, {}
        moved = self._place != (*here.place, selected)
        self._place = (*here.place, selected)
        rows, calls = [], []
        for athlete in self._state.present:
            known = self._known.get(athlete.name)
            if known is None or moved:
                known = self._known[athlete.name] = self._look(here, athlete.name, selected, known)
            rows.append(known.row)
            stands = known.stands
            if stands.flag is not None:
                calls.append((SEVERITY.index(stands.flag), f"{athlete.name} {stands.flag}: {stands.because}"))
        calls.sort(key=lambda call: call[0])
        return tuple(rows), tuple(words for _, words in calls[:MOST_CALLS])

    def _look(self, here: Moment, name: str, selected: str, before: _Known | None) -> _Known:
        state, run = self._state, self._run
        splits = tuple(athlete_splits(state, run, name)) if run else ()
        # Time alone adds splits and changes none, so where their number is the same they are, and so is where they stand.
        same = before is not None and len(before.splits) == len(splits)
        stands = before.stands if before is not None and same else standing(splits)
        result = athlete_result(state, run, name) if run else None
        return _Known(splits, stands, result, _row(state, here, run, name, splits, stands, result, selected))


def _last_measured(state: ClassState) -> PartRun | None:
    """While an open part runs the board keeps showing the part before it."""
    return next((run for run in reversed(state.runs) if run.part.kind != "open"), None)


def _row(
    state: ClassState,
    here: Moment,
    run: PartRun | None,
    name: str,
    splits: tuple[Split, ...],
    stands: Standing,
    result: Result | None,
    selected: str,
) -> RowView:
    athlete = state.athletes[name]
    split, left, detail = _words(state, here, run, name, splits, result)
    return RowView(
        athlete=name,
        key=athlete.key,
        name=name,
        status=_status(state, here, name),
        split=split,
        left=left,
        detail=detail,
        past=tuple(_bar(one) for one in splits[-PAST_SHOWN:]),
        flag=stands.flag.value if stands.flag is not None else "",
        selected=name == selected,
    )


def _status(state: ClassState, here: Moment, name: str) -> RowStatus:
    run = here.run
    if run is None or run.part.kind == "open" or here.phase is Phase.OVER:
        return "idle"
    if isinstance(run.part, Rotation | Intervals):
        if here.index is None:
            return "idle"
        if (name, here.index) in run.marks:
            return "done"
        return "rest" if state.assignment(name, run, here.index) is None else "work"
    if here.position_ms < 0:
        return "idle"
    if isinstance(run.part, Amrap):
        return "work"
    return "done" if name in run.finishes or name in run.not_finished else "work"


def _words(
    state: ClassState, here: Moment, run: PartRun | None, name: str, splits: tuple[Split, ...], result: Result | None
) -> tuple[str, str, str]:
    if run is None:
        return "", "", ""
    if not isinstance(run.part, Rotation | Intervals):
        return "", "", _result_words(run, result)
    current = [one for one in splits if one.interval == here.index and here.run is run]
    last = current[-1] if current else (splits[-1] if splits else None)
    if last is None:
        return "", "", ""
    if last.status is Status.UNTAPPED:
        return "", "", "untapped"
    if last.status is Status.NOT_FINISHED:
        return "", "", "not finished"
    return split_words(last.split_ms or 0), f"{rest_words(last.rest_ms or 0)} left", ""


def _result_words(run: PartRun, result: Result | None) -> str:
    if result is None:
        return ""
    if result.not_finished:
        return "not finished"
    if isinstance(run.part, Amrap) or (isinstance(run.part, ForTime) and result.time_ms is None):
        rounds = f"{result.rounds or 0} round{'' if result.rounds == 1 else 's'}"
        return rounds + (f" + {result.reps}" if result.reps else "")
    words = split_words(result.time_ms) if result.time_ms is not None else ""
    if isinstance(run.part, ForTime):
        return words
    if result.rounds is not None:
        return f"stage {result.rounds}, {result.reps} lengths"
    return words if result.reps is None else f"{result.reps} reps"


def _bar(split: Split) -> RestBar:
    if split.status is Status.NOT_FINISHED:
        return RestBar(None, not_finished=True)
    if split.rest_ms is None:
        return RestBar(None)
    return RestBar(split.rest_ms / split.window_ms, under=split.rest_ms < split.margin_ms)
