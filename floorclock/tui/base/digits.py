"""Numerals of any size, drawn from strokes that end on whole rows.

Invariant: every row of a drawing is exactly as wide as `text_width` says, so that only the numerals that change are repainted.
A drawing is rows of text in which `█` is inside a stroke, `▀` and `▄` are half cells (smallest size only) and a space is outside.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Final

INSIDE: Final = "█"
NARROW: Final = ":."
_HALVES: Final = " ▀▄█"

STROKES: Final[dict[str, str]] = {
    "0": "top bottom upper_left lower_left upper_right lower_right",
    "1": "stem flag foot",
    "2": "top middle bottom upper_right lower_left",
    "3": "top short_middle bottom upper_right lower_right",
    "4": "middle upper_left upper_right lower_right",
    "5": "top middle bottom upper_left lower_right",
    "6": "top middle bottom upper_left lower_left lower_right",
    "7": "top upper_right lower_right",
    "8": "top middle bottom upper_left lower_left upper_right lower_right",
    "9": "top middle bottom upper_left upper_right lower_right",
    "-": "middle",
    " ": "",
    ":": "dots",
    ".": "dot",
}
"""Which strokes make up each numeral; `1` has a foot and `3` a short middle, so that they are never taken for `7` and `9`."""


@dataclass(frozen=True, slots=True)
class NumeralSize:
    """The measures of one set of numerals, in cells: `stroke` is how wide a standing stroke is, `beam` how high a lying one."""

    width: int
    rows: int
    stroke: int
    beam: int
    gap: int

    @property
    def halved(self) -> bool:
        """True for the smallest set, which is drawn in half rows."""
        return self.rows < 5


SMALLEST: Final = NumeralSize(width=3, rows=3, stroke=1, beam=1, gap=1)


def size_of(width: int, rows: int) -> NumeralSize:
    """The measures of numerals that are `width` cells wide and `rows` high (at least 5)."""
    stroke = max(2 if width >= 6 else 1, round(width * 0.23))
    beam = min((stroke + 1) // 2, (rows - 2) // 3)
    return NumeralSize(width, rows, stroke, beam, max(1, round(width * 0.14)))


def text_width(text: str, size: NumeralSize) -> int:
    """How many cells `text` takes."""
    return sum(numeral_width(char, size) for char in text) + size.gap * max(0, len(text) - 1)


def numeral_width(char: str, size: NumeralSize) -> int:
    """How many cells one character takes."""
    return size.stroke if char in NARROW else size.width


@lru_cache(maxsize=128)
def largest_size(shape: str, width: int, rows: int) -> NumeralSize | None:
    """The largest measures at which `shape` fits `width` by `rows` cells; None where not even the smallest does.

    A cell is about twice as high as wide. Numerals stay between 0.5 and 0.8 as wide as high (0.5 to 1.0 is the range that
    NUREG-0700 rev. 2, 1.3.1, allows for legible characters), as high as they can be first, then as wide.
    """
    for height in range(rows, 4, -1):
        for across in range(round(height * 1.6), height - 1, -1):
            size = size_of(across, height)
            if text_width(shape, size) <= width:
                return size
    fits = rows >= SMALLEST.rows and text_width(shape, SMALLEST) <= width
    return SMALLEST if fits else None


@lru_cache(maxsize=256)
def numeral(char: str, size: NumeralSize) -> tuple[str, ...]:
    """The drawing of one character; an unknown character is blank."""
    width = numeral_width(char, size)
    if size.halved:
        return in_halves(_bitmap(char, width, NumeralSize(size.width, 5, 1, 1, size.gap)))
    dots = _bitmap(char, width, size)
    return tuple("".join(INSIDE if dot else " " for dot in row) for row in _softened(dots, size))


def in_halves(dots: list[list[bool]]) -> tuple[str, ...]:
    """Rows of dots as rows of cells, each cell an upper and a lower dot; below an odd number of rows stands an empty one."""
    even = dots + [[False] * len(dots[0])] * (len(dots) % 2)
    pairs = zip(even[::2], even[1::2], strict=True)
    return tuple("".join(_HALVES[high + 2 * low] for high, low in zip(*pair, strict=True)) for pair in pairs)


def _bitmap(char: str, width: int, size: NumeralSize) -> list[list[bool]]:
    dots = [[False] * width for _ in range(size.rows)]
    for stroke in STROKES.get(char, "").split():
        for left, top, right, bottom in _boxes(stroke, width, size):
            for y in range(top, bottom):
                dots[y][left:right] = [True] * (right - left)
    return dots


def _boxes(stroke: str, width: int, size: NumeralSize) -> list[tuple[int, int, int, int]]:
    """The cells of a stroke as (left, top, right, bottom), ends excluded."""
    thick, beam, rows = size.stroke, size.beam, size.rows
    middle = (rows - beam) // 2
    stem = (width - thick) // 2
    high = max(beam, rows // 4)
    # Two dots that touched would be read as a stroke.
    dot = max(1, min(beam, (rows - 2 * high - 1) // 2))
    return {
        "top": [(0, 0, width, beam)],
        "middle": [(0, middle, width, middle + beam)],
        "short_middle": [(width // 3, middle, width, middle + beam)],
        "bottom": [(0, rows - beam, width, rows)],
        "upper_left": [(0, 0, thick, middle + beam)],
        "upper_right": [(width - thick, 0, width, middle + beam)],
        "lower_left": [(0, middle, thick, rows)],
        "lower_right": [(width - thick, middle, width, rows)],
        "stem": [(stem, 0, stem + thick, rows)],
        "flag": [(max(0, stem - thick), 0, stem, beam)],
        "foot": [(max(0, stem - thick), rows - beam, min(width, stem + 2 * thick), rows)],
        "dots": [(0, high, width, high + dot), (0, rows - high - dot, width, rows - high)],
        "dot": [(0, rows - beam, width, rows)],
    }[stroke]


def _softened(dots: list[list[bool]], size: NumeralSize) -> list[list[bool]]:
    """Outer corners taken off, so that the numerals look cut, not stamped; only where strokes are thick enough to spare it."""
    cut = size.stroke // 3 if size.beam > 1 else 0
    if not cut:
        return dots
    softened = [row[:] for row in dots]
    for y in range(len(dots)):
        for run_start, run_end in _runs(dots[y]):
            if run_end - run_start <= size.stroke:
                continue
            if _is_corner(dots, y, run_start, size.beam):
                softened[y][run_start : run_start + cut] = [False] * cut
            if _is_corner(dots, y, run_end - 1, size.beam):
                softened[y][run_end - cut : run_end] = [False] * cut
    return softened


def _is_corner(dots: list[list[bool]], y: int, x: int, beam: int) -> bool:
    """True where the shape is open on one side, above or below, and goes on for more than a beam on the other."""

    def inside(row: int) -> bool:
        return 0 <= row < len(dots) and dots[row][x]

    opens_above = not inside(y - 1) and inside(y + beam)
    opens_below = not inside(y + 1) and inside(y - beam)
    return opens_above or opens_below


def _runs(row: list[bool]) -> list[tuple[int, int]]:
    edges = [x for x in range(len(row) + 1) if (x < len(row) and row[x]) != (x > 0 and row[x - 1])]
    return list(zip(edges[::2], edges[1::2], strict=True))
