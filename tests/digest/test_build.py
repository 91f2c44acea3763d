"""What a class came to."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import pytest
from scipy import stats as reference

from floorclock.clock.splits import Split
from floorclock.digest.build import Label, digest_from
from floorclock.digest.class_digest import AthleteDigest, ClassDigest, PartDigest
from floorclock.digest.figures import StationFigures
from floorclock.pace.advice import Way
from floorclock.pace.flags import Flag
from floorclock.plan.session import Rotation
from floorclock.plan.work import Station
from tests.clock.classes import reps
from tests.pace.sample_class import ATHLETES, RESULTS, SESSION, halfway, rotation_work, splits, summary
from tests.pace.taps import rounds, split
from tests.report.outlooks import digested

HARBOUR, FINISHER, AMRAP, STEPS, NEVER = 1, 2, 3, 4, 5


def part(index: int) -> PartDigest:
    return summary().parts[index]


def athlete(name: str, index: int = HARBOUR, made: ClassDigest | None = None) -> AthleteDigest:
    return next(one for one in (made or summary()).parts[index].athletes if one.name == name)


def figures(name: str, station: str) -> StationFigures:
    return next(one for one in athlete(name).stations if one.name == station)


def sum_up(taken: Sequence[Split]) -> ClassDigest:
    """The sample class with other splits."""
    return digest_from(SESSION, ATHLETES, taken, (), label=Label(class_id="x", rehearsal=True), rest_margin_s=15)


class TestFigures:
    def test_median_slope_spread_and_decrement_agree_with_scipy(self) -> None:
        taken = [36_000, 40_000, 44_000, 48_000]
        bram = figures("Bram", "swing")
        assert bram.median_split_ms == 42_000
        assert bram.slope_ms == reference.theilslopes(taken, [1, 2, 3, 4]).slope
        assert bram.cv_percent == pytest.approx(100 * float(reference.variation(taken, ddof=1)))
        assert bram.decrement_percent == pytest.approx(100 * 168 / (36 * 4) - 100)

    def test_the_athlete_has_the_medians_of_the_stations_and_the_least_rest(self) -> None:
        bram = athlete("Bram")
        assert bram.slope_ms == 4_000
        assert bram.least_rest_ms == 12_000
        assert bram.cv_percent == pytest.approx(sum(one.cv_percent or 0 for one in bram.stations) / 2)

    def test_holes_are_in_no_figure(self) -> None:
        odd = figures("Odd", "step-up")
        assert (odd.tapped, odd.median_split_ms) == (3, 38_000)
        assert odd.slope_ms == pytest.approx(reference.theilslopes([38_000, 38_000, 39_000], [1, 2, 4]).slope)

    def test_without_a_tap_nothing_is_known(self) -> None:
        runa = athlete("Runa")
        assert (runa.untapped, runa.tapped, runa.held, runa.flags) == (8, 0, False, ())
        assert runa.least_rest_ms is runa.slope_ms is runa.cv_percent is None
        assert figures("Runa", "swing") == StationFigures(station=0, name="swing", tapped=0)

    def test_one_tap_has_a_median_only(self) -> None:
        (found,) = sum_up([split(20)]).parts[HARBOUR].athletes[0].stations
        assert (found.median_split_ms, found.slope_ms, found.cv_percent, found.decrement_percent) == (40_000, None, None, None)

    def test_a_ladder_is_compared_at_the_last_amount(self) -> None:
        taken = [split(60 - 2.5 * reps, round_number=r, amount=reps) for r, reps in enumerate([10, 12, 16], start=1)]
        (found,) = sum_up(taken).parts[HARBOUR].athletes[0].stations
        assert found.median_split_ms == 30_000
        assert (found.slope_ms, found.cv_percent, found.decrement_percent) == (0, 0, 0)

    def test_a_split_of_no_time_at_all_breaks_nothing(self) -> None:
        (found,) = sum_up([split(60), split(60, round_number=2), split(60, round_number=3)]).parts[HARBOUR].athletes[0].stations
        assert (found.median_split_ms, found.cv_percent) == (0, 0)


class TestParts:
    def test_every_part_of_the_plan_is_there_in_its_order(self) -> None:
        kinds = [(one.index, one.kind, len(one.athletes)) for one in summary().parts]
        assert kinds == [
            (0, "open", 0),
            (1, "rotation", 5),
            (2, "for_time", 5),
            (3, "amrap", 5),
            (4, "paced", 5),
            (5, "intervals", 0),
        ]

    def test_athletes_stand_in_the_order_of_the_board(self) -> None:
        assert [one.name for one in part(HARBOUR).athletes] == [one.name for one in ATHLETES]

    def test_somebody_who_is_not_on_the_roster_follows(self) -> None:
        found = sum_up([replace(split(20), athlete="Late"), split(20)]).parts[HARBOUR].athletes
        assert [one.name for one in found] == ["Ilka", "Late"]

    def test_the_class_is_counted(self) -> None:
        harbour = part(HARBOUR)
        assert harbour.held == 1
        assert [harbour.count(flag) for flag in Flag] == [1, 0, 1, 2]
        assert (harbour.intervals, harbour.untapped) == (40, 9)

    def test_each_station_has_the_medians_of_all_taps(self) -> None:
        swing, step_up = part(HARBOUR).stations
        assert (swing.name, swing.tapped, swing.tight, swing.untapped) == ("swing", 15, 1, 4)
        assert step_up.tight == 1
        assert swing.median_rest_ms == 24_000
        assert swing.median_split_ms == 36_000

    def test_results_belong_to_their_athletes_and_the_rest_is_unknown(self) -> None:
        results = {one.name: one.result for one in part(AMRAP).athletes}
        assert results["Bram"] == RESULTS[6]
        assert results["Sefa"] is None
        assert athlete("Odd", FINISHER).flags == (Flag.NOT_FINISHED,)


class TestCalls:
    def test_the_most_urgent_come_first_with_reasons_in_words(self) -> None:
        assert [(call.athlete, call.part, str(call.flag), call.because) for call in summary().calls] == [
            ("Odd", FINISHER, "not finished", "Carry and sit not finished"),
            ("Odd", HARBOUR, "not finished", "round 2 at swing not finished"),
            (
                "Bram",
                HARBOUR,
                "tight",
                "under the margin of 15 s in 1 of 4 rounds at swing: rest 24, 20, 16, 12 s; also at step-up",
            ),
            ("Sefa", HARBOUR, "fading", "2.4 s slower each round at step-up: rest 30, 28, 25, 23 s"),
        ]

    def test_untapped_is_never_a_reason(self) -> None:
        assert "Runa" not in {call.athlete for call in summary().calls}

    def test_the_worst_station_is_the_one_named(self) -> None:
        taken = [
            split(rest, round_number=r, station=s, stations=3, move=("swing", "step-up")[s])
            for r, rests in enumerate([(14, 12), (20, 11), (20, 9)], start=1)
            for s, rest in enumerate(rests)
        ]
        (call,) = sum_up(taken).calls
        assert call.because == "under the margin of 15 s in 3 of 3 rounds at step-up: rest 12, 11, 9 s; also at swing"

    def test_a_class_without_taps_calls_nobody(self) -> None:
        empty = sum_up(())
        assert empty.calls == ()
        assert all(not one.athletes for one in empty.parts)
        assert empty.athletes == tuple(one.name for one in ATHLETES)


class TestWhatIsToCome:
    def test_a_class_taken_for_its_first_rounds_has_a_forecast_of_the_others(self) -> None:
        odd = athlete("Odd", made=halfway())
        assert [(one.slot.station, one.slot.round) for one in odd.forecast] == [(0, 4), (1, 4)]
        assert odd.runs_out is not None
        assert odd.margin_goes is not None
        assert (odd.runs_out.slot.station, odd.margin_goes.round, odd.margin_goes.station) == (0, 4, 0)
        assert Flag.RUNS_OUT in odd.flags

    def test_advice_is_for_those_rounds_and_the_call_says_it(self) -> None:
        odd = athlete("Odd", made=halfway())
        (advice,) = odd.advice
        assert (advice.way, advice.station, advice.round) == (Way.LESS, 0, 4)
        assert advice.words == f"drop to {advice.amount} reps?"
        call = next(one for one in halfway().calls if (one.athlete, one.part) == ("Odd", HARBOUR))
        assert call.advice == f"swing: {advice.words}"

    def test_who_runs_out_is_called_with_the_round_and_the_advice(self) -> None:
        made = summarise_rounds([24, 20, 16], [30, 30, 30], of=6)
        (call,) = made.calls
        assert call.flag is Flag.RUNS_OUT
        (ilka,) = made.parts[0].athletes
        assert ilka.margin_goes is not None
        assert ilka.margin_goes.round in (4, 5, 6)
        assert call.because == f"rest 24, 20, 16 s at swing; under 15 by round {ilka.margin_goes.round}"
        assert call.advice.startswith("swing: drop to ")

    def test_when_all_was_run_there_is_next_times_target_for_every_station(self) -> None:
        for name in ("Ilka", "Bram", "Sefa", "Odd"):
            advice = athlete(name).advice
            assert [(one.station, one.round) for one in advice] == [(0, 1), (1, 1)]
            assert all(one.target is not None for one in advice)

    def test_who_was_never_tapped_is_not_advised(self) -> None:
        assert athlete("Runa").advice == ()
        assert athlete("Runa", made=halfway()).advice == ()
        assert athlete("Runa").slope_ms is None

    def test_the_round_in_which_the_margin_went_is_told_when_all_was_run(self) -> None:
        rounds_out = {one.name: one.margin_goes and one.margin_goes.round for one in summary().parts[HARBOUR].athletes}
        assert rounds_out == {"Ilka": None, "Bram": 4, "Sefa": None, "Odd": 2, "Runa": None}

    def test_a_warning_that_never_came_true_is_no_flag_of_who_held(self) -> None:
        made = summarise_rounds([24, 20, 16.5, 20, 21, 20], [30, 30, 30, 30, 30, 30], of=6)
        (ilka,) = made.parts[0].athletes
        assert Flag.RUNS_OUT not in {flag for taken in ilka.splits for flag in taken.flags} | set(ilka.flags)
        assert all(call.flag is not Flag.RUNS_OUT for call in made.calls)

    def test_a_warning_that_came_true_stays_and_what_happened_is_called(self) -> None:
        made = summarise_rounds([24, 20, 16, 14, 16, 16], [30, 30, 30, 30, 30, 30], of=6)
        (ilka,) = made.parts[0].athletes
        assert {Flag.RUNS_OUT, Flag.TIGHT} <= set(ilka.flags)
        assert made.calls[0].flag is Flag.TIGHT

    def test_the_fitted_line_has_a_point_for_each_split(self) -> None:
        bram = athlete("Bram")
        swings = [taken.fitted_ms for taken in bram.splits_at(0)]
        assert swings == pytest.approx([36_000, 40_000, 44_000, 48_000], rel=0.05)

    def test_without_the_work_of_the_plan_nothing_is_forecast_and_all_else_is_the_same(self) -> None:
        plain, whole = sum_up(splits()).parts[HARBOUR], summary().parts[HARBOUR]
        for one, other in zip(plain.athletes, whole.athletes, strict=True):
            assert (one.forecast, one.advice, one.runs_out) == ((), (), None)
            assert (one.flags, one.stations, one.least_rest_ms) == (other.flags, other.stations, other.least_rest_ms)
        assert plain.verdict == whole.verdict


def summarise_rounds(*rests: Sequence[float | str], of: int) -> ClassDigest:
    """One athlete in a rotation of so many rounds, of which the first were run."""
    part = Rotation(title="x", every_ms=60_000, rounds=of, work=(Station("swing", reps(14)), Station("step-up", reps(14))))
    taken = [replace(one, part=0) for one in rounds(*rests)]
    slots = rotation_work("Ilka", part)
    key = (0, "Ilka")
    return digested(part, taken=taken, people=("Ilka",), whole={key: slots}, coming={key: slots[len(taken) :]})
