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

_WHOLE: Final = re.compile(r"(10|[0-9])([.,]([05]?)?)?")
_HALF: Final = re.compile(r"[.,]5")


def effort_of(typed: str) -> float | None:
    """The effort that was typed (`7`, `7.`, `0.5`, `.5`, `10`); None where it is none."""
    if _HALF.fullmatch(typed):
        return 0.5
    found = _WHOLE.fullmatch(typed)
    if found is None:
        return None
    effort = int(found[1]) + (0.5 if found[3] == "5" else 0.0)
    return effort if effort <= 10 else None


def may_become_one(typed: str) -> bool:
    """Whether what was typed is an effort, or the begin of one."""
    return effort_of(typed) is not None or typed in (".", ",")


def effort_words(effort: float) -> str:
    """The word of the scale; between two of its words, both."""
    word = CR10.get(effort, "")
    if word:
        return word
    below = max((at for at, name in CR10.items() if name and at < effort), default=0.0)
    above = min((at for at, name in CR10.items() if name and at > effort), default=10.0)
    return f"between {_short(below)} and {_short(above)}"


def nudged(effort: float | None, steps: int) -> float:
    """Half a step up or down for each step, within the scale; without a rating it begins in the middle."""
    return 5.0 if effort is None else min(10.0, max(0.0, effort + steps / 2))


def _short(at: float) -> str:
    return CR10[at].partition(" (")[0]
