"""The sound of the real floor: `floorclock run` in a pseudo-terminal, played to a sound server of our own and recorded.

Every cue of the recording is held against the course that the class really took, folded again from its journal: with the
floor idle, with 40 athletes tapping, and in a class with pauses, skips and longer intervals. Takes six minutes, `--quick` less
than three.
"""

from __future__ import annotations

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

from floorclock.clock.cues import CueName
from floorclock.plan.roster import Roster
from floorclock.sound.cueset import CueSet, load_cues
from tests.bench.common import TITLE, Figure, NotHere, Program, bench_roster, quantile, watch
from tests.sound.heard_course import SILENCE_S, Course, Due, Heard, Matched, listen, matched
from tests.sound.pulse_rig import Recording, SoundServer, installed

FLOORCLOCK = str(Path(sys.executable).with_name("floorclock"))
SOUNDS = Path(__file__).parents[2] / "sounds"
PEOPLE = 40
BURST_S = 0.3
SETTLE_S = 3.0
"""The device is opened after the first picture."""
P95_MS, WORST_MS, LATENCY_MS, CPU_PERCENT = 0.2, 1.0, 5.0, 1.5
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


def session(every_ms: int, rounds: int, *stations: str) -> str:
    """One rotation of short intervals that are full of cues."""
    head = f"session: {TITLE}\nrest_margin: 1s\ncount_in: 3s\nparts:\n"
    part = f"  - kind: rotation\n    title: Short\n    every: {every_ms / 1000}s\n    rounds: {rounds}\n    stations:\n"
    return head + part + "".join(f"      - {station}\n" for station in stations)


WORK = ("{move: step-up, target: 4 reps}", "{move: push-up, target: 3 reps}")


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
        began_s, own = time.monotonic(), program.cpu_s()
        program.press("\r")
        watch((program,), time.monotonic() + 0.5)
        keys_s = act(program, home)
        while (left_s := _left_s(home)) > 0:
            watch((program,), time.monotonic() + left_s)
        # The last cue is to sound out.
        watch((program,), time.monotonic() + 2.0)
        cpu_percent = 100 * (program.cpu_s() - own) / (time.monotonic() - began_s)
        # While the floor is still there: the sink's latency is that of who asks for the least.
        recording.stop()
        program.end(signal.SIGTERM)
    heard = listen(recording, cues)
    return Take(Course(home).due(), heard, cpu_percent, keys_s)


def _left_s(home: Path) -> float:
    course = Course(home)
    return course.when_s(max(cue.at_ms for cue in course.cues()))[0] - time.monotonic()


def silences_ms(take: Take) -> list[float]:
    """How long after each key the sound of that moment went on, where there was one."""
    return [1000 * (heard.end_s - key_s) for key_s in take.keys_s for heard in take.heard if heard.at_s <= key_s < heard.end_s]


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
    found = matched(take.due, take.heard, take.keys_s, cues)
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
    ]


def wholeness(found: Matched) -> list[Figure]:
    """What is missing and what is too much."""
    for what, items in (("missing", found.missing), ("not in the course", found.extra), ("too long", found.overlong)):
        for item in items:
            print(f"{what}: {item}", file=sys.stderr)
    heard = len(found.errors)
    return [
        Figure(what=f"  cues missing, of {heard + len(found.missing)}", value=len(found.missing), unit="cues", most=0),
        Figure(
            what="  cues with a hole of a millisecond or more",
            value=sum(sound.hole_ms >= 1 for sound in found.found),
            unit="cues",
        ),
        Figure(what="  cues doubled or invented", value=len(found.extra) + len(found.overlong), unit="cues", most=0),
    ]


def scripted(take: Take, cues: CueSet) -> list[Figure]:
    """The figures of a class with pauses and skips."""
    found = matched(take.due, take.heard, take.keys_s, cues)
    off = off_ms(found.errors)
    answers = [error for error, due in found.errors if due.answers]
    silent = silences_ms(take)
    return [
        Figure(what=f"onset error of {len(off)} cues, pauses and skips, p95", value=quantile(off, 0.95), unit="ms", most=P95_MS),
        Figure(what="  worst", value=max(off), unit="ms", most=WORST_MS),
        *wholeness(found),
        Figure(what=f"  {len(answers)} cues that answer a key, late at worst", value=max(answers), unit="ms"),
        Figure(what="  cues cut off that the buffer already held when their key came", value=len(found.cut), unit="cues"),
        Figure(what=f"  silence after {len(silent)} keys in a tone, worst", value=max(silent), unit="ms", most=1000 * SILENCE_S),
    ]


def figures(quick: bool = False) -> Iterator[Figure]:
    """Idle, tapped and conducted classes, and the CPU of sound."""
    if not installed():
        raise NotHere("pulseaudio and pulseaudio-utils are not installed")
    print(f"load of the machine {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores; under load the sound server itself is late")
    cues, _ = load_cues(None, SOUNDS)
    plain = session(4130, 3 if quick else 9, *WORK)
    moved = session(6370, 2 if quick else 4, *WORK, "rest")
    script = SCRIPT[:4] if quick else SCRIPT
    with tempfile.TemporaryDirectory() as name, SoundServer(Path(name)) as server:
        os.environ.update(server.env)
        folder = Path(name) / "floors"
        yield from exactness("idle", record(server, cues, folder / "idle", plain, nobody), cues)
        yield from exactness(f"{PEOPLE} tapping", record(server, cues, folder / "tapping", plain, tapping), cues)
        yield from scripted(
            record(server, cues, folder / "moved", moved, lambda program, home: coach(script, program, home)), cues
        )
        loud, mute = cpu_of_sound(folder / "cpu", 15 if quick else 60)
    yield Figure(what="CPU of sound: a floor with it less one without", value=loud - mute, unit="%", most=CPU_PERCENT)
    yield Figure(what="  the floor with sound, and without", value=loud, unit="%", baseline=mute)
