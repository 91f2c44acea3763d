"""The view of a class: what stands on the floor at every instant, for every kind of part. Layout and wording are the lead's;
what must hold whatever they are is tested here."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from typing import get_args

import pytest

from floorclock.clock.events import NotFinished, Paused, Tapped
from floorclock.clock.fold import apply
from floorclock.clock.state import ClassState, new_state
from floorclock.plan.roster import give_keys
from floorclock.plan.session import OpenPart, Score
from floorclock.simulate.coach import DemoAutopilot, InventedAthletes, InventedCoach
from floorclock.tui.floor.present import FloorContext, Presenter
from floorclock.tui.floor.view import FloorView, RowView, Shows
from tests.clock.classes import BRAM, ILKA, NOOR, Run, begun, harbour
from tests.plan import shipped
from tests.plan.shipped import ROSTER_NAMES, SESSION_NAMES

CLOCK = re.compile(r"-?( ?\d+|(\d+:)?\d{1,2}:\d\d)")
STEP_MS = 2_000


def played(session: str, roster: str) -> Iterator[tuple[ClassState, FloorView]]:
    """A shipped class at full speed, looked at every two seconds of it."""
    plan = shipped.plan(session, roster)
    run = Run(new_state(plan.session, plan.roster.athletes))
    autopilot = DemoAutopilot(InventedAthletes(plan.roster, 7), InventedCoach())
    presenter = Presenter(run.state)
    run.conductor.on_folded.append(presenter.outlooks.concerns)
    while not run.state.over:
        autopilot.run(run.conductor)
        run.conductor.tick()
        presenter.outlooks.follow(run.state.now_ms)
        yield run.state, presenter.view(run.state.now_ms, len(run.journal.events), FloorContext(wall="18:00"))
        run.clock.move_ms(STEP_MS)


@pytest.mark.parametrize(
    ("session", "roster"), [*((session, ROSTER_NAMES[0]) for session in SESSION_NAMES), ("harbour.yaml", ROSTER_NAMES[1])]
)
def test_every_instant_of_every_shipped_class_can_be_shown_to_the_coach_and_to_the_class(session: str, roster: str) -> None:
    moods, in_lanes, early = set(), 0, []
    for state, view in played(session, roster):
        check_coach(state, view)
        check_shared(state, view)
        moods.add(view.clock.mood)
        in_lanes += everybody_in_one_lane(state, view)
        early += [call for call in view.coach.calls if " runs out in round " in call.words and "Drop to" in call.words]
    assert {"work", "open"} <= moods
    if session in ("harbour.yaml", "tide-ladder.yaml"):
        assert in_lanes > 10
    if (session, roster) == ("harbour.yaml", ROSTER_NAMES[0]):
        assert any(call.hint.startswith("give ") for call in early), "nobody is called before the rest is gone"


def check_coach(state: ClassState, view: FloorView) -> None:
    """What stands on the coach's floor at any instant."""
    assert CLOCK.fullmatch(view.clock.text) or not state.runs, view.clock.text
    assert 0 <= view.bar.done <= 1
    assert view.bar.margin is None or 0 < view.bar.margin <= 1
    shown = [row.athlete for row in view.rows]
    assert shown == [athlete.name for athlete in state.present if athlete.name in shown]
    assert sum(row.people for row in view.rows) == len(state.present)
    assert len({row.key for row in view.rows}) == len(view.rows)
    assert len(view.coach.calls) <= 3
    assert view.clock.mood_word
    assert ("?", "all keys") in view.keys
    if view.clock.mood in ("work", "rest", "count"):
        resting = state.runs[-1].part.kind == "rest"
        assert bool(view.lanes.lanes) is not resting
        assert (view.brief is not None) is resting
        assert f"part {state.runs[-1].index + 1} of {len(state.session.parts)}" in view.head.part


def check_shared(state: ClassState, view: FloorView) -> None:
    """The class sees names and who is done, and neither numbers nor flags nor keys."""
    outside = FloorContext(wall="18:00", notice="Ilka 31.4, 28 left", offer="Ilka: swing 12", cue="")
    shared = Presenter(state, shows="class").view(state.now_ms, 0, outside)
    assert shared.rows == tuple(RowView(row.athlete, row.key, row.name, row.status, people=row.people) for row in view.rows)
    assert (shared.clock.text, shared.bar, shared.lanes.next) == (view.clock.text, view.bar, view.lanes.next)
    if shared.lanes.lanes:
        named = [person for lane in shared.lanes.lanes for person in lane.people]
        done = {person.name for person in (*named, *shared.lanes.names) if person.done}
        assert done == {row.name for row in view.rows if row.status == "done"} or state.runs[-1].teams
        assert shared.lanes.names or {person.name for person in named} <= set(state.athletes)
    assert (shared.coach.calls, shared.coach.notice) == ((), "")
    assert "Enter" not in shared.clock.label
    said = " ".join(words for _, words in shared.brief.lines) if shared.brief is not None else ""
    assert not re.search(r"\bF\d|\bEnter\b", said)
    if state.over:
        assert not any(athlete.name in said for athlete in state.present)


