"""What each cue sounds like, as a table, and how a row becomes samples.

`python -m floorclock.sound.recipes [FOLDER]` makes the files that are shipped.

Invariant: every cue is equally loud (TARGET_LKFS over its loudest 400 ms) whatever its row says, and the same row always makes
the same bytes. Fundamentals stay between 500 and 2,500 Hz; no cue has pulses of about half a second, which is how ISO 8201
calls for evacuation.
"""

from __future__ import annotations

import math
import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TypeAlias

import numpy as np

from floorclock.clock.cues import CueName
from floorclock.sound.samples import RATE, Floats, Pcm, to_pcm, write_wav

TARGET_LKFS = -10.0
HIGHEST_PEAK = 10 ** (-1.5 / 20)
"""-1.5 dB of full scale in samples keeps the true peak between them under -1 dBTP."""
SHORTEST_MS = 400
"""A shorter cue is followed by silence up to here: no loudness meter reads anything shorter."""

Timbre: TypeAlias = tuple[tuple[int, float], ...]
"""Partials as (multiple of the pitch, level); the fundamental is the strongest."""
PLAIN: Timbre = ((1, 1.0), (3, 0.15))
HOLLOW: Timbre = ((1, 1.0), (3, 0.33), (5, 0.2))
BRIGHT: Timbre = ((1, 1.0), (2, 0.5), (3, 0.33), (4, 0.25))
"""More partials find more gaps in the music."""


@dataclass(frozen=True, slots=True)
class Note:
    """One tone of a cue: from `pitch_hz` (gliding to `to_hz`) for `length_ms`, then `gap_ms` of silence."""

    pitch_hz: float
    length_ms: int
    gap_ms: int = 0
    timbre: Timbre = PLAIN
    to_hz: float = 0.0
    attack_ms: int = 2
    release_ms: int = 8
    decay_db: float = 0.0
    """How much quieter it is at its end than at its start."""


Recipe: TypeAlias = tuple[Note, ...]

RECIPES: Mapping[CueName, Recipe] = {
    # As in the six-pip time signal, the long tone's start is the instant. It is higher, so that nobody takes it for a fourth pip.
    CueName.COUNT: (Note(1000, 150),),
    CueName.GO: (Note(1500, 800, timbre=BRIGHT, release_ms=40),),
    CueName.HALF: (Note(1250, 90, gap_ms=90, timbre=HOLLOW), Note(1250, 120, timbre=HOLLOW)),
    CueName.LAST_TEN: (Note(1800, 60, gap_ms=45),) * 5 + (Note(1800, 60),),
    # Falling: let go. Rising: there is one more.
    CueName.REST: (Note(1200, 180, timbre=HOLLOW), Note(800, 440, timbre=HOLLOW, release_ms=60)),
    CueName.LAST_ROUND: (
        Note(700, 110, timbre=BRIGHT),
        Note(900, 110, timbre=BRIGHT),
        Note(1150, 110, timbre=BRIGHT),
        Note(1500, 260, timbre=BRIGHT, release_ms=40),
    ),
    CueName.END: (Note(620, 80, timbre=BRIGHT), Note(780, 80, timbre=BRIGHT)) * 6
    + (Note(620, 360, timbre=BRIGHT, release_ms=80),),
    CueName.PACE: (Note(2000, 100, decay_db=6),),
    CueName.SHUTTLE: (Note(700, 300, to_hz=1400, timbre=HOLLOW),),
    CueName.ATTENTION: (Note(550, 380, timbre=((1, 1.0),), attack_ms=120, release_ms=160),),
}


class PeakError(ValueError):
    """A row that cannot reach the loudness of the others without its peaks going too high: make it longer or less pointed."""


def cook(recipe: Recipe) -> Pcm:
    """The samples of a recipe."""
    raw = np.concatenate([_note(note) for note in recipe])
    gain = 10 ** ((TARGET_LKFS - momentary_lkfs(raw)) / 20)
    peak = gain * np.abs(raw).max()
    if peak > HIGHEST_PEAK:
        raise PeakError(f"peaks {20 * math.log10(peak / HIGHEST_PEAK):.1f} dB too high")
    return to_pcm(np.pad(gain * raw, (0, max(0, RATE * SHORTEST_MS // 1000 - len(raw)))))


def _note(note: Note) -> Floats:
    frames = RATE * note.length_ms // 1000
    at = np.arange(frames)
    t = at / RATE
    glide = (note.to_hz or note.pitch_hz) - note.pitch_hz
    turns = t * (note.pitch_hz + glide * t / (2 * note.length_ms / 1000))
    rising, falling = _eased(1000 * t / note.attack_ms), _eased((frames - at) / RATE * 1000 / note.release_ms)
    level = rising * falling * 10 ** (-note.decay_db * at / frames / 20)
    tone = level * sum(part * np.sin(2 * np.pi * multiple * turns) for multiple, part in note.timbre)
    return np.pad(tone, (0, RATE * note.gap_ms // 1000))


def _eased(part: Floats) -> Floats:
    """From 0 to 1 without a corner, so that a tone does not click."""
    return 0.5 - 0.5 * np.cos(np.pi * np.minimum(part, 1))


_LOUDEST_OF = RATE * 400 // 1000
_STEP = RATE // 100
_SHELF = ((1.53512485958697, -2.69169618940638, 1.19839281085285), (1.0, -1.69065929318241, 0.73248077421585))
_HIGH_PASS = ((1.0, -2.0, 1.0), (1.0, -1.99004745483398, 0.99007225036621))
"""The two stages of K-weighting at 48 kHz, as the recommendation prints them (from memory; a test holds them to a library)."""


def momentary_lkfs(samples: Floats) -> float:
    """How loud a sound is, as ITU-R BS.1770 measures it: K-weighted, the loudest 400 ms, in LKFS.

    A sound shorter than 400 ms counts as what it is with silence after it, as a momentary meter would show it.
    """
    size = len(samples) + _LOUDEST_OF
    z = np.exp(-2j * np.pi * np.fft.rfftfreq(size))
    response = np.prod([np.polyval(b[::-1], z) / np.polyval(a[::-1], z) for b, a in (_SHELF, _HIGH_PASS)], axis=0)
    # The silence after the sound takes up what still rings at its end, so that nothing of it comes around to the start.
    weighted = np.fft.irfft(np.fft.rfft(samples, size) * response, size)
    energy = np.concatenate(([0.0], np.cumsum(weighted**2)))
    first = np.arange(0, size + 1 - _LOUDEST_OF, _STEP)
    loudest = (energy[first + _LOUDEST_OF] - energy[first]).max()
    return -0.691 + 10 * math.log10(loudest / _LOUDEST_OF)


def make_cues(folder: Path) -> tuple[Path, ...]:
    """Writes one WAV file per cue into the folder, which is made if it is not there; returns their paths."""
    folder.mkdir(parents=True, exist_ok=True)
    made = {folder / f"{name}.wav": cook(recipe) for name, recipe in RECIPES.items()}
    for path, pcm in made.items():
        write_wav(path, pcm)
    return tuple(made)


def main(arguments: Sequence[str]) -> None:
    """Makes the cues in the folder named, or in `sounds`."""
    for path in make_cues(Path(arguments[0] if arguments else "sounds")):
        print(path)


if __name__ == "__main__":
    main(sys.argv[1:])
