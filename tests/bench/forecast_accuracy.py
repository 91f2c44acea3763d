"""How far off the rounds to come are after two, three and half of the rounds, and how honest the ranges are.

All athletes, stations and rounds to come at which there is a split to go by; every method is asked about the same ones. An error
is in seconds, between times that end with the interval: what is not done in it is not told apart. It is given as a ratio to
repeating the last split. Mixed models by statsmodels are fitted in the same run, to the first classes of each world.
"""

from __future__ import annotations

import warnings
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from scipy.stats import theilslopes

from floorclock.pace.model.forecast import fit_class
from tests.bench.bodies import WINDOW_S, Array, Flags, InventedClass, World, by_world, invent
from tests.bench.common import Figure

CLASSES: Final = 16
MIXED_CLASSES: Final = 4
Foretold = Array
"""(low, middle, high) by athlete, station, round, in s; NaN where nothing is said."""


def ours(made: InventedClass, seen: int) -> Foretold:
    """The forecast of the floor."""
    splits = made.splits(seen)
    fit, found = fit_class(splits), np.full((3, *made.amounts.shape), np.nan)
    for who, (name, coming) in enumerate(made.coming(seen).items()):
        pace = fit.pace_of(name, [split for split in splits if split.athlete == name])
        for slot, told in zip(coming, pace.forecasts(coming), strict=True):
            if told is not None:
                found[:, who, slot.station, slot.round - 1] = told.low_ms, told.split_ms, told.high_ms
    return found / 1000


def own_theil_sen(made: InventedClass, seen: int) -> Foretold:
    """A line for each athlete and station through the splits in proportion to the work (scipy); level where there is one."""
    known, found = seen_s(made, seen), np.full((3, *made.amounts.shape), np.nan)
    for place in np.ndindex(made.amounts.shape[:2]):
        at = np.flatnonzero(np.isfinite(known[place]))
        if len(at):
            y = known[place][at] / made.amounts[place][at]
            slope = theilslopes(y, at).slope if len(at) > 1 else 0.0
            found[:, *place] = (np.median(y - slope * at) + slope * np.arange(made.rounds)) * made.amounts[place]
    return found


def last_split(made: InventedClass, seen: int) -> Foretold:
    """The last split again, whatever the work."""
    known = seen_s(made, seen)[..., :seen]
    newest = seen - 1 - np.argmax(np.isfinite(known)[..., ::-1], axis=-1)
    again = np.take_along_axis(known, newest[..., None], axis=-1)
    return np.asarray(np.broadcast_to(again, (3, *made.amounts.shape)))


def mixed_model(made: InventedClass, seen: int) -> Foretold:
    """Log times: a level for each station, a drift for all, an own level and drift for each athlete (statsmodels)."""
    from statsmodels.regression.mixed_linear_model import MixedLM  # type: ignore[import-untyped]

    known = seen_s(made, seen)
    who, station, number = np.nonzero(np.isfinite(known))
    stations = known.shape[1]

    def fixed(station: Any, number: Any) -> Array:
        return np.column_stack([station[:, None] == np.arange(stations), number]).astype(float)

    y = np.log(known[who, station, number] / made.amounts[who, station, number])
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        drawn = np.column_stack([np.ones(len(y)), number])
        model: Any = MixedLM(y, fixed(station, number), groups=who, exog_re=drawn).fit(method="lbfgs")
        try:
            effects = model.random_effects
        except np.linalg.LinAlgError:
            effects = {}
    found = np.full((3, *known.shape), np.nan)
    every_station, every_round = (
        grid.ravel() for grid in np.meshgrid(np.arange(stations), np.arange(made.rounds), indexing="ij")
    )
    for athlete in range(len(known)):
        level, drift = np.asarray(effects.get(athlete, (0.0, 0.0)))
        lines = fixed(every_station, every_round) @ np.asarray(model.fe_params) + level + drift * every_round
        found[:, athlete] = np.exp(lines).reshape(known.shape[1:]) * made.amounts[athlete]
    return found


