"""The review on the whole screen: the class, the tabs of the views, the view that is open, its keys, and the way into it.

Invariant: it shows what `ReviewSelection` says, and keys are obeyed in the order in which they were pressed. It does not end by
a key or a signal while a rating is on its way to the disk; ratings go through `add_event`, which alone adds to a class that is
over.
"""

from __future__ import annotations

import asyncio
import os
from collections.abc import Callable, Mapping
from datetime import datetime
from functools import partial
from pathlib import Path
from typing import ClassVar, Final

from rich.cells import cell_len
from rich.table import Table
from rich.text import Text
from textual import events
from textual.app import App, ComposeResult
from textual.binding import BindingType
from textual.driver import Driver
from textual.screen import Screen
from textual.widgets import Static, TabbedContent, Tabs

from floorclock.clock.events import EffortRated
from floorclock.digest.class_digest import ClassDigest
from floorclock.errors import ResourceError
from floorclock.insight.history import loads_before, prior_before
from floorclock.live.afterwards import add_event, recorded_digest
from floorclock.pace.load import WeekLoad
from floorclock.platform import system
from floorclock.tui.base.keys_line import Keys, KeysLine
from floorclock.tui.base.lines import plain, shielded
from floorclock.tui.base.palette import FAINT, STRONG
from floorclock.tui.floor.dialogs.help_page import HelpPage, KeyLine
from floorclock.tui.review.athlete import AthleteView
from floorclock.tui.review.effort import EffortView, ReviewSource
from floorclock.tui.review.glance import GlanceView
from floorclock.tui.review.rests import RestsView
from floorclock.tui.review.results import ResultsView
from floorclock.tui.review.selection import VIEWS, ReviewSelection
from floorclock.tui.review.view import THREE_COLUMNS, TWO_COLUMNS, ReviewView, ends_line

ALL_KEYS: Final[tuple[KeyLine, ...]] = (
    ("views", "1 to 5", "class, rest, athlete, results, effort (there they rate)"),
    ("views", "Tab, Shift+Tab", "the next view, the one before"),
    ("views", "p", "the next part of the class"),
    ("lists", "↑ ↓", "the next line, the one before"),
    ("lists", "Page Down, Page Up", "a page down, a page up"),
    ("lists", "Home, End", "the top, the bottom"),
    ("rest", "o", "another order: board, name, least rest, drift"),
    ("rest", "s", "another station, or the least rest of each round"),
    ("rest", "← →", "other rounds, where not all of them fit"),
    ("rest", "Enter", "the chosen athlete (or click); Esc: back here"),
    ("athlete", "← →", "the athlete before, the next one"),
    ("athlete", "s", "other stations in the plot, where not all of them fit"),
    ("effort", "0 to 10", "the chosen athlete's rating; a half is typed as 7.5"),
    ("effort", "← →", "half a step less, half a step more"),
    ("effort", "Backspace", "undo the rating"),
    ("effort", "Enter", "the next athlete"),
    ("the review", "?", "this page"),
    ("the review", "Esc", "back from an athlete to the list; else leave"),
    ("the review", "q, F10", "leave"),
)
LAST: Final[Keys] = (("q", "leave"), ("?", "all keys"))
PART: Final[Keys] = (("p", "part"),)
"""Stands with the others where there is more than one part."""


