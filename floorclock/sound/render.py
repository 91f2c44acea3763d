"""A whole class as a sound file.

Invariant: a cue's first sample is at its instant exactly (48 frames a millisecond), and memory does not grow with the class.
"""

from __future__ import annotations

import wave
from collections.abc import Iterable
from heapq import heapify, heappop
from pathlib import Path

from floorclock.clock.cues import CueName
from floorclock.errors import ResourceError
from floorclock.sound.anchor import RATE
from floorclock.sound.cueset import CueSet
from floorclock.sound.mixer import Pcm, Voice, mixed

FRAMES_PER_MS = RATE // 1000
BLOCK = RATE


def render_wav(cues: Iterable[tuple[int, CueName]], length_ms: int, cueset: CueSet, path: Path) -> None:
    """Writes the cues, each at its millisecond from the start, as a mono WAV file of `length_ms`; what sounds longer is cut off.

    Play gains apply: pass `cueset.at_volume(1)` of a loaded set.

    Raises:
        ResourceError: the file cannot be written.
        ValueError: a cue is before the start.
    """
    to_come = [(at_ms * FRAMES_PER_MS, number, cueset.sounds[name]) for number, (at_ms, name) in enumerate(cues)]
    if any(start < 0 for start, _, _ in to_come):
        raise ValueError("a cue is before the start")
    heapify(to_come)
    try:
        with path.open("wb") as raw, wave.open(raw, "wb") as file:
            file.setparams((1, 2, RATE, length_ms * FRAMES_PER_MS, "NONE", ""))
            _write(file, to_come, length_ms * FRAMES_PER_MS)
    except OSError as error:
        raise ResourceError(f"{path} cannot be written: {error.strerror}") from error


def _write(file: wave.Wave_write, to_come: list[tuple[int, int, Pcm]], length: int) -> None:
    voices: list[Voice] = []
    for begin in range(0, length, BLOCK):
        frames = min(BLOCK, length - begin)
        while to_come and to_come[0][0] < begin + frames:
            start, _, pcm = heappop(to_come)
            voices.append(Voice(start, pcm, None))
        file.writeframesraw(mixed(voices, begin, frames).tobytes())
        voices = [voice for voice in voices if voice.end > begin + frames]
