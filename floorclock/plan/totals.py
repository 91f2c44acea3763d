"""What a plan comes to: planned time, intervals and rounds of each part, and the work of one athlete.

Invariant: n sets are n works and n - 1 rests unless the plan asks for the last rest, as published protocols count;
a rotation keeps its last interval whole. Nothing is rounded but a shuttle ladder, once.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil

from floorclock.plan.durations import duration_words
from floorclock.plan.roster import Assignment, Athlete, assign
from floorclock.plan.session import (
    AnyPart,
    Choice,
    ForTime,
    Intervals,
    OpenPart,
    Paced,
    Piece,
    RestPart,
    Session,
    Shuttle,
    Untapped,
    Windowed,
)
from floorclock.plan.work import Station, Target, Unit, station_names


@dataclass(frozen=True)
class Volume:
    """How much of a move one athlete does who follows the plan as written."""

    move: str
    unit: Unit
    amount: Fraction


def planned_ms(part: AnyPart, athletes: Sequence[Athlete] = ()) -> int:
    """The planned time of a part without its count-in: its cap, its time, or what its windows come to.

    An open part counts its advisory time, or nothing where it has none. A part in waves lasts until the last start group of
    these athletes has had its time.
    """
    if isinstance(part, OpenPart):
        return part.time_ms or 0
    if isinstance(part, RestPart):
        return part.length_ms
    if isinstance(part, Windowed):
        return sum(end - start for start, end, *_ in windows(part))
    if isinstance(part, Piece):
        waves = max((athlete.group for athlete in athletes), default=1)
        return part.limit_ms + (waves - 1) * part.wave_every_ms
    return round(shuttle_ms(part.shuttle)) if part.shuttle else part.time_ms or 0


def windows(part: Windowed) -> Iterator[tuple[int, int, int, int]]:
    """Everything that follows in a part, as (start_ms, end_ms, round from 1, window from 0, or -1 for a rest).

    Window w is at station w modulo their number for those who begin at the first. A rest between rounds takes the place of the
    interval's own rest there; a rest after the last window is there only where the plan asks for it.
    """
    at_ms, stations = 0, len(part.stations)
    rest_ms, last_rest = (part.rest_ms, part.final_rest) if isinstance(part, Intervals) else (0, False)
    for window in range(part.count):
        station, number = window % stations, window // stations + 1
        end_ms = at_ms + part.window_ms(station)
        yield at_ms, end_ms, number, window
        at_ms = end_ms
        between = part.round_rest_ms if station == stations - 1 and part.round_rest_ms and window < part.count - 1 else rest_ms
        if between and (window < part.count - 1 or last_rest):
            yield at_ms, at_ms + between, number, -1
            at_ms += between


def shuttle_ms(shuttle: Shuttle) -> Fraction:
    """The exact time of a shuttle ladder: every length takes 3,600 x metres / (km/h) milliseconds."""
    return sum((3600 * shuttle.distance_m * stage.shuttles / stage.speed_kmh for stage in shuttle.stages), Fraction(0))


def count_in_ms(part: AnyPart, session: Session) -> int:
    """The count-in before a part; an open part has none."""
    if isinstance(part, Untapped):
        return 0
    return session.count_in_ms if part.count_in_ms is None else part.count_in_ms


def interval_count(part: AnyPart) -> int:
    """How many windows of work a part has: a stage of a shuttle ladder is one, an open part has none."""
    if isinstance(part, Untapped):
        return 0
    if isinstance(part, Windowed):
        return part.count
    return len(part.shuttle.stages) if isinstance(part, Paced) and part.shuttle else 1


def rounds_at(part: AnyPart) -> tuple[int, ...]:
    """How often each station comes round, for those who begin at the first; nothing where nobody can know."""
    if isinstance(part, Windowed):
        whole, more = divmod(interval_count(part), len(part.stations))
        return tuple(whole + (index < more) for index in range(len(part.stations)))
    if isinstance(part, ForTime):
        return (part.rounds,) * len(part.stations)
    return ()


def rounds_per_station(part: AnyPart) -> Mapping[str, int]:
    """`rounds_at` by station name."""
    rounds = rounds_at(part)
    return dict(zip(station_names(part.stations), rounds, strict=True)) if rounds else {}


def volume(session: Session, athlete: Athlete | None = None) -> tuple[Volume, ...]:
    """The work of one athlete by move and unit, in the order of the plan; without one, of somebody who does it as written.

    Of a team it is that of who goes first.

    Where turns alternate they do every second round, or interval, of a pair; shared work is shared evenly. A station without a
    target counts its whole window in seconds. An amrap is left out: its rounds are for the class to make.
    """
    amounts: dict[tuple[str, Unit], Fraction] = {}
    for part in session.parts:
        for move, unit, amount in _part_volume(part, athlete):
            amounts[move, unit] = amounts.get((move, unit), Fraction(0)) + amount
    return tuple(Volume(move, unit, amount) for (move, unit), amount in amounts.items() if amount)


def session_ms(session: Session, athletes: Sequence[Athlete] = ()) -> int:
    """The planned time of all parts for these athletes, with their count-ins."""
    return sum(planned_ms(part, athletes) + count_in_ms(part, session) for part in session.parts)


def too_long_words(session: Session, athletes: Sequence[Athlete] = ()) -> tuple[str, str]:
    """What of a plan does not fit its class, and by how much; both empty where it fits, or nobody says how long the class is."""
    planned, limit = session_ms(session, athletes), session.class_time_ms
    if limit is None or planned <= limit:
        return "", ""
    over = duration_words(planned - limit)
    return f"the plan takes {duration_words(planned)} with its count-ins, {over} longer than the class", over


def choice_of(part: AnyPart, athlete: Athlete | None) -> Choice | None:
    """The alternative to a whole part that an athlete of the roster does; None for the part as written."""
    wanted = athlete.options.get(part.written) if athlete is not None else None
    return next((choice for choice in getattr(part, "choose", ()) if choice.name == wanted), None)


def _part_volume(part: AnyPart, athlete: Athlete | None) -> Sequence[tuple[str, Unit, Fraction]]:
    if isinstance(part, Paced):
        return [_paced_volume(part)]
    stations, times = part.stations, rounds_at(part)
    choice = choice_of(part, athlete)
    if choice is not None and isinstance(part, ForTime):
        stations = choice.work or stations
        times = (choice.rounds or part.rounds,) * len(stations)
    found = []
    for index, (station, rounds) in enumerate(zip(stations, times, strict=False)):
        window_ms = part.window_ms(index) if isinstance(part, Windowed) else 0
        own = _own_rounds(part, index, rounds)
        found += [_move_volume(_done(item, athlete), own, window_ms) for item in station.items or (station,) if item.move]
    once = part.buy_in + part.cash_out if isinstance(part, ForTime) else ()
    found += [_move_volume(_done(item, athlete), range(1, 2), 0) for item in once]
    share = part.team_size if part.turns == "shared" else 1
    return [(move, unit, amount / share) for move, unit, amount in found]


def _own_rounds(part: AnyPart, station: int, rounds: int) -> Sequence[int]:
    """The rounds that one athlete does at a station: all of them, or those in which it is the turn of who goes first."""
    if part.turns == "each round":
        return range(1, rounds + 1, part.team_size)
    if part.turns == "each interval":
        count = len(part.stations)
        return [number for number in range(1, rounds + 1) if ((number - 1) * count + station) % part.team_size == 0]
    return range(1, rounds + 1)


def _done(station: Station, athlete: Athlete | None) -> Station | Assignment:
    return station if athlete is None else assign(athlete, station)


def _move_volume(station: Station | Assignment, numbers: Sequence[int], window_ms: int) -> tuple[str, Unit, Fraction]:
    target, rounds = station.target, len(numbers)
    if target is None or target.most:
        # Nobody knows the reps beforehand; the time that they are done in is known.
        within_ms = window_ms if target is None or target.within_ms is None else target.within_ms
        return station.move, Unit.SECONDS, Fraction(within_ms * rounds, 1000)
    if isinstance(numbers, range) and numbers.step == 1:
        return station.move, target.unit, ladder_sum(target, rounds)
    return station.move, target.unit, sum((target.in_round(number) for number in numbers), Fraction(0))


def ladder_sum(target: Target, rounds: int) -> Fraction:
    """The amounts of rounds 1 to `rounds` together; a falling ladder stops at zero."""
    if target.amounts:
        return sum((target.in_round(number) for number in range(1, rounds + 1)), Fraction(0))
    if target.step < 0:
        rounds = min(rounds, int(target.amount / -target.step) + 1)
    return rounds * target.amount + target.step * (rounds * (rounds - 1) // 2)


def _paced_volume(part: Paced) -> tuple[str, Unit, Fraction]:
    if part.shuttle is not None:
        lengths = sum(stage.shuttles for stage in part.shuttle.stages)
        return part.move or "run", Unit.METRES, lengths * part.shuttle.distance_m
    # The first beat is at the go, so beats fill [0, time).
    beats = ceil((part.beats_per_minute or Fraction(0)) * (part.time_ms or 0) / 60_000)
    return part.move or "work", Unit.REPS, Fraction(beats // part.beats_per_rep)
