from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from floorclock.clock.events import (
    Allowed,
    ChoiceTaken,
    Event,
    Left,
    MarginChanged,
    NotFinished,
    OptionChosen,
    Regrouped,
    ResultEntered,
    SplitCorrected,
    TapTakenBack,
    TargetChanged,
)
from floorclock.plan.roster import Assignment
from floorclock.plan.session import Choice
from floorclock.plan.typed_result import TypedResult
from floorclock.plan.work import Option, Station, Target, Unit
from floorclock.tui.floor.commands import command_for
from floorclock.tui.floor.dialogs.athlete_facts import AthleteFacts, MoveLine, SplitLine
from floorclock.tui.floor.dialogs.athlete_sheet import ENTRIES, AthleteSheet
from tests.odd_names import ODD_NAMES
from tests.tui.floor.dialogs.floor_behind import (
    UNANSWERED,
    answer_to,
    chosen_after,
    look_at,
    opened,
    typed,
    words_of,
)

SEFA = "Sefa Lind"

TEN = Target(Fraction(10), Unit.REPS)
STEP_UP = Station(
    "step-up", TEN, options=(Option("lower", "step-up", TEN), Option("march", "march", Target(Fraction(20), Unit.REPS)))
)
FACTS = AthleteFacts(
    name="Sefa Lind",
    recorded="Sefa Lind",
    key="s",
    group=2,
    groups={1: "Ilka Bram", 2: "Sefa Odd", 3: "Runa"},
    part=4,
    measured_part=4,
    moves=(MoveLine(4, STEP_UP, Assignment("step-up", TEN), round=2, when="now"),),
    station=4,
    splits=(
        SplitLine(4, 0, 1, "step-up", "41.2", "done", 60_000),
        SplitLine(4, 1, 1, "swing", "", "untapped", 60_000),
        SplitLine(4, 2, 2, "step-up", "", "not finished", 60_000),
        SplitLine(4, 3, 2, "swing", "", "now", 60_000),
    ),
    flag="tight: 12 s left of 15",
    gated={"box jump": "Step down; no jump on a sore heel."},
    result_kind="amrap",
    result=TypedResult(7, 12),
    margin_ms=15_000,
)
BARE = AthleteFacts(name="Bo", recorded="Bo")


def target(amount: int, unit: Unit = Unit.REPS) -> TargetChanged:
    return TargetChanged(at_ms=0, athlete=SEFA, move="step-up", target=Target(Fraction(amount), unit))


def split(interval: int, split_ms: int | None) -> SplitCorrected:
    return SplitCorrected(at_ms=0, athlete=SEFA, part=4, interval=interval, split_ms=split_ms)


def option(name: str) -> OptionChosen:
    return OptionChosen(at_ms=0, athlete=SEFA, move="step-up", option=name)


def result(rounds: int | None = None, reps: int | None = None) -> ResultEntered:
    return ResultEntered(at_ms=0, athlete=SEFA, part=4, rounds=rounds, reps=reps)


def sheet(facts: AthleteFacts = FACTS) -> AthleteSheet:
    return AthleteSheet(facts)


TARGET, OPTION, ALLOW, GROUP = ("ctrl+t",), ("ctrl+o",), ("ctrl+y",), ("ctrl+g",)


def test_every_line_of_the_sheet_has_a_key_and_no_two_the_same() -> None:
    keys = [entry.key for entry in ENTRIES]
    assert all(keys)
    assert len(set(keys)) == len(keys)


def test_a_key_of_the_sheet_does_what_it_does_on_the_floor() -> None:
    meant = {"f2": "give", "f3": "correct", "f5": "margin", "f6": "results", "f7": "mute", "f11": "finish", "backspace": "undo"}
    keyed = {entry.key: command.does for entry in ENTRIES if entry.key and (command := command_for(entry.key, None))}
    assert {key for key, does in keyed.items() if meant[key] in does} == {*meant}


