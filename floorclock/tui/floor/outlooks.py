"""What the pacing says of everybody, kept up to date beside the running class.

Invariant: nothing is worked out while a tap or a boundary is being shown: `follow` does a slice of what is due when the
floor has time for it. The class is fitted interval by interval, in order, each time to the splits up to that interval; when a
split that a fit rests on is another one (a correction, a late tap), it is fitted again from there on; what a new fit says of a
class is shown of all its people at once.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from importlib import import_module
from itertools import islice
from time import perf_counter
from typing import TYPE_CHECKING, Any, Literal

from floorclock.clock import events
from floorclock.clock.outcome import Outcome
from floorclock.clock.run import PartRun
from floorclock.clock.splits import Coming, Split, Status
from floorclock.clock.state import ClassState
from floorclock.clock.tally import athlete_splits, whole_part
from floorclock.pace.flags import Standing, standing
from floorclock.pace.prior import NO_PRIOR, Prior
from floorclock.plan.session import AnyPart, Rotation, Untapped, Windowed
from floorclock.plan.work import Unit

if TYPE_CHECKING:
    from floorclock.pace.advice import Advice
    from floorclock.pace.model.forecast import Forecast
    from floorclock.pace.pacing import Outlook, PartPacing

PACING = "floorclock.pace.pacing"
"""Brings numpy along, so it is imported once the floor is seen, before anybody taps, and not by the floor's own loop."""
SLICE_S = 0.005
PAUSED_SLICE_S = 0.04
"""While the class is paused nobody is being timed: what the coach changes then may show sooner."""

_OF_SPLITS = (events.Tapped, events.TapTakenBack, events.NotFinished, events.SplitCorrected)
_OF_WORK = (events.TargetChanged, events.OptionChosen, events.Allowed, events.Regrouped, events.Joined, events.Left)
_OF_ALL = (events.WentBack, events.Skipped, events.Stretched, events.PartEnded, events.ClassEnded, events.MarginChanged)

SETTLE_AFTER_MS = 1_500
"""Late taps of an interval are mostly in by then, and the first second of the next belongs to the clock."""

MOST_AHEAD = 60
"""Rounds still to come that are looked at: an hour of minutes. Whoever plans more of them is told of the nearest."""

NO_FLAG = Standing()


@dataclass(frozen=True, slots=True)
class Look:
    """What is to be said of one athlete. Before the first interval is over there is no outlook, only the flags of taps."""

    standing: Standing = NO_FLAG
    outlook: Outlook | None = None

    @property
    def advice(self) -> tuple[Advice, ...]:
        """What to change, the most urgent first."""
        return self.outlook.advice if self.outlook is not None else ()

    @property
    def best(self) -> Advice | None:
        """The advice that a line about the athlete gives: for the station of their flag, else the most urgent."""
        return next((advice for advice in self.advice if advice.station == self.standing.station), next(iter(self.advice), None))

    @property
    def forecasts(self) -> tuple[Forecast, ...]:
        """What is still to come."""
        return self.outlook.forecasts if self.outlook is not None else ()


NOTHING_KNOWN = Look()


