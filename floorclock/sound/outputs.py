"""Where sound goes: a device, a file, the terminal bell, nowhere. Drivers are imported when one is opened.

Invariant: an output takes frames from its stream and knows nothing of cues to come; what goes wrong in a driver leaves
`open` as `OutputFailed`, and anywhere else shows as a stream that has stopped asking for frames.
"""

from __future__ import annotations

import os
import sys
import threading
import wave
from abc import ABC, abstractmethod
from collections.abc import Callable, Generator, Iterable, Mapping
from contextlib import suppress
from pathlib import Path
from typing import Any, BinaryIO, ClassVar, Protocol

from floorclock.clock.cues import CueName
from floorclock.errors import ResourceError
from floorclock.sound.mixer import CueMixer, FixedAnchor, Stream
from floorclock.sound.samples import RATE, Pcm, at_gain, error_words, silence, wav_writer

BUFFER_MS = 60
"""Shorter buffers run dry when Python is busy (20 ms: 35 ms off at worst); this one does not, and costs only lead time."""


class OutputFailed(ResourceError):
    """The output cannot be opened: no device, no driver, no room on the disk."""


class SoundOutput(Protocol):
    """One way for sound to leave the machine."""

    name: str
    """As the coach chooses it."""
    heard: bool
    """Whether cues can be told apart through it; where not, it is only a fallback, and the floor says "no sound"."""

    def open(self, mixer: CueMixer) -> Stream:
        """Starts to take frames and returns the stream they come from. May block while a sound server hangs.

        Raises:
            OutputFailed: there is nothing to play on.
        """
        ...

    def close(self) -> None:
        """Stops and lets go of the device. Harmless when it is not open. May block while a sound server hangs."""
        ...


class MiniaudioOutput:
    """The default: one stream, open for the whole class, that the cues are mixed into."""

    name = "miniaudio"
    heard = True

    LATENCY_BUFFERS: ClassVar[Mapping[str, float]] = {"PulseAudio": 1.0, "ALSA": 3.0}
    """From asking for a frame to hearing it, in buffers of BUFFER_MS. PulseAudio is measured (60 ms within a millisecond); ALSA
    keeps three (over PulseAudio's plugin 20 ms more were measured). For other systems `offset_ms` makes up for what is wrong."""
    LATENCY_BUFFERS_ELSEWHERE = 2.0

    def __init__(self, backends: tuple[str, ...] = ()) -> None:
        self.backend = ""
        self._backends = backends
        self._device: Any = None

    def open(self, mixer: CueMixer) -> Stream:
        """Opens the default device of the first backend that has one."""
        try:
            import miniaudio
        except (ImportError, OSError) as error:
            raise OutputFailed(f"miniaudio cannot be loaded: {error}") from error
        # A bare context would fall through to a backend that plays to nobody; so it is left out by name.
        unreal = {miniaudio.Backend.NULL, miniaudio.Backend.CUSTOM, miniaudio.Backend.WEBAUDIO}
        backends = [miniaudio.Backend[name] for name in self._backends] or [b for b in miniaudio.Backend if b not in unreal]
        device = object.__new__(miniaudio.PlaybackDevice)
        self._device = device
        try:
            device.__init__(
                miniaudio.SampleFormat.SIGNED16,
                1,
                RATE,
                BUFFER_MS,
                backends=backends,
                # Where this process has no right to it, the library makes do without.
                thread_prio=miniaudio.ThreadPriority.REALTIME,
                app_name="floorclock",
            )
            self.backend = device.backend
            stream = mixer.stream(self.LATENCY_BUFFERS.get(self.backend, self.LATENCY_BUFFERS_ELSEWHERE) * BUFFER_MS / 1000)
            frames = _frames_for(stream)
            next(frames)
            device.start(frames)
        except miniaudio.MiniaudioError as error:
            self.close()
            raise OutputFailed(f"no sound device: {error}") from error
        return stream

    def close(self) -> None:
        """Closes the device and its context: the library forgets the latter, and about the 60th open would fail.

        While this hangs, its frame keeps the device from being freed, which would hang the end of the interpreter.
        """
        device, self._device = self._device, None
        if device is None:
            return
        import miniaudio

        device.close()
        context = device.__dict__.pop("_context", None)
        if context is not None:
            miniaudio.lib.ma_context_uninit(context)


