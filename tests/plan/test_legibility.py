"""Heights in minutes of arc against published ones: `tests/checks/legibility.csv` names the sources."""

from __future__ import annotations

import pytest

from floorclock.plan.legibility import CAPITAL, LEAST_MINUTES, Wall, arc_minutes, height_mm, most_names
from floorclock.plan.session import Room
from tests.checks.reading import rows

TWELVE = Room(screen_mm=1400, farthest_mm=12_000)


@pytest.mark.parametrize("row", rows("legibility.csv"), ids=lambda row: row["distance_m"])
@pytest.mark.parametrize("minutes", [10, 16, 18, 20, 22, 24, 45])
def test_heights_are_those_of_the_table(row: dict[str, str], minutes: int) -> None:
    distance_mm = 1000 * float(row["distance_m"])
    assert height_mm(minutes, distance_mm) == pytest.approx(float(row[f"mm_{minutes}"]), abs=0.006)
    assert arc_minutes(float(row["mm_D_over_200"]), distance_mm) == pytest.approx(17.19, abs=0.01)


def test_a_letter_of_so_many_rows_is_seen_as_large_as_it_is() -> None:
    # 1.4 m of 16:9 are 686 mm high: 45 rows of 15.25 mm. At 12 m 20' are 69.81 mm (the table): 4.58 rows.
    wall = Wall(TWELVE, 160, 45)
    assert wall.cell_mm == pytest.approx(15.25, abs=0.01)
    assert wall.rows_for(20) == pytest.approx(4.58, abs=0.01)
    assert wall.minutes(4.577) == pytest.approx(20, abs=0.01)


def test_body_text_is_read_from_the_back_of_no_usual_room() -> None:
    for columns, screen_rows in ((80, 24), (160, 45), (240, 67)):
        assert Wall(TWELVE, columns, screen_rows).minutes(CAPITAL) < LEAST_MINUTES / 3 * 2


def test_how_many_names_a_wall_can_hold() -> None:
    """The figures that were worked out for 1.4 m before."""
    assert most_names(TWELVE) == 14
    assert most_names(TWELVE, 16) == 18
