"""Makes golden journals: small invented classes as one build of floorclock writes them, and what that build says they came to.

    PYTHONPATH=CHECKOUT .venv/bin/python tests/record/golden_classes.py NAME FOLDER

writes `v1-NAME-quay.jsonl`, `v1-NAME-pier.jsonl` and a `.json` of the same name beside each: the splits and results by the
code of CHECKOUT. It is run once, with the code of a release, and never again for that release: `test_golden.py` holds every later
floorclock to what stands there. So it uses nothing but what the oldest of these builds knows; later events are sent where
there are any.
"""

from __future__ import annotations

import json
import sys
import tempfile
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from fractions import Fraction
from pathlib import Path
from typing import Any

from floorclock.clock import events
from floorclock.clock.tally import results, splits
from floorclock.live.conductor import ManualClock
from floorclock.live.opening import OpenClass, resume_class, start_class
from floorclock.live.plan_files import read_plan
from floorclock.plan.roster import Athlete
from floorclock.plan.work import Target, Unit

WALL = datetime(2026, 11, 25, 18, 0, tzinfo=UTC)
QUAY = """\
session: Up and down the quay
class_time: 30:00
rest_margin: 0:12
count_in: 0:05
parts:
  - {kind: open, title: Warm-up, time: 2:00}
  - kind: rotation
    title: The quay
    every: 1:00
    rounds: 3
    stations:
      - {move: step-up, target: {start: 8 reps, step: 1}, options: [{name: lower, move: step-up, target: 6 reps}]}
      - {move: row, target: 180 m}
      - rest
  - kind: for_time
    title: Carry and sit
    cap: 6:00
    rounds: 2
    work: [{move: farmer carry, target: 40 m}, {move: sit-up, target: 15 reps}]
    choose: [{name: shorter, rounds: 1}]
"""
PIER = """\
session: Round the pier
class_time: 30:00
rest_margin: 0:05
count_in: 0
parts:
  - kind: intervals
    title: Short and sharp
    work: 0:30
    rest: 0:15
    sets: 4
    stations: [{move: push-up, target: 10 reps}, {move: squat, target: 12 reps}]
  - {kind: amrap, title: As it comes, time: 3:00, work: [{move: burpee, target: 5 reps}, {move: sit-up, target: 10 reps}]}
  - {kind: paced, title: To the beat, beat: 60 per minute, time: 2:00}
  - {kind: open, title: Cool down}
"""
WHO = """\
roster: Wednesday
athletes:
  - {name: Ilka, key: i, targets: {row: 150 m}}
  - {name: Bråm, key: b, group: 2, options: {step-up: lower}}
  - {name: Нура, key: n, group: 3}
"""


