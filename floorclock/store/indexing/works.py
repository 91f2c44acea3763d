"""Who does what where in a part, looked up once for each athlete and station.

Invariant: every answer is the one that `ClassState` gives; it stands until an event changes the state.
"""

from __future__ import annotations

from fractions import Fraction

from floorclock.clock.run import PartRun
from floorclock.clock.state import ClassState
from floorclock.plan.roster import Assignment, assign
from floorclock.plan.work import Unit

Work = tuple[str, Fraction | None, Unit | None]
"""(move, amount, unit)."""


class Works:
    """The work of a part that is run, as things stand now."""

    def __init__(self, state: ClassState, run: PartRun) -> None:
        self._state = state
        self._run = run
        self._places: dict[int, list[int | None]] = {}
        self._here: dict[str, list[int | None]] = {}
        self._assigned: dict[tuple[str, int], Assignment | None] = {}
        self._as_planned: dict[int, Assignment | None] = {}
        self._steady: dict[str, dict[int, Work]] = {}

    def stations(self, name: str) -> list[int | None]:
        """The station of an athlete in each interval; None where nobody works."""
        here = self._here.get(name)
        if here is None:
            if name in self._state.groups:
                here = self._stations(name)
            else:
                group = self._state.athletes[name].group
                if group not in self._places:
                    self._places[group] = self._stations(name)
                here = self._places[group]
            self._here[name] = here
        return here

    def _stations(self, name: str) -> list[int | None]:
        return [self._state.station_of(name, self._run, index) for index in range(len(self._run.timeline.intervals))]

    def assigned(self, name: str, station: int) -> Assignment | None:
        """What an athlete does at a station; None for a rest."""
        key = (name, station)
        if key not in self._assigned:
            planned, athlete = self._run.part.stations[station], self._state.athletes[name]
            if athlete.options or athlete.targets or planned.guarded:
                self._assigned[key] = None if planned.is_rest else assign(athlete, planned)
            else:
                if station not in self._as_planned:
                    self._as_planned[station] = None if planned.is_rest else assign(athlete, planned)
                self._assigned[key] = self._as_planned[station]
        return self._assigned[key]

    def steady(self, name: str) -> dict[int, Work]:
        """What is known already of an athlete's work, where it is the same in each round; by station."""
        found = self._steady.get(name)
        if found is None:
            found = self._steady[name] = {}
        return found

    def work(self, name: str, station: int, round_number: int) -> Work | None:
        """The same with the amount of a round."""
        steady = self.steady(name)
        if station in steady:
            return steady[station]
        assigned = self.assigned(name, station)
        if assigned is None:
            return None
        target = assigned.target
        if target is None:
            found: Work = (assigned.move, None, None)
        elif target.step or target.amount < 0:
            # A ladder: another amount in each round.
            return assigned.move, target.in_round(round_number), target.unit
        else:
            found = (assigned.move, target.amount, target.unit)
        steady[station] = found
        return found
