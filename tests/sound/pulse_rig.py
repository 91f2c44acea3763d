"""A private sound server with a sink that plays to nobody in real time, and a recording of what it plays.

PulseAudio (Debian: pulseaudio, pulseaudio-utils). Its null sink keeps real time only with `norewinds=1`, and steadily with a
recorder that asks for 20 ms.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
import time
from pathlib import Path
from types import TracebackType
from typing import Self

import numpy as np
import numpy.typing as npt

from floorclock.sound.samples import RATE

LOUD = 650
"""2 % of full scale: above this a recording sounds."""


def installed() -> bool:
    """Whether this machine can play and record at all."""
    return all(shutil.which(program) for program in ("pulseaudio", "pactl", "parec"))


class SoundServer:
    """A sound server of our own in a folder of our own; `env` leads programs to it."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._process: subprocess.Popen[bytes] | None = None
        alsa = folder / "asound.conf"
        alsa.write_text("</usr/share/alsa/alsa.conf>\npcm.!default { type pulse }\nctl.!default { type pulse }\n")
        self.env = {
            "XDG_RUNTIME_DIR": str(folder),
            "PULSE_SERVER": f"unix:{folder}/native",
            "ALSA_CONFIG_PATH": str(alsa),
        }

    def start(self) -> None:
        """Starts the server and waits until it answers."""
        (self.folder / "native").unlink(missing_ok=True)
        modules = (
            f"module-native-protocol-unix auth-anonymous=1 socket={self.folder}/native",
            "module-null-sink sink_name=floor rate=48000 channels=2 norewinds=1",
        )
        flags = ("-n", "--disable-shm=yes", "--daemonize=no", "--use-pid-file=no", "--exit-idle-time=-1", "--disallow-exit")
        self._process = subprocess.Popen(
            ["pulseaudio", *flags, f"--log-target=file:{self.folder}/log", *(word for m in modules for word in ("-L", m))],
            env={**os.environ, **self.env},
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        deadline = time.monotonic() + 10
        while time.monotonic() < deadline:
            if self._ask("info") is not None:
                return
            time.sleep(0.02)
        raise RuntimeError("the sound server does not answer")

    def kill(self) -> None:
        """Ends the server as a crash would."""
        process, self._process = self._process, None
        if process is not None:
            process.kill()
            process.wait()

    @property
    def pid(self) -> int:
        """The server's process."""
        if self._process is None:
            raise RuntimeError("the sound server does not run")
        return self._process.pid

    def sink_latency_s(self) -> float:
        """How far ahead of the sound the sink takes it, by the server's own account."""
        found = re.search(r"configured (\d+) usec", self._ask("list", "sinks") or "")
        if found is None:
            raise RuntimeError("the sound server has no sink")
        return int(found[1]) / 1e6

    def _ask(self, *words: str) -> str | None:
        asked = subprocess.run(["pactl", *words], env={**os.environ, **self.env, "LC_ALL": "C"}, capture_output=True, text=True)
        return asked.stdout if asked.returncode == 0 else None

    def __enter__(self) -> Self:
        self.start()
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None) -> None:
        self.kill()


LISTENER = """
import os, sys, time
with open(sys.argv[1], "wb", buffering=0) as sound, open(sys.argv[2], "w") as times:
    frames = 0
    while piece := os.read(0, 65536):
        at_s = time.monotonic()
        sound.write(piece)
        frames += len(piece) // 2
        print(repr(at_s), frames, file=times)
"""
"""A process of its own notes when each piece arrives: the one under test may be busy."""


class Recording:
    """Records what the sink plays, and when each of its frames was heard on the monotonic clock."""

    def __init__(self, server: SoundServer) -> None:
        self._server = server
        self._sound, self._times = server.folder / "recorded.raw", server.folder / "recorded.txt"
        self._sound.write_bytes(b"")
        self._parec = subprocess.Popen(
            ["parec", "-d", "floor.monitor", "--raw", "--format=s16le", "--rate=48000", "--channels=1", "--latency-msec=20"],
            env={**os.environ, **server.env},
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
        )
        listener = [sys.executable, "-c", LISTENER, str(self._sound), str(self._times)]
        self._listener = subprocess.Popen(listener, stdin=self._parec.stdout)
        if self._parec.stdout is not None:
            self._parec.stdout.close()
        self._sink_s = 0.0
        self.samples: npt.NDArray[np.int16] = np.zeros(0, dtype=np.int16)
        """What was recorded, once it has been stopped."""
        deadline = time.monotonic() + 5
        while not self._sound.stat().st_size and time.monotonic() < deadline:
            time.sleep(0.01)

    def stop(self) -> None:
        """Ends the recording; afterwards it can be looked at."""
        self._sink_s = self._server.sink_latency_s()
        self._parec.terminate()
        self._parec.wait(5)
        self._listener.wait(5)
        self.samples = np.fromfile(self._sound, dtype=np.int16)
        self._arrived = np.loadtxt(self._times)

    def heard_s(self, frame: int) -> float:
        """When a frame was heard, on the monotonic clock.

        The monitor gives frames out when the sink takes them. The sink takes a block at the time its first frame is due, so the
        last frame of a block comes the sink's latency before it is heard: the earliest arrivals are these. Only those of the
        nearest seconds count, for a server that is held up itself leaves a block out.
        """
        near = self._arrived[np.abs(self._arrived[:, 1] - frame) < 2 * RATE]
        epochs = np.sort(near[:, 0] - near[:, 1] / RATE)
        return float(epochs[len(epochs) // 50] + self._sink_s + frame / RATE)

    def sounds(self) -> list[tuple[int, int]]:
        """(first loud frame, last loud frame) of every sound; a tenth of a second of quiet parts two."""
        return stretches(np.abs(self.samples) > LOUD, RATE // 10)

    def last_sound_s(self) -> float:
        """When the last loud frame was heard, on the monotonic clock."""
        return self.heard_s(self.sounds()[-1][1])


def stretches(is_loud: npt.NDArray[np.bool_], gap: int) -> list[tuple[int, int]]:
    """(first, last) loud frame of every stretch of sound; no more than `gap` quiet frames do not part two."""
    loud = np.flatnonzero(is_loud)
    if not len(loud):
        return []
    breaks = np.flatnonzero(np.diff(loud) > gap)
    firsts, lasts = [loud[0], *loud[breaks + 1]], [*loud[breaks], loud[-1]]
    return [(int(first), int(last)) for first, last in zip(firsts, lasts, strict=True)]


def rise_s(pcm: npt.NDArray[np.int16]) -> float:
    """From a sound's start to its first loud frame: what `heard_s` of that frame is late by."""
    return float(np.argmax(np.abs(pcm) > LOUD) / RATE)
