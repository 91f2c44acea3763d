"""The sound of the real floor: `floorclock run` in a pseudo-terminal, played to a sound server of our own and recorded.

    python -m tests.bench.floor_sound [--quick]

Every cue of the recording is held against the course that the class really took, folded again from its journal: with the
floor idle, with 40 athletes tapping, and in a class with pauses, skips and longer intervals. Ends with 1 if a limit of the
sound issue is missed, with 3 where PulseAudio is not installed. Takes six minutes, `--quick` two.
"""

from __future__ import annotations

import argparse
import os
import random
import signal
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from floorclock.clock import events as happened
from floorclock.clock.class_clock import ClassClock
from floorclock.clock.cues import Cue, CueName
from floorclock.clock.state import ClassState
from floorclock.opening import state_of
from floorclock.plan.roster import Roster
from floorclock.record.journal import JournalReading, read_journal
from floorclock.sound.anchor import RATE
from floorclock.sound.cueset import CueSet, load_cues
from tests.bench.common import HEADING, TITLE, Figure, Program, bench_roster, quantile, watch
from tests.sound.pulse_rig import Recording, SoundServer, installed, rise_s

FLOORCLOCK = str(Path(sys.executable).with_name("floorclock"))
SOUNDS = Path(__file__).parents[2] / "sounds"
PEOPLE = 40
BURST_S = 0.3
SETTLE_S = 3.0
"""The device is opened after the first picture."""
P95_MS, WORST_MS, LATENCY_MS, SILENCE_MS, CPU_PERCENT = 0.2, 1.0, 5.0, 150.0, 1.5
ANSWER_MS = 300
"""A cue so soon after a key can only sound once the key is in the journal: it answers the key, and is judged by itself."""
NEAR_S = 0.25
PIECE = RATE * 80 // 1000
KEYS = {"skip": ("\x1b[C", "\x1b[C"), "longer": ("\x1b[A",), "pause": (" ",)}
MOVES = (happened.PartBegun, happened.Paused, happened.Resumed, happened.Skipped, happened.Stretched)
SCRIPT = (
    ("longer", CueName.GO, 2.5),
    ("pause", CueName.GO, 0.25),
    ("skip", CueName.GO, 2.0),
    ("longer", CueName.COUNT, -0.03),
    ("skip", CueName.COUNT, 0.5),
    ("pause", CueName.REST, 0.2),
    ("pause", CueName.COUNT, 0.5),
    ("pause", CueName.GO, 0.4),
    ("longer", CueName.COUNT, 0.1),
    ("skip", CueName.REST, 1.5),
)
"""What the coach does, and how long after which next cue: in the middle of a tone, between two pips, just before one."""


def session(every_ms: int, rounds: int, *stations: str) -> str:
    """One rotation of short intervals that are full of cues."""
    head = f"session: {TITLE}\nrest_margin: 1s\ncount_in: 3s\nparts:\n"
    part = f"  - kind: rotation\n    title: Short\n    every: {every_ms / 1000}s\n    rounds: {rounds}\n    stations:\n"
    return head + part + "".join(f"      - {station}\n" for station in stations)


WORK = ("{move: step-up, target: 4 reps}", "{move: push-up, target: 3 reps}")


@dataclass(frozen=True, slots=True)
class Heard:
    """One sound of a recording: when it began on the monotonic clock, what it is, how long it was heard."""

    at_s: float
    name: CueName
    length_s: float


@dataclass(frozen=True, slots=True)
class Due:
    """One cue of the course. `answers` a key that was pressed just before it; `stretch` of the class clock between pauses."""

    at_s: float
    name: CueName
    answers: bool
    stretch: int


@dataclass(frozen=True)
class Take:
    """A recorded class."""

    due: list[Due]
    heard: list[Heard]
    cpu_percent: float
    machine_percent: float
    keys_s: list[float]
    """When keys were pressed that change the course."""


@dataclass(frozen=True)
class Matched:
    """The cues of the course against what was heard: errors as (milliseconds late, cue)."""

    errors: list[tuple[float, Due]]
    missing: list[Due]
    extra: list[Heard]
    cut: list[Heard]
    """Sounds of no cue that began within SILENCE_MS after a key and were cut off by it: what the buffer held already."""
    overlong: list[Heard]


