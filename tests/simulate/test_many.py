"""Many rehearsals: single chances are those of the forecasts, a day is shared, and luck belongs to a name."""

from __future__ import annotations

import math
from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest

from floorclock.clock.state import ClassState, new_state
from floorclock.pace.model.forecast import joined
from floorclock.pace.prior import NO_PRIOR, MovePace, Prior
from floorclock.plan.read_session import read_session
from floorclock.plan.roster import Athlete
from floorclock.plan.work import Unit
from floorclock.simulate import many
from floorclock.simulate.ahead import work_by_athlete, work_for_time
from floorclock.simulate.many import ClassChances, rehearse_many

ROTATION = """\
session: Four quays
rest_margin: 0:15
count_in: 0:10
parts:
  - kind: rotation
    title: The quays
    every: 1:00
    rounds: 5
    stations:
      - {move: swing, target: 14 reps}
      - {move: step-up, target: {start: 10 reps, step: 1}}
      - {move: row, target: 120 m}
      - rest
"""
FOR_TIME = """\
session: Piece
count_in: 0
parts:
  - {{kind: for_time, title: C, cap: 6:00, rounds: 4{more}, work: [{{move: carry, target: 40 m}}, {{move: sit-up, target: 9}}]}}
"""
UNTIL_OUT = """\
session: Up
count_in: 0
rest_margin: 0
parts:
  - kind: rotation
    title: Up
    every: 1:00
    rounds: 12
    until_out: true
    stations: [{move: step-up, target: {start: 14 reps, step: 2}}]
"""
NAMES = tuple(f"Athlete {number}" for number in range(12))
TIMES = 20_000


def state_of(text: str, names: tuple[str, ...] = NAMES) -> ClassState:
    session, problems = read_session(text.encode(), "plan.yaml")
    assert session is not None, problems
    return new_state(session, [Athlete(name=name, group=at % 4 + 1) for at, name in enumerate(names)])


def for_time(more: str = "") -> ClassState:
    return state_of(FOR_TIME.format(more=more))


def history(state: ClassState) -> Prior:
    """Everybody knows the swing and the step-up, nobody the row; some are slow and some tire."""
    return {
        (name, move, Unit.REPS): MovePace(
            level=math.log(each_s) + 0.02 * (at - 5),
            level_sd=0.07,
            drift=0.01 + 0.003 * at,
            drift_sd=0.015,
            amount=Fraction(amount),
            classes=3,
        )
        for at, name in enumerate(state.athletes)
        for move, each_s, amount in (("swing", 2.4, 14), ("step-up", 2.6, 10))
    }


@pytest.fixture(scope="module")
def state() -> ClassState:
    return state_of(ROTATION)


@pytest.fixture(scope="module")
def played(state: ClassState) -> ClassChances:
    return rehearse_many(state, history(state), TIMES, 7)


def test_single_chances_are_those_of_the_closed_form(state: ClassState, played: ClassChances) -> None:
    rows = {row.name: row for row in work_by_athlete(state, state.planned_run(0), history(state))}
    z = []
    for athlete in played.parts[0].athletes:
        exact = {(one.slot.station, one.slot.round): one.chance_tight() for one in rows[athlete.name].ahead}
        for at in athlete.stations:
            for number, chance in zip(at.rounds, at.chances, strict=True):
                p = exact[at.station, number]
                z.append((chance - p) / math.sqrt(max(p * (1 - p), 1e-4) / TIMES))
    assert len(z) == 12 * 3 * 5
    assert max(map(abs, z)) < 4.5, "none of 180 is farther off than chance allows"
    assert 0.6 < math.sqrt(np.mean(np.square(z))) < 1.4, "and together they are off as much as chance is"


def test_all_rounds_at_a_station_hold_as_often_as_the_closed_form_says(state: ClassState, played: ClassChances) -> None:
    for row, athlete in zip(work_by_athlete(state, state.planned_run(0), history(state)), played.parts[0].athletes, strict=True):
        for at in athlete.stations:
            exact = 1 - joined([one.hold() for one in row.ahead if one.slot.station == at.station])
            assert at.any == pytest.approx(exact, abs=0.03), "17 slices of the shared draw are a coarse measure"
        assert max(at.any for at in athlete.stations) <= athlete.any <= sum(at.any for at in athlete.stations)


