"""What all screens of the review share: the top, the body, the keys, and how one turns between them.

Invariant: a screen shows what `ReviewSelection` says; keys are obeyed in the order in which they were pressed.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import partial
from typing import TYPE_CHECKING, Any, ClassVar

from textual import events
from textual.app import ComposeResult
from textual.containers import Container
from textual.screen import Screen

from floorclock.digest.class_digest import ClassDigest
from floorclock.plan.durations import duration_words
from floorclock.tui.base.keys_line import Keys, KeysLine
from floorclock.tui.base.painted import Painted
from floorclock.tui.review.keys import PART
from floorclock.tui.review.pane import Pane
from floorclock.tui.review.selection import ReviewSelection
from floorclock.tui.review.tabs import VIEWS, Top, TopView

if TYPE_CHECKING:
    from floorclock.tui.review.app import ReviewApp

LEAVING = ("q", "f10", "ctrl+c", "ctrl+q")


class ReviewScreen(Screen[None]):
    """One view. Subclasses have a pane, say what it shows (`fill`) and what the arrows do."""

    ALLOW_SELECT = False
    AUTO_FOCUS = ""
    NUMBER: ClassVar[int] = 0
    KEYS: ClassVar[Keys] = ()
    DIGITS_TURN: ClassVar[bool] = True
    """False where a digit is no key of a view."""
    SIDE_BY_SIDE: ClassVar[int] = 120
    """From this width on what belongs to the pane stands beside it, not under it."""

    def __init__(self, pane: Pane[Any], side: Painted[Any] | None = None) -> None:
        super().__init__()
        self.pane = pane
        self.side = side
        self.head = Top()
        self.keys = KeysLine()

    @property
    def review(self) -> ReviewApp:
        """The app that this screen belongs to."""
        from floorclock.tui.review.app import ReviewApp

        assert isinstance(self.app, ReviewApp)
        return self.app

    @property
    def selection(self) -> ReviewSelection:
        """What the coach looks at."""
        return self.review.selection

    @property
    def part_count(self) -> int:
        """Between how many parts `p` turns here."""
        return len(self.selection.split_parts)

    def fill(self) -> None:
        """Hands the pane what it shows now."""
        raise NotImplementedError

    def deeds(self) -> Mapping[str, Callable[[], None]]:
        """What each key does, by its name."""
        turns = {str(number + 1): partial(self.review.turn_to, number) for number in range(len(VIEWS))}
        return {
            **turns,
            "tab": partial(self.review.turn, 1),
            "shift+tab": partial(self.review.turn, -1),
            "up": partial(self.move_line, -1),
            "down": partial(self.move_line, 1),
            "pageup": partial(self.move_page, -1),
            "pagedown": partial(self.move_page, 1),
            "home": partial(self.move_to_edge, -1),
            "end": partial(self.move_to_edge, 1),
            "p": partial(self.turn_part, 1),
            "P": partial(self.turn_part, -1),
            "question_mark": self.review.show_keys,
            "escape": self.review.go_back,
            **dict.fromkeys(LEAVING, self.review.leave),
        }

    def press(self, event: events.Key) -> bool:
        """Acts on a key; False when there is no use for it."""
        deed = self.deeds().get(event.key)
        if deed is not None:
            deed()
        return deed is not None

    async def on_key(self, event: events.Key) -> None:
        # Here and not by bindings: those are looked up later, behind keys that came after this one.
        event.stop()
        event.prevent_default()
        # A key on the heels of one that turned to another view is meant for that view.
        self.review.view.press(event)

    def compose(self) -> ComposeResult:
        yield self.head
        yield Container(*(widget for widget in (self.pane, self.side) if widget is not None), id="body")
        yield self.keys

    def on_mount(self) -> None:
        self.refill()

    def on_resize(self) -> None:
        self.query_one("#body").set_class(self.size.width >= self.SIDE_BY_SIDE, "wide")
        self.refill()

    def on_screen_resume(self) -> None:
        self.refill()

    def refill(self) -> None:
        """Shows everything as it is now."""
        if not self.is_mounted:
            return
        summary = self.selection.summary
        self.head.show(TopView(summary.session, class_facts(summary), self.NUMBER, self.DIGITS_TURN))
        several = self.part_count > 1
        self.keys.show((self.KEYS[0], *PART, *self.KEYS[1:]) if several else self.KEYS)
        self.fill()

    def move_line(self, step: int) -> None:
        """Without a chosen line, the list moves."""
        self.pane.scroll_lines(step)

    def move_page(self, step: int) -> None:
        """A page of the list."""
        self.move_line(step * self.pane.page)

    def move_to_edge(self, step: int) -> None:
        """To one end of the list."""
        self.move_line(step * 1_000_000)

    def turn_part(self, step: int) -> None:
        """The next part that this view can show."""
        self.selection.turn_split_part(step)
        self.pane.to_top()
        self.refill()

    def on_top_turned(self, message: Top.Turned) -> None:
        message.stop()
        self.review.turn_to(message.to)


def class_facts(summary: ClassDigest) -> tuple[str, ...]:
    """What is said of a class beside its title: when, how many, the margin, whether it was a rehearsal."""
    count = len(summary.athletes)
    facts = [
        summary.started[:16].replace("T", " "),
        f"{count} athlete{'' if count == 1 else 's'}",
        f"margin {duration_words(round(summary.rest_margin_s * 1000))}",
    ]
    if summary.rehearsal:
        facts.insert(0, "rehearsal")
    return tuple(fact for fact in facts if fact)