class Course:
    """The course of a running or ended class by its journal, on the monotonic clock."""

    def __init__(self, home: Path) -> None:
        reading = read_journal(next((home / "classes").glob("*.jsonl")))
        assert reading.header is not None
        self.events = reading.events
        self.state: ClassState = state_of(reading.header, reading.events)[1]
        self.starts = list(_starts(reading))

    def when_s(self, class_ms: int) -> tuple[float, int]:
        """The monotonic time of a class time, and the stretch of the clock it lies in. A first instant belongs to its stretch."""
        at = max((k for k, (from_ms, _) in enumerate(self.starts) if from_ms <= class_ms), default=0)
        from_ms, from_s = self.starts[at]
        return from_s + (class_ms - from_ms) / 1000, at

    def now_ms(self) -> int:
        """The class time now, while it runs."""
        clock = ClassClock()
        clock.run_from(self.starts[-1][0], round(self.starts[-1][1] * 1e9))
        return clock.at(time.monotonic_ns())

    def cues(self, after_ms: int = -1, through_ms: int = 3_600_000) -> Iterator[Cue]:
        """The cues in a window, as things stand."""
        return self.state.cues_between(after_ms, through_ms)

    def due(self) -> list[Due]:
        """Every cue that came about."""
        moved = [event.at_ms for event in self.events if isinstance(event, MOVES)]
        return [
            Due(*self._place(cue), answers=any(0 <= cue.at_ms - at_ms < ANSWER_MS for at_ms in moved), stretch=stretch)
            for cue in self.cues()
            for _, stretch in (self.when_s(cue.at_ms),)
        ]

    def _place(self, cue: Cue) -> tuple[float, CueName]:
        return self.when_s(cue.at_ms)[0], cue.name


def _starts(reading: JournalReading) -> Iterator[tuple[int, float]]:
    """(class time, monotonic time) of every moment from which the class clock ran, by the journal's wall times.

    The clock is set going just before the wall time is taken, which is kept in whole milliseconds, cut off.
    """
    wall_less_monotonic = time.time() - time.monotonic()
    begun = False
    for event, wall in zip(reading.events, reading.walls, strict=True):
        if isinstance(event, happened.Resumed) or (isinstance(event, happened.PartBegun) and not begun):
            assert wall is not None
            begun = True
            yield event.at_ms, wall.timestamp() + 0.0005 - wall_less_monotonic


def named(recording: Recording, first: int, cues: CueSet) -> CueName:
    """Which cue begins at a loud frame: the one that its first 80 ms are most like."""

    def likeness(name: CueName) -> float:
        sound = np.asarray(cues.sounds[name])
        begin = first - round(rise_s(sound) * RATE)
        piece, wanted = recording.samples[begin : begin + PIECE].astype(float), sound[:PIECE].astype(float)
        if begin < 0 or len(piece) < PIECE:
            return -1.0
        return float(piece @ wanted / (np.linalg.norm(piece) * np.linalg.norm(wanted)))

    return max(CueName, key=likeness)


def listen(recording: Recording, cues: CueSet) -> list[Heard]:
    """What a recording holds."""
    heard = []
    for first, last in recording.sounds():
        name = named(recording, first, cues)
        rise = rise_s(np.asarray(cues.sounds[name]))
        heard.append(Heard(recording.heard_s(first) - rise, name, rise + (last - first) / RATE))
    return heard


def matched(take: Take, cues: CueSet) -> Matched:
    """Each cue of the course with the sound of its name that lies nearest; a sound is one cue only."""
    left = list(take.heard)
    errors, missing = [], []
    for due in take.due:
        near = [heard for heard in left if heard.name is due.name and abs(heard.at_s - due.at_s) < NEAR_S]
        if not near:
            missing.append(due)
            continue
        found = min(near, key=lambda heard: abs(heard.at_s - due.at_s))
        left.remove(found)
        errors.append((1000 * (found.at_s - due.at_s), due))
    cut = [heard for heard in left if any(0 <= heard.at_s + heard.length_s - at_s < SILENCE_MS / 1000 for at_s in take.keys_s)]
    extra = [heard for heard in left if heard not in cut]
    overlong = [heard for heard in take.heard if heard.length_s > len(cues.sounds[heard.name]) / RATE + 0.01]
    return Matched(errors, missing, extra, cut, overlong)


def off_ms(errors: Sequence[tuple[float, Due]]) -> list[float]:
    """What is left of the errors once each stretch of the class clock has lost its constant; answers to keys are left out."""
    planned = [(error, due) for error, due in errors if not due.answers]
    medians = {due.stretch: quantile([e for e, d in planned if d.stretch == due.stretch], 0.5) for _, due in planned}
    return [abs(error - medians[due.stretch]) for error, due in planned]


def machine_s() -> float:
    """The time that the cores of this machine have worked so far, all together."""
    fields = [int(ticks) for ticks in Path("/proc/stat").read_text(encoding="utf-8").splitlines()[0].split()[1:]]
    return (sum(fields[:8]) - fields[3] - fields[4]) / os.sysconf("SC_CLK_TCK")


