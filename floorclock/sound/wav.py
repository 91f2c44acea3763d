"""Reads WAV files of any rate, width and number of channels into the room's own samples, and writes those.

Invariant: a file either becomes samples at RATE, mono, 16 bits, or is refused with words that say what is wrong with it.
"""

from __future__ import annotations

import math
import struct
import wave
from array import array
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from operator import mul
from pathlib import Path

from floorclock.errors import FloorclockError
from floorclock.sound.anchor import RATE
from floorclock.sound.mixer import FULL_SCALE, Pcm

LONGEST_S = 10
RATES = range(4_000, 384_001)

_PCM, _FLOAT, _EXTENSIBLE = 1, 3, 0xFFFE
_ZERO_CROSSINGS = 16
"""Half the length of the resampling kernel, in zero crossings of its sinc."""


class WavError(FloorclockError):
    """A file that is no WAV file, or none that can be a cue."""


@dataclass(frozen=True, slots=True)
class _Format:
    tag: int
    channels: int
    rate: int
    bits: int


def read_wav(content: bytes) -> Pcm:
    """The samples of a WAV file: PCM of 8, 16, 24 or 32 bits or floats of 32 or 64; channels are averaged.

    Raises:
        WavError: it cannot be read, or is longer than LONGEST_S.
    """
    format_, data = _chunks(content)
    width = format_.bits // 8
    data = data[: len(data) - len(data) % (width * format_.channels)]
    if len(data) > LONGEST_S * format_.rate * width * format_.channels:
        raise WavError(f"is longer than {LONGEST_S} s")
    mono = _average(_samples(format_, data), format_.channels)
    if not mono:
        raise WavError("has no samples")
    return to_pcm(resample(mono, format_.rate, RATE))


def write_wav(path: Path, pcm: Pcm) -> None:
    """Writes samples as a mono 16-bit WAV file."""
    with wave.open(str(path), "wb") as file:
        file.setparams((1, 2, RATE, len(pcm), "NONE", ""))
        file.writeframes(pcm.tobytes())


def to_pcm(samples: Sequence[float]) -> Pcm:
    """Samples between -1 and 1 as 16-bit ones; what is beyond is held at full scale."""
    return array("h", (max(-FULL_SCALE - 1, min(FULL_SCALE, round(sample * (FULL_SCALE + 1)))) for sample in samples))


def resample(samples: Sequence[float], rate: int, wanted: int) -> Sequence[float]:
    """The same sound at another rate, by a windowed sinc that also keeps out what the lower rate cannot hold."""
    if rate == wanted:
        return samples
    step = Fraction(rate, wanted)
    cutoff = min(1.0, wanted / rate)
    reach = math.ceil(_ZERO_CROSSINGS / cutoff)
    padded = [0.0] * reach + list(samples) + [0.0] * (reach + 1)
    kernels: dict[int, list[float]] = {}
    result = []
    for n in range(len(samples) * wanted // rate):
        whole, part = divmod(n * step.numerator, step.denominator)
        if part not in kernels:
            kernels[part] = _kernel(part / step.denominator, cutoff, reach)
        result.append(sum(map(mul, padded[whole + 1 : whole + 1 + 2 * reach], kernels[part])))
    return result


def _kernel(fraction: float, cutoff: float, reach: int) -> list[float]:
    """Weights of the samples from `reach - 1` before to `reach` after a point that lies `fraction` after a sample."""
    weights = []
    for k in range(1 - reach, reach + 1):
        x = k - fraction
        sinc = 1.0 if x == 0 else math.sin(math.pi * cutoff * x) / (math.pi * cutoff * x)
        # Blackman's window.
        turn = math.pi * x / reach
        weights.append(sinc * max(0.0, 0.42 + 0.5 * math.cos(turn) + 0.08 * math.cos(2 * turn)))
    total = sum(weights)
    return [weight / total for weight in weights]


def _chunks(content: bytes) -> tuple[_Format, bytes]:
    if content[:4] != b"RIFF" or content[8:12] != b"WAVE":
        raise WavError("is not a WAV file")
    format_: _Format | None = None
    at = 12
    while at + 8 <= len(content):
        name, size = struct.unpack_from("<4sI", content, at)
        body = content[at + 8 : at + 8 + size]
        if name == b"fmt ":
            format_ = _format(body)
        elif name == b"data":
            if format_ is None:
                raise WavError("has samples before it says in what format")
            # Recorders that were cut off leave a size that is too large; what is there counts.
            return format_, body
        at += 8 + size + size % 2
    raise WavError("has no samples")


def _format(body: bytes) -> _Format:
    if len(body) < 16:
        raise WavError("is damaged: its format is cut off")
    tag, channels, rate, _, _, bits = struct.unpack_from("<HHIIHH", body)
    if tag == _EXTENSIBLE and len(body) >= 26:
        (tag,) = struct.unpack_from("<H", body, 24)
    if (tag, bits) not in {(_PCM, 8), (_PCM, 16), (_PCM, 24), (_PCM, 32), (_FLOAT, 32), (_FLOAT, 64)}:
        raise WavError(f"is compressed or of a kind that is not read (format {tag}, {bits} bits)")
    if not channels or rate not in RATES:
        raise WavError(f"cannot be right: {channels} channels at {rate} Hz")
    return _Format(tag, channels, rate, bits)


def _samples(format_: _Format, data: bytes) -> Sequence[float]:
    if format_.tag == _FLOAT:
        floats = array("f" if format_.bits == 32 else "d", data)
        if not all(map(math.isfinite, floats)):
            raise WavError("has samples that are no numbers")
        return floats
    if format_.bits == 8:
        return [(value - 128) / 128 for value in data]
    if format_.bits == 24:
        wide = bytearray(len(data) // 3 * 4)
        for k in range(3):
            wide[k + 1 :: 4] = data[k::3]
        data = bytes(wide)
    whole = array("h" if format_.bits == 16 else "i", data)
    scale = 1 / (1 << (15 if format_.bits == 16 else 31))
    return [value * scale for value in whole]


def _average(samples: Sequence[float], channels: int) -> Sequence[float]:
    if channels == 1:
        return samples
    return [sum(frame) / channels for frame in zip(*(samples[k::channels] for k in range(channels)), strict=True)]
