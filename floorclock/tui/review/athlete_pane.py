"""One athlete in one part: plots of their splits, the rounds as a table, the drift in words, and what to change.

Invariant: the table holds every round that was theirs, also where the plot has no room for its station.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from rich.cells import cell_len
from rich.segment import Segment

from floorclock.clock.splits import Status
from floorclock.digest.class_digest import AthleteDigest, FlaggedSplit, PartDigest
from floorclock.digest.figures import StationFigures
from floorclock.digest.words import chance_words, counted, drift_words
from floorclock.pace.flags import SYMBOL, Flag, most_urgent
from floorclock.pace.model.forecast import Forecast
from floorclock.tui.base.lines import Line, cut, fit, padded, shielded, spread, width_of, wrapped
from floorclock.tui.base.palette import BLANK, FAINT, STRONG, TEXT
from floorclock.tui.review.charts import chart_lines
from floorclock.tui.review.figures import rest_seconds, seconds
from floorclock.tui.review.pace_plot import LEGEND, LEGEND_SHORT, StationPoints, seconds_in_sight, station_chart, station_points
from floorclock.tui.review.pane import Pane, Sheet
from floorclock.tui.review.styles import ADVICE, FLAG_STYLE, GOOD, HEADING, HOLE, KEPT, MISSED, MISSED_SIGN

NARROWEST_PLOT: Final = 26
WIDEST_PLOT: Final = 90
TALL_PLOT: Final = 16
STATION_CELLS: Final = 21
SIDE_BY_SIDE: Final = 120
BY_HAND: Final = "*"


@dataclass(frozen=True, slots=True)
class AthleteView:
    """Who, in which part, where they stand among the others, and which station comes first.

    `paper`: everything was written down by hand, so that no split is marked as such.
    """

    athlete: AthleteDigest
    part: PartDigest
    place: str
    first: int = 0
    paper: bool = False


class AthletePane(Pane[AthleteView]):
    """One athlete in detail."""

    def sheet(self, view: AthleteView, width: int, height: int) -> Sheet:
        """Who and the plots stay; the table and the words scroll."""
        athlete = view.athlete
        points = turned(station_points(athlete, view.part), view.first)
        plots = plot_lines(points, width - 2, max(9, min(30, height * 9 // 20)))
        head = [_who(view, width), *(padded([Segment(" ", BLANK), *line], width) for line in plots)]
        if width >= SIDE_BY_SIDE:
            room = width // 2
            table = table_lines(points, room - 4, paper=view.paper)
            words = words_lines(athlete, view.part, width - room - 2)
            body = [_beside(table, words, at, room, width) for at in range(max(len(table), len(words)))]
        else:
            table, words = table_lines(points, width - 2, paper=view.paper), words_lines(athlete, view.part, width - 2)
            body = [padded([Segment(" ", BLANK), *line], width) for line in (*table, (), *words)]
        return Sheet(tuple(head), tuple(body))


def _who(view: AthleteView, width: int) -> Line:
    athlete = view.athlete
    left = [Segment(f" {shielded(cut(athlete.name, 30))}", STRONG), Segment(f"   {shielded(cut(view.part.title, 30))}   ", FAINT)]
    for flag in athlete.flags:
        left.append(Segment(f"{athlete.flag_words(flag)}  ", FLAG_STYLE[flag]))
    if athlete.held:
        left.append(Segment("held margin and pace", GOOD))
    elif not athlete.tapped and not athlete.flags:
        left.append(Segment("untapped: nothing is known", FAINT))
    pace = f"   {view.part.pace_words(athlete)}" if athlete.tapped else ""
    if width_of(left) + cell_len(pace) + cell_len(view.place) + 2 <= width:
        left.append(Segment(pace, TEXT))
    return spread(left, [Segment(f"{view.place} ", FAINT)], width)


def _beside(left: Sequence[Line], right: Sequence[Line], at: int, room: int, width: int) -> Line:
    one, other = (lines[at] if at < len(lines) else () for lines in (left, right))
    return padded([Segment(" ", BLANK), *padded(one, room - 1), *other], width)


def turned(points: Sequence[StationPoints], first: int) -> list[StationPoints]:
    """The stations with another one in front."""
    return [*points[first % len(points) :], *points[: first % len(points)]] if points else []


def plot_lines(points: Sequence[StationPoints], width: int, height: int) -> list[Line]:
    """The plots of as many stations as fit beside each other, their names above and what the signs mean below."""
    tapped = [one for one in points if any(flagged.split.status is not Status.UNTAPPED for flagged in one.splits)]
    shown = tapped[: max(1, width // NARROWEST_PLOT)]
    if not shown:
        return []
    room = min(WIDEST_PLOT, width // len(shown))
    # Where there is room one scale for all, so that they can be compared; else each its own, or nothing would be told apart.
    scales = [seconds_in_sight(tapped if height >= TALL_PLOT else [one]) for one in shown]
    more = f"   {len(shown)} of {len(tapped)} stations: s turns" if len(shown) < len(tapped) else ""
    titles: list[Segment] = []
    for at, one in enumerate(shown):
        words = one.name + (more if at == len(shown) - 1 else "")
        titles.append(Segment(shielded(fit(f"   {words}", room)), TEXT))
    plots = [chart_lines(station_chart(one, scale, room, height), room, height) for one, scale in zip(shown, scales, strict=True)]
    rows = [tuple(segment for plot in plots for segment in plot[at]) for at in range(min(map(len, plots)))]
    legend = LEGEND if cell_len(LEGEND) <= width else LEGEND_SHORT
    return [tuple(titles), *rows, (Segment(legend, FAINT),)]


def table_lines(points: Sequence[StationPoints], width: int, *, paper: bool = False) -> list[Line]:
    """Every round, station by station: split, rest and flags; what is to come with its interval. Stacked where too narrow."""
    fits = max(1, (width - 6) // STATION_CELLS)
    lines: list[Line] = []
    for begin in range(0, len(points), fits):
        block = points[begin : begin + fits]
        lines += [(), *_block(block, paper=paper)] if lines else _block(block, paper=paper)
    if not paper and any(one.split.corrected for station in points for one in station.splits):
        lines.append((Segment(f"{BY_HAND} entered by hand", FAINT),))
    return lines


def _block(stations: Sequence[StationPoints], *, paper: bool) -> list[Line]:
    head = [Segment(fit("round", 6), FAINT)]
    head += [Segment(shielded(fit(f"  {cut(one.name, STATION_CELLS - 3)}", STATION_CELLS)), STRONG) for one in stations]
    under = [Segment(" " * 6, BLANK), *(Segment(fit(f"{'split':>7}{'rest':>6}", STATION_CELLS), FAINT) for _ in stations)]
    rounds = sorted({one.split.round for points in stations for one in points.splits})
    ahead = sorted({one.slot.round for points in stations for one in points.coming} - set(rounds))
    lines: list[Line] = [tuple(head), tuple(under)]
    for number in (*rounds, *ahead):
        segments = [Segment(f"{number:>5} ", TEXT)]
        for points in stations:
            segments += padded(_round_cell(points, number, paper=paper), STATION_CELLS)
        lines.append(tuple(segments))
    return lines


def _round_cell(points: StationPoints, number: int, *, paper: bool) -> list[Segment]:
    here = [one for one in points.splits if one.split.round == number]
    if here:
        return _split_cell(here[-1], paper=paper)
    coming = next((one for one in points.coming if one.slot.round == number), None)
    return [_coming_cell(coming)] if coming else []


def _split_cell(one: FlaggedSplit, *, paper: bool) -> list[Segment]:
    split = one.split
    signs = " ".join(SYMBOL[flag] for flag in one.flags if flag is not Flag.NOT_FINISHED)
    worst = most_urgent(one.flags)
    style = FLAG_STYLE[worst] if worst else TEXT
    if split.status is Status.NOT_FINISHED:
        return [Segment(f"{MISSED_SIGN:>7}  not finished", MISSED)]
    if split.split_ms is None:
        return [Segment(f"{HOLE:>7}  untapped", FAINT)]
    return [
        Segment(f"{seconds(split.split_ms):>7}", KEPT if not worst else style),
        Segment(f"{rest_seconds(split.rest_ms):>6}", style),
        Segment(f"{BY_HAND if split.corrected and not paper else ' '}{signs}", style),
    ]


def _coming_cell(coming: Forecast) -> Segment:
    reach = f"{seconds(coming.low_ms, 0)} to {seconds(coming.high_ms, 0)}"
    return Segment(f"{seconds(coming.split_ms):>7} ({reach})", ADVICE)


def words_lines(athlete: AthleteDigest, part: PartDigest, width: int) -> list[Line]:
    """The drift in words, figures of each station, and what to change."""
    lines: list[Line] = []
    if athlete.tapped:
        drift = "; ".join(filter(None, (part.pace_words(athlete), athlete.margin_words)))
        lines += _wrapped(drift[0].upper() + drift[1:] + ".", width)
        lines += [line for one in athlete.stations for line in _wrapped(_station_words(one, athlete, part), width, 3)]
    if athlete.untapped:
        lines += _wrapped(f"{counted(athlete.untapped, 'interval')} untapped: unknown.", width)
    if athlete.advice:
        lines += [(), (Segment("What to change" if athlete.forecast else "Next time", HEADING),)]
    for advice in athlete.advice:
        head = f"{advice.move}: {advice.words}"
        lines += [(Segment(shielded(line), ADVICE),) for line in wrapped(head, width, 3)]
        # A number and its sign stay on one line.
        because = f"{advice.because}; chance to keep the margin: {chance_words(advice).replace(' %', '%')}"
        lines += [(Segment(shielded(f"  {line}"), TEXT),) for line in wrapped(because, width - 2, 4)]
    return lines


def _station_words(one: StationFigures, athlete: AthleteDigest, part: PartDigest) -> str:
    name = part.work_at(athlete, one.station)
    if one.median_split_ms is None:
        return f"  {name}: untapped"
    words = f"  {name}: median {seconds(one.median_split_ms)} s, {drift_words(one.slope_ms)}"
    return words + ("" if one.cv_percent is None else f", spread {one.cv_percent:.1f} %")


def _wrapped(words: str, width: int, rows: int = 4) -> list[Line]:
    indent = " " * (len(words) - len(words.lstrip()))
    return [(Segment(shielded(indent + line), TEXT),) for line in wrapped(words, width - len(indent), rows)]
