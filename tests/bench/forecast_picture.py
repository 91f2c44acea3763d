"""Draws the picture of docs/pace.md: what is foretold of two athletes after three rounds, and what they really take.

python -m tests.bench.forecast_picture [docs/pace.png]
"""

from __future__ import annotations

import sys
from typing import Any, Final

import matplotlib.pyplot as plt
import numpy as np

from tests.bench.bodies import MARGIN_S, TUNING, WINDOW_S, InventedClass, invent
from tests.bench.forecast_accuracy import ours, own_theil_sen

SEEN: Final = 3
PANELS: Final = {"tiring": "tires", "collapse": "collapses: no sign before it"}


def find(name: str) -> tuple[InventedClass, int]:
    """A class of at least seven rounds, and who of it loses most by the last round (by one round, of who collapses)."""
    world = next(world for world in TUNING if world.name == name)
    made = next(made for seed in range(4, 60) if (made := invent(world, seed)).rounds >= 7 and len(made.names) > 9)
    smooth = made.took_s[:, 0] / np.exp(made.luck["noise"][:, 0])
    steps = np.diff(smooth, axis=1)
    if world.collapses:
        fits = (steps.argmax(axis=1) >= SEEN) & (smooth[:, SEEN - 1] < WINDOW_S - MARGIN_S)
        return made, int(np.argmax(np.where(fits, steps.max(axis=1), 0)))
    return made, int(np.argmax(np.where(smooth[:, -1] < WINDOW_S, smooth[:, SEEN - 1] - smooth[:, 0], 0)))


def draw(axes: Any, name: str, words: str) -> None:
    """One panel."""
    made, who = find(name)
    low, middle, high = ours(made, SEEN)[:, who, 0]
    straight = own_theil_sen(made, SEEN)[1, who, 0]
    rounds = np.arange(1, made.rounds + 1)
    ahead = rounds[SEEN - 1 :]
    last = made.tapped_s[who, 0, SEEN - 1]
    axes.fill_between(ahead, [last, *low[SEEN:]], [last, *high[SEEN:]], color="#c9d8ea", label="80 of 100 cases")
    axes.plot(ahead, [last, *middle[SEEN:]], color="#1f4e79", label="foretold after round 3")
    axes.plot(ahead, straight[SEEN - 1 :], color="#888888", linestyle=":", label="own straight line")
    axes.plot(rounds[:SEEN], made.tapped_s[who, 0, :SEEN], "o", color="black", label="tapped")
    axes.plot(rounds[SEEN:], made.took_s[who, 0, SEEN:], "o", color="black", fillstyle="none", label="what it took")
    axes.axhline(WINDOW_S - MARGIN_S, color="#b06000", linewidth=1)
    axes.axhline(WINDOW_S, color="#a00000", linewidth=1)
    axes.text(1.2, WINDOW_S - MARGIN_S + 0.4, "margin", color="#b06000", fontsize=8)
    axes.text(1.2, WINDOW_S + 0.4, "the interval ends", color="#a00000", fontsize=8)
    axes.set(title=f"Who {words}", xlabel="round", ylim=(28, 70), xticks=rounds)


def main() -> None:
    """Draws both panels into the file that is named."""
    figure, axes = plt.subplots(1, 2, figsize=(9, 3.6), sharey=True, layout="constrained")
    for panel, (name, words) in zip(axes, PANELS.items(), strict=True):
        draw(panel, name, words)
    axes[0].set_ylabel("split, s")
    axes[0].legend(fontsize=7, loc="lower right")
    figure.savefig(sys.argv[1] if len(sys.argv) > 1 else "docs/pace.png", dpi=110)


if __name__ == "__main__":
    main()
