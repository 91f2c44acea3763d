"""What to do now: a lane for every station in use, with the move, the target and who is there.

Invariant: a lane shows its move and target before anything else; names without room are counted (`+3`), never dropped unsaid. All
moves are drawn in one size and all names in one, as large as the room allows; what would be smaller than `least` goes on pages.
What fits is found by counting rows (`lane_rows`); only what is shown is drawn.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import product
from typing import Final

from rich.cells import cell_len
from rich.segment import Segment
from textual import events
from textual.geometry import Region

from floorclock.plan.session import Room
from floorclock.tui.base.letters import height_of, least_size, lettered, lettered_lines, letters_across, pitch_of
from floorclock.tui.base.lines import Line, cut, inked, padded, shielded, spread, width_of, wrapped
from floorclock.tui.base.painted import Painted
from floorclock.tui.base.palette import BLANK, CAP, DIM_BLOCK, FAINT, LETTER_BLOCK, STRONG, TEXT
from floorclock.tui.floor.board import press_of
from floorclock.tui.floor.view import LanesView, LaneView, PersonView

DONE: Final = "✓"
GAP: Final = 3
LARGEST_MOVE, LARGEST_NAME = 12, 5
LETTERED_NEXT_FROM: Final = 15
"""The rows of a panel from which what comes next is drawn in letters."""
MOST_SHARES: Final = 5
FEW_PAGES, MOST_PAGES = 4, 8
"""Nobody waits for more of them to read their own name."""
COUNTED: Final = 6
"""The cells of a count of people, with a gap before it."""
LEAST_KEPT: Final = 5
"""The letters of a name that say whose it is."""

Lanes = tuple[LaneView, ...]
People = tuple[PersonView, ...]


@dataclass(frozen=True, slots=True)
class Hand:
    """How large moves and names are written, as sizes of letters; 0 is body text."""

    move: int
    name: int


LARGE = tuple(Hand(move, name) for name in range(LARGEST_NAME, 0, -1) for move in range(LARGEST_MOVE, name - 1, -1))
SMALL = tuple(Hand(move, 0) for move in range(LARGEST_MOVE, -1, -1))


@dataclass(frozen=True, slots=True)
class Block:
    """Some lines, and where in them somebody's name stands."""

    lines: tuple[Line, ...]
    places: tuple[tuple[Region, str], ...] = ()


@dataclass(frozen=True, slots=True)
class LaneLayout:
    """How lanes are laid out: the hand, in columns or one under the other, and page by page."""

    hand: Hand
    beside: bool
    pages: tuple[Lanes, ...]


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


@lru_cache(maxsize=32)
def planned(lanes: Lanes, width: int, height: int, least: int) -> LaneLayout | None:
    """The largest hand in which all fits; on pages (some lanes, one, a share of one) if that is under `least`. None: no room."""
    named = any(lane.people for lane in lanes)
    whole = _largest(lanes, width, height, LARGE) if named else None
    if whole is not None and whole.hand.name >= least:
        return whole
    # Letters that are somewhat small, on a few pages, are better than many pages.
    for most, smallest in product((FEW_PAGES, MOST_PAGES), range(least, 0, -1)) if named else ():
        paged = _paged(lanes, width, height, tuple(hand for hand in LARGE if hand.name >= smallest), most)
        if paged is not None:
            return paged
    return whole or _largest(lanes, width, height, SMALL)


def _paged(lanes: Lanes, width: int, height: int, hands: Sequence[Hand], most: int) -> LaneLayout | None:
    """The lanes on as few pages as will do, `most` at most: some of them on each, then one, then a share of the people of one."""
    for pages in _page_cuts(lanes, width, height, hands[-1]):
        if 1 < len(pages) <= most:
            for hand, beside in product(hands, (True, False)):
                if all(_fits(page, width, height, hand, beside=beside and len(page) > 1) for page in pages):
                    return LaneLayout(hand, beside, pages)
    return None


