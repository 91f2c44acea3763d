"""How large letters on the wall are for whoever stands farthest away.

Minutes of arc = height x 21600 / (2 pi x distance) (NUREG-0700 rev. 2, 1.3.1-4). 16 are the least, 20 to 22 better (ISO 9241-3,
as quoted by others). A name is drawn in letters of five half rows; the terminal is taken to fill a screen of 16:9.
"""

from __future__ import annotations

from math import hypot, pi

LEAST_ARC = 16
NAME_ROWS = 2.5


def arc_minutes(height_mm: float, distance_mm: float) -> float:
    """How large a height is at a distance."""
    return height_mm * 21600 / (2 * pi * distance_mm)


def height_mm(arc: float, distance_mm: float) -> float:
    """The height that is so many minutes of arc at a distance."""
    return arc * 2 * pi * distance_mm / 21600


def row_mm(screen_mm: float, rows: int) -> float:
    """How high a row of the terminal is on a screen of this diagonal."""
    return screen_mm * 9 / hypot(16, 9) / rows


def most_rows(screen_mm: float, distance_mm: float, arc: float, letter_rows: float = NAME_ROWS) -> int:
    """With how many rows at most letters are so large."""
    return int(row_mm(screen_mm, 1) * letter_rows / height_mm(arc, distance_mm))


def farthest_mm(screen_mm: float, rows: int, arc: float, letter_rows: float = NAME_ROWS) -> float:
    """From how far away letters are so large on a terminal of so many rows."""
    return row_mm(screen_mm, rows) * letter_rows * 21600 / (2 * pi * arc)