class PartLooks:
    """The looks of one part. `step` does the next thing that is due; `news` says whether that changed a look, or all by a fit."""

    def __init__(self, state: ClassState, run: PartRun) -> None:
        self._state, self.run = state, run
        self.looks: dict[str, Look] = {}
        self.news: Literal["", "look", "fit"] = ""
        self._pacing: PartPacing | None = None
        self._settled = -1
        self._due = -1
        self._rests_on: dict[str, tuple[Split, ...]] = {}
        """The splits that the fit was given."""
        self._now: dict[str, tuple[Split, ...]] | None = None
        self._whole: dict[str, tuple[Coming, ...]] = {}
        """All the work of the part by athlete, until something but a tap changes it."""
        self._waiting: dict[str, None] = {}
        self._round: dict[str, Look] = {}
        self._left: list[str] = []
        self._after_fit = False
        self.look_at_all()

    @property
    def busy(self) -> bool:
        """Whether anything is left to be done of what was due at the last step."""
        return bool(self._waiting or self._left or self._due > self._settled)

    def look_again(self, name: str, *, same_work: bool = False) -> None:
        """One athlete's splits are other ones; their work and margin may be too, unless it is said that they are the same."""
        self._waiting[name] = None
        self._now = None
        if not same_work:
            self._whole.pop(name, None)

    def look_at_all(self) -> None:
        """Everybody's splits, work and margin may be other ones."""
        self._whole.clear()
        self._start_round()

    def _start_round(self) -> None:
        self._left, self._round = [athlete.name for athlete in self._state.present], {}
        self._now = None

    def start_over(self) -> None:
        """The fit rests on something else than it should (history that came late): all of it again."""
        self._pacing, self._settled, self._now = None, -1, None

    def step(self, now_ms: int, pacing_of: Callable[[AnyPart], PartPacing | None] | None) -> bool:
        """Does the next thing that is due: one fit, or a look at one athlete. False where nothing is to be done now.

        `pacing_of` answers None as long as the pacing is not there; it is itself None where it will never be.
        """
        self.news = ""
        self._due = self._last_over(now_ms) if pacing_of is not None else -1
        self._settled = min(self._settled, self._due)
        if pacing_of is not None and self._due > self._settled:
            return self._settle(pacing_of)
        if self._waiting:
            self._look_at_one(next(iter(self._waiting)))
            return True
        if self._left:
            self._look_in_round(self._left.pop())
            return True
        return False

    def _last_over(self, now_ms: int) -> int:
        """The last work interval to be fitted by now, -1 for none: those that are over, once their late taps had time to come.

        A part that the coach cut short counts as far as it came.
        """
        run, state = self.run, self._state
        wait_ms = 0 if state.paused or state.over else SETTLE_AFTER_MS
        over = self._over_at(run.position_ms(now_ms))
        if run.ended_ms is not None:
            waited = over if now_ms - run.ended_ms >= wait_ms else -1
        else:
            waited = self._over_at(run.position_ms(now_ms) - wait_ms)
        return max(waited, min(self._settled, over))

    def _over_at(self, position_ms: int) -> int:
        run = self.run
        index = run.timeline.interval_at(position_ms)
        if run.ended_ms is not None:
            begun = (at for at, interval in enumerate(run.timeline.intervals) if interval.start_ms < position_ms)
            index = max(begun, default=-1) + 1
        before = range((index or 0) - 1, -1, -1)
        return next((at for at in before if run.timeline.intervals[at].window >= 0), -1)

    def _settle(self, pacing_of: Callable[[AnyPart], PartPacing | None]) -> bool:
        if self._pacing is None:
            self._pacing = pacing_of(self.run.part)
            if self._pacing is None:
                return False
        if self._now is None:
            self._now = {name: self._splits(name) for name in self._state.athletes}
            self._rewind(self._now)
        interval = self._work_after(self._settled)
        taken = {name: _through(splits, interval) for name, splits in self._now.items()}
        self._pacing.settle(interval, [split for splits in taken.values() for split in splits])
        self._settled, self._rests_on = interval, taken
        if self._settled == self._due:
            self._start_round()
            self._waiting, self._after_fit = {}, True
        return True

    def _work_after(self, interval: int) -> int:
        following = range(interval + 1, len(self.run.timeline.intervals))
        return next(at for at in following if self.run.timeline.intervals[at].window >= 0)

    def _rewind(self, now: Mapping[str, tuple[Split, ...]]) -> None:
        """Takes the fit back to before the first split that is not what it was when the fit was made."""
        changed = [
            split.interval
            for name, splits in now.items()
            for split in set(_through(splits, self._settled)) ^ set(_through(self._rests_on.get(name, ()), self._settled))
        ]
        if changed:
            self._settled = min(changed) - 1

    def _look_at_one(self, name: str) -> None:
        del self._waiting[name]
        if name in self._state.away or name not in self._state.athletes:
            return
        look = self.looks[name] = self._look(name)
        self.news = "look"
        if self._left:
            self._round[name] = look

    def _look_in_round(self, name: str) -> None:
        # Whoever was looked at since the round began has their look.
        if name not in self._round:
            self._round[name] = self._look(name)
        if not self._left:
            self.looks, self._round = self._round, {}
            self.news, self._after_fit = "fit" if self._after_fit else "look", False

    def _look(self, name: str) -> Look:
        splits = self._splits(name)
        if self._pacing is None or self._settled < 0:
            return Look(standing(splits))
        self._rewind({name: splits})
        outlook = self._pacing.look(splits, self._work_of(name), self._ahead_of(name), self._state.athletes[name])
        return Look(outlook.standing, outlook)

    def _work_of(self, name: str) -> tuple[Coming, ...]:
        if name not in self._whole:
            self._whole[name] = tuple(whole_part(self._state, self.run, name))
        return self._whole[name]

    def _ahead_of(self, name: str) -> tuple[Coming, ...]:
        """What `tally.coming` says, the nearest of it, without asking again what the work is: taps are many."""
        run, position = self.run, self.run.position_ms(self._state.now_ms)
        ahead = (
            slot
            for slot in self._work_of(name)
            if run.timeline.intervals[slot.interval].end_ms > position
            and (name, slot.interval) not in run.marks
            and self._state.expected(name, run.index, slot.interval)
        )
        return tuple(islice(ahead, MOST_AHEAD))

    def _splits(self, name: str) -> tuple[Split, ...]:
        return tuple(athlete_splits(self._state, self.run, name))


