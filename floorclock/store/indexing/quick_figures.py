"""Flags and figures of a whole class, athlete by athlete.

Invariant: what comes out is what `pace.flags` and `pace.figures` give for the same splits, without a forecast.
"""

from __future__ import annotations

from collections.abc import Sequence

from floorclock.clock.state import ClassState
from floorclock.clock.tally import athlete_splits
from floorclock.store.indexing.columns import AthletePart, WorkList
from floorclock.store.indexing.figures import PaceLine, bits_of, pace_lines


def figures_of_class(state: ClassState, parts: Sequence[AthletePart], works: WorkList) -> list[tuple[str, PaceLine]]:
    """Gives every split its flags, and each athlete the figures of their stations, in the order of `parts`."""
    found: list[tuple[str, PaceLine]] = []
    for one in parts:
        splits = tuple(athlete_splits(state, one.run, one.name))
        one.flags = bits_of(splits)
        found += [(one.name, line) for line in pace_lines(splits, one.flags, works)]
    return found
