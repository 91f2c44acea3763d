"""What to do now: a lane for every station in use, with the move, the target and who is there.

Invariant: a lane shows its move and target before anything else; the title and what comes next make way for names. All moves are
drawn in one size and all names in one, as large as the room allows; what would be smaller than `least` goes on pages. What fits
is found by counting rows; only what is shown is drawn.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import product
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
from floorclock.tui.floor.lane_lines import GAP, Block, Lanes, LetterSizes, lane_block, lane_fit, squeezed_lines
from floorclock.tui.floor.view import LanesView, LaneView

LETTERED_NEXT_FROM: Final = 15
"""The rows of a panel from which what comes next is drawn in letters."""
LARGEST_MOVE, LARGEST_NAME = 12, 5
MOST_SHARES: Final = 5
FEW_PAGES, MOST_PAGES = 4, 8
"""Nobody waits for more of them to read their own name."""

LARGE = tuple(LetterSizes(move, name) for name in range(LARGEST_NAME, 0, -1) for move in range(LARGEST_MOVE, name - 1, -1))
SMALL = tuple(LetterSizes(move, 0) for move in range(LARGEST_MOVE, -1, -1))


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
        lanes = (*view.lanes, LaneView("", "", view.names)) if view.names else view.lanes
        # Room for everybody's tick is kept: nothing moves when somebody is done.
        marked = tuple(replace(lane, people=tuple(replace(person, done=True) for person in lane.people)) for lane in lanes)
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
        block = laid_out(_as_they_stand(plan.pages[self.page], lanes), width, rows, plan.letters, beside=plan.beside)
        self._places = [(region.translate((0, titled)), name) for region, name in block.places]
        return [*title, *block.lines, *following]

    def on_mouse_down(self, event: events.MouseDown) -> None:
        """A press on a name is a tap."""
        name = next((name for region, name in self._places if region.contains(event.x, event.y)), "")
        if event.button == 1 and name:
            self.post_message(press_of(self, event, name))


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
    name, others = (min(found.letters.name, max(1, least)) for found in (plan, known))
    if not name and not others:
        return plan.letters.move > known.letters.move
    return (name, -len(plan.pages)) > (others, -len(known.pages))


@dataclass(frozen=True, slots=True)
class LaneLayout:
    """How lanes are laid out: the letters, in columns or one under the other, and page by page."""

    letters: LetterSizes
    beside: bool
    pages: tuple[Lanes, ...]


@lru_cache(maxsize=32)
def planned(lanes: Lanes, width: int, height: int, least: int) -> LaneLayout | None:
    """The largest letters in which all fits; on pages (some lanes, one, a share of one) if under `least`. None: no room."""
    named = any(lane.people for lane in lanes)
    whole = _largest((lanes,), width, height, LARGE) if named else None
    if whole is not None and whole.letters.name >= least:
        return whole
    # Letters that are somewhat small, on a few pages, are better than many pages.
    for most, smallest in product((FEW_PAGES, MOST_PAGES), range(least, 0, -1)) if named else ():
        paged = _paged(lanes, width, height, tuple(letters for letters in LARGE if letters.name >= smallest), most)
        if paged is not None:
            return paged
    return whole or _largest((lanes,), width, height, SMALL)


def _paged(lanes: Lanes, width: int, height: int, sizes: Sequence[LetterSizes], most: int) -> LaneLayout | None:
    """The lanes on as few pages as will do, `most` at most: some of them on each, then one, then a share of the people of one."""
    cuts = (pages for pages in _page_cuts(lanes, width, height, sizes[-1]) if 1 < len(pages) <= most)
    return next(filter(None, (_largest(pages, width, height, sizes) for pages in cuts)), None)


def _page_cuts(lanes: Lanes, width: int, height: int, smallest: LetterSizes) -> Iterator[tuple[Lanes, ...]]:
    """The ways to lay lanes out on pages that do in the smallest letters, the fewest pages first."""

    def fits(page: Lanes) -> bool:
        return _largest((page,), width, height, (smallest,)) is not None

    for count in range(len(lanes) - 1, 0, -1):
        pages = tuple(lanes[at : at + count] for at in range(0, len(lanes), count))
        if all(map(fits, pages)):
            yield pages
    shares = [_shares(lane, fits) for lane in lanes]
    if all(shares):
        yield tuple(page for pages in shares for page in pages)


def _shares(lane: LaneView, fits: Callable[[Lanes], bool]) -> tuple[Lanes, ...]:
    """A lane, or its people in the fewest shares that fit, one on each page; none where they are too many."""
    for parts in range(1, MOST_SHARES):
        count = max(1, -(-len(lane.people) // parts))
        cuts = range(0, max(1, len(lane.people)), count)
        pages = tuple((replace(lane, people=lane.people[at : at + count]),) for at in cuts)
        if all(map(fits, pages)):
            return pages
    return ()


def _largest(pages: tuple[Lanes, ...], width: int, height: int, sizes: Sequence[LetterSizes]) -> LaneLayout | None:
    """The first of the sizes in which every page fits, its lanes beside each other if they can be."""
    ways = (True, False) if max(map(len, pages)) > 1 else (True,)
    for letters, beside in product(sizes, ways):
        if all(_fits(page, width, height, letters, beside=beside) for page in pages):
            return LaneLayout(letters, beside, pages)
    return None


def _fits(lanes: Lanes, width: int, height: int, letters: LetterSizes, *, beside: bool) -> bool:
    across = _column(len(lanes), width) if beside else width
    rows = []
    for lane in lanes:
        fit = lane_fit(lane, across, letters)
        if fit is None:
            return False
        rows.append(fit.rows)
    return (max(rows, default=0) if beside else sum(rows) + bool(letters.name) * (len(rows) - 1)) <= height


def _column(count: int, width: int) -> int:
    return (width - GAP * (count - 1)) // max(1, count)


def laid_out(lanes: Lanes, width: int, height: int, letters: LetterSizes, *, beside: bool) -> Block:
    """The lanes in exactly `height` rows, which are known to be enough."""
    across = _column(len(lanes), width) if beside else width
    blocks = [block for lane in lanes if (block := lane_block(lane, across, letters)) is not None]
    if beside:
        gap = Segment(" " * GAP, BLANK)
        empty = padded((), across)
        lines = [
            padded([part for block in blocks for part in (*(block.lines[y] if y < len(block.lines) else empty), gap)], width)
            for y in range(height)
        ]
        places = [
            (region.translate((at * (across + GAP), 0)), name) for at, block in enumerate(blocks) for region, name in block.places
        ]
        return Block(tuple(lines), tuple(places))
    spare = height - sum(len(block.lines) for block in blocks)
    lines, places = [], []
    for at, block in enumerate(blocks):
        places += [(region.translate((0, len(lines))), name) for region, name in block.places]
        air = spare // (len(blocks) - at)
        spare -= air
        lines += [*block.lines, *[padded((), width)] * air]
    return Block(tuple(lines), tuple(places))
