"""Samples, which all sound here is made of, and the WAV files that they come from and go to.

Invariant: a file either becomes mono 16-bit samples at RATE or is refused with words that say what is wrong with it; both
in bounded time and memory, whatever it holds.
"""

from __future__ import annotations

import math
import wave
from array import array
from pathlib import Path
from typing import Any, BinaryIO, TypeAlias

import numpy as np
import numpy.typing as npt

from floorclock.errors import FloorclockError

RATE = 48_000
"""Frames a second, everywhere in this room; one frame is one sample, for all sound is mono."""
FULL_SCALE = 32_767

Pcm: TypeAlias = "array[int]"
"""Signed 16-bit mono samples at RATE."""
Floats: TypeAlias = npt.NDArray[np.float64]
"""Samples between -1 and 1."""

LONGEST_S = 10
BIGGEST_BYTES = 32 * 1024 * 1024
RATES = range(4_000, 384_001)

_ZERO_CROSSINGS = 16
"""Half the length of the resampling kernel, in zero crossings of its sinc."""
_PHASES = 512
"""Places between two samples for which the kernel is worked out; what lies between is interpolated, -106 dB off at most."""
_PIECE = 4_096
"""Samples made at once: at 384 kHz each takes 256 others, so this bounds the memory."""


class WavError(FloorclockError):
    """A file that is no WAV file, or none that can be a cue."""


def silence(frames: int) -> Pcm:
    """So many frames of nothing."""
    return array("h", bytes(2 * frames))


def as_floats(pcm: Pcm) -> Floats:
    """16-bit samples as samples between -1 and 1."""
    return np.frombuffer(pcm, dtype=np.int16) / (FULL_SCALE + 1)


def to_pcm(samples: Floats) -> Pcm:
    """Samples between -1 and 1 as 16-bit ones; what is beyond is held at full scale."""
    return clipped(samples * (FULL_SCALE + 1))


def clipped(values: npt.NDArray[np.floating[Any]]) -> Pcm:
    """Values in steps of 16 bits, rounded and held at full scale."""
    return array("h", np.clip(np.rint(values), -FULL_SCALE - 1, FULL_SCALE).astype(np.int16).tobytes())


def at_gain(pcm: Pcm, gain: float) -> Pcm:
    """The same sound, quieter (or louder, held at full scale)."""
    return pcm if gain == 1 else clipped(np.frombuffer(pcm, dtype=np.int16) * gain)


def resample(samples: Floats, rate: int) -> Floats:
    """The same sound at RATE, by a windowed sinc that also keeps out what RATE is too low for."""
    if rate == RATE:
        return samples
    cutoff = min(1.0, RATE / rate)
    reach = math.ceil(_ZERO_CROSSINGS / cutoff)
    kernels = _kernels(cutoff, reach)
    windows = np.lib.stride_tricks.sliding_window_view(np.pad(samples, (reach - 1, reach + 1)), 2 * reach)
    wanted = math.ceil(len(samples) * RATE / rate)
    pieces = []
    for begin in range(0, wanted, _PIECE):
        sample, rest = np.divmod(np.arange(begin, min(begin + _PIECE, wanted)) * rate, RATE)
        phase, between = np.divmod(rest * _PHASES, RATE)
        near = windows[sample]
        lower, upper = (np.einsum("ij,ij->i", near, kernels[row]) for row in (phase, phase + 1))
        pieces.append(lower + (upper - lower) * between / RATE)
    return np.concatenate(pieces)


def _kernels(cutoff: float, reach: int) -> Floats:
    """Weights of the samples from `reach - 1` before to `reach` after a point; a row for each of the places of the point."""
    x = np.arange(1 - reach, reach + 1) - np.arange(_PHASES + 1)[:, None] / _PHASES
    turn = np.pi * x / reach
    blackman = np.maximum(0.0, 0.42 + 0.5 * np.cos(turn) + 0.08 * np.cos(2 * turn))
    weights: Floats = np.sinc(cutoff * x) * blackman
    weights /= weights.sum(axis=1, keepdims=True)
    return weights


def read_wav(path: Path) -> Pcm:
    """The samples of a WAV file of any kind that miniaudio reads; channels are averaged."""
    # Imported on use: a room without sound needs no driver.
    try:
        import miniaudio
    except (ImportError, OSError) as error:
        raise WavError(f"cannot be read: {error}") from error
    content = _content(path)
    try:
        # Asked first: what is too long is not decoded.
        told = miniaudio.wav_get_info(content)
        if told.sample_rate not in RATES:
            raise WavError(f"cannot be right: {told.sample_rate} Hz")
        if told.num_frames > LONGEST_S * told.sample_rate:
            raise WavError(f"is longer than {LONGEST_S} s")
        sound = miniaudio.wav_read_f32(content)
    except miniaudio.MiniaudioError:
        raise WavError("is damaged, or compressed in a way that is not read") from None
    if not len(sound.samples):
        raise WavError("has no samples")
    values = np.asarray(sound.samples, dtype=np.float64)
    if np.isnan(values).any():
        raise WavError("has samples that are no numbers")
    # Floats may lie far beyond full scale.
    one_channel = np.clip(values, -1, 1).reshape(-1, sound.nchannels).mean(axis=1)
    return to_pcm(resample(one_channel, sound.sample_rate))


def _content(path: Path) -> bytes:
    try:
        # Asked first: opening a pipe would wait for whoever writes to it.
        if path.exists() and not path.is_file():
            raise WavError("is a folder, a device or a pipe, not a file")
        with path.open("rb") as file:
            content = file.read(BIGGEST_BYTES + 1)
    except (OSError, ValueError) as error:
        raise WavError(f"cannot be read: {error_words(error)}") from error
    if len(content) > BIGGEST_BYTES:
        raise WavError(f"is larger than {BIGGEST_BYTES // 1024 // 1024} MB")
    if content[:4] != b"RIFF" or content[8:12] != b"WAVE":
        raise WavError("is not a WAV file")
    return content


def write_wav(path: Path, pcm: Pcm) -> None:
    """Writes samples as a mono 16-bit WAV file."""
    with path.open("wb") as raw, wav_writer(raw) as file:
        file.writeframes(pcm.tobytes())


def wav_writer(raw: BinaryIO) -> wave.Wave_write:
    """Writes mono 16-bit samples into an open file as a WAV file."""
    # Given a name that cannot be opened, the library leaves a writer behind that complains when it is forgotten.
    file = wave.open(raw, "wb")  # noqa: SIM115 - closed by the caller
    file.setparams((1, 2, RATE, 0, "NONE", ""))
    return file


def error_words(error: OSError | ValueError) -> str:
    """What the system says of a file, without its name. ValueError: a NUL in the name."""
    return getattr(error, "strerror", None) or str(error)