class ReviewScreen(Screen[None]):
    """Five views of one class, one of them in sight."""

    ALLOW_SELECT = False
    AUTO_FOCUS = ""

    def __init__(self, digest: ClassDigest, source: ReviewSource) -> None:
        super().__init__()
        self.selection = ReviewSelection(digest)
        self.effort = EffortView(self.selection, source)
        views = (GlanceView, RestsView, AthleteView, ResultsView)
        self.views: tuple[ReviewView, ...] = (*(view(self.selection) for view in views), self.effort)
        self.head = Static(id="head")
        self.tabs = TabbedContent(initial=VIEWS[0])
        self.keys = KeysLine()

    def compose(self) -> ComposeResult:
        yield self.head
        with self.tabs:
            yield from self.views
        yield self.keys

    def on_mount(self) -> None:
        self.query_one(Tabs).can_focus = False
        self.refill()

    def on_resize(self) -> None:
        self.set_class(self.size.width >= TWO_COLUMNS, "two-columns")
        self.set_class(self.size.width >= THREE_COLUMNS, "three-columns")
        self.refill()

    @property
    def view(self) -> ReviewView:
        """The view that is open."""
        return self.views[VIEWS.index(self.selection.view)]

    def refill(self) -> None:
        """Shows everything as it is now."""
        if not self.is_mounted:
            return
        view, selection = self.view, self.selection
        self.tabs.active = selection.view
        for number, name in enumerate(VIEWS, 1):
            digit = f"{number} " if view.DIGITS_TURN else ""
            self.tabs.get_tab(name).label = f"{'▸' if name == selection.view else ' '}{digit}{name} "
        self.head.update(head_line(selection.digest, self.size.width - 2))
        self.keys.show((*view.KEYS[:1], *(PART if view.part_count > 1 else ()), *view.KEYS[1:], *LAST))
        view.fill()

    def key_actions(self) -> Mapping[str, Callable[[], object]]:
        """What each key does in every view that has no use of its own for it, by its name."""
        return {
            **{str(number): partial(self.selection.turn_to, name) for number, name in enumerate(VIEWS, 1)},
            "tab": partial(self.selection.turn, 1),
            "shift+tab": partial(self.selection.turn, -1),
            "question_mark": partial(self.app.push_screen, HelpPage(ALL_KEYS)),
            "escape": self.go_back,
            **dict.fromkeys(("q", "f10", "ctrl+c", "ctrl+q"), self.leave),
        }

    async def on_key(self, event: events.Key) -> None:
        # Here and not by bindings: those are looked up later, behind keys that came after this one.
        event.stop()
        event.prevent_default()
        action = self.key_actions().get(event.key)
        if self.view.press(event):
            self.refill()
        elif action is not None:
            action()
            self.refill()

    def go_back(self) -> None:
        """Back to where somebody was asked for; from everywhere else, out."""
        if not self.selection.go_back():
            self.leave()

    def leave(self) -> None:
        """Leaves once everything that was rated is kept."""
        self.run_worker(self._leave(), exclusive=False)

    async def _leave(self) -> None:
        await self.effort.all_kept()
        self.app.exit(0)

    def on_review_view_changed(self, message: ReviewView.Changed) -> None:
        message.stop()
        self.refill()

    def on_tabbed_content_tab_activated(self, message: TabbedContent.TabActivated) -> None:
        message.stop()
        # A key may have turned on since this message was sent: what counts is the tab that is open now.
        if self.tabs.active != self.selection.view:
            self.selection.turn_to(self.tabs.active)
            self.refill()


def head_line(digest: ClassDigest, width: int) -> Table:
    """The session, and facts of the class: the most needed first, each whole or not at all."""
    rehearsal = "rehearsal" if digest.rehearsal else ""
    facts = [fact for fact in (rehearsal, digest.day_words, digest.people_words, f"margin {digest.margin_words}") if fact]
    room = width - min(cell_len(digest.session), width // 2) - 2
    while facts and cell_len("   ".join(facts)) > room:
        facts.pop()
    return ends_line(Text(shielded(plain(digest.session)), STRONG), Text("   ".join(facts), FAINT))


class ReviewApp(App[int], inherit_bindings=False):
    """One recorded class on the whole screen."""

    CSS_PATH = "review.tcss"
    ENABLE_COMMAND_PALETTE = False
    TITLE = "floorclock"
    BINDINGS: ClassVar[list[BindingType]] = []

    def __init__(self, digest: ClassDigest, source: ReviewSource, driver: type[Driver] | None = None) -> None:
        super().__init__(driver_class=driver)
        self.review = ReviewScreen(digest, source)

    def get_default_screen(self) -> ReviewScreen:
        """The review is all there is."""
        return self.review

    def on_load(self) -> None:
        if not self.is_headless:
            system.on_stop(self.review.leave, asyncio.get_running_loop().add_signal_handler)


class JournalSource:
    """One class of a home."""

    def __init__(self, home: Path, journal: Path) -> None:
        self._home, self._journal = home, journal

    def digest(self) -> ClassDigest:
        """Worked out anew each time, with what earlier classes say of its people."""
        return recorded_digest(self._journal, partial(prior_before, self._home))

    def weeks(self, digest: ClassDigest) -> Mapping[str, WeekLoad]:
        """The seven days up to the day on which the class began."""
        if not digest.started:
            return {}
        return loads_before(self._home, digest.athletes, datetime.fromisoformat(digest.started).date())

    def rate(self, athlete: str, effort: float | None) -> None:
        """Kept when it returns."""
        add_event(self._journal, EffortRated(at_ms=0, athlete=athlete, effort=effort))


def review_on_screen(home: Path, journal: Path) -> None:
    """Opens a recorded class on the terminal until the coach leaves.

    Raises:
        FloorclockError: the class cannot be read.
        ResourceError: the screen ended by a defect of its own.
    """
    from floorclock.tui.base.safe_driver import SafeDriver, watch_terminal

    source = JournalSource(home, journal)
    app = ReviewApp(source.digest(), source, SafeDriver)
    # Without a terminal nobody can leave; what was rated is on the disk, or on its way in a thread that ends by itself.
    watch_terminal(lambda: os._exit(0))
    app.run()
    if app.return_code:
        raise ResourceError("the review crashed; the ratings are kept")
