"""Any plan at all that a coach could write, of every kind and with every key; and a class in which anything is tapped."""

from __future__ import annotations

import json
from itertools import pairwise
from typing import Any

from hypothesis import strategies as st

from floorclock.clock.events import (
    ClassEnded,
    Event,
    Joined,
    Left,
    LoadChanged,
    NotFinished,
    PartBegun,
    PartEnded,
    Paused,
    ResultEntered,
    Resumed,
    ScoreEntered,
    Skipped,
    Stretched,
    Tapped,
    TargetChanged,
)
from floorclock.clock.fold import apply
from floorclock.clock.sheet import run_sheet, sheet_json
from floorclock.clock.state import ClassState, new_state
from floorclock.plan.quantities import parse_load, parse_target
from floorclock.plan.roster import Athlete
from floorclock.plan.session import Session
from floorclock.plan.totals import interval_count, rounds_at

Plan = dict[str, Any]
LEVELS = ("strong", "regular", "new")
NAMES = ("Ilka", "Bram", "Noor", "Sefa", "Odd", "Runa", "Teo")
UNTAPPED_KINDS = ("open", "rest")

moves = st.sampled_from(["squat", "row", "burpee", "swing", "run", "plank", "bike"])
_seconds = st.integers(2, 90)
_target = st.one_of(
    st.integers(1, 30).map(lambda n: f"{n} reps"),
    st.integers(1, 40).map(lambda n: f"{n * 10} m"),
    st.integers(1, 20).map(lambda n: f"{n} cal"),
    st.integers(1, 40).map(lambda n: f"0:{n:02d}"),
    st.integers(1, 12).map(lambda n: f"{n} reps each side"),
    st.tuples(st.integers(1, 9), st.integers(1, 9)).map(lambda two: f"{two[0]} to {sum(two)} cal"),
    st.lists(st.integers(1, 21), min_size=2, max_size=6).map(lambda some: "-".join(map(str, some)) + " reps"),
    st.sampled_from(["max reps", "max cal", "max reps in 0:01"]),
    st.builds(lambda start, step: {"start": f"{start} reps", "step": step}, st.integers(1, 20), st.integers(-3, 3)),
    st.lists(st.integers(1, 30), min_size=3, max_size=3).map(
        lambda some: {level: f"{amount} reps" for level, amount in zip(LEVELS, some, strict=True)}
    ),
)
_load = st.one_of(
    st.integers(1, 100).map(lambda n: f"{n} kg"),
    st.integers(1, 200).map(lambda n: f"{n} lb"),
    st.integers(40, 95).map(lambda n: f"{n} %"),
    st.just({"strong": "24 kg", "regular": "16 kg", "new": "12 kg"}),
)
_move = st.fixed_dictionaries({"move": moves}, optional={"target": _target, "load": _load})
_several = st.lists(_move, min_size=2, max_size=3).map(lambda items: {"work": items})
_turns = st.sampled_from(["each round", "each interval", "shared", "same time"])
_teams = st.sampled_from(["pairs", "teams of 3"])
_score = st.sampled_from(["reps", "calories", "load", {"each": "part", "unit": "metres"}])


@st.composite
def _with_stations(draw: st.DrawFn) -> Plan:
    slots = draw(st.lists(st.one_of(_move, _several, st.just("rest")), min_size=1, max_size=5))
    if all(slot == "rest" for slot in slots):
        slots.append({"move": "squat"})
    rotation = draw(st.booleans())
    part: Plan = {"kind": "rotation" if rotation else "intervals", "stations": slots}
    if rotation:
        part |= {"every": f"{draw(_seconds)} s", "rounds": draw(st.integers(1, 4))}
        if draw(st.integers(0, 4)) == 0:
            part["until_out"] = True
    else:
        part |= {"work": f"{draw(_seconds)} s", "rest": f"{draw(st.integers(0, 60))} s"}
        part |= {"sets": len(slots) * draw(st.integers(1, 4)), "final_rest": draw(st.booleans())}
    if draw(st.booleans()):
        part["together"] = True
        for slot in slots:
            if isinstance(slot, dict) and draw(st.booleans()):
                slot["time"] = f"{draw(_seconds)} s"
    if draw(st.booleans()):
        part["round_rest"] = f"{draw(st.integers(1, 90))} s"
    if draw(st.booleans()):
        part["tap"] = "none"
    return _shared(draw, part)


@st.composite
def _piece(draw: st.DrawFn) -> Plan:
    """Work for time, or as many rounds as possible."""
    part: Plan = {"kind": draw(st.sampled_from(["for_time", "amrap"])), "work": draw(st.lists(_move, min_size=1, max_size=4))}
    if part["kind"] == "for_time":
        part |= {"cap": f"{draw(st.integers(4, 20))}:00", "rounds": draw(st.integers(1, 5))}
        part |= {"tap": "round"} if draw(st.booleans()) else {}
        part |= {"round_rest": "0:30"} if draw(st.booleans()) else {}
    else:
        part["time"] = f"{draw(st.integers(1, 12))}:00"
    for once in ("buy_in", "cash_out"):
        if draw(st.integers(0, 3)) == 0:
            part[once] = [draw(_move)]
    if draw(st.integers(0, 3)) == 0:
        part["wave_every"] = "0:30"
    return _shared(draw, part)


