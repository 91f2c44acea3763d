"""What the pacing says beside the running class: when it is fitted, who is looked at again, what is shown meanwhile."""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Sequence

import pytest

from floorclock.clock.events import (
    Event,
    Left,
    NotFinished,
    PartBegun,
    PartEnded,
    Paused,
    Resumed,
    SplitCorrected,
    Tapped,
    TargetChanged,
    WentBack,
)
from floorclock.clock.fold import apply, fold
from floorclock.clock.splits import Coming, Split
from floorclock.clock.state import ClassState, new_state
from floorclock.clock.tally import coming, whole_part
from floorclock.pace.flags import Flag
from floorclock.pace.pacing import Outlook
from floorclock.plan.roster import Athlete
from floorclock.plan.session import OpenPart
from floorclock.simulate.coach import DemoAutopilot, InventedAthletes, InventedCoach
from floorclock.tui.floor.outlooks import NOTHING_KNOWN, PACING, Look, Outlooks, bring_pacing
from tests.clock.classes import BRAM, ILKA, NOOR, SWING, Run, begun, harbour, reps
from tests.plan import shipped
from tests.tui.floor.fake_pacing import FakePacing, needs

MINUTE = 60_000


def watched(pacing: FakePacing | None = None, rounds: int = 4) -> tuple[FakePacing, ClassState, Outlooks]:
    """Three people who begin at once, and what is said of them."""
    pacing = pacing or FakePacing()
    state = begun(harbour(rounds=rounds), athletes=(ILKA, BRAM, NOOR), count_in_ms=0)
    return pacing, state, Outlooks(state, pacing_of=pacing.of)


def settle(state: ClassState, outlooks: Outlooks, at_ms: int) -> None:
    """Time comes, and everything that is due by then is done."""
    state.advance(at_ms)
    for _ in range(200):
        outlooks.follow(at_ms, slice_s=0.0)
        if outlooks.settled:
            return
    raise AssertionError("it never came to its end")


def tell(state: ClassState, outlooks: Outlooks, event: Event) -> None:
    """An event is folded, and told."""
    outlooks.concerns(event, apply(state, event))


def test_in_the_first_interval_flags_are_those_of_the_taps_and_no_pacing_is_made() -> None:
    pacing, state, outlooks = watched()
    settle(state, outlooks, 1_000)
    tell(state, outlooks, Tapped(at_ms=50_000, athlete="Ilka"))
    settle(state, outlooks, 50_000)
    assert outlooks.of("Ilka").standing.flag is Flag.TIGHT
    assert outlooks.of("Bram").standing.flag is None
    assert pacing.made == 0


def test_the_class_is_fitted_a_moment_after_an_interval_and_not_at_the_go() -> None:
    pacing, state, outlooks = watched()
    tell(state, outlooks, Tapped(at_ms=30_000, athlete="Ilka"))
    settle(state, outlooks, MINUTE + 1_400)
    assert pacing.settled == []
    settle(state, outlooks, MINUTE + 1_500)
    assert pacing.settled == [(0, 2)], "one tap, one untapped, one who rests"
    assert sorted(pacing.looked) == ["Bram", "Ilka", "Noor"]


def test_in_a_pause_and_at_the_end_nobody_waits_for_late_taps() -> None:
    pacing, state, outlooks = watched(rounds=1)
    apply(state, Paused(at_ms=MINUTE + 100))
    settle(state, outlooks, MINUTE + 100)
    assert [interval for interval, _ in pacing.settled] == [0]
    apply(state, Resumed(at_ms=MINUTE + 100))
    settle(state, outlooks, 3 * MINUTE)
    assert [interval for interval, _ in pacing.settled] == [0, 1, 2]


def test_what_a_fit_says_is_shown_of_all_at_once() -> None:
    pacing, state, outlooks = watched(FakePacing(lambda name, settled: needs(name)))
    settle(state, outlooks, 30_000)
    state.advance(MINUTE + 2_000)
    shown = set()
    while not (outlooks.settled and pacing.settled):
        outlooks.follow(state.now_ms, slice_s=0.0)
        shown.add(sum(outlooks.of(name).standing.flag is not None for name in state.athletes))
    assert shown == {0, 3}


def test_a_tap_of_the_last_one_to_be_looked_at_loses_nothing_of_what_a_fit_says() -> None:
    pacing, state, outlooks = watched(FakePacing(lambda name, settled: needs(name)))
    state.advance(MINUTE + 9_000)
    while sorted(pacing.looked) != ["Bram", "Noor"]:
        outlooks.follow(state.now_ms, slice_s=0.0)
    tell(state, outlooks, Tapped(at_ms=state.now_ms, athlete="Ilka"))
    settle(state, outlooks, state.now_ms)
    assert {outlooks.of(name).standing.flag for name in state.athletes} == {Flag.TIGHT}


