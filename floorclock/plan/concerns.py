"""What a coach would want to know about a plan before the class: its hour, its rounds, its kit, its wall.

Invariant: every finding stands at the part or station that it is about.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from floorclock.errors import Fix, Problem
from floorclock.plan.durations import duration_words
from floorclock.plan.findings import CheckContext
from floorclock.plan.kit_needs import KitNeed, all_kit
from floorclock.plan.legibility import LEAST_MINUTES, most_names
from floorclock.plan.names import MOST_NAMES, listed, nearest, surely
from floorclock.plan.roster import assign
from floorclock.plan.session import AnyPart, ForTime, Intervals, Piece, Session, Untapped, Windowed
from floorclock.plan.totals import interval_count, rounds_at, session_ms, too_long_words
from floorclock.plan.work import LoadUnit, station_names, under_least

USUAL_CHANGEOVER_MS = 60_000
USUAL_PACK_UP_MS = 180_000
"""Both common practice, no source."""


def hour(context: CheckContext) -> Iterator[Problem]:
    """The plan against the time that the room is ours, with changing over between parts and packing up."""
    session, limit = context.session, context.session.class_time_ms
    if limit is None:
        return
    planned = session_ms(session, context.athletes)
    message, over = too_long_words(session, context.athletes)
    if message:
        yield context.finding(
            "hour", ("class_time",), message, f"take out {over}, or write class_time: {duration_words(planned)}"
        )
        return
    between_ms, times, pack_up_ms = _around(session)
    needed = planned + between_ms * times + pack_up_ms
    if needed > limit:
        written = session.changeover_ms is not None or session.pack_up_ms is not None
        over, whole = duration_words(needed - limit), duration_words(needed)
        more = [f"{times} x {duration_words(between_ms)} to change over"] * bool(times)
        more += [f"{duration_words(pack_up_ms)} to pack up"] * bool(pack_up_ms)
        message = f"with {' and '.join(more)} the plan takes {whole}, {over} longer than the class"
        hint = f"take out {over}" + (
            "" if written else ", or say `changeover` and `pack_up`; these are common practice, no source"
        )
        yield context.finding("hour", ("class_time",), message, hint, "warning" if written else "note")


def _around(session: Session) -> tuple[int, int, int]:
    """How long it takes to change over, how often nothing in the plan is there for it, and how long to pack up."""
    working = [not isinstance(part, Untapped) for part in session.parts]
    times = sum(here and then for here, then in pairwise(working))
    kit = any(all_kit(station) for station in session.moves())
    between_ms = USUAL_CHANGEOVER_MS if session.changeover_ms is None else session.changeover_ms
    return between_ms, times, USUAL_PACK_UP_MS * kit if session.pack_up_ms is None else session.pack_up_ms


def uneven(context: CheckContext, part: Windowed) -> Iterator[Problem]:
    """Stations that come round once more than others."""
    whole, more = divmod(interval_count(part), len(part.stations))
    if not more:
        return
    names = station_names(part.stations)
    message = f"{interval_count(part)} intervals over {len(names)} stations: one round more at {listed(names[:more], MOST_NAMES)}"
    lower, upper = whole * len(names), (whole + 1) * len(names)
    if isinstance(part, Intervals):
        better = f"sets: {lower} or sets: {upper}" if lower else f"sets: {upper}"
        yield context.finding("rounds", (*part.path, "sets"), message, f"write {better}")
    else:
        lengths = [f"for: {duration_words(count * part.every_ms)}" for count in (lower, upper) if count]
        yield context.finding("rounds", (*part.path, "for"), message, f"write {' or '.join(lengths)}")


def windows(context: CheckContext, part: Windowed) -> Iterator[Problem]:
    """Windows of different lengths are everybody's at once: nobody can be at another station meanwhile."""
    own = next((index for index, station in enumerate(part.stations) if station.time_ms is not None), None)
    if own is None or part.together or len({athlete.group for athlete in context.athletes}) < 2:
        return
    message = "a station with its own time needs everybody at it, and this roster has several start groups"
    hint = "write together: true in the part, and all move as one"
    fix = Fix((*part.path, "together"), "true")
    yield context.finding("plan", (*part.path, "stations", own, "time"), message, hint, fix=fix)


