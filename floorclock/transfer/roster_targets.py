"""The targets that earlier classes speak for, put into the coach's own roster file.

Invariant: an option is never written: to take one is for the coach to decide.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path

from floorclock.insight.targets import PlannedTarget
from floorclock.plan.quantities import parse_target
from floorclock.plan.roster import Roster
from floorclock.plan.work import Target, Unit, amount_said
from floorclock.transfer.roster_writing import named, read, write_fields

Wanted = Mapping[str, Mapping[str, str]]
"""By athlete and move, a target as it is written in a roster."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WrittenTargets:
    """What was changed, a line for each target, and what was left to the coach and why."""

    changed: tuple[str, ...]
    left: tuple[str, ...]


def write_targets(path: Path, before: bytes, planned: Iterable[PlannedTarget]) -> WrittenTargets:
    """Puts targets into a roster file; comments, order and everything else stay.

    Args:
        path: the file, YAML or CSV.
        before: what was in it when the targets were worked out.
        planned: what earlier classes advise.

    Raises:
        InputProblems: the file has problems.
        WrongUsage: it changed meanwhile, or cannot be written without changing more than targets.
        ResourceError: the disk does not take it.
    """
    wanted, left = _wanted(planned)
    changed = _changes(read(path, before), wanted)
    if changed:
        write_fields(path, before, {name: {"targets": moves} for name, moves in wanted.items()})
    return WrittenTargets(changed=changed, left=left)


def _wanted(planned: Iterable[PlannedTarget]) -> tuple[dict[str, dict[str, str]], tuple[str, ...]]:
    """What can stand in a roster: there one move has one target, so of two the smaller, which holds at both."""
    found: dict[tuple[str, str], Target] = {}
    left = []
    for one in planned:
        known = found.get((one.name, one.move))
        if one.option:
            left.append(f"{one.name}, {one.station}: the option {one.option} is for you to decide")
        elif one.by_round:
            left.append(f"{one.name}, {one.station}: {one.target_words} is a list of rounds, for you to write")
        elif one.target is None or one.unit is Unit.WHOLE:
            left.append(f"{one.name}, {one.station}: a roster has no words for it")
        elif known is None or known.unit is one.unit:
            amount = one.target if known is None else min(known.amount, one.target)
            found[one.name, one.move] = Target(amount, one.unit, each_side=one.sides > 1)
        else:
            left.append(f"{one.name}, {one.station}: {one.move} has a target in {known.unit} already")
    by_athlete: dict[str, dict[str, str]] = {}
    for (athlete, move), target in found.items():
        words = amount_said(target.amount, target.unit, target.sides)
        by_athlete.setdefault(athlete, {})[move] = words
    return by_athlete, tuple(left)


def _changes(roster: Roster, wanted: Wanted) -> tuple[str, ...]:
    had = {athlete.name: athlete.targets for athlete in roster.athletes}
    lines = []
    for athlete, moves in wanted.items():
        for move, words in moves.items():
            before = named(had[athlete], move)
            old = had[athlete][before].words() if before is not None else ""
            if old != parse_target(words).words():
                lines.append(f"{athlete}, {move}: {words}" + (f" (was {old})" if old else ""))
    return tuple(lines)
