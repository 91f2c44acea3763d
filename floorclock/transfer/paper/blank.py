"""An empty sheet for a plan: every row that a class by it has, to be filled in on paper or on a screen.

Invariant: filled in or not, what comes out can be read by `read_intake` for the same plan.
"""

from __future__ import annotations

from collections.abc import Iterator

from floorclock.clock.run import PartRun
from floorclock.live.plan_files import Plan
from floorclock.plan.session import Intervals as IntervalsPart
from floorclock.plan.session import Rotation, Untapped
from floorclock.plan.work import station_names
from floorclock.transfer.cells import row
from floorclock.transfer.paper.places import Places
from floorclock.transfer.paper.table import NEEDED


def blank_sheet(plan: Plan) -> str:
    """The sheet as CSV (RFC 4180), in the order of the class: interval by interval, and in each the athletes as on the board.

    A part with a result has one row for each athlete: the time goes in `split`, whole rounds in `round`, the rest in `reps`.
    Of a team any row will do; the others stay empty.
    """
    places = Places(plan)
    with_results = any(not isinstance(part, Untapped | Rotation | IntervalsPart) for part in plan.session.parts)
    columns = (*NEEDED, "reps") if with_results else NEEDED
    places_of_rows = [place for run in places.runs for place in _rows(places, run)]
    lines = [columns, *((*place, "", "")[: len(columns)] for place in places_of_rows)]
    return "".join(row(line) for line in lines)


def _rows(places: Places, run: PartRun) -> Iterator[tuple[str, str, str, str]]:
    """(part, round, station, athlete) of each row of a part."""
    number = str(run.index + 1)
    if isinstance(run.part, Untapped):
        return
    if not isinstance(run.part, Rotation | IntervalsPart):
        yield from ((number, "", "", name) for name in places.state.athletes)
        return
    names = station_names(run.part.stations)
    found = [
        (interval, order, round_number, station, name)
        for order, name in enumerate(places.state.athletes)
        for (round_number, station), interval in places.intervals_of(run.index, name).items()
    ]
    for _, _, round_number, station, name in sorted(found):
        yield number, str(round_number), names[station], name
