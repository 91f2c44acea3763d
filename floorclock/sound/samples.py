"""Samples, which all sound here is made of, and the WAV files that they come from and go to.

Invariant: a file either becomes mono 16-bit samples at RATE or is refused with words that say what is wrong with it; both
in bounded time and memory, whatever it holds.
"""

from __future__ import annotations

import math
import struct
import wave
from array import array
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeAlias

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
MOST_CHUNKS = 1_000
RATES = range(4_000, 384_001)

_ZERO_CROSSINGS = 16
"""Half the length of the resampling kernel, in zero crossings of its sinc."""
_PHASES = 512
"""Places between two samples for which the kernel is worked out; what lies between is interpolated, -106 dB off at most."""
_PIECE = 4_096
"""Samples made at once: at 384 kHz each takes 256 others, so this bounds the memory."""

_PCM, _FLOAT, _EXTENSIBLE = 1, 3, 0xFFFE
_TYPES = {
    (_PCM, 8): "u1",
    (_PCM, 16): "<i2",
    (_PCM, 24): "u1",
    (_PCM, 32): "<i4",
    (_FLOAT, 32): "<f4",
    (_FLOAT, 64): "<f8",
}
"""How samples of each kind lie in a file, for numpy; 24 bits are put together from their bytes."""


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
    """The samples of a WAV file: PCM of 8, 16, 24 or 32 bits or floats of 32 or 64; channels are averaged.

    Raises:
        WavError: it cannot be read, is no WAV file, is larger than BIGGEST_BYTES or longer than LONGEST_S.
    """
    try:
        # Asked first: opening a pipe would wait for whoever writes to it.
        if path.exists() and not path.is_file():
            raise WavError("is a folder, a device or a pipe, not a file")
        with path.open("rb") as file:
            content = file.read(BIGGEST_BYTES + 1)
    except (OSError, ValueError) as error:
        raise WavError(f"cannot be read: {getattr(error, 'strerror', None) or error}") from error
    if len(content) > BIGGEST_BYTES:
        raise WavError(f"is larger than {BIGGEST_BYTES // 1024 // 1024} MB")
    format_, data = _chunks(content)
    frames = len(data) // format_.frame_bytes
    if frames > LONGEST_S * format_.rate:
        raise WavError(f"is longer than {LONGEST_S} s")
    if not frames:
        raise WavError("has no samples")
    samples = _samples(format_, data[: frames * format_.frame_bytes])
    return to_pcm(resample(samples.reshape(-1, format_.channels).mean(axis=1), format_.rate))


def write_wav(path: Path, pcm: Pcm) -> None:
    """Writes samples as a mono 16-bit WAV file."""
    with wave.open(str(path), "wb") as file:
        file.setparams((1, 2, RATE, len(pcm), "NONE", ""))
        file.writeframes(pcm.tobytes())


@dataclass(frozen=True, slots=True)
class _Format:
    tag: int
    channels: int
    rate: int
    bits: int

    @property
    def frame_bytes(self) -> int:
        return self.bits // 8 * self.channels


def _chunks(content: bytes) -> tuple[_Format, bytes]:
    if content[:4] != b"RIFF" or content[8:12] != b"WAVE":
        raise WavError("is not a WAV file")
    format_: _Format | None = None
    at = 12
    for _ in range(MOST_CHUNKS):
        if at + 8 > len(content):
            break
        name, size = struct.unpack_from("<4sI", content, at)
        if name == b"fmt ":
            format_ = _format(content[at + 8 : at + 8 + size])
        elif name == b"data":
            if format_ is None:
                raise WavError("has samples before it says in what format")
            # Recorders that were cut off leave a size that is too large; what is there counts.
            return format_, content[at + 8 : at + 8 + size]
        at += 8 + size + size % 2
    raise WavError("has no samples")


def _format(body: bytes) -> _Format:
    if len(body) < 16:
        raise WavError("is damaged: its format is cut off")
    tag, channels, rate, _, _, bits = struct.unpack_from("<HHIIHH", body)
    if tag == _EXTENSIBLE and len(body) >= 26:
        (tag,) = struct.unpack_from("<H", body, 24)
    if (tag, bits) not in _TYPES:
        raise WavError(f"is compressed or of a kind that is not read (format {tag}, {bits} bits)")
    if not channels or rate not in RATES:
        raise WavError(f"cannot be right: {channels} channels at {rate} Hz")
    return _Format(tag, channels, rate, bits)


def _samples(format_: _Format, data: bytes) -> Floats:
    """All channels one after the other, frame by frame, between -1 and 1."""
    values = np.frombuffer(data, dtype=_TYPES[format_.tag, format_.bits])
    if format_.tag == _FLOAT:
        if not np.isfinite(values).all():
            raise WavError("has samples that are no numbers")
        # Far beyond full scale the sums that follow would overflow.
        return np.clip(values.astype(np.float64), -1, 1)
    if format_.bits == 8:
        return (values - 128.0) / 128
    if format_.bits == 24:
        wide = np.zeros((len(data) // 3, 4), dtype="u1")
        wide[:, 1:] = values.reshape(-1, 3)
        values = wide.view("<i4").ravel()
    return values / float(1 << (15 if format_.bits == 16 else 31))
