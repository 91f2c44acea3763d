"""What the pacing says of everybody, kept up to date beside the running class.

Invariant: nothing is worked out while a tap or a boundary is being shown: `follow` does a slice of what is due when the
floor has time for it, and what a new fit says of a class is shown of all its people at once.
"""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from importlib import import_module
from time import perf_counter
from typing import TYPE_CHECKING, Any

from floorclock.clock.events import (
    Allowed,
    ClassEnded,
    Event,
    Joined,
    Left,
    MarginChanged,
    NotFinished,
    OptionChosen,
    PartEnded,
    Regrouped,
    Skipped,
    SplitCorrected,
    Stretched,
    Tapped,
    TapTakenBack,
    TargetChanged,
    WentBack,
)
from floorclock.clock.outcome import Outcome
from floorclock.clock.run import PartRun
from floorclock.clock.splits import Coming, Split, Status
from floorclock.clock.state import ClassState
from floorclock.pace.prior import NO_PRIOR, Prior
from floorclock.plan.session import AnyPart, Intervals, Rotation
from floorclock.plan.work import Unit
from floorclock.tui.floor.part_looks import NOTHING_KNOWN, Look, PartLooks

if TYPE_CHECKING:
    from floorclock.pace.pacing import PartPacing

PACING = "floorclock.pace.pacing"
"""Brings numpy along, so it is imported when the first interval is over, and not by the floor's own loop."""
SLICE_S = 0.005
PAUSED_SLICE_S = 0.04
"""While the class is paused nobody is being timed: what the coach changes then may show sooner."""

_OF_SPLITS = (Tapped, TapTakenBack, NotFinished, SplitCorrected)
_OF_WORK = (
    TargetChanged,
    OptionChosen,
    Allowed,
    Regrouped,
    Joined,
    Left,
)
_OF_ALL = (
    WentBack,
    Skipped,
    Stretched,
    PartEnded,
    ClassEnded,
    MarginChanged,
)


class Outlooks:
    """The looks of one class, in the part that is on the board.

    Whoever folds events tells of them (`concerns`). `number` grows whenever a look is another one, `fits` whenever the
    class was fitted anew and everybody looked at. `bring` is asked to have the pacing imported, and says whether it is.
    """

    def __init__(
        self,
        state: ClassState,
        prior: Prior = NO_PRIOR,
        *,
        bring: Callable[[], bool] = lambda: True,
        pacing_of: Callable[[AnyPart, Prior, int], PartPacing] | None = None,
    ) -> None:
        self._state, self._prior = state, prior
        self.bring = bring
        self.without_pacing = False
        """The pacing cannot be had on this machine: flags of taps are all there is."""
        self._pacing_of = pacing_of or _new_pacing
        self._part: PartLooks | None = None
        self.number = 0
        self.fits = 0

    @property
    def settled(self) -> bool:
        """Whether everything that was due at the last `follow` has been worked out."""
        if self._part is None:
            return not _is_paced(last_measured(self._state))
        return self._part.run is last_measured(self._state) and not self._part.busy

    @property
    def prior(self) -> Prior:
        """What earlier classes say."""
        return self._prior

    def take_prior(self, prior: Prior) -> None:
        """History that came late: what is said already rests on it too."""
        if prior != self._prior:
            self._prior = prior
            if self._part is not None:
                self._part.start_over()

    def of(self, name: str) -> Look:
        """What is to be said of an athlete now."""
        return self._part.looks.get(name, NOTHING_KNOWN) if self._part is not None else NOTHING_KNOWN

    def concerns(self, event: Event, outcome: Outcome) -> None:
        """An event was folded: who it concerns is looked at again, at the next `follow`."""
        if self._part is None or not outcome.took_effect:
            return
        if isinstance(event, _OF_SPLITS):
            self._part.look_again(outcome.athlete, same_work=True)
        elif isinstance(event, _OF_WORK) or (isinstance(event, MarginChanged) and event.athlete):
            self._part.look_again(outcome.athlete)
        elif isinstance(event, _OF_ALL):
            self._part.look_at_all()

    def follow(self, now_ms: int, slice_s: float | None = None) -> None:
        """Does what is due, as much as fits into a slice of time (one step at least); the rest waits for the next call."""
        if slice_s is None:
            slice_s = PAUSED_SLICE_S if self._state.paused else SLICE_S
        run = last_measured(self._state)
        shown = run if _is_paced(run) else None
        if (self._part.run if self._part else None) is not shown:
            self._part = PartLooks(self._state, shown) if shown is not None else None
            self.number, self.fits = self.number + 1, self.fits + 1
        if self._part is None:
            return
        until_s = perf_counter() + slice_s
        while self._part.step(now_ms, None if self.without_pacing else self._pacing):
            if self._part.news:
                self.number += 1
                self.fits += self._part.news == "fit"
            if perf_counter() >= until_s:
                return

    def _pacing(self, part: AnyPart) -> PartPacing | None:
        return self._pacing_of(part, self._prior, self._state.session.confidence) if self.bring() else None


def _is_paced(run: PartRun | None) -> bool:
    return run is not None and isinstance(run.part, Rotation | Intervals)


def _new_pacing(part: AnyPart, prior: Prior, confidence: int) -> PartPacing:
    pacing: PartPacing = import_module(PACING).PartPacing(part, prior=prior, confidence=confidence)
    return pacing


def bring_pacing() -> str:
    """Imports the pacing and has it look at an invented athlete: its first look takes the longest. For a thread.

    Answers what is wrong where it cannot be had (arithmetic that is not installed, or not for this machine); flags go on
    without forecasts then.
    """
    try:
        pacing: PartPacing = import_module(PACING).PartPacing(Rotation(title="", every_ms=1_000, work=(), rounds=1))
    except ImportError as error:
        return str(error).partition("\n")[0]
    known: dict[str, Any] = {"athlete": "", "part": 0, "interval": 0, "round": 1, "station": 0}
    known |= {"window_ms": 1_000, "margin_ms": 0}
    work: dict[str, Any] = {"move": "work", "amount": Fraction(1), "unit": Unit.REPS}
    split = Split(**known, **work, status=Status.DONE, split_ms=500)
    pacing.settle(0, [split])
    pacing.look([split], [Coming(**known, **work)], [])
    return ""


def last_measured(state: ClassState) -> PartRun | None:
    """While an open part runs the board keeps showing the part before it."""
    return next((run for run in reversed(state.runs) if run.part.kind != "open"), None)
