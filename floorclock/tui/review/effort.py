"""Effort ratings, and the loads that follow from them. Digits rate the chosen athlete.

Invariant: whatever is typed and can be an effort goes on its way to the disk at once, in the order it was typed, and stands
with `...` until it is there. What cannot be one leaves the rating as it was before, and whatever takes the place of a rating
is said with it.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import partial
from typing import ClassVar, Final, Protocol

from rich.console import Group
from rich.text import Text
from textual import events
from textual.app import ComposeResult
from textual.containers import Container, Vertical
from textual.message import Message
from textual.widgets import Static

from floorclock.digest.class_digest import ClassDigest
from floorclock.digest.effort_scale import CR10, SOURCE, effort_of, effort_words, may_become_one, nudged, short_word
from floorclock.digest.words import PERSONAL
from floorclock.errors import FloorclockError
from floorclock.pace.load import CAUTION, SessionLoad, WeekLoad
from floorclock.tui.base.keys_line import Keys
from floorclock.tui.base.lines import cut, shielded
from floorclock.tui.base.palette import CAP, CHOSEN, FAINT, STRONG, TEXT
from floorclock.tui.review.selection import ReviewSelection
from floorclock.tui.review.view import NONE, SHORT_BAR, TWO_COLUMNS, AthleteTable, Column, TableView, name_width

TYPED: Final = frozenset("0123456789.,")
PAUSE_S: Final = 2.0
"""What is typed after a pause as long as that begins a rating anew."""
WEEK_NOTE: Final = (
    "Load: effort x minutes. Week: the seven days up to the day of this class, without rehearsals; + where a class of it is not "
    "rated. Monotony: mean day / standard deviation of the days (sample). Strain: week x monotony (Foster 1998)."
)
NOTES: Final = f"{WEEK_NOTE} {CAUTION} {PERSONAL}"
SHORT_NOTES: Final = f"{CAUTION} Ratings are personal data."
TALL: Final = 30
"""On a screen as tall as that the notes stand in full."""
HEADINGS: Final = ("effort", "min", "load", "week", "monotony", "strain", "days off")
ROOM_FOR_SCALE: Final = 16
"""On a screen less tall than that the scale gives way to what is said of a rating."""
WIDEST_NAME, WORDS = 18, 34
WIDE: Final = 156
"""From this width on there is room for the words of everybody's effort."""


class ReviewSource(Protocol):
    """The records around one class. The methods may take their time: they are called on a thread."""

    def weeks(self, digest: ClassDigest) -> Mapping[str, WeekLoad]:
        """For everybody in the class, the seven days that end with its day.

        Raises:
            FloorclockError: the records cannot be read.
        """

    def rate(self, athlete: str, effort: float | None) -> None:
        """Keeps an athlete's effort for the class; None takes it back.

        Raises:
            FloorclockError: it could not be kept.
        """


