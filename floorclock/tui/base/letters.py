"""Capitals five dots high, for the few words that must be read from the back of the room.

Invariant: a word is drawn whole or not at all: `dots` answers None where a character has no drawing.
"""

from __future__ import annotations

import unicodedata
from functools import lru_cache
from typing import Final

DOTS_HIGH: Final = 5
_HALVES: Final = " ▀▄█"

_SHAPES: Final[dict[str, str]] = {
    "A": ".#. #.# ### #.# #.#", "B": "##. #.# ##. #.# ##.", "C": ".## #.. #.. #.. .##", "D": "##. #.# #.# #.# ##.",
    "E": "### #.. ##. #.. ###", "F": "### #.. ##. #.. #..", "G": ".### #... #.## #..# .###", "H": "#.# #.# ### #.# #.#",
    "I": "# # # # #", "J": "..# ..# ..# #.# .#.", "K": "#..# #.#. ##.. #.#. #..#", "L": "#.. #.. #.. #.. ###",
    "M": "#...# ##.## #.#.# #...# #...#", "N": "#..# ##.# #.## #..# #..#", "O": ".##. #..# #..# #..# .##.",
    "P": "##. #.# ##. #.. #..", "Q": ".##. #..# #..# #.#. .#.#", "R": "##. #.# ##. #.# #.#", "S": ".## #.. .#. ..# ##.",
    "T": "### .#. .#. .#. .#.", "U": "#..# #..# #..# #..# .##.", "V": "#.# #.# #.# #.# .#.", "W": "#...# #...# #.#.# ##.## #...#",
    "X": "#.# #.# .#. #.# #.#", "Y": "#.# #.# .#. .#. .#.", "Z": "### ..# .#. #.. ###",
    "0": "### #.# #.# #.# ###", "1": ".#. ##. .#. .#. ###", "2": "### ..# ### #.. ###", "3": "### ..# .## ..# ###",
    "4": "#.# #.# ### ..# ..#", "5": "### #.. ### ..# ###", "6": "### #.. ### #.# ###", "7": "### ..# ..# .#. .#.",
    "8": "### #.# ### #.# ###", "9": "### #.# ### ..# ###",
    "-": "... ... ### ... ...", "+": "... .#. ### .#. ...", "/": "..# ..# .#. #.. #..", ".": ". . . . #", ",": ".. .. .. .# #.",
    ":": ". # . # .", "'": "# # . . .", "’": "# # . . .", "(": ".# #. #. #. .#", ")": "#. .# .# .# #.", "!": "# # # . #",
    "&": ".#.. #.#. .#.# #.#. .#.#", "×": "... #.# .#. #.# ...", "%": "#.# ..# .#. #.. #.#", " ": ".. .. .. .. ..",
}  # fmt: skip


@lru_cache(maxsize=256)
def dots(word: str) -> tuple[str, ...] | None:
    """The word as five rows of `#` and `.`, in capitals and without accents; None where a character has no drawing."""
    bare = unicodedata.normalize("NFD", word.upper())
    chars = [char for char in bare if not unicodedata.combining(char)]
    if not chars or any(char not in _SHAPES for char in chars):
        return None
    shapes = [_SHAPES[char].split() for char in chars]
    return tuple(".".join(shape[row] for shape in shapes) for row in range(DOTS_HIGH))


def doubled(shape: tuple[str, ...], scale: int = 1) -> tuple[str, ...]:
    """The dots as blocks of whole cells, two cells wide for each row."""
    drawn = ["".join((" " if dot == "." else "█") * scale * 2 for dot in row) for row in shape]
    return tuple(row for row in drawn for _ in range(scale))


def halved(shape: tuple[str, ...], lead: int = 0) -> tuple[str, ...]:
    """The dots two to a cell, one above the other, after `lead` empty rows of dots."""
    blank = "." * len(shape[0])
    rows = [blank] * lead + list(shape)
    rows += [blank] * (len(rows) % 2)
    return tuple(
        "".join(_HALVES[(high == "#") + 2 * (low == "#")] for high, low in zip(rows[y], rows[y + 1], strict=True))
        for y in range(0, len(rows), 2)
    )
