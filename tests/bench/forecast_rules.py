"""What one athlete's own splits at one station say, without the class: the rules that a forecast has to be better than.

Invariant: a rule sees the splits of one athlete alone, in time for the reference amount, and answers for later rounds; NaN
where nothing was tapped there.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

import numpy as np

from floorclock.pace.stats import median, theil_sen
from tests.bench.forecast_worlds import MARGIN_MS, ROUNDS, SEEN, WINDOW_MS, Array, Flags, InventedClass

Rule = Callable[[InventedClass], Array]
"""Athlete by station by round: the time in ms that the rule foresees, for the amount of that round."""


def seen(made: InventedClass, rounds: int = SEEN) -> Flags:
    """Where there is a split after so many rounds."""
    in_time = made.course + made.noise + made.work_log() <= np.log(WINDOW_MS)
    return np.asarray(made.tapped & in_time & (np.arange(ROUNDS) < rounds))


def last_split(made: InventedClass) -> Array:
    """The last split again."""
    return _each(made, lambda rounds, paces: (0.0, paces[-1]))


def own_theil_sen(made: InventedClass) -> Array:
    """The athlete's own Theil-Sen line at the station."""
    return _each(made, _theil_sen)


def own_least_squares(made: InventedClass) -> Array:
    """The athlete's own least-squares line at the station."""
    return _each(made, _least_squares)


def half_theil_sen(made: InventedClass) -> Array:
    """The same line half as steep, through the middle of the splits."""
    return _each(made, lambda rounds, paces: _turned(rounds, paces, 0.5 * _theil_sen(rounds, paces)[0]))


def own_mean(made: InventedClass) -> Array:
    """The mean of the splits."""
    return _each(made, lambda rounds, paces: (0.0, float(np.mean(paces))))


def own_slope_everywhere(made: InventedClass) -> Array:
    """From the middle of the splits on with the mean of the athlete's own slopes at all stations."""
    return _shared(made, 1.0)


def half_slope_everywhere(made: InventedClass) -> Array:
    """The same, half as steep."""
    return _shared(made, 0.5)


def rest_lost(made: InventedClass) -> Array:
    """By how much rest shrinks with each round, wherever it stands."""
    slopes = _each(made, lambda rounds, paces: (0.0, _least_squares(rounds, paces)[0]))
    return slopes + (WINDOW_MS - MARGIN_MS)


RULES: Final[dict[str, Rule]] = {
    "last rest": last_split,
    "mean rest": own_mean,
    "own Theil-Sen": own_theil_sen,
    "own least squares": own_least_squares,
    "own Theil-Sen, half": half_theil_sen,
    "own slope": own_slope_everywhere,
    "own slope, half": half_slope_everywhere,
    "rest lost a round": rest_lost,
}
"""All of them, by what they look at: the larger the time, the more urgent."""
PLAIN: Final = ("last rest", "mean rest", "own Theil-Sen", "own least squares", "rest lost a round")
"""Those that somebody with a clock and a pencil would think of. The others know how much of a slope to believe."""


def _theil_sen(rounds: list[int], paces: list[float]) -> tuple[float, float]:
    if len(rounds) < 2:
        return 0.0, median(paces)
    line = theil_sen(rounds, paces)
    return line.slope, line.intercept


def _least_squares(rounds: list[int], paces: list[float]) -> tuple[float, float]:
    """Slope and intercept; two points are enough for a line, one for none."""
    if len(rounds) < 2:
        return 0.0, paces[0]
    x, y = np.array(rounds, dtype=float), np.array(paces)
    slope = float(((x - x.mean()) @ (y - y.mean())) / ((x - x.mean()) @ (x - x.mean())))
    return slope, float(y.mean() - slope * x.mean())


def _turned(rounds: list[int], paces: list[float], slope: float) -> tuple[float, float]:
    return slope, float(np.mean(paces) - slope * np.mean(rounds))


def _each(made: InventedClass, line: Callable[[list[int], list[float]], tuple[float, float]]) -> Array:
    """A line for each athlete and station, in time for the reference amount, and then for the amounts of the rounds."""
    known, factors = seen(made), np.exp(made.work_log())
    paces = np.exp(made.course + made.noise)
    found = np.full(made.course.shape, np.nan)
    for place in np.ndindex(made.course.shape[:2]):
        rounds = [int(r) + 1 for r in np.flatnonzero(known[place])]
        if rounds:
            slope, intercept = line(rounds, [float(pace) for pace in paces[place][known[place]]])
            found[place] = slope * np.arange(1, ROUNDS + 1) + intercept
    return np.asarray(found * factors)


def _shared(made: InventedClass, share: float) -> Array:
    known, gone = seen(made), np.arange(ROUNDS)
    logs = np.where(known, made.course + made.noise, 0.0)
    counts = known.sum(axis=2)
    with np.errstate(invalid="ignore", divide="ignore"):
        middle, centre = logs.sum(axis=2) / counts, (known * gone).sum(axis=2) / counts
    off = np.where(known, gone - np.nan_to_num(centre)[..., None], 0.0)
    spread = (off**2).sum(axis=(1, 2))
    slope = share * (off * logs).sum(axis=(1, 2)) / np.where(spread > 0, spread, 1.0)
    ahead = middle[..., None] + slope[:, None, None] * (gone - centre[..., None])
    return np.asarray(np.exp(ahead + made.work_log()))
