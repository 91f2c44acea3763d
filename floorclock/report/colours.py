"""The colours of paper, page and picture, by what they are for.

Invariant: a colour never says anything alone: a shape or a word says it too. Data are in the hues of Okabe and Ito (2008),
which people with colour-vision deficiencies tell apart; text keeps a contrast of 4.5 on its ground, shapes 3 (WCAG 2.2,
1.4.3 and 1.4.11; `tests/report/test_colours.py` works it out).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Final


class Ink(StrEnum):
    """What something is drawn with."""

    INK = "ink"
    DIM = "dim"
    """Words that come second."""
    GUIDE = "guide"
    """Lines that the eye follows, and frames. Never text."""
    HELD = "held"
    """Rest of at least the margin, and splits that left it."""
    TIGHT = "tight"
    """Rest under the margin. Never text."""
    AHEAD = "ahead"
    """What is still to come. Never text."""


TEXT_INKS: Final = (Ink.INK, Ink.DIM)


@dataclass(frozen=True, slots=True)
class ColourScheme:
    """A ground and what stands on it. `raised` is the ground of headings in tables and of badges."""

    ground: str
    raised: str
    inks: Mapping[Ink, str]


LIGHT: Final = ColourScheme(
    ground="#FFFFFF",
    raised="#EEF1F3",
    inks={
        Ink.INK: "#14171A",
        Ink.DIM: "#555B61",
        Ink.GUIDE: "#868C93",
        Ink.HELD: "#0072B2",
        Ink.TIGHT: "#D55E00",
        Ink.AHEAD: "#009E73",
    },
)
DARK: Final = ColourScheme(
    ground="#14171A",
    raised="#23282D",
    inks={
        Ink.INK: "#F4F3EE",
        Ink.DIM: "#B2B8BE",
        Ink.GUIDE: "#7C838A",
        Ink.HELD: "#56B4E9",
        Ink.TIGHT: "#E69F00",
        Ink.AHEAD: "#009E73",
    },
)
