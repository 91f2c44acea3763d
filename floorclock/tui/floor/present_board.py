"""The board: one row for each athlete.

Invariant: what is kept of an athlete was made from the state as it is; events and boundaries have it made anew.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

from floorclock.clock.run import PartRun
from floorclock.clock.splits import Result, Split, Status
from floorclock.clock.state import ClassState
from floorclock.clock.tally import athlete_result, athlete_splits
from floorclock.plan.session import Amrap, ForTime, Intervals, Rotation
from floorclock.tui.floor.moment import Moment, Phase
from floorclock.tui.floor.outlooks import Look, Outlooks, last_measured
from floorclock.tui.floor.view import RestBar, RowView, Shows
from floorclock.tui.floor.words import rest_words, split_words

RowStatus = Literal["work", "done", "rest", "idle", "home"]
PAST_SHOWN = 24


@dataclass(frozen=True, slots=True)
class _KnownRow:
    """What is known of one athlete in the part on the board, and the row that was made of it."""

    splits: tuple[Split, ...]
    result: Result | None
    look: Look
    row: RowView


class BoardRows:
    """The rows of one class. A tap makes the row of who tapped anew and leaves everybody else's as it was.

    Whoever folds events says whom they concern: `forget`.
    """

    def __init__(self, state: ClassState, outlooks: Outlooks) -> None:
        self._state, self._outlooks = state, outlooks
        self._run: PartRun | None = None
        self._place: tuple[object, ...] = ()
        self._known: dict[str, _KnownRow] = {}

    def forget(self, name: str | None) -> None:
        """Something happened to one athlete, or (None) to the class."""
        if name is None:
            self._known.clear()
        else:
            self._known.pop(name, None)

    def make(self, here: Moment, selected: str, shows: Shows = "coach") -> tuple[RowView, ...]:
        """The rows in the order of the board; for the class, names and who is done alone."""
        if shows == "class":
            names = ((athlete.name, athlete.key) for athlete in self._state.present)
            return tuple(
                RowView(name, key, name, _status(self._state, here, name), selected=name == selected) for name, key in names
            )
        run = here.run if here.run is not None and here.run.part.kind != "open" else last_measured(self._state)
        if run is not self._run:
            self._run, self._known = run, {}
        moved = self._place != (*here.place, selected)
        self._place = (*here.place, selected)
        rows = []
        for athlete in self._state.present:
            known, look = self._known.get(athlete.name), self._outlooks.of(athlete.name)
            if known is None or moved:
                known = self._known[athlete.name] = self._make(here, athlete.name, selected, look)
            elif known.look is not look:
                row = _row(self._state, here, run, athlete.name, known.splits, known.result, look, selected)
                # A row that looks the same stays the same one: its cell is known, and nothing is painted.
                known = self._known[athlete.name] = replace(known, look=look, row=known.row if row == known.row else row)
            rows.append(known.row)
        return tuple(rows)

    def _make(self, here: Moment, name: str, selected: str, look: Look) -> _KnownRow:
        state, run = self._state, self._run
        splits = tuple(athlete_splits(state, run, name)) if run else ()
        result = athlete_result(state, run, name) if run else None
        return _KnownRow(splits, result, look, _row(state, here, run, name, splits, result, look, selected))


def _row(
    state: ClassState,
    here: Moment,
    run: PartRun | None,
    name: str,
    splits: tuple[Split, ...],
    result: Result | None,
    look: Look,
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
        flag=look.standing.flag.value if look.standing.flag is not None else "",
        selected=name == selected,
        quiet=name in state.quiet,
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
