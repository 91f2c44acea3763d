"""The line of keys at the bottom, in short form.

Invariant: a key is shown with its word or not at all, and the last one (all keys) is the last to go.
"""

from __future__ import annotations

from rich.cells import cell_len
from rich.segment import Segment

from floorclock.tui.base.lines import Line, padded
from floorclock.tui.base.painted import Painted
from floorclock.tui.base.palette import BLANK, CAP, FAINT

Keys = tuple[tuple[str, str], ...]


class KeysLine(Painted[Keys]):
    """What the keys do."""

    def paint(self, view: Keys, width: int, height: int) -> list[Line]:
        """One line of key caps and words."""
        segments: list[Segment] = []
        for key, word in kept_keys(view, width):
            segments += [Segment(f" {key} ", CAP), Segment(f" {word}  ", FAINT)]
        return [padded(segments, width, BLANK)]


def kept_keys(keys: Keys, width: int) -> Keys:
    """The keys that fit: from the first on, and the last one."""
    kept = list(keys)
    while kept and sum(cell_len(key) + cell_len(word) + 5 for key, word in kept) - 2 > width:
        kept.pop(-2 if len(kept) > 1 else -1)
    return tuple(kept)
