"""Earlier classes, found again: the right ones, of the right people, quickly; whatever else lies in the folder."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from datetime import date, datetime, timedelta
from fractions import Fraction
from pathlib import Path

import pytest

from floorclock.clock.events import ClassEnded, EffortRated
from floorclock.insight.history import ask_history, loads_before, loads_of, prior_before, prior_of
from floorclock.journal.reading import read_journal
from floorclock.live.plan_files import Plan
from floorclock.pace.load import WeekLoad
from floorclock.pace.prior import NO_PRIOR, MovePace, Prior
from floorclock.plan.work import Unit
from floorclock.simulate.rehearsal import rehearse_class
from tests.clock.classes import WALL
from tests.opened_classes import MovingWallClock, Opened, plan_at, started

NO_STORE = ("the store", "was not reached", Unit.REPS)
NO_PACE = MovePace(level=0, level_sd=0, drift=0, drift_sd=0, amount=Fraction(0), classes=0)
STEP_UP, ROW = ("Ilka", "step-up", Unit.REPS), ("Ilka", "row", Unit.METRES)
PLAN_MS = 120_000


@pytest.fixture(autouse=True)
def own_store(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    home.mkdir(parents=True, exist_ok=True)
    for variable in ("FLOORCLOCK_STORE", "FLOORCLOCK_SITE"):
        monkeypatch.delenv(variable, raising=False)


def prior_in(home: Path, names: Sequence[str], *, before: datetime | None = None) -> Prior:
    return ask_history(home, lambda store: prior_of(store, names, before=before), {NO_STORE: NO_PACE})


def loads_in(home: Path, names: Sequence[str], day: date) -> Mapping[str, WeekLoad]:
    return ask_history(home, lambda store: loads_of(store, names, day), {})


@pytest.fixture
def plan(tmp_path: Path) -> Plan:
    return plan_at(tmp_path)


def begun_days_ago(plan: Plan, home: Path, days_ago: float) -> Opened:
    """A class on the go of its rotation."""
    clock = MovingWallClock()
    clock.apart = timedelta(days=-days_ago)
    live = started(plan, home, clock=clock)
    live.begin()
    live.wait(PLAN_MS)
    live.begin()
    live.wait(10_000)
    return live


def record(plan: Plan, home: Path, days_ago: float = 0, *, step_up_s: float = 30.0, effort: float | None = None) -> str:
    """A class in which Ilka (step-ups first) and Bram (row first) tap every minute; gives its id."""
    live = begun_days_ago(plan, home, days_ago)
    for minute in range(9):
        live.wait(step_up_s * 1000)
        if minute % 3 == 0:
            live.tap("Ilka")
        if minute % 3 == 1:
            live.tap("Ilka")
            live.tap("Noor")
        live.wait(60_000 - step_up_s * 1000)
    live.send(ClassEnded)
    if effort is not None:
        live.send(EffortRated, athlete="Ilka", effort=effort)
    live.opened.close()
    return live.opened.id


def test_a_prior_is_what_was_done_in_earlier_classes(plan: Plan, home: Path) -> None:
    record(plan, home, 14)
    assert prior_in(home, ["Ilka"])[STEP_UP].classes == 1
    record(plan, home, 7)
    prior = prior_in(home, ["Ilka", "Bram"])
    assert set(prior) == {STEP_UP, ROW}
    assert prior[STEP_UP].classes == 2
    assert prior[STEP_UP].level == pytest.approx(math.log(30 / 10), abs=0.02)
    assert prior[ROW].level == pytest.approx(math.log(30 / 200), abs=0.02)
    assert prior[STEP_UP].amount == 10


def known_then(home: Path, journal: Path) -> Prior:
    """What was known of its people when a recorded class began."""
    header = read_journal(journal).header
    assert header is not None
    return prior_before(home, header)


def test_nobody_has_a_history_where_nothing_was_recorded(plan: Plan, home: Path) -> None:
    assert prior_in(home, ["Ilka"]) == NO_PRIOR
    record(plan, home)
    assert prior_in(home, ["Somebody else", "Ilk", 'a"b\\', "Nöör"]) == NO_PRIOR
    assert prior_in(home, []) == NO_PRIOR
    assert NO_STORE in prior_in(home / "elsewhere", ["Ilka"])
    assert not (home / "elsewhere").exists()


def test_a_rehearsal_is_nobodys_history(plan: Plan, home: Path) -> None:
    rehearse_class(plan, home, seed=1)
    assert prior_in(home, ["Ilka", "Bram", "Noor"]) == NO_PRIOR
    assert loads_in(home, ["Ilka"], datetime.now().astimezone().date())["Ilka"].rest_days == 7
    (rehearsal,) = (home / "classes").glob("*.jsonl")
    record(plan, home, days_ago=7)
    assert known_then(home, rehearsal) == NO_PRIOR


def test_a_class_that_runs_is_not_its_own_history(plan: Plan, home: Path) -> None:
    record(plan, home, 7, step_up_s=30)
    running = begun_days_ago(plan, home, 0)
    running.wait(45_000)
    running.tap("Ilka")
    prior = prior_in(home, ["Ilka"], before=running.opened.started)
    assert prior[STEP_UP].classes == 1
    assert prior[STEP_UP].level == pytest.approx(math.log(3), abs=0.02)
    running.opened.close()


def test_what_cannot_be_read_costs_nothing_else(plan: Plan, home: Path) -> None:
    kept = record(plan, home, 7)
    folder = home / "classes"
    whole = (folder / f"{kept}.jsonl").read_bytes()
    lines = whole.splitlines(keepends=True)
    (folder / "20260227-1800-aaaa.jsonl").write_bytes(b"\0\xff Ilka\n" * 50)
    (folder / "20260227-1801-bbbb.jsonl").write_bytes(b"")
    (folder / "20260227-1802-cccc.jsonl").write_bytes(b"".join(lines[1:]))
    (folder / "20260227-1803-dddd.jsonl").write_bytes(whole.replace(b"kind: rotation", b"kind: rotati0n"))
    (folder / "20260227-1804-eeee.jsonl").mkdir()
    (folder / "20260227-1805-ffff.jsonl").symlink_to(folder / "nowhere")
    assert prior_in(home, ["Ilka"])[STEP_UP].classes == 1


def test_loads_are_those_of_the_week_that_ends_with_a_day(plan: Plan, home: Path) -> None:
    today = WALL.date()
    for days_ago, effort in ((0, 4.0), (2, 6.0), (6, 5.0), (7, 9.0)):
        record(plan, home, days_ago, effort=effort)
    week = loads_in(home, ["Ilka", "Nobody"], today)
    assert list(week) == ["Ilka", "Nobody"]
    # A warm-up of 2 minutes, 10 s of count-in, nine minutes.
    minutes = 11 + 10 / 60
    assert [round(day.load / minutes, 6) for day in week["Ilka"].days] == [5, 0, 0, 0, 6, 0, 4]
    assert week["Ilka"].load == pytest.approx(15 * minutes)
    assert (week["Ilka"].unrated, week["Ilka"].rest_days) == (0, 4)
    assert week["Ilka"].monotony is not None
    assert week["Nobody"].rest_days == 7
    assert loads_in(home, ["Ilka"], today + timedelta(days=20))["Ilka"].load == 0


def test_a_recorded_class_is_read_with_what_its_people_had_shown_before_it(plan: Plan, home: Path) -> None:
    first, second = record(plan, home, days_ago=7), record(plan, home)
    classes = home / "classes"
    earlier, later = (known_then(home, classes / f"{class_id}.jsonl") for class_id in (first, second))
    assert earlier == NO_PRIOR, "a class is no history of its own"
    assert {known.classes for known in later.values()} == {1}
    assert "Ilka" in {name for name, _, _ in later}


def test_a_store_that_is_damaged_or_away_costs_the_history_and_nothing_else(
    plan: Plan, home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    first, second = (home / "classes" / f"{record(plan, home, days_ago)}.jsonl" for days_ago in (7, 0))
    assert known_then(home, second) != NO_PRIOR
    for path in home.glob("store.sqlite3*"):
        path.write_bytes(b"no database at all" * 500)
    assert (known_then(home, second), loads_before(home, ["Ilka"], WALL.date())) == (NO_PRIOR, {})
    monkeypatch.setenv("FLOORCLOCK_STORE", "postgresql://127.0.0.1:1/gym")
    assert known_then(home, second) == NO_PRIOR
    monkeypatch.setenv("FLOORCLOCK_STORE", "nonsense")
    assert known_then(home, second) == NO_PRIOR
    assert first.exists()
