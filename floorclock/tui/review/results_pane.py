"""Results of one part, the best first, and the rounds of the chosen athlete as a plot.

Invariant: only results of the same work stand in one order; the plot shows laps that were tapped, and nothing else.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

from rich.cells import cell_len
from rich.segment import Segment

from floorclock.clock.splits import Result
from floorclock.digest.class_digest import AthleteDigest, PartDigest
from floorclock.digest.words import lap_words, result_words
from floorclock.pace.stats import median
from floorclock.tui.base.lines import Line, cut, fit, padded, shielded, spread
from floorclock.tui.base.painted import Painted
from floorclock.tui.base.palette import CHOSEN, FAINT, ORANGE, SKY_BLUE, STRONG, TEXT
from floorclock.tui.review.charts import FINE, Chart, Trace, bounds, chart_lines, marks
from floorclock.tui.review.pane import Pane, Sheet

OWN: Final = "●"
MIDDLE: Final = "○"
FEWEST_LAPS: Final = 2


@dataclass(frozen=True, slots=True)
class ResultsView:
    """A part, its athletes in the order of their results, and who is chosen."""

    part: PartDigest
    athletes: tuple[AthleteDigest, ...]
    chosen: str


def in_order(part: PartDigest) -> tuple[AthleteDigest, ...]:
    """The athletes of a part by what they reached."""
    return part.ranked


class ResultsPane(Pane[ResultsView]):
    """The table."""

    def sheet(self, view: ResultsView, width: int, height: int) -> Sheet:
        """The part and the headings stay, the athletes scroll."""
        title = spread(
            [Segment(f" {shielded(cut(view.part.title, 40))}", STRONG), Segment(f"   {view.part.kind.replace('_', ' ')}", FAINT)],
            [Segment(f"{', '.join(view.part.facts)} ", FAINT)],
            width,
        )
        rows = tuple(_row(at, one, view, width) for at, one in enumerate(view.athletes))
        chosen = next((at for at, one in enumerate(view.athletes) if one.name == view.chosen), None)
        return Sheet((title, _heading(view, width)), rows, chosen=chosen)


class LapPlot(Painted[ResultsView]):
    """The chosen athlete's rounds over the class's median."""

    def paint(self, view: ResultsView, width: int, height: int) -> list[Line]:
        """Nothing where nobody's rounds were tapped."""
        return plot_of(view, width, height)


def _heading(view: ResultsView, width: int) -> Line:
    choice = "work" if _has_choices(view) else ""
    words = f"     {fit('athlete', _name_cells(view))} {fit('result', 26)}{fit(choice, 12 if choice else 0)}"
    laps = "rounds, each in min:s" if has_laps(view) else ""
    return padded([Segment(words + laps, FAINT)], width)


def _row(at: int, athlete: AthleteDigest, view: ResultsView, width: int) -> Line:
    chosen = athlete.name == view.chosen
    result = athlete.result
    choice = ((result.choice or "as written") if result else "") if _has_choices(view) else ""
    name = shielded(fit(athlete.name, _name_cells(view)))
    return padded(
        [
            Segment("▸" if chosen else " ", STRONG),
            Segment(f"{at + 1:>3} ", FAINT),
            Segment(name, CHOSEN if chosen else TEXT),
            Segment(f" {fit(result_words(result, view.part.kind), 26)}", TEXT if result else FAINT),
            Segment(shielded(fit(choice, 12)) if _has_choices(view) else "", FAINT),
            Segment(lap_words(result), FAINT),
        ],
        width,
    )


def _has_choices(view: ResultsView) -> bool:
    return any(one.result is not None and one.result.choice for one in view.athletes)


def _name_cells(view: ResultsView) -> int:
    return max(8, min(24, max((cell_len(one.name) for one in view.athletes), default=8)))


def laps_of(result: Result | None) -> tuple[float, ...]:
    """How long each tapped round took, in seconds; empty where fewer than two were tapped."""
    if result is None or len(result.laps_ms) < FEWEST_LAPS:
        return ()
    return tuple((end - start) / 1000 for start, end in pairwise((0, *result.laps_ms)))


def has_laps(view: ResultsView) -> bool:
    """True where somebody's rounds were tapped."""
    return any(laps_of(one.result) for one in view.athletes)


def plot_of(view: ResultsView, width: int, height: int) -> list[Line]:
    """The chosen athlete's rounds over the class's median; nothing where nobody's rounds were tapped."""
    everybody = [laps for one in view.athletes if (laps := laps_of(one.result))]
    if not everybody or height < 7:
        return []
    own = next((laps_of(one.result) for one in view.athletes if one.name == view.chosen), ())
    name = cut(view.chosen, 24)
    words = f"{OWN} {name}" if own else f"{name}: no rounds tapped"
    legend = f"   seconds each round   {words}   {MIDDLE} median of the {len(everybody)} with rounds tapped"
    drawn = chart_lines(_chart(own, _middle(everybody), width, height - 1), width, height - 1)
    return [padded([Segment(shielded(cut(legend, width)), FAINT)], width), *drawn] if drawn else []


def _middle(everybody: Sequence[tuple[float, ...]]) -> tuple[float, ...]:
    longest = max(map(len, everybody))
    return tuple(median([laps[at] for laps in everybody if at < len(laps)]) for at in range(longest))


def _chart(own: tuple[float, ...], middle: tuple[float, ...], width: int, height: int) -> Chart:
    last = max(len(own), len(middle))
    y_range = bounds([*own, *middle])
    rounds = tuple(float(number) for number in range(1, last + 1))
    return Chart(
        traces=(
            Trace(rounds[: len(middle)], middle, FINE, ORANGE, joined=True),
            Trace(rounds[: len(middle)], middle, MIDDLE, ORANGE),
            Trace(rounds[: len(own)], own, FINE, SKY_BLUE, joined=True),
            Trace(rounds[: len(own)], own, OWN, SKY_BLUE),
        ),
        x_range=(0.5, last + 0.5),
        y_range=y_range,
        x_marks=tuple((at, f"{at:g}") for at in marks(1, last, max(2, width // 5))),
        y_marks=tuple((at, f"{at:g}") for at in marks(*y_range, max(2, height // 3))),
    )