class MovingClock(ManualClock):
    """Wall time goes with the class."""

    def wall(self) -> datetime:
        return WALL + timedelta(microseconds=self.monotonic_ns() // 1000)


class Hands:
    """The hands on a class; everything sent is on the disk before the next thing happens."""

    def __init__(self, opened: OpenClass, clock: MovingClock) -> None:
        self.opened = opened
        self.clock = clock

    def wait(self, seconds: float) -> None:
        for _ in range(round(seconds * 10)):
            self.clock.move_ms(100)
            self.opened.conductor.tick()
        self.opened.settle()

    def begin(self) -> None:
        part = self.opened.conductor.state.next_part
        assert part is not None
        self.opened.conductor.begin(part)
        self.opened.settle()

    def tap(self, *names: str, apart_s: float = 1.7) -> None:
        for name in names:
            self.opened.conductor.tap(name)
            self.opened.settle()
            self.wait(apart_s)

    def send(self, name: str, **values: Any) -> None:
        """An event by its name in the code; one that this build does not know is left out."""
        kind = getattr(events, name, None)
        if kind is not None:
            self.opened.conductor.send(kind(at_ms=self.opened.conductor.stamp(), **values))
            self.opened.settle()

    def pause(self, seconds: float, count_in_ms: int) -> None:
        self.opened.conductor.pause()
        self.opened.settle()
        self.wait(seconds)
        self.opened.conductor.resume(count_in_ms)
        self.opened.settle()

    def dies_and_comes_back(self, away_s: float) -> None:
        """The class is let go in the middle and opened again, where it stopped."""
        self.opened.beat()
        self.opened.writer.close()
        self.clock.move_ms(away_s * 1000)
        self.opened = resume_class(self.opened.path, self.clock)
        self.opened.settle()
        self.opened.conductor.carry_on(round(away_s * 1000), 0, 3_000)
        self.opened.settle()

    def end(self) -> None:
        self.send("ClassEnded")
        self.opened.close()


def quay(hands: Hands) -> None:
    """A rotation and work for time."""
    hands.begin()
    hands.wait(30)
    hands.begin()
    hands.wait(5 + 31.4)
    hands.tap("Ilka", "Bråm", "Ilka")
    hands.wait(24)
    hands.send("SplitCorrected", athlete="Ilka", part=1, interval=0, split_ms=31_200)
    hands.wait(26)
    hands.tap("Нура", "Ilka")
    hands.send("TapTakenBack", athlete="Ilka")
    hands.wait(3)
    hands.tap("Ilka")
    hands.pause(40, 3_000)
    hands.wait(35)
    hands.tap("Bråm")
    hands.send("TargetChanged", athlete="Нура", move="row", target=Target(Fraction(301, 2), Unit.METRES))
    hands.send("OptionChosen", athlete="Bråm", move="step-up", option="")
    hands.send("MarginChanged", margin_ms=15_000, athlete="Ilka")
    hands.send("Quietened", athlete="Нура")
    hands.wait(40)
    hands.send("Stretched", delta_ms=10_000)
    hands.tap("Ilka", "Нура")
    hands.dies_and_comes_back(75)
    hands.wait(50)
    hands.tap("Bråm", "Ilka")
    hands.send("Skipped")
    hands.wait(40)
    hands.send("NotFinished", athlete="Нура", part=1, interval=5)
    hands.send("Joined", athlete=Athlete(name="Späte Oda", key="o", group=2))
    hands.send("Regrouped", athlete="Ilka", group=2)
    hands.wait(61)
    hands.tap("Späte Oda", "Ilka", "Bråm")
    hands.wait(20)
    hands.send("WentBack")
    hands.wait(25)
    hands.tap("Ilka", "Späte Oda")
    hands.wait(180)
    hands.begin()
    hands.send("ChoiceTaken", athlete="Bråm", part=2, choice="shorter")
    hands.wait(70)
    hands.tap("Ilka", "Bråm", "Späte Oda", apart_s=9)
    hands.wait(60)
    hands.tap("Ilka", "Späte Oda", apart_s=4)
    hands.send("ResultEntered", athlete="Нура", part=2, rounds=1, reps=31)
    hands.wait(20)
    hands.send("EffortRated", athlete="Ilka", effort=6.5)
    hands.end()


def pier(hands: Hands) -> None:
    """Short intervals, as much as comes, and a beat."""
    hands.begin()
    for work_s in (18.2, 19.9, 21.3, 24.8):
        hands.wait(work_s)
        hands.tap("Ilka", "Bråm", "Нура", apart_s=1.1)
        hands.wait(45 - work_s - 3.3)
    hands.send("Left", athlete="Нура")
    for work_s in (20.0, 22.5):
        hands.wait(work_s)
        hands.tap("Bråm", "Ilka", apart_s=0.4)
        hands.wait(45 - work_s - 0.8)
    hands.send("PartEnded")
    hands.begin()
    hands.send("Allowed", athlete="Ilka", move="burpee")
    for _ in range(4):
        hands.wait(33)
        hands.tap("Ilka", "Bråm", apart_s=2)
    hands.wait(60)
    hands.send("ResultEntered", athlete="Ilka", part=1, rounds=4, reps=7)
    hands.begin()
    hands.wait(50)
    hands.tap("Bråm")
    hands.pause(10, 3_000)
    hands.wait(80)
    hands.send("MarginChanged", margin_ms=4_000, part=0)
    hands.wait(5)
    hands.end()


def said(opened: OpenClass) -> dict[str, Any]:
    """What a class came to, in plain values: by the fields that the oldest build knows."""
    of_split = ("athlete", "part", "interval", "round", "station", "window_ms", "margin_ms", "status", "split_ms")
    more = ("move", "amount", "unit", "credited", "corrected")
    of_result = ("athlete", "part", "time_ms", "rounds", "reps", "laps_ms", "choice", "not_finished")
    state = opened.conductor.state
    return {
        "splits": [plainly(one, of_split + more) for one in splits(state)],
        "results": [plainly(one, of_result) for one in results(state)],
    }


def plainly(one: object, names: tuple[str, ...]) -> dict[str, Any]:
    """Some fields of a split or a result as JSON has them."""
    values = {name: getattr(one, name) for name in names}
    return {name: str(value) if isinstance(value, Fraction) else value for name, value in values.items()}


def make(name: str, plan: str, play: Callable[[Hands], None], folder: Path) -> None:
    """Plays one class and puts its journal and what it came to into a folder."""
    with tempfile.TemporaryDirectory() as scratch:
        at = Path(scratch)
        (at / "plan.yaml").write_text(plan, encoding="utf-8")
        (at / "who.yaml").write_text(WHO, encoding="utf-8")
        clock = MovingClock(WALL)
        hands = Hands(start_class(read_plan(at / "plan.yaml", at / "who.yaml"), at / "home", clock, margin_ms=None), clock)
        play(hands)
        (folder / f"{name}.jsonl").write_bytes(hands.opened.path.read_bytes())
        came_to = json.dumps(said(hands.opened), ensure_ascii=False, indent=1)
        (folder / f"{name}.json").write_text(came_to + "\n", encoding="utf-8")


if __name__ == "__main__":
    build, into = sys.argv[1], Path(sys.argv[2])
    make(f"v1-{build}-quay", QUAY, quay, into)
    make(f"v1-{build}-pier", PIER, pier, into)
