"""What each cue sounds like, as a table to argue about, and how a row becomes samples.

Invariant: every cue is equally loud (TARGET_LKFS over its loudest 400 ms) whatever its row says, and the same row always makes
the same bytes. Fundamentals stay between 500 and 2,500 Hz; no cue has pulses of about half a second, which is how ISO 8201
calls for evacuation.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import TypeAlias

from floorclock.clock.cues import CueName
from floorclock.sound.anchor import RATE
from floorclock.sound.loudness import momentary_lkfs
from floorclock.sound.mixer import Pcm
from floorclock.sound.wav import to_pcm

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
    """The samples of a recipe.

    Raises:
        PeakError: it cannot be as loud as the others.
    """
    raw = [sample for note in recipe for sample in _note(note)]
    gain = 10 ** ((TARGET_LKFS - momentary_lkfs(raw)) / 20)
    peak = gain * max(map(abs, raw))
    if peak > HIGHEST_PEAK:
        raise PeakError(f"peaks {20 * math.log10(peak / HIGHEST_PEAK):.1f} dB too high")
    raw += [0.0] * (RATE * SHORTEST_MS // 1000 - len(raw))
    return to_pcm([gain * sample for sample in raw])


def _note(note: Note) -> Iterator[float]:
    frames = RATE * note.length_ms // 1000
    length_s = note.length_ms / 1000
    attack, release = RATE * note.attack_ms // 1000, RATE * note.release_ms // 1000
    glide = (note.to_hz or note.pitch_hz) - note.pitch_hz
    for k in range(frames):
        t = k / RATE
        turns = t * (note.pitch_hz + glide * t / (2 * length_s))
        level = _eased(k / attack) * _eased((frames - k) / release) * 10 ** (-note.decay_db * k / frames / 20)
        yield level * sum(part * math.sin(2 * math.pi * multiple * turns) for multiple, part in note.timbre)
    yield from [0.0] * (RATE * note.gap_ms // 1000)


def _eased(part: float) -> float:
    """From 0 to 1 without a corner, so that a tone does not click."""
    return 1.0 if part >= 1 else 0.5 - 0.5 * math.cos(math.pi * part)