def test_a_day_is_shared_so_that_good_and_bad_classes_are_commoner(
    state: ClassState, played: ClassChances, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(many, "DAY", 0.0)
    monkeypatch.setattr(many, "GUESSED_DAY", 0.0)
    monkeypatch.setattr(many, "PERSON", many.PERSON + 0.3)
    alone = rehearse_many(state, history(state), TIMES, 7)
    shared, independent = played.parts[0].in_trouble, alone.parts[0].in_trouble
    assert shared is not None
    assert independent is not None
    assert shared.high - shared.low > independent.high - independent.low + 2


def test_luck_belongs_to_a_name_and_a_seed() -> None:
    first = rehearse_many(state_of(ROTATION), NO_PRIOR, 500, 3)
    again = rehearse_many(state_of(ROTATION), NO_PRIOR, 500, 3)
    fewer = rehearse_many(state_of(ROTATION, NAMES[:5]), NO_PRIOR, 500, 3)
    assert first == again
    assert fewer.parts[0].athletes == first.parts[0].athletes[:5], "who else is there changes nothing"
    assert rehearse_many(state_of(ROTATION), NO_PRIOR, 500, 4) != first


def test_batches_add_up_and_every_step_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(many, "BATCH", 400)
    told: list[tuple[int, int]] = []
    played = rehearse_many(state_of(ROTATION, NAMES[:2]), NO_PRIOR, 1_000, 3, lambda done, of: told.append((done, of)))
    assert told == [(done, 6) for done in range(1, 7)]
    whole = rehearse_many(state_of(ROTATION, NAMES[:2]), NO_PRIOR, 1_000, 3)
    assert played.times == whole.times == 1_000


def test_who_has_no_history_is_guessed_and_less_sure(state: ClassState) -> None:
    known, unknown = (work_by_athlete(state, state.planned_run(0), prior)[0] for prior in (history(state), NO_PRIOR))
    assert known.guessed == tuple(one.slot.move == "row" for one in known.ahead)
    assert all(unknown.guessed)
    assert unknown.ahead[-1].sd > known.ahead[0].sd
    assert unknown.ahead[0].split_ms == pytest.approx(1000 * (4 + 14 * 2.3), rel=0.2), "a usual pace, whatever table says it"


def test_who_is_out_stays_out_and_the_last_one_ends_the_part() -> None:
    played = rehearse_many(state_of(UNTIL_OUT), NO_PRIOR, 2_000, 1)
    (part,) = played.parts
    for athlete in part.athletes:
        chances = athlete.stations[0].chances
        assert list(chances) == sorted(chances)
        assert chances[-1] == athlete.any
    assert played.hour_s.low < 12 * 60
    assert played.hour_s.low % 60 == 0


def test_the_last_finish_and_the_hour_follow_from_all_finishes() -> None:
    state = for_time()
    played = rehearse_many(state, NO_PRIOR, 2_000, 1)
    (part,) = played.parts
    assert part.last_s is not None
    assert part.last_s == played.hour_s, "there is nothing else in this class"
    slowest = max(one.finish_s.middle for one in part.finishes)
    assert min(slowest, 360) <= part.last_s.middle <= 360, "and nobody works after the cap"
    waves = rehearse_many(for_time(", wave_every: 1:00"), NO_PRIOR, 2_000, 1)
    assert part.last_s.high + 60 < waves.hour_s.high < part.last_s.high + 180, "the last wave starts three minutes later"
    assert waves.parts[0].finishes == part.finishes, "each from their own start"


@pytest.mark.parametrize(
    ("more", "factor"),
    [
        (", round_rest: 0:30", None),
        (", in: pairs, turns: shared", 1.0),
        (", in: pairs, turns: each round", 1.0),
        (", in: pairs, turns: same time", 1.1),
    ],
)
def test_rest_and_teams_change_when_somebody_is_done(more: str, factor: float | None) -> None:
    alone = rehearse_many(for_time(), NO_PRIOR, 2_000, 1).parts[0]
    other = rehearse_many(for_time(more), NO_PRIOR, 2_000, 1).parts[0]
    before, after = (np.mean([one.finish_s.middle for one in part.finishes]) for part in (alone, other))
    if factor is None:
        assert after == pytest.approx(before + 90, abs=1)
        return
    assert [len(one.team) for one in other.finishes] == [2] * 6
    assert after == pytest.approx(before * factor, rel=0.06)


def test_a_buy_in_is_done_once() -> None:
    state = for_time(", buy_in: [{move: row, target: 500 m}], cash_out: [{move: burpee, target: 10}]")
    (piece, *_) = work_for_time(state, state.planned_run(0), NO_PRIOR)
    moves = [one.slot.move for one in piece.members[0].ahead]
    assert moves == ["row", *["carry", "sit-up"] * 4, "burpee"]
    assert [past - first for first, past in piece.rounds[0]] == [3, 2, 2, 3]


def test_a_choice_and_an_own_target_are_what_somebody_is_rehearsed_with() -> None:
    state = for_time(", choose: [{name: shorter, rounds: 2}]")
    shorter = replace(state, choices={(NAMES[0], 0): "shorter"})
    first = [rehearse_many(one, NO_PRIOR, 500, 1).parts[0].finishes[0].finish_s.middle for one in (state, shorter)]
    assert first[1] < 0.6 * first[0]


def test_nothing_to_chance_is_no_part() -> None:
    played = rehearse_many(state_of("session: Open\nparts: [{kind: open, title: Warm-up, time: 12:00}]"), NO_PRIOR, 10, 1)
    assert played.parts == ()
    assert (played.hour_s.low, played.hour_s.high) == (720, 720)