ONE_KEY: list[tuple[tuple[str, ...], Event]] = [
    ((*TARGET, "8", "enter"), target(8)),
    ((*TARGET, *typed("-2"), "enter"), target(8)),
    ((*TARGET, *typed("+1"), "enter"), target(11)),
    ((*TARGET, "down", "enter"), target(9)),
    ((*TARGET, "down", "down", "enter"), target(8)),
    ((*TARGET, "pagedown", "enter"), target(5)),
    ((*TARGET, "up", "enter"), target(11)),
    (("f3", "enter", "4", "4", "enter"), split(2, 44_000)),
    (("f3", "enter", *typed("0:44.5"), "enter"), split(2, 44_500)),
    (("f3", "down", "down", "enter", *typed("-"), "enter"), split(0, None)),
    (("f3", "end", "enter", "9", "enter"), split(3, 9_000)),
    (("f11", "enter"), NotFinished(at_ms=0, athlete=SEFA, part=4, interval=3)),
    (("f11", "down", "enter"), NotFinished(at_ms=0, athlete=SEFA, part=4, interval=2)),
    ((*OPTION, "2"), option("lower")),
    ((*OPTION, "1"), option("")),
    ((*OPTION, "down", "down", "enter"), option("march")),
    (("f6", "enter"), result(7, 12)),
    (("f6", *typed("8+3"), "enter"), result(8, 3)),
    (("f6", *typed("-"), "enter"), result()),
    ((*GROUP, "3"), Regrouped(at_ms=0, athlete=SEFA, group=3)),
    ((*GROUP, "up", "enter"), Regrouped(at_ms=0, athlete=SEFA, group=1)),
    ((*ALLOW, "down", "enter"), Allowed(at_ms=0, athlete=SEFA, move="box jump")),
    (("f5", *typed("0:20"), "enter"), MarginChanged(at_ms=0, athlete=SEFA, margin_ms=20_000)),
    (("f5", "up", "enter"), MarginChanged(at_ms=0, athlete=SEFA, margin_ms=16_000)),
    (("backspace",), TapTakenBack(at_ms=0, athlete=SEFA)),
    (("delete", "enter"), Left(at_ms=0, athlete=SEFA)),
    (("down", "down", "enter", "enter"), NotFinished(at_ms=0, athlete=SEFA, part=4, interval=3)),
    (("end", "up", "enter"), TapTakenBack(at_ms=0, athlete=SEFA)),
    (("end", "enter", "enter"), Left(at_ms=0, athlete=SEFA)),
    (("f3", "f5", *typed("0:20"), "enter"), MarginChanged(at_ms=0, athlete=SEFA, margin_ms=20_000)),
    (("f3", "left", "backspace"), TapTakenBack(at_ms=0, athlete=SEFA)),
    (("delete", "left", "backspace"), TapTakenBack(at_ms=0, athlete=SEFA)),
]


@pytest.mark.parametrize(("keys", "action"), ONE_KEY, ids=[" ".join(keys) for keys, _ in ONE_KEY])
async def test_each_thing_is_done_by_keys(keys: tuple[str, ...], action: Event) -> None:
    assert await answer_to(sheet(), *keys) == action


@pytest.mark.parametrize("keys", [(), (*TARGET,), ("f3",), ("f3", "enter"), (*OPTION,), (*ALLOW,), ("delete",)])
async def test_escape_closes_from_every_page(keys: tuple[str, ...]) -> None:
    assert await answer_to(sheet(), *keys, "escape") is None


async def test_enter_twice_never_allows_a_guarded_move() -> None:
    dialog = sheet()
    words = await words_of(dialog, *ALLOW, "enter")
    assert "! box jump: not allowed" in words
    assert await answer_to(sheet(), *ALLOW, "enter", "enter") is UNANSWERED


async def test_a_guarded_move_shows_its_caution_and_who_decides() -> None:
    words = await words_of(sheet(), *ALLOW, size=(40, 12))
    assert "! Step down; no jump on a sore heel." in words
    assert "Local rules" in words
    assert (await chosen_after(sheet(), *ALLOW, size=(40, 12))).startswith("no")


async def test_of_several_guarded_moves_one_is_chosen_first() -> None:
    facts = replace(FACTS, gated={**FACTS.gated, "ring dip": ""})
    assert await answer_to(sheet(facts), *ALLOW, "down", "enter", "down", "enter") == Allowed(
        at_ms=0, athlete=SEFA, move="ring dip"
    )
    assert "it can hurt" in await words_of(sheet(facts), *ALLOW, "down", "enter")


