"""What somebody did, in words."""

from __future__ import annotations

from dataclasses import replace

from floorclock.digest.work_done import flags_said, work_done

from floorclock.pace.flags import Flag
from tests.pace.sample_class import summary
from tests.report.outlooks import with_outlook

HARBOUR = summary().parts[1]
BRAM = next(one for one in HARBOUR.athletes if one.name == "Bram")


def test_work_is_called_as_the_station_unless_it_was_another_move() -> None:
    assert work_done(BRAM, HARBOUR, 0) == "swing"
    later = tuple(
        replace(one, split=replace(one.split, move="deadlift")) if one.split.round > 2 and one.split.station == 0 else one
        for one in BRAM.splits
    )
    assert work_done(replace(BRAM, splits=later), HARBOUR, 0) == "swing / deadlift"
    assert work_done(replace(BRAM, splits=later[-1:]), HARBOUR, 0) == "swing"


def test_a_forecast_is_none_any_more_when_the_class_is_over() -> None:
    assert flags_said(replace(BRAM, flags=(Flag.RUNS_OUT, Flag.TIGHT))) == "x ran out, ! tight"
    ahead = next(one for one in with_outlook().parts[1].athletes if one.name == "Bram")
    assert flags_said(replace(ahead, flags=(Flag.RUNS_OUT,))) == "x runs out"
    assert flags_said(replace(BRAM, flags=())) == ""
    runa = next(one for one in HARBOUR.athletes if one.name == "Runa")
    assert flags_said(runa) == "untapped"
