"""One lane drawn: its move and target, and who is there, in letters or as text.

Invariant: a lane is drawn (`lane_block`) as it was found to fit (`lane_fit`), so it has the rows that were counted for it. Names
without room are counted (`+3`), never dropped unsaid.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

from rich.cells import cell_len
from rich.segment import Segment
from textual.geometry import Region

from floorclock.tui.base.letters import height_of, lettered, lettered_lines, letters_across, pitch_of
from floorclock.tui.base.lines import Line, cut, inked, padded, shielded, spread, width_of
from floorclock.tui.base.palette import BLANK, DIM_BLOCK, FAINT, LETTER_BLOCK, STRONG, TEXT
from floorclock.tui.floor.view import LaneView, PersonView

DONE: Final = "✓"
GAP: Final = 3
COUNTED: Final = 6
"""The cells of a count of people, with a gap before it."""
LEAST_KEPT: Final = 5
"""The letters of a name that say whose it is."""

Lanes = tuple[LaneView, ...]
People = tuple[PersonView, ...]


@dataclass(frozen=True, slots=True)
class LetterSizes:
    """How large moves and names are written, as sizes of letters; 0 is body text."""

    move: int
    name: int


@dataclass(frozen=True, slots=True)
class Block:
    """Some lines, and where in them somebody's name stands."""

    lines: tuple[Line, ...]
    places: tuple[tuple[Region, str], ...] = ()


@dataclass(frozen=True, slots=True)
class LaneFit:
    """How a lane is drawn: the size of its move, its heading, its names in letters or as `plain` text, and all its rows."""

    size: int
    heading: Heading | None
    seated: Seated | None
    rows: int
    plain: Sequence[Line] = ()


def lane_fit(lane: LaneView, width: int, letters: LetterSizes) -> LaneFit | None:
    """How a lane is drawn in letters of a size; None where it is too wide."""
    size = min(letters.move, letters.name) if lane.is_rest else letters.move
    heading = _heading(lane.move, lane.target, width, size) if lane.move else None
    if lane.move and heading is None:
        return None
    rows = int(bool(lane.note))
    if heading is not None:
        count = len(heading.move) + heading.is_stacked
        rows += count * height_of(size) + (count - 1) * (size > 1) if size else count
    if not (lane.people and letters.name):
        plain = people_lines(lane.people, width, 99)
        return LaneFit(size, heading, None, rows + len(plain), plain)
    seated = _seated(lane.people, width, letters.name)
    if seated is None:
        return None
    return LaneFit(size, heading, seated, rows + bool(rows) + _line_tops(len(seated.seats), letters.name)[-1])


@lru_cache(maxsize=512)
def lane_block(lane: LaneView, width: int, letters: LetterSizes) -> Block | None:
    """One lane, as many lines as it needs; None where it is too wide."""
    fitted = lane_fit(lane, width, letters)
    if fitted is None:
        return None
    lines = heading_lines(lane, fitted.heading, width, fitted.size) if fitted.heading is not None else []
    if lane.note:
        lines.append(padded([Segment(f" {cut(lane.note, width - 1)}", FAINT)], width))
    if fitted.seated is None:
        return Block((*lines, *fitted.plain))
    if lines:
        lines.append(padded((), width))
    names = lettered_people(lane.people, fitted.seated, width, letters.name)
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