def _frames_for(stream: Stream) -> Generator[Pcm, int, None]:
    """What the device's thread draws from: it sends how many frames it wants and gets them."""
    block = silence(0)
    while True:
        wanted = yield block
        try:
            block = stream.render(wanted)
        except Exception:  # noqa: BLE001 - whatever escapes here would end the sound for the whole class
            block = silence(wanted)


class ClockedOutput(ABC):
    """What outputs have in common that no device asks for frames: a thread takes those up to now, counted from the start.

    A late wake-up takes more frames, never others. The thread ends when `_take` raises OSError: a stream that is no longer asked
    for frames is how every output says that it is lost.
    """

    BLOCK_MS = 10
    _stopped = threading.Event()
    _thread: threading.Thread | None = None

    @abstractmethod
    def _take(self, stream: Stream, frames: int) -> None:
        """Does what is to be done with the next frames."""

    def _stream(self, mixer: CueMixer, begun_s: float) -> Stream:
        return mixer.stream(anchor=FixedAnchor(begun_s), through_speaker=False)

    def open(self, mixer: CueMixer) -> Stream:
        """Starts the clock."""
        begun_s, block_s = mixer.now(), self.BLOCK_MS / 1000
        stream = self._stream(mixer, begun_s)
        stopped = self._stopped = threading.Event()

        def run() -> None:
            with suppress(OSError):
                while not stopped.wait(block_s - (mixer.now() - begun_s) % block_s):
                    due = round((mixer.now() - begun_s) * RATE) - stream.frame
                    if due > 0:
                        self._take(stream, due)

        self._thread = threading.Thread(target=run, name="floorclock-sound-clock", daemon=True)
        self._thread.start()
        return stream

    def close(self) -> None:
        """Stops the clock."""
        thread, self._thread = self._thread, None
        if thread is not None:
            self._stopped.set()
            thread.join(timeout=1.0)


