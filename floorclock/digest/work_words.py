"""How the work of a plan is said, the same on the floor, on the wall and on paper."""

from __future__ import annotations

from dataclasses import replace

from floorclock.plan.durations import duration_words, minutes_words
from floorclock.plan.names import counted
from floorclock.plan.roster import Assignment, Athlete, assign
from floorclock.plan.session import Amrap, AnyPart, ForTime, Intervals, OpenPart, Paced, Piece, RestPart, Rotation, Windowed
from floorclock.plan.work import Load, Station, Target, Unit, amount_said

_NOBODY = Athlete(name="")


def as_written(station: Station) -> Assignment:
    """The work of a station for nobody in particular: of several levels the middle one."""
    plain = replace(station, guarded=False)
    return assign(_NOBODY, replace(plain, items=tuple(replace(item, guarded=False) for item in station.items)))


def own_words(work: Assignment, written: Assignment, round_number: int | None) -> str:
    """What differs for one athlete from the work as written: `10 lighter`, `12 at 16 kg`, `60 kg`; empty where nothing does.

    In one round; None for all of them: `3-6-9 lighter`.
    """
    if work.gated:
        return "needs the coach's yes"
    if work.avoided:
        return "stays away from it"
    if work.items:
        pairs = zip(work.items, written.items, strict=True)
        own = ((own_words(item, plain, round_number), item.move, plain.move) for item, plain in pairs)
        return ", ".join(words if move != plain else f"{words} {move}" for words, move, plain in own if words)
    goal = _amount_words(work.target, round_number)
    if goal == _amount_words(written.target, round_number):
        goal = ""
    load = work.load.words() if work.load is not None and work.load != written.load else ""
    name = "" if work.move == written.move else work.option or work.move
    return _at_load(f"{goal} {name}".strip(), load)


def _amount_words(target: Target | None, round_number: int | None) -> str:
    if target is None:
        return ""
    return replace(target, levels=()).plan_words() if round_number is None else target.words(round_number)


def goal_of(target: Target | None, load: Load | None, round_number: int) -> str:
    """`14 reps`, `200 m`, `5 reps at 70 kg`: a target with its unit said, and the load."""
    goal = ""
    if target is not None:
        plain = target.unit is Unit.REPS and not (target.each_side or target.most)
        amount = target.in_round(round_number)
        goal = amount_said(amount, target.unit) if plain and target.upper is None else target.words(round_number)
    return _at_load(goal, load.words() if load is not None else "")


def plan_words(station: Station) -> str:
    """All that the plan says of the work at a station: every level, all rounds, the load; of several moves each with its name."""
    if station.items:
        return " + ".join(f"{plan_words(item)} {item.move}".strip() for item in station.items)
    target, load = station.target, station.load.plan_words() if station.load is not None else ""
    if target is None or target.levels or target.amounts:
        return _at_load(target.plan_words() if target is not None else "", load)
    step = f", {float(target.step):+g} each round" if target.step else ""
    return _at_load(goal_of(target, None, 1) + step, load)


def planned_words(station: Station) -> str:
    """A move with its work in all rounds, and its load: `row 200 m + burpee 10 reps`; `rest` where nobody works."""
    if station.items:
        return " + ".join(map(planned_words, station.items))
    return f"{station.move} {plan_words(station)}".strip() or "rest"


def _at_load(goal: str, load: str) -> str:
    return f"{goal} at {load}" if goal and load else goal or load


def part_words(part: AnyPart) -> str:
    """What kind of part it is, in one line."""
    if isinstance(part, Rotation):
        every = duration_words(part.every_ms)
        moves_on = " the next station" if len(part.stations) > 1 else ""
        pace = "every minute on the minute" if part.every_ms == 60_000 else f"every {every}{moves_on}"
        if part.until_out:
            return f"{pace}, until you miss it; at most {part.count}{_shared_words(part)}"
        return f"{pace}, {counted(part.count, 'interval')} over {counted(len(part.stations), 'station')}{_shared_words(part)}"
    if isinstance(part, Intervals):
        rest = f"{duration_words(part.rest_ms)} rest" if part.rest_ms else "no rest between"
        return f"{part.sets} x {duration_words(part.work_ms)} work, {rest}{_shared_words(part)}"
    if isinstance(part, ForTime):
        return f"{counted(part.rounds, 'round')} for time, cap {duration_words(part.cap_ms)}{_shared_words(part)}"
    if isinstance(part, Amrap):
        return f"as many rounds as possible in {duration_words(part.time_ms)}{_shared_words(part)}"
    if isinstance(part, Paced):
        return _paced_words(part)
    if isinstance(part, RestPart):
        return f"{duration_words(part.time_ms)}, then it goes on by itself"
    assert isinstance(part, OpenPart)
    return f"about {minutes_words(part.time_ms)}" if part.time_ms else "as long as the coach wants"


def _shared_words(part: AnyPart) -> str:
    """The rest after each round, and how a part is worked in teams, or empty."""
    rest_ms = part.round_rest_ms if isinstance(part, Windowed | ForTime) else 0
    rest = f", {duration_words(rest_ms)} rest after each round" if rest_ms else ""
    if part.team_size < 2:
        return rest
    teams = "in pairs" if part.team_size == 2 else f"in teams of {part.team_size}"
    turns = {"each round": "take turns each round", "each interval": "take turns each interval", "same time": "all at once"}
    return f"{rest}; {teams}, {turns.get(part.turns, 'share the work as you like, one at a time')}"


def _paced_words(part: Paced) -> str:
    if part.shuttle is None:
        return f"{float(part.beats_per_minute or 0):g} beats a minute for {duration_words(part.time_ms or 0)}"
    stages = part.shuttle.stages
    first, last = float(stages[0].speed_kmh), float(stages[-1].speed_kmh)
    return f"{float(part.shuttle.distance_m):g} m lengths, {len(stages)} stages, {first:g} to {last:g} km/h"


def wave_words(part: Piece, wave: int) -> str:
    """`wave 3, at 6:00`: a wave, from 1, and when it begins on the part's own clock."""
    return f"wave {wave}, at {duration_words((wave - 1) * part.wave_every_ms)}"