def _page_cuts(lanes: Lanes, width: int, height: int, smallest: Hand) -> Iterator[tuple[Lanes, ...]]:
    """The ways to lay lanes out on pages that do in the smallest hand, the fewest pages first."""

    def fits(page: Lanes) -> bool:
        return any(
            _fits(page, width, height, smallest, beside=beside) for beside in ((True, False) if len(page) > 1 else (False,))
        )

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


def _largest(lanes: Lanes, width: int, height: int, hands: Sequence[Hand]) -> LaneLayout | None:
    for hand in hands:
        for beside in (True, False) if len(lanes) > 1 else (False,):
            if _fits(lanes, width, height, hand, beside=beside):
                return LaneLayout(hand, beside, (lanes,))
    return None


def _fits(lanes: Lanes, width: int, height: int, hand: Hand, *, beside: bool) -> bool:
    across = _column(len(lanes), width) if beside else width
    rows = []
    for lane in lanes:
        needed = lane_rows(lane, across, hand)
        if needed is None:
            return False
        rows.append(needed)
    return (max(rows) if beside else sum(rows) + bool(hand.name) * (len(rows) - 1)) <= height


def _column(count: int, width: int) -> int:
    return (width - GAP * (count - 1)) // max(1, count)


def laid_out(lanes: Lanes, width: int, height: int, hand: Hand, *, beside: bool) -> Block:
    """The lanes in exactly `height` rows, which are known to be enough."""
    across = _column(len(lanes), width) if beside else width
    blocks = [block for lane in lanes if (block := lane_block(lane, across, hand)) is not None]
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


def _move_size(lane: LaneView, hand: Hand) -> int:
    return min(hand.move, hand.name) if lane.is_rest else hand.move


def lane_rows(lane: LaneView, width: int, hand: Hand) -> int | None:
    """The rows of `lane_block`; None where it is too wide."""
    rows = int(bool(lane.note))
    if lane.move:
        size = _move_size(lane, hand)
        heading = _heading(lane.move, lane.target, width, size)
        if heading is None:
            return None
        rows += _stack_rows(len(heading.move) + heading.is_stacked, size)
    if not lane.people:
        return rows
    if not hand.name:
        return rows + len(people_lines(lane.people, width, 99))
    seated = _seated(lane.people, width, hand.name)
    return None if seated is None else rows + bool(rows) + _line_tops(len(seated.seats), hand.name)[-1]


@lru_cache(maxsize=512)
def lane_block(lane: LaneView, width: int, hand: Hand) -> Block | None:
    """One lane, as many lines as it needs; None where it is too wide."""
    lines: list[Line] = []
    if lane.move:
        size = _move_size(lane, hand)
        heading = _heading(lane.move, lane.target, width, size)
        if heading is None:
            return None
        lines += heading_lines(lane, heading, width, size)
    if lane.note:
        lines.append(padded([Segment(f" {cut(lane.note, width - 1)}", FAINT)], width))
    if not lane.people:
        return Block(tuple(lines))
    if not hand.name:
        return Block((*lines, *people_lines(lane.people, width, 99)))
    seated = _seated(lane.people, width, hand.name)
    if seated is None:
        return None
    if lines:
        lines.append(padded((), width))
    names = lettered_people(lane.people, seated, width, hand.name)
    return Block((*lines, *names.lines), tuple((region.translate((0, len(lines))), name) for region, name in names.places))


@dataclass(frozen=True, slots=True)
class Heading:
    """A move broken into lines, with its target at the right of a single one, else below them (`is_stacked`)."""

    move: tuple[str, ...]
    target: str = ""
    is_stacked: bool = False


@lru_cache(maxsize=1024)
def _heading(move: str, target: str, width: int, size: int) -> Heading | None:
    """The move and its target in letters of a size, side by side, else one above the other; None where they do not fit."""
    if not size:
        return Heading((move,), target) if cell_len(move) + cell_len(target) + GAP <= width else None
    across = letters_across(target, size) if target else 0
    if across is None:
        return None
    beside = lettered_lines(move, size, width - 2 - (across + GAP if target else 0))
    if beside and len(beside) <= (1 if target else 3):
        return Heading(beside, target)
    above = lettered_lines(move, size, width - 2)
    return Heading(above, target, is_stacked=True) if above and len(above) <= 3 and 0 < across <= width - 2 else None