@contextmanager
def floor(home: Path, text: str, roster: Roster, sound: str = "miniaudio") -> Iterator[Program]:
    """The floor, ready to begin."""
    home.mkdir(parents=True)
    plan, people = home / "bench.yaml", home / "bench.csv"
    plan.write_text(text, encoding="utf-8")
    lines = [f"{athlete.name},{athlete.key}" for athlete in roster.athletes]
    people.write_text("\n".join(["name,key", *lines, ""]), encoding="utf-8")
    # Attention is called when a flag is raised, not by the course.
    more = ("--roster", str(people), "--sound", sound, "--cues", "attention=off last_round=off")
    with Program((FLOORCLOCK, "run", str(plan), *more), home=home) as program:
        program.wait_for(TITLE)
        watch((program,), time.monotonic() + SETTLE_S)
        yield program


def record(server: SoundServer, cues: CueSet, home: Path, text: str, act: Callable[[Program, Path], list[float]]) -> Take:
    """Plays a class to its end while `act` does what people do in it; that gives the times of the keys that change its course."""
    recording = Recording(server)
    with floor(home, text, bench_roster(PEOPLE)) as program:
        began_s, machine, own = time.monotonic(), machine_s(), program.cpu_s()
        program.press("\r")
        watch((program,), time.monotonic() + 0.5)
        keys_s = act(program, home)
        while (left_s := _left_s(home)) > 0:
            watch((program,), time.monotonic() + left_s)
        # The last cue is to sound out.
        watch((program,), time.monotonic() + 2.0)
        took_s = time.monotonic() - began_s
        own, machine = program.cpu_s() - own, machine_s() - machine
        # While the floor is still there: the sink's latency is that of who asks for the least.
        recording.stop()
        program.end(signal.SIGTERM)
    heard = listen(recording, cues)
    return Take(Course(home).due(), heard, 100 * own / took_s, 100 * (machine - own) / took_s, keys_s)


def _left_s(home: Path) -> float:
    course = Course(home)
    return course.when_s(max(cue.at_ms for cue in course.cues()))[0] - time.monotonic()


def silences_ms(take: Take) -> list[float]:
    """How long after each key the sound of that moment went on, where there was one."""
    ends = [(one.at_s, one.at_s + one.length_s, key_s) for key_s in take.keys_s for one in take.heard]
    return [1000 * (end_s - key_s) for begun_s, end_s, key_s in ends if begun_s <= key_s < end_s]


def nobody(program: Program, home: Path) -> list[float]:
    """Nobody does anything."""
    del program, home
    return []


def tapping(program: Program, home: Path) -> list[float]:
    """Everybody taps once every four seconds at random moments, and every third time all at once."""
    chance, keys = random.Random(3), [athlete.key for athlete in bench_roster(PEOPLE).athletes]
    times = 0
    while _left_s(home) > 5.0:
        times += 1
        from_s, within_s = time.monotonic(), BURST_S if times % 3 == 0 else 4.0
        for at_s, key in sorted((from_s + within_s * chance.random(), key) for key in keys):
            watch((program,), at_s)
            program.press(key)
        watch((program,), from_s + 4.0)
    return []


def coach(script: Sequence[tuple[str, CueName, float]], program: Program, home: Path) -> list[float]:
    """Pauses, skips and makes longer by the script; when its keys were pressed."""
    pressed_s = []
    for action, name, after_s in script:
        course = Course(home)
        here_ms = course.now_ms() + round(1000 * max(0.0, -after_s)) + 400
        cue = next((cue for cue in course.cues(here_ms) if cue.name is name), None)
        if cue is None:
            break
        watch((program,), course.when_s(cue.at_ms)[0] + after_s)
        for key in KEYS[action]:
            at_s = program.press(key)
            watch((program,), at_s + 0.15)
        pressed_s.append(at_s)
        if action == "pause":
            watch((program,), at_s + 1.2)
            program.press(" ")
            watch((program,), time.monotonic() + 0.15)
    return pressed_s


def cpu_of_sound(folder: Path, seconds: float) -> tuple[float, float]:
    """CPU percent of two floors side by side over the same time: one that sounds, one that does not."""
    text, roster = session(4130, 20, *WORK), bench_roster(PEOPLE)
    with floor(folder / "loud", text, roster) as loud, floor(folder / "mute", text, roster, "none") as mute:
        both = (loud, mute)
        for program in both:
            program.press("\r")
        watch(both, time.monotonic() + 2.0)
        began_s, before = time.monotonic(), [program.cpu_s() for program in both]
        watch(both, began_s + seconds)
        used = [100 * (program.cpu_s() - spent) / seconds for program, spent in zip(both, before, strict=True)]
    return used[0], used[1]


