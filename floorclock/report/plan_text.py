"""A plan on a terminal: what it comes to and what to mind, its run sheet, its brief, who starts where.

Invariant: names and titles are data, never markup; what is said is what was found and nothing more.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from itertools import groupby
from typing import Any

from rich.console import Console
from rich.padding import Padding
from rich.table import Column, Table
from rich.text import Text

from floorclock.clock.cues import Cue, CueName
from floorclock.clock.sheet import SheetPart, planned_ms, station_words
from floorclock.clock.timeline import Interval, IntervalKind, station_index
from floorclock.digest.work_words import part_words, planned_words, wave_words
from floorclock.live.plan_files import Plan
from floorclock.plan.arrangement import Arrangement
from floorclock.plan.check import PlanCheck
from floorclock.plan.durations import duration_words, in_words, whole_words
from floorclock.plan.findings import summed_up
from floorclock.plan.integer_programme import LIMIT_S
from floorclock.plan.roster import Athlete
from floorclock.plan.session import AnyPart, ForTime, Paced, Piece, Windowed
from floorclock.plan.start_groups import SmallestChange
from floorclock.plan.work import amount_words, station_names
from floorclock.report.terminal import titled

MANY_CUES = 6
"""More cues than this in one interval (the beats of a paced part) are counted, not listed."""
MARKS = {"heading": "", "text": "  ", "caution": "! ", "hint": "> "}
NO_KIT = "The plan does not say what kit there is (kit: {box: 6}), so none was counted."
PLAIN: Any = {"box": None, "pad_edge": False, "padding": (0, 2, 0, 0), "header_style": "italic"}
"""A table without lines."""


def print_check(checked: PlanCheck, console: Console) -> None:
    """Prints the plan's times, volume and kit, then what to think about, with places. Errors are the caller's to print."""
    if checked.title:
        console.print(Text(checked.title, style="bold"))
        console.print(_parts(checked))
        total = f"in all {whole_words(checked.time_ms)}"
        if checked.count_in_ms:
            total += f" and {duration_words(checked.count_in_ms)} of count-ins"
        if checked.class_time_ms is not None:
            total += f", in a class of {duration_words(checked.class_time_ms)}"
        console.print(Text(total))
        for part in checked.parts:
            _print_under(f"{part.title}:", [f"  {words}" for words in part.work], console)
        volume = ", ".join(f"{item.move} {amount_words(item.amount, item.unit)}" for item in checked.volume)
        _print_under("One athlete does, as written:", [volume] if volume else [], console)
        kit = ", ".join(
            f"{need.kit} {need.needed}" + ("" if need.has is None else f" of {need.has}") for need in checked.most_kit
        )
        _print_under("Kit in use at once:", [kit] if kit else [], console)
    _print_findings(checked, console)
    cautions = [f"  {move}: {caution}" for move, caution in checked.cautions]
    _print_under("Usual cautions that the plan leaves out; local rules and qualified staff go first:", cautions, console)
    if checked.title and all(problem.severity == "note" for problem in checked.problems):
        console.print()
        console.print(Text("Nothing to mend."))


def _print_under(heading: str, lines: Sequence[str], console: Console) -> None:
    """Lines under a heading, where there are any."""
    if lines:
        console.print()
        console.print(Text(heading, style="italic"))
        for words in lines:
            console.print(Text(words))


def _print_findings(checked: PlanCheck, console: Console) -> None:
    """By kind, each kind with why it matters; where many are alike, one stands for them."""
    for severity, heading in (("warning", "To think about:"), ("note", "Good to know:")):
        found = summed_up(problem for problem in checked.problems if problem.severity == severity)
        if found:
            console.print()
            console.print(Text(heading, style="bold"))
        for why, lines in found:
            if why:
                console.print(Text(f"- {why}:", style="italic"), soft_wrap=True)
            for line in lines:
                console.print(Text(line), soft_wrap=True)


def _parts(checked: PlanCheck) -> Table:
    numbers = [Column(heading, justify="right") for heading in ("time", "intervals")]
    table = Table("part", "kind", *numbers, "rounds at each station", **PLAIN)
    for part in checked.parts:
        time = whole_words(part.time_ms) if part.time_ms else "open"
        windows = str(part.intervals) if part.rounds_per_station else ""
        counts = set(part.rounds_per_station.values())
        rounds = ", ".join(f"{station} {count}" for station, count in part.rounds_per_station.items())
        rounds = f"{counts.pop()}" if len(counts) == 1 else rounds
        table.add_row(Text(part.title), part.kind.replace("_", " "), time, windows, Text(rounds))
    return table


def print_sheet(title: str, sheet: Sequence[SheetPart], console: Console) -> None:
    """Prints the sheet. Times are from the start of each part; cues stand with the interval they fall into."""
    console.print(Text(title, style="bold"))
    for number, item in enumerate(sheet, 1):
        console.print()
        console.print(_heading(number, item))
        for words in _course(item.part):
            console.print(Text(f"   {words}"))
        if item.timeline.intervals:
            console.print(_table(item))
        else:
            console.print(Text("   the coach ends it"))


def print_page(plan: Plan, sheet: Sequence[SheetPart], console: Console) -> None:
    """Prints the plan on one A4 page: for each part its times, its stations, and who starts where."""
    console.print(Text(plan.session.title, style="bold"))
    for number, item in enumerate(sheet, 1):
        console.print(_heading(number, item))
        table = Table.grid(padding=(0, 2))
        table.add_column(width=2)
        table.add_column(overflow="fold")
        if isinstance(item.part, Paced):
            table.add_row("", Text(" | ".join((part_words(item.part), *station_names(item.part.stations)))))
        elif isinstance(item.part, Windowed):
            table.add_row("", Text(" | ".join(map(planned_words, item.part.stations))))
        for words in _course(item.part):
            table.add_row("", Text(words))
        for where, group in _starts(item):
            there = [athlete.name for athlete in plan.roster.athletes if athlete.group == group]
            table.add_row("", Text(f"{where}: {', '.join(there)}", style="italic"))
        if table.row_count:
            console.print(table)


def _starts(item: SheetPart) -> Iterator[tuple[str, int]]:
    """Where, or when, each start group begins; nothing where all begin alike."""
    part = item.part
    if len(item.groups) < 2:
        return
    if isinstance(part, Piece) and part.wave_every_ms:
        yield from ((wave_words(part, group), group) for group in item.groups)
    elif isinstance(part, Windowed) and not part.moves_together:
        names = station_names(part.stations)
        yield from ((names[station_index(part, 0, group)], group) for group in item.groups)


def _heading(number: int, item: SheetPart) -> Text:
    planned = planned_ms(item)
    words = Text(f"{number}  {item.part.title}", style="bold")
    words.append(f"   {item.part.kind.replace('_', ' ')}", style="not bold")
    words.append(f"   {whole_words(planned)}" if planned else "   no set time", style="not bold")
    if item.timeline.count_in_ms:
        words.append(f"   after a count-in of {duration_words(item.timeline.count_in_ms)}", style="not bold")
    return words


def _course(part: AnyPart) -> list[str]:
    """What a table of intervals has no room for: who moves together, who shares, and the work against the clock."""
    words = []
    if isinstance(part, Windowed) and part.moves_together:
        words.append("everybody together at one station")
    if part.team_size > 1:
        words.append(f"in {'pairs' if part.team_size == 2 else f'teams of {part.team_size}'}, {part.turns}")
    if part.score is not None:
        words.append(f"score: {part.score.unit}, {'after each set' if part.score.each == 'set' else 'once'}")
    if not isinstance(part, Piece):
        return words
    rounds = "each round"
    if isinstance(part, ForTime):
        rounds = f"{part.rounds} rounds" if part.rounds > 1 else "once"
    for when, work in (("first", part.buy_in), (rounds, part.work), ("last", part.cash_out)):
        if work:
            words.append(f"{when}: " + ", ".join(map(planned_words, work)))
    if isinstance(part, ForTime) and part.round_rest_ms:
        words.append(f"own rest after each round: {duration_words(part.round_rest_ms)}")
    return words


def _table(item: SheetPart) -> Table:
    several = len(item.groups) > 1 and len(item.part.stations) > 1
    groups = item.groups if several else item.groups[:1]
    times = [Column(heading, justify="right", no_wrap=True) for heading in ("from", "to", "round")]
    table = Table(*times, *(f"group {group}" if several else "what" for group in groups), "cues", **PLAIN)
    if item.timeline.count_in_ms:
        before = item.timeline.cues_between(-item.timeline.count_in_ms, 0)
        blank = [""] * (len(groups) - 1)
        table.add_row(_time(-item.timeline.count_in_ms), "0:00", "", "get ready", *blank, _cue_words(before))
    for index, interval in enumerate(item.timeline.intervals):
        last = index == len(item.timeline.intervals) - 1
        cues = item.timeline.cues_between(interval.start_ms, interval.end_ms + last)
        work = [_what(item, interval, group) for group in groups]
        round_number = str(interval.round) if interval.kind is not IntervalKind.READY else ""
        table.add_row(_time(interval.start_ms), _time(interval.end_ms), round_number, *work, _cue_words(cues))
    return table


def _what(item: SheetPart, interval: Interval, group: int) -> Text:
    station, target = station_words(item.part, interval, group)
    if station is None:
        return Text("rest" if interval.kind is IntervalKind.REST else "the coach ends it", style="dim")
    several = any(
        one.items and name == station for one, name in zip(item.part.stations, station_names(item.part.stations), strict=True)
    )
    return Text(target if target and several else f"{station} {target or ''}".strip())


def _time(ms: int) -> str:
    return f"-{duration_words(-ms)}" if ms < 0 else duration_words(ms)


def _cue_words(cues: Sequence[Cue]) -> str:
    """`1:50 last ten`; the pips of a count are said once, `0:57 three pips`."""
    if len(cues) > MANY_CUES:
        counted = Counter(cue.name.replace("_", " ") for cue in cues)
        return "  ".join(f"{number} x {name}" if number > 1 else name for name, number in counted.items())
    said = []
    for name, row in groupby(cues, key=lambda cue: cue.name):
        times = [_time(cue.at_ms) for cue in row]
        if name is CueName.COUNT:
            said.append(f"{times[0]} {in_words(len(times))} pip{'s' * (len(times) > 1)}")
        else:
            said += [f"{time} {name.replace('_', ' ')}" for time in times]
    return "  ".join(said)


def print_brief(title: str, pages: Iterable[tuple[str, Sequence[tuple[str, str]]]], console: Console) -> None:
    """Prints the pages of the wall one after the other: each a title, and lines of (kind, words)."""
    console.print(Text(title, style="bold"))
    for part, lines in pages:
        console.print()
        console.print(Text(part, style="bold"))
        for kind, words in lines:
            mark = MARKS.get(kind, "")
            style = "bold" if kind in ("heading", "caution") else ""
            console.print(Padding(Text(mark + words, style=style), (0, 0, 0, 0 if kind == "heading" else 2)))


def print_groups(found: Arrangement, console: Console) -> None:
    """Prints start groups and teams; where there are none, what would make them possible."""
    if not found.possible:
        sure = "No start groups keep everybody from waiting"
        if found.placed is not None and not found.placed.proven:
            sure = f"In {LIMIT_S:g} s no start groups were found in which nobody waits"
        console.print(Text(f"{sure}, as kit and wishes are."))
        _print_enough(found.changes, console)
    elif found.placed is not None:
        _print_placed(found, console)
    if found.teams:
        athletes = {athlete.name: athlete for athlete in found.roster.athletes}
        rows = [(str(at), " + ".join(team), _levels([athletes[name] for name in team])) for at, team in found.teams.items()]
        console.print(titled("Teams", ("team", "athletes", "levels"), rows))
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
    rows = []
    for group, members in found.members().items():
        where = [begin if isinstance(begin, str) else f"at {duration_words(round(1000 * begin))}" for _, begin in begins[group]]
        rows.append((str(group), *where, ", ".join(members), _levels([athletes[name] for name in members])))
    console.print(titled("Start groups", ("group", *(title for title, _ in begins[1]), "athletes", "levels"), rows))
    console.print(Text("Nobody waits for kit." if found.session.kit else NO_KIT))
    if found.too_long:
        helps = "more kit for fuller waves, less work in each, or a longer class"
        console.print(Text(f"But {found.too_long}: that takes {helps}.", style="bold"))
    if not placed.proven:
        console.print(Text(f"Best found in {LIMIT_S:g} s; there may be something better."))
    for carry in placed.carried:
        part = found.session.parts[carry.part]
        names = station_names(part.stations)
        between = " and ".join(names[at] for at in carry.stations)
        how = "between" if len(carry.stations) > 1 else "at"
        verb = "is" if carry.pieces == 1 else "are"
        console.print(Text(f"{part.title}: {carry.pieces} x {carry.kit} {verb} carried or loaded anew {how} {between}."))
    for change in found.changes:
        console.print(Text(f"The last wave would begin sooner with {change.words}."))
    moved = [
        f"{name} from {athletes[name].group} to {group}"
        for name, group in placed.groups.items()
        if name in found.roster.grouped and athletes[name].group != group
    ]
    if moved:
        console.print(Text(f"Not where the roster has them: {', '.join(moved)}."))


def _print_enough(changes: Sequence[SmallestChange], console: Console) -> None:
    if not changes:
        console.print(Text("No single change was found that would help: more kit, other options, or fewer wishes together may."))
        return
    console.print(Text("Enough would be:" if len(changes) == 1 else "Any one of these would be enough:"))
    for change in changes:
        console.print(Text(f"  {change.words}"))


def _levels(athletes: list[Athlete]) -> str:
    return ", ".join(f"{many} {level}" for level, many in Counter(athlete.level or "no level" for athlete in athletes).items())
