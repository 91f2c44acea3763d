"""The sound of the real floor: `floorclock run` in a pseudo-terminal, played to a sound server of our own and recorded.

    FLOORCLOCK_BENCH_MINUTES=30 python -m tests.bench floor_sound

Every cue of the recording is held against the course that the class really took, folded again from its journal: with the
floor idle, beside two programs that never rest, with 40 athletes tapping, and in a class with pauses, skips and longer intervals.
The baseline plays each cue by itself, with simpleaudio where that is installed. Takes ten minutes, `--quick` less than four;
a class lasts a minute, or as long as the variable says, for drift and for what a sound server does once in half an hour.
"""

from __future__ import annotations

import importlib.util
import os
import random
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import numpy as np

from floorclock.clock.cues import CueName
from floorclock.sound.cueset import load_cues
from tests.bench.common import (
    TITLE,
    WARM_UP_S,
    Figure,
    NotHere,
    Program,
    bench_roster,
    cpu_percents,
    play,
    quantile,
    rotation,
    run_command,
    watch,
)
from tests.plan.shipped import SOUNDS
from tests.sound.heard_course import SILENCE_S, Course, Due, Heard, listen, matched
from tests.sound.pulse_rig import Recording, SoundServer, installed

VARIABLE = "FLOORCLOCK_BENCH_MINUTES"
HOGS = 2
CUES, _ = load_cues(None, SOUNDS)
EVERY_MS = 4130
PEOPLE = 40
BURST_S = 0.3
P95_MS, WORST_MS, LATENCY_MS, DRIFT_MS, CPU_PERCENT = 0.2, 1.0, 5.0, 0.5, 1.5
KEYS = {"skip": ("\x1b[C", "\x1b[C"), "longer": ("\x1b[A",), "pause": (" ",)}
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
WORK = ("move: step-up, target: 4 reps", "move: push-up, target: 3 reps")
Act = Callable[[Program, Path], list[float]]


def short(rounds: int, *stations: str, every_ms: int = EVERY_MS) -> str:
    """A rotation of short intervals that are full of cues."""
    return rotation(rounds, stations, every=f"{every_ms / 1000}s", margin="1s", count_in="3s")


@dataclass(frozen=True)
class Take:
    """A recorded class."""

    due: list[Due]
    heard: list[Heard]
    cpu_percent: float
    keys_s: list[float]
    """When keys were pressed that change the course."""


def off_ms(errors: Sequence[tuple[float, Due]]) -> list[float]:
    """What is left of the errors once each stretch of the class clock has lost its constant; answers to keys are left out."""
    planned = [(error, due) for error, due in errors if not due.answers]
    medians = {due.stretch: quantile([e for e, d in planned if d.stretch == due.stretch], 0.5) for _, due in planned}
    return [abs(error - medians[due.stretch]) for error, due in planned]


@contextmanager
def floor(home: Path, text: str, sound: str = "miniaudio") -> Iterator[Program]:
    """The floor, ready to begin."""
    # Attention is called when a flag is raised, not by the course.
    words = run_command(home, text, PEOPLE, "--cues", "attention=off last_round=off", sound=sound)
    with Program(words, home=home) as program:
        program.wait_for(TITLE)
        play([program], WARM_UP_S)
        yield program


@contextmanager
def hogs(number: int) -> Iterator[None]:
    """So many programs that never rest, one for each core of a small machine."""
    processes = [subprocess.Popen([sys.executable, "-c", "while True: pass"]) for _ in range(number)]
    try:
        yield
    finally:
        for process in processes:
            process.kill()
            process.wait()


def record(server: SoundServer, home: Path, text: str, act: Act, sound: str = "miniaudio") -> Take:
    """Plays a class to its end while `act` does what people do in it; that gives the times of the keys that change its course."""
    recording = Recording(server)
    with floor(home, text, sound) as program:
        began_s, own = time.monotonic(), program.cpu_s()
        program.press("\r")
        play([program], 0.5)
        keys_s = act(program, home)
        while (left_s := _left_s(home)) > 0:
            play([program], left_s)
        # The last cue is to sound out.
        play([program], 2.0)
        cpu_percent = 100 * (program.cpu_s() - own) / (time.monotonic() - began_s)
        # While the floor is still there: the sink's latency is that of who asks for the least.
        recording.stop()
        program.end(signal.SIGTERM)
    return Take(Course(home).due(), listen(recording, CUES), cpu_percent, keys_s)


def _left_s(home: Path) -> float:
    course = Course(home)
    return course.when_s(max(cue.at_ms for cue in course.cues()))[0] - time.monotonic()


def nobody(program: Program, home: Path) -> list[float]:
    """Nobody does anything."""
    return []


