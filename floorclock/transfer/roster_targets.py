"""The targets that earlier classes speak for, put into the coach's own roster file.

Invariant: nothing but targets changes: what was made is read again before it is written, and a file that another hand changed
meanwhile, or that would come out with anything else changed, stays as it is.

An option is never written: to take one is for the coach to decide.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from ruamel.yaml.comments import CommentedMap

from floorclock.errors import InputProblems, WrongUsage
from floorclock.insight.targets import PlannedTarget
from floorclock.plan.names import plain
from floorclock.plan.quantities import parse_target
from floorclock.plan.read_roster import read_roster
from floorclock.plan.roster import Athlete, Roster
from floorclock.plan.roster_csv import looks_like_csv
from floorclock.plan.work import Target, Unit, amount_words
from floorclock.transfer.kept_yaml import text_changed, write_changed, yaml_changed

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
    roster = _read(path, before)
    put_in = _into_csv if looks_like_csv(before, path.name) else _into_yaml
    content = text_changed(before, lambda text: put_in(text, wanted))
    if _without(_read(path, content), wanted) != _without(roster, wanted) or not _has(_read(path, content), wanted):
        raise WrongUsage(f"{path}: the targets cannot be put in without changing more than them; write them in by hand")
    changed = _changes(roster, wanted)
    if changed:
        write_changed(path, before, content)
    return WrittenTargets(changed=changed, left=left)


def _wanted(planned: Iterable[PlannedTarget]) -> tuple[dict[str, dict[str, str]], tuple[str, ...]]:
    """What can stand in a roster: there one move has one target, so of two the smaller, which holds at both."""
    found: dict[tuple[str, str], Target] = {}
    left = []
    for one in planned:
        known = found.get((one.name, one.move))
        if one.option:
            left.append(f"{one.name}, {one.station}: the option {one.option} is for you to decide")
        elif one.target is None or one.unit is Unit.WHOLE:
            left.append(f"{one.name}, {one.station}: a roster has no words for it")
        elif known is None or known.unit is one.unit:
            found[one.name, one.move] = Target(one.target if known is None else min(known.amount, one.target), one.unit)
        else:
            left.append(f"{one.name}, {one.station}: {one.move} has a target in {known.unit} already")
    by_athlete: dict[str, dict[str, str]] = {}
    for (athlete, move), target in found.items():
        words = amount_words(target.amount, target.unit) + (" reps" if target.unit is Unit.REPS else "")
        by_athlete.setdefault(athlete, {})[move] = words
    return by_athlete, tuple(left)


def _read(path: Path, content: bytes) -> Roster:
    roster, problems = read_roster(content, str(path))
    if roster is None:
        raise InputProblems(problems)
    return roster


def _changes(roster: Roster, wanted: Wanted) -> tuple[str, ...]:
    had = {athlete.name: athlete.targets for athlete in roster.athletes}
    lines = []
    for athlete, moves in wanted.items():
        for move, words in moves.items():
            before = _named(had[athlete], move)
            old = had[athlete][before].words() if before is not None else ""
            if old != parse_target(words).words():
                lines.append(f"{athlete}, {move}: {words}" + (f" (was {old})" if old else ""))
    return tuple(lines)


def _named(names: Iterable[Any], move: str) -> Any:
    """The key that means a move, however it is written; None without one."""
    return next((name for name in names if plain(str(name)).casefold() == plain(move).casefold()), None)


def _without(roster: Roster, wanted: Wanted) -> list[Athlete]:
    """The athletes without the targets that are to be written."""
    return [
        replace(athlete, targets={move: target for move, target in athlete.targets.items() if not _named(own, move)})
        for athlete in roster.athletes
        for own in [wanted.get(athlete.name, {})]
    ]


def _has(roster: Roster, wanted: Wanted) -> bool:
    targets = {athlete.name: athlete.targets for athlete in roster.athletes}
    return all(
        (key := _named(targets[athlete], move)) is not None and targets[athlete][key] == parse_target(words)
        for athlete, moves in wanted.items()
        for move, words in moves.items()
    )


def _into_yaml(text: str, wanted: Wanted) -> str:
    def change(tree: Any) -> None:
        people = tree["athletes"]
        for at, person in enumerate(people):
            name = plain(str(person if isinstance(person, str) else person["name"]))
            if name in wanted:
                people[at] = _with_targets(person, wanted[name])

    return yaml_changed(text, change)


def _with_targets(person: Any, moves: Mapping[str, str]) -> CommentedMap:
    if isinstance(person, str):
        athlete = CommentedMap(name=person)
        athlete.fa.set_flow_style()
    else:
        athlete = person
    if not athlete.get("targets"):
        targets = CommentedMap()
        targets.fa.set_flow_style()
        # Before the last key: what is written behind that one belongs to what comes after the athlete.
        if "targets" in athlete:
            athlete["targets"] = targets
        else:
            athlete.insert(len(athlete) - (len(athlete) > 1 and not athlete.fa.flow_style()), "targets", targets)
    own = athlete["targets"]
    for move, words in moves.items():
        known = _named(own, move)
        own[move if known is None else known] = words
    return athlete


def _into_csv(text: str, wanted: Wanted) -> str:
    """The file with the fields of the column `targets` made anew; a row without news stays as it is, letter by letter."""
    delimiter = max(",;\t", key=text.split("\n", 1)[0].count)
    lines = text.split("\n")
    records = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    made, begin = [], 0
    columns: list[str] | None = None
    for record in records:
        own = "\n".join(lines[begin : records.line_num])
        begin = records.line_num
        if columns is None:
            columns = [field.strip().lower() for field in record]
            if "targets" not in columns:
                columns.append("targets")
                own = _csv_line([*record, "targets"], delimiter)
        elif moves := wanted.get(_name_of(record, columns)):
            at = columns.index("targets")
            record += [""] * (at + 1 - len(record))
            record[at] = _targets_field(record[at], moves)
            own = _csv_line(record, delimiter)
        made.append(own)
    return "\n".join([*made, *lines[begin:]])


def _name_of(record: Sequence[str], columns: Sequence[str]) -> str:
    at = columns.index("name")
    return plain(record[at]) if at < len(record) else ""


def _targets_field(field: str, moves: Mapping[str, str]) -> str:
    own = {}
    for piece in filter(None, (piece.strip() for piece in field.split(";"))):
        move, _, value = piece.partition("=")
        own[move.strip()] = value.strip()
    for move, words in moves.items():
        known = _named(own, move)
        own[move if known is None else known] = words
    return "; ".join(f"{move}={value}" for move, value in own.items())


def _csv_line(record: Sequence[str], delimiter: str) -> str:
    out = io.StringIO(newline="")
    csv.writer(out, delimiter=delimiter, lineterminator="").writerow(record)
    return out.getvalue()
