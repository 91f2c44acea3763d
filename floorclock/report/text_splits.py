"""One rotation on a terminal: the rest that was kept, then the pace round by round, athlete by athlete.

Invariant: a picture has one sign for each round at a station: tall is much rest, `!` is under the margin, `/` not finished,
a dot is a round that nobody tapped. What does not fit as a table is stacked, never cut.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from rich.cells import cell_len
from rich.console import Console, Group, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from floorclock.clock.splits import Split, Status
from floorclock.digest.summary import AthleteSummary, PartSummary, StationOverview
from floorclock.digest.work_done import flags_said
from floorclock.pace.flags import SYMBOL, Flag, is_tight, most_urgent

HEIGHTS = "▁▂▃▄▅▆▇█"
PLAIN_HEIGHTS = "12345678"
"""For terminals that cannot show the blocks."""
HOLE, PLAIN_HOLE = "·", "?"
GAP = 2
INDENT = 2
NAME_LIMIT = 20
SHORT_NAME = 9
THE_CLASS = "the class"
FLAG_STYLE = {Flag.NOT_FINISHED: "bold red", Flag.RUNS_OUT: "bold red", Flag.TIGHT: "bold yellow", Flag.FADING: "bold cyan"}
REST_LEGEND = (
    "Median split in s, and the rest of each round: {top} is {full} s, ! under the margin, / not finished, {hole} untapped. "
    "least: the smallest rest in s."
)
PACE_LEGEND = (
    "Splits in s, round by round. slope: s more each round. sd %: spread, the sample standard deviation in % of the mean. "
    "decr: decrement, what the rounds took beyond the best one, in %. All three are medians of the stations."
)

Cell = Callable[[AthleteSummary, int], str]
"""What stands for an athlete at a station."""
Column = tuple[str, Callable[[AthleteSummary], str]]


def splits_view(part: PartSummary, console: Console) -> RenderableType:
    """Both tables of a part, for the width of the console; each is stacked where it does not fit."""
    plain = console.options.ascii_only
    full_ms = max(one.split.rest_ms or 0 for athlete in part.athletes for one in athlete.splits)
    signs = {"hole": PLAIN_HOLE if plain else HOLE, "top": (PLAIN_HEIGHTS if plain else HEIGHTS)[-1], "full": full_ms // 1000}

    def rest_cell(athlete: AthleteSummary, station: int) -> str:
        picture = rest_picture(athlete, station, full_ms, plain=plain)
        return f"{_median_words(athlete, station):>5} {picture}" if picture else ""

    def pace_cell(athlete: AthleteSummary, station: int) -> str:
        return round_words(athlete, station, plain=plain)

    rest = [("least", _least), ("flags", flags_said)]
    pace = [("slope", _slope), ("sd %", _spread), ("decr", _decrement)]
    room = console.width - INDENT
    return Group(
        _fitted(part, rest_cell, [], rest, room, with_class=True),
        Text(REST_LEGEND.format(**signs), style="dim italic"),
        Text(),
        _fitted(part, pace_cell, pace, [], room, with_class=False),
        Text(PACE_LEGEND, style="dim italic"),
    )


def rest_picture(athlete: AthleteSummary, station: int, full_ms: int, *, plain: bool = False) -> str:
    """One sign for each round of an athlete at a station; a rest of `full_ms` is as tall as can be."""
    return "".join(_sign(one.split, full_ms, plain=plain) for one in athlete.splits if one.split.station == station)


def round_words(athlete: AthleteSummary, station: int, *, plain: bool = False) -> str:
    """The splits of an athlete at a station in whole seconds, cut off as a stopwatch does, with a sign where there is none."""
    here = [one.split for one in athlete.splits if one.split.station == station]
    words = [_sign(split, 1, plain=plain) if split.split_ms is None else str(split.split_ms // 1000) for split in here]
    width = max((len(word) for word in words), default=0)
    return " ".join(f"{word:>{width}}" for word in words)


def _sign(split: Split, full_ms: int, *, plain: bool) -> str:
    if split.status is Status.NOT_FINISHED:
        return SYMBOL[Flag.NOT_FINISHED]
    if split.rest_ms is None:
        return PLAIN_HOLE if plain else HOLE
    if is_tight(split):
        return SYMBOL[Flag.TIGHT]
    heights = PLAIN_HEIGHTS if plain else HEIGHTS
    eighths = -(-max(split.rest_ms, 1) * len(heights) // max(full_ms, 1))
    return heights[min(eighths, len(heights)) - 1]


def _fitted(
    part: PartSummary, cell: Cell, before: Sequence[Column], after: Sequence[Column], room: int, *, with_class: bool
) -> RenderableType:
    """A table of athletes by stations between other columns, or the same stacked."""
    widths = [
        max(_heading_width(station.name), *(cell_len(cell(athlete, station.station)) for athlete in part.athletes))
        for station in part.stations
    ]
    names = max(len(THE_CLASS), *(min(NAME_LIMIT, cell_len(athlete.name)) for athlete in part.athletes))
    sides = [max(len(head), *(cell_len(words(athlete)) for athlete in part.athletes)) for head, words in [*before, *after]]
    columns = [names, *widths, *sides]
    if sum(columns) + GAP * (len(columns) - 1) > room:
        return _stacked(part, cell, [*before, *after], room, with_class=with_class)
    table = Table(box=None, pad_edge=False, padding=(0, GAP, 0, 0), header_style="dim")
    table.add_column("athlete", width=names, overflow="fold")
    for head, _ in before:
        table.add_column(head, justify="right", no_wrap=True)
    for station, width in zip(part.stations, widths, strict=True):
        table.add_column(Text(station.name), width=width, overflow="fold")
    for head, _ in after:
        table.add_column(head, justify="left" if head == "flags" else "right", no_wrap=True)
    for athlete in part.athletes:
        cells = [Text(cell(athlete, station.station)) for station in part.stations]
        table.add_row(
            Text(athlete.name),
            *[words(athlete) for _, words in before],
            *cells,
            *[_styled(words(athlete), athlete, head) for head, words in after],
        )
    if with_class:
        medians = [Text(f"{_overview(one):>5}", style="dim") for one in part.stations]
        table.add_row(Text(THE_CLASS, style="dim"), *[""] * len(before), *medians)
    return table


def _styled(words: str, athlete: AthleteSummary, head: str) -> Text:
    flag = most_urgent(athlete.flags)
    return Text(words, style=FLAG_STYLE[flag] if flag is not None and head == "flags" else "")


def _stacked(part: PartSummary, cell: Cell, facts: Sequence[Column], room: int, *, with_class: bool) -> Group:
    """A line for each athlete, and under it the stations, as many to a line as fit."""
    blocks: list[RenderableType] = []
    for athlete in part.athletes:
        words = [said if head == "flags" else f"{head} {said}" for head, fact in facts if (said := fact(athlete))]
        line = Text(athlete.name, style="bold", overflow="fold")
        line.append("".join(f"   {word}" for word in words), style="not bold")
        cells = [f"{one.name} {' '.join(cell(athlete, one.station).split())}" for one in athlete.stations]
        blocks += [line, *_packed(cells, room - INDENT)]
    if with_class:
        blocks.append(Text(f"{THE_CLASS}, medians", style="dim"))
        blocks += _packed([f"{one.name} {_overview(one)}" for one in part.stations], room - INDENT)
    return Group(*blocks)


def _packed(cells: list[str], room: int) -> list[Padding]:
    """Lines of as many cells as fit; only a cell that is wider than a line is broken."""
    lines: list[str] = []
    for cell in cells:
        longer = f"{lines[-1]}   {cell}" if lines else cell
        if lines and cell_len(longer) <= room:
            lines[-1] = longer
        else:
            lines.append(cell)
    return [Padding(Text(line, overflow="fold"), (0, 0, 0, INDENT)) for line in lines]


def _median_words(athlete: AthleteSummary, station: int) -> str:
    medians = [one.median_split_ms for one in athlete.stations if one.station == station]
    return f"{medians[0] / 1000:.1f}" if medians and medians[0] is not None else ""


def _overview(station: StationOverview) -> str:
    return "untapped" if station.median_split_ms is None else f"{station.median_split_ms / 1000:.1f}"


def _heading_width(name: str) -> int:
    """Room for a short name on one line, and for every word of a long one."""
    return max(min(cell_len(name), SHORT_NAME), *(cell_len(word) for word in name.split()))


def _least(athlete: AthleteSummary) -> str:
    return "" if athlete.least_rest_ms is None else str(athlete.least_rest_ms // 1000)


def _slope(athlete: AthleteSummary) -> str:
    # Adding zero turns the -0.0 of a tiny loss into +0.0.
    return "" if athlete.slope_ms is None else f"{round(athlete.slope_ms / 1000, 1) + 0.0:+.1f}"


def _spread(athlete: AthleteSummary) -> str:
    return "" if athlete.cv_percent is None else f"{athlete.cv_percent:.1f}"


def _decrement(athlete: AthleteSummary) -> str:
    return "" if athlete.decrement_percent is None else f"{athlete.decrement_percent:.1f}"
