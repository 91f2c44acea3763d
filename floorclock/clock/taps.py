"""What a tap means, by the kind of part and the moment it was stamped.

Invariant: no tap is lost and none counts twice. A tap that changes nothing says so; the journal keeps it all the same.
"""

from __future__ import annotations

from itertools import pairwise
from math import inf

from floorclock.clock.outcome import Outcome, What
from floorclock.clock.run import PartRun, TakenTap
from floorclock.clock.splits import Status
from floorclock.clock.state import ClassState
from floorclock.plan.session import Amrap, ForTime, Untapped, Windowed


def tap(state: ClassState, name: str, at_ms: int) -> Outcome:
    """Folds a tap in."""
    if name not in state.athletes:
        return Outcome(What.UNKNOWN, name)
    if name in state.away:
        return Outcome(What.AWAY, name)
    run = None if state.ended_by_coach else _run_of_tap(state, at_ms)
    if run is None or isinstance(run.part, Untapped):
        return Outcome(What.NOTHING_TO_TAP, name)
    taken = _split if isinstance(run.part, Windowed) else _result
    return taken(state, run, run.recorded_as(name), at_ms)


STILL_FRESH_MS = 20_000
"""A tap of another interval than the running one can be taken back this long; what is older, F3 corrects."""


def take_back(state: ClassState, name: str, at_ms: int) -> Outcome:
    """Undoes the last tap that counted: anybody's, or that of one athlete; none of an interval long gone."""
    taken = last_taken(state, name, at_ms)
    if isinstance(taken, Outcome):
        return taken
    run = state.run_of(taken.part)
    assert run is not None
    del state.taken[taken.place]
    undone = run.marks.get((taken.athlete, taken.interval)) if taken.lap_ms is None else None
    if taken.lap_ms is not None:
        laps = run.laps.get(taken.athlete, [])
        if taken.lap_ms in laps:
            laps.remove(taken.lap_ms)
        if run.finishes.get(taken.athlete) == taken.lap_ms:
            del run.finishes[taken.athlete]
    else:
        run.set_mark(taken.athlete, taken.interval, taken.before)
    mark = undone.split_ms if undone is not None else taken.lap_ms
    return Outcome(What.TAKEN_BACK, taken.athlete, mark, part=taken.part, interval=taken.interval)


def last_taken(state: ClassState, name: str, at_ms: int) -> TakenTap | Outcome:
    """The last tap that can still be taken back, anybody's or one athlete's; or why there is none."""
    taken = next((tap for tap in reversed(state.taken.values()) if not name or tap.athlete == name), None)
    run = state.run_of(taken.part) if taken is not None else None
    if taken is None or run is None:
        return Outcome(What.NOTHING_TO_TAKE_BACK, name)
    here = state.run is run and run.interval_at(at_ms) == run.interval_at(taken.at_ms)
    if not here and at_ms - taken.at_ms > STILL_FRESH_MS:
        return Outcome(What.REFUSED, taken.athlete, because="that tap is of an earlier interval; F3 corrects it")
    return taken


SOON_MS = 20_000
"""A round of an amrap is hardly ever shorter (common practice, no source)."""


