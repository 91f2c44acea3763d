"""Any valid plan is timed without a gap, is the same for everybody, and folds and refolds to the same class."""

from __future__ import annotations

import json

import yaml
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from floorclock.clock.events import event_from_dict
from floorclock.clock.fold import fold
from floorclock.clock.state import new_state
from floorclock.clock.tally import results, splits
from floorclock.digest.build import Label, digest_of
from floorclock.digest.volume import volume_loads
from floorclock.plan.check import check_files
from floorclock.plan.read_session import read_session
from floorclock.plan.roster import Athlete
from floorclock.plan.session import Session
from floorclock.report.export import review_json, splits_csv
from tests.repertoire.any_plan import Plan, check_timeline, plans, played, rosters

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
    check_timeline(read(plan), athletes)


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
