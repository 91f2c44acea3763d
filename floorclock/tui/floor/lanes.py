"""What to do now: a lane for every station in use, with the move, the target and who is there.

Invariant: a lane shows its move and target before anything else; names without room are counted (`+3`), never dropped unsaid.
"""

from __future__ import annotations

from functools import lru_cache

from rich.cells import cell_len
from rich.segment import Segment

from floorclock.tui.base.letters import dots, doubled, halved
from floorclock.tui.base.lines import Line, cut, inked, padded, shielded, spread, width_of, wrapped
from floorclock.tui.base.painted import Painted
from floorclock.tui.base.palette import BLANK, CAP, FAINT, LETTER_BLOCK, STRONG, TEXT
from floorclock.tui.floor.view import LanesView, LaneView, PersonView

DONE = "✓"
GAP = 3


class LanesPanel(Painted[LanesView]):
    """The lanes of now, and one line of what comes next."""

    def paint(self, view: LanesView, width: int, height: int) -> list[Line]:
        """A title, the lanes, the next line; title and next go first where there is no room."""
        following = next_lines(view, width, height)
        titled = height >= 2 * len(view.lanes) + len(following) + 1 and height > 4
        title = [title_line(view, width)] if titled else []
        lanes = lane_lines(view.lanes, width, height - len(title) - len(following))
        return [*title, *lanes, *following]


def title_line(view: LanesView, width: int) -> Line:
    """`NOW` on its plate and a rule to the end of the panel."""
    plate = Segment(f" {view.title.upper()} ", CAP)
    return padded([plate, Segment("─" * max(0, width - width_of([plate])), FAINT)], width)


def next_lines(view: LanesView, width: int, height: int) -> list[Line]:
    """What comes next, on one line, or two in a high panel."""
    if not view.next or height < max(2, len(view.lanes) + 1):
        return []
    rows = 2 if height >= 14 else 1
    lead = [padded((), width)] if height >= 14 else []
    return [*lead, *(padded([Segment(f" {text}", STRONG)], width) for text in wrapped(view.next, width - 1, rows))]


def lane_lines(lanes: tuple[LaneView, ...], width: int, height: int) -> list[Line]:
    """The lanes in `height` rows; lanes that have no row are counted on the last one."""
    if not lanes or height <= 0:
        return [padded((), width)] * max(0, height)
    if len(lanes) > height:
        above = [line for lane in lanes[: height - 1] for line in lane_block(lane, width, 1, 0)]
        return [*above, _moves_line(lanes[height - 1 :], width)]
    given = _rows_given(lanes, width, height)
    scale = _common_scale(lanes, given, width)
    lines: list[Line] = []
    for lane, rows in zip(lanes, given, strict=True):
        block = lane_block(lane, width, rows, scale)
        lines += [*block, *[padded((), width)] * (rows - len(block))]
    return lines


def _moves_line(lanes: tuple[LaneView, ...], width: int) -> Line:
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


def _rows_given(lanes: tuple[LaneView, ...], width: int, height: int) -> list[int]:
    """The rows of each lane: what its names need, and for a move what its letters need; the moves share what is left."""
    share = height // len(lanes)
    needs = [_rows_needed(lane, width) for lane in lanes]
    moves = [at for at, lane in enumerate(lanes) if not lane.is_rest] or list(range(len(lanes)))
    if sum(needs) > height:
        needs = [0 if at in moves else min(share, need) for at, need in enumerate(needs)]
    given = needs
    free = height - sum(given)
    for turn, at in enumerate(moves):
        given[at] += free // (len(moves) - turn)
        free -= free // (len(moves) - turn)
    return given


def _rows_needed(lane: LaneView, width: int) -> int:
    heading = () if lane.is_rest else _lettered_move(lane, width, 99, 0)
    return (len(heading) or 1) + _words_needed(lane, width)


def _words_needed(lane: LaneView, width: int) -> int:
    return len(people_lines(lane.people, width, 99)) + bool(lane.note)


