"""The keys about pace on a running floor: what they give, what they ask first, what takes it back, and what is said."""

from __future__ import annotations

from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from dataclasses import replace
from fractions import Fraction

import pytest

from floorclock.clock.events import Allowed, OptionChosen, TargetChanged
from floorclock.clock.state import new_state
from floorclock.live.conductor import Conductor
from floorclock.pace.advice import Advice, Way
from floorclock.pace.flags import Flag
from floorclock.pace.pacing import Outlook
from floorclock.pace.prior import MovePace, Prior
from floorclock.plan.roster import Athlete
from floorclock.plan.session import AnyPart, OpenPart, Rotation, Session
from floorclock.plan.work import Option, Station, Target, Unit
from floorclock.tui.floor.advice import giving
from floorclock.tui.floor.desk import FloorSettings
from tests.clock.classes import LIGHTER, STEP, SWING, harbour, reps
from tests.tui.floor.fake_pacing import FakePacing, advice, needs
from tests.tui.floor.running_floor import Floor, floor_of

Says = Callable[[str, int], Outlook]
JUMP = Option(name="high", move="box jump", target=reps(6), guarded=True)
OPTIONS = replace(harbour(), work=(replace(SWING, options=(LIGHTER, JUMP), caution="Step down."), STEP))


@pytest.fixture
def told(monkeypatch: pytest.MonkeyPatch) -> FakePacing:
    """Says what a test wants of everybody; what it says is changed by changing `says`."""
    pacing = FakePacing()
    monkeypatch.setattr("floorclock.tui.floor.outlooks._new_pacing", pacing.of)
    return pacing


@asynccontextmanager
async def second_interval(*parts: AnyPart) -> AsyncIterator[Floor]:
    """A floor so far into its second interval that the first has been fitted."""
    async with floor_of(*parts).at_work(62_000) as floor:
        await fitted(floor)
        yield floor


async def fitted(floor: Floor) -> None:
    """Two seconds into an interval: what is said of the one before it stands."""
    await floor.until(lambda: bool(floor.screen.presenter.outlooks.settled) and floor.screen.presenter.outlooks.fits > 1)
    await floor.wait(0)
    await floor.wait(3_000)


def only(**outlooks: Outlook) -> Says:
    """These are said of, nothing of all others."""
    return lambda name, settled: outlooks.get(name, Outlook())


def own_targets(floor: Floor, name: str) -> dict[str, Fraction]:
    return {move: target.amount for move, target in floor.state.athletes[name].targets.items()}


async def test_f2_gives_the_first_advice_that_is_shown_and_says_what_was_given(told: FakePacing) -> None:
    told.says = only(Bram=needs("Bram", Flag.NOT_FINISHED, advice("Bram", 10)), Ilka=needs("Ilka"))
    async with second_interval() as floor:
        assert floor.view.coach.calls[0].hint == "give 10"
        assert ("F2", "give") in floor.view.keys
        await floor.press("f2")
        assert floor.notice == "Bram: kettlebell swing 10 reps, was 14; Shift+F2 undoes it"
        assert own_targets(floor, "Bram") == {"kettlebell swing": 10}
        await floor.wait(60_000)
        assert floor.own_work("Bram") == ["10"]
    assert [(event.athlete, event.move, event.target) for event in floor.sent(TargetChanged)] == [
        ("Bram", "kettlebell swing", reps(10))
    ]


async def test_shift_f2_takes_back_what_f2_gave_and_then_has_nothing_left(told: FakePacing) -> None:
    told.says = only(Ilka=needs("Ilka"))
    async with second_interval() as floor:
        await floor.press("f2", "shift+f2")
        assert floor.notice == "Ilka: kettlebell swing 14 reps again, as before"
        assert own_targets(floor, "Ilka") == {"kettlebell swing": 14}
        await floor.press("shift+f2")
        assert floor.notice == "nothing given that could be undone"


async def test_what_the_coach_changed_since_is_not_taken_back(told: FakePacing) -> None:
    told.says = only(Ilka=needs("Ilka"))
    async with second_interval() as floor:
        await floor.press("f2")
        floor.run.send(TargetChanged, athlete="Ilka", move="kettlebell swing", target=reps(12))
        await floor.press("shift+f2")
        assert "F3 changes it" in floor.notice
        assert own_targets(floor, "Ilka") == {"kettlebell swing": 12}


async def test_backspace_after_f2_still_takes_back_a_tap(told: FakePacing) -> None:
    told.says = only(Ilka=needs("Ilka"))
    async with second_interval() as floor:
        await floor.press("n", "f2", "backspace")
        assert "undone" in floor.notice
        assert own_targets(floor, "Ilka") == {"kettlebell swing": 8}


