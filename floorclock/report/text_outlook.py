"""What comes next, on a terminal: forecasts while rounds are to come, the targets to give, and the session load.

Invariant: a forecast never stands without the span that holds it in 80 of 100 cases.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from operator import attrgetter

from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from floorclock.digest.summary import AthleteSummary, ClassSummary, PartSummary
from floorclock.digest.words import BAR, WAY_SIGN, WAYS, forecast_words, load_words, target_words
from floorclock.pace.flags import SYMBOL, Flag
from floorclock.pace.model.forecast import Forecast

INDENT = (0, 0, 0, 2)
NAME_LIMIT = 20
AHEAD_LEGEND = "The split of the last round at each station, and in brackets what holds it in 80 of 100 cases."
TARGETS_LEGEND = f"{WAYS}. What would keep the margin to the last round; you decide. {BAR}"


def print_outlook(summary: ClassSummary, console: Console) -> None:
    """Prints a block for whatever is known of what comes next, and nothing where nothing is."""
    timed = [part for part in summary.parts if part.is_timed_by_splits]
    several = sum(bool(part.athletes) for part in timed) > 1
    for part in timed:
        title = f": {part.title}" if several else ""
        # Of whom nobody tapped, a forecast would say what the class does, and nothing of them.
        known = [athlete for athlete in part.athletes if athlete.forecast and athlete.tapped]
        ahead = [(athlete.name, _ahead_words(part, athlete)) for athlete in known]
        _print_block(f"What is to come{title}", ahead, AHEAD_LEGEND, console)
        _print_block(f"Next targets{title}", _targets(part), TARGETS_LEGEND, console)
    if any(one.effort is not None for one in summary.load):
        loads = [(one.name, load_words(one)) for one in summary.load]
        _print_block("Effort and load", loads, "Effort is each athlete's own rating, 0 to 10; load is effort x minutes.", console)


def _print_block(title: str, lines: Sequence[tuple[str, str]], legend: str, console: Console) -> None:
    if not lines:
        return
    table = Table.grid(padding=(0, 2, 0, 0))
    table.add_column(overflow="fold", max_width=NAME_LIMIT)
    table.add_column(overflow="fold")
    for name, words in lines:
        table.add_row(Text(name), Text(words))
    console.print()
    console.print(Text(title, style="bold"))
    console.print(Padding(table, INDENT))
    console.print(Padding(Text(legend, style="dim italic"), INDENT))


def _ahead_words(part: PartSummary, athlete: AthleteSummary) -> str:
    words = [
        f"{part.work_name(one.slot.station, one.slot.move)} round {one.slot.round}: {forecast_words(one)}"
        for one in last_of_each_station(athlete.forecast)
    ]
    if athlete.runs_out_round is not None:
        words.insert(0, f"{SYMBOL[Flag.RUNS_OUT]} the margin is likely to go in round {athlete.runs_out_round}")
    return ", ".join(words)


def last_of_each_station(forecasts: Iterable[Forecast]) -> tuple[Forecast, ...]:
    """The latest forecast for each station, in the order of the stations."""
    latest = {one.slot.station: one for one in sorted(forecasts, key=lambda one: one.slot.round)}
    return tuple(one for _, one in sorted(latest.items()))


def _targets(part: PartSummary) -> list[tuple[str, str]]:
    station, lines = attrgetter("station"), []
    for athlete in part.athletes:
        given = [
            f"{one.own_move or part.station_name(one.station)} {target_words(one, with_move=False)} {WAY_SIGN[one.way]}"
            for one in sorted(athlete.advice, key=station)
        ]
        if given:
            lines.append((athlete.name, ", ".join(given)))
    return lines
