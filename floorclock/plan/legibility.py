"""What can be read from the back of the room: heights in minutes of arc.

Minutes of arc = height x 21600 / (2 pi distance) (NUREG-0700 rev. 2, item 1.3.1-4). At least 16 of them, better 20 to 22, by
ISO 9241-3 (as quoted on a maker's pages; the limits stand in `tests/checks/legibility.csv`). The height is that of a capital.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from floorclock.plan.session import Room

LEAST_MINUTES: Final = 16
PREFERRED_MINUTES: Final = 20
CAPITAL: Final = 0.6
"""How high a capital is in a cell of a terminal (0.61 in three usual fonts, measured)."""
USUAL_ROOM: Final = Room(screen_mm=1400, farthest_mm=8000)
"""Where a plan does not say: common practice, no source."""


def height_mm(minutes: float, distance_mm: float) -> float:
    """How high something has to be to be seen at so many minutes of arc."""
    return minutes * 2 * math.pi * distance_mm / 21600


def arc_minutes(height: float, distance_mm: float) -> float:
    """How large something of a height in millimetres is seen."""
    return height * 21600 / (2 * math.pi * distance_mm)


@dataclass(frozen=True, slots=True)
class Wall:
    """A terminal that fills a screen of 16 to 9 in a room. A cell is twice as high as wide."""

    room: Room
    columns: int
    rows: int

    @property
    def cell_mm(self) -> float:
        """How high a cell is."""
        width, height = _sides(self.room)
        return min(2 * width / self.columns, height / self.rows)

    def minutes(self, rows: float) -> float:
        """How large the farthest viewer sees a letter of so many rows."""
        return arc_minutes(rows * self.cell_mm, self.room.farthest_mm)

    def rows_for(self, minutes: float) -> float:
        """How many rows high a letter has to be."""
        return height_mm(minutes, self.room.farthest_mm) / self.cell_mm


def most_names(room: Room, minutes: float = PREFERRED_MINUTES, letters: int = 8) -> int:
    """How many names the farthest viewer can read at once, however fine the screen.

    Letters stand 0.86 of their height apart, two of them between names, lines 1.2 heights apart; a fourteenth of the height is the
    clock's and the keys'.
    """
    width, height = _sides(room)
    letter = height_mm(minutes, room.farthest_mm)
    across = (width + 2 * 0.86 * letter) // ((letters + 2) * 0.86 * letter)
    return int(across) * int(height * 0.93 // (1.2 * letter))


def _sides(room: Room) -> tuple[float, float]:
    diagonal = math.hypot(16, 9)
    return room.screen_mm * 16 / diagonal, room.screen_mm * 9 / diagonal