def exactness(what: str, take: Take, cues: CueSet) -> list[Figure]:
    """The figures of a class that goes by itself."""
    found = matched(take, cues)
    off = off_ms(found.errors)
    if not off:
        return [Figure(what=f"cues not heard, {what}", value=len(found.missing), unit="cues", most=0)]
    late = quantile([error for error, due in found.errors if not due.answers], 0.5)
    return [
        Figure(what=f"onset error of {len(off)} cues, {what}, p95", value=quantile(off, 0.95), unit="ms", most=P95_MS),
        Figure(what="  worst", value=max(off), unit="ms", most=WORST_MS),
        Figure(what=f"  constant latency after subtraction ({late:+.1f})", value=abs(late), unit="ms", most=LATENCY_MS),
        *wholeness(found),
        Figure(what="  CPU of the floor", value=take.cpu_percent, unit="%"),
        Figure(what="  CPU of everything else, in % of one of the cores", value=take.machine_percent, unit="%"),
    ]


def wholeness(found: Matched) -> list[Figure]:
    """What is missing and what is too much."""
    for what, items in (("missing", found.missing), ("not in the course", found.extra), ("too long", found.overlong)):
        for item in items:
            print(f"{what}: {item}", file=sys.stderr)
    heard = len(found.errors)
    return [
        Figure(what=f"  cues missing, of {heard + len(found.missing)}", value=len(found.missing), unit="cues", most=0),
        Figure(what="  cues doubled or invented", value=len(found.extra) + len(found.overlong), unit="cues", most=0),
    ]


def scripted(take: Take, cues: CueSet) -> list[Figure]:
    """The figures of a class with pauses and skips."""
    found = matched(take, cues)
    off = off_ms(found.errors)
    answers = [error for error, due in found.errors if due.answers]
    silent = silences_ms(take)
    return [
        Figure(what=f"onset error of {len(off)} cues, pauses and skips, p95", value=quantile(off, 0.95), unit="ms", most=P95_MS),
        Figure(what="  worst", value=max(off), unit="ms", most=WORST_MS),
        *wholeness(found),
        Figure(what=f"  {len(answers)} cues that answer a key, late at worst", value=max(answers), unit="ms"),
        Figure(what="  cues cut off that the buffer already held when their key came", value=len(found.cut), unit="cues"),
        Figure(what=f"  silence after {len(silent)} keys in a tone, worst", value=max(silent), unit="ms", most=SILENCE_MS),
        Figure(what="  CPU of everything else, in % of one of the cores", value=take.machine_percent, unit="%"),
    ]


def measure(server: SoundServer, folder: Path, quick: bool) -> Iterator[list[Figure]]:
    """All figures, a few at a time."""
    cues, _ = load_cues(None, SOUNDS)
    plain = session(4130, 3 if quick else 9, *WORK)
    yield exactness("idle", record(server, cues, folder / "idle", plain, nobody), cues)
    yield exactness(f"{PEOPLE} tapping", record(server, cues, folder / "tapping", plain, tapping), cues)
    moved = session(6370, 2 if quick else 4, *WORK, "rest")
    script = SCRIPT[:4] if quick else SCRIPT
    yield scripted(record(server, cues, folder / "moved", moved, lambda program, home: coach(script, program, home)), cues)
    loud, mute = cpu_of_sound(folder / "cpu", 15 if quick else 60)
    yield [
        Figure(what="CPU of sound: a floor with it less one without", value=loud - mute, unit="%", most=CPU_PERCENT),
        Figure(what="  the floor with sound, and without", value=loud, unit="%", baseline=mute),
    ]


def main() -> int:
    """Measures and prints."""
    reader = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    reader.add_argument("--quick", action="store_true")
    asked = reader.parse_args()
    if not installed():
        print("pulseaudio and pulseaudio-utils are not installed", file=sys.stderr)
        return 3
    print(f"load of the machine {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores; under load the sound server itself is late")
    missed = False
    with tempfile.TemporaryDirectory() as folder, SoundServer(Path(folder)) as server:
        os.environ.update(server.env)
        print(HEADING.rstrip())
        for figures in measure(server, Path(folder) / "floors", asked.quick):
            print(*(figure.line() for figure in figures), sep="\n", flush=True)
            missed = missed or any(figure.verdict == "NOT MET" for figure in figures)
    print(f"load of the machine at the end {os.getloadavg()[0]:.1f}")
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main())
