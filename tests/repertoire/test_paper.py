"""The same classes from paper: what a rehearsal wrote down is taken in again and comes to the same results."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import pytest

from floorclock.clock.splits import Result
from floorclock.clock.tally import results
from floorclock.digest.words import score_total
from floorclock.journal.reading import read_journal
from floorclock.journal.replay import replay
from floorclock.live.plan_files import read_plan
from floorclock.plan.session import Session
from floorclock.report.export import splits_csv
from floorclock.simulate.rehearsal import rehearse_class
from floorclock.transfer.paper import blank_sheet, read_intake, record_intake
from tests.repertoire.test_repertoire import PEOPLE, PLANS, number_of

STARTED = datetime.fromisoformat("2026-01-12T19:00:00+01:00")


@pytest.mark.parametrize("path", PLANS, ids=lambda path: path.stem)
def test_a_blank_sheet_has_only_rows_that_can_be_filled_in(path: Path) -> None:
    plan = read_plan(path, PEOPLE)
    header, *rows = blank_sheet(plan).splitlines()
    for line in rows[:1] + rows[-1:]:
        fields = line.split(",")
        fields[header.split(",").index("split")] = "nf"
        read_intake("paper.csv", "\r\n".join([header, ",".join(fields)]), plan)


@pytest.mark.parametrize("number", [3, 6, 7, 13, 15, 16, 17, 18, 19, 28, 29, 30])
def test_what_was_written_down_comes_to_the_same_results(number: int, tmp_path: Path) -> None:
    path = next(path for path in PLANS if number_of(path) == number)
    plan = read_plan(path, PEOPLE)
    played = rehearse_class(plan, tmp_path / "played", seed=3)
    sheet = read_intake("class.csv", splits_csv(played), plan)
    assert sheet.absent == ()
    kept = record_intake(sheet, plan, tmp_path / "paper", started=STARTED)
    reading = read_journal(next((tmp_path / "paper").rglob(f"{kept}*")))
    assert reading.header is not None
    state = replay(reading.header, reading.events)
    assert {(one.part, one.athlete): summed(one, state.session) for one in results(state)} == {
        (part.index, athlete.name): summed(athlete.result, state.session)
        for part in played.parts
        for athlete in part.athletes
        if athlete.result is not None
    }


def summed(result: Result, session: Session) -> tuple[object, ...]:
    """A result without its laps, which no paper has, and its scores as the sum that is written down."""
    total = score_total(result, session.parts[result.part].score)
    return result.time_ms, result.rounds, result.reps or None, result.team, total
