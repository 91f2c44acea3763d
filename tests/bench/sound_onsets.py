"""How far from their instants cues are heard, in a recording of real sound.

    python -m tests.bench.sound_onsets [--cues 60] [--every 0.5] [--busy] [--hogs 0] [--only-speaker]

Plays `--cues` cues through a `Speaker` into a sound server of its own, records that, and does the same with simpleaudio, one
play for each cue (where it is installed; Python < 3.12). `--busy` keeps the interpreter busy for 30 ms in every 100 ms, from
another thread; `--hogs 2` starts two busy loops beside it, one for each core of a small machine. `--cues 180 --every 10` is half
an hour, for drift. Ends with status 1 if a limit is missed.
"""

from __future__ import annotations

import argparse
import importlib.util
import os
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt

from floorclock.clock.cues import CueName
from floorclock.sound.cueset import CueSet, load_cues
from floorclock.sound.outputs import MiniaudioOutput
from floorclock.sound.samples import RATE
from floorclock.sound.speaker import Speaker
from tests.bench.common import Figure, print_table
from tests.sound.pulse_rig import Recording, SoundServer, installed, rise_s

SOUNDS = Path(__file__).parents[2] / "sounds"
AHEAD_S, SPREAD_S = 0.3, 0.1


@dataclass(frozen=True, slots=True)
class Heard:
    """What a recording says about the cues asked for at some instants."""

    missing: int
    latency_ms: float
    p95_ms: float
    worst_ms: float
    drift_ms: float
    """By a straight line through the errors, from the first cue to the last."""


def compared(asked_s: Sequence[float], heard_s: npt.NDArray[np.float64]) -> Heard:
    """Each instant against the onset nearest to it; a cue missing or doubled shows in the numbers heard."""
    if not len(heard_s):
        raise SystemExit("nothing was heard")
    instants = np.asarray(asked_s)
    nearest = heard_s[np.abs(heard_s[None, :] - instants[:, None]).argmin(axis=1)]
    errors_ms = 1000 * (nearest - instants)
    latency = float(np.median(errors_ms))
    off = np.abs(errors_ms - latency)
    slope = np.polyfit(instants - instants[0], errors_ms, 1)[0]
    drift = float(slope * (instants[-1] - instants[0]))
    return Heard(len(asked_s) - len(heard_s), latency, float(np.percentile(off, 95)), float(off.max()), drift)


@contextmanager
def busy(interpreter: bool, hogs: int) -> Iterator[None]:
    """30 ms of Python in every 100 ms, as a screen that draws much; and so many processes that never rest."""
    ended = threading.Event()

    def work() -> None:
        while not ended.wait(0.07):
            until = time.monotonic() + 0.03
            while time.monotonic() < until:
                sum(range(200))

    thread = threading.Thread(target=work if interpreter else ended.wait, daemon=True)
    thread.start()
    processes = [subprocess.Popen([sys.executable, "-c", "while True: pass"]) for _ in range(hogs)]
    try:
        yield
    finally:
        ended.set()
        thread.join()
        for process in processes:
            process.kill()
            process.wait()


def instants_for(count: int, every_s: float) -> list[float]:
    """Instants at all phases of a sound server's blocks; an even beat could meet the same phase each time, and hide its cost."""
    first_s = time.monotonic() + 1.5
    return [first_s + every_s * k + SPREAD_S * (k * 0.618034 % 1) for k in range(count)]


def at_instants(instants: Sequence[float], ahead_s: float, act: Callable[[float], None]) -> None:
    """Does something so long before each instant."""
    for instant in instants:
        time.sleep(max(0.0, instant - ahead_s - time.monotonic()))
        act(instant)


