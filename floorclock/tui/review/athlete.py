"""One athlete in one part: plots of their splits, the rounds as tables, the drift in words, and what to change.

Invariant: the tables hold every round that was theirs, also where the plot has no room for its station.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from functools import partial
from typing import ClassVar, Final

from rich.cells import cell_len
from rich.columns import Columns
from rich.console import Group, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text
from textual.app import ComposeResult
from textual.containers import Container, VerticalScroll
from textual.widgets import Static

from floorclock.clock.splits import Status
from floorclock.digest.class_digest import AthleteDigest, FlaggedSplit, PartDigest
from floorclock.digest.words import HELD, chance_words, drift_words, tenths
from floorclock.pace.flags import SYMBOL, Flag, most_urgent
from floorclock.pace.model.forecast import Forecast
from floorclock.plan.names import counted
from floorclock.tui.base.keys_line import Keys
from floorclock.tui.base.lines import cut, shielded
from floorclock.tui.base.palette import FAINT, STRONG, TEXT
from floorclock.tui.review.plots import LEGEND, LEGEND_SHORT, scale_of, station_plot
from floorclock.tui.review.selection import ReviewSelection
from floorclock.tui.review.view import (
    ADVICE,
    FLAG_STYLE,
    GOOD,
    HEADING,
    HOLE,
    KEPT,
    MISSED,
    MISSED_SIGN,
    NO_SPLITS,
    TURN,
    ReviewView,
    ends_line,
    rest_seconds,
    seconds,
)

NARROWEST_PLOT, WIDEST_PLOT = 26, 90
TALL_PLOT: Final = 16
BY_HAND: Final = "*"


class AthleteView(ReviewView):
    """One athlete in one part. Left and right turn to the next one."""

    NAME = "athlete"
    KEYS: ClassVar[Keys] = (("←→", "athlete"), ("s", "stations"), ("↑↓", "more"), *TURN)

    def __init__(self, selection: ReviewSelection) -> None:
        super().__init__(selection)
        self.head, self.plots, self.rounds, self.words = Static(), Static(), Static(), Static(id="words")
        self._first_station = 0
        """Which station's plot stands first."""

    def compose(self) -> ComposeResult:
        yield self.head
        yield self.plots
        with VerticalScroll(can_focus=False), Container(classes="columns"):
            yield self.rounds
            yield self.words

    @property
    def part_count(self) -> int:
        return len(self.selection.digest.timed)

    def turn_part(self, step: int) -> None:
        self._first_station = 0
        self.selection.turn_timed_part(step)
        self.query_one(VerticalScroll).scroll_home(animate=False)

    def key_actions(self) -> Mapping[str, Callable[[], None]]:
        return {
            **super().key_actions(),
            "left": partial(self._turn_athlete, -1),
            "right": partial(self._turn_athlete, 1),
            "s": partial(self._turn_station, 1),
            "S": partial(self._turn_station, -1),
        }

    def _turn_athlete(self, step: int) -> None:
        self.selection.turn_athlete(step)
        self.query_one(VerticalScroll).scroll_home(animate=False)

    def _turn_station(self, step: int) -> None:
        self._first_station += step

    def fill(self) -> None:
        part, athlete = self.selection.timed_part, self.selection.athlete_in_part
        for widget in (self.plots, self.rounds, self.words):
            widget.display = athlete is not None
        if part is None:
            self.head.update(Text(NO_SPLITS, TEXT))
        elif athlete is None:
            self.head.update(Text(f"{self.selection.athlete} was not in {part.title}; left and right turn to others.", TEXT))
        else:
            digest, (width, height) = self.selection.digest, self.app.size
            self.head.update(head_line(athlete, part, f"{digest.number_of(athlete.name)} of {len(digest.athletes)}", width - 2))
            at = self._first_station % len(athlete.worked_at)
            stations = (*athlete.worked_at[at:], *athlete.worked_at[:at])
            self.plots.update(station_plots(athlete, part, stations, width - 2, max(9, min(30, (height - 4) * 9 // 20))))
            self.rounds.update(round_tables(athlete, part, paper=digest.paper))
            self.words.update(athlete_told(athlete, part, digest.targets_title))


def head_line(athlete: AthleteDigest, part: PartDigest, place: str, width: int) -> Table:
    """Who, in which part, with which flags; the pace where there is room for it."""
    told = Text.assemble((shielded(cut(athlete.name, 30)), STRONG), (f"   {shielded(cut(part.title, 30))}   ", FAINT))
    for flag in athlete.flags:
        told.append(f"{athlete.flag_words(flag)}  ", FLAG_STYLE[flag])
    if not athlete.flags:
        told.append(athlete.state_words, GOOD if athlete.state_words == HELD else FAINT)
    pace = f"   {part.pace_words(athlete)}" if athlete.tapped else ""
    if told.cell_len + cell_len(pace) + cell_len(place) + 2 <= width:
        told.append(pace, TEXT)
    return ends_line(told, Text(place, FAINT))


def station_plots(athlete: AthleteDigest, part: PartDigest, stations: Sequence[int], width: int, height: int) -> RenderableType:
    """The plots of as many stations as fit beside each other, their names above and what the signs mean below."""
    tapped = [at for at in stations if any(taken.split.status is not Status.UNTAPPED for taken in athlete.splits_at(at))]
    shown = tapped[: max(1, width // NARROWEST_PLOT)]
    if not shown:
        return Text()
    room = min(WIDEST_PLOT, width // len(shown))
    more = f"   {len(shown)} of {len(tapped)} stations: s turns" if len(shown) < len(tapped) else ""
    beside = Table.grid()
    for _ in shown:
        beside.add_column(width=room, no_wrap=True)
    names = [part.work_at(athlete, station) for station in shown]
    names[-1] += more
    beside.add_row(*(Text(shielded(cut(f"   {name}", room - 1)), TEXT) for name in names))
    # Where there is room one scale for all, so that they can be compared; else each its own, or nothing would be told apart.
    scales = [scale_of(athlete, tapped if height >= TALL_PLOT else [station]) for station in shown]
    beside.add_row(*(station_plot(athlete, at, scale, room, height) for at, scale in zip(shown, scales, strict=True)))
    legend = LEGEND if cell_len(LEGEND) <= width else LEGEND_SHORT
    return Group(beside, Text(legend, FAINT, no_wrap=True, overflow="ellipsis"))


def round_tables(athlete: AthleteDigest, part: PartDigest, *, paper: bool) -> RenderableType:
    """A table of rounds for each station, as many beside each other as fit.

    `paper`: everything was written down by hand, so that no split is marked as such.
    """
    tables = [_rounds(athlete, station, part.work_at(athlete, station), paper=paper) for station in athlete.worked_at]
    by_hand = not paper and any(taken.split.corrected for taken in athlete.splits)
    return Group(Columns(tables, padding=(0, 2, 1, 0)), *([Text(f"{BY_HAND} entered by hand", FAINT)] if by_hand else []))


def _rounds(athlete: AthleteDigest, station: int, name: str, *, paper: bool) -> Table:
    """Every round at one station: split, rest and flags; what is to come with its interval."""
    title = Text(shielded(cut(name, 22)), STRONG)
    table = Table(title=title, title_justify="left", box=None, pad_edge=False, padding=(0, 1, 0, 0), header_style=FAINT)
    for heading in ("round", " split", "rest"):
        table.add_column(heading, justify="right", no_wrap=True)
    table.add_column(no_wrap=True)
    rounds = {ahead.slot.round: _coming_cells(ahead) for ahead in athlete.forecast_at(station)}
    rounds |= {taken.split.round: _split_cells(taken, paper=paper) for taken in athlete.splits_at(station)}
    for number in sorted(rounds):
        table.add_row(Text(str(number), TEXT), *rounds[number])
    return table


def _split_cells(taken: FlaggedSplit, *, paper: bool) -> tuple[Text, Text, Text]:
    split = taken.split
    if split.status is Status.NOT_FINISHED:
        return Text(MISSED_SIGN, MISSED), Text(), Text("not finished", MISSED)
    if split.split_ms is None:
        return Text(HOLE, FAINT), Text(), Text("untapped", FAINT)
    worst = most_urgent(taken.flags)
    style = FLAG_STYLE[worst] if worst else TEXT
    signs = " ".join(SYMBOL[flag] for flag in taken.flags if flag is not Flag.NOT_FINISHED)
    hand = BY_HAND if split.corrected and not paper else " "
    return (
        Text(seconds(split.split_ms), style if worst else KEPT),
        Text(rest_seconds(split.rest_ms), style),
        Text(hand + signs, style),
    )


def _coming_cells(ahead: Forecast) -> tuple[Text, Text, Text]:
    reach = f"({seconds(ahead.low_ms, 0)} to {seconds(ahead.high_ms, 0)})"
    return Text(seconds(ahead.split_ms), ADVICE), Text(), Text(reach, ADVICE)


def athlete_told(athlete: AthleteDigest, part: PartDigest, targets_title: str) -> Group:
    """The drift in words, figures of each station, and what to change."""
    told: list[RenderableType] = []
    if athlete.tapped:
        drift = "; ".join(filter(None, (part.pace_words(athlete), athlete.margin_words)))
        told.append(Text(shielded(f"{drift[0].upper()}{drift[1:]}."), TEXT))
    for station in athlete.stations:
        words = f"{part.work_at(athlete, station.station)}: "
        if station.median_split_ms is None:
            words += "untapped"
        else:
            words += f"median {tenths(station.median_split_ms)} s, {drift_words(station.slope_ms)}"
            words += "" if station.cv_percent is None else f", spread {station.cv_percent:.1f} %"
        told.append(_indented(words))
    if athlete.untapped:
        told.append(Text(f"{counted(athlete.untapped, 'interval')} not recorded.", TEXT))
    if athlete.advice:
        told += [Text(), Text(targets_title, HEADING)]
    for advice in athlete.advice:
        told.append(Text(shielded(f"{advice.move}: {advice.words}"), ADVICE))
        told.append(_indented(f"{advice.because}; chance to keep the margin: {chance_words(advice)}"))
    return Group(*told)


def _indented(words: str) -> Padding:
    return Padding(Text(shielded(words), TEXT), (0, 0, 0, 2))
