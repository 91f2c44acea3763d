"""The same classes played through with invented athletes: everything is tapped, counted and told, and nothing else is."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest

from floorclock.clock.run import PartRun
from floorclock.clock.splits import Result, Split, Status
from floorclock.clock.state import ClassState
from floorclock.clock.tally import results, splits
from floorclock.digest.build import Label, digest_of
from floorclock.journal.shelf import Shelf
from floorclock.live.plan_files import read_plan
from floorclock.simulate.rehearsal import rehearse_class
from floorclock.store.rows import class_rows
from tests.opened_classes import folded
from tests.repertoire.test_repertoire import PEOPLE, PLANS, number_of, plan_of


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Where the rehearsals of this module are kept; each plan is played once."""
    return tmp_path_factory.mktemp("rehearsals")


@cache
def played(folder: Path, number: int) -> ClassState:
    """A class as its journal has it."""
    home = folder / str(number)
    rehearse_class(plan_of(number), home, seed=3)
    return folded(Shelf(home).latest())


def run_of(state: ClassState, kind: str) -> PartRun:
    return next(run for run in state.runs if run.part.kind == kind)


@pytest.mark.parametrize("path", PLANS, ids=lambda path: path.stem)
def test_a_rehearsal_plays_every_part_to_its_end(path: Path, folder: Path) -> None:
    state = played(folder, number_of(path))
    assert [run.index for run in state.runs] == list(range(len(state.session.parts)))
    assert all(run.ended_ms is not None for run in state.runs)


WINDOWS = {33: 0, 35: 0, 36: 6, 1: 20, 2: 20, 3: 8, 4: 18, 5: 5, 17: 0, 19: 0, 20: 0, 21: 0, 25: 0, 26: 8}
"""How many windows each athlete has a split in, tapped or not: none where work fills them or nobody is asked to tap."""


@pytest.mark.parametrize("number", WINDOWS)
def test_everybody_has_as_many_splits_as_windows_that_can_be_tapped(number: int, folder: Path) -> None:
    state = played(folder, number)
    taken = splits(state)
    assert len(taken) == WINDOWS[number] * len(state.athletes)
    assert all(split.split_ms is None or 0 < split.split_ms <= split.window_ms for split in taken)


@pytest.mark.parametrize("number", [7, 8, 9, 10, 11, 12, 13, 14, 22, 28])
def test_everybody_has_a_result_in_every_part_against_the_clock(number: int, folder: Path) -> None:
    state = played(folder, number)
    timed = [index for index, part in enumerate(state.session.parts) if part.kind in ("for_time", "amrap")]
    assert timed
    for index in timed:
        assert {result.athlete for result in results(state) if result.part == index} == set(state.athletes)


TEAMS = {34: [4, 5], 15: [2, 2, 2, 3], 16: [2, 2, 2, 3], 17: [3, 3, 3], 18: [2, 2, 2, 3], 29: [2, 2, 2, 3], 30: [2, 2, 2, 3]}


@pytest.mark.parametrize("number", TEAMS)
def test_a_team_has_one_result_and_nine_people_make_one_larger_pair(number: int, folder: Path) -> None:
    state = played(folder, number)
    part = max(index for index, part in enumerate(state.session.parts) if part.team_size > 1)
    found = [result for result in results(state) if result.part == part]
    assert sorted(len(result.team) for result in found) == TEAMS[number]
    assert sorted(name for result in found for name in result.team) == sorted(state.athletes)


class TestUntilOut:
    def test_who_misses_a_minute_is_out_with_full_rounds_and_reps_of_the_last(self, folder: Path) -> None:
        state = played(folder, 6)
        by_name: dict[str, list[Split]] = {name: [] for name in state.athletes}
        for split in splits(state):
            by_name[split.athlete].append(split)
        found: dict[str, Result] = {result.athlete: result for result in results(state)}
        assert set(found) == set(state.athletes)
        for name, own in by_name.items():
            missed = [split for split in own if split.status is Status.NOT_FINISHED]
            assert missed == own[len(own) - len(missed) :]
            assert len(missed) <= 1
            if missed:
                assert found[name].rounds == missed[0].round - 1
                assert 0 < (found[name].reps or 0) < missed[0].round
            else:
                assert found[name].rounds == own[-1].round

    def test_the_part_ends_once_nobody_is_left(self, tmp_path: Path) -> None:
        plan = tmp_path / "steep.yaml"
        work = "{move: step-up, target: {start: 5 reps, step: 5}}"
        plan.write_text(
            "session: Five more every minute\nparts:\n"
            f"  - {{kind: rotation, every: 1:00, rounds: 20, until_out: true, stations: [{work}]}}\n"
        )
        rehearse_class(read_plan(plan, PEOPLE), tmp_path, seed=3)
        state = folded(Shelf(tmp_path).latest())
        (run,) = state.runs
        last = max(state.out_after(name, 0) or 0 for name in state.athletes)
        assert 2 < last < 10
        assert run.position_ms(state.now_ms) - run.timeline.intervals[last].end_ms in range(60_000)


