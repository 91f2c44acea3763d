"""The run sheet on paper or on a terminal: every interval and every cue, part by part."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from itertools import groupby

from rich.console import Console
from rich.table import Table
from rich.text import Text

from floorclock.clock.cues import Cue, CueName
from floorclock.clock.sheet import SheetPart, planned_ms, station_words
from floorclock.clock.timeline import Interval, IntervalKind, station_index
from floorclock.digest.work_words import part_words, planned_words, wave_words
from floorclock.live.plan_files import Plan
from floorclock.plan.durations import duration_words, in_words, whole_words
from floorclock.plan.session import AnyPart, ForTime, Paced, Piece, Windowed
from floorclock.plan.work import station_names

MANY_CUES = 6
"""More cues than this in one interval (the beats of a paced part) are counted, not listed."""


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
    rounds = (
        f"{part.rounds} rounds"
        if isinstance(part, ForTime) and part.rounds > 1
        else "once"
        if isinstance(part, ForTime)
        else "each round"
    )
    for when, work in (("first", part.buy_in), (rounds, part.work), ("last", part.cash_out)):
        if work:
            words.append(f"{when}: " + ", ".join(map(planned_words, work)))
    if isinstance(part, ForTime) and part.round_rest_ms:
        words.append(f"own rest after each round: {duration_words(part.round_rest_ms)}")
    return words


def _table(item: SheetPart) -> Table:
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="italic")
    for column in ("from", "to", "round"):
        table.add_column(column, justify="right", no_wrap=True)
    several = len(item.groups) > 1 and len(item.part.stations) > 1
    for group in item.groups if several else item.groups[:1]:
        table.add_column(f"group {group}" if several else "what")
    table.add_column("cues")
    if item.timeline.count_in_ms:
        before = item.timeline.cues_between(-item.timeline.count_in_ms, 0)
        blank = [""] * (len(table.columns) - 5)
        table.add_row(_time(-item.timeline.count_in_ms), "0:00", "", "get ready", *blank, _cue_words(before))
    for index, interval in enumerate(item.timeline.intervals):
        last = index == len(item.timeline.intervals) - 1
        cues = item.timeline.cues_between(interval.start_ms, interval.end_ms + last)
        work = [_what(item, interval, group) for group in (item.groups if several else item.groups[:1])]
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
    if len(cues) <= MANY_CUES:
        rows = [(name, [cue.at_ms for cue in row]) for name, row in groupby(cues, key=lambda cue: cue.name)]
        return "  ".join(said for name, times in rows for said in _in_a_row(name, times))
    counted = Counter(_spoken(cue.name) for cue in cues)
    return "  ".join(f"{number} x {name}" if number > 1 else name for name, number in counted.items())


def _in_a_row(name: CueName, times: Sequence[int]) -> list[str]:
    """`1:50 last ten`; the pips of a count are said once, `0:57 three pips`."""
    if name is CueName.COUNT:
        return [f"{_time(times[0])} {in_words(len(times))} pip{'s' * (len(times) > 1)}"]
    return [f"{_time(at_ms)} {_spoken(name)}" for at_ms in times]


def _spoken(name: CueName) -> str:
    return name.replace("_", " ")
