"""The same classes from paper: what a rehearsal wrote down is taken in again and comes to the same results."""

from __future__ import annotations

import csv
import io
from datetime import datetime
from pathlib import Path

import pytest

from floorclock.clock.splits import Result
from floorclock.clock.tally import results
from floorclock.live.plan_files import read_plan
from floorclock.report.export import splits_csv
from floorclock.simulate.rehearsal import rehearse_class
from floorclock.transfer.paper import blank_sheet, read_intake, record_intake
from tests.opened_classes import folded
from tests.repertoire.test_repertoire import PEOPLE, PLANS, plan_of

STARTED = datetime.fromisoformat("2026-01-12T19:00:00+01:00")


@pytest.mark.parametrize("path", PLANS, ids=lambda path: path.stem)
def test_every_field_of_a_blank_sheet_can_be_filled_in(path: Path) -> None:
    """A 1 in every field that is somebody's: a split, rounds or a score of 1 is possible everywhere."""
    plan = read_plan(path, PEOPLE)
    rows = list(csv.reader(io.StringIO(blank_sheet(plan), newline="")))
    names = {athlete.name for athlete in plan.roster.athletes}
    width, filled = 0, 0
    for row in rows:
        if row[0] in ("station", "athlete"):
            width = 1 if row[0] == "athlete" else len([field for field in row[1:] if field])
        elif row[0].split(" + ")[0] in names:
            row[1 : 1 + width] = [field or "1" for field in row[1 : 1 + width]]
            filled += 1
    out = io.StringIO(newline="")
    csv.writer(out).writerows(rows)
    if filled:
        assert read_intake("paper.csv", out.getvalue(), plan).words


@pytest.mark.parametrize("number", [3, 5, 6, 7, 13, 15, 16, 17, 18, 19, 28, 29, 30])
def test_what_was_written_down_comes_to_the_same_results(number: int, tmp_path: Path) -> None:
    plan = plan_of(number)
    played = rehearse_class(plan, tmp_path / "played", seed=3)
    sheet = read_intake("class.csv", splits_csv(played), plan)
    assert sheet.absent == ()
    kept = record_intake(sheet, plan, tmp_path / "paper", started=STARTED)
    state = folded(next((tmp_path / "paper").rglob(f"{kept}*")))
    assert {(result.part, result.athlete): written(result) for result in results(state)} == {
        (part.index, athlete.name): written(athlete.result)
        for part in played.parts
        for athlete in part.athletes
        if athlete.result is not None
    }


def written(result: Result) -> tuple[object, ...]:
    """A result without its laps, which no paper has."""
    return result.time_ms, result.rounds, result.reps or None, result.team, result.scores
