"""Whether flags come true and in time, and whether who takes the advice keeps the margin, and at what cost.

`runs out`: a case is an athlete at a station that kept the margin in its first two rounds; it runs out when the margin goes
there later, as the athlete really takes it. A call counts when it was raised before that; an alarm is false where the margin
never went.

`fading`: after round 3, by what the athlete has really lost since round 1 at the station where it is most.

Advice: everybody called after half of the rounds is given what is advised, and the rest of the class is played again with the
same luck. The margin is kept when it is kept in all rounds to come. An oracle gives the largest share of the plan that does, in
hindsight.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import Final

import numpy as np

from floorclock.pace.advice import Way
from floorclock.pace.flags import Flag
from floorclock.pace.pacing import Outlook, look_back
from tests.bench.bodies import MARGIN_S, WINDOW_S, Array, Flags, InventedClass, World, by_world, invent
from tests.bench.common import Figure

CLASSES: Final = 16
FADED_S, HELD_S = 6.0, 1.0
SHARES: Final = np.arange(1.0, 0.29, -0.05)
CLEARLY: Final = 0.95
"""A target would clearly have held when the times were this share of what the margin leaves, or less."""


def judge(world: World) -> Counter[str]:
    """All counts of a world."""
    found: Counter[str] = Counter()
    for seed in range(CLASSES):
        made = invent(world, 100 + seed)
        known = made.splits(made.rounds)
        outlooks = look_back(made.part, known, made.whole(), {})
        _count_runs_out(made, outlooks, found)
        _count_fading(made, outlooks, found)
        _count_advice(made, found)
    return found


def _count_runs_out(made: InventedClass, outlooks: dict[str, Outlook], found: Counter[str]) -> None:
    gone: Flags = np.asarray(made.took_s > WINDOW_S - MARGIN_S, dtype=bool)
    called = _raised(made, outlooks, Flag.RUNS_OUT)
    for place in np.ndindex(gone.shape[:2]):
        if gone[(*place, slice(2))].any() or made.rounds < 3:
            continue
        goes = int(np.argmax(gone[(*place, ...)])) if gone[(*place, ...)].any() else made.rounds
        first = int(np.argmax(called[(*place, ...)])) if called[(*place, ...)].any() else made.rounds
        runs_out, in_time = goes < made.rounds, first < goes
        found["cases that hold"] += not runs_out
        found["false alarms"] += in_time and not runs_out
        found["run out"] += runs_out
        found["called in time"] += in_time and runs_out
        found["lead"] += (goes - first) if in_time and runs_out else 0


def _count_fading(made: InventedClass, outlooks: dict[str, Outlook], found: Counter[str]) -> None:
    if made.world.ladder:
        return
    named = np.asarray(_raised(made, outlooks, Flag.FADING)[:, :, 2].any(axis=1), dtype=bool)
    smooth = made.took_s / np.exp(made.luck["noise"])
    lost_s = (smooth[:, :, 2] - smooth[:, :, 0]).mean(axis=1)
    seen = np.asarray(np.isfinite(made.tapped_s[:, :, :3]).all(axis=2), dtype=bool)
    counted = seen.any(axis=1)
    for who in np.flatnonzero(counted):
        found["6 s down"] += bool(lost_s[who] >= FADED_S)
        found["6 s down, named"] += bool(lost_s[who] >= FADED_S and named[who])
        found["under 1 s"] += bool(lost_s[who] < HELD_S)
        found["under 1 s, named"] += bool(lost_s[who] < HELD_S and named[who])


def _raised(made: InventedClass, outlooks: dict[str, Outlook], flag: Flag) -> Flags:
    found = np.zeros(made.amounts.shape, dtype=bool)
    for who, (name, slots) in enumerate(made.whole().items()):
        for slot in slots:
            found[who, slot.station, slot.round - 1] = flag in outlooks[name].flags.get(slot.interval, ())
    return found


def _count_advice(made: InventedClass, found: Counter[str]) -> None:
    seen = made.rounds // 2
    known = made.splits(seen)
    outlooks = look_back(made.part, known, made.whole(), made.coming(seen))
    planned, given = made.amounts[..., seen:], made.amounts.copy()
    advised = np.zeros(planned.shape[:2], dtype=bool)
    sufficient = _sufficient(made, seen)
    clearly = np.asarray((made.took_s[..., seen:] <= CLEARLY * (WINDOW_S - MARGIN_S)).all(axis=2), dtype=bool)
    for who, name in enumerate(made.names):
        outlook = outlooks[name]
        called = set(outlook.running_out) | {one.station for one in outlook.advice if one.way is not Way.MORE}
        if outlook.standing.station is not None and outlook.standing.flag is not Flag.FADING:
            called.add(outlook.standing.station)
        for station in called:
            advice = next((one for one in outlook.advice if one.station == station and one.way is not Way.MORE), None)
            found["called"] += 1
            likely_as_it_is = outlook.chances.get(station, 1.0) < 0.5
            found["called without a number"] += advice is None and not likely_as_it_is
            if advice is not None and advice.target is not None:
                given[who, station, seen:] = [float(advice.target.in_round(number + 1)) for number in range(seen, made.rounds)]
                advised[who, station] = "may not" not in advice.words
                found["said it may not hold"] += "may not" in advice.words
        found["would clearly hold"] += int(clearly[who].sum())
    cut = given[..., seen:].sum(axis=2) / planned.sum(axis=2)
    found["left alone"] += int((clearly & (cut >= 1)).sum())
    kept = (made.played(given)[..., seen:] <= WINDOW_S - MARGIN_S).all(axis=2)
    found["advised"] += int(advised.sum())
    found["kept"] += int((advised & kept).sum())
    found["cut, %"] += round(float((100 * (1 - cut))[advised].sum()))
    found["needed cut, %"] += round(float((100 * (1 - sufficient))[advised].sum()))


def _sufficient(made: InventedClass, seen: int) -> Array:
    """The largest share of the work to come with which the margin is kept in all rounds; the least tried where none is."""
    found = np.full(made.amounts.shape[:2], SHARES[-1])
    for share in SHARES[::-1]:
        amounts = made.amounts.copy()
        amounts[..., seen:] *= share
        kept = (made.played(amounts)[..., seen:] <= WINDOW_S - MARGIN_S).all(axis=2)
        found = np.where(kept, share, found)
    return found


def share(found: Counter[str], some: str, of: str) -> float:
    """In percent."""
    return 100 * found[some] / max(1, found[of])


def figures_of(words: str, found: Counter[str], least_kept: float) -> list[Figure]:
    """The lines of a world, or of all."""
    called, advised = found["called in time"] + found["false alarms"], max(1, found["advised"])
    oracle = found["needed cut, %"] / advised
    rows: list[tuple[str, float, float]] = [
        (f"`runs out` in vain, of {called}", 100 * found["false alarms"] / max(1, called), 30),
        (f"run out uncalled, of {found['run out']}", 100 - share(found, "called in time", "run out"), 35),
        ("rounds of lead short of two", 2 - found["lead"] / max(1, found["called in time"]), 0),
        ("false alarms, of those that hold", share(found, "false alarms", "cases that hold"), 12),
        (f"6 s down, not named, of {found['6 s down']}", 100 - share(found, "6 s down, named", "6 s down"), 15),
        (f"under 1 s down, named, of {found['under 1 s']}", share(found, "under 1 s, named", "under 1 s"), 4),
        (f"called without a number, of {found['called']}", share(found, "called without a number", "called"), 2),
        (f"given numbers that went, of {advised}", 100 - share(found, "kept", "advised"), 100 - least_kept),
        (f"cut on average (oracle {oracle:.0f})", found["cut, %"] / advised, 22),
        ("would clearly hold, yet cut", 100 - share(found, "left alone", "would clearly hold"), 33),
    ]
    return [Figure(f"{words}: {what}", value, "%", most=most) for what, value, most in rows]


def figures(worlds: Sequence[World], old: Sequence[World]) -> list[Figure]:
    """The table."""
    found, together = by_world(judge, (*worlds, *old)), Counter[str]()
    for one in found.values():
        together.update(one)
    each = [figure for world, one in found.items() for figure in figures_of(world.name, one, 75)]
    return each + figures_of("all", together, 88)