class EffortView(TableView):
    """The whole class, one rating each."""

    NAME = "effort"
    KEYS: ClassVar[Keys] = (("0-10", "rate"), ("Enter", "next"), ("Tab", "views"), ("Backspace", "undo"), ("←→", "half"))
    DIGITS_TURN = False

    def __init__(self, selection: ReviewSelection, source: ReviewSource) -> None:
        super().__init__(selection, AthleteTable())
        self.source = source
        self.scale = EffortScale()
        self.told = Static()
        self.weeks: Mapping[str, WeekLoad] = {}
        self._typed = ""
        """What was typed for the chosen athlete without a pause."""
        self._typed_at_s = 0.0
        self._former: float | None = None
        """The rating of the chosen athlete that the one typed now took the place of."""
        self._said = ""
        """What was wrong with the last thing typed; empty where nothing was."""
        self._trouble = ""
        """Why the last thing that should have been kept or read was not; empty when all is well."""
        self._sent: dict[str, float | None] = {}
        """Ratings on their way to the disk."""
        self._on_the_way = 0
        self._turns = asyncio.Lock()

    def compose(self) -> ComposeResult:
        with Container(classes="columns"):
            with Vertical():
                yield self.table
                yield self.told
            yield self.scale

    def on_mount(self) -> None:
        self.run_worker(self._read_weeks(), exclusive=False)

    def key_actions(self) -> Mapping[str, Callable[[], None]]:
        return {
            **super().key_actions(),
            "left": partial(self._nudge, -1),
            "right": partial(self._nudge, 1),
            "backspace": self._take_back,
            "delete": self._take_back,
            "enter": partial(self.move, 1),
        }

    def press(self, event: events.Key) -> bool:
        """Digits rate here; they turn to no other view."""
        if event.character is None or event.character not in TYPED:
            return super().press(event)
        if not self._typed or self._trouble or event.time - self._typed_at_s > PAUSE_S:
            self._begin_anew(self._effort)
        self._typed_at_s = event.time
        self._type(self._typed + event.character)
        return True

    def move(self, step: int) -> None:
        """The next athlete; a new one begins with nothing typed."""
        super().move(step)
        self._begin_anew()

    def click(self, athlete: str) -> None:
        super().click(athlete)
        self._begin_anew()

    def on_effort_scale_rated(self, message: EffortScale.Rated) -> None:
        message.stop()
        self._begin_anew(self._effort)
        self._rate(message.effort)
        self.post_message(self.Changed())

    @property
    def _effort(self) -> float | None:
        """What the chosen athlete's effort is, or is about to be."""
        name = self.selection.athlete
        if name in self._sent:
            return self._sent[name]
        return next((load.effort for load in self.selection.digest.load if load.name == name), None)

    def _type(self, typed: str) -> None:
        """What stands there with one more sign; where that is no effort, the rating of before stands again."""
        if not may_become_one(typed):
            former = self._former
            self._begin_anew()
            self._said = f"{typed} is no rating: type 0 to 10, a half as 7.5"
            self._rate(former)
            return
        self._typed, self._said = typed, ""
        effort = effort_of(typed)
        if effort is not None:
            self._rate(effort)

    def _begin_anew(self, former: float | None = None) -> None:
        self._typed, self._former, self._said = "", former, ""

    def _nudge(self, steps: int) -> None:
        """Half a step more or less."""
        effort = nudged(self._effort, steps)
        self._begin_anew()
        self._rate(effort)

    def _take_back(self) -> None:
        """Takes the rating back: the one that it took the place of stands again, else none does."""
        former = self._former if self._former != self._effort else None
        self._begin_anew()
        self._rate(former)

    def _rate(self, effort: float | None) -> None:
        """Sends a rating on its way, unless it stands already."""
        name = self.selection.athlete
        if name and effort != self._effort:
            self._sent[name] = effort
            self._on_the_way += 1
            self.run_worker(self._keep(name, effort), exclusive=False)

    async def _keep(self, athlete: str, effort: float | None) -> None:
        # The lock is fair: what was typed first is kept first.
        async with self._turns:
            try:
                await asyncio.to_thread(self.source.rate, athlete, effort)
                self._trouble = ""
                self.selection.digest = rated(self.selection.digest, athlete, effort)
            except FloorclockError as error:
                self._trouble = f"not kept: {error}"
            finally:
                self._on_the_way -= 1
        if not self._on_the_way:
            self._sent.clear()
            self.post_message(self.Changed())
            await self._read_weeks()

    async def _read_weeks(self) -> None:
        """The weeks as they are recorded now, on the screen as soon as they are known."""
        async with self._turns:
            try:
                self.weeks = await asyncio.to_thread(self.source.weeks, self.selection.digest)
            except FloorclockError as error:
                self._trouble = self._trouble or str(error)
        self.post_message(self.Changed())

    async def all_kept(self) -> None:
        """Returns when nothing is on its way any more."""
        async with self._turns:
            pass

    def fill(self) -> None:
        load, size = self.selection.digest.load, self.app.size
        self.table.display = bool(load)
        self.scale.display = bool(load) and size.height >= ROOM_FOR_SCALE
        if not load:
            self.told.update(Text("Nobody was in this class: there is no effort to rate.", TEXT))
            return
        names = name_width((row.name for row in load), WIDEST_NAME)
        columns: list[Column] = [(Text("athlete"), names), *((Text(word, justify="right"), None) for word in HEADINGS)]
        columns += [(Text(), WORDS)] if size.width >= WIDE else []
        rows = {row.name: self._cells(row)[: len(columns) - 1] for row in load}
        self.table.show_rows(columns, rows, self.selection.athlete)
        self.scale.show_effort(self._effort, short=size.width < TWO_COLUMNS)
        self.told.update(Group(*self._told(), Text(NOTES if size.height >= TALL else SHORT_NOTES, FAINT)))

    def _cells(self, load: SessionLoad) -> list[Text]:
        """One athlete: effort, minutes, load, the week around the class, and what the effort is called."""
        effort = NONE if load.effort is None else f"{load.effort:g}"
        if load.name in self._sent:
            sent = self._sent[load.name]
            effort = f"{NONE if sent is None else f'{sent:g}'}..."
        cells = [effort, f"{load.minutes:.0f}", NONE if load.load is None else f"{load.load:.0f}"]
        cells += _week_cells(self.weeks.get(load.name))
        words = "" if load.effort is None or load.name in self._sent else effort_words(load.effort)
        return [*(Text(cell, TEXT, justify="right") for cell in cells), Text(words, TEXT)]

    def _told(self) -> list[Text]:
        """What became of a rating, and the chosen athlete in words."""
        said = self._trouble or self._said
        told = [Text(said, SHORT_BAR)] if said else []
        name, effort = self.selection.athlete, self._effort
        line = Text.assemble((f"{shielded(cut(name, 30))}: ", STRONG))
        if effort is None:
            line.append("not rated yet; type 0 to 10, Enter goes on to the next", TEXT)
        else:
            line.append(f"effort {effort:g}: {effort_words(effort)}", TEXT)
            if self._former is not None and self._former != effort:
                line.append(f"   was {self._former:g}; Backspace: {self._former:g} again", SHORT_BAR)
        week = self.weeks.get(name)
        told += [line, *([Text(_week_words(week), FAINT)] if week is not None else [])]
        return told


