"""Any valid plan is timed without a gap, is the same for everybody, and folds and refolds to the same class."""

from __future__ import annotations

import json
from itertools import pairwise

import yaml
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from floorclock.clock.events import event_from_dict
from floorclock.clock.fold import fold
from floorclock.clock.sheet import run_sheet, sheet_json
from floorclock.clock.state import new_state
from floorclock.clock.tally import results, splits
from floorclock.digest.build import Label, digest_of
from floorclock.digest.volume import volume_loads
from floorclock.plan.check import check_files
from floorclock.plan.read_session import read_session
from floorclock.plan.roster import Athlete
from floorclock.plan.session import Session
from floorclock.plan.totals import interval_count, rounds_at
from floorclock.report.export import review_json, splits_csv
from tests.repertoire.any_plan import Plan, plans, played, rosters

# No shrinking: a class takes too long to be made smaller and smaller.
settings.register_profile("plans", deadline=None, phases=(Phase.generate,), suppress_health_check=tuple(HealthCheck))
PLANS = settings.get_profile("plans")


def read(plan: Plan) -> Session:
    text = yaml.safe_dump(plan, allow_unicode=True)
    session, problems = read_session(text, "any.yaml")
    assert session is not None, (text, list(map(str, problems)))
    checked = check_files(text.encode(), "any.yaml")
    assert json.loads(json.dumps(checked.to_json())), "what check says of it can be written"
    return session


@settings(PLANS, max_examples=60)
@given(plan=plans, athletes=rosters)
def test_a_timeline_has_no_gap_and_everybody_works_as_often_as_the_sheet_says(plan: Plan, athletes: tuple[Athlete, ...]) -> None:
    session = read(plan)
    state, sheet = new_state(session, athletes), run_sheet(session, athletes)
    for index, item in enumerate(sheet):
        part, line = item.part, item.timeline
        if not line.intervals:
            continue
        assert line.intervals[0].start_ms == 0
        assert all(before.end_ms == after.start_ms for before, after in pairwise(line.intervals))
        assert all(interval.length_ms > 0 for interval in line.intervals)
        assert part.kind == "open" or line.intervals[-1].end_ms == line.length_ms
        assert all(-line.count_in_ms <= cue.at_ms <= (line.length_ms or cue.at_ms) for cue in line.cues)
        if part.kind in ("rotation", "intervals"):
            windows = [at for at, interval in enumerate(line.intervals) if interval.window >= 0]
            assert len(windows) == interval_count(part)
            wanted = sum(rounds for station, rounds in zip(part.stations, rounds_at(part), strict=True) if not station.is_rest)
            run = state.planned_run(index)
            assert {sum(state.assignment(name, run, at) is not None for at in windows) for name in state.athletes} == {wanted}
    assert json.loads(json.dumps(sheet_json(sheet)))


@settings(PLANS, max_examples=40)
@given(plan=plans, athletes=rosters, draw=st.data())
def test_a_class_folds_and_refolds_to_the_same(plan: Plan, athletes: tuple[Athlete, ...], draw: st.DataObject) -> None:
    session = read(plan)
    state, told = played(draw, session, athletes)
    written = [json.loads(json.dumps(event.to_dict())) for event in told]
    again = fold(new_state(session, athletes), map(event_from_dict, written))
    assert [event_from_dict(one) for one in written] == told
    assert (splits(again), results(again)) == (splits(state), results(state))
    assert [run.teams for run in again.runs] == [run.teams for run in state.runs]
    assert volume_loads(again, splits(again), results(again)) == volume_loads(state, splits(state), results(state))
    digest = digest_of(state, Label(class_id="any"), forecast=False)
    assert json.loads(json.dumps(review_json(digest)))
    assert splits_csv(digest)