def _through(splits: tuple[Split, ...], interval: int) -> tuple[Split, ...]:
    return tuple(split for split in splits if split.interval <= interval)


class Outlooks:
    """The looks of one class, in the part that is on the board.

    Whoever folds events tells of them (`concerns`). `number` grows whenever a look is another one, `fits` whenever the
    class was fitted anew and everybody looked at. `bring` is asked to have the pacing imported, and says whether it is.
    """

    def __init__(
        self,
        state: ClassState,
        *,
        bring: Callable[[], bool] = lambda: True,
        pacing_of: Callable[[AnyPart, Prior, int], PartPacing] | None = None,
    ) -> None:
        self._state, self._prior = state, NO_PRIOR
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
        run = last_measured(self._state)
        if self._part is None:
            return run is None or not is_paced(run.part)
        return self._part.run is run and not self._part.busy

    @property
    def advising(self) -> bool:
        """Whether the part that is looked at still runs: what is advised in it can only be given then."""
        return self._part is not None and self._part.run is self._state.run

    def take_prior(self, prior: Prior) -> None:
        """History that came late: what is said already rests on it too."""
        if prior != self._prior:
            self._prior = prior
            if self._part is not None:
                self._part.start_over()

    def of(self, name: str) -> Look:
        """What is to be said of an athlete now."""
        return self._part.looks.get(name, NOTHING_KNOWN) if self._part is not None else NOTHING_KNOWN

    def concerns(self, event: events.Event, outcome: Outcome) -> None:
        """An event was folded: who it concerns is looked at again, at the next `follow`."""
        if self._part is None or not outcome.took_effect:
            return
        if isinstance(event, _OF_SPLITS):
            self._part.look_again(outcome.athlete, same_work=True)
        elif isinstance(event, _OF_WORK) or (isinstance(event, events.MarginChanged) and event.athlete):
            self._part.look_again(outcome.athlete)
        elif isinstance(event, _OF_ALL):
            self._part.look_at_all()

    def follow(self, now_ms: int, slice_s: float | None = None) -> None:
        """Does what is due, as much as fits into a slice of time (one step at least); the rest waits for the next call."""
        if slice_s is None:
            slice_s = PAUSED_SLICE_S if self._state.paused else SLICE_S
        run = last_measured(self._state)
        shown = run if run is not None and is_paced(run.part) else None
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


def is_paced(part: AnyPart) -> bool:
    """Whether the pacing says anything of a part."""
    return isinstance(part, Windowed)


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
    """While an open part or a rest runs the board keeps showing the part before it."""
    return next((run for run in reversed(state.runs) if not isinstance(run.part, Untapped)), None)
