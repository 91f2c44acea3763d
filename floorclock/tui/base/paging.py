"""Who is in sight when the board has fewer places than the class has people.

Invariant: nobody who is at work and untapped is out of sight while somebody who is not at work has a place.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from floorclock.tui.floor.view import RowView


@dataclass(frozen=True, slots=True)
class Page:
    """The athletes in sight, in the order of their places; `number` counts from 1; `more_at_work` have no place on this page."""

    shown: tuple[str, ...]
    number: int
    count: int
    more_at_work: int


def page_of(rows: Sequence[RowView], places: int, number: int) -> Page:
    """A page made afresh: everybody at work, and then the others by turns; where not even those at work fit, they take turns.

    `number` may be any whole number; it wraps around. Everybody stands in roster order.
    """
    names = [row.athlete for row in rows]
    if len(names) <= places:
        return Page(tuple(names), 1, 1, 0)
    if places <= 0:
        return Page((), 1, 1, sum(map(_at_work, rows)))
    pinned = [row.athlete for row in rows if _at_work(row)]
    turning = [row.athlete for row in rows if not _at_work(row)]
    if len(pinned) >= places:
        pinned, turning, room = [], pinned, places
    else:
        room = places - len(pinned)
    count = -(-len(turning) // room)
    at = (number - 1) % count
    turn = turning[at * room : (at + 1) * room]
    if len(turn) < room:
        turn = turning[-room:]
    shown = {*pinned, *turn}
    return Page(tuple(name for name in names if name in shown), at + 1, count, _hidden_at_work(rows, shown))


def kept_in_sight(shown: Sequence[str], rows: Sequence[RowView], places: int) -> tuple[str, ...]:
    """The same page a moment later: nobody moves, except that whoever must be seen takes the place of somebody who need not be.

    Empty when the page cannot be kept (people came or went, or the room changed): make a new one.
    """
    by_name = {row.athlete: row for row in rows}
    if len(shown) != min(places, len(rows)) or any(name not in by_name for name in shown):
        return ()
    kept = list(shown)
    free = [at for at, name in enumerate(kept) if not _at_work(by_name[name]) and not by_name[name].selected]
    for row in rows:
        if row.athlete in kept:
            continue
        if row.selected and not free:
            free.append(len(kept) - 1)
        if free and (_at_work(row) or row.selected):
            kept[free.pop()] = row.athlete
    return tuple(kept)


def page_words(page: Page) -> str:
    """`page 1 of 2, 3 more at work`; empty when everybody is in sight."""
    words = f"page {page.number} of {page.count}" if page.count > 1 else ""
    if page.more_at_work:
        words += f"{', ' if words else ''}{page.more_at_work} more at work"
    return words


def page_kept(page: Page, shown: tuple[str, ...], rows: Sequence[RowView]) -> Page:
    """`page` with other people in sight."""
    return Page(shown, page.number, page.count, _hidden_at_work(rows, set(shown)))


def _at_work(row: RowView) -> bool:
    return row.status == "work"


def _hidden_at_work(rows: Sequence[RowView], shown: set[str]) -> int:
    return sum(1 for row in rows if _at_work(row) and row.athlete not in shown)