def seen_s(made: InventedClass, seen: int) -> Array:
    """The splits that were taken in so many rounds; NaN where there is none."""
    there = (made.tapped_s <= WINDOW_S) & (np.arange(made.rounds) < seen)
    return np.where(there, made.tapped_s, np.nan)


METHODS: Final[Mapping[str, Callable[[InventedClass, int], Foretold]]] = {
    "ours": ours, "last split": last_split, "own Theil-Sen": own_theil_sen, "mixed model": mixed_model,
}  # fmt: skip
OTHERS: Final = tuple(METHODS)[1:]


@dataclass(frozen=True, kw_only=True)
class Judged:
    """Errors in s by method, one for each case, and which cases the range held; `few` are errors of the first classes only."""

    errors: dict[str, Array]
    held: Flags
    few: dict[str, Array]


def judge(world: World, classes: int = CLASSES, mixed_classes: int = MIXED_CLASSES) -> Judged:
    """All classes of a world."""
    errors: dict[str, list[Array]] = {name: [] for name in METHODS}
    few: dict[str, list[Array]] = {name: [] for name in METHODS}
    held = []
    for seed in range(classes):
        made = invent(world, seed)
        truth = np.minimum(made.took_s, WINDOW_S)
        for seen in sorted({2, 3, made.rounds // 2}):
            methods = {name: METHODS[name] for name in METHODS if name != "mixed model" or seed < mixed_classes}
            told = {name: np.minimum(method(made, seen), WINDOW_S) for name, method in methods.items()}
            asked = np.isfinite(told["last split"][1]) & (np.arange(made.rounds) >= seen)
            if not np.isfinite(told["ours"][1][asked]).all():
                raise SystemExit("no forecast where the athlete has a split at the station")
            for name in methods:
                error = np.abs(told[name][1] - truth)[asked]
                errors[name].append(error)
                if seed < mixed_classes:
                    few[name].append(error)
            held.append(((told["ours"][0] <= truth) & (truth <= told["ours"][2]))[asked])
    return Judged(
        errors={name: np.concatenate(each) for name, each in errors.items() if each},
        held=np.concatenate(held),
        few={name: np.concatenate(each) for name, each in few.items() if each},
    )


def ratio(judged: Judged, other: str) -> float:
    """Our mean error by that of another method."""
    errors = judged.few if other == "mixed model" else judged.errors
    return float(errors["ours"].mean() / errors[other].mean())


def family(words: str, judged: Mapping[World, Judged], most: float, most_mixed: float) -> list[Figure]:
    """The lines of one family of worlds."""
    found = []
    for world, one in judged.items():
        last, covered = ratio(one, "last split"), 100 * float(one.held.mean())
        beside = ", ".join(f"{ratio(one, name):.2f} of {name}" for name in OTHERS[1:])
        found.append(Figure(f"{world.name}: of last split ({beside})", last, "x", most=1.10))
        found.append(Figure(f"{world.name}: ranges miss", 100 - covered, "%", most=30))
    mean = {name: float(np.mean([ratio(one, name) for one in judged.values()])) for name in OTHERS}
    missed = 100 - 100 * float(np.mean(np.concatenate([one.held for one in judged.values()])))
    return [
        *found,
        Figure(f"{words}: mean ratio to the last split", mean["last split"], "x", most=most),
        Figure(f"{words}: mean ratio to own Theil-Sen", mean["own Theil-Sen"], "x"),
        Figure(f"{words}: mean ratio to the mixed model", mean["mixed model"], "x", most=most_mixed),
        Figure(f"{words}: ranges miss more or less than 17.5 %", abs(missed - 17.5), "points", most=5.5),
    ]


def figures(worlds: Sequence[World], old: Sequence[World]) -> list[Figure]:
    """The table."""
    return [
        *family("bodies and shapes", by_world(judge, worlds), most=0.88, most_mixed=0.85),
        *family("old worlds", by_world(judge, old), most=0.78, most_mixed=1.0),
    ]