class TestScores:
    def test_each_set_of_a_twenty_ten_has_a_number_for_everybody(self, folder: Path) -> None:
        state = played(folder, 19)
        for result in results(state):
            assert len(result.scores) == 8
            assert all(5 < amount < 30 for _, amount in result.scores)

    def test_in_a_relay_a_team_counts_what_each_of_them_did_in_turn(self, folder: Path) -> None:
        state = played(folder, 17)
        assert [len(result.scores) for result in results(state)] == [12, 12, 12]

    def test_a_part_that_is_scored_once_has_one_number(self, folder: Path) -> None:
        state = played(folder, 29)
        for result in results(state):
            ((number, metres),) = result.scores
            assert number == 0
            assert 50 * (result.rounds or 0) <= metres < 50 * ((result.rounds or 0) + 1)


class TestAgainstTheClock:
    def test_a_run_before_and_after_takes_its_time(self, folder: Path) -> None:
        """Two runs of 400 m at about 0.3 s a metre: four minutes of the whole, give or take a fast and a slow runner."""
        state = played(folder, 11)
        times = [result.time_ms for result in results(state) if result.time_ms is not None]
        assert len(times) == len(state.athletes)
        assert min(times) > 180_000 + 4 * 40_000

    def test_between_two_rounds_with_a_rest_lies_the_rest(self, folder: Path) -> None:
        state = played(folder, 28)
        for result in results(state):
            assert len(result.laps_ms) == 5
            assert all(
                later - sooner > 60_000 + 45_000 for sooner, later in zip(result.laps_ms, result.laps_ms[1:], strict=False)
            )

    def test_a_wave_starts_later_and_has_the_same_time(self, folder: Path) -> None:
        state = played(folder, 22)
        run = run_of(state, "for_time")
        assert {state.start_delay_ms(name, run) for name in state.athletes} == {0, 120_000, 240_000}
        assert all(result.time_ms is None or result.time_ms <= 720_000 for result in results(state))
        assert sum(result.time_ms is not None for result in results(state)) > 6


def test_levels_are_in_what_is_recorded(folder: Path) -> None:
    state = played(folder, 2)
    amounts = {(state.athletes[split.athlete].level, str(split.amount)) for split in splits(state) if split.move == "row"}
    assert amounts == {("strong", "14"), ("regular", "12"), ("new", "8")}


def test_the_index_has_a_teams_result_for_everybody_of_it(folder: Path) -> None:
    state = played(folder, 15)
    journal = Shelf(folder / "15").latest()
    rows = class_rows(journal.read_bytes(), journal.stem)
    assert rows is not None
    reached = {name: result.rounds for result in results(state) for name in result.team}
    assert {row.name: row.rounds for row in rows.results} == reached
    assert set(reached) == set(state.athletes)


class TestWhatTheyTaught:
    def test_two_moves_that_both_rise_are_nobodys_fading(self, folder: Path) -> None:
        state = played(folder, 31)
        assert not {flag for part in digest_of(state, Label(class_id="x")).parts for one in part.athletes for flag in one.flags}

    def test_the_end_of_the_first_two_minutes_is_heard(self, folder: Path) -> None:
        (run,) = played(folder, 32).runs
        assert [cue.at_ms for cue in run.timeline.cues if cue.name == "rest"] == [120_000, 420_000, 720_000, 1_020_000]

    def test_nobody_is_told_to_do_more_of_a_heavy_set(self, folder: Path) -> None:
        (part,) = digest_of(played(folder, 36), Label(class_id="x")).parts
        assert {advice.way for athlete in part.athletes for advice in athlete.advice} == {"keep"}