def _stack_rows(lines: int, size: int) -> int:
    """The rows of lines of letters one above the other."""
    return lines * height_of(size) + (lines - 1) * (size > 1) if size else lines


def heading_lines(lane: LaneView, heading: Heading, width: int, size: int) -> list[Line]:
    """The heading of a lane, drawn."""
    if not size:
        return [padded(_plain_move(lane, width), width)]
    ink, ground = (FAINT, DIM_BLOCK) if lane.is_rest else (STRONG, LETTER_BLOCK)

    def row(rows: Sequence[str], at: int) -> list[Segment]:
        return [Segment(" ", BLANK), *inked(rows[at], ink, ground)] if at < len(rows) else []

    target = lettered(heading.target, size) or ()
    stack = _stacked(heading.move, size)
    if heading.is_stacked:
        stack += [*([" "] if size > 1 else []), *target]
        return [padded(row(stack, at), width) for at in range(len(stack))]
    return [spread(row(stack, at), [*row(target, at), Segment(" ", BLANK)], width) for at in range(len(stack))]


def _stacked(lines: Sequence[str], size: int) -> list[str]:
    """Lines in letters, one above the other."""
    drawn = [lettered(line, size) or () for line in lines]
    across = max(len(rows[0]) for rows in drawn)
    stack: list[str] = []
    for rows in drawn:
        stack += [" " * across] * (1 if stack and size > 1 else 0)
        stack += [row.ljust(across) for row in rows]
    return stack


def _plain_move(lane: LaneView, width: int) -> list[Segment]:
    target = f"  {lane.target}" if lane.target else ""
    name = lane.move.upper()
    return [Segment(f" {cut(name, max(1, width - cell_len(target) - 1))}{target}", FAINT if lane.is_rest else STRONG)]


Seats = list[list[tuple[int, int]]]
"""Row by row: who (from 0), and at which column."""


@dataclass(frozen=True, slots=True)
class Seated:
    """Names in letters, cut where they must be, with how many columns each takes and where it stands."""

    words: tuple[str, ...]
    across: tuple[int, ...]
    seats: Seats


@lru_cache(maxsize=512)
def _seated(people: People, width: int, size: int) -> Seated | None:
    """Names in columns, or one after the other where that takes fewer lines. None where not even a cut one fits."""
    gap, tick = 2 * size, (letters_across(DONE, size) or 0) + 2 * size + 1
    words = tuple(_named(person, size, width - tick) for person in people)
    across = tuple((letters_across(word, size) or cell_len(word)) + tick for word in words)
    if max(across) > width:
        return None
    return Seated(words, across, min((_in_columns(across, width, gap), _one_after_the_other(across, width, gap)), key=len))


def _line_tops(lines: int, size: int) -> list[int]:
    """The row at which each line of names begins, and the one past the last."""
    return [*(at * pitch_of(size) for at in range(lines)), (lines - 1) * pitch_of(size) + height_of(size)]


def lettered_people(people: People, seated: Seated, width: int, size: int) -> Block:
    """Names in letters, drawn where they have their seats."""
    *tops, rows = _line_tops(len(seated.seats), size)
    lines: list[Line] = [padded((), width)] * rows
    places = []
    for row, top in zip(seated.seats, tops, strict=True):
        for y in range(height_of(size)):
            line: list[Segment] = []
            for at, left in row:
                line += [Segment(" " * (left - width_of(line)), BLANK), *_name_row(people[at], seated.words[at], size, y)]
            lines[top + y] = padded(line, width)
        for at, left in row:
            places.append((Region(left, top, seated.across[at], height_of(size)), people[at].athlete or people[at].name))
    return Block(tuple(lines), tuple(places))


def _named(person: PersonView, size: int, width: int) -> str:
    """A name in letters of at most so many columns, cut and marked so; what they have of their own is never cut."""
    kept = person.name
    while len(kept) > LEAST_KEPT and (letters_across(f"{kept} {person.own}".rstrip(), size) or 0) > width:
        kept = kept.rstrip("…")[:-1] + "…"
    return f"{kept} {person.own}".rstrip()