async def test_an_advice_that_has_just_come_to_be_first_wants_a_second_press(told: FakePacing) -> None:
    told.says = only(Ilka=needs("Ilka"), Bram=needs("Bram", Flag.TIGHT, advice("Bram", 9)))
    async with second_interval() as floor:
        told.says = only(Bram=needs("Bram", Flag.TIGHT, advice("Bram", 9)))
        await floor.press("f2")
        floor.screen.presenter.outlooks.follow(floor.state.now_ms, slice_s=1.0)
        await floor.wait(100)
        await floor.press("f2")
        assert floor.notice == "first is now Bram: F2 again gives 9 at kettlebell swing"
        assert own_targets(floor, "Bram") == {}
        await floor.press("f2")
        assert own_targets(floor, "Bram") == {"kettlebell swing": 9}


async def test_f2_gives_the_chosen_athletes_advice_at_once(told: FakePacing) -> None:
    told.says = only(Ilka=needs("Ilka"), Noor=needs("Noor", Flag.FADING, advice("Noor", 11)))
    async with second_interval() as floor:
        await floor.press("tab", "tab", "tab")
        await floor.wait(0)
        assert [call.hint for call in floor.view.coach.calls] == ["", "give Noor 11"]
        await floor.press("f2")
        assert own_targets(floor, "Noor") == {"kettlebell swing": 11}
        await floor.press("shift+tab", "f2")
        assert "nothing to give to Bram" in floor.notice


async def test_f2_with_nothing_to_give_says_so(told: FakePacing) -> None:
    async with floor_of().open() as floor:
        await floor.press("f2")
        assert floor.notice == "nothing to give now"
        await floor.press("enter")
        await floor.wait(72_000)
        await fitted(floor)
        assert ("F2", "give") not in floor.view.keys
        await floor.press("f2")
        assert floor.notice == "nothing to give now"


async def test_f2_gives_an_option_with_its_target(told: FakePacing) -> None:
    one = replace(advice("Ilka", 10), way=Way.OPTION, option="lighter", words="switch to lighter with 10 reps?")
    told.says = only(Ilka=needs("Ilka", Flag.TIGHT, one))
    async with second_interval(OPTIONS) as floor:
        assert floor.view.coach.calls[0].hint == "give lighter"
        await floor.press("f2")
        assert floor.notice == "Ilka: kettlebell deadlift 10 reps, was kettlebell swing 14 reps; Shift+F2 undoes it"
        assert floor.state.athletes["Ilka"].options == {"kettlebell swing": "lighter"}
        await floor.press("shift+f2")
        assert floor.state.athletes["Ilka"].options == {"kettlebell swing": ""}
        work = floor.state.assignment("Ilka", floor.state.runs[-1], 0)
    assert work is not None
    assert (work.move, work.target) == ("kettlebell swing", SWING.target)


async def test_a_guarded_option_for_somebody_without_experience_asks_first(told: FakePacing) -> None:
    one = replace(advice("Ilka"), way=Way.OPTION, option="high", target=None)
    told.says = only(Ilka=needs("Ilka", Flag.TIGHT, one))
    async with second_interval(OPTIONS) as floor:
        await floor.press("f2")
        assert "Ilka: may they do box jump?" in floor.dialog_text
        assert "Step down." in floor.dialog_text
        await floor.press("escape")
        assert floor.sent(OptionChosen) == []
        await floor.press("f2", "enter")
    assert [event.move for event in floor.sent(Allowed)] == ["box jump"]
    assert [event.option for event in floor.sent(OptionChosen)] == ["high"]


async def test_f7_makes_the_first_call_quiet_and_again_calls_them(told: FakePacing) -> None:
    told.says = only(Ilka=needs("Ilka"), Bram=needs("Bram"))
    async with second_interval() as floor:
        await floor.press("f7")
        assert floor.notice == "Ilka muted; F7 again unmutes"
        assert [call.words[:4] for call in floor.view.coach.calls] == ["Bram"]
        row = floor.row("Ilka")
        assert (row.flag, row.quiet) == ("tight", True)
        assert "muted !" in floor.text
        await floor.press("f7")
        assert floor.notice == "Ilka unmuted"
        assert floor.state.quiet == set()


async def test_f7_makes_the_chosen_athlete_quiet_also_without_a_flag(told: FakePacing) -> None:
    async with floor_of().open() as floor:
        await floor.press("f7")
        assert "nobody to mute" in floor.notice
        await floor.press("tab", "f7")
        assert floor.state.quiet == {"Ilka"}
        await floor.press("f7")
        assert floor.state.quiet == set()


