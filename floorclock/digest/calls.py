"""Who to talk to, and why in words.

Invariant: one call for each flagged athlete and part, of several blocks of the same work one for each move. What happened comes
before what is only forecast, and a number never stands beside the reason of another station.
"""

from __future__ import annotations

from collections.abc import Container, Sequence

from floorclock.clock.splits import Status
from floorclock.digest.class_digest import AthleteDigest, Call, FlaggedSplit, PartDigest
from floorclock.digest.words import STEADY_MS, drift_words
from floorclock.pace.advice import Way
from floorclock.pace.flags import URGENCY, Flag, most_urgent
from floorclock.pace.sayable import in_a_row
from floorclock.plan.names import listed

RESTS_SHOWN = 8


def calls(parts: Sequence[PartDigest]) -> tuple[Call, ...]:
    """One for each flagged athlete and part, by urgency; within it those with the least rest first.

    Of the blocks of the same work only the first of these for each move.
    """
    found = []
    recorded = [part for part in parts if part.athletes]
    several = sum(part.is_timed_by_splits for part in recorded) > 1
    for part in recorded:
        where = part.title if several and part.is_timed_by_splits else ""
        for athlete in part.athletes:
            flag = most_urgent(athlete.flags)
            if flag is not None:
                work, because, advice = _words(athlete, flag, part)
                call = Call(athlete.name, part.index, flag, because, advice, athlete.runs_out is None, where, athlete.team)
                found.append((URGENCY[flag], athlete.least_rest_ms or 0, (part.same_work, athlete.name, work), call))
    first: dict[tuple[tuple[str | int, ...], str, str], Call] = {}
    for _, _, what, call in sorted(found, key=lambda item: item[:2]):
        first.setdefault(what, call)
    return tuple(first.values())


def _words(athlete: AthleteDigest, flag: Flag, part: PartDigest) -> tuple[str, str, str]:
    """The work that it is about, the reason, and what to change."""
    if not athlete.splits:
        return "", f"{part.title} not finished", ""
    helps = {advice.station: advice for advice in athlete.advice if advice.way in (Way.LESS, Way.OPTION)}
    places, because = _reason(athlete, flag, part, helps)
    station = next((place for place in places if place in helps), next(iter(helps), None))
    work = part.work_at(athlete, places[0])
    if station is None:
        return work, because, ""
    advice, name = helps[station], part.work_of(helps[station])
    if station in places:
        return work, because, f"{name}: {advice.words}" if len(athlete.stations) > 1 else advice.words
    # The number is of another station than the reason, so it comes with a reason of its own.
    return work, because, f"{name}, {advice.because.replace(';', ',')}: {advice.words}"


def _reason(athlete: AthleteDigest, flag: Flag, part: PartDigest, helps: Container[int]) -> tuple[list[int], str]:
    """The stations that the reason is about, and the reason; of several stations one that something helps at comes first."""
    if flag is Flag.FADING:
        worst = max(
            athlete.stations, key=lambda figure: (figure.station in helps and (figure.slope_ms or 0) > 0, figure.slope_ms or 0.0)
        )
        slower = drift_words(worst.slope_ms) if (worst.slope_ms or 0) >= STEADY_MS else "slower for some rounds"
        return [worst.station], f"{slower} at {part.work_at(athlete, worst.station)}: {_rests(athlete, worst.station)}"
    if flag is Flag.RUNS_OUT and athlete.runs_out is not None:
        slot = athlete.runs_out.slot
        rests = f"{_rests(athlete, slot.station)} at {part.work_at(athlete, slot.station)}"
        return [slot.station], f"{rests}; under {slot.margin_ms / 1000:g} by round {slot.round}"
    raised = [taken for taken in athlete.splits if flag in taken.flags]
    if flag is Flag.NOT_FINISHED:
        rounds: dict[str, list[str]] = {}
        for taken in raised:
            rounds.setdefault(part.work_name(taken.split.station, taken.split.move), []).append(str(taken.split.round))
        places = [f"round{'s' * (len(which) > 1)} {listed(which)} at {work}" for work, which in rounds.items()]
        return [taken.split.station for taken in raised], f"{', '.join(places)} not finished"
    return _tight_reason(athlete, raised, part, helps)


def _tight_reason(
    athlete: AthleteDigest, raised: Sequence[FlaggedSplit], part: PartDigest, helps: Container[int]
) -> tuple[list[int], str]:
    by_station: dict[int, list[FlaggedSplit]] = {}
    for taken in raised:
        by_station.setdefault(taken.split.station, []).append(taken)
    worst = max(by_station, key=lambda station: (station in helps, len(by_station[station])))
    first, *_ = here = by_station[worst]
    tapped = sum(taken.split.split_ms is not None for taken in athlete.splits_at(worst))
    margin = f"{first.split.margin_ms / 1000:g} s"
    work = part.work_at(athlete, worst)
    words = f"under the margin of {margin} in {len(here)} of {tapped} rounds at {work}: {_rests(athlete, worst)}"
    others = [part.work_at(athlete, station) for station in by_station if station != worst]
    return [worst], f"{words}; also at {', '.join(others)}" if others else words


def _rests(athlete: AthleteDigest, station: int) -> str:
    """`rest 24, 21 | 28, ?, 12 s`: whole seconds, rounded down, `?` where nobody tapped, a bar where the target changed."""
    here = [taken for taken in athlete.splits_at(station) if taken.split.status is not Status.NOT_FINISHED]
    shown = here[-RESTS_SHOWN:]
    rests = ["?" if taken.split.rest_ms is None else str(taken.split.rest_ms // 1000) for taken in shown]
    return f"rest {in_a_row(rests, [taken.changed for taken in shown])} s"
