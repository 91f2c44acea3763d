"""Many rehearsals on a terminal: who will not keep the margin, where, in which round; the last one in, and the hour.

Invariant: every chance is a number; its shade only helps to find it. What does not fit beside each other follows below.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby
from typing import Final

from rich.cells import cell_len, set_cell_size
from rich.console import Console
from rich.style import Style
from rich.text import Text

from floorclock.insight.rehearsals import ChanceColumn, Chances, Rehearsals, called, chance_grid, percent
from floorclock.plan.durations import duration_words
from floorclock.report.terminal import fitted, indented, short_name
from floorclock.simulate.many import Finish, PartChances

SHADES: Final = (
    (0.7, Style(color="#14171A", bgcolor="#E8803C", bold=True)),
    (0.4, Style(color="#14171A", bgcolor="#F2B184", bold=True)),
    (0.2, Style(color="#14171A", bgcolor="#F7D3BA")),
    (0.05, Style(color="#14171A", bgcolor="#FBEBDF")),
)
"""From which chance on; ink on tints of one hue, so that more is darker on any ground."""
CELL, GAP = 3, 1
LONGEST_NAME: Final = 16
LONGEST_HEADING: Final = 12
"""A station with few rounds has this much room for its name, where that needs it."""


def print_rehearsals(found: Rehearsals, console: Console) -> None:
    """Prints what came of them, part by part."""
    console.print(Text(found.session, style="bold"))
    console.print(Text(found.head_words, style="dim"))
    for words in found.notes:
        console.print(Text(words))
    for part, tried in found.parts:
        console.print()
        console.print(Text(part.title, style="bold"))
        for words in found.sentences(part, tried):
            console.print(indented(words))
        if part.athletes:
            console.print()
            _print_chances(part, tried, console)
        elif part.finishes:
            console.print(
                fitted(*finish_rows(part, tried), console.width - 2, right="under the cap, of 100", folds="in 80 of 100")
            )
    console.print()
    for words in found.legend:
        console.print(Text(words, style="dim italic"))


def _print_chances(part: PartChances, tried: PartChances | None, console: Console) -> None:
    places, rows = chance_grid(part, tried)
    names = [short_name(row.name, LONGEST_NAME) for row in rows]
    room = max(map(cell_len, names)) + GAP
    for number, columns in enumerate(_blocks(places, console.width - room)):
        if number:
            console.print()
        console.print(*_headings(columns, room), sep="\n")
        for name, row in zip(names, rows, strict=True):
            console.print(_line(name, columns, row.planned, room))
            tried_here = (row.tried or {}).items()
            changed = {place: chance for place, chance in tried_here if place in columns and chance != row.planned.get(place)}
            if changed:
                console.print(_line("", columns, changed, room))


def _blocks(places: Sequence[ChanceColumn], room: int) -> Iterator[list[ChanceColumn]]:
    """The columns, as many side by side as there is room for; the rounds of a station stay together where they can."""
    block: list[ChanceColumn] = []
    used = 0
    for place in places:
        begins = not block or block[-1].station != place.station
        following = [column for column in places if column.station == place.station] if begins else [place]
        spare = _spare(following) if begins else 0
        if block and used + min(GAP * begins + CELL * len(following) + spare, room) > room:
            yield block
            block, used, begins = [], 0, True
        block.append(place)
        used += CELL + GAP * begins + spare
    yield block


def _spare(rounds: Sequence[ChanceColumn]) -> int:
    """The room that the name of a station needs beyond that of its rounds."""
    return max(0, min(LONGEST_HEADING, cell_len(rounds[0].heading)) + 1 - CELL * len(rounds))


def _stations(columns: Sequence[ChanceColumn]) -> Iterator[list[ChanceColumn]]:
    """The columns of each station."""
    for _, rounds in groupby(columns, key=lambda place: place.station):
        yield list(rounds)


def _headings(columns: Sequence[ChanceColumn], room: int) -> tuple[Text, Text]:
    """The names of the stations over their rounds, and the rounds."""
    above, below = Text(" " * room), Text("round".ljust(room), style="dim")
    for rounds in _stations(columns):
        width = CELL * len(rounds) + _spare(rounds)
        above.append(" " * GAP)
        above.append(set_cell_size(short_name(rounds[0].heading, width - 1), width), style="bold")
        below.append(" " * GAP)
        for column in rounds:
            below.append((str(column.round) if column.round else "").rjust(CELL - 1) + " ")
        below.append(" " * _spare(rounds))
    return above, below


def _line(name: str, columns: Sequence[ChanceColumn], chances: Chances, room: int) -> Text:
    line = Text(set_cell_size(name, room))
    for rounds in _stations(columns):
        line.append(" " * GAP)
        for column in rounds:
            chance = chances.get(column)
            shades = (style for least, style in SHADES if chance is not None and chance >= least)
            words = "" if chance is None else percent(chance)
            line.append(words.rjust(CELL - 1) + " ", style=next(shades, Style()))
        line.append(" " * _spare(rounds))
    return line


def finish_rows(part: PartChances, tried: PartChances | None) -> tuple[tuple[str, ...], list[tuple[str, ...]]]:
    """When who is done with work for time: headings and rows."""
    heads = ("athlete", "done after", "in 80 of 100", "under the cap, of 100")
    rows: list[tuple[str, ...]] = []
    for at, finish in enumerate(part.finishes):
        rows.append((called(finish), *_finish_words(finish)))
        if tried is not None and tried.finishes[at] != finish:
            rows.append(("  as tried", *_finish_words(tried.finishes[at])))
    return heads, rows


def _finish_words(one: Finish) -> tuple[str, str, str]:
    low, middle, high = (
        duration_words(round(time) * 1000) for time in (one.finish_s.low, one.finish_s.middle, one.finish_s.high)
    )
    return middle, f"{low} to {high}", percent(one.in_time)