def test_a_tap_has_only_that_athlete_looked_at_again_and_not_before_the_floor_has_time() -> None:
    pacing, state, outlooks = watched()
    settle(state, outlooks, MINUTE + 2_000)
    pacing.looked.clear()
    tell(state, outlooks, Tapped(at_ms=MINUTE + 30_000, athlete="Ilka"))
    assert pacing.looked == []
    settle(state, outlooks, MINUTE + 30_000)
    assert pacing.looked == ["Ilka"]
    assert [interval for interval, _ in pacing.settled] == [0]


def test_of_forty_who_tapped_at_once_each_slice_looks_at_a_few() -> None:
    pacing, state, outlooks = watched()
    settle(state, outlooks, MINUTE + 2_000)
    for name in ("Ilka", "Noor"):
        tell(state, outlooks, Tapped(at_ms=MINUTE + 30_000, athlete=name))
    pacing.looked.clear()
    state.advance(MINUTE + 30_000)
    outlooks.follow(state.now_ms, slice_s=0.0)
    assert len(pacing.looked) == 1


@pytest.mark.parametrize(
    "event",
    [
        SplitCorrected(at_ms=3 * MINUTE + 9_000, athlete="Ilka", part=0, interval=1, split_ms=41_000),
        SplitCorrected(at_ms=3 * MINUTE + 9_000, athlete="Ilka", part=0, interval=1, split_ms=None),
        NotFinished(at_ms=3 * MINUTE + 9_000, athlete="Ilka", part=0, interval=1),
    ],
)
def test_what_is_corrected_is_fitted_again_from_there_on(event: Event) -> None:
    pacing, state, outlooks = watched()
    for minute in range(3):
        tell(state, outlooks, Tapped(at_ms=minute * MINUTE + 30_000, athlete="Ilka"))
    settle(state, outlooks, 3 * MINUTE + 2_000)
    assert [interval for interval, _ in pacing.settled] == [0, 1, 2]
    pacing.settled.clear()
    tell(state, outlooks, event)
    settle(state, outlooks, 3 * MINUTE + 9_000)
    assert [interval for interval, _ in pacing.settled] == [1, 2]


def test_a_late_tap_that_is_credited_to_the_interval_before_is_in_its_fit() -> None:
    pacing, state, outlooks = watched()
    settle(state, outlooks, MINUTE + 1_600)
    tell(state, outlooks, Tapped(at_ms=MINUTE + 1_700, athlete="Ilka"))
    assert state.runs[-1].marks["Ilka", 0].credited
    settle(state, outlooks, MINUTE + 1_800)
    assert [interval for interval, _ in pacing.settled] == [0, 0]


def test_an_interval_that_is_begun_again_leaves_the_fit_of_those_before_it() -> None:
    pacing, state, outlooks = watched()
    settle(state, outlooks, MINUTE + 2_000)
    tell(state, outlooks, Tapped(at_ms=MINUTE + 30_000, athlete="Ilka"))
    settle(state, outlooks, MINUTE + 30_000)
    pacing.looked.clear()
    tell(state, outlooks, WentBack(at_ms=MINUTE + 40_000))
    settle(state, outlooks, MINUTE + 40_100)
    assert [interval for interval, _ in pacing.settled] == [0]
    assert sorted(pacing.looked) == ["Bram", "Ilka", "Noor"]


def test_a_part_that_the_coach_ends_is_fitted_as_far_as_it_came() -> None:
    pacing, state, outlooks = watched()
    settle(state, outlooks, MINUTE + 2_000)
    tell(state, outlooks, Tapped(at_ms=MINUTE + 30_000, athlete="Ilka"))
    tell(state, outlooks, PartEnded(at_ms=MINUTE + 40_000))
    settle(state, outlooks, MINUTE + 42_000)
    assert [interval for interval, _ in pacing.settled] == [0, 1]


def test_in_the_rest_after_a_part_its_outlooks_stay_and_the_next_part_begins_without() -> None:
    pacing = FakePacing(lambda name, settled: needs(name))
    parts = (harbour(rounds=1), OpenPart(title="Rest"), harbour(rounds=1))
    state = begun(*parts, athletes=(ILKA, BRAM, NOOR), count_in_ms=0)
    outlooks = Outlooks(state, pacing_of=pacing.of)
    settle(state, outlooks, 3 * MINUTE + 5_000)
    assert state.runs[-1].part.kind == "open"
    assert outlooks.of("Ilka").standing.flag is Flag.TIGHT
    apply(state, PartBegun(at_ms=3 * MINUTE + 6_000, part=2))
    settle(state, outlooks, 3 * MINUTE + 6_000)
    assert outlooks.of("Ilka").standing.flag is None


