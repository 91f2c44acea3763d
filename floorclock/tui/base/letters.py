"""Capitals five dots high, for the words that must be read from the back of the room.

Invariant: a word is drawn whole or not at all. `size` is how many half rows (and columns) a dot takes: 1 makes letters of three
rows, 2 of five, 3 of eight, 4 of ten.
"""

from __future__ import annotations

import math
import unicodedata
from functools import lru_cache
from typing import Final

from floorclock.plan.legibility import LEAST_MINUTES, Wall
from floorclock.plan.session import Room
from floorclock.tui.base.digits import in_halves

DOTS_HIGH: Final = 5
MOST_LEAST: Final = 5
"""Larger letters would leave no room for a word, however far the back of the room is."""

_SHAPES: Final[dict[str, str]] = {
    "A": ".#. #.# ### #.# #.#", "B": "##. #.# ##. #.# ##.", "C": ".## #.. #.. #.. .##", "D": "##. #.# #.# #.# ##.",
    "E": "### #.. ##. #.. ###", "F": "### #.. ##. #.. #..", "G": ".### #... #.## #..# .###", "H": "#.# #.# ### #.# #.#",
    "I": "# # # # #", "J": "..# ..# ..# #.# .#.", "K": "#..# #.#. ##.. #.#. #..#", "L": "#.. #.. #.. #.. ###",
    "M": "#...# ##.## #.#.# #...# #...#", "N": "#..# ##.# #.## #..# #..#", "O": ".##. #..# #..# #..# .##.",
    "P": "##. #.# ##. #.. #..", "Q": ".##. #..# #..# #.#. .#.#", "R": "##. #.# ##. #.# #.#", "S": ".## #.. .#. ..# ##.",
    "T": "### .#. .#. .#. .#.", "U": "#..# #..# #..# #..# .##.", "V": "#.# #.# #.# .#. .#.", "W": "#...# #...# #.#.# ##.## #...#",
    "X": "#.# #.# .#. #.# #.#", "Y": "#.# #.# .#. .#. .#.", "Z": "### ..# .#. #.. ###",
    "0": "### #.# #.# #.# ###", "1": ".#. ##. .#. .#. ###", "2": "### ..# ### #.. ###", "3": "### ..# .## ..# ###",
    "4": "#.# #.# ### ..# ..#", "5": "### #.. ### ..# ###", "6": "### #.. ### #.# ###", "7": "### ..# ..# .#. .#.",
    "8": "### #.# ### #.# ###", "9": "### #.# ### ..# ###",
    "-": "... ... ### ... ...", "+": "... .#. ### .#. ...", "/": "..# ..# .#. #.. #..", ".": ". . . . #", ",": ".. .. .. .# #.",
    ":": ". # . # .", "'": "# # . . .", "’": "# # . . .", "(": ".# #. #. #. .#", ")": "#. .# .# .# #.", "!": "# # # . #",
    ";": ". # . # #", "?": "##. ..# .#. ... .#.", '"': "#.# #.# ... ... ...", "–": "... ... ### ... ...",
    "=": "... ### ... ### ...", "…": "..... ..... ..... ..... #.#.#", "✓": "....# ...#. #.#.. .#... .....", "·": ". . # . .",
    "▸": "#.. ##. ### ##. #..", "Ø": ".### #.## #.## ##.# ###.", "Æ": ".#### #.#.. ##### #.#.. #.###",
    "Ł": ".#.. .#.# .##. ##.. .###", "Đ": ".##. .#.# #### .#.# .##.",
    "&": ".#.. #.#. .#.# #.#. .#.#", "×": "... #.# .#. #.# ...", "%": "#.# ..# .#. #.. #.#", " ": ".. .. .. .. ..",
}  # fmt: skip


def height_of(size: int) -> int:
    """The rows of letters of a size."""
    return -(-DOTS_HIGH * size // 2)


def pitch_of(size: int) -> int:
    """The rows from one line of letters to the next."""
    return height_of(size) + max(1, size // 2)


def least_size(room: Room, columns: int, rows: int) -> int:
    """The smallest size that can be read from the back of a room, on a terminal of so many cells."""
    return max(1, min(MOST_LEAST, math.ceil(2 * Wall(room, columns, rows).rows_for(LEAST_MINUTES) / DOTS_HIGH)))


@lru_cache(maxsize=1024)
def dots(word: str) -> tuple[str, ...] | None:
    """The word as five rows of `#` and `.`, in capitals and without accents; None where a character has no drawing."""
    bare = unicodedata.normalize("NFD", word.upper())
    chars = [char for char in bare if not unicodedata.combining(char)]
    if not chars or any(char not in _SHAPES for char in chars):
        return None
    shapes = [_SHAPES[char].split() for char in chars]
    return tuple(".".join(shape[row] for shape in shapes) for row in range(DOTS_HIGH))


@lru_cache(maxsize=1024)
def lettered(words: str, size: int, lead: int = 0) -> tuple[str, ...] | None:
    """The words on one line, drawn in `█▀▄` and spaces, below `lead` empty half rows."""
    shape = dots(words)
    if shape is None:
        return None
    rows = [[dot == "#" for dot in row for _ in range(size)] for row in shape for _ in range(size)]
    return in_halves([[False] * len(rows[0])] * lead + rows)


def letters_across(words: str, size: int) -> int | None:
    """The columns that the words take in letters; None where they cannot be drawn."""
    shape = dots(words)
    return len(shape[0]) * size if shape is not None else None


@lru_cache(maxsize=512)
def lettered_lines(words: str, size: int, width: int) -> tuple[str, ...] | None:
    """The words broken into lines that fit `width` in letters; None where a word is too wide or has no drawing."""
    lines: list[str] = []
    for word in words.split():
        joined = f"{lines[-1]} {word}" if lines else word
        if lines and (letters_across(joined, size) or width + 1) <= width:
            lines[-1] = joined
        elif (letters_across(word, size) or width + 1) <= width:
            lines.append(word)
        else:
            return None
    return tuple(lines)
