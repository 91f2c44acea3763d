"""What the athlete sheet is told: targets, options and choices speak of the work that runs or comes next."""

from dataclasses import replace

from floorclock.clock.events import PartBegun, Tapped
from floorclock.clock.fold import apply
from floorclock.clock.state import ClassState
from floorclock.plan.session import Choice, ForTime, OpenPart
from floorclock.plan.work import Option
from floorclock.tui.floor.dialogs.athlete_facts import athlete_facts, part_of_work
from floorclock.tui.floor.moment import moment
from tests.clock.classes import BRAM, ILKA, STEP, SWING, begun, harbour, state_of, tap

FINISH = ForTime(title="Finish", cap_ms=300_000, rounds=3, work=(STEP,), choose=(Choice(name="shorter", rounds=2),))
LIGHTER = replace(SWING, options=(Option("lighter", "deadlift", None),))


def class_of() -> ClassState:
    """A warm-up, a rotation, a rest, a finisher."""
    rotation = replace(harbour(rounds=1), work=(LIGHTER, STEP))
    warm_up, rest = OpenPart(title="Warm-up", time_ms=60_000), OpenPart(title="Rest")
    return state_of(warm_up, rotation, rest, FINISH, athletes=(ILKA, BRAM))


def at(state: ClassState, at_ms: int, part: int | None = None) -> ClassState:
    """The class at a time, a part begun then."""
    if part is not None:
        apply(state, PartBegun(at_ms=at_ms, part=part))
    state.advance(at_ms)
    return state


def test_in_the_warm_up_the_sheet_speaks_of_the_rotation_that_follows() -> None:
    state = at(class_of(), 0, part=0)
    facts = athlete_facts(state, moment(state, 0), "Ilka")
    bram = athlete_facts(state, moment(state, 0), "Bram")
    assert facts.move is not None
    assert bram.move is not None
    assert (facts.move.work.move, [option.name for option in facts.moves[0].item.options]) == ("kettlebell swing", ["lighter"])
    assert bram.move.work.move == "step-up"


def test_in_the_rest_before_a_finisher_its_alternatives_can_be_taken() -> None:
    state = at(at(class_of(), 0, part=0), 60_000, part=1)
    at(state, 60_000 + 10_000 + 121_000)
    here = moment(state, state.now_ms)
    assert here.part is not None
    assert here.part.title == "Rest"
    facts = athlete_facts(state, here, "Ilka")
    assert [choice.name for choice in facts.choices] == ["shorter"]
    assert [row.station for row in facts.splits] == ["kettlebell swing", "step-up"]
    assert facts.part == 3


def test_an_interval_that_was_tapped_stands_once_and_under_the_move_that_was_done() -> None:
    ilka = replace(ILKA, options={"kettlebell swing": "lighter"})
    rotation = replace(harbour(rounds=1), work=(LIGHTER, STEP))
    state = at(state_of(rotation, athletes=(ilka, BRAM)), 0, part=0)
    apply(at(state, 40_000), Tapped(at_ms=40_000, athlete="Ilka"))
    splits = {name: athlete_facts(state, moment(state, 40_000), name).splits for name in ("Ilka", "Bram")}
    assert [(line.station, line.split, line.status) for line in splits["Ilka"]] == [("deadlift", "30.0", "done")]
    assert [(line.station, line.split, line.status) for line in splits["Bram"]] == [("step-up", "", "now")]


def test_after_the_last_part_the_sheet_speaks_of_it() -> None:
    state = state_of(FINISH, athletes=(ILKA,))
    at(state, 0, part=0)
    at(state, 400_000)
    assert state.over
    assert part_of_work(state, moment(state, state.now_ms)) == 0


def test_a_split_of_the_running_interval_stands_on_the_sheet_once() -> None:
    state = begun(harbour())
    at(state, 30_000)
    assert [(line.interval, line.status) for line in athlete_facts(state, moment(state, 30_000), "Ilka").splits] == [(0, "now")]
    tap(state, 40_000)
    at(state, 40_000)
    assert [(line.interval, line.status) for line in athlete_facts(state, moment(state, 40_000), "Ilka").splits] == [(0, "done")]
