"""The splits of a class in columns: values that go from process to process at little cost.

Invariant: the splits are those of `clock.tally`, in its order.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from fractions import Fraction

from floorclock.clock.run import PartRun
from floorclock.clock.splits import Status
from floorclock.clock.state import ClassState
from floorclock.clock.tally import can_be_tapped
from floorclock.plan.session import Intervals, Rotation
from floorclock.plan.work import Unit
from floorclock.store.indexing.works import Work, Works

DONE, UNTAPPED, NOT_FINISHED = 0, 1, 2
STATUS = {Status.DONE: DONE, Status.UNTAPPED: UNTAPPED, Status.NOT_FINISHED: NOT_FINISHED}

SplitLine = tuple[int, int, int, int, int, int, int, int | None, int]
"""(part, interval, round, station, number of the work, window, margin, split in ms, status)."""


class WorkList:
    """Each work that is done in a class, by number."""

    def __init__(self) -> None:
        self.works: list[Work] = []
        self._numbers: dict[Work, int] = {}

    def number(self, work: Work) -> int:
        """The number of a work."""
        number = self._numbers.get(work)
        if number is None:
            number = self._numbers[work] = len(self.works)
            self.works.append(work)
        return number


@dataclass(slots=True)
class AthletePart:
    """One athlete in one part: their splits in order, and the flags of each."""

    name: str
    run: PartRun
    lines: list[SplitLine]
    flags: list[int] = field(default_factory=list)


def split_lines(state: ClassState, works: WorkList) -> Iterator[AthletePart]:
    """Every athlete in every part that is measured by splits, as far as there are any."""
    for run in state.runs:
        if isinstance(run.part, Rotation | Intervals):
            reader = _PartLines(state, run, works)
            for name in state.athletes:
                lines = reader.of(name)
                if lines:
                    yield AthletePart(name, run, lines)


class _PartLines:
    """The splits of a part, athlete by athlete; as `clock.tally.athlete_splits` has them."""

    def __init__(self, state: ClassState, run: PartRun, works: WorkList) -> None:
        self._state, self._run = state, run
        self._works, self._numbers = Works(state, run), works
        self._now = run.position_ms(state.now_ms)
        self._windows = [
            (index, one.round, one.end_ms, one.length_ms) for index, one in enumerate(run.timeline.intervals) if one.window >= 0
        ]

    def of(self, name: str) -> list[SplitLine]:
        state, run, part = self._state, self._run, self._run.index
        always = name not in state.absences and name not in state.gone_from
        stations, marks, now = self._works.stations(name), run.marks, self._now
        margins: dict[int, int] = {}
        numbers: dict[tuple[int, int], int] = {}
        known: dict[int, tuple[Fraction | None, str, Unit | None, int]] = {}
        found: list[SplitLine] = []
        for index, round_number, end_ms, length_ms in self._windows:
            mark, station = marks.get((name, index)), stations[index]
            if station is None or (mark is None and (end_ms > now or not (always or state.expected(name, part, index)))):
                continue
            assigned = self._works.assigned(name, station)
            if assigned is None or (mark is None and not can_be_tapped(assigned, length_ms)):
                continue
            margin_ms = margins.get(station)
            if margin_ms is None:
                margin_ms = margins[station] = state.margin_for(name, part, run.part.stations[station])
            if mark is None:
                split_ms, status = None, UNTAPPED
                number = numbers.get((station, round_number))
                if number is None:
                    work = self._works.work(name, station, round_number)
                    assert work is not None
                    number = numbers[station, round_number] = self._numbers.number(work)
            else:
                split_ms, status = mark.split_ms, STATUS[mark.status]
                seen = known.get(station)
                if seen is None or seen[0] is not mark.amount or seen[1] != mark.move or seen[2] is not mark.unit:
                    number = self._numbers.number((mark.move, mark.amount, mark.unit))
                    known[station] = (mark.amount, mark.move, mark.unit, number)
                else:
                    number = seen[3]
            found.append((part, index, round_number, station, number, length_ms, margin_ms, split_ms, status))
        return found
