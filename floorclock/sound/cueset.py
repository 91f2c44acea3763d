"""The sounds of the cues: the shipped ones, or a coach's own.

Invariant: a cue set has a sound for every cue. A file that cannot be used is a problem to tell, never a cue that is missing.
"""

from __future__ import annotations

import difflib
from array import array
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

from floorclock.clock.cues import CueName
from floorclock.errors import Problem
from floorclock.sound.anchor import RATE
from floorclock.sound.mixer import Pcm
from floorclock.sound.recipes import RECIPES, cook
from floorclock.sound.wav import WavError, read_wav

PLAY_GAIN: Mapping[CueName, float] = {CueName.ATTENTION: 0.35}
"""`attention` is for the coach, not for the class: the file is as loud as the others, and played 9 dB quieter."""

BIGGEST_BYTES = 32 * 1024 * 1024
LATEST_START_S = 0.02
QUIETEST = 33
"""-60 dB of full scale: below this a file has not begun to sound."""


@dataclass(frozen=True, slots=True)
class CueSet:
    """A sound for every cue."""

    sounds: Mapping[CueName, Pcm]

    def at_volume(self, volume: float) -> CueSet:
        """The set as it is played: at `volume` from 0 to 1, and each cue at its own gain.

        Raises:
            ValueError: the volume is not between 0 and 1.
        """
        if not 0 <= volume <= 1:
            raise ValueError(f"a volume is between 0 and 1, not {volume}")
        return CueSet({name: at_gain(pcm, volume * PLAY_GAIN.get(name, 1.0)) for name, pcm in self.sounds.items()})


def at_gain(pcm: Pcm, gain: float) -> Pcm:
    """The same sound, quieter."""
    return pcm if gain == 1 else array("h", (round(sample * gain) for sample in pcm))


def load_cues(folder: Path | None, shipped: Path) -> tuple[CueSet, tuple[Problem, ...]]:
    """The coach's own cues where `folder` has a `count.wav`, `go.wav` and so on, the shipped ones elsewhere.

    Whatever is wrong is a problem in the result, as a warning: the class goes on with the shipped cue.
    """
    problems: list[Problem] = []
    own: dict[CueName, Pcm] = {}
    if folder is not None:
        own, problems = _own_cues(folder)
    sounds = {name: own[name] if name in own else _shipped(name, shipped, problems) for name in CueName}
    return CueSet(sounds), tuple(problems)


def _own_cues(folder: Path) -> tuple[dict[CueName, Pcm], list[Problem]]:
    own: dict[CueName, Pcm] = {}
    problems: list[Problem] = []
    try:
        files = sorted(path for path in folder.iterdir() if path.suffix.lower() == ".wav")
    except OSError as error:
        return own, [_warning(folder, f"cannot be read as a folder: {error.strerror}", "the shipped cues play")]
    if not files:
        problems.append(_warning(folder, "has no WAV files", "a file is named after its cue, such as go.wav"))
    for path in files:
        stem = path.stem.lower()
        if stem not in set(CueName):
            problems.append(_warning(path, "is named after no cue", _nearest(stem)))
            continue
        name = CueName(stem)
        try:
            own[name] = _read(path)
        except WavError as error:
            problems.append(_warning(path, str(error), "the shipped cue plays instead"))
        else:
            problems.extend(_doubts(path, own[name]))
    return own, problems


def _shipped(name: CueName, folder: Path, problems: list[Problem]) -> Pcm:
    path = folder / f"{name}.wav"
    try:
        return _read(path)
    except WavError as error:
        problems.append(_warning(path, str(error), "made anew for this class; the installation is damaged"))
        return cook(RECIPES[name])


def _read(path: Path) -> Pcm:
    try:
        if path.stat().st_size > BIGGEST_BYTES:
            raise WavError(f"is larger than {BIGGEST_BYTES // 1024 // 1024} MB")
        pcm = read_wav(path.read_bytes())
    except OSError as error:
        raise WavError(f"cannot be read: {error.strerror}") from error
    if max(max(pcm), -min(pcm)) < QUIETEST:
        raise WavError("is silent")
    return pcm


def _doubts(path: Path, pcm: Pcm) -> Iterator[Problem]:
    quiet = next(k for k, sample in enumerate(pcm) if abs(sample) >= QUIETEST)
    if quiet > LATEST_START_S * RATE:
        yield _warning(path, f"begins with {quiet / RATE:.2f} s of silence, so it is heard late", "cut the start of the file")


def _nearest(stem: str) -> str:
    near = difflib.get_close_matches(stem, [str(name) for name in CueName], n=1)
    return f"did you mean {near[0]}.wav?" if near else "cues are " + ", ".join(CueName)


def _warning(path: Path, message: str, hint: str) -> Problem:
    return Problem(file=str(path), line=0, column=0, path="", message=message, hint=hint, severity="warning")
