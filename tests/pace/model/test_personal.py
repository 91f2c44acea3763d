"""Athletes worked out together, against the same athletes one by one, and what they are told against what they do."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from random import Random

import pytest

from floorclock.clock.splits import Coming, Split
from floorclock.pace.model.forecast import ClassFit, Forecast, fit_class
from floorclock.pace.prior import MovePace, Prior
from floorclock.plan.work import Unit
from tests.pace.taps import NOT_FINISHED, UNTAPPED, rounds, split

NAMES = [f"Athlete {number}" for number in range(9)]
MOVES = ["swing", "step-up", "push-up"]


def of(name: str, splits: Sequence[Split]) -> list[Split]:
    return [replace(one, athlete=name) for one in splits]


def uneven_class(seed: int = 4) -> dict[str, list[Split]]:
    """Nobody has the same rounds: taps are missed, work is not finished, one came late and one has work of their own."""
    dice, found = Random(seed), {}
    for number, name in enumerate(NAMES):
        by_station: list[list[float | str]] = [[24 + dice.gauss(0, 3) - r for r in range(5)] for _ in MOVES]
        for _ in range(number % 4):
            by_station[dice.randrange(3)][dice.randrange(5)] = dice.choice([UNTAPPED, UNTAPPED, NOT_FINISHED])
        found[name] = of(name, rounds(*by_station))
    found[NAMES[3]] = [one for one in found[NAMES[3]] if one.round > 2]
    found[NAMES[5]] = [*found[NAMES[5]], *of(NAMES[5], [split(20, move="deadlift", round_number=r, station=7) for r in (4, 5)])]
    found[NAMES[6]] = []
    return found


def slots_of(name: str) -> list[Coming]:
    return [
        Coming(
            athlete=name,
            part=1,
            interval=10 * number + station,
            round=number,
            station=station,
            window_ms=60_000,
            margin_ms=15_000,
            move=move,
            amount=Fraction(amount),
            unit=Unit.REPS,
        )
        for number in (6, 7, 10)
        for station, (move, amount) in enumerate([*((move, 14) for move in MOVES), ("deadlift", 9), ("row", 14), ("swing", 0)])
    ]


def same(one: Forecast | None, other: Forecast | None) -> bool:
    if one is None or other is None:
        return one is other
    pairs = zip((one.split_ms, one.low_ms, one.high_ms), (other.split_ms, other.low_ms, other.high_ms), strict=True)
    return one.slot == other.slot and all(math.isclose(a, b, rel_tol=1e-9) for a, b in pairs)


def history(level_s: float, sd: float, names: Sequence[str]) -> Prior:
    level = math.log(level_s / 14)
    known = MovePace(level=level, level_sd=sd, drift=0.02, drift_sd=0.02, amount=Fraction(14), classes=3)
    return {(name, "swing", Unit.REPS): known for name in names}


class TestTogether:
    @pytest.mark.parametrize("prior", [{}, history(36, 0.05, NAMES[2:8])])
    @pytest.mark.parametrize("rounds_known", [0, 1, 2, 4, 5])
    def test_everybody_together_is_everybody_one_by_one(self, prior: Prior, rounds_known: int) -> None:
        everybody = uneven_class()
        fit = fit_class([one for own in everybody.values() for one in own if one.round <= rounds_known], prior)
        together = fit.paces_of(everybody)
        assert list(together) == NAMES
        assert any(pace.forecast(slots_of(name)[0]) for name, pace in together.items())
        for name, own in everybody.items():
            alone = fit.pace_of(name, own)
            assert together[name].drift == pytest.approx(alone.drift, abs=1e-12)
            assert together[name].drift_sd == pytest.approx(alone.drift_sd, rel=1e-9)
            slots = slots_of(name)
            for one, slot in zip(together[name].forecasts(slots), slots, strict=True):
                assert same(one, alone.forecast(slot))
            for taken in own:
                line, other = together[name].fitted_ms(taken), alone.fitted_ms(taken)
                assert line == other or line == pytest.approx(other, rel=1e-9)

    def test_forecasts_of_all_are_those_of_each(self) -> None:
        everybody = uneven_class()
        fit = fit_class([one for own in everybody.values() for one in own])
        paces = fit.paces_of(everybody)
        asked = [(pace, slots_of(name)) for name, pace in paces.items()]
        for (pace, slots), found in zip(asked, fit.forecasts_of(asked), strict=True):
            assert all(same(one, pace.forecast(slot)) for one, slot in zip(found, slots, strict=True))
        assert fit.forecasts_of([]) == []
        assert fit_class(()).pace_of("Noor", ()).forecasts(slots_of("Noor")) == (None,) * len(slots_of("Noor"))

    def test_it_does_not_matter_whether_a_split_was_read_before(self) -> None:
        everybody = uneven_class()
        fit = fit_class([one for own in everybody.values() for one in own])
        again = {name: [replace(one) for one in own] for name, own in everybody.items()}
        one, other = fit.paces_of(everybody), fit.paces_of(again)
        for name in NAMES:
            assert one[name].forecasts(slots_of(name)) == other[name].forecasts(slots_of(name))

    def test_a_correction_is_read_anew(self) -> None:
        everybody = uneven_class()
        splits = [one for own in everybody.values() for one in own]
        before = fit_class(splits)
        at = next(index for index, one in enumerate(splits) if one.split_ms)
        corrected = [*splits[:at], replace(splits[at], split_ms=12_000, corrected=True), *splits[at + 1 :]]
        warm, cold = fit_class(corrected, before=before), fit_class(corrected)
        name = splits[at].athlete
        own = [one for one in corrected if one.athlete == name]
        first, second = (fit.pace_of(name, own).forecast(slots_of(name)[0]) for fit in (warm, cold))
        assert first is not None
        assert second is not None
        assert first.split_ms == pytest.approx(second.split_ms, rel=0.005)


class TestToldWrong:
    """Told 30 s and sure of it, they take 40."""

    @pytest.mark.parametrize(("sd", "splits"), [(0.03, 4), (0.05, 3), (0.08, 2)])
    def test_a_history_that_is_sure_and_wrong_gives_way(self, sd: float, splits: int) -> None:
        everybody = {name: of(name, rounds([24, 23.5, 24, 23.5, 24, 24])) for name in NAMES}
        everybody["Ilka"] = of("Ilka", rounds([20] * splits))
        fit = fit_class([one for own in everybody.values() for one in own], history(30, sd, ["Ilka"]))
        assert swing(fit, everybody["Ilka"]).split_ms == pytest.approx(40_000, rel=0.02)

    def test_also_of_who_is_alone(self) -> None:
        known = history(30, 0.03, ["Ilka"])
        found = [swing(fit_class(own, known), own).split_ms for own in (of("Ilka", rounds([20] * n)) for n in (1, 6))]
        assert found[0] < 33_000
        assert found[1] == pytest.approx(40_000, rel=0.03)

    def test_one_that_is_right_keeps_its_weight(self) -> None:
        own = of("Ilka", rounds([24]))
        told, untold = (swing(fit_class(own, prior), own) for prior in (history(36, 0.03, ["Ilka"]), {}))
        assert told.high_ms / told.low_ms < untold.high_ms / untold.low_ms


def swing(fit: ClassFit, own: Sequence[Split]) -> Forecast:
    found = fit.pace_of("Ilka", own).forecast(replace(slots_of("Ilka")[0], round=own[-1].round + 1))
    assert found is not None
    return found
