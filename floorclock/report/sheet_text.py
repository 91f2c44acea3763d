"""The run sheet on paper or on a terminal: every interval and every cue, part by part."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from rich.console import Console
from rich.table import Table
from rich.text import Text

from floorclock.clock.cues import Cue
from floorclock.clock.sheet import SheetPart, planned_ms, station_words
from floorclock.clock.timeline import Interval, IntervalKind
from floorclock.plan.durations import duration_words

MANY_CUES = 6
"""More cues than this in one interval (the beats of a paced part) are counted, not listed."""


def print_sheet(title: str, sheet: Sequence[SheetPart], console: Console) -> None:
    """Prints the sheet. Times are from the start of each part; cues stand with the interval they fall into."""
    console.print(Text(title, style="bold"))
    for number, item in enumerate(sheet, 1):
        console.print()
        console.print(_heading(number, item))
        console.print(_table(item))


def _heading(number: int, item: SheetPart) -> Text:
    planned = planned_ms(item)
    words = Text(f"{number}  {item.part.title}", style="bold")
    words.append(f"   {item.part.kind.replace('_', ' ')}", style="not bold")
    words.append(f"   {duration_words(planned)}" if planned else "   no set time", style="not bold")
    if item.timeline.count_in_ms:
        words.append(f"   after a count-in of {duration_words(item.timeline.count_in_ms)}", style="not bold")
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
    return Text(f"{station} {target or ''}".strip())


def _time(ms: int) -> str:
    return f"-{duration_words(-ms)}" if ms < 0 else duration_words(ms)


def _cue_words(cues: Sequence[Cue]) -> str:
    if len(cues) <= MANY_CUES:
        return "  ".join(f"{_time(cue.at_ms)} {cue.name}" for cue in cues)
    counted = Counter(str(cue.name) for cue in cues)
    return "  ".join(f"{number} x {name}" if number > 1 else name for name, number in counted.items())
