"""Random classes so small that every way to form start groups can be looked at, each with its own table of who uses what where.

`tests/bench` looks at 500 of them.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from fractions import Fraction
from random import Random

import numpy as np

from floorclock.plan.roster import Athlete, Roster
from floorclock.plan.session import Rotation, Session
from floorclock.plan.start_groups import Placed
from floorclock.plan.work import Load, LoadUnit, Option, Station

LOADS = {"strong": "24 kg", "new": "16 kg"}
Figures = tuple[int, int, int, int]
"""Largest less smallest group, pieces carried, levels uneven, and less one for everybody who stays in their group."""


@dataclass(frozen=True)
class SmallClass:
    """A class, and by rotation, person and station what they use: kind of kit and how many."""

    session: Session
    roster: Roster
    tables: list[list[list[dict[str, int]]]]
    has: dict[str, int]
    groups: int


def small_class(seed: int) -> SmallClass:
    """A class of 4 to 7 people with one or two rotations over 2 to 4 stations, with bells counted by load in one of three."""
    random = Random(seed)
    people, by_load = random.randint(4, 7), seed % 3 == 0
    athletes = [
        Athlete(name=f"P{number}", level=random.choice(("strong", "new")), group=random.randint(1, 4), options=_options(random))
        for number in range(people)
    ]
    if random.random() < 0.4:
        athletes[0] = Athlete(**{**vars(athletes[0]), "together": frozenset({"p1"})})
    if random.random() < 0.4:
        athletes[2] = Athlete(**{**vars(athletes[2]), "apart": frozenset({"P3"})})
    parts, tables = [], []
    for number in range(random.choice((1, 1, 2))):
        stations = [_station(random, f"{number}{at}") for at in range(random.randint(2, 4))]
        for_ms = 60_000 * random.choice((len(stations), len(stations), 2 * len(stations), len(stations) - 1))
        parts.append(Rotation(title=str(number), every_ms=60_000, for_ms=for_ms, work=tuple(stations)))
        tables.append([[_used(athlete, station, by_load) for station in stations] for athlete in athletes])
    groups = max(len(part.stations) for part in parts)
    whole: Counter[str] = Counter()
    for kind in ("bell", "box", "24 kg bell", "16 kg bell"):
        most = max(sum(use.get(kind, 0) for row in table for use in row) / len(table[0]) for table in tables)
        whole[kind] = max(0, round(most + random.choice((-0.4, 0.5, 1, 1.5))))
    if by_load:
        loads = {load: whole[f"{load} bell"] for load in LOADS.values()}
        whole["bell"] = sum(loads.values())
    session = Session(
        title="x",
        parts=tuple(parts),
        kit={"bell": whole["bell"], "box": whole["box"]},
        kit_loads={"bell": loads} if by_load else {},
    )
    known = frozenset(athlete.name for athlete in athletes if random.random() < 0.6)
    kinds = ("bell", "box", *((f"{load} bell" for load in LOADS.values()) if by_load else ()))
    return SmallClass(
        session, Roster(title="x", athletes=tuple(athletes), grouped=known), tables, {k: whole[k] for k in kinds}, groups
    )


def _options(random: Random) -> dict[str, str]:
    return {f"{part}{at}": "other" for part in range(2) for at in range(4) if random.random() < 0.3}


def _station(random: Random, move: str) -> Station:
    kit = random.choice([(), (("bell", 1),), (("bell", 2),), (("box", 1),), (("bell", 1), ("box", 1))])
    other = random.choice([(), (("bell", 1),), (("box", 1),)])
    load = Load(
        Fraction(24), LoadUnit.KG, tuple((level, Load(Fraction(words[:2]), LoadUnit.KG)) for level, words in LOADS.items())
    )
    return Station(move=move, kit=kit, load=load, options=(Option("other", f"{move} other", None, other, load=load),))


def _used(athlete: Athlete, station: Station, by_load: bool) -> dict[str, int]:
    """By hand: the option where they take it, else the station; bells by their load too."""
    used = dict(station.options[0].kit if station.move in athlete.options else station.kit)
    if by_load and "bell" in used:
        used[f"{LOADS[athlete.level]} bell"] = used["bell"]
    return used


def brute_force(one: SmallClass) -> Figures | None:
    """The best figures of all ways to form groups in which nobody waits; None where there are none."""
    athletes, groups = one.roster.athletes, one.groups
    people = len(athletes)
    ways = np.array(np.unravel_index(np.arange(groups**people), (groups,) * people)).T
    keep = np.ones(len(ways), bool)
    index = {athlete.name.casefold(): at for at, athlete in enumerate(athletes)}
    for at, athlete in enumerate(athletes):
        for name in athlete.together:
            keep &= ways[:, at] == ways[:, index[name.casefold()]]
        for name in athlete.apart:
            keep &= ways[:, at] != ways[:, index[name.casefold()]]
    carried = np.zeros(len(ways), int)
    for part, table in zip(one.session.parts, one.tables, strict=True):
        assert isinstance(part, Rotation)
        fits, more = _kit(part, table, one, ways)
        keep &= fits
        carried += more
    sizes = np.stack([(ways == group).sum(1) for group in range(groups)])
    uneven = np.zeros(len(ways), int)
    for level in LOADS:
        own = np.array([athlete.level == level for athlete in athletes])
        each = np.stack([((ways == group) & own).sum(1) for group in range(groups)])
        uneven += each.max(0) - each.min(0)
    stays = sum((ways[:, at] == athlete.group - 1) for at, athlete in enumerate(athletes) if athlete.name in one.roster.grouped)
    stays = np.zeros(len(ways), int) + stays
    figures = np.stack([sizes.max(0) - sizes.min(0), carried, uneven, -stays], 1)[keep]
    return min(map(tuple, figures.tolist()), default=None)


def _kit(part: Rotation, table: list[list[dict[str, int]]], one: SmallClass, ways: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Which ways keep everybody from waiting, and how many pieces each way carries, window by window."""
    stations, windows = len(part.stations), min(len(part.stations), part.count)
    fits, carried = np.ones(len(ways), bool), np.zeros(len(ways), int)
    loads = [athlete.level for athlete in one.roster.athletes]
    for kind, has in one.has.items():
        peaks: dict[tuple[int, str], np.ndarray] = {}
        for window in range(windows):
            total = np.zeros(len(ways), int)
            for station in range(stations):
                here = (ways + window) % stations == station
                for level in LOADS:
                    own = np.array([row[station].get(kind, 0) * (loads[at] == level) for at, row in enumerate(table)])
                    used = (here * own).sum(1)
                    total += used
                    if own.any():
                        peaks[station, level] = np.maximum(peaks.get((station, level), 0), used)
            fits &= total <= has
        narrow = kind == "box" or kind[0].isdigit() or not one.session.kit_loads
        if len(peaks) > 1 and narrow:
            carried += np.maximum(0, sum(peaks.values()) - has)
    return fits, carried


def figures_of(one: SmallClass, placed: Placed) -> Figures | None:
    """The figures of an answer; None where there is none."""
    if not placed.groups:
        return None
    groups = range(1, one.groups + 1)
    sizes = [sum(own == group for own in placed.groups.values()) for group in groups]
    each = [
        [sum(at.level == level and placed.groups[at.name] == group for at in one.roster.athletes) for group in groups]
        for level in LOADS
    ]
    stays = sum(placed.groups[at.name] == at.group for at in one.roster.athletes if at.name in one.roster.grouped)
    carried = sum(piece.pieces for piece in placed.carried)
    return max(sizes) - min(sizes), carried, sum(max(many) - min(many) for many in each), -stays