def too_quick_ms(state: ClassState, name: str, at_ms: int) -> int | None:
    """How soon after their last round a tap in an amrap comes, where that is hardly another round; None where it may be one."""
    run = state.run
    if run is None or not isinstance(run.part, Amrap) or name not in state.athletes:
        return None
    name = run.recorded_as(name)
    laps, time = run.laps.get(name, []), _own_time_ms(state, run, name, at_ms)
    if not laps or time is None:
        return None
    since, shortest = time - laps[-1], min(after - before for before, after in pairwise((0, *laps)))
    return since if state.session.tap_grace_ms < since < min(SOON_MS, shortest // 2) else None


def _run_of_tap(state: ClassState, at_ms: int) -> PartRun | None:
    """The part a tap belongs to: the one that ran at that time, or one that ended within the grace before it."""
    for run in reversed(state.runs):
        if run.begun_ms > at_ms:
            continue
        if run.ended_ms is None or at_ms < run.ended_ms:
            if isinstance(run.part, Untapped) or run.position_ms(at_ms) < 0:
                return _just_ended(state, at_ms) or run
            return run
        break
    return _just_ended(state, at_ms)


def _just_ended(state: ClassState, at_ms: int) -> PartRun | None:
    for run in reversed(state.runs):
        if run.ended_ms is not None and not isinstance(run.part, Untapped):
            return run if 0 <= at_ms - run.ended_ms <= state.session.tap_grace_ms else None
    return None


def _split(state: ClassState, run: PartRun, name: str, at_ms: int) -> Outcome:
    assert isinstance(run.part, Windowed)
    if run.part.tap == "none":
        return Outcome(What.NOTHING_TO_TAP, name)
    position = run.position_ms(at_ms)
    if position < 0:
        return Outcome(What.NOT_STARTED, name)
    index = run.timeline.interval_at(position)
    began_ms = at_ms - position + run.timeline.intervals[index].start_ms if index is not None else run.ended_ms or at_ms
    before = len(run.timeline.intervals) - 1 if index is None else index - 1
    # After going back, the interval before this one did not end just now.
    follows_on = index is None or run.interval_at(began_ms - 1) == before
    if follows_on and _credits(state, run, name, before, at_ms - began_ms):
        return _take(state, run, name, before, run.timeline.intervals[before].length_ms, at_ms, credited=True)
    if index is None:
        return Outcome(What.NOTHING_TO_TAP, name)
    if state.assignment(name, run, index) is None:
        return Outcome(What.RESTING, name)
    if not state.expected(name, run.index, index) and state.out_after(name, run.index) is not None:
        return Outcome(What.OUT, name)
    mark = run.marks.get((name, index))
    if mark is not None and mark.status is Status.DONE:
        return Outcome(What.ALREADY, name, mark.split_ms, part=run.index, interval=index)
    return _take(state, run, name, index, position - run.timeline.intervals[index].start_ms, at_ms)


def _credits(state: ClassState, run: PartRun, name: str, interval: int, since_ms: int) -> bool:
    """True when a tap `since_ms` after a boundary speaks of the interval before it (DESIGN, section 4)."""
    if interval < 0 or since_ms > state.session.tap_grace_ms or interval in run.cut_short:
        return False
    if (name, interval) in run.marks or not state.expected(name, run.index, interval):
        return False
    if state.assignment(name, run, interval) is None:
        return False
    shortest_ms = run.shortest_split_ms(name)
    return shortest_ms is None or shortest_ms > since_ms


def _take(
    state: ClassState, run: PartRun, name: str, interval: int, split_ms: int, at_ms: int, *, credited: bool = False
) -> Outcome:
    taken = TakenTap(name, run.index, interval, at_ms, run.marks.get((name, interval)))
    state.taken[taken.place] = taken
    run.set_mark(name, interval, state.mark(name, run, interval, Status.DONE, split_ms, credited=credited))
    what = What.CREDITED if credited else What.COUNTED
    return Outcome(what, name, split_ms, run.timeline.intervals[interval].length_ms - split_ms, run.index, interval)


def _own_time_ms(state: ClassState, run: PartRun, name: str, at_ms: int) -> int | None:
    """The time since this athlete's own start, negative before it; None once their own cap is over, but for the grace."""
    time = run.position_ms(at_ms) - state.start_delay_ms(name, run)
    last_start_ms = max(run.timeline.plan.waves_ms, default=0)
    cap_ms = (run.timeline.length_ms or 0) - last_start_ms
    return min(time, cap_ms) if time <= cap_ms + state.session.tap_grace_ms else None


def _rounds(state: ClassState, run: PartRun, name: str) -> float:
    """How many rounds are tapped until the finish: none where one tap is the finish, without end in an amrap."""
    if isinstance(run.part, Amrap):
        return inf
    if not isinstance(run.part, ForTime) or run.part.tap == "finish":
        return 0
    choice = state.choice_of(name, run.index)
    return choice.rounds if choice and choice.rounds else run.part.rounds


def _result(state: ClassState, run: PartRun, name: str, at_ms: int) -> Outcome:
    """A round or a finish; in a paced part, where they stopped."""
    if name in run.finishes:
        return Outcome(What.ALREADY, name, run.finishes[name], part=run.index)
    time = _own_time_ms(state, run, name, at_ms)
    if time is None:
        return Outcome(What.NOTHING_TO_TAP, name)
    if time <= 0:
        return Outcome(What.NOT_STARTED, name)
    rounds, laps = _rounds(state, run, name), run.laps.setdefault(name, [])
    if rounds:
        since = time - laps[-1] if laps else inf
        if isinstance(run.part, ForTime) and since < run.part.round_rest_ms:
            return Outcome(What.RESTING, name)
        if since <= state.session.tap_grace_ms:
            return Outcome(What.TOO_SOON, name, laps[-1], part=run.index)
        laps.append(time)
    if len(laps) >= rounds:
        run.finishes[name] = time
        if isinstance(run.part, ForTime):
            run.not_finished.discard(name)
    taken = TakenTap(name, run.index, 0, at_ms, lap_ms=time)
    state.taken[taken.place] = taken
    return Outcome(What.COUNTED, name, time, part=run.index, interval=0)
