"""The board: one row for each athlete.

Invariant: what is kept of an athlete was made from the state as it is; events and boundaries have it made anew.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from floorclock.clock.run import PartRun
from floorclock.clock.splits import Result, Split, Status
from floorclock.clock.state import ClassState
from floorclock.clock.tally import athlete_result, athlete_splits, can_be_tapped
from floorclock.plan.names import counted
from floorclock.plan.roster import Athlete
from floorclock.plan.session import Amrap, ForTime, Untapped, Windowed
from floorclock.tui.floor.moment import Moment, Phase
from floorclock.tui.floor.outlooks import Look, Outlooks, last_measured
from floorclock.tui.floor.present_work import turn_of
from floorclock.tui.floor.view import RestBar, RowStatus, RowView, Shows
from floorclock.tui.floor.words import rest_words, split_words

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
        run = here.run if here.run is not None and not isinstance(here.run.part, Untapped) else last_measured(self._state)
        if shows == "class":
            return tuple(_plain_row(self._state, here, run, name, selected) for name in names_on_board(self._state, run))
        if run is not self._run:
            self._run, self._known = run, {}
        place = (*here.place, selected)
        moved, self._place = self._place != place, place
        rows = []
        for name in names_on_board(self._state, run):
            known, look = self._known.get(name), self._outlooks.of(name)
            if known is None or moved:
                known = self._known[name] = self._make(here, name, selected, look)
            elif known.look is not look:
                row = self._row(here, name, selected, known.splits, known.result, look)
                # A row that looks the same stays the same one: its cell is known, and nothing is painted.
                known = self._known[name] = replace(known, look=look, row=known.row if row == known.row else row)
            rows.append(known.row)
        return tuple(rows)

    def _make(self, here: Moment, name: str, selected: str, look: Look) -> _KnownRow:
        splits = tuple(athlete_splits(self._state, self._run, name)) if self._run else ()
        result = athlete_result(self._state, self._run, name) if self._run else None
        return _KnownRow(splits, result, look, self._row(here, name, selected, splits, result, look))

    def _row(
        self, here: Moment, name: str, selected: str, splits: tuple[Split, ...], result: Result | None, look: Look
    ) -> RowView:
        split, left, detail = _words(self._state, here, self._run, name, splits, result)
        return replace(
            _plain_row(self._state, here, self._run, name, selected),
            split=split,
            left=left,
            detail=detail,
            past=tuple(_bar(split) for split in splits[-PAST_SHOWN:]),
            flag=look.standing.flag.value if look.standing.flag is not None else "",
            quiet=name in self._state.quiet,
        )


def names_on_board(state: ClassState, run: PartRun | None) -> tuple[str, ...]:
    """Who has a row, in the order of the board: of a team its first, while any of them is here."""
    here = [athlete.name for athlete in state.present]
    if run is None or not run.teams:
        return tuple(here)
    rows = {run.recorded_as(name) for name in here}
    return tuple(name for name in state.athletes if name in rows)


def _plain_row(state: ClassState, here: Moment, run: PartRun | None, name: str, selected: str) -> RowView:
    """Who a row is for, whose turn it is, and whether they are done."""
    team = members_here(state, run, name)
    in_turn = turn_of(run, here.index) if run is not None and run is here.run else set()
    return RowView(
        athlete=name,
        key=team[0].key,
        name=" + ".join(f"▸{member.name}" if member.name in in_turn else member.name for member in team),
        status=_status(state, here, name),
        selected=any(member.name == selected for member in team),
        people=len(team),
    )


def members_here(state: ClassState, run: PartRun | None, name: str) -> tuple[Athlete, ...]:
    """Who of a row's team is here; the athlete alone where there are no teams."""
    teams = run.teams if run is not None else []
    team = next((team for team in teams if team[0] == name), (name,))
    here = tuple(member for member in team if member not in state.away) or (name,)
    return tuple(state.athletes[member] for member in here)


def _status(state: ClassState, here: Moment, name: str) -> RowStatus:
    run = here.run
    if run is None or isinstance(run.part, Untapped) or here.phase is Phase.OVER:
        return "idle"
    if isinstance(run.part, Windowed):
        if here.index is None:
            return "idle"
        mark = run.marks.get((name, here.index))
        if mark is not None:
            return "missed" if mark.status is Status.NOT_FINISHED else "done"
        work = state.assignment(name, run, here.index)
        if work is None:
            return "rest"
        expected = run.part.tap != "none" and state.expected(name, run.index, here.index)
        return "work" if expected and can_be_tapped(work, run.timeline.intervals[here.index].length_ms) else "idle"
    if here.position_ms < state.start_delay_ms(name, run):
        return "idle"
    if isinstance(run.part, Amrap):
        return "work"
    if name in run.not_finished:
        return "missed"
    return "done" if name in run.finishes else "work"


def _words(
    state: ClassState, here: Moment, run: PartRun | None, name: str, splits: tuple[Split, ...], result: Result | None
) -> tuple[str, str, str]:
    if run is None:
        return "", "", ""
    out = state.out_after(name, run.index)
    if out is not None:
        return "", "", f"out in round {run.timeline.intervals[out].round}"
    current = [split for split in splits if split.interval == here.index and here.run is run]
    if run.part.score is not None:
        missed = bool(current) and current[-1].status is Status.NOT_FINISHED
        return "", "", "not finished" if missed else _score_words(run, result)
    if not isinstance(run.part, Windowed):
        return "", "", _result_words(run, result)
    last = current[-1] if current else (splits[-1] if splits else None)
    if last is None:
        return "", "", ""
    if last.status is Status.UNTAPPED:
        return "", "", "untapped"
    if last.status is Status.NOT_FINISHED:
        return "", "", "not finished"
    return split_words(last.split_ms or 0), f"{rest_words(last.rest_ms or 0)} left", ""


def _score_words(run: PartRun, result: Result | None) -> str:
    """The last number and what all came to: `12, total 34`; of loads the most."""
    scores = [float(amount) for _, amount in result.scores] if result is not None else []
    if not scores or run.part.score is None:
        return ""
    if len(scores) == 1:
        return f"{scores[0]:g}"
    load = run.part.score.unit == "load"
    return f"{scores[-1]:g}, {'most' if load else 'total'} {max(scores) if load else sum(scores):g}"


def _result_words(run: PartRun, result: Result | None) -> str:
    if result is None:
        return ""
    if result.not_finished:
        return "not finished"
    if isinstance(run.part, Amrap) or (isinstance(run.part, ForTime) and result.time_ms is None):
        return counted(result.rounds or 0, "round") + (f" + {result.reps}" if result.reps else "")
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
