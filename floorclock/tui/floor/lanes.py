"""What to do now: a lane for every station in use, with the move, the target and who is there.

Invariant: a lane shows its move and target before anything else; the title and what comes next make way for names.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Final

from rich.segment import Segment
from textual import events
from textual.geometry import Region

from floorclock.plan.session import Room
from floorclock.tui.base.letters import least_size, lettered, letters_across
from floorclock.tui.base.lines import Line, inked, padded, width_of, wrapped
from floorclock.tui.base.painted import Painted
from floorclock.tui.base.palette import BLANK, CAP, FAINT, LETTER_BLOCK, STRONG
from floorclock.tui.floor.board import press_of
from floorclock.tui.floor.lane_layout import LaneLayout, laid_out, planned
from floorclock.tui.floor.lane_lines import Lanes, squeezed_lines
from floorclock.tui.floor.view import LanesView, LaneView

LETTERED_NEXT_FROM: Final = 15
"""The rows of a panel from which what comes next is drawn in letters."""


class LanesPanel(Painted[LanesView]):
    """The lanes of now, and one line of what comes next. What the `room` cannot read goes on pages."""

    room: Room | None = None
    page = 0

    def __init__(self, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self._places: list[tuple[Region, str]] = []
        self._pages = 1

    def turn_page(self, step: int = 1) -> None:
        """The next page of the names, and after the last one the first."""
        if self._pages > 1:
            self.page = (self.page + step) % self._pages
            self.repaint_changes()

    def paint(self, view: LanesView, width: int, height: int) -> list[Line]:
        """A title, the lanes, the next line; title and next go first where there is no room."""
        lanes = (*view.lanes, *(() if not view.names else (LaneView("", "", view.names),)))
        marked = tuple(_all_marked(lane) for lane in lanes)
        least = least_size(self.room, *self.app.size) if self.room is not None else 0
        best: tuple[LaneLayout | None, list[Line], bool] = None, [], False
        for following in next_forms(view, width, height):
            titled = height >= 2 * len(lanes) + len(following) + 1 and height > 4
            plan = planned(marked, width, height - titled - len(following), least)
            if _better(plan, best[0], least):
                best = plan, following, titled
        plan, following, titled = best
        if plan is None:
            # The title goes before anybody's name does.
            *_, following = next_forms(view, width, height)
            plan = planned(marked, width, height - len(following), least)
        rows = height - titled - len(following)
        self._pages = len(plan.pages) if plan is not None else 1
        self.page %= self._pages
        title = [title_line(view, width, f" {self.page + 1} of {self._pages} " if self._pages > 1 else "")] if titled else []
        self._places = []
        if plan is None:
            return [*title, *squeezed_lines(lanes, width, rows), *following]
        block = laid_out(_as_they_stand(plan.pages[self.page], lanes), width, rows, plan.hand, beside=plan.beside)
        self._places = [(region.translate((0, titled)), name) for region, name in block.places]
        return [*title, *block.lines, *following]

    def on_mouse_down(self, event: events.MouseDown) -> None:
        """A press on a name is a tap."""
        name = next((name for region, name in self._places if region.contains(event.x, event.y)), "")
        if event.button == 1 and name:
            self.post_message(press_of(self, event, name))


def _all_marked(lane: LaneView) -> LaneView:
    """Room for everybody's tick is kept: nothing moves when somebody is done."""
    return replace(lane, people=tuple(replace(person, done=True) for person in lane.people))


def _as_they_stand(page: Lanes, lanes: Lanes) -> Lanes:
    """The lanes of a page, with the marks of who is done. One person may be in several lanes, with other work in each."""
    people = {replace(person, done=True): person for lane in lanes for person in lane.people}
    return tuple(replace(lane, people=tuple(people[person] for person in lane.people)) for lane in page)


def title_line(view: LanesView, width: int, page: str = "") -> Line:
    """`NOW` on its plate and a rule to the end of the panel."""
    plate, number = Segment(f" {view.title.upper()} ", CAP), Segment(page, STRONG)
    return padded([plate, number, Segment("─" * max(0, width - width_of([plate, number])), FAINT)], width)


def next_forms(view: LanesView, width: int, height: int) -> Iterator[list[Line]]:
    """What comes next: in letters in a high panel; on a line or two of text where the lanes need the room."""
    across = letters_across(view.next, 1) or width
    shape = lettered(view.next, 1) if across < width and height >= LETTERED_NEXT_FROM else None
    if shape is not None:
        yield [padded((), width), *(padded([Segment(" ", BLANK), *inked(row, STRONG, LETTER_BLOCK)], width) for row in shape)]
    if not view.next or height < max(2, len(view.lanes) + 1):
        yield []
        return
    lead = [padded((), width)] if height >= 14 else []
    rows = 2 if height >= 14 else 1
    yield [*lead, *(padded([Segment(f" {text}", STRONG)], width) for text in wrapped(view.next, width - 1, rows))]


def _better(plan: LaneLayout | None, known: LaneLayout | None, least: int) -> bool:
    """Whether names can be read, or stand on fewer pages, where so far they do not: else what comes next keeps its letters."""
    if plan is None or known is None:
        return plan is not None
    name, others = (min(found.hand.name, max(1, least)) for found in (plan, known))
    if not name and not others:
        return plan.hand.move > known.hand.move
    return (name, -len(plan.pages)) > (others, -len(known.pages))