def through_speaker(server: SoundServer, cues: CueSet, count: int, every_s: float) -> tuple[Heard, float, float]:
    """(what was heard, CPU in percent of a core, silence after a withdrawal in ms)."""
    recording = Recording(server)
    speaker = Speaker([MiniaudioOutput(("PULSEAUDIO",))], cues)
    speaker.start()
    if speaker.trouble:
        raise SystemExit("the speaker has no sound")
    instants = instants_for(count, every_s)
    begun, cpu = time.monotonic(), time.process_time()
    at_instants(instants, AHEAD_S, lambda instant: speaker.schedule(instant, CueName.COUNT))
    time.sleep(0.6 + AHEAD_S)
    cpu_percent = 100 * (time.process_time() - cpu) / (time.monotonic() - begun)
    end_s = time.monotonic() + AHEAD_S
    speaker.schedule(end_s, CueName.END)
    time.sleep(AHEAD_S + 0.4)
    speaker.withdraw()
    withdrawn_s = time.monotonic()
    time.sleep(1.2)
    recording.stop()
    speaker.close()
    onsets = recording.onsets_s()
    cues_heard = onsets[onsets < end_s - 0.1] - rise_s(np.asarray(cues[CueName.COUNT]))
    return compared(instants, cues_heard), cpu_percent, 1000 * (recording.last_sound_s() - withdrawn_s)


def one_play_a_cue(server: SoundServer, cues: CueSet, count: int, every_s: float) -> Heard:
    """The same cues with simpleaudio, each played when it is due."""
    import simpleaudio  # type: ignore[import-untyped,import-not-found,unused-ignore]

    sound = cues[CueName.COUNT].tobytes()
    recording = Recording(server)
    instants = instants_for(count, every_s)
    at_instants(instants, 0.0, lambda _: simpleaudio.play_buffer(sound, 1, 2, RATE))
    time.sleep(0.8)
    recording.stop()
    return compared(instants, recording.onsets_s() - rise_s(np.asarray(cues[CueName.COUNT])))


def measure(server: SoundServer, count: int, every_s: float, only_speaker: bool) -> Iterator[Figure]:
    """What was found through the speaker, with one play for each cue as the baseline."""
    cues, _ = load_cues(None, SOUNDS)
    ours, cpu_percent, silence_ms = through_speaker(server, cues, count, every_s)
    if not only_speaker and sys.version_info < (3, 12) and importlib.util.find_spec("simpleaudio"):
        theirs = one_play_a_cue(server, cues, count, every_s)
        yield Figure(what="p95 by one play a cue", value=ours.p95_ms, unit="ms", baseline=theirs.p95_ms, most_times=0.02)
    yield Figure(what=f"onset error of {count} cues, p95", value=ours.p95_ms, unit="ms", most=0.2)
    yield Figure(what="  worst", value=ours.worst_ms, unit="ms", most=1.0)
    yield Figure(
        what=f"  constant latency after subtraction ({ours.latency_ms:+.2f})", value=abs(ours.latency_ms), unit="ms", most=5.0
    )
    yield Figure(what=f"  drift from first to last ({ours.drift_ms:+.3f})", value=abs(ours.drift_ms), unit="ms", most=0.5)
    yield Figure(what="  cues missing or too many", value=abs(ours.missing), unit="cues", most=0)
    yield Figure(what="  silence after a withdrawal", value=silence_ms, unit="ms", most=150)
    yield Figure(what="  CPU of one core", value=cpu_percent, unit="%")


def main() -> int:
    """Runs the bench and prints what it found."""
    reader = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    reader.add_argument("--cues", type=int, default=60)
    reader.add_argument("--every", type=float, default=0.5)
    reader.add_argument("--busy", action="store_true")
    reader.add_argument("--hogs", type=int, default=0)
    reader.add_argument("--only-speaker", action="store_true")
    asked = reader.parse_args()
    if not installed():
        print("pulseaudio and pulseaudio-utils are not installed", file=sys.stderr)
        return 3
    print(f"load of the machine {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores; under load the sound server itself is late")
    with tempfile.TemporaryDirectory() as folder, SoundServer(Path(folder)) as server, busy(asked.busy, asked.hogs):
        os.environ.update(server.env)
        figures = list(measure(server, asked.cues, asked.every, asked.only_speaker))
    print_table(figures)
    print(f"load of the machine at the end {os.getloadavg()[0]:.1f}")
    return 1 if any(figure.verdict == "NOT MET" for figure in figures) else 0


if __name__ == "__main__":
    sys.exit(main())
