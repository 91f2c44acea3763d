"""Words spoken by the speech engine that the machine has, as samples for the same mixer as the cues.

Invariant: words are data. They reach the engine on its standard input, where nothing in them is an option or a command.
`spoken` starts a program and takes up to a second: a class calls it ahead, never on an instant.
"""

from __future__ import annotations

import shutil
import subprocess
import tempfile
from collections.abc import Mapping
from pathlib import Path

import numpy as np

from floorclock.errors import ResourceError
from floorclock.sound.recipes import HIGHEST_PEAK, TARGET_LKFS, momentary_lkfs
from floorclock.sound.samples import Pcm, WavError, as_floats, read_wav, to_pcm

ENGINES: Mapping[str, tuple[str, ...]] = {
    "espeak-ng": ("--stdin", "-s", "165", "-w"),
    "espeak": ("--stdin", "-s", "165", "-w"),
    "say": ("-f", "-", "--file-format=WAVE", "--data-format=LEI16@44100", "-o"),
}
"""Programs that read words from standard input, and their options up to the file they write. Only `espeak-ng` is tried out."""

VOICE_LKFS = TARGET_LKFS - 3
"""Words are told before something happens and may be quieter than the cue that says it does."""
STEPS = 4
TIMEOUT_S = 10
LONGEST_WORDS = 120
QUIET_EDGE = 100
"""Samples under this (-50 dB) at either end are no speech: cut, so that words end when they are said to end."""


class VoiceFailed(ResourceError):
    """Nothing here can speak, or it failed to: cues go on without."""


def engine() -> str:
    """The path of the speech engine that would be used, or nothing."""
    return next((path for name in ENGINES if (path := shutil.which(name))), "")


def spoken(words: str) -> Pcm:
    """The words as samples, 3 LU quieter than the cues, without silence at either end.

    Raises:
        VoiceFailed: there is no speech engine, or it did not speak.
    """
    program = engine()
    if not program:
        raise VoiceFailed("no speech engine is installed (espeak-ng is one)")
    words = " ".join(words.split())[:LONGEST_WORDS]
    with tempfile.TemporaryDirectory(prefix="floorclock-") as folder:
        path = Path(folder) / "words.wav"
        try:
            command = [program, *ENGINES[Path(program).stem], str(path)]
            subprocess.run(command, input=words.encode(), capture_output=True, check=True, timeout=TIMEOUT_S)
            pcm = _trimmed(read_wav(path))
        except (OSError, subprocess.SubprocessError, WavError) as error:
            raise VoiceFailed(f"{Path(program).name} did not speak: {error}") from error
    if not pcm:
        raise VoiceFailed(f"{Path(program).name} said nothing for {words!r}")
    return _levelled(pcm)


def _trimmed(pcm: Pcm) -> Pcm:
    loud = np.flatnonzero(np.abs(np.asarray(pcm, dtype=np.int32)) > QUIET_EDGE)
    return pcm[loud[0] : loud[-1] + 1] if len(loud) else pcm[:0]


def _levelled(pcm: Pcm) -> Pcm:
    """Speech has peaks far above its loudness; bending them (a hyperbolic tangent) keeps it clear and lets it be heard."""
    samples = as_floats(pcm)
    gain, bent = 1.0, samples
    for _ in range(STEPS):
        gain *= 10 ** ((VOICE_LKFS - momentary_lkfs(bent)) / 20)
        bent = HIGHEST_PEAK * np.tanh(gain * samples / HIGHEST_PEAK)
    return to_pcm(bent)
