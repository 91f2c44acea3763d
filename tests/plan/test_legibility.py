"""Letters on the wall, against published heights and a published worked example."""

from __future__ import annotations

from math import hypot

import pytest

from floorclock.plan.legibility import arc_minutes, farthest_mm, height_mm, most_rows
from tests.checks.reading import rows

# NUREG-0700 rev. 2, 1.3.1-4, and ISO 9241's 16 minutes of arc: tests/checks/legibility.csv.
PUBLISHED = rows("legibility.csv")


@pytest.mark.parametrize("row", PUBLISHED, ids=[row["distance_m"] for row in PUBLISHED])
def test_heights_are_the_published_ones(row: dict[str, str]) -> None:
    distance = 1000 * float(row["distance_m"])
    for arc in (10, 16, 20, 45):
        assert height_mm(arc, distance) == pytest.approx(float(row[f"mm_{arc}"]), abs=0.006)
        assert arc_minutes(height_mm(arc, distance), distance) == pytest.approx(arc)


def test_the_worked_example_of_a_standard_for_screens() -> None:
    """ANSI/AVIXA V202.01:2016, reading from 10.5 m: 52.5 mm (the minutes of arc worked out from it)."""
    assert arc_minutes(52.5, 10_500) == pytest.approx(17.19, abs=0.01)


@pytest.mark.parametrize(("screen_mm", "distance_mm", "rows_"), [(1400, 12_000, 30), (1400, 20_000, 18), (1900, 12_000, 41)])
def test_names_are_large_enough_up_to_so_many_rows(screen_mm: int, distance_mm: int, rows_: int) -> None:
    """By hand: a screen of 1.40 m is 686 mm high; 16 minutes of arc from 12 m are 55.85 mm, which is 2.5 rows of 22.3 mm: 30."""
    assert most_rows(screen_mm, distance_mm, 16) == rows_ == int(screen_mm * 9 / hypot(16, 9) * 2.5 / height_mm(16, distance_mm))
    assert most_rows(screen_mm, int(farthest_mm(screen_mm, rows_, 16)), 16) == rows_