def rated(digest: ClassDigest, athlete: str, effort: float | None) -> ClassDigest:
    """The class with one more rating; nothing else of it follows from that."""
    load = tuple(replace(row, effort=effort) if row.name == athlete else row for row in digest.load)
    return replace(digest, load=load)


def _week_cells(week: WeekLoad | None) -> list[str]:
    """The week around the class: load, monotony, strain, days without a class."""
    if week is None:
        return [NONE] * 4
    load = f"{week.load:.0f}" if not week.unrated else f"{week.load:.0f}+" if week.load else NONE
    monotony = "undefined" if week.monotony is None else f"{week.monotony:.2f}"
    return [load, monotony, NONE if week.strain is None else f"{week.strain:.0f}", str(week.rest_days)]


def _week_words(week: WeekLoad) -> str:
    """The same in words: the table may have no room for it."""
    load, monotony, strain, days = _week_cells(week)
    why = f" No monotony: {week.because}." if week.because else ""
    return f"Week: load {load}, monotony {monotony}, strain {strain}, {days} days without a class here.{why}"


class EffortScale(Container):
    """The scale with its words, in its order: a column where there is room, else a few lines. A click on a step rates."""

    @dataclass
    class Rated(Message):
        """A click on a step."""

        effort: float

    def compose(self) -> ComposeResult:
        yield Static(Text("How hard was the class, all in all?", STRONG), classes="wide-only")
        yield from (ScaleStep(effort) for effort in CR10)
        yield Static(Text(f"The athlete's own word. {SOURCE}.", FAINT), id="scale-source")

    def show_effort(self, effort: float | None, *, short: bool) -> None:
        """Marks the step that stands by a sign as well as by its ground."""
        for step in self.query(ScaleStep):
            number = f"{'▸' if step.effort == effort else ' '}{step.effort:{'' if short else '>3'}g}"
            words = short_word(step.effort) if short else CR10[step.effort]
            step.update(Text.assemble((number, CHOSEN if step.effort == effort else CAP), (f" {words}", TEXT)))


class ScaleStep(Static):
    """One step of the scale."""

    def __init__(self, effort: float) -> None:
        super().__init__()
        self.effort = effort

    def on_click(self) -> None:
        self.post_message(EffortScale.Rated(self.effort))