def everybody_in_one_lane(state: ClassState, view: FloorView) -> bool:
    """Everybody is in exactly one lane of a rotation; whether one of several lanes was there to look at."""
    run = state.run
    if run is None or run.part.kind != "rotation" or run.position_ms(state.now_ms) < 0 or len(view.lanes.lanes) < 2:
        return False
    shown = sorted(person.name for lane in view.lanes.lanes for person in lane.people)
    assert shown == sorted(athlete.name for athlete in state.present)
    return True


def test_time_left_never_grows_while_people_work_and_ends_at_the_boundary() -> None:
    state = begun(harbour(), athletes=(ILKA, BRAM, NOOR), count_in_ms=0)
    presenter = Presenter(state)
    seconds = []
    for at_ms in range(0, 60_000, 100):
        state.advance(at_ms)
        text = presenter.view(at_ms, 0, FloorContext()).clock.text
        minutes, _, rest = text.rpartition(":")
        seconds.append(int(minutes or 0) * 60 + float(rest))
    assert seconds == sorted(seconds, reverse=True)
    assert seconds[0] == 60
    assert seconds[-1] == 1


def test_a_view_follows_every_event_at_once() -> None:
    state = begun(harbour(), athletes=(ILKA, BRAM, NOOR), count_in_ms=0)
    presenter = Presenter(state)
    state.advance(30_000)
    before = presenter.view(30_000, 1, FloorContext())
    apply(state, Tapped(at_ms=30_000, athlete="Ilka"))
    after = presenter.view(30_000, 2, FloorContext())
    assert [row.status for row in before.rows] == ["work", "work", "rest"]
    assert [row.status for row in after.rows] == ["done", "work", "rest"]
    done = [person.name for lane in after.lanes.lanes for person in lane.people if person.done]
    assert done == ["Ilka"]


def test_a_title_is_on_the_plate_or_in_the_head_never_in_both() -> None:
    state = begun(OpenPart(title="Warm-up", time_ms=60_000))
    for paused in (False, True):
        if paused:
            apply(state, Paused(at_ms=5_000))
        view = Presenter(state).view(5_000, int(paused), FloorContext(wall="18:42"))
        assert ("Warm-up" in view.head.part, "WARM-UP" in view.clock.mood_word) == (paused, not paused)


def test_a_look_changes_nothing() -> None:
    state = begun(harbour(), athletes=(ILKA, BRAM), count_in_ms=0)
    presenter = Presenter(state)
    state.advance(30_000)
    views = [presenter.view(30_000, 1, FloorContext()) for _ in range(3)]
    assert views[0] == views[1] == views[2]
    assert presenter.view(30_000, 1, FloorContext(selected="Bram")).rows[1].selected
    assert state.runs[-1].marks == {}


def test_flags_are_in_words_on_the_row_and_the_most_urgent_call_comes_first() -> None:
    people = give_keys([ILKA, BRAM, NOOR])
    state = begun(harbour(rounds=5), athletes=people, count_in_ms=0)
    presenter = Presenter(state)
    apply(state, Tapped(at_ms=50_000, athlete="Ilka"))
    apply(state, NotFinished(at_ms=55_000, athlete="Bram", part=0, interval=0))
    presenter.outlooks.follow(55_000, slice_s=1.0)
    view = presenter.view(55_000, 2, FloorContext())
    assert [row.flag for row in view.rows] == ["tight", "not finished", ""]
    assert view.coach.calls[0].words.startswith("Bram not finished")
    assert view.coach.calls[1].words.startswith("Ilka tight")
    assert view.rows[0].past[-1].under
    assert view.rows[1].past[-1].not_finished


@pytest.mark.parametrize("score", [None, Score("reps")])
def test_who_did_not_finish_has_no_tick_anywhere(score: Score | None) -> None:
    state = begun(replace(harbour(rounds=5), score=score), athletes=give_keys([ILKA, BRAM]), count_in_ms=0)
    presenter = Presenter(state)
    presenter.view(1_000, 0, FloorContext())
    apply(state, Tapped(at_ms=30_000, athlete="Ilka"))
    apply(state, NotFinished(at_ms=55_000, athlete="Bram", part=0, interval=0))
    for shows in get_args(Shows):
        view = Presenter(state, shows=shows).view(55_000, 2, FloorContext())
        assert [row.status for row in view.rows] == ["done", "missed"]
        done = {person.name: person.done for lane in view.lanes.lanes for person in lane.people}
        assert done == {"Ilka": True, "Bram": False}
    assert presenter.view(55_000, 2, FloorContext()).rows[1].detail == "not finished"


def test_when_it_is_over_the_floor_says_who_held_and_whom_to_talk_to() -> None:
    state = begun(harbour(rounds=1), athletes=(ILKA, BRAM, NOOR), count_in_ms=0)
    apply(state, Tapped(at_ms=50_000, athlete="Ilka"))
    apply(state, Tapped(at_ms=30_000, athlete="Bram"))
    state.advance(200_000)
    brief = Presenter(state).view(200_000, 2, FloorContext()).brief
    assert brief is not None
    assert brief.lines[:3] == (
        ("heading", "The harbour"),
        ("text", "1 of the 2 who were tapped held margin and pace"),
        ("text", "tight: Ilka"),
    )
    assert brief.lines[-1][0] == "hint"
