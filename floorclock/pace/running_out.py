"""When a forecast is worth a flag: rest that will be under the margin in a round still to come.

Invariant: raised at one level and lowered at a clearly lower one, each looked at after a split of the athlete; between two
of them nothing comes or goes, unless the work to come is changed.

The rule of `runs out`, station by station:

- All stations are looked at after each split of the athlete, wherever it was: the drift is theirs, not that of a station. Only
  stations where they had two intervals or more and tapped one, from their second round with a tap in the part on.
- It is raised when the margin goes in some round still to come there with a chance of `RAISE_CHANCE` or more. In the second
  round little is known, so it takes `EARLY_CHANCE` then.
- It is lowered when that chance is under `LOWER_CHANCE`, or when no round is to come.
- The round it names is the first by which the margin is more likely gone than not.
- It is not shown while the latest split there is tight or not finished: that is a flag of its own.
- Where the coach has changed the work since the last split there, what is to come now is looked at once more, and the
  flag is gone at once when the chance is under `WELL_UNDER`. Another margin judges all rounds anew.

A chance comes from the athlete's own splits so far and the class as it was fitted when the interval before was over, so
that it does not matter who else tapped first, and the same flags come out when the class is played again.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from floorclock.pace.holding import all_hold, hold_of, reaches

if TYPE_CHECKING:
    from floorclock.pace.model.forecast import Forecast

RAISE_CHANCE = 0.60
EARLY_CHANCE = 0.70
"""In six simulated worlds (normal, heavy-tailed, blow-ups, learners, missing taps, ladders; 12 to 24 athletes at 1 to 5 stations,
noise of 3 to 8 %, six rounds) eight flags in ten came true of those raised in the second or third round, seven of those
raised later; of the margins that first went in round 4 to 6, seven in ten had been called before."""
LOWER_CHANCE = 0.45
"""Held much longer, a flag is more often wrong than right: of those held at a chance of 0.3 to 0.4, one in three came true."""
WELL_UNDER = 0.30
EVEN = 0.50
LEAST_ROUNDS_TAPPED = 2
EARLY_ROUND = 2


def runs_out(ahead: Sequence[Forecast], stands: bool, round_number: int = EARLY_ROUND + 1) -> bool:
    """Whether the flag stands at a station, given what is to come there, whether it stood before, and the round it is."""
    raise_at = EARLY_CHANCE if round_number <= EARLY_ROUND else RAISE_CHANCE
    return not all_hold(reversed(ahead), 1 - (LOWER_CHANCE if stands else raise_at))


def may_run_out(ahead: Sequence[Forecast]) -> bool:
    """Whether the margin is in danger in what is to come, flag or no flag."""
    return not all_hold(reversed(ahead), 1 - WELL_UNDER)


def margin_goes(ahead: Sequence[Forecast]) -> Forecast | None:
    """The first round by which the margin is more likely gone than not, else the likeliest; None without any."""
    holds = [hold_of(one) for one in ahead]
    for count, one in enumerate(ahead, start=1):
        if not reaches(holds[:count], EVEN):
            return one
    return max(ahead, key=lambda one: one.chance_tight(), default=None)


def soonest(forecast: Forecast) -> tuple[int, float]:
    """Sorts rounds in which the margin goes: the earlier one first, in the same round the surer one."""
    return forecast.slot.round, -forecast.chance_tight()
