"""Results of one part, in the order that the plan wants, and the rounds of the chosen athlete as a plot.

Invariant: the plot shows laps that were tapped, and nothing else.
"""

from __future__ import annotations

from itertools import zip_longest
from typing import ClassVar, Final

from rich.console import Group
from rich.text import Text
from textual.app import ComposeResult
from textual.containers import Container
from textual.widgets import Static

from floorclock.digest.class_digest import PartDigest
from floorclock.digest.figures import median_of_known
from floorclock.tui.base.keys_line import Keys
from floorclock.tui.base.lines import cut, shielded
from floorclock.tui.base.palette import FAINT, STRONG, TEXT
from floorclock.tui.review.plots import MIDDLE, OWN, laps_plot
from floorclock.tui.review.selection import ReviewSelection
from floorclock.tui.review.view import TURN, TWO_COLUMNS, AthleteTable, Column, TableView, ends_line, name_width

FEWEST_LAPS: Final = 2
WIDEST_NAME: Final = 26
NO_RESULTS: Final = "No part of this class has results (for time, as many rounds as possible, paced). Rests are in view 2."


class ResultsView(TableView):
    """One part with results. Arrows choose whose rounds are drawn."""

    NAME = "results"
    KEYS: ClassVar[Keys] = (("↑↓", "choose"), *TURN)

    def __init__(self, selection: ReviewSelection) -> None:
        super().__init__(selection, AthleteTable())
        self.told = Static()
        self.plot = Static(id="laps")

    def compose(self) -> ComposeResult:
        yield self.told
        with Container(classes="columns"):
            yield self.table
            yield self.plot

    @property
    def part_count(self) -> int:
        return len(self.selection.result_parts)

    def turn_part(self, step: int) -> None:
        self.selection.turn_result_part(step)

    def fill(self) -> None:
        part = self.selection.result_part
        self.table.display = self.plot.display = part is not None
        if part is None:
            self.told.update(Text(NO_RESULTS, TEXT))
            return
        title = Text.assemble((shielded(cut(part.title, 40)), STRONG), (f"   {part.kind_words}", FAINT))
        self.told.update(ends_line(title, Text(", ".join(part.result_facts), FAINT)))
        (_, *headings), *rows = part.result_rows
        width = name_width((athlete.label for athlete in part.athletes), WIDEST_NAME)
        columns: list[Column] = [(Text("athlete"), width), *((Text(word), None) for word in headings)]
        cells = {name: [Text(shielded(word), TEXT) for word in words] for name, *words in rows}
        if part.is_ranked:
            columns.insert(1, (Text(), None))
            for rank, row in enumerate(cells.values(), 1):
                row.insert(0, Text(str(rank), FAINT, justify="right"))
        self.table.show_rows(columns, cells, self.selection.label_in(part))
        self._show_laps(part)

    def _show_laps(self, part: PartDigest) -> None:
        """The chosen athlete's rounds over the class's median, where rounds were tapped."""
        laps = {athlete.label: [ms / 1000 for ms in part.lap_times_ms(athlete)] for athlete in part.athletes}
        laps = {label: laps_s for label, laps_s in laps.items() if len(laps_s) >= FEWEST_LAPS}
        self.plot.display = bool(laps)
        if not laps:
            return
        chosen = self.selection.label_in(part)
        own = laps.get(chosen, [])
        name = shielded(cut(chosen, 24))
        words = f"{OWN} {name}" if own else f"{name}: no rounds tapped"
        legend = f"seconds each round   {words}   {MIDDLE} median of the {len(laps)} with rounds tapped"
        middle = [median for lap in zip_longest(*laps.values()) if (median := median_of_known(lap)) is not None]
        width, height = self.app.size
        room = (width // 2 - 4, min(34, height - 7)) if width >= TWO_COLUMNS else (width - 2, max(6, (height - 5) * 9 // 20))
        self.plot.update(Group(Text(legend, FAINT, no_wrap=True, overflow="ellipsis"), laps_plot(own, middle, *room)))
