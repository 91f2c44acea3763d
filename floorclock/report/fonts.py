"""Fonts for the words of a PNG: one that has the letters, wherever this machine has one.

Invariant: no letter is drawn as an empty box where an installed font has it; a letter that none has becomes a question mark.
A page needs none of this: there the browser finds the fonts.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence
from functools import cache

from matplotlib.font_manager import FontEntry, fontManager, get_font

FIRST = "DejaVu Sans"
"""Comes with matplotlib, so it is always there."""
_NO_LETTERS = ("last resort", "emoji", "symbol")
"""Fonts that have an empty box or a bitmap for every letter."""


def families_for(words: str) -> list[str]:
    """Font families that together have as many of the letters as this machine can show, the first one first."""
    families = [FIRST]
    missing = _needed(words) - _letters(FIRST)
    for family in _others() if missing else ():
        found = missing & _letters(family)
        if found:
            families.append(family)
            missing -= found
        if not missing:
            break
    return families


def printable(words: str, families: Sequence[str]) -> str:
    """The words with a question mark for every letter that no family has; marks on such a letter go with it."""
    known = frozenset[int]().union(*map(_letters, families))
    kept, lost = [], False
    for letter in words:
        if unicodedata.category(letter)[0] == "M":
            if not lost and ord(letter) in known:
                kept.append(letter)
            continue
        lost = bool(_needed(letter)) and ord(letter) not in known
        kept.append("?" if lost else letter)
    return "".join(kept)


def _needed(words: str) -> set[int]:
    """The letters that leave a mark of their own: spaces and joiners do not."""
    return {ord(letter) for letter in words if unicodedata.category(letter) not in ("Zs", "Cf", "Cc", "Mn")}


@cache
def _others() -> tuple[str, ...]:
    """Every other family, upright sans serif ones first."""
    names = {entry.name for entry in fontManager.ttflist if not any(word in entry.name.lower() for word in _NO_LETTERS)}
    return tuple(sorted(names - {FIRST}, key=lambda name: ("Sans" not in name, "Mono" in name, name)))


@cache
def _letters(family: str) -> frozenset[int]:
    entry = min((one for one in fontManager.ttflist if one.name == family), key=_plainness, default=None)
    if entry is None:
        return frozenset()
    try:
        return frozenset(get_font(entry.fname).get_charmap())
    except (OSError, RuntimeError, ValueError):
        # A font file that is gone or broken has no letters for us.
        return frozenset()


def _plainness(entry: FontEntry) -> tuple[bool, bool]:
    return entry.style != "normal", str(entry.weight) not in ("400", "normal")