def tapping(program: Program, home: Path) -> list[float]:
    """Everybody taps once every four seconds at random moments, and every third time all at once."""
    chance, keys, times = random.Random(3), [athlete.key for athlete in bench_roster(PEOPLE).athletes], 0
    while _left_s(home) > 5.0:
        times += 1
        within_s = BURST_S if times % 3 == 0 else 4.0
        play([program], 4.0, [(within_s * chance.random(), program, key) for key in keys])
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
    text = short(20, *WORK)
    with floor(folder / "loud", text) as loud, floor(folder / "mute", text, "none") as mute:
        for program in (loud, mute):
            program.press("\r")
        play((loud, mute), 2.0)
        used = cpu_percents((loud, mute), seconds)
    return used[0], used[1]


def figures_of(what: str, take: Take, baseline: float | None = None) -> Iterator[Figure]:
    """The figures of one recorded class; `baseline` is what its first one came to by another way."""
    found = matched(take.due, take.heard, take.keys_s, CUES)
    for kind, items in (("missing", found.missing), ("not in the course", found.extra), ("too long", found.overlong)):
        for item in items:
            print(f"{kind}: {item}", file=sys.stderr)
    off = off_ms(found.errors)
    if off:
        planned = [(due.at_s - take.due[0].at_s, error) for error, due in found.errors if not due.answers]
        late = quantile([error for _, error in planned], 0.5)
        yield Figure(f"onset error of {len(off)} cues, {what}, p95", quantile(off, 0.95), "ms", baseline=baseline, most=P95_MS)
        yield Figure("  worst", max(off), "ms", most=WORST_MS)
        yield Figure(f"  constant latency after subtraction ({late:+.1f})", abs(late), "ms", most=LATENCY_MS)
        if not take.keys_s:
            at_s, errors = zip(*planned, strict=True)
            drift = float(np.polyfit(at_s, errors, 1)[0]) * at_s[-1]
            yield Figure(f"  drift from first to last ({drift:+.2f})", abs(drift), "ms", most=DRIFT_MS)
    heard = len(found.errors)
    yield Figure(f"  cues missing, of {heard + len(found.missing)}", len(found.missing), "cues", most=0)
    yield Figure("  cues with a hole of a millisecond or more", sum(sound.hole_ms >= 1 for sound in found.found), "cues")
    yield Figure("  cues doubled or invented", len(found.extra) + len(found.overlong), "cues", most=0)
    yield Figure("  CPU of the floor", take.cpu_percent, "%")
    if take.keys_s:
        answers = [error for error, due in found.errors if due.answers]
        # How long after each key the sound of that moment went on, where there was one.
        cut = [(key_s, heard.end_s) for key_s in take.keys_s for heard in take.heard if heard.at_s <= key_s < heard.end_s]
        silent = [1000 * (end_s - key_s) for key_s, end_s in cut]
        yield Figure(f"  {len(answers)} cues that answer a key, late at worst", max(answers), "ms")
        yield Figure("  cues cut off that the buffer already held when their key came", len(found.cut), "cues")
        yield Figure(f"  silence after {len(silent)} keys in a tone, worst", max(silent), "ms", most=1000 * SILENCE_S)


def figures(quick: bool = False) -> Iterator[Figure]:
    """Idle, hogged, tapped and conducted classes, and the CPU of sound."""
    if not installed():
        raise NotHere("pulseaudio and pulseaudio-utils are not installed")
    print(f"load of the machine {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores; under load the sound server itself is late")
    minutes = float(os.environ.get(VARIABLE, 0.4 if quick else 1.25))
    plain = short(round(minutes * 60_000 / (len(WORK) * EVERY_MS)), *WORK)
    moved = short(2 if quick else 4, *WORK, "rest", every_ms=6370)
    with tempfile.TemporaryDirectory() as name, SoundServer(Path(name)) as server:
        os.environ.update(server.env)
        folder, one_by_one_ms = Path(name) / "floors", None
        if sys.version_info < (3, 12) and importlib.util.find_spec("simpleaudio"):
            take = record(server, folder / "one by one", plain, nobody, "simpleaudio")
            one_by_one_ms = quantile(off_ms(matched(take.due, take.heard, [], CUES).errors), 0.95)
        yield from figures_of("idle", record(server, folder / "idle", plain, nobody), one_by_one_ms)
        with hogs(HOGS):
            take = record(server, folder / "hogged", plain, nobody)
        yield from figures_of(f"beside {HOGS} busy programs", take)
        yield from figures_of(f"{PEOPLE} tapping", record(server, folder / "tapping", plain, tapping))
        act = partial(coach, SCRIPT[:4] if quick else SCRIPT)
        yield from figures_of("pauses and skips", record(server, folder / "moved", moved, act))
        loud, mute = cpu_of_sound(folder / "cpu", 15 if quick else 60)
    yield Figure("CPU of sound: a floor with it less one without", loud - mute, "%", most=CPU_PERCENT)
    yield Figure("  the floor with sound, and without", loud, "%", baseline=mute)
