"""How large lanes are, and on which pages: the largest hand in which all of them fit.

Invariant: all moves are drawn in one size and all names in one, as large as the room allows; what would be smaller than `least`
goes on pages. What fits is found by counting rows; only what is shown is drawn.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import product
from typing import Final

from rich.segment import Segment

from floorclock.tui.base.lines import padded
from floorclock.tui.base.palette import BLANK
from floorclock.tui.floor.lane_lines import GAP, Block, Hand, Lanes, lane_block, lane_fit
from floorclock.tui.floor.view import LaneView

LARGEST_MOVE, LARGEST_NAME = 12, 5
MOST_SHARES: Final = 5
FEW_PAGES, MOST_PAGES = 4, 8
"""Nobody waits for more of them to read their own name."""

LARGE = tuple(Hand(move, name) for name in range(LARGEST_NAME, 0, -1) for move in range(LARGEST_MOVE, name - 1, -1))
SMALL = tuple(Hand(move, 0) for move in range(LARGEST_MOVE, -1, -1))


@dataclass(frozen=True, slots=True)
class LaneLayout:
    """How lanes are laid out: the hand, in columns or one under the other, and page by page."""

    hand: Hand
    beside: bool
    pages: tuple[Lanes, ...]


@lru_cache(maxsize=32)
def planned(lanes: Lanes, width: int, height: int, least: int) -> LaneLayout | None:
    """The largest hand in which all fits; on pages (some lanes, one, a share of one) if that is under `least`. None: no room."""
    named = any(lane.people for lane in lanes)
    whole = _largest((lanes,), width, height, LARGE) if named else None
    if whole is not None and whole.hand.name >= least:
        return whole
    # Letters that are somewhat small, on a few pages, are better than many pages.
    for most, smallest in product((FEW_PAGES, MOST_PAGES), range(least, 0, -1)) if named else ():
        paged = _paged(lanes, width, height, tuple(hand for hand in LARGE if hand.name >= smallest), most)
        if paged is not None:
            return paged
    return whole or _largest((lanes,), width, height, SMALL)


def _paged(lanes: Lanes, width: int, height: int, hands: Sequence[Hand], most: int) -> LaneLayout | None:
    """The lanes on as few pages as will do, `most` at most: some of them on each, then one, then a share of the people of one."""
    cuts = (pages for pages in _page_cuts(lanes, width, height, hands[-1]) if 1 < len(pages) <= most)
    return next(filter(None, (_largest(pages, width, height, hands) for pages in cuts)), None)


def _page_cuts(lanes: Lanes, width: int, height: int, smallest: Hand) -> Iterator[tuple[Lanes, ...]]:
    """The ways to lay lanes out on pages that do in the smallest hand, the fewest pages first."""

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


def _largest(pages: tuple[Lanes, ...], width: int, height: int, hands: Sequence[Hand]) -> LaneLayout | None:
    """The first of the hands in which every page fits, its lanes beside each other if they can be."""
    for hand, beside in product(hands, (True, False)):
        if all(_fits(page, width, height, hand, beside=beside) for page in pages):
            return LaneLayout(hand, beside, pages)
    return None


def _fits(lanes: Lanes, width: int, height: int, hand: Hand, *, beside: bool) -> bool:
    across = _column(len(lanes), width) if beside else width
    rows = []
    for lane in lanes:
        fit = lane_fit(lane, across, hand)
        if fit is None:
            return False
        rows.append(fit.rows)
    return (max(rows, default=0) if beside else sum(rows) + bool(hand.name) * (len(rows) - 1)) <= height


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
