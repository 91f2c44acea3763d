"""Effort and load: what each athlete said of the class, and the week it stands in.

Invariant: a rating that stands here without `...` is on the disk; what is not known or not defined is said in words.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final

from rich.cells import cell_len
from rich.segment import Segment

from floorclock.floor.lines import Line, fit, padded, shielded, wrapped
from floorclock.floor.palette import CHOSEN, FAINT, STRONG, TEXT
from floorclock.pace.load import CAUTION, SessionLoad, WeekLoad
from floorclock.report.words import PERSONAL
from floorclock.review.effort_scale import effort_words
from floorclock.review.figures import NONE
from floorclock.review.pane import Pane, Sheet
from floorclock.review.styles import SHORT_BAR

NUMBERS: Final = 52
FEWEST_WORDS: Final = 30
MOST_WORDS: Final = 46
WAITING: Final = "..."
WEEK_NOTE: Final = (
    "Load: effort x minutes. Week: the seven days up to the day of this class, without rehearsals; + where a class of it is not "
    "rated. Monotony: mean day / standard deviation of the days (sample). Strain: week x monotony (Foster 1998)."
)


@dataclass(frozen=True, slots=True)
class EffortView:
    """Everybody's load, the weeks around it, who is chosen, and what was typed for them and is not kept yet.

    `said` is what became of the last rating, where that was no good.
    """

    loads: tuple[SessionLoad, ...]
    weeks: Mapping[str, WeekLoad]
    chosen: str
    typed: Mapping[str, str] = field(default_factory=dict)
    said: str = ""


class EffortPane(Pane[EffortView]):
    """The list of athletes."""

    def sheet(self, view: EffortView, width: int, height: int) -> Sheet:
        """Headings, list, and below it the chosen athlete in words and the cautions."""
        chosen = next((at for at, one in enumerate(view.loads) if one.name == view.chosen), None)
        name = max(8, min(26, width - NUMBERS - 4, max((cell_len(one.name) for one in view.loads), default=8) + 1))
        words = min(MOST_WORDS, width - name - NUMBERS) if width >= name + NUMBERS + FEWEST_WORDS else 0
        body = tuple(_row(one, view, (name, words), width) for one in view.loads)
        notes = f"{CAUTION} Ratings are personal data." if height < 24 else f"{WEEK_NOTE} {CAUTION} {PERSONAL}"
        foot = [padded([], width)] if height >= 24 else []
        foot += [_chosen_line(view, chosen, width)]
        foot += [padded([Segment(f" {line}", FAINT)], width) for line in wrapped(notes, width - 2, 6 if height >= 24 else 3)]
        return Sheet((_heading(name, words, width),), body, tuple(foot), chosen)


def _heading(name: int, words: int, width: int) -> Line:
    week = f"{'week':>8}{'monotony':>10}{'strain':>8}{'rest days':>11}"
    text = f"  {fit('athlete', name)}{'effort':>6} {fit('', words)}{'min':>4}{'load':>6}{week}"
    return padded([Segment(text, FAINT)], width)


def _row(one: SessionLoad, view: EffortView, cells: tuple[int, int], width: int) -> Line:
    name, words = cells
    chosen = one.name == view.chosen
    typed = view.typed.get(one.name)
    effort = f"{typed}{WAITING}" if typed is not None else NONE if one.effort is None else f"{one.effort:g}"
    said = "" if one.effort is None or typed is not None else effort_words(one.effort)
    load = NONE if one.load is None else f"{one.load:.0f}"
    return padded(
        [
            Segment("▸ " if chosen else "  ", STRONG),
            Segment(shielded(fit(one.name, name - 1)), CHOSEN if chosen else TEXT),
            Segment(f" {effort:>6} ", STRONG),
            Segment(fit(said, words), TEXT),
            Segment(f"{one.minutes:>4.0f}{load:>6}", TEXT),
            Segment(_week_words(view.weeks.get(one.name)), TEXT),
        ],
        width,
    )


def _week_words(week: WeekLoad | None) -> str:
    if week is None:
        return f"{NONE:>8}{NONE:>10}{NONE:>8}{NONE:>11}"
    load = f"{week.load:.0f}" if week.complete else f"{week.load:.0f}+" if week.load else NONE
    monotony = "undefined" if week.monotony is None else f"{week.monotony:.2f}"
    strain = NONE if week.strain is None else f"{week.strain:.0f}"
    return f"{load:>8}{monotony:>10}{strain:>8}{week.rest_days:>11}"


def _chosen_line(view: EffortView, chosen: int | None, width: int) -> Line:
    """What there is to say of the chosen athlete, or of a rating that was not kept."""
    if view.said:
        return padded([Segment(f" {view.said}", SHORT_BAR)], width)
    if chosen is None:
        return padded([], width)
    one = view.loads[chosen]
    week = view.weeks.get(one.name)
    effort = "not rated yet; type 0 to 10" if one.effort is None else f"{one.effort:g}, {effort_words(one.effort)}"
    segments = [Segment(f" {shielded(one.name)}: ", STRONG), Segment(effort, TEXT)]
    if week is not None and week.because:
        segments.append(Segment(f"   no monotony: {week.because}", FAINT))
    return padded(segments, width)