class SimpleaudioOutput(ClockedOutput):
    """For machines without a build of miniaudio: each cue played on its own, some 25 ms of chance off its instant.

    Never the default: it ends Python 3.12 and later with a crash after its first sound, and has to be compiled on Linux.
    """

    name = "simpleaudio"
    heard = True
    LATENCY_S = 0.013
    """Over PulseAudio, give or take the 20 ms steps in which plays of their own begin."""

    def __init__(self) -> None:
        self._player: Any = None
        self._probed = 0

    def open(self, mixer: CueMixer) -> Stream:
        """Plays a moment of silence, to see whether there is a device, and starts the clock that plays the cues."""
        if sys.version_info >= (3, 12):
            raise OutputFailed("simpleaudio crashes Python 3.12 and later")
        try:
            import simpleaudio  # type: ignore[import-untyped,import-not-found,unused-ignore]
        except ImportError as error:
            raise OutputFailed(f"simpleaudio is not installed: {error}") from error
        self._player = simpleaudio
        try:
            self._play(silence(RATE // 100))
        except OSError as error:
            raise OutputFailed(f"no sound device: {error}") from error
        self._probed = 0
        return super().open(mixer)

    def close(self) -> None:
        """Stops the clock and what sounds."""
        sounding = self._thread is not None
        super().close()
        if sounding:
            self._player.stop_all()

    def _stream(self, mixer: CueMixer, begun_s: float) -> Stream:
        del begun_s
        return mixer.stream(self.LATENCY_S)

    def _take(self, stream: Stream, frames: int) -> None:
        withdrawn, begun = stream.take(frames)
        if withdrawn:
            self._player.stop_all()
        for voice in begun:
            self._play(at_gain(voice.pcm, stream.gain))
        # Between cues nothing would show that the device is gone: a moment of silence each second does.
        if stream.frame - self._probed > RATE:
            self._probed = stream.frame
            self._play(silence(RATE // 100))

    def _play(self, pcm: Pcm) -> None:
        try:
            self._player.play_buffer(pcm.tobytes(), 1, 2, RATE)
        except self._player.SimpleaudioError as error:
            raise OSError(str(error)) from error


class WavOutput(ClockedOutput):
    """Writes what would be heard to a WAV file as the class goes on; frame 0 is the moment it was opened."""

    name = "wav"
    heard = True
    BLOCK_MS = 100

    def __init__(self, path: Path) -> None:
        self.path = path
        self._raw: BinaryIO | None = None
        self._file: wave.Wave_write | None = None

    def open(self, mixer: CueMixer) -> Stream:
        """Creates the file; what was there is overwritten, but never twice in one class."""
        if self._file is not None:
            raise OutputFailed(f"{self.path} could not be written to the end")
        try:
            _refuse_what_is_no_file(self.path)
            raw = self.path.open("wb")
        except (OSError, ValueError) as error:
            raise OutputFailed(f"{self.path} cannot be written: {error_words(error)}") from error
        self._raw, self._file = raw, wav_writer(raw)
        return super().open(mixer)

    def close(self) -> None:
        """Completes the file."""
        super().close()
        # On a full disk what could be written is there, and the stream has already stopped.
        for file in (self._file, self._raw):
            if file is not None:
                with suppress(OSError):
                    file.close()

    def _take(self, stream: Stream, frames: int) -> None:
        if self._file is not None:
            self._file.writeframes(stream.render(frames).tobytes())


class BellOutput(ClockedOutput):
    """The terminal bell, the same for every cue. The fallback while there is no device.

    `ring` is called by a thread of this room and must be safe there (`os.write` of a BEL to the terminal is).
    """

    name = "bell"
    heard = False

    def __init__(self, ring: Callable[[], None]) -> None:
        self._ring = ring

    def _take(self, stream: Stream, frames: int) -> None:
        # `attention` is meant for the coach alone; a bell would call everybody.
        _, begun = stream.take(frames)
        if any(voice.name is not CueName.ATTENTION for voice in begun):
            # A terminal that does not take one bell may take the next.
            with suppress(OSError):
                self._ring()


def render_wav(
    cues: Iterable[tuple[int, CueName]], length_ms: int, sounds: Mapping[CueName, Pcm], path: Path, volume: int = 100
) -> None:
    """Writes the cues, each at its millisecond from the start, as a mono WAV file of `length_ms`; what sounds longer is cut off.

    Memory does not grow with the class. The file is there whole or not at all: where the disk does not take it, what stood
    there before still stands.

    Raises:
        ResourceError: the file cannot be written.
        ValueError: a cue is before the start.
    """
    mixer = CueMixer(lambda: 0.0, gain=volume / 100)
    stream = mixer.stream(anchor=FixedAnchor())
    mixer.select(stream)
    for at_ms, name in cues:
        if at_ms < 0:
            raise ValueError("a cue is before the start")
        mixer.schedule(at_ms / 1000, sounds[name])
    length = length_ms * RATE // 1000
    fresh = path.with_name(f".{path.name[:40]}.{os.getpid()}.new")
    try:
        _refuse_what_is_no_file(path)
        with fresh.open("wb") as raw, wav_writer(raw) as file:
            while stream.frame < length:
                file.writeframesraw(stream.render(min(RATE, length - stream.frame)).tobytes())
        fresh.replace(path)
    except (OSError, ValueError) as error:
        raise ResourceError(f"{path} cannot be written: {error_words(error)}") from error
    finally:
        with suppress(OSError, ValueError):
            fresh.unlink()


def _refuse_what_is_no_file(path: Path) -> None:
    """Opening a pipe to write would wait for a reader, and a device is never meant."""
    if path.exists() and not path.is_file():
        raise OSError("that is a folder, a device or a pipe, not a file")
