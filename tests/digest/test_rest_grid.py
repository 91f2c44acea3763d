"""The rest picture as values."""

from __future__ import annotations

from floorclock.digest.rest_grid import Cell, Kind, Order, cell_of, round_grid, whole_grid
from tests.pace.sample_class import summary
from tests.report.outlooks import with_outlook

PART = summary().parts[1]


def rests(station: int | None, order: Order = Order.BOARD) -> dict[str, list[float | str | None]]:
    """Each row as rests in s, or the kind of a cell without one."""
    return {row.athlete.name: [_said(cell) for cell in row.cells] for row in round_grid(PART, station, order).rows}


def _said(cell: Cell | None) -> float | str | None:
    if cell is None:
        return None
    return str(cell.kind) if cell.rest_ms is None else cell.rest_ms / 1000


def test_one_station_shows_its_own_rests() -> None:
    found = rests(0)
    assert found["Bram"] == [24, 20, 16, 12]
    assert found["Odd"] == [20, "not finished", 18, 19]
    assert found["Runa"] == ["untapped"] * 4


def test_the_least_rest_of_a_round_is_over_all_stations() -> None:
    found = rests(None)
    assert found["Ilka"] == [28, 29, 28, 28]
    assert found["Bram"] == [24, 20, 16, 12]
    assert found["Odd"][2] == 18


def test_under_the_margin_is_a_kind_of_its_own() -> None:
    rows = {row.athlete.name: row for row in round_grid(PART, 0, Order.BOARD).rows}
    assert [cell.kind for cell in rows["Bram"].cells if cell] == [Kind.KEPT, Kind.KEPT, Kind.KEPT, Kind.SHORT]


def test_rows_stand_in_the_order_that_is_asked_for() -> None:
    assert list(rests(None, Order.NAME)) == ["Bram", "Ilka", "Odd", "Runa", "Sefa"]
    assert list(rests(None, Order.LEAST_REST)) == ["Bram", "Odd", "Sefa", "Ilka", "Runa"]
    assert next(iter(rests(None, Order.DRIFT))) == "Bram"
    assert list(rests(None, Order.DRIFT))[-1] == "Runa"


def test_the_median_of_a_round_leaves_out_who_is_unknown() -> None:
    assert round_grid(PART, 0, Order.BOARD).middle_ms[0] == 26_000


def test_what_is_to_come_is_a_cell_of_its_own_beside_what_was() -> None:
    part = with_outlook().parts[1]
    grid = whole_grid(part)
    assert list(zip(grid.stations, grid.rounds, strict=True)) == [(at, number) for at in (0, 1) for number in range(1, 7)]
    bram = next(row for row in grid.rows if row.athlete.name == "Bram")
    swings = [cell for cell, at in zip(bram.cells, grid.stations, strict=True) if at == 0 and cell is not None]
    assert [(cell.kind, cell.rest_ms) for cell in swings[3:]] == [
        (Kind.SHORT, 12_000),
        (Kind.FORECAST, 10_000),
        (Kind.FORECAST, 6_000),
    ]
    assert swings[3].under
    assert swings[4].under
    others = [row.cells[4] for row in grid.rows if row.athlete.name != "Bram"]
    assert others == [None] * 4
    assert grid.middle_ms[4] is None, "a forecast is in no median of what was"


def test_a_cell_knows_its_share_of_the_interval() -> None:
    assert [(cell.share, cell.margin_share) for cell in [cell_of(PART.athletes[1].splits[:1])] if cell] == [(0.4, 0.25)]
    assert cell_of([]) is None
