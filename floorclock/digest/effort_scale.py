"""The effort scale from 0 to 10 with its words, and what a coach types on it.

Invariant: an effort is a whole or half number from 0 to 10; what cannot become one is not taken.

The words are the anchors of Borg's category-ratio scale (CR10). Source: Borg 1982, Medicine and Science in Sports and
Exercise 14:377-381; the same words in Borg 1998, Borg's Perceived Exertion and Pain Scales (Human Kinetics).
"""

from __future__ import annotations

import re
from typing import Final

CR10: Final[dict[float, str]] = {
    0.0: "nothing at all",
    0.5: "extremely weak (just noticeable)",
    1.0: "very weak",
    2.0: "weak (light)",
    3.0: "moderate",
    4.0: "somewhat strong",
    5.0: "strong (heavy)",
    6.0: "",
    7.0: "very strong",
    8.0: "",
    9.0: "",
    10.0: "extremely strong (almost max)",
}
"""The anchors; the scale has none at 6, 8 and 9."""

SOURCE: Final = "Borg CR10 (Borg 1982, 1998)"

_TYPED: Final = re.compile(r"(10([.,]0?)?|[0-9]([.,][05]?)?|[.,]5)")


def effort_of(typed: str) -> float | None:
    """The effort that was typed (`7`, `7.`, `0.5`, `.5`, `10`); None where it is none."""
    return float(typed.replace(",", ".")) if _TYPED.fullmatch(typed) else None


def may_become_one(typed: str) -> bool:
    """Whether what was typed is an effort, or the begin of one."""
    return effort_of(typed) is not None or typed in (".", ",")


def effort_words(effort: float) -> str:
    """The word of the scale; between two of its words, both."""
    if CR10.get(effort):
        return CR10[effort]
    anchors = [at for at, word in CR10.items() if word]
    below, above = max(at for at in anchors if at < effort), min(at for at in anchors if at > effort)
    return f"between {short_word(below)} and {short_word(above)}"


def short_word(effort: float) -> str:
    """The word of a step without what stands in brackets."""
    return CR10[effort].partition(" (")[0]


def nudged(effort: float | None, steps: int) -> float:
    """Half a step up or down for each step, within the scale; without a rating it begins in the middle."""
    return 5.0 if effort is None else min(10.0, max(0.0, effort + steps / 2))