def ladders(context: CheckContext, part: AnyPart) -> Iterator[Problem]:
    """Ladders that come down to nothing before their last round."""
    for index, (station, rounds) in enumerate(zip(part.stations, rounds_at(part), strict=False)):
        target = station.target
        if target is not None and target.step < 0 and target.in_round(rounds) == 0:
            last = int(-(-target.amount // -target.step))
            key = "work" if isinstance(part, ForTime) else "stations"
            message = f"the ladder of {station.move} has nothing left after round {last} of {rounds}"
            yield context.finding("plan", (*part.path, key, index), message, "begin higher, or step down by less")


def least(context: CheckContext, part: Windowed) -> Iterator[Problem]:
    """Options with less than the coach's own least."""
    for index, station in enumerate(part.stations):
        for which, option in enumerate(station.options):
            short = under_least(station, option.target)
            if short is not None:
                path = (*part.path, "stations", index, "options", which)
                message = f"{option.name} is {short[0]}, under the least of {short[1]}"
                yield context.finding("plan", path, message, f"{short[1]} or more, or a smaller least")


def listed_kit(context: CheckContext, part: AnyPart) -> Iterator[Problem]:
    """Kit that the session does not have, and a move's usual kit that nobody wrote down."""
    kit = context.session.kit
    for steps, station in part.moves() if kit else ():
        path = (*part.path, *steps)
        for name in all_kit(station):
            if name not in kit:
                near = nearest(name, kit)
                hint = f"did you mean {near}?" if near else f"add it to the session's kit, such as {name}: 8"
                single = (*path, "kit") if station.kit == ((name, 1),) else ()
                fix = Fix(single, near) if surely(name, near) and context.is_written(single) else None
                yield context.finding("kit", path, f"the session's kit has no {name}", hint, fix=fix)
        usual = context.moves.find(station.move)
        if usual is None or station.kit or context.is_written((*path, "kit")):
            continue
        for name, count in usual.kit if len(usual.kit) == 1 else ():
            if name in kit:
                words = name if count == 1 else f"{{{name}: {count}}}"
                message = f"{station.move} usually needs {name}, and its station has no kit: it is not counted"
                fix = Fix((*path, "kit"), words)
                yield context.finding("kit", path, message, f"write kit: {words}", "note", fix)


def short_kit(context: CheckContext, need: KitNeed) -> Iterator[Problem]:
    """Kit of which there is less than is needed at once, and when that is."""
    if need.has is None or need.needed <= need.has or need.kit not in context.session.kit:
        return
    part = context.session.parts[need.part]
    names = station_names(part.stations)
    where = f" at {listed([names[index] for index in need.stations], MOST_NAMES)}" if need.stations else ""
    key = "stations" if isinstance(part, Windowed) else "work"
    when = f", in interval {need.interval}" if need.interval else ""
    message = f"{need.needed} x {need.kit} are needed at once{where}{when}, and there are {need.has}"
    hint = f"an option without {need.kit}, or {_helps(part)}"
    yield context.finding("kit", (*part.path, key, *need.stations[:1]), message, hint)


def _helps(part: AnyPart) -> str:
    """What makes fewer people need the same kit at once, besides an option."""
    if isinstance(part, Piece) and not part.wave_every_ms:
        waves = "waves: `wave_every: 3:00`, then `floorclock groups SESSION --roster ROSTER`"
        return waves if part.team_size > 1 else f"`in: pairs`, or {waves}"
    if isinstance(part, Windowed) and (part.moves_together or len(part.stations) == 1):
        return "pairs who take turns (`in: pairs`), or two waves: a `rest` station beside it, no `together`, two start groups"
    return "the start groups of `floorclock groups SESSION --roster ROSTER`, which also says what would be enough"


def levels(context: CheckContext, part: AnyPart) -> Iterator[Problem]:
    """Levels of the roster for which a target or a load has no number."""
    for steps, station in part.moves():
        for key, written in (("target", station.target), ("load", station.load)):
            known = dict(written.levels) if written is not None else {}
            without = [athlete for athlete in context.athletes if known and athlete.level not in known]
            if without and any(athlete.level for athlete in without):
                names = listed([athlete.name for athlete in without], MOST_NAMES)
                message = f"no {key} of {station.move} is for the level of {names}: they do the middle one"
                hint = f"add {' and '.join(sorted({a.level for a in without if a.level}))}, or leave it where that is meant"
                yield context.finding("option", (*part.path, *steps, key), message, hint, "note")


def bests(context: CheckContext, part: AnyPart) -> Iterator[Problem]:
    """Who has no best in a move whose load is a percentage of it."""
    for steps, station in part.moves():
        without = [
            athlete.name
            for athlete in context.athletes
            if (load := assign(athlete, station).load) is not None and load.unit is LoadUnit.PERCENT
        ]
        if without:
            message = f"{listed(without, MOST_NAMES)}: no best in {station.move}, so the load stays a percentage"
            hint = f"in the roster, best: {{{station.move}: 80 kg}}"
            yield context.finding("load", (*part.path, *steps, "load"), message, hint)


def wall(context: CheckContext) -> Iterator[Problem]:
    """A screen that cannot hold everybody's name in letters that whoever stands farthest away can read."""
    room = context.session.room
    if room is None or (most := most_names(room, LEAST_MINUTES)) >= max(1, len(context.athletes)):
        return
    far, limits = f"from {room.farthest_mm / 1000:g} m", f"ISO 9241: {LEAST_MINUTES} minutes of arc at least, 20 to 22 are better"
    if not most:
        yield context.finding(
            "wall", ("room",), f"{far} no name can be read on this screen", f"a larger one, or stand nearer ({limits})"
        )
        return
    message = f"{far} {most} names can be read on this screen at once, and there are {len(context.athletes)}"
    hint = f"they are shown on pages; a larger screen, or nearer, shows more at once ({limits})"
    yield context.finding("wall", ("room",), message, hint, "note")
