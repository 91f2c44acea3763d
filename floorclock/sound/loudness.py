"""How loud a cue is, as ITU-R BS.1770 hears it: K-weighted, over the loudest 400 ms.

Invariant: a sound shorter than 400 ms counts as what it is with silence after it, as a momentary meter would show it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import accumulate

from floorclock.sound.anchor import RATE

WINDOW = RATE * 400 // 1000
STEP = RATE // 100

_SHELF = ((1.53512485958697, -2.69169618940638, 1.19839281085285), (-1.69065929318241, 0.73248077421585))
_HIGH_PASS = ((1.0, -2.0, 1.0), (-1.99004745483398, 0.99007225036621))
"""The two stages of K-weighting at 48 kHz, as the recommendation prints them (from memory; a test holds them to a library)."""


def momentary_lkfs(samples: Sequence[float]) -> float:
    """The loudest 400 ms of mono samples between -1 and 1, in LKFS."""
    weighted = _filtered(_filtered([*samples, *([0.0] * WINDOW)], *_SHELF), *_HIGH_PASS)
    energy = [0.0, *accumulate(value * value for value in weighted)]
    loudest = max(energy[at + WINDOW] - energy[at] for at in range(0, len(energy) - WINDOW, STEP))
    return -0.691 + 10 * math.log10(loudest / WINDOW)


def _filtered(samples: Sequence[float], b: tuple[float, float, float], a: tuple[float, float]) -> list[float]:
    """One second-order section, in direct form."""
    result = []
    x1 = x2 = y1 = y2 = 0.0
    for x in samples:
        y = b[0] * x + b[1] * x1 + b[2] * x2 - a[0] * y1 - a[1] * y2
        result.append(y)
        x1, x2, y1, y2 = x, x1, y, y1
    return result
