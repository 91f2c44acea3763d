"""The rest picture: what everybody had left of every interval, row by row.

Invariant: what a colour says, the shape says too: rest of at least the margin is a solid bar that reaches the margin's mark, rest
kept while fading a hollow one, rest under the margin a hatched one with its seconds, what is to come a dashed one; `/` is
not finished and a small ring untapped.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from rich.cells import cell_len, set_cell_size

from floorclock.clock.splits import Split, Status
from floorclock.digest.summary import AthleteSummary, FlaggedSplit, PartSummary
from floorclock.digest.work_done import flags_said
from floorclock.pace.flags import Flag, is_tight
from floorclock.pace.model.forecast import Forecast
from floorclock.report.colours import Ink
from floorclock.report.drawing import Drawing

ROW, BAR_ROOM, NUMBER_ROOM = 34.0, 29.0, 12.0
NAMES, FLAGS, GAP, EDGE = 150.0, 175.0, 14.0, 2.0
NAME_CELLS = 19
WIDE = 1100.0
NARROWEST, WIDEST = 17.0, 46.0
"""The width of one round."""
BAR = 22.0
LETTER = 6.2
"""The width of a letter of a heading, about: browsers have their own fonts."""
LEGEND = (
    ("solid", "margin kept"),
    ("hollow", "kept, but fading"),
    ("hatched", "under the margin, with its seconds"),
    ("ahead", "forecast"),
    ("margin", "the margin"),
    ("slash", "not finished"),
    ("ring", "untapped"),
)


def rest_picture(part: PartSummary, names: Sequence[str]) -> Drawing:
    """Everybody's rest in every round of a part timed by splits; `names` are what to call its athletes."""
    return _RestGrid(part, names).drawn()


def short_name(name: str, cells: int = NAME_CELLS) -> str:
    """A name that fits, cut off with an ellipsis, however wide its letters are."""
    return name if cell_len(name) <= cells else set_cell_size(name, cells - 1).rstrip() + "…"


