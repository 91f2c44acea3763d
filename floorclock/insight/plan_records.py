"""What earlier classes say of a roster at a plan, for `check`: who is likely to keep the margin, who did a move last when.

Invariant: the chances are those of `pace.largest.Rounds`, as advice has them; who has no history at a station is left out.
"""

from __future__ import annotations

from datetime import date

from floorclock.clock.state import new_state
from floorclock.clock.tally import whole_part
from floorclock.insight.targets import rounds_ahead
from floorclock.pace.largest import Rounds
from floorclock.pace.model.forecast import fit_class
from floorclock.pace.prior import prior_from
from floorclock.plan.findings import EVEN, Chance, Records
from floorclock.plan.roster import Roster
from floorclock.plan.session import Intervals, Rotation, Session
from floorclock.store.questions import past_classes
from floorclock.store.store import Store


def plan_records(session: Session, roster: Roster, store: Store, today: date) -> Records:
    """What the last classes of these people say of this plan.

    Raises:
        ResourceError: the store refuses.
    """
    state = new_state(session, roster.athletes)
    past = past_classes(store, tuple(state.athletes))
    last: dict[tuple[str, str], date] = {}
    for here in past:
        for split in here.splits:
            last[split.athlete, split.move] = max(here.day, last.get((split.athlete, split.move), here.day))
    prior = prior_from(past)
    pace = fit_class((), prior)
    chances = {}
    for number, part in enumerate(session.parts):
        if not isinstance(part, Rotation | Intervals):
            continue
        run = state.planned_run(number)
        for athlete in state.athletes:
            known = [slot for slot in whole_part(state, run, athlete) if (athlete, slot.move, slot.unit) in prior]
            ahead = rounds_ahead(pace.pace_of(athlete, ()), known)
            chances.update({(number, station, athlete): _chance(rounds) for station, rounds in ahead.items()})
    return Records(today=today, people=frozenset(name for name, _ in last), last_done=last, chances=chances)


def _chance(rounds: Rounds) -> Chance:
    first = next((one.slot.round for one in rounds.ahead if one.chance_tight() > 1 - EVEN), None)
    return Chance(rounds.chance(rounds.next.amount), first)