async def test_attention_sounds_once_for_a_flag_and_never_for_who_is_quiet(
    told: FakePacing, monkeypatch: pytest.MonkeyPatch
) -> None:
    heard: list[int] = []
    monkeypatch.setattr(Conductor, "call_attention", lambda self: heard.append(self.state.now_ms))
    async with second_interval() as floor:
        assert heard == []
        told.says = only(Ilka=needs("Ilka"))
        await floor.press("i")
        await floor.until(lambda: len(heard) == 1)
        await floor.wait(0)
        await floor.wait(1_000)
        await floor.press("f7", "f7", "backspace")
        await floor.wait(500)
        await floor.until(lambda: floor.screen.presenter.outlooks.settled)
        assert len(heard) == 1
        await floor.press("shift+tab", "f7")
        assert floor.state.quiet == {"Noor"}
        told.says = only(Ilka=needs("Ilka"), Noor=needs("Noor"))
        await floor.press("n")
        await floor.flagged("Noor", "tight")
        assert len(heard) == 1


async def test_a_tap_shows_at_once_and_what_it_says_of_the_pace_in_a_later_tick(told: FakePacing) -> None:
    told.says = lambda name, settled: needs(name) if "Noor" in told.looked[-1:] and len(told.looked) > 3 else Outlook()
    async with second_interval() as floor:
        await floor.press("n")
        assert floor.row("Noor").status == "done"
        await floor.flagged("Noor", "tight")


def history() -> Prior:
    """Ilka was much slower at the swing in her last classes, Bram as ever."""
    slow = MovePace(level=1.35, level_sd=0.03, drift=0.0, drift_sd=0.005, amount=Fraction(14), classes=4)
    usual = replace(slow, level=0.945)
    return {("Ilka", "kettlebell swing", Unit.REPS): slow, ("Bram", "kettlebell swing", Unit.REPS): usual}


async def test_before_the_part_targets_from_earlier_classes_are_offered_and_given() -> None:
    async with floor_of(OpenPart(title="Warm-up"), harbour(), settings=FloorSettings(prior=history)).open() as floor:
        await floor.until(lambda: bool(floor.screen.desk.offers.standing))
        assert [advice.athlete for advice in floor.screen.desk.offers.standing] == ["Ilka"]
        await floor.press("enter")
        assert floor.view.coach.calls[-1].words == "1 from earlier classes"
        assert ("F2", "give") in floor.view.keys
        await floor.press("f2")
        assert "Ilka" in floor.dialog_text
        assert "14 reps →" in floor.dialog_text
        await floor.press("enter")
        assert "1 target given" in floor.notice
        given = own_targets(floor, "Ilka")["kettlebell swing"]
        assert 0 < given < 14
        assert floor.view.coach.calls == ()
        await floor.press("f2")
        assert floor.notice == "nothing to give now"


async def test_targets_that_are_unticked_are_not_given_and_not_offered_again() -> None:
    async with floor_of(settings=FloorSettings(prior=history)).open() as floor:
        await floor.until(lambda: bool(floor.screen.desk.offers.standing))
        await floor.press("f2", "escape")
        assert floor.screen.desk.offers.standing
        await floor.press("f2", "space", "enter")
        assert floor.sent(TargetChanged) == []
        assert floor.screen.desk.offers.standing == ()


async def test_the_sheet_takes_the_advice_shows_what_is_to_come_and_changes_any_move(told: FakePacing) -> None:
    told.says = only(Ilka=needs("Ilka"))
    async with second_interval() as floor:
        await floor.press("f3", "i")
        assert "advice for kettlebell swing: drop to 8 reps?" in floor.dialog_text
        await floor.press("enter")
        assert own_targets(floor, "Ilka") == {"kettlebell swing": 8}
        await floor.press("f3", "i", "home", "down", "enter")
        assert "now  step-up 10 reps" in floor.dialog_text
        assert "next kettlebell swing 8 reps" in floor.dialog_text
        await floor.press("down", "enter")
        await floor.type("7")
        await floor.press("enter")
        assert own_targets(floor, "Ilka") == {"kettlebell swing": 8, "step-up": 7}
        await floor.press("f3", "i", "f7")
        assert floor.state.quiet == {"Ilka"}


def test_of_several_moves_the_advice_changes_the_one_that_it_names_and_can_be_taken_back() -> None:
    squat, fewer = (Target(Fraction(amount), Unit.REPS) for amount in (12, 8))
    both = Station("both", Target(Fraction(1), Unit.WHOLE), items=(Station("squat", squat), Station("swing", squat)))
    plan = Session(title="x", parts=(Rotation(title="x", every_ms=60_000, rounds=2, work=(both,)),))
    state = new_state(plan, (Athlete(name="Ilka", key="i"),))
    whole = Target(Fraction(4, 5), Unit.WHOLE)
    told = Advice(
        athlete="Ilka",
        part=0,
        station=0,
        move="both",
        way=Way.LESS,
        target=whole,
        item="squat",
        item_target=fewer,
        words="drop to 8 reps of squat?",
        because="",
        chance=0.9,
    )
    given = giving(state, told)
    assert given.changes == (TargetChanged(at_ms=0, athlete="Ilka", move="squat", target=fewer),)
    assert given.back == (TargetChanged(at_ms=0, athlete="Ilka", move="squat", target=squat),)
    assert given.after.items[0].target == fewer
