"""What the records say of a roster at a plan, before the class."""

from __future__ import annotations

from datetime import date
from pathlib import Path

from floorclock.insight.targets import plan_records
from floorclock.plan.check import check_plan
from floorclock.plan.read_moves import usual_moves
from floorclock.store.store import Store
from tests.insight.season import BRIDGES, plan_of

TODAY = date(2026, 6, 10)


def test_who_will_not_make_it_is_named_with_the_chance_and_the_usual_times_are_silent(
    tmp_path: Path, shared: tuple[Store, list[str]]
) -> None:
    """200 m take Bram 53 s and Teo 40, as their season was made, of 60 with 15 to spare; of a stranger nothing is known."""
    plan = plan_of(tmp_path, BRIDGES, ["Bram", "Teo", "Stranger"])
    records = plan_records(plan.session, plan.roster, shared[0], TODAY)
    assert {key for key in records.chances if key[2] == "Stranger"} == set()
    assert records.chances[0, 1, "Bram"].keeps < 0.05
    assert records.chances[0, 1, "Bram"].first_round == 1
    assert records.chances[0, 1, "Teo"].keeps > 0.6
    assert records.people == {"Bram", "Teo"}
    # Fourteen Mondays from 2 March: the last was 1 June, and a week before that the one with the row was not.
    assert (records.last_done["Teo", "swing"], records.last_done["Teo", "step-up"]) == (date(2026, 6, 1), date(2026, 5, 25))
    problems = check_plan(plan.session, plan.roster, moves=usual_moves(), records=records).problems
    (unlikely,) = [one for one in problems if one.kind == "chance" and "row" in one.message]
    assert unlikely.message.startswith("Bram (")
    assert "will hardly keep the margin at row, from round 1 on" in unlikely.message
    (by_library,) = [one for one in problems if one.kind == "window" and one.path.endswith("[1]")]
    assert by_library.message.startswith("Stranger: 200 m of row")
