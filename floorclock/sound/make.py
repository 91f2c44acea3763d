"""Makes the shipped cue files: `python -m floorclock.sound.make [FOLDER]`.

Invariant: the files hold what the table in `recipes` says and nothing else; made twice, they are the same bytes.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from pathlib import Path

from floorclock.sound.recipes import RECIPES, cook
from floorclock.sound.wav import write_wav


def make_cues(folder: Path) -> tuple[Path, ...]:
    """Writes one WAV file per cue into the folder, which is made if it is not there; returns their paths.

    Raises:
        OSError: the folder cannot be written to.
    """
    folder.mkdir(parents=True, exist_ok=True)
    made = []
    for name, recipe in RECIPES.items():
        path = folder / f"{name}.wav"
        write_wav(path, cook(recipe))
        made.append(path)
    return tuple(made)


def main(arguments: Sequence[str]) -> None:
    """Makes the cues in the folder named, or in `sounds`."""
    for path in make_cues(Path(arguments[0] if arguments else "sounds")):
        print(path)


if __name__ == "__main__":
    main(sys.argv[1:])
