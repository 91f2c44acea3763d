"""How far off the last of six rounds is after three, and how honest the intervals are.

    python -m tests.bench.forecast_accuracy

Each figure is a mean over all athletes and stations of a world at which there is a split to go by; all methods are asked about
the same ones. An error is in seconds against the time that the athlete really takes, even where it is beyond the window.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from itertools import chain
from typing import Final

import numpy as np

from floorclock.pace.model.forecast import fit_class
from tests.bench.common import Figure, print_table
from tests.bench.forecast_oracle import foresee
from tests.bench.forecast_rules import last_split, own_least_squares, own_theil_sen
from tests.bench.forecast_worlds import HARDER, NOISES, ROUNDS, SIZES, STATIONS, WORLDS, Array, InventedClass, World, grid

MOST_OF_LAST: Final = 0.78
MOST_OF_THEIL_SEN: Final = 0.70
MOST_OF_ORACLE: Final = 1.10
COVERED: Final = 80.0
MOST_OFF: Final = 5.0
METHODS: Final = ("ours", "last split", "own Theil-Sen", "own least squares", "oracle")


@dataclass(frozen=True, kw_only=True)
class Judged:
    """One class: the error in s by method, and for each interval whether it held the split and how wide it was."""

    made: InventedClass
    errors: dict[str, Array]
    held: Array
    oracle_held: Array
    width: Array
    oracle_width: Array


def judge(made: InventedClass) -> Judged:
    """Everybody's last round, foretold after half of the class."""
    last = made.course[:, :, -1] + made.noise[:, :, -1] + made.work_log()[:, :, -1]
    truth, low, middle, high = np.exp(last), *ours(made)
    oracle = foresee(made)
    foretold = {
        "ours": middle,
        "last split": last_split(made)[:, :, -1],
        "own Theil-Sen": own_theil_sen(made)[:, :, -1],
        "own least squares": own_least_squares(made)[:, :, -1],
        "oracle": np.exp(oracle.middle[:, :, -1]),
    }
    asked = np.isfinite(foretold["last split"])
    if not np.isfinite(middle[asked]).all():
        raise SystemExit("no forecast where the athlete has a split at the station")
    oracle_low, oracle_high = np.exp(oracle.low[:, :, -1]), np.exp(oracle.high[:, :, -1])
    return Judged(
        made=made,
        errors={name: np.abs(foretold[name] - truth)[asked] / 1000 for name in METHODS},
        held=((low <= truth) & (truth <= high))[asked].astype(float),
        oracle_held=((oracle_low <= truth) & (truth <= oracle_high))[asked].astype(float),
        width=(high - low)[asked] / 1000,
        oracle_width=(oracle_high - oracle_low)[asked] / 1000,
    )


def ours(made: InventedClass) -> tuple[Array, Array, Array]:
    """Low, middle and high of the last round by athlete and station, in ms; NaN where there is no forecast."""
    splits = made.splits()
    fit = fit_class(splits)
    found = np.full((3, made.size, made.stations), np.nan)
    for who, (name, coming) in enumerate(made.coming().items()):
        pace = fit.pace_of(name, [split for split in splits if split.athlete == name])
        for slot in coming:
            told = pace.forecast(slot) if slot.round == ROUNDS else None
            if told is not None:
                found[:, who, slot.station] = told.low_ms, told.split_ms, told.high_ms
    low, middle, high = found
    return low, middle, high


def mean(of: Callable[[Judged], Array], judged: Iterable[Judged]) -> float:
    """The mean over all cases of several classes."""
    return float(np.concatenate([of(one) for one in judged]).mean())


def error(method: str, judged: Sequence[Judged]) -> float:
    """The mean absolute error in s."""
    return mean(lambda one: one.errors[method], judged)


def against(what: str, method: str, judged: Sequence[Judged], most_times: float | None = None) -> Figure:
    """Our error beside that of another method."""
    baseline = error(method, judged)
    return Figure(what=what, value=error("ours", judged), unit="s", baseline=baseline, most_times=most_times)


def world_figures(world: World, judged: Sequence[Judged], *, judges: bool) -> list[Figure]:
    """The lines of one world; of a harder one only the intervals have a target."""
    covered, oracle_covered = (100 * mean(of, judged) for of in (lambda one: one.held, lambda one: one.oracle_held))
    return [
        against(f"{world.name}: error, by that of the last split", "last split", judged),
        against(f"{world.name}: error, by that of own Theil-Sen", "own Theil-Sen", judged),
        against(f"{world.name}: error, by that of own least squares", "own least squares", judged),
        against(f"{world.name}: error, by that of the oracle", "oracle", judged, MOST_OF_ORACLE if judges else None),
        Figure(
            what=f"{world.name}: off 80 % covered (we {covered:.1f}, oracle {oracle_covered:.1f})",
            value=abs(covered - COVERED),
            unit="points",
            most=MOST_OFF,
        ),
        Figure(
            what=f"{world.name}: width of the interval, by the oracle's",
            value=mean(lambda one: one.width, judged),
            unit="s",
            baseline=mean(lambda one: one.oracle_width, judged),
        ),
    ]


def overall_figures(judged: Sequence[Judged]) -> list[Figure]:
    """What the issue asks for, and how it differs with size, stations and noise."""
    groups = [(f"{size} athletes", [one for one in judged if one.made.size == size]) for size in SIZES]
    groups += [(f"{count} stations", [one for one in judged if one.made.stations == count]) for count in STATIONS]
    groups += [(f"noise {noise:.0%}", [one for one in judged if one.made.noise_sd == noise]) for noise in NOISES]
    found = [
        against("all worlds: error, by that of the last split", "last split", judged, MOST_OF_LAST),
        against("all worlds: error, by that of own Theil-Sen", "own Theil-Sen", judged, MOST_OF_THEIL_SEN),
        against("all worlds: error, by that of own least squares", "own least squares", judged),
        against("all worlds: error, by that of the oracle", "oracle", judged, MOST_OF_ORACLE),
    ]
    for words, some in groups:
        covered = 100 * mean(lambda one: one.held, some)
        found.append(against(f"{words}: error, by the oracle's (covered {covered:.1f} %)", "oracle", some))
        found.append(against(f"{words}: error, by that of the last split", "last split", some))
    return found


def figures() -> list[Figure]:
    """The table."""
    judged = {world: [judge(made) for made in grid(world)] for world in (*WORLDS, *HARDER)}
    found = [figure for world in judged for figure in world_figures(world, judged[world], judges=world in WORLDS)]
    return found + overall_figures(list(chain.from_iterable(judged[world] for world in WORLDS)))


def main() -> None:
    """Measures and prints."""
    print_table(figures())


if __name__ == "__main__":
    main()