@dataclass
class _RestGrid:
    """The grid on its way: a row for each athlete, a block of columns for each station, a column for each round."""

    part: PartSummary
    names: Sequence[str]

    def drawn(self) -> Drawing:
        self.rounds = self._rounds_by_station()
        columns = sum(map(len, self.rounds.values()))
        room = WIDE - NAMES - FLAGS - 2 * EDGE - GAP * len(self.rounds)
        self.column = min(WIDEST, max(NARROWEST, room / max(columns, 1)))
        self.headings = {station: self._heading(self.part.station_name(station), station) for station in self.rounds}
        self.top = 14.0 * max(map(len, self.headings.values()), default=1) + 26
        self.scale = self._pixels_per_ms()
        width = 2 * EDGE + NAMES + FLAGS + GAP * len(self.rounds) + self.column * columns
        self.page = Drawing(width, self.top + ROW * len(self.part.athletes) + 34)
        self._head()
        for row, athlete in enumerate(self.part.athletes):
            self._row(self.top + ROW * (row + 1), athlete, self.names[row])
        self._legend(self.page.height - 10)
        return self.page

    def _rounds_by_station(self) -> dict[int, list[int]]:
        """The rounds that somebody worked in, or is to work in, at each station."""
        found: dict[int, set[int]] = {}
        for athlete in self.part.athletes:
            places = [(one.split.station, one.split.round) for one in athlete.splits]
            for station, number in [*places, *((one.slot.station, one.slot.round) for one in athlete.forecast)]:
                found.setdefault(station, set()).add(number)
        return {station: sorted(numbers) for station, numbers in sorted(found.items())}

    def _heading(self, name: str, station: int) -> list[str]:
        letters = max(6, int((self.column * len(self.rounds[station]) + GAP - 6) / LETTER))
        return textwrap.wrap(name, letters, max_lines=4, placeholder="…")

    def _pixels_per_ms(self) -> float:
        """The longest rest fills a row; where it is hardly more than the margin, room is left for the numbers above it."""
        splits = [one.split for athlete in self.part.athletes for one in athlete.splits]
        longest = max((split.rest_ms or 0 for split in splits), default=0)
        margin = max((split.margin_ms for split in splits), default=0)
        return min(BAR_ROOM / max(longest, margin, 1), (BAR_ROOM - NUMBER_ROOM) / max(margin, 1))

    def _columns(self) -> Iterator[tuple[int, int, float]]:
        """(station, round, left edge) of every column."""
        left = EDGE + NAMES + GAP
        for station, rounds in self.rounds.items():
            for place, number in enumerate(rounds):
                yield station, number, left + place * self.column
            left += len(rounds) * self.column + GAP

    def _head(self) -> None:
        seen: set[int] = set()
        for station, number, left in self._columns():
            if station not in seen:
                for line, words in enumerate(self.headings[station]):
                    self.page.text((left, 14 + 14 * line), words, bold=True)
            seen.add(station)
            self.page.text((left + self.column / 2, self.top - 6), str(number), ink=Ink.DIM, size=10, anchor="center")
        self.page.text((EDGE, self.top - 6), "round", ink=Ink.DIM, size=10)

    def _row(self, base: float, athlete: AthleteSummary, name: str) -> None:
        done = {(one.split.station, one.split.round): one for one in athlete.splits}
        ahead = {(one.slot.station, one.slot.round): one for one in athlete.forecast}
        self.page.text((EDGE, base - 9), short_name(name))
        for station, number, left in self._columns():
            one, to_come = done.get((station, number)), ahead.get((station, number))
            if one is None and to_come is None:
                continue
            self.page.line(Ink.GUIDE, (left, base), (left + self.column, base), width=0.8)
            if one is not None:
                self._taken(left, base, one)
            elif to_come is not None:
                self._to_come(left, base, to_come)
        lines = textwrap.wrap(flags_said(athlete) or "held", 28, max_lines=2, placeholder="…")
        for place, words in enumerate(lines):
            self.page.text((self.page.width - EDGE - FLAGS + 8, base - 9 + 13 * (place - (len(lines) - 1) / 2)), words)

    def _margin(self, left: float, base: float, margin_ms: int) -> None:
        height = base - margin_ms * self.scale
        self.page.line(Ink.DIM, (left, height), (left + self.column, height), width=0.8)

    def _taken(self, left: float, base: float, one: FlaggedSplit) -> None:
        split, middle = one.split, left + self.column / 2
        if split.status is Status.NOT_FINISHED:
            self.page.line(Ink.INK, (middle - 4, base - 3), (middle + 4, base - 19), width=2)
        elif split.rest_ms is None:
            self.page.dot(Ink.GUIDE, (middle, base - 6), 2.4, ring=True)
        else:
            self._bar(left, base, split, fading=Flag.FADING in one.flags)
            self._margin(left, base, split.margin_ms)

    @property
    def _bar_width(self) -> float:
        return min(BAR, 0.68 * self.column)

    def _bar(self, left: float, base: float, split: Split, *, fading: bool) -> None:
        rest_ms = split.rest_ms or 0
        height, width = max(rest_ms * self.scale, 1.5), self._bar_width
        left += (self.column - width) / 2
        if is_tight(split):
            self.page.hatched(Ink.TIGHT, left, base - height, width, height)
            at = (left + width / 2, base - max(height, split.margin_ms * self.scale) - 2)
            self.page.text(at, str(max(rest_ms, 0) // 1000), size=10.5, anchor="center", bold=True)
        elif fading:
            self.page.box(Ink.HELD, left + 0.7, base - height + 0.7, width - 1.4, height - 1.4, frame=True)
        else:
            self.page.box(Ink.HELD, left, base - height, width, height)

    def _to_come(self, left: float, base: float, one: Forecast) -> None:
        rest_ms = one.slot.window_ms - one.split_ms
        height = max(1.5, min(rest_ms * self.scale, BAR_ROOM))
        inset = (self.column - self._bar_width) / 2 + 0.7
        self.page.box(Ink.AHEAD, left + inset, base - height, self.column - 2 * inset, height, frame=True, dashed=True)
        self._margin(left, base, one.slot.margin_ms)
        if rest_ms < one.slot.margin_ms:
            at = (left + self.column / 2, base - max(height, one.slot.margin_ms * self.scale) - 2)
            self.page.text(at, str(max(0, int(rest_ms // 1000))), ink=Ink.DIM, size=10.5, anchor="center")

    def _legend(self, base: float) -> None:
        forecast = any(athlete.forecast for athlete in self.part.athletes)
        left = EDGE
        for kind, words in LEGEND:
            if kind == "ahead" and not forecast:
                continue
            _SAMPLE[kind](self.page, left, base)
            self.page.text((left + 19, base), words, ink=Ink.DIM, size=10.5)
            left += 19 + 5.5 * len(words) + 16


_SAMPLE = {
    "solid": lambda page, left, base: page.box(Ink.HELD, left, base - 11, 13, 12),
    "hollow": lambda page, left, base: page.box(Ink.HELD, left + 0.7, base - 10.3, 11.6, 10.6, frame=True),
    "hatched": lambda page, left, base: page.hatched(Ink.TIGHT, left, base - 8, 13, 9),
    "ahead": lambda page, left, base: page.box(Ink.AHEAD, left + 0.7, base - 10.3, 11.6, 10.6, frame=True, dashed=True),
    "margin": lambda page, left, base: page.line(Ink.DIM, (left, base - 5), (left + 14, base - 5), width=0.8),
    "slash": lambda page, left, base: page.line(Ink.INK, (left + 3, base), (left + 9, base - 11), width=2),
    "ring": lambda page, left, base: page.dot(Ink.GUIDE, (left + 6, base - 5), 2.4, ring=True),
}
