"""Start groups and teams as text: who starts where and with whom, what is carried, what would have to change.

Invariant: names are data; what is said is what was found and nothing more.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from rich import box
from rich.console import Console
from rich.table import Table
from rich.text import Text

from floorclock.plan.arrangement import Arrangement
from floorclock.plan.durations import duration_words
from floorclock.plan.integer_programme import LIMIT_S
from floorclock.plan.roster import Athlete
from floorclock.plan.start_groups import SmallestChange
from floorclock.plan.work import station_names


def print_groups(found: Arrangement, console: Console) -> None:
    """Prints start groups and teams; where there are none, what would make them possible."""
    if not found.possible:
        _print_changes(found, console)
    elif found.placed is not None:
        _print_placed(found, console)
    if found.teams:
        athletes = {athlete.name: athlete for athlete in found.roster.athletes}
        table = Table(title=Text("Teams"), title_justify="left", box=box.SIMPLE, pad_edge=False)
        for heading in ("team", "athletes", "levels"):
            table.add_column(heading, overflow="fold")
        for number, team in found.teams.items():
            table.add_row(str(number), Text(" + ".join(team)), Text(_levels([athletes[name] for name in team])))
        console.print(table)
    if found.short:
        needs = [
            f"{need.needed} x {need.kit} in {found.session.parts[need.part].title}, where there are {need.has}"
            for need in found.short
        ]
        console.print(Text(f"Whatever the groups, kit is short: {'; '.join(needs)}."))
        _print_enough(found.enough, console)
    for note in found.notes:
        console.print(Text(note[0].upper() + note[1:] + "."))


def _print_placed(found: Arrangement, console: Console) -> None:
    placed = found.placed
    assert placed is not None
    athletes = {athlete.name: athlete for athlete in found.roster.athletes}
    begins = {group: found.begins(group) for group in found.members()}
    table = Table(title=Text("Start groups"), title_justify="left", box=box.SIMPLE, pad_edge=False)
    table.add_column("group")
    for title, _ in begins[1]:
        table.add_column(Text(title), overflow="fold")
    for heading in ("athletes", "levels"):
        table.add_column(heading, overflow="fold")
    for group, members in found.members().items():
        where = [one if isinstance(one, str) else f"at {duration_words(round(1000 * one))}" for _, one in begins[group]]
        people = [athletes[name] for name in members]
        table.add_row(str(group), *map(Text, (*where, ", ".join(members), _levels(people))))
    console.print(table)
    console.print(Text(_waiting_words(found)))
    if found.too_long:
        helps = "more kit for fuller waves, less work in each, or a longer class"
        console.print(Text(f"But {found.too_long}: that takes {helps}.", style="bold"))
    if not placed.proven:
        console.print(Text(f"Best found in {LIMIT_S:g} s; there may be something better."))
    for one in placed.carried:
        part = found.session.parts[one.part]
        names = station_names(part.stations)
        between = " and ".join(names[at] for at in one.stations)
        how = "between" if len(one.stations) > 1 else "at"
        verb = "is" if one.pieces == 1 else "are"
        console.print(Text(f"{part.title}: {one.pieces} x {one.kit} {verb} carried or loaded anew {how} {between}."))
    for change in found.changes:
        console.print(Text(f"The last wave would begin sooner with {change.words}."))
    moved = [
        f"{name} from {athletes[name].group} to {group}"
        for name, group in placed.groups.items()
        if name in found.roster.grouped and athletes[name].group != group
    ]
    if moved:
        console.print(Text(f"Not where the roster has them: {', '.join(moved)}."))


def _print_changes(found: Arrangement, console: Console) -> None:
    proven = found.placed is None or found.placed.proven
    sure = (
        "No start groups keep everybody from waiting"
        if proven
        else f"In {LIMIT_S:g} s no start groups were found in which nobody waits"
    )
    console.print(Text(f"{sure}, as kit and wishes are."))
    _print_enough(found.changes, console)


def _print_enough(changes: Sequence[SmallestChange], console: Console) -> None:
    if not changes:
        console.print(Text("No single change was found that would help: more kit, other options, or fewer wishes together may."))
        return
    console.print(Text("Enough would be:" if len(changes) == 1 else "Any one of these would be enough:"))
    for change in changes:
        console.print(Text(f"  {change.words}"))


def _waiting_words(found: Arrangement) -> str:
    if not found.session.kit:
        return "The plan does not say what kit there is (kit: {box: 6}), so none was counted."
    return "Nobody waits for kit."


def _levels(athletes: list[Athlete]) -> str:
    return ", ".join(f"{many} {level}" for level, many in Counter(athlete.level or "no level" for athlete in athletes).items())
