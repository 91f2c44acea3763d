"""Fields put into the coach's own roster file, YAML or CSV: targets from earlier classes, start groups, teams.

Invariant: nothing but those fields changes, comments and order included: what was made is read again before it is written, and a
file that another hand changed meanwhile, or that would come out with anything else changed, stays as it is.
An option is never written: to take one is for the coach to decide.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ruamel.yaml.comments import CommentedMap

from floorclock.errors import InputProblems, WrongUsage
from floorclock.plan.names import plain
from floorclock.plan.quantities import parse_target
from floorclock.plan.read_roster import read_roster
from floorclock.plan.roster import Athlete, Roster
from floorclock.plan.roster_csv import looks_like_csv
from floorclock.plan.work import Target, Unit, amount_said
from floorclock.transfer.kept_yaml import text_changed, write_changed, yaml_changed

if TYPE_CHECKING:
    from floorclock.insight.targets import PlannedTarget

Fields = Mapping[str, int | Mapping[str, str]]
"""By key of the file (`group`, `team`, `targets`): a number, or by move a target as it is written in a roster."""
Wanted = Mapping[str, Fields]
"""By athlete."""


def read(path: Path, content: bytes) -> Roster:
    """The roster in the bytes of a file.

    Raises:
        InputProblems: it has problems.
    """
    roster, problems = read_roster(content, str(path))
    if roster is None:
        raise InputProblems(problems)
    return roster


def write_fields(path: Path, before: bytes, wanted: Wanted) -> None:
    """Puts fields into a roster file; comments, order and everything else stay.

    Args:
        path: the file, YAML or CSV.
        before: what was in it when the fields were worked out.
        wanted: what each athlete is to have.

    Raises:
        InputProblems: the file has problems.
        WrongUsage: it changed meanwhile, or cannot be written without changing more than these fields.
        ResourceError: the disk does not take it.
    """
    roster = read(path, before)
    put_in = _into_csv if looks_like_csv(before, path.name) else _into_yaml
    content = text_changed(before, lambda text: put_in(text, wanted))
    after = read(path, content)
    if _without(after, wanted) != _without(roster, wanted) or not all(
        has(athlete, wanted.get(athlete.name, {})) for athlete in after.athletes
    ):
        keys = " and ".join(sorted({f"{key.removesuffix('s')}s" for own in wanted.values() for key in own}))
        raise WrongUsage(f"{path}: the {keys} cannot be put in without changing more than them; write them in by hand")
    write_changed(path, before, content)


def named(names: Iterable[Any], move: str) -> Any:
    """The key that means a move, however it is written; None without one."""
    return next((name for name in names if plain(str(name)).casefold() == plain(move).casefold()), None)


def has(athlete: Athlete, own: Fields) -> bool:
    """Whether an athlete has the fields already."""
    for key, value in own.items():
        if isinstance(value, int):
            if getattr(athlete, key) != value:
                return False
        elif any(athlete.targets.get(named(athlete.targets, move)) != parse_target(words) for move, words in value.items()):
            return False
    return True


def _without(roster: Roster, wanted: Wanted) -> list[Athlete]:
    """The athletes without the fields that are to be written."""
    bare = []
    for athlete in roster.athletes:
        own = wanted.get(athlete.name, {})
        group, team = 1 if "group" in own else athlete.group, None if "team" in own else athlete.team
        moves = own.get("targets", {})
        targets = {move: target for move, target in athlete.targets.items() if isinstance(moves, int) or not named(moves, move)}
        bare.append(replace(athlete, group=group, team=team, targets=targets))
    return bare


def _into_yaml(text: str, wanted: Wanted) -> str:
    def change(tree: Any) -> None:
        people = tree["athletes"]
        for at, person in enumerate(people):
            name = plain(str(person if isinstance(person, str) else person["name"]))
            if name in wanted:
                people[at] = _with_fields(person, wanted[name])

    return yaml_changed(text, change)


def _with_fields(person: Any, own: Fields) -> CommentedMap:
    athlete = person
    if isinstance(person, str):
        athlete = CommentedMap(name=person)
        athlete.fa.set_flow_style()
    for key, value in own.items():
        if not athlete.get(key):
            made: Any = value
            if not isinstance(value, int):
                made = CommentedMap()
                made.fa.set_flow_style()
            # Before the last key: what is written behind that one belongs to what comes after the athlete.
            if key in athlete:
                athlete[key] = made
            else:
                athlete.insert(len(athlete) - (len(athlete) > 1 and not athlete.fa.flow_style()), key, made)
        if isinstance(value, int):
            athlete[key] = value
            continue
        for move, words in value.items():
            known = named(athlete[key], move)
            athlete[key][move if known is None else known] = words
    return athlete  # type: ignore[no-any-return]


def _into_csv(text: str, wanted: Wanted) -> str:
    """The file with the fields of the columns made anew; a row without news stays as it is, letter by letter."""
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
            missing = [key for key in dict.fromkeys(key for fields in wanted.values() for key in fields) if key not in columns]
            columns += missing
            own = _csv_line([*record, *missing], delimiter) if missing else own
        elif fields := wanted.get(plain(dict(zip(columns, record, strict=False)).get("name", ""))):
            record += [""] * (max(columns.index(key) for key in fields) + 1 - len(record))
            for key, value in fields.items():
                at = columns.index(key)
                record[at] = str(value) if isinstance(value, int) else _targets_field(record[at], value)
            own = _csv_line(record, delimiter)
        made.append(own)
    return "\n".join([*made, *lines[begin:]])


def _targets_field(field: str, moves: Mapping[str, str]) -> str:
    own = {}
    for piece in filter(None, (piece.strip() for piece in field.split(";"))):
        move, _, value = piece.partition("=")
        own[move.strip()] = value.strip()
    for move, words in moves.items():
        known = named(own, move)
        own[move if known is None else known] = words
    return "; ".join(f"{move}={value}" for move, value in own.items())


def _csv_line(record: Sequence[str], delimiter: str) -> str:
    out = io.StringIO(newline="")
    csv.writer(out, delimiter=delimiter, lineterminator="").writerow(record)
    return out.getvalue()


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
    for entry in planned:
        known = found.get((entry.name, entry.move))
        if entry.option:
            left.append(f"{entry.name}, {entry.station}: the option {entry.option} is for you to decide")
        elif entry.by_round:
            left.append(f"{entry.name}, {entry.station}: {entry.target_words} is a list of rounds, for you to write")
        elif entry.target is None or entry.unit is Unit.WHOLE:
            left.append(f"{entry.name}, {entry.station}: a roster has no words for it")
        elif known is None or known.unit is entry.unit:
            amount = entry.target if known is None else min(known.amount, entry.target)
            found[entry.name, entry.move] = Target(amount, entry.unit, each_side=entry.sides > 1)
        else:
            left.append(f"{entry.name}, {entry.station}: {entry.move} has a target in {known.unit} already")
    by_athlete: dict[str, dict[str, str]] = {}
    for (athlete, move), target in found.items():
        words = amount_said(target.amount, target.unit, target.sides)
        by_athlete.setdefault(athlete, {})[move] = words
    return by_athlete, tuple(left)


def _changes(roster: Roster, wanted: Mapping[str, Mapping[str, str]]) -> tuple[str, ...]:
    had = {athlete.name: athlete.targets for athlete in roster.athletes}
    lines = []
    for athlete, moves in wanted.items():
        for move, words in moves.items():
            before = named(had[athlete], move)
            old = had[athlete][before].words() if before is not None else ""
            if old != parse_target(words).words():
                lines.append(f"{athlete}, {move}: {words}" + (f" (was {old})" if old else ""))
    return tuple(lines)
