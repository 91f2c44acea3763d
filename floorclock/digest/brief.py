"""What is said before a class, worked out once: for the wall, for paper and for the board.

Invariant: lines are (kind, words): a heading with what belongs under it, until the next. Options stand in the order of the file,
guarded ones first and of one move the heavier and the longer before the lighter and the shorter: from hardest to easiest.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from floorclock.clock.state import ClassState
from floorclock.clock.timeline import station_index
from floorclock.digest.work_words import as_written, own_words, part_words, plan_words, planned_words, wave_words
from floorclock.plan.durations import duration_words
from floorclock.plan.names import counted
from floorclock.plan.roster import assign
from floorclock.plan.session import AnyPart, Paced, Piece, Untapped, Windowed
from floorclock.plan.totals import count_in_ms, planned_ms
from floorclock.plan.work import Option, Station

Said = tuple[Literal["heading", "text", "caution"], str]


@dataclass(frozen=True, slots=True, kw_only=True)
class BriefPart:
    """One part: when it begins (open parts taking their planned time), what is said of it, who has what, who starts where.

    `is_again`: the same as the block before it. `goal` is when to be done in each interval, `work` a line for each station or
    piece of the work: both for the board.
    """

    number: int
    title: str
    begins_ms: int
    kind_words: str
    is_open: bool
    is_again: bool
    lines: tuple[Said, ...]
    starts: tuple[Said, ...]
    goal: str
    work: tuple[str, ...]


def brief_of(state: ClassState) -> tuple[BriefPart, ...]:
    """The brief of a class that has not begun, part by part; without anybody on the board, of the plan alone."""
    parts = []
    at_ms = 0
    for index, part in enumerate(state.session.parts):
        at_ms += count_in_ms(part, state.session)
        parts.append(
            BriefPart(
                number=index + 1,
                title=part.title,
                begins_ms=at_ms,
                kind_words=part_words(part),
                is_open=isinstance(part, Untapped),
                is_again=part.is_again,
                lines=(*part_lines(part, state), *choice_lines(part)),
                starts=tuple(start_lines(state, index)),
                goal=_goal_words(state, part),
                work=tuple(_board_lines(part)),
            )
        )
        at_ms += planned_ms(part, tuple(state.athletes.values()))
    return tuple(parts)


def part_lines(part: AnyPart, state: ClassState | None = None) -> Iterator[Said]:
    """What is said of a part before it; with a class, also who does what else at each station."""
    yield "text", part_words(part)
    yield from said_of(part)
    if isinstance(part, Paced):
        return
    if isinstance(part, Piece) and part.buy_in:
        yield "text", "first, as a buy-in:"
        yield from _work_lines(part.buy_in, state)
        yield "text", "then:"
    yield from _work_lines(part.stations, state)
    if isinstance(part, Piece) and part.cash_out:
        yield "text", "at the end, as a cash-out:"
        yield from _work_lines(part.cash_out, state)


def said_of(part: AnyPart) -> Iterator[Said]:
    """The coach's own notes and caution."""
    yield from (("text", note) for note in part.notes)
    if part.caution:
        yield "caution", part.caution


def choice_lines(part: AnyPart) -> Iterator[Said]:
    """The alternatives to a whole part."""
    if not isinstance(part, Piece):
        return
    for choice in part.choose:
        yield "heading", f"or {choice.name}"
        rounds = [counted(choice.rounds, "round")] if choice.rounds else []
        yield "text", "; ".join([*rounds, *map(planned_words, choice.work)])


def start_lines(state: ClassState, coming: int) -> Iterator[Said]:
    """Who starts where, and who works together."""
    part = state.part(coming)
    teams = state.teams(coming)
    if teams:
        yield "heading", "teams"
        yield "text", "; ".join(" + ".join(team) for team in teams)
    places: dict[int, list[str]] = {}
    waves = isinstance(part, Piece) and part.wave_every_ms
    for athlete in state.present:
        group = state.group_of(athlete.name, coming, 0)
        if waves:
            places.setdefault(group, []).append(athlete.name)
        elif isinstance(part, Windowed) and part.stations:
            places.setdefault(station_index(part, 0, group), []).append(athlete.name)
    if len(places) < 2:
        return
    yield "heading", "who starts when" if waves else "who starts where"
    for place, names in sorted(places.items()):
        where = wave_words(part, place) if isinstance(part, Piece) else part.stations[place].move or "rest"
        yield "text", f"{where}: {', '.join(names)}"


def _hardest_first(options: Sequence[Option], station: Station) -> list[Option]:
    """Options from hardest to easiest, as far as the plan says which is harder."""

    def ease(option: Option) -> tuple[bool, Fraction, Fraction]:
        load = option.load.in_kg if option.load is not None else None
        same = option.move == station.move
        amount = option.target.amount if same and option.target is not None else Fraction(0)
        return not option.guarded, -(load or Fraction(0)) if same else Fraction(0), -amount

    return sorted(options, key=ease)


def _work_lines(stations: Sequence[Station], state: ClassState | None) -> Iterator[Said]:
    for station in stations:
        if station.is_rest:
            yield "heading", "rest"
            continue
        window = f"  in {duration_words(station.time_ms)}" if station.time_ms is not None else ""
        if station.items:
            yield "heading", station.move + window
            yield "text", "one after the other, one tap for all:"
            yield from _work_lines(station.items, state)
            continue
        yield "heading", f"{station.move}  {plan_words(station)}".rstrip() + window
        if station.standards:
            yield "text", "; ".join(station.standards)
        for option in _hardest_first(station.options, station):
            goal = f" {option.target.words()}" if option.target else ""
            yield "text", f"{option.move}{goal}" if option.name == option.move else f"{option.name}: {option.move}{goal}"
        yield from _people_lines(station, state)
        if station.caution:
            yield "caution", station.caution
        if station.guarded:
            yield "caution", f"{station.move}: only with the coach's yes"


def _people_lines(station: Station, state: ClassState | None) -> Iterator[Said]:
    """Who does what else than the plan says, in one line for each kind of it."""
    people: dict[str, list[str]] = {}
    for athlete in () if state is None else state.present:
        own = own_words(assign(athlete, station, state.session.load_step if state else None), as_written(station), None)
        if own:
            people.setdefault(own, []).append(athlete.name)
    for own, names in people.items():
        yield "text", f"{', '.join(names)}: {own}"


def _goal_words(state: ClassState, part: AnyPart) -> str:
    """`done with 15 s left of every 1:00`; empty where nobody is to keep a margin."""
    if not isinstance(part, Windowed) or any(station.time_ms is not None for station in part.stations):
        return ""
    window_ms, margin_ms = part.window_ms(0), state.session.margin_ms(part)
    if not 0 < margin_ms < window_ms or part.tap == "none":
        return ""
    return f"done with {margin_ms / 1000:g} s left of every {duration_words(window_ms)}"


def _board_lines(part: AnyPart) -> Iterator[str]:
    if isinstance(part, Paced | Untapped):
        return
    for when, work in (("first", getattr(part, "buy_in", ())), ("", part.stations), ("last", getattr(part, "cash_out", ()))):
        for station in work:
            named = plan_words(station) if station.items else f"{station.move or 'rest'}  {plan_words(station)}"
            yield f"{when} {named}".strip()
