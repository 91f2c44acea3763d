"""Invented classes in which anything may happen, as journals; and what `pace` and `clock` say of them, one by one."""

from __future__ import annotations

import random
from collections.abc import Iterator, Sequence
from datetime import UTC, datetime
from fractions import Fraction
from pathlib import Path

from floorclock.clock.events import (
    ClassEnded,
    EffortRated,
    Event,
    Joined,
    Left,
    MarginChanged,
    NotFinished,
    OptionChosen,
    PartBegun,
    PartEnded,
    Paused,
    Regrouped,
    ResultEntered,
    Resumed,
    Skipped,
    SplitCorrected,
    Stretched,
    Tapped,
    TapTakenBack,
    TargetChanged,
    WentBack,
)
from floorclock.clock.splits import Split
from floorclock.clock.state import ClassState
from floorclock.clock.tally import splits
from floorclock.journal.reading import Header
from floorclock.pace.flags import Flag, flags
from floorclock.plan.roster import Athlete, Roster
from floorclock.plan.work import Target, Unit
from tests.journal.sample_class import journal_of, sample_header

STARTED = datetime(2026, 11, 25, 18, 31, 4, 120_000, UTC)
NAMES = ("Ilka", "Bråm", "Нура", "紗希", 'Quo"te, \\', "=1+1")
SESSION = """\
session: Quay and back
count_in: 0:10
rest_margin: 0:12
parts:
  - {kind: open, title: Warm-up, time: 2:00}
  - kind: rotation
    title: The quay
    every: 0:40
    rounds: 5
    stations:
      - {move: step-up, target: 10 reps, options: [{name: lower, move: low step, target: 8 reps}]}
      - {move: row, target: 120 m}
      - {move: press, target: {start: 5 reps, step: 1}}
      - rest
  - kind: intervals
    title: Short ones
    work: 0:20
    rest: 0:10
    sets: 6
    stations: [{move: sit-up, target: 12 reps}]
  - {kind: for_time, title: Carry, cap: 3:00, rounds: 2, work: [{move: sit-up, target: 15 reps}]}
  - {kind: amrap, title: As many, time: 2:00, work: [{move: squat, target: 10 reps}]}
"""
NO_PLAN = "session: [this\n"


def header(class_id: str, **values: object) -> Header:
    """What a class of the six starts from."""
    people = tuple(Athlete(name=name, group=place % 4 + 1) for place, name in enumerate(NAMES))
    plain: dict[str, object] = {
        "started": STARTED,
        "session": "Quay and back",
        "session_text": SESSION,
        "roster": Roster(title="Wednesday", athletes=people),
        "rest_margin_ms": None,
    }
    return sample_header(class_id, **{**plain, **values})


def events(seed: int, *, calm: bool = False) -> list[Event]:
    """A class from first to last. Unless it is calm, the coach does everything a coach can do, sensible or not."""
    draw, found = random.Random(seed), list[Event]()
    at_ms = 1_000
    for part in range(5):
        found.append(PartBegun(at_ms=at_ms, part=part))
        end_ms = at_ms + draw.randint(100_000, 900_000)
        while at_ms < end_ms:
            at_ms += round(draw.expovariate(1 / (2_500 if part else 40_000)))
            if calm or draw.random() < 0.85:
                found.append(Tapped(at_ms=at_ms, athlete=draw.choice(NAMES)))
            else:
                found.append(_odd(draw, at_ms, part))
        if part == 0 or draw.random() < 0.3:
            found.append(PartEnded(at_ms=at_ms))
    if draw.random() < 0.8:
        found.append(ClassEnded(at_ms=at_ms))
    found += [EffortRated(at_ms=at_ms, athlete=name, effort=draw.randint(0, 20) / 2) for name in NAMES[:3]]
    return found


def _odd(draw: random.Random, at_ms: int, part: int) -> Event:
    name, interval = draw.choice(NAMES), draw.randrange(20)
    kinds: Sequence[Event] = (
        TapTakenBack(at_ms=at_ms),
        TapTakenBack(at_ms=at_ms, athlete=name),
        NotFinished(at_ms=at_ms, athlete=name, part=part, interval=interval),
        SplitCorrected(at_ms=at_ms, athlete=name, part=part, interval=interval, split_ms=draw.randint(0, 40_000)),
        SplitCorrected(at_ms=at_ms, athlete=name, part=part, interval=interval, split_ms=None),
        Paused(at_ms=at_ms),
        Resumed(at_ms=at_ms, count_in_ms=3_000),
        Resumed(at_ms=at_ms),
        Skipped(at_ms=at_ms),
        WentBack(at_ms=at_ms),
        Stretched(at_ms=at_ms, delta_ms=draw.choice((-5_000, 5_000))),
        TargetChanged(at_ms=at_ms, athlete=name, move="row", target=Target(Fraction(draw.randint(4, 9) * 20, 3), Unit.METRES)),
        OptionChosen(at_ms=at_ms, athlete=name, move="step-up", option=draw.choice(("", "lower"))),
        Regrouped(at_ms=at_ms, athlete=name, group=draw.randint(1, 4)),
        Left(at_ms=at_ms, athlete=name),
        Joined(at_ms=at_ms, athlete=Athlete(name=draw.choice((name, "Late")), group=2)),
        MarginChanged(at_ms=at_ms, margin_ms=draw.choice((5_000, 20_000))),
        ResultEntered(at_ms=at_ms, athlete=name, part=part, rounds=3, reps=2),
        Tapped(at_ms=max(0, at_ms - draw.randint(0, 60_000)), athlete=name),
    )
    return draw.choice(kinds)


def journal(class_id: str, told: Sequence[Event], **values: object) -> bytes:
    """The journal of a class."""
    return journal_of(header(class_id, **values), told)


def put_journal(home: Path, class_id: str, seed: int, **values: object) -> Path:
    """A journal in a data folder."""
    path = home / "classes" / f"{class_id}.jsonl"
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(journal(class_id, events(seed), **values))
    return path


def flags_one_by_one(state: ClassState) -> dict[tuple[str, int, int], tuple[Flag, ...]]:
    """The flags as `pace` raises them, by (athlete, part, interval)."""
    found: dict[tuple[str, int, int], tuple[Flag, ...]] = {}
    for name in state.athletes:
        own = [split for split in splits(state) if split.athlete == name]
        found.update({(name, *place): raised for place, raised in flags(own).items()})
    return found


def kinds_of(state: ClassState) -> Iterator[list[Split]]:
    """The splits of each athlete at each station of a part, for each kind of work there."""
    kinds: dict[tuple[object, ...], list[Split]] = {}
    for one in splits(state):
        kinds.setdefault((one.athlete, one.part, one.station, one.move, one.unit), []).append(one)
    yield from kinds.values()
