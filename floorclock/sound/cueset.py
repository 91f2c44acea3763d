"""The sounds of the cues: the shipped ones, or a coach's own.

Invariant: there is a sound for every cue. A file that cannot be used is a problem to tell, never a cue that is missing.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import TypeAlias

import numpy as np

from floorclock.clock.cues import CueName
from floorclock.errors import Problem
from floorclock.sound.recipes import RECIPES, cook
from floorclock.sound.samples import RATE, Pcm, WavError, at_gain, error_words, read_wav

PLAY_GAIN: Mapping[CueName, float] = {CueName.ATTENTION: 0.35}
"""`attention` is for the coach, not for the class: the file is as loud as the others, and played 9 dB quieter."""

LATEST_START_S = 0.02
QUIETEST = 33
"""-60 dB of full scale: below this a file has not begun to sound."""
MOST_STRANGERS = 10
"""So many files named after no cue are told; in a folder full of music all others are so too."""

CueSet: TypeAlias = Mapping[CueName, Pcm]
"""A sound for every cue, as loud as it is played at full volume."""


def load_cues(folder: Path | None, shipped: Path) -> tuple[CueSet, tuple[Problem, ...]]:
    """The coach's own cues where `folder` has a `count.wav`, `go.wav` and so on, the shipped ones elsewhere.

    Whatever is wrong is a problem in the result, as a warning: the class goes on with the shipped cue.
    """
    own, problems = ({}, []) if folder is None else _own_cues(folder)
    sounds = {name: own[name] if name in own else _shipped(name, shipped, problems) for name in CueName}
    return {name: at_gain(pcm, PLAY_GAIN.get(name, 1.0)) for name, pcm in sounds.items()}, tuple(problems)


def _own_cues(folder: Path) -> tuple[dict[CueName, Pcm], list[Problem]]:
    own: dict[CueName, Pcm] = {}
    problems: list[Problem] = []
    try:
        files = sorted(path for path in folder.iterdir() if path.suffix.lower() == ".wav")
    except (OSError, ValueError) as error:
        return own, [_warning(folder, f"cannot be read as a folder: {error_words(error)}", "the shipped cues play")]
    if not files:
        problems.append(_warning(folder, "has no WAV files", "a file is named after its cue, such as go.wav"))
    named = [path for path in files if path.stem.lower() in set(CueName)]
    strangers = [path for path in files if path not in named]
    problems += [_warning(path, "is named after no cue", _nearest(path.stem.lower())) for path in strangers[:MOST_STRANGERS]]
    for path in named:
        name = CueName(path.stem.lower())
        try:
            own[name] = _sounding(read_wav(path))
        except WavError as error:
            problems.append(_warning(path, str(error), "the shipped cue plays instead"))
        except Exception as error:  # noqa: BLE001 - whatever is wrong with one file must not silence the class
            problems.append(_warning(path, f"cannot be read: {error!r}", "the shipped cue plays instead"))
        else:
            problems.extend(_doubts(path, own[name]))
    return own, problems


def _shipped(name: CueName, folder: Path, problems: list[Problem]) -> Pcm:
    path = folder / f"{name}.wav"
    try:
        return _sounding(read_wav(path))
    except WavError as error:
        problems.append(_warning(path, str(error), "made anew for this class; the installation is damaged"))
        return cook(RECIPES[name])


def _sounding(pcm: Pcm) -> Pcm:
    """The sound itself."""
    if max(max(pcm), -min(pcm)) < QUIETEST:
        raise WavError("is silent")
    return pcm


def _doubts(path: Path, pcm: Pcm) -> Iterator[Problem]:
    quiet = int(np.argmax(np.abs(np.asarray(pcm, dtype=np.int32)) >= QUIETEST))
    if quiet > LATEST_START_S * RATE:
        yield _warning(path, f"begins with {quiet / RATE:.2f} s of silence, so it is heard late", "cut the start of the file")


def _nearest(stem: str) -> str:
    near = difflib.get_close_matches(stem, [str(name) for name in CueName], n=1)
    return f"did you mean {near[0]}.wav?" if near else "cues are " + ", ".join(CueName)


def _warning(path: Path, message: str, hint: str) -> Problem:
    # A file's name may hold anything, escape sequences too.
    name = str(path) if str(path).isprintable() else ascii(str(path))
    return Problem(file=name, line=0, column=0, path="", message=message, hint=hint, severity="warning")