def _in_columns(across: Sequence[int], width: int, gap: int) -> Seats:
    """Down the columns, all as wide as the widest."""
    columns = max(1, (width + gap) // (max(across) + gap))
    down, pitch = -(-len(across) // columns), (width + gap) // columns
    return [[(at, at // down * pitch) for at in range(row, len(across), down)] for row in range(down)]


def _one_after_the_other(across: Sequence[int], width: int, gap: int) -> Seats:
    seats: Seats = [[]]
    left = 0
    for at, cells in enumerate(across):
        if seats[-1] and left + cells > width:
            seats.append([])
            left = 0
        seats[-1].append((at, left))
        left += cells + gap
    return seats


def _name_row(person: PersonView, words: str, size: int, y: int) -> list[Segment]:
    ink, ground = (FAINT, DIM_BLOCK) if person.done else (STRONG, LETTER_BLOCK)
    shape = lettered(words, size)
    drawn = inked(shape[y], ink, ground) if shape is not None else []
    if shape is None:
        drawn = [Segment(shielded(words) if y == height_of(size) // 2 else " " * cell_len(words), ink)]
    tick = lettered(DONE, size) if person.done else None
    ticked = [Segment(" " * 2 * size, BLANK), *inked(tick[y], ink, ground)] if tick is not None else []
    return [Segment(" ", BLANK), *drawn, *ticked]


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


def squeezed_lines(lanes: Lanes, width: int, height: int) -> list[Line]:
    """The lanes where not everything fits: each one's move first, then people from the first lane on; all else is counted."""
    if height <= 0:
        return []
    if len(lanes) > height:
        above = squeezed_lines(lanes[: height - 1], width, height - 1)
        return [*above, _moves_line(lanes[height - 1 :], width)]
    free = height - len(lanes)
    lines: list[Line] = []
    for lane in lanes:
        move = _plain_move(lane, width - (COUNTED if lane.people else 0))
        rows = min(1 + free, len(people_lines(lane.people, width, 99, move)))
        free -= rows - 1
        lines += people_lines(lane.people, width, rows, move)
    return [*lines, *[padded((), width)] * (height - len(lines))]


def _moves_line(lanes: Lanes, width: int) -> Line:
    """The moves and targets of several lanes on one line; those that do not fit are counted."""
    words: list[Segment] = []
    for at, lane in enumerate(lanes):
        left = len(lanes) - at
        spare = cell_len(f"  +{left - 1}") if left > 1 else 0
        move = _plain_move(lane, width - spare - 1 if at == 0 else width)
        if at and width_of(words) + 1 + width_of(move) + spare > width:
            return padded([*words, Segment(f" +{left}", FAINT)], width)
        words += [*move, Segment(" ", BLANK)]
    return padded(words, width)


def people_lines(people: People, width: int, rows: int, before: Sequence[Segment] = ()) -> list[Line]:
    """The people of a lane on at most `rows` lines, after some words; those who do not fit are counted at the end."""
    if rows <= 0 or not (people or before):
        return []
    lines: list[list[Segment]] = [[*before, Segment(" ", BLANK)] if before else []]
    for at, person in enumerate(people):
        words = _person(person, width - 2)
        last = len(lines) == rows
        spare = cell_len(f"  +{len(people) - at}") if last and at + 1 < len(people) else 0
        if width_of(lines[-1]) + width_of(words) + spare > width:
            if last:
                lines[-1].append(Segment(f"  +{len(people) - at}", STRONG))
                break
            lines.append([])
        lines[-1] += words
    return [padded(line, width) for line in lines]


def _person(person: PersonView, width: int) -> list[Segment]:
    own = cut(person.own, max(0, width // 2))
    name = cut(person.name, max(1, width - cell_len(own) - 3))
    style = FAINT if person.done else TEXT
    words = [Segment(f" {shielded(name)}", style)]
    if own:
        words.append(Segment(f" {shielded(own)}", FAINT if person.done else STRONG))
    if person.done:
        words.append(Segment(f" {DONE}", style))
    return [*words, Segment(" ", BLANK)]