@pytest.mark.parametrize(
    ("keys", "says"),
    [
        ((*TARGET, *typed("-10"), "enter"), "leaves nothing to do"),
        ((*TARGET, *typed("2.5"), "enter"), "a rep is whole"),
        ((*TARGET, *typed("0:30"), "enter"), "is not in reps"),
        (("f3", "enter", "9", "9", "enter"), "`99` is longer than 1:00"),
        (("f3", "enter", "enter"), "nothing typed"),
        (("f6", "x", "enter"), "`x` is no result"),
        (("f5", "x", "enter"), "`x` is no duration"),
    ],
)
async def test_wrong_input_is_answered_in_words(keys: tuple[str, ...], says: str) -> None:
    assert says in await words_of(sheet(), *keys)


@pytest.mark.parametrize(
    ("keys", "says"),
    [
        (TARGET, "no target to change"),
        (("f3",), "no work in this part yet"),
        (("f11",), "no work in this part yet"),
        (OPTION, "the plan has no options here"),
        (("f6",), "this part has no result to enter"),
        (GROUP, "there is only one start group"),
        (ALLOW, "no guarded move waits"),
    ],
)
async def test_what_makes_no_sense_now_says_why(keys: tuple[str, ...], says: str) -> None:
    assert says in await words_of(sheet(BARE), *keys)


async def test_a_number_that_is_a_tap_key_goes_on_to_the_app_and_chooses_nothing() -> None:
    async with opened(sheet(replace(FACTS, tap_keys=frozenset("23")))) as (app, pilot):
        await pilot.press(*OPTION, "2", "left", *GROUP, "3", "i")
        await pilot.pause()
        assert app.passed_characters == "23i"
        assert app.answers == []
        await pilot.press("left", *GROUP, "1")
        await pilot.pause()
        assert app.answers == [Regrouped(at_ms=0, athlete=SEFA, group=1)]


async def test_an_alternative_to_the_whole_work_is_taken_beside_the_options() -> None:
    facts = replace(BARE, choices=(Choice(name="shorter", rounds=3),), choice="shorter")
    assert await answer_to(sheet(facts), *OPTION, "1") == ChoiceTaken(at_ms=0, athlete="Bo", part=0, choice="")
    chosen = await chosen_after(sheet(facts), *OPTION)
    assert chosen.startswith("2 whole part: shorter")
    assert "(now)" in chosen


async def test_the_menu_shows_who_what_now_and_the_part_so_far() -> None:
    words = await words_of(sheet())
    who = ("Sefa Lind   key s   group 2", "work: step-up 10 reps", "tight: 12 s left of 15")
    for shown in (*who, "41.2", "untapped", "not finished"):
        assert shown in words
    assert "at work" in words


async def test_the_target_page_shows_what_comes_of_it() -> None:
    assert "= 8 reps" in await words_of(sheet(), *TARGET, *typed("-2"))
    assert "typing: no taps" in await words_of(sheet(), *TARGET)
    assert "step-up" in await words_of(sheet(), *TARGET, size=(40, 12))


async def test_seconds_are_changed_by_five() -> None:
    facts = replace(FACTS, moves=(replace(FACTS.moves[0], work=Assignment("step-up", Target(Fraction(40), Unit.SECONDS))),))
    assert await answer_to(sheet(facts), *TARGET, "down", "enter") == target(35, Unit.SECONDS)
    assert await answer_to(sheet(facts), *TARGET, *typed("0:25"), "enter") == target(25, Unit.SECONDS)


@pytest.mark.parametrize("name", ODD_NAMES)
async def test_any_name_and_move_is_shown_and_worked_with(name: str) -> None:
    moves = (replace(FACTS.moves[0], item=Station(name), work=Assignment(name, TEN)),)
    splits = (SplitLine(0, 0, 1, name, "41.2"),)
    facts = AthleteFacts(name=name, recorded=name, moves=moves, station=4, splits=splits, flag=name, gated={name: name})
    for keys in ((), (*TARGET,), ("f3",), ("f3", "enter"), (*ALLOW,), ("delete",)):
        assert (await look_at(sheet(facts), *keys, size=(40, 12)))[0].strip()[:1] == name[0]


async def test_many_splits_scroll_at_40x12() -> None:
    rows = tuple(SplitLine(4, number, number + 1, "swing", f"{number}.5") for number in range(40))
    facts = replace(FACTS, splits=rows)
    assert await answer_to(sheet(facts), "f3", "end", "enter", "9", "enter", size=(40, 12)) == split(0, 9000)
    assert "round 1  swing" in await words_of(sheet(facts), "f3", "end", size=(40, 12))
    assert (await chosen_after(sheet(facts), "f3", "end", size=(40, 12))).startswith("round 1  swing")
