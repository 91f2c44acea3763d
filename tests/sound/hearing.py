"""How the tests listen: how unlike two sounds are, and where one is on and off."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from floorclock.sound.samples import RATE, Floats

THIRD_OCTAVES = 1000.0 * 2.0 ** (np.arange(-4, 12) / 3)
"""Band centres from 400 Hz to 12.7 kHz."""


def picture(pcm: Floats, start_s: float = 0.0, length_s: float = 0.5) -> Floats:
    """Energy in third octaves by steps of 25 ms of the first half second: what a listener has by then; of unit length."""
    frame, piece = RATE // 40, np.zeros(int(length_s * RATE))
    begin = int(start_s * RATE)
    heard = pcm[begin : begin + len(piece)]
    piece[: len(heard)] = heard
    frames = piece.reshape(-1, frame) * np.hanning(frame)
    power = np.abs(np.fft.rfft(frames, axis=1)) ** 2
    hertz = np.fft.rfftfreq(frame, 1 / RATE)
    bands = [power[:, (hertz >= f / 2 ** (1 / 6)) & (hertz < f * 2 ** (1 / 6))].sum(axis=1) for f in THIRD_OCTAVES]
    flat: Floats = np.sqrt(np.asarray(bands)).ravel()
    return flat / np.linalg.norm(flat)


def unlikeness(one: Floats, other: Floats) -> float:
    """From 0 (the same) to 1 (nothing in common): 1 minus the cosine of the two pictures, at the best fit within 50 ms."""
    shifts: Sequence[float] = (0.0, 0.025, 0.05)
    fits: list[Any] = [picture(one, a) @ picture(other, b) for a in shifts for b in shifts if a == 0 or b == 0]
    return float(1 - max(fits))


def pulses(pcm: Floats, threshold: float = 0.02) -> list[tuple[float, float]]:
    """(start, length) in seconds of every stretch of sound; a pause of less than 20 ms does not part two."""
    loud = np.flatnonzero(np.abs(pcm) > threshold)
    if not len(loud):
        return []
    breaks = np.flatnonzero(np.diff(loud) > RATE // 50)
    firsts = np.concatenate(([loud[0]], loud[breaks + 1]))
    lasts = np.concatenate((loud[breaks], [loud[-1]]))
    return [(float(a) / RATE, float(b - a + 1) / RATE) for a, b in zip(firsts, lasts, strict=True)]


def calls_for_evacuation(heard: list[tuple[float, float]]) -> bool:
    """Whether three pulses in a row are on for 0.5 s and off for 0.5 s between, each within 10 %.

    ISO 8201's three-pulse pattern, tolerances as in the Ontario building code, appendix A-3.2.4.18(2).
    """
    for k in range(len(heard) - 2):
        three = heard[k : k + 3]
        gaps = [three[j + 1][0] - three[j][0] - three[j][1] for j in (0, 1)]
        if all(0.45 <= length <= 0.55 for _, length in three) and all(0.45 <= gap <= 0.55 for gap in gaps):
            return True
    return False
