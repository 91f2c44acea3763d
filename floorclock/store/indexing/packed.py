"""One class for the store, small enough to go from process to process: splits in columns, people and works by number.

Invariant: it follows from the bytes of a journal alone, whatever they are, and holds nothing but plain values.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from floorclock.clock.events import ClassEnded
from floorclock.clock.state import ClassState, new_state
from floorclock.clock.tally import results
from floorclock.journal.instants import instant_text
from floorclock.journal.replay import Plans
from floorclock.pace.load import MINUTE_MS, session_loads
from floorclock.plan.session import PartKind
from floorclock.store.codes import UNITS
from floorclock.store.indexing.columns import SplitLine, WorkList, split_lines
from floorclock.store.indexing.figures import PaceLine, StationLine, station_lines
from floorclock.store.indexing.quick_figures import figures_of_class
from floorclock.store.indexing.quick_fold import fold_quickly
from floorclock.store.indexing.quick_reading import Told, read_quickly


class Facts(NamedTuple):
    """The class itself, as in `ClassRows`; `started` as RFC 3339."""

    started: str
    session: str
    rehearsal: bool
    paper: bool
    rest_margin_ms: int
    minutes: float
    ended: bool
    damage: int
    forgotten: int


class Packed(NamedTuple):
    """A class. Everybody and every work stands in the rows by its place in `people` and `works`.

    `splits` are the columns (person, part, interval, round, station, work, window, margin, split, status, flags), or nothing.
    """

    facts: Facts
    people: list[str]
    works: list[tuple[str, str | None, int]]
    """(move, exact amount as text, number of the unit)."""
    attendance: list[tuple[int, float, float | None]]
    splits: list[Sequence[int | None]]
    paces: list[tuple[int, PaceLine]]
    stations: list[tuple[StationLine, str, PartKind, str]]
    """(figures, title and kind of the part, move)."""
    results: list[tuple[int, int, str, PartKind, str, int | None, int | None, int | None, bool]]


MOST_PLANS = 500
"""So many plans are kept at a time; ten years of a gym may know thousands."""


def packed(data: bytes, plans: Plans) -> Packed | None:
    """A journal as the store wants it; None where it does not say what the class started from."""
    told = read_quickly(data)
    if told is None:
        return None
    session = plans.of(told.header)
    if session is None:
        return Packed(_facts(told, damage=told.damage + 1), [], [], [], [], [], [], [])
    state = new_state(session, told.header.roster.athletes, told.header.rest_margin_ms)
    return _of_state(told, fold_quickly(state, told.events))


def _facts(told: Told, *, damage: int, rest_margin_ms: int | None = None, minutes: float = 0.0) -> Facts:
    header = told.header
    return Facts(
        started=instant_text(header.started),
        session=header.session,
        rehearsal=bool(header.rehearsal),
        paper=bool(header.paper),
        rest_margin_ms=(header.rest_margin_ms or 0) if rest_margin_ms is None else rest_margin_ms,
        minutes=minutes,
        ended=any(type(event) is ClassEnded for event in told.events),
        damage=damage,
        forgotten=told.forgotten,
    )


def _of_state(told: Told, state: ClassState) -> Packed:
    people = {name: place for place, name in enumerate(state.athletes)}
    works = WorkList()
    parts = list(split_lines(state, works))
    paces = figures_of_class(state, parts, works)
    stations = [
        (line, state.part(line[0]).title, state.part(line[0]).kind, state.part(line[0]).stations[line[1]].move)
        for line in station_lines(parts, paces)
    ]
    margin_ms = state.session.rest_margin_ms if state.margin_ms is None else state.margin_ms
    lines: list[SplitLine] = [line for one in parts for line in one.lines]
    columns: list[Sequence[int | None]] = []
    if lines:
        who = [place for one in parts for place in [people[one.name]] * len(one.lines)]
        columns = [who, *zip(*lines, strict=True), [bits for one in parts for bits in one.flags]]
    return Packed(
        facts=_facts(told, damage=told.damage, rest_margin_ms=margin_ms, minutes=_minutes(state)),
        people=list(people),
        works=[(move, None if amount is None else str(amount), UNITS[unit]) for move, amount, unit in works.works],
        attendance=[
            (people[one.name], one.minutes, one.effort)
            for one in session_loads(state)
            if one.minutes > 0 or one.effort is not None
        ],
        splits=columns,
        paces=[(people[name], line) for name, line in paces],
        stations=stations,
        results=[
            (
                people[one.athlete],
                one.part,
                state.part(one.part).title,
                state.part(one.part).kind,
                one.choice,
                one.time_ms,
                one.rounds,
                one.reps,
                one.not_finished,
            )
            for one in results(state)
        ],
    )


def _minutes(state: ClassState) -> float:
    """From the start of the first part to the end of the last one that was begun, as in `pace.load`."""
    if not state.runs:
        return 0.0
    end_ms = state.runs[-1].ended_ms
    return ((state.now_ms if end_ms is None else end_ms) - state.runs[0].begun_ms) / MINUTE_MS