def _shared(draw: st.DrawFn, part: Plan) -> Plan:
    if draw(st.integers(0, 2)) == 0:
        part["in"] = draw(_teams)
        turns = draw(_turns)
        alternates = part["kind"] in ("for_time", "amrap") and turns == "each interval"
        part["turns"] = "each round" if alternates else turns
    if draw(st.integers(0, 2)) == 0:
        part["score"] = draw(_score)
    return part


_paced = st.one_of(
    st.builds(lambda beat: {"kind": "paced", "beat": f"{beat} per minute", "time": "0:45"}, st.integers(20, 180)),
    st.builds(
        lambda count: {
            "kind": "paced",
            "shuttle": {"distance": "20 m", "start": "8 km/h", "step": "0.5 km/h", "stage": "1:00", "count": count},
        },
        st.integers(1, 4),
    ),
)
_rest = st.integers(11, 90).map(lambda n: {"kind": "rest", "time": f"{n} s"})
_part = st.one_of(st.just({"kind": "open", "time": "1:00"}), _rest, _with_stations(), _piece(), _paced)
_repeat = st.builds(
    lambda times, parts: {"kind": "repeat", "times": times, "parts": parts},
    st.integers(2, 3),
    st.lists(_part, min_size=1, max_size=2),
)
plans = st.builds(
    lambda parts, count_in: {"session": "Any", "count_in": f"{count_in} s", "rest_margin": "1 s", "parts": parts},
    st.lists(st.one_of(_part, _repeat), min_size=1, max_size=4),
    st.integers(0, 10),
)
rosters = st.lists(
    st.tuples(st.sampled_from(LEVELS), st.integers(1, 5), st.none() | st.integers(1, 3)), min_size=1, max_size=len(NAMES)
).map(
    lambda some: tuple(
        Athlete(name=name, level=level, group=group, team=team) for name, (level, group, team) in zip(NAMES, some, strict=False)
    )
)


def check_timeline(session: Session, athletes: tuple[Athlete, ...]) -> None:
    """A run sheet has no gap and no overlap, and everybody works as often as it says."""
    state, sheet = new_state(session, athletes), run_sheet(session, athletes)
    for index, item in enumerate(sheet):
        part, line = item.part, item.timeline
        if not line.intervals:
            continue
        assert line.intervals[0].start_ms == 0
        assert all(before.end_ms == after.start_ms for before, after in pairwise(line.intervals))
        assert all(interval.length_ms > 0 for interval in line.intervals)
        assert part.kind == "open" or line.intervals[-1].end_ms == line.length_ms
        assert all(-line.count_in_ms <= cue.at_ms <= (line.length_ms or cue.at_ms) for cue in line.cues)
        if part.kind in ("rotation", "intervals"):
            windows = [at for at, interval in enumerate(line.intervals) if interval.window >= 0]
            assert len(windows) == interval_count(part)
            wanted = sum(rounds for station, rounds in zip(part.stations, rounds_at(part), strict=True) if not station.is_rest)
            run = state.planned_run(index)
            assert {sum(state.assignment(name, run, at) is not None for at in windows) for name in state.athletes} == {wanted}
    assert json.loads(json.dumps(sheet_json(sheet)))


def played(draw: st.DataObject, session: Session, athletes: tuple[Athlete, ...]) -> tuple[ClassState, list[Event]]:
    """A class from first to last, with anything that a coach does; its state, and the events that made it."""
    state, told, now = new_state(session, athletes), list[Event](), 0

    def tell(event: Event) -> None:
        told.append(event)
        apply(state, event)

    while not state.over and len(told) < 200:
        state.advance(now)
        if state.over:
            break
        run = state.run
        if run is None or run.part.kind == "open":
            if state.next_part is None:
                break
            tell(PartBegun(at_ms=now, part=state.next_part))
        else:
            for event in draw.draw(st.lists(_events(now, run.index, state), max_size=4)):
                tell(event)
        now += draw.draw(st.integers(1_000, 300_000))
    tell(ClassEnded(at_ms=now))
    return state, told


def _events(now: int, part: int, state: ClassState) -> st.SearchStrategy[Event]:
    who, interval = st.sampled_from(list(state.athletes)), st.integers(0, 6)
    about: dict[str, Any] = {"at_ms": st.just(now), "athlete": who}
    here: dict[str, Any] = {**about, "part": st.just(part)}
    return st.one_of(
        st.builds(Tapped, **about),
        st.builds(Tapped, **about),
        st.builds(NotFinished, **here, interval=interval),
        st.builds(ScoreEntered, **here, interval=st.integers(-1, 6), amount=st.none() | st.integers(0, 300)),
        st.builds(ResultEntered, **here, rounds=st.none() | st.integers(0, 9), reps=st.none() | st.integers(0, 30)),
        st.builds(TargetChanged, **about, move=moves, target=st.just(parse_target("7 reps"))),
        st.builds(LoadChanged, **about, move=moves, load=st.just(parse_load("20 kg"))),
        st.builds(Left, **about),
        st.builds(Joined, at_ms=st.just(now), athlete=st.just(Athlete(name="Late"))),
        st.sampled_from([Paused(at_ms=now), Resumed(at_ms=now), Skipped(at_ms=now), PartEnded(at_ms=now)]),
        st.just(Stretched(at_ms=now, delta_ms=5_000)),
    )
