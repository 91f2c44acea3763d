"""Whole classes, played with anything that may happen: every cue once, in order, at its instant; and the same class again."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from fractions import Fraction
from random import Random

from hypothesis import given, settings
from hypothesis import strategies as st

from floorclock.clock.events import (
    ClassEnded,
    Joined,
    Left,
    NotFinished,
    PartEnded,
    Regrouped,
    Skipped,
    SplitCorrected,
    Stretched,
    TapTakenBack,
    WentBack,
    event_from_dict,
)
from floorclock.clock.fold import fold
from floorclock.clock.state import new_state
from floorclock.live.conductor import ManualClock
from floorclock.plan.roster import Athlete
from floorclock.plan.session import Amrap, AnyPart, Cues, ForTime, Intervals, OpenPart, Paced, Session, Shuttle, Stage
from floorclock.plan.work import REST
from tests.clock.classes import BRAM, ILKA, NOOR, ROW, STEP, SWING, WALL, LaggingJournal, Run, harbour
from tests.clock.plain_course import Hand

HOUR_MS = 3_600_000
NAMES = ("Ilka", "Bram", "Noor", "Wim")
LADDER = Shuttle(Fraction(20), (Stage(Fraction(17, 2), 3), Stage(Fraction(9), 2), Stage(Fraction(10), 3)))
PARTS: tuple[AnyPart, ...] = (
    OpenPart(title="Brief", time_ms=40_000, max_ms=90_000),
    OpenPart(title="Rest as needed", time_ms=30_000),
    harbour(rounds=6),
    harbour(rounds=2, every_ms=20_000),
    Intervals(title="Fast", work_ms=20_000, rest_ms=10_000, sets=8, work=(SWING,)),
    Intervals(title="Pairs", work_ms=40_000, rest_ms=2_500, sets=5, work=(SWING, REST, ROW), final_rest=True, count_in_ms=0),
    ForTime(title="Carry", cap_ms=120_000, rounds=2, work=(STEP,), wave_every_ms=2_000, tap="round"),
    ForTime(title="One", cap_ms=90_000, rounds=1, work=(STEP,), count_in_ms=3_000),
    Amrap(title="As many", time_ms=100_000, work=(SWING, STEP)),
    Paced(title="Step", beats_per_minute=Fraction(88), time_ms=45_000, beats_per_rep=4),
    Paced(title="Shuttle", shuttle=LADDER),
)

sessions = st.builds(
    Session,
    title=st.just("A day"),
    parts=st.lists(st.sampled_from(PARTS), min_size=1, max_size=12).map(tuple),
    count_in_ms=st.sampled_from([0, 1_500, 3_000, 10_000]),
    cues=st.sampled_from([Cues(), Cues(half=True, pace=4), Cues(count=5, rest=False, last_ten=False, last_round=False)]),
)
rosters = st.sampled_from([(ILKA,), (ILKA, BRAM), (BRAM, NOOR), (ILKA, BRAM, NOOR)])


def one_command(run: Run, random: Random) -> None:
    """One command, whether or not it can mean anything now."""
    conductor, state = run.conductor, run.state
    if state.paused and random.random() < 0.4:
        conductor.resume(random.choice([0, 3_000, 3_000, 2_000, 4_700]))
    elif state.next_part is not None and (state.run is None or state.run.part.kind == "open") and random.random() < 0.6:
        conductor.begin(state.next_part)
    else:
        one_of_many(run, random)


def one_of_many(run: Run, random: Random) -> None:
    """One command of those that need not fit the moment; more than half are taps."""
    conductor, name = run.conductor, random.choice(NAMES)
    place = {"part": random.randint(0, 2), "interval": random.randint(0, 9)}
    late_ns = random.choice([0, 0, 30_000_000, 900_000_000])
    newcomer = Athlete(name=name, group=random.randint(1, 3))
    commands: list[tuple[float, Callable[[], None]]] = [
        (22, lambda: conductor.tap(name, run.clock.monotonic_ns() - late_ns)),
        (2, conductor.pause),
        (1, lambda: conductor.resume(random.choice([0, 3_000]))),
        (2, lambda: run.send(Skipped)),
        (1, lambda: run.send(WentBack)),
        (2, lambda: run.send(Stretched, delta_ms=random.choice([-60_000, -10_000, 5_000, 10_000, 30_000]))),
        (0.1, lambda: run.send(PartEnded)),
        (0.02, lambda: run.send(ClassEnded)),
        (1, lambda: run.send(TapTakenBack, athlete=random.choice(["", name]))),
        (1, lambda: run.send(NotFinished, athlete=name, **place)),
        (1, lambda: run.send(SplitCorrected, athlete=name, split_ms=random.choice([None, 12_345]), **place)),
        (1, lambda: run.send(Regrouped, athlete=name, group=random.randint(1, 3))),
        (0.3, lambda: run.send(Left, athlete=name)),
        (0.3, lambda: run.send(Joined, athlete=newcomer)),
    ]
    random.choices([command for _, command in commands], [weight for weight, _ in commands])[0]()


def play(session: Session, athletes: Sequence[Athlete], random: Random, lag_ms: int = 0) -> Run:
    """An hour under the manual clock: wake-ups from 1 ms to 20 s apart, commands in between."""
    journal = LaggingJournal(ManualClock(WALL), random, lag_ms) if lag_ms else None
    run = Run(new_state(session, athletes), journal=journal)
    busy = random.choice([0.05, 0.3, 0.7])
    while run.clock.monotonic_ns() < HOUR_MS * 1_000_000 and not run.state.over:
        run.wait(random.choice([random.randint(1, 20), random.randint(20, 1_500), random.randint(1_500, 20_000)]))
        while random.random() < busy:
            one_command(run, random)
            if isinstance(run.journal, LaggingJournal) and random.random() < 0.3:
                run.journal.deliver()
    if isinstance(run.journal, LaggingJournal):
        run.journal.deliver(everything=True)
    run.conductor.tick()
    return run


def check(run: Run, session: Session, athletes: Sequence[Athlete]) -> None:
    """Every cue once, in order, at its instant; and the fold of the journal is the state that the floor showed."""
    told = [(cue.at_ms, str(cue.name)) for cue in run.told]
    assert [at for at, _ in told] == sorted(at for at, _ in told)
    assert len(set(told)) == len(told)
    expected = Hand(session, athletes).play(run.journal.events, run.state.now_ms)
    assert sorted(told) == sorted(expected)
    kept = [event_from_dict(json.loads(json.dumps(event.to_dict()))) for event in run.journal.events]
    recovered = fold(new_state(session, athletes), kept)
    recovered.advance(run.state.now_ms)
    assert recovered == run.state


@settings(max_examples=50)
@given(sessions, rosters, st.integers(0, 2**32))
def test_an_hour_tells_every_cue_once_in_order_at_its_instant_whatever_the_wake_ups_and_commands(
    session: Session, athletes: tuple[Athlete, ...], seed: int
) -> None:
    run = play(session, athletes, Random(seed))
    check(run, session, athletes)
    through = run.state.now_ms
    # A class that was ended in a pause has nobody left to hear the end.
    silent_end = {(through, "end")} if run.state.ended_by_coach else set()
    assert run.sound.heard(through) | silent_end == {(cue.at_ms, str(cue.name)) for cue in run.told} | silent_end


@settings(max_examples=50)
@given(sessions, rosters, st.integers(0, 2**32), st.sampled_from([50, 3_000, 30_000]))
def test_a_slow_journal_changes_neither_the_cues_nor_what_a_recovered_class_is(
    session: Session, athletes: tuple[Athlete, ...], seed: int, lag_ms: int
) -> None:
    check(play(session, athletes, Random(seed), lag_ms), session, athletes)
