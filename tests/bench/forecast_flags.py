"""Whether `runs out` after three of six rounds is right, and whether flags hold still.

    python -m tests.bench.forecast_flags

A case is an athlete at a station whose latest tapped round was not tight. It runs out when the margin goes there in a later
round, as the athlete really takes it. Each rule that knows one athlete alone calls as many cases as we do, its most urgent ones.
We are compared with the best of the plain rules in each world, and over all worlds also with the best of all, both chosen after
the fact, which flatters them. With as many called, precision and recall are both above those of a rule where fewer of the calls
are in vain; then also less runs out uncalled.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np

from floorclock.clock.splits import Split
from floorclock.pace.flags import Flag
from floorclock.pace.pacing import Outlook, PartPacing, look_back
from tests.bench.common import Figure, print_table
from tests.bench.forecast_oracle import foresee
from tests.bench.forecast_rules import PLAIN, RULES
from tests.bench.forecast_worlds import (
    HARDER,
    MARGIN_MS,
    ROUNDS,
    SEEN,
    WINDOW_MS,
    WORLDS,
    Array,
    Flags,
    InventedClass,
    World,
    grid,
    invent,
)

CLASS_SIZES: Final = (6, 12, 40)
CLASS_STATIONS: Final = (1, 3, 5)
FEWER: Final = 0.999
"""Both shares must be above those of the best rule, so what is wrong must be less."""
WATCHED: Final = (Flag.RUNS_OUT, Flag.FADING)
MOST_RETURNS: Final = 10.0
EVEN: Final = 0.5
ONE_LEVEL: Final = "one level"


@lru_cache(maxsize=16)
def looked_at(world: World) -> tuple[tuple[InventedClass, Mapping[str, Outlook]], ...]:
    """Classes of a world with what the floor would have said of everybody after round 3."""
    classes = grid(world, CLASS_SIZES, CLASS_STATIONS)
    return tuple((made, look_back(made.part, made.splits(), made.whole(), made.coming())) for made in classes)


@dataclass(frozen=True, slots=True)
class Cases:
    """One value for each case: whether we call it, whether it runs out, and by rule how urgent it is."""

    called: Flags
    goes: Flags
    urgency: Mapping[str, Array]


def cases(made: InventedClass, outlooks: Mapping[str, Outlook]) -> Cases:
    """Every athlete at every station that was not tight when last tapped."""
    took = np.exp(made.course + made.noise + made.work_log())
    tight = took > WINDOW_MS - MARGIN_MS
    fresh, goes = ~already_tight(made, tight), np.asarray(tight[:, :, SEEN:].any(axis=2))
    urgency = {name: np.nan_to_num(rule(made)[:, :, SEEN:].max(axis=2), nan=-np.inf)[fresh] for name, rule in RULES.items()}
    urgency["oracle"] = _oracle_urgency(made)[fresh]
    return Cases(called_at(made, outlooks)[fresh], goes[fresh], urgency)


def already_tight(made: InventedClass, tight: Flags) -> Flags:
    """Where the latest round that anybody knows of was tight, or not finished: that flag stands there, and needs no forecast."""
    found = np.zeros(tight.shape[:2], dtype=bool)
    for number in range(SEEN):
        found = np.where(made.tapped[:, :, number], tight[:, :, number], found)
    return found


def called_at(made: InventedClass, outlooks: Mapping[str, Outlook]) -> Flags:
    """By athlete and station: whether `runs out` stands there."""
    stations = range(made.stations)
    return np.array([[station in outlooks[name].running_out for station in stations] for name in made.names], dtype=bool)


def together(found: Sequence[Cases]) -> Cases:
    """The cases of several classes as one."""
    urgency = {rule: np.concatenate([one.urgency[rule] for one in found]) for rule in found[0].urgency}
    return Cases(np.concatenate([one.called for one in found]), np.concatenate([one.goes for one in found]), urgency)


def _oracle_urgency(made: InventedClass) -> Array:
    """How many of its own spreads the oracle is beyond the margin, in the worst round to come."""
    seen = foresee(made)
    beyond = seen.middle - np.log(WINDOW_MS - MARGIN_MS)
    return np.asarray((beyond / (seen.high - seen.low))[:, :, SEEN:].max(axis=2))


def right_by_rule(found: Cases, calls: int) -> dict[str, int]:
    """How many of its most urgent calls are right, by rule."""
    first = {rule: np.argsort(-urgency, kind="stable")[:calls] for rule, urgency in found.urgency.items()}
    return {rule: int(found.goes[places].sum()) for rule, places in first.items()}


def flag_figures(words: str, found: Cases, *, judges: bool, all_worlds: bool = False) -> list[Figure]:
    """Called in vain and run out uncalled, beside the best rule for one athlete, the best plain one, and the oracle."""
    calls, goes = int(found.called.sum()), int(found.goes.sum())
    if not calls:
        return [Figure(what=f"{words}: `runs out` was never raised", value=100, unit="%", most=0)]
    right = right_by_rule(found, calls)
    ours = int((found.called & found.goes).sum())
    best, plain = max(RULES, key=right.__getitem__), max(PLAIN, key=right.__getitem__)
    lines = []
    for what, of in ((f"called in vain, of {calls}", calls), (f"ran out uncalled, of {goes}", goes)):
        value = short_of(ours, of)
        # Few cases of one world are a matter of luck beside the best rule of all, so that is asked over all worlds only.
        beside = (("", plain, True), ("  by ", best, all_worlds), ("  by the ", "oracle", False))
        for before, rule, asked in beside:
            line = f"{before}{rule}" if before else f"{words}: {what}, by {rule}"
            baseline = short_of(right[rule], of)
            lines.append(
                Figure(what=line, value=value, unit="%", baseline=baseline, most_times=FEWER if judges and asked else None)
            )
    return lines


def short_of(right: int, of: int) -> float:
    """The share that is wrong, in per cent."""
    return 100 * (1 - right / of)


def returns(seen: Sequence[bool]) -> int:
    """How often something went and came again."""
    raised = sum(now and not before for before, now in zip((False, *seen), seen, strict=False))
    return max(0, raised - 1)


def watched(made: InventedClass) -> list[dict[str, int]]:
    """How often each flag came again, athlete by athlete, when all six rounds are looked at after every interval."""
    pacing, splits, whole = PartPacing(made.part), made.splits(ROUNDS), made.whole()
    own = {name: [split for split in splits if split.athlete == name] for name in made.names}
    seen: dict[str, list[dict[str, bool]]] = {name: [] for name in made.names}
    for interval in range(ROUNDS * made.stations):
        # As on the floor: after the taps of an interval, and again once the class is fitted to them.
        for _ in range(2):
            for name in made.names:
                outlook = pacing.look(_until(own[name], interval), whole[name], whole[name][interval + 1 :])
                up = {flag.value: flag in outlook.standing.flags for flag in WATCHED}
                seen[name].append({**up, ONE_LEVEL: any(one.chance_tight() >= EVEN for one in outlook.forecasts)})
            pacing.settle(interval, _until(splits, interval))
    return [{what: returns([look[what] for look in looks]) for what in looks[0]} for looks in seen.values()]


def _until(splits: Sequence[Split], interval: int) -> list[Split]:
    return [split for split in splits if split.interval <= interval]


def flicker_figures(world: World) -> list[Figure]:
    """How often flags come again, beside a `runs out` without a rule that holds it: a chance of one half, up or down."""
    classes = [
        invent(world, size=12, stations=stations, noise_sd=noise_sd, seed=7) for stations in (1, 3) for noise_sd in (0.03, 0.08)
    ]
    counts = [count for made in classes for count in watched(made)]
    per_hundred = {what: 100 * sum(count[what] for count in counts) / len(counts) for what in counts[0]}
    return [
        Figure(
            what=f"{world.name}: `{flag}` came again, of 100 athletes",
            value=per_hundred[flag],
            unit="",
            baseline=per_hundred[ONE_LEVEL] if flag is Flag.RUNS_OUT else None,
            most=MOST_RETURNS,
        )
        for flag in WATCHED
    ]


def figures() -> list[Figure]:
    """The table."""
    by_world = {world: together([cases(*looked) for looked in looked_at(world)]) for world in (*WORLDS, *HARDER)}
    found = [figure for world, here in by_world.items() for figure in flag_figures(world.name, here, judges=world in WORLDS)]
    found += flag_figures("all worlds", together([by_world[world] for world in WORLDS]), judges=True, all_worlds=True)
    return found + [figure for world in WORLDS for figure in flicker_figures(world)]


def main() -> None:
    """Measures and prints."""
    print_table(figures())


if __name__ == "__main__":
    main()
