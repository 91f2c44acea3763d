"""Whether the work of a plan is for these people: muscles, grip, amounts, experience, what they stay away from.

Invariant: who may do a move is the coach's to say; this only says what the roster and the plan leave open.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping
from datetime import date, timedelta
from fractions import Fraction

from floorclock.errors import Fix, Problem
from floorclock.plan.concerns_pace import piece_ms
from floorclock.plan.document import Path
from floorclock.plan.findings import CheckContext
from floorclock.plan.moves import move_key
from floorclock.plan.names import MOST_NAMES, listed
from floorclock.plan.roster import Athlete, assign
from floorclock.plan.session import Amrap, AnyPart, Windowed
from floorclock.plan.totals import interval_count, volume
from floorclock.plan.work import Station, Unit, amount_said, station_names

BREAK = timedelta(days=14)
UNUSED_SHARE = Fraction(1, 2)
"""Of a limit, the first time and after a break of more than two weeks: common practice, no source. That the first weeks back want
less is published (Caterisano et al. 2019, Strength and Conditioning Journal 41(3):1-23; half in the first week: from memory)."""


def muscles(context: CheckContext, part: Windowed) -> Iterator[Problem]:
    """The same pattern, or the hands, two stations running."""
    stations, names = part.stations, station_names(part.stations)
    for index in range(len(stations) if len(stations) > 2 else len(stations) - 1):
        following = (index + 1) % len(stations)
        if following == 0 and interval_count(part) <= len(stations):
            continue
        here, then = stations[index], stations[following]
        path = (*part.path, "stations", following)
        same = sorted(_patterns(context, here) & _patterns(context, then))
        if same and here.move != then.move:
            message = f"{names[following]} follows {names[index]}, and both are {same[0]}"
            yield context.finding("muscles", path, message, "put a rest or another pattern between them")
        elif not same and _grip(context, here) and _grip(context, then):
            message = f"{names[following]} follows {names[index]}, and both hang on the grip"
            yield context.finding("muscles", path, message, "put a rest or a move without the hands between them", "note")


def _patterns(context: CheckContext, station: Station) -> set[str]:
    known = {context.moves.pattern_of(item.move, item.pattern).casefold() for item in station.items or (station,)}
    return known - {""}


def _grip(context: CheckContext, station: Station) -> bool:
    known = [context.moves.find(item.move) for item in station.items or (station,)]
    return any(move is not None and move.grip for move in known)


def not_for_them(context: CheckContext, part: AnyPart) -> Iterator[Problem]:
    """Moves that somebody has no experience in, or stays away from, without an option that is for them."""
    for steps, station in part.moves():
        path = (*part.path, *steps)
        avoiding = [athlete for athlete in context.athletes if assign(athlete, station).avoided]
        if avoiding:
            verb = "avoids" if len(avoiding) == 1 else "avoid"
            message = f"{listed([person.name for person in avoiding], MOST_NAMES)} {verb} {station.move}, without an option"
            hint = "add an option with another move or pattern" + _such_as(context, station, avoiding)
            yield context.finding("option", path, message, hint)
        names = [athlete.name for athlete in context.athletes if assign(athlete, station).gated]
        if names:
            who = listed(names, MOST_NAMES)
            message = f"{station.move} is guarded, without an open option for {who}, not listed as experienced in it"
            hint = f"add an option that is not guarded{_such_as(context, station, ())}, or `experienced: [{station.move}]`"
            yield context.finding("experience", path, message, f"{hint} where you have seen it done well")
        yield from _unguarded(context, station, path)


def _such_as(context: CheckContext, station: Station, avoiding: list[Athlete] | tuple[()]) -> str:
    """A usual option that is for all of them."""
    usual = context.moves.find(station.move)
    for name in usual.options if usual is not None else ():
        move = context.moves.find(name)
        words = {name.casefold(), move.pattern.casefold()} if move is not None else set()
        if move is not None and not move.guarded and not any(words & athlete.avoid for athlete in avoiding):
            return f", such as {{name: easier, move: {name}}}"
    return ""


def _unguarded(context: CheckContext, station: Station, path: Path) -> Iterator[Problem]:
    """A move that is usually guarded, of which the plan says nothing, and people who are not known to do it well."""
    usual = context.moves.find(station.move)
    if usual is None or not usual.guarded or station.guarded or context.is_written((*path, "guarded")):
        return
    doing = [athlete for athlete in context.athletes if assign(athlete, station).move == station.move]
    names = [athlete.name for athlete in doing if station.move not in athlete.experienced]
    if names:
        message = (
            f"{station.move} is usually only for who does it well; {listed(names, MOST_NAMES)} not listed as experienced in it"
        )
        open_to_all = any(not option.guarded and option.move != station.move for option in station.options)
        hint = "write guarded: true" if open_to_all else f"write guarded: true and an option{_such_as(context, station, ())}"
        fix = Fix((*path, "guarded"), "true") if open_to_all else None
        yield context.finding("experience", path, message, f"{hint}; guarded: false where everybody may", fix=fix)


def amounts(context: CheckContext) -> Iterator[Problem]:
    """More of a move than the coach's limit for one class; the limit is lower the first time and after a break."""
    limits = context.session.volume_limit
    over: dict[tuple[str, Fraction, Fraction, str], list[str]] = {}
    for athlete in (context.athletes or (Athlete(name=""),)) if limits else ():
        done, last = _amounts(context, athlete), _last_done(context, athlete)
        for name, limit in limits.items():
            unused = _unused(context, athlete, last.get(move_key(name)))
            most = limit.amount * (UNUSED_SHARE if unused else 1)
            amount = done.get((move_key(name), limit.unit), Fraction(0))
            if amount > most:
                over.setdefault((name, amount, most, unused), []).append(athlete.name)
    for (name, amount, most, unused), names in over.items():
        who, unit = f"{listed(names, MOST_NAMES)}: " if names != [""] else "", limits[name].unit
        message = f"{who}{amount_said(amount, unit)} of {name}{unused}, over your limit of {amount_said(most, unit)}"
        hint = "less of it, or an option; the first time and after a break it is half your limit (common practice, no source)"
        yield context.finding("volume", ("volume_limit", name), message, hint)


def _unused(context: CheckContext, athlete: Athlete, last: date | None) -> str:
    """Why somebody is not used to a move, as the records and the roster say; empty where they are, or nothing is known."""
    records = context.records
    if records is not None and last is not None:
        return f" after a break since {last}" if records.today - last > BREAK else ""
    if records is not None and athlete.name in records.people:
        return ", which their last classes had none of"
    return " for the first time" if athlete.level == "new" else ""


def _last_done(context: CheckContext, athlete: Athlete) -> dict[str, date]:
    days = sorted(context.records.last_done.items(), key=lambda known: known[1]) if context.records else []
    return {move_key(move): day for (name, move), day in days if name == athlete.name}


def _amounts(context: CheckContext, athlete: Athlete) -> Mapping[tuple[str, Unit], Fraction]:
    """What an athlete does of each move in the class; in an amrap as many rounds as the usual moves make likely."""
    done: dict[tuple[str, Unit], Fraction] = defaultdict(Fraction)
    for worked in volume(context.session, athlete):
        done[move_key(worked.move), worked.unit] += worked.amount
    for part in context.session.parts:
        if isinstance(part, Amrap) and (one_round := piece_ms(context, part, athlete)):
            for work in (assign(athlete, station) for station in part.stations):
                if work.target is not None:
                    done[move_key(work.move), work.target.unit] += work.target.amount * int(part.time_ms / one_round)
    return done