def test_until_the_pacing_is_there_what_was_said_stays_and_nothing_is_waited_for() -> None:
    pacing, here = FakePacing(lambda name, settled: needs(name)), [False]
    state = begun(harbour(), athletes=(ILKA, BRAM, NOOR), count_in_ms=0)
    outlooks = Outlooks(state, bring=lambda: here[0], pacing_of=pacing.of)
    state.advance(MINUTE + 2_000)
    for _ in range(5):
        outlooks.follow(state.now_ms)
    assert (pacing.made, outlooks.of("Ilka")) == (0, NOTHING_KNOWN)
    here[0] = True
    settle(state, outlooks, MINUTE + 2_100)
    assert outlooks.of("Ilka").standing.flag is Flag.TIGHT


def test_where_the_pacing_cannot_be_had_the_flags_of_taps_go_on() -> None:
    pacing, state, outlooks = watched()
    outlooks.without_pacing = True
    settle(state, outlooks, MINUTE + 30_000)
    tell(state, outlooks, Tapped(at_ms=MINUTE + 52_000, athlete="Ilka"))
    settle(state, outlooks, MINUTE + 52_000)
    assert outlooks.of("Ilka").standing.flag is Flag.TIGHT
    assert pacing.made == 0


def test_a_pacing_that_cannot_be_imported_is_said_in_words(monkeypatch: pytest.MonkeyPatch) -> None:
    assert bring_pacing() == ""
    monkeypatch.setitem(sys.modules, PACING, None)
    assert "floorclock.pace.pacing" in bring_pacing()


@pytest.mark.parametrize("minute", [0, 1, 4, 7, 8])
def test_what_is_ahead_is_what_the_tally_says(minute: int) -> None:
    seen: dict[str, tuple[Coming, ...]] = {}

    class Watching(FakePacing):
        def look(self, splits: Sequence[Split], whole: Sequence[Coming], coming: Sequence[Coming], athlete: Athlete) -> Outlook:
            seen[athlete.name] = tuple(coming)
            assert tuple(whole) == tuple(whole_part(state, state.runs[-1], athlete.name))
            return Outlook()

    _, state, outlooks = watched(Watching(), rounds=3)
    settle(state, outlooks, minute * MINUTE + 61_600)
    tell(state, outlooks, TargetChanged(at_ms=state.now_ms, athlete="Ilka", move=SWING.move, target=reps(9)))
    for name in state.athletes:
        tell(state, outlooks, Tapped(at_ms=state.now_ms + 20_000, athlete=name))
    settle(state, outlooks, state.now_ms)
    ahead = {name: tuple(coming(state, state.runs[-1], name)) for name in seen}
    assert seen == ahead
    assert len(seen) == 3


def test_who_went_home_is_looked_at_no_more() -> None:
    pacing, state, outlooks = watched()
    settle(state, outlooks, MINUTE + 2_000)
    pacing.looked.clear()
    tell(state, outlooks, Left(at_ms=MINUTE + 3_000, athlete="Ilka"))
    settle(state, outlooks, 2 * MINUTE + 2_000)
    assert sorted(pacing.looked) == ["Bram", "Noor"]


def live(session: str, until_ms: int) -> tuple[ClassState, list[Event], Outlooks]:
    """A shipped class with invented athletes, followed as it runs."""
    plan = shipped.plan(session)
    run = Run(new_state(plan.session, plan.roster.athletes))
    autopilot = DemoAutopilot(InventedAthletes(plan.roster, 7), InventedCoach(longest_open_ms=5_000))
    outlooks = Outlooks(run.state)
    run.conductor.on_folded.append(outlooks.concerns)
    while run.conductor.class_ms() < until_ms and not run.state.over:
        autopilot.run(run.conductor)
        run.conductor.tick()
        outlooks.follow(run.state.now_ms)
        run.clock.move_ms(500)
    while not outlooks.settled:
        outlooks.follow(run.state.now_ms)
    return run.state, run.journal.events, outlooks


def said(look: Look) -> tuple[object, ...]:
    return look.standing, look.advice, [(one.slot, one.split_ms, one.low_ms, one.high_ms) for one in look.forecasts]


def test_a_class_that_was_interrupted_says_the_same_of_everybody_as_before() -> None:
    state, events, outlooks = live("harbour.yaml", 18 * MINUTE)
    plan = shipped.plan("harbour.yaml")
    again = fold(new_state(plan.session, plan.roster.athletes), events)
    resumed = Outlooks(again)
    settle(again, resumed, state.now_ms)
    flags = Counter(outlooks.of(name).standing.flag for name in state.athletes)
    assert flags[Flag.RUNS_OUT] or flags[Flag.TIGHT]
    assert {name: said(resumed.of(name)) for name in again.athletes} == {name: said(outlooks.of(name)) for name in state.athletes}
