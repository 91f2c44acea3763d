"""Words as small numbers: what the index keeps of the few words that stand in millions of rows.

Invariant: a number never changes its meaning, because stores made by earlier versions hold it; new words get new numbers.
"""

from __future__ import annotations

from typing import Final

from floorclock.plan.session import PartKind
from floorclock.plan.work import Unit
from floorclock.store.rows import Source

UNITS: Final[dict[Unit | None, int]] = {None: 0, Unit.REPS: 1, Unit.METRES: 2, Unit.CALORIES: 3, Unit.SECONDS: 4}
KINDS: Final[dict[PartKind, int]] = {"open": 0, "rotation": 1, "intervals": 2, "for_time": 3, "amrap": 4, "paced": 5}
SOURCES: Final[dict[Source, int]] = {"taps": 0, "paper": 1}

UNIT_OF: Final[dict[int, Unit | None]] = {number: unit for unit, number in UNITS.items()}
KIND_OF: Final[dict[int, PartKind]] = {number: kind for kind, number in KINDS.items()}
SOURCE_OF: Final[dict[int, Source]] = {number: source for source, number in SOURCES.items()}

DONE, UNTAPPED, NOT_FINISHED = 0, 1, 2
"""The status of a split."""
