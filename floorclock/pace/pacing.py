"""One athlete after the other: the flags that stand, what is to come, and what to change.

Invariant: the class is fitted when an interval is over, so that what is said of an athlete after a tap does not depend on
who else tapped first; played again from the journal it comes out the same.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from floorclock.clock.splits import Coming, Split
from floorclock.pace.advice import Advice
from floorclock.pace.flags import Flag, Standing
from floorclock.pace.forecast import AthletePace, Forecast
from floorclock.pace.prior import NO_PRIOR, Prior
from floorclock.plan.session import AnyPart


@dataclass(frozen=True, slots=True, kw_only=True)
class Outlook:
    """What is to be said of one athlete in one part now.

    `flags` are those each split raised, by interval; `standing` the one that stands. `forecasts` are all intervals still
    to come, in order; `runs_out` the first of them in which the margin goes, while that flag stands. `advice` is what to
    change, the most urgent station first: at most one for each station.
    """

    standing: Standing = field(default_factory=Standing)
    flags: Mapping[int, tuple[Flag, ...]] = field(default_factory=dict)
    forecasts: tuple[Forecast, ...] = ()
    runs_out: Forecast | None = None
    advice: tuple[Advice, ...] = ()
    pace: AthletePace | None = None


class PartPacing:
    """Everybody's pace in one part, kept up to date by whoever runs or reads the class."""

    def __init__(self, part: AnyPart, *, prior: Prior = NO_PRIOR, confidence: int = 90) -> None:
        """`confidence` in percent, as in `Session`."""
        raise NotImplementedError

    def settle(self, interval: int, splits: Sequence[Split]) -> None:
        """An interval is over: fits the class to all splits of the part up to and with it."""
        raise NotImplementedError

    def look(self, splits: Sequence[Split], whole: Sequence[Coming], coming: Sequence[Coming]) -> Outlook:
        """One athlete now: their splits in the part so far, all its work for them, and what of that is still to come."""
        raise NotImplementedError


def look_back(
    part: AnyPart,
    splits: Sequence[Split],
    whole: Mapping[str, Sequence[Coming]],
    coming: Mapping[str, Sequence[Coming]],
    *,
    prior: Prior = NO_PRIOR,
    confidence: int = 90,
) -> dict[str, Outlook]:
    """Every athlete of a part that was run or read whole, interval by interval: what the floor would have said at its end."""
    raise NotImplementedError