def _common_scale(lanes: tuple[LaneView, ...], given: list[int], width: int) -> int:
    """The largest scale at which every move can be drawn, so that no lane shouts louder than another; 0 is half-row letters."""
    moves = [(lane, rows) for lane, rows in zip(lanes, given, strict=True) if not lane.is_rest]
    for scale in range(6, 0, -1):
        if moves and all(_lettered_move(lane, width, _letter_rows(lane, width, rows), scale) for lane, rows in moves):
            return scale
    return 0


def _letter_rows(lane: LaneView, width: int, rows: int) -> int:
    """The rows that the letters may take: all but those that the names need, and the names need at most a third."""
    return rows - min(_words_needed(lane, width), max(1, rows // 3))


@lru_cache(maxsize=128)
def lane_block(lane: LaneView, width: int, rows: int, scale: int) -> tuple[Line, ...]:
    """One lane in at most `rows` lines, its move in letters of `scale` where they fit."""
    if rows <= 1:
        move = _plain_move(lane, width)
        room = width - width_of(move) - GAP
        people = people_lines(lane.people, room, 1) if room > 6 else []
        return (padded([*move, Segment(" " * (GAP - 1), BLANK), *(people[0] if people else ())], width),)
    heading = [] if lane.is_rest else list(_lettered_move(lane, width, _letter_rows(lane, width, rows), scale))
    lines = heading or [padded(_plain_move(lane, width), width)]
    if lane.note and rows - len(lines) >= 2:
        lines.append(padded([Segment(f" {cut(lane.note, width - 1)}", FAINT)], width))
    return (*lines, *people_lines(lane.people, width, rows - len(lines)))


def _plain_move(lane: LaneView, width: int) -> list[Segment]:
    target = f"  {lane.target}" if lane.target else ""
    name = lane.move.upper()
    return [Segment(f" {cut(name, max(1, width - cell_len(target) - 1))}{target}", FAINT if lane.is_rest else STRONG)]


@lru_cache(maxsize=256)
def _lettered_move(lane: LaneView, width: int, rows: int, scale: int) -> tuple[Line, ...]:
    """The move and the target in letters of `scale` (0: half rows), side by side, else stacked; empty where they do not fit."""
    target = _lettered(lane.target, scale) if lane.target else ()
    if target is None:
        return ()
    beside = _stacked(lane.move, scale, rows, width - 2 - (len(target[0]) + GAP if target else 0))
    if beside and len(target) <= rows:
        return tuple(
            spread(_inked_row(beside, at), [*_inked_row(target, at), Segment(" ", BLANK)], width)
            for at in range(max(len(beside), len(target)))
        )
    above = _stacked(lane.move, scale, rows - len(target) - 1, width - 2)
    if above and target and len(target[0]) <= width - 2:
        blank = (" ",) if scale else ()
        stack = (*above, *blank, *target)
        return tuple(padded(_inked_row(stack, at), width) for at in range(len(stack)))
    return ()


def _inked_row(rows: tuple[str, ...], at: int) -> list[Segment]:
    return [Segment(" ", BLANK), *inked(rows[at], STRONG, LETTER_BLOCK)] if at < len(rows) else []


def _stacked(move: str, scale: int, rows: int, width: int) -> tuple[str, ...]:
    """The move in letters, on one row of them or two; empty where neither fits."""
    words = move.split()
    for at in range(len(words), 0, -1):
        parts = [_lettered(" ".join(part), scale) for part in (words[:at], words[at:]) if part]
        whole = [part for part in parts if part is not None and len(part[0]) <= width]
        if len(whole) < len(parts):
            continue
        across = max(len(part[0]) for part in whole)
        lead = [" " * across] * (1 if scale else 0)
        stack = [row.ljust(across) for row in whole[0]]
        for part in whole[1:]:
            stack += [*lead, *(row.ljust(across) for row in part)]
        if len(stack) <= rows:
            return tuple(stack)
    return ()


def _lettered(words: str, scale: int) -> tuple[str, ...] | None:
    shape = dots(words)
    if shape is None:
        return None
    return doubled(shape, scale) if scale else halved(shape)


def people_lines(people: tuple[PersonView, ...], width: int, rows: int) -> list[Line]:
    """The people of a lane on at most `rows` lines; those who do not fit are counted at the end."""
    if rows <= 0 or not people:
        return []
    lines: list[list[Segment]] = [[]]
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
