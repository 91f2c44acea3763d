"""What the class came to, in the words that a coach says while people stretch: who held, and whom to talk to.

Invariant: what happened, and nothing that was only forecast: no round is to come any more.
"""

from __future__ import annotations

from collections.abc import Iterator

from floorclock.clock.run import PartRun
from floorclock.clock.state import ClassState
from floorclock.clock.tally import athlete_result, athlete_splits
from floorclock.pace.flags import URGENCY, Flag, flags, most_urgent
from floorclock.plan.session import Intervals, Rotation
from floorclock.tui.floor.view import Line


def over_lines(state: ClassState) -> tuple[Line, ...]:
    """A heading and a line or two for each part that measured anything."""
    return tuple(line for run in state.runs for line in _part_lines(state, run))


def _part_lines(state: ClassState, run: PartRun) -> Iterator[Line]:
    if isinstance(run.part, Rotation | Intervals):
        yield from _pace_lines(state, run)
        return
    reached = [athlete.name for athlete in state.present if athlete_result(state, run, athlete.name) is not None]
    if reached:
        yield "heading", run.part.title
        yield "text", f"{len(reached)} of {len(state.present)} with a result"


def _pace_lines(state: ClassState, run: PartRun) -> Iterator[Line]:
    people: dict[Flag | None, list[str]] = {}
    for athlete in state.present:
        splits = tuple(athlete_splits(state, run, athlete.name))
        if any(split.split_ms is not None for split in splits):
            raised = [flag for several in flags(splits).values() for flag in several]
            people.setdefault(most_urgent(raised), []).append(athlete.name)
    if not people:
        return
    yield "heading", run.part.title
    tapped = sum(len(names) for names in people.values())
    yield "text", f"{len(people.pop(None, []))} of the {tapped} who were tapped held margin and pace"
    for flag in sorted(Flag, key=URGENCY.__getitem__):
        if flag in people:
            yield "text", f"{flag}: {', '.join(people[flag])}"
