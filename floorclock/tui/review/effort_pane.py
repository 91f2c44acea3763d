"""Effort and load: what each athlete said of the class, and the week it stands in.

Invariant: a rating that stands here without `...` is on the disk; what is not known or not defined is said in words.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final

from rich.cells import cell_len
from rich.segment import Segment

from floorclock.digest.words import PERSONAL
from floorclock.pace.load import CAUTION, SessionLoad, WeekLoad
from floorclock.tui.base.lines import Line, cut, fit, padded, shielded, wrapped
from floorclock.tui.base.palette import CHOSEN, FAINT, STRONG, TEXT
from floorclock.tui.review.effort_scale import effort_words
from floorclock.tui.review.figures import NONE
from floorclock.tui.review.pane import Pane, Sheet
from floorclock.tui.review.styles import SHORT_BAR

NUMBERS: Final = 58
"""The cells of a row beside the name and the words of the effort, with the week; and without it."""
WITHOUT_WEEK: Final = 19
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

    `said` is what became of the last rating, where that was no good; `former` the one that it took the place of.
    """

    loads: tuple[SessionLoad, ...]
    weeks: Mapping[str, WeekLoad]
    chosen: str
    typed: Mapping[str, str] = field(default_factory=dict)
    said: str = ""
    former: float | None = None


@dataclass(frozen=True, slots=True)
class Columns:
    """The widths of names and words (0: none), and whether there is room for the week."""

    name: int
    words: int
    week: bool


class EffortPane(Pane[EffortView]):
    """The list of athletes."""

    def sheet(self, view: EffortView, width: int, height: int) -> Sheet:
        """Headings, list, and below it the chosen athlete in words and the cautions."""
        chosen = next((at for at, one in enumerate(view.loads) if one.name == view.chosen), None)
        columns = _columns(view, width)
        body = tuple(_row(one, view, columns, width) for one in view.loads)
        notes = f"{CAUTION} Ratings are personal data." if height < 24 else f"{WEEK_NOTE} {CAUTION} {PERSONAL}"
        foot = [padded([], width)] if height >= 24 else []
        foot += _chosen_lines(view, chosen, columns, width)
        foot += [padded([Segment(f" {line}", FAINT)], width) for line in wrapped(notes, width - 2, 6 if height >= 24 else 3)]
        return Sheet(_heading(columns, width), body, tuple(foot), chosen)


def _columns(view: EffortView, width: int) -> Columns:
    """The week goes as a whole where it has no room: half of a number would be another number."""
    longest = max((cell_len(one.name) for one in view.loads), default=8) + 1
    week = width >= NUMBERS + min(12, longest)
    numbers = NUMBERS if week else WITHOUT_WEEK
    name = max(8, min(26, width - numbers, longest))
    words = min(MOST_WORDS, width - name - numbers) if width >= name + numbers + FEWEST_WORDS else 0
    return Columns(name, words, week)


def _heading(columns: Columns, width: int) -> tuple[Line, ...]:
    week = f"{'week':>8}{'monotony':>10}{'strain':>8}{'a class here':>13}" if columns.week else ""
    text = f"  {fit('athlete', columns.name)}{'effort':>6} {fit('', columns.words)}{'min':>4}{'load':>6}{week}"
    above = f"{'days without':>{len(text)}}" if columns.week else ""
    return tuple(padded([Segment(line, FAINT)], width) for line in (above, text) if line)


def _row(one: SessionLoad, view: EffortView, columns: Columns, width: int) -> Line:
    chosen = one.name == view.chosen
    typed = view.typed.get(one.name)
    effort = f"{typed}{WAITING}" if typed is not None else NONE if one.effort is None else f"{one.effort:g}"
    said = "" if one.effort is None or typed is not None else effort_words(one.effort)
    load = NONE if one.load is None else f"{one.load:.0f}"
    return padded(
        [
            Segment("▸ " if chosen else "  ", STRONG),
            Segment(shielded(fit(one.name, columns.name - 1)), CHOSEN if chosen else TEXT),
            Segment(f" {effort:>6} ", STRONG),
            Segment(fit(said, columns.words), TEXT),
            Segment(f"{one.minutes:>4.0f}{load:>6}", TEXT),
            Segment(_week_figures(view.weeks.get(one.name)) if columns.week else "", TEXT),
        ],
        width,
    )


def _week_figures(week: WeekLoad | None) -> str:
    if week is None:
        return f"{NONE:>8}{NONE:>10}{NONE:>8}{NONE:>13}"
    load = f"{week.load:.0f}" if week.complete else f"{week.load:.0f}+" if week.load else NONE
    monotony = "undefined" if week.monotony is None else f"{week.monotony:.2f}"
    strain = NONE if week.strain is None else f"{week.strain:.0f}"
    return f"{load:>8}{monotony:>10}{strain:>8}{week.rest_days:>13}"


def _chosen_lines(view: EffortView, chosen: int | None, columns: Columns, width: int) -> list[Line]:
    """What there is to say of the chosen athlete, or of a rating that was not kept."""
    said = [padded([Segment(f" {line}", SHORT_BAR)], width) for line in wrapped(view.said, width - 2, 3) if line]
    if chosen is None:
        return said or [padded([], width)]
    one = view.loads[chosen]
    lines = [*said, padded([Segment(f" {shielded(cut(one.name, 30))}: ", STRONG), *_effort_words(one, view)], width)]
    week = view.weeks.get(one.name)
    words = [] if week is None or columns.week else [_week_words(week)]
    words += [f"No monotony: {week.because}."] if week is not None and week.because else []
    return lines + [padded([Segment(f" {line}", FAINT)], width) for text in words for line in wrapped(text, width - 2, 4)]


def _effort_words(one: SessionLoad, view: EffortView) -> list[Segment]:
    """`effort 3: moderate`, and what it was before."""
    if one.effort is None:
        return [Segment("not rated yet; type 0 to 10, Enter goes on to the next", TEXT)]
    segments = [Segment(f"effort {one.effort:g}: {effort_words(one.effort)}", TEXT)]
    if view.former is not None:
        segments.append(Segment(f"   was {view.former:g}; Backspace: {view.former:g} again", SHORT_BAR))
    return segments


def _week_words(week: WeekLoad) -> str:
    """The week of a row that has no room for it."""
    load = f"{week.load:.0f}{'' if week.complete else '+'}"
    monotony = "undefined" if week.monotony is None else f"{week.monotony:.2f}"
    strain = "" if week.strain is None else f", strain {week.strain:.0f}"
    return f"Week: load {load}, monotony {monotony}{strain}, {week.rest_days} days without a class here."
