"""Where sound goes: a device, a file, the terminal bell, nowhere. Drivers are imported when one is opened.

Invariant: an output takes frames from its stream and knows nothing of cues to come; what goes wrong in a driver leaves
`open` as `OutputFailed`, and anywhere else shows as a stream that has stopped asking for frames.
"""

from __future__ import annotations

import sys
import wave
from collections.abc import Callable, Generator, Mapping
from contextlib import suppress
from pathlib import Path
from typing import Any, BinaryIO, ClassVar, Protocol

from floorclock.clock.cues import CueName
from floorclock.errors import ResourceError
from floorclock.sound.anchor import RATE, FixedAnchor
from floorclock.sound.mixer import CueMixer, Pcm, Stream, Taken, silence
from floorclock.sound.puller import Puller

BUFFER_MS = 60
"""Shorter buffers run dry when Python is busy (20 ms: 35 ms off at worst); this one does not, and costs only lead time."""


class OutputFailed(ResourceError):
    """The output cannot be opened: no device, no driver, no room on the disk."""


class SoundOutput(Protocol):
    """One way for sound to leave the machine."""

    name: str
    """As the coach chooses it."""
    heard: bool
    """Whether cues can be told apart through it; where not, it is a stopgap and the floor says "no sound"."""

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
            device.__init__(miniaudio.SampleFormat.SIGNED16, 1, RATE, BUFFER_MS, backends=backends, app_name="floorclock")
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


class SimpleaudioOutput:
    """For machines without a build of miniaudio: each cue played on its own, some 25 ms of chance off its instant.

    Never the default: it ends Python 3.12 and later with a crash after its first sound, and has to be compiled on Linux.
    """

    name = "simpleaudio"
    heard = True
    LATENCY_S = 0.013
    """Over PulseAudio, give or take the 20 ms steps in which plays of their own begin."""
    BLOCK_MS = 10

    def __init__(self) -> None:
        self._player: Any = None
        self._puller: Puller | None = None
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
        stream = mixer.stream(self.LATENCY_S)
        self._probed = 0

        def take(frames: int) -> None:
            self._begin(stream.take(frames))
            # Between cues nothing would show that the device is gone: a moment of silence each second does.
            if stream.frame - self._probed > RATE:
                self._probed = stream.frame
                self._play(silence(RATE // 100))

        self._puller = Puller(stream, take, mixer.now, self.BLOCK_MS)
        self._puller.start()
        return stream

    def close(self) -> None:
        """Stops the clock and what sounds."""
        puller, self._puller = self._puller, None
        if puller is not None:
            puller.stop()
            self._player.stop_all()

    def _begin(self, taken: Taken) -> None:
        if taken.withdrawn:
            self._player.stop_all()
        for _, voice in taken.begun:
            self._play(voice.pcm)

    def _play(self, pcm: Pcm) -> None:
        try:
            self._player.play_buffer(pcm.tobytes(), 1, 2, RATE)
        except self._player.SimpleaudioError as error:
            raise OSError(str(error)) from error


class WavOutput:
    """Writes what would be heard to a WAV file as the class goes on; frame 0 is the moment it was opened."""

    name = "wav"
    heard = True
    BLOCK_MS = 100

    def __init__(self, path: Path) -> None:
        self.path = path
        self._raw: BinaryIO | None = None
        self._file: wave.Wave_write | None = None
        self._puller: Puller | None = None

    def open(self, mixer: CueMixer) -> Stream:
        """Creates the file; what was there is overwritten, but never twice in one class."""
        if self._file is not None:
            raise OutputFailed(f"{self.path} could not be written to the end")
        try:
            raw = self.path.open("wb")
        except OSError as error:
            raise OutputFailed(f"{self.path} cannot be written: {error.strerror}") from error
        self._raw, file = raw, wave.open(raw, "wb")  # noqa: SIM115 - open until close()
        file.setparams((1, 2, RATE, 0, "NONE", ""))
        self._file = file
        anchor = FixedAnchor()
        stream = mixer.stream(anchor=anchor, through_speaker=False)
        self._puller = Puller(stream, lambda frames: file.writeframes(stream.render(frames).tobytes()), mixer.now, self.BLOCK_MS)
        anchor.epoch_s = self._puller.begun_s
        self._puller.start()
        return stream

    def close(self) -> None:
        """Completes the file."""
        puller, self._puller = self._puller, None
        if puller is None or self._file is None or self._raw is None:
            return
        puller.stop()
        # On a full disk what could be written is there, and the stream has already stopped.
        for file in (self._file, self._raw):
            with suppress(OSError):
                file.close()


class BellOutput:
    """The terminal bell: says *now*, not *what*. The stopgap while there is no device.

    `ring` is called by a thread of this room and must be safe there (`os.write` of a BEL to the terminal is).
    """

    name = "bell"
    heard = False
    BLOCK_MS = 10
    QUIET = frozenset({CueName.ATTENTION})
    """Meant for the coach alone; a bell would call everybody."""

    def __init__(self, ring: Callable[[], None]) -> None:
        self._ring = ring
        self._puller: Puller | None = None

    def open(self, mixer: CueMixer) -> Stream:
        """Starts the clock that rings."""
        anchor = FixedAnchor()
        stream = mixer.stream(anchor=anchor, through_speaker=False)
        self._puller = Puller(stream, lambda frames: self._begin(stream.take(frames)), mixer.now, self.BLOCK_MS)
        anchor.epoch_s = self._puller.begun_s
        self._puller.start()
        return stream

    def close(self) -> None:
        """Stops the clock."""
        puller, self._puller = self._puller, None
        if puller is not None:
            puller.stop()

    def _begin(self, taken: Taken) -> None:
        if any(voice.name not in self.QUIET for _, voice in taken.begun):
            self._ring()


class SilentOutput:
    """No sound, as the coach asked; cues pass by unheard."""

    name = "none"
    heard = False
    BLOCK_MS = 250

    def __init__(self) -> None:
        self._puller: Puller | None = None

    def open(self, mixer: CueMixer) -> Stream:
        """Starts the clock that lets cues pass by."""
        stream = mixer.stream(through_speaker=False)
        self._puller = Puller(stream, lambda frames: _nothing(stream.take(frames)), mixer.now, self.BLOCK_MS)
        self._puller.start()
        return stream

    def close(self) -> None:
        """Stops the clock."""
        puller, self._puller = self._puller, None
        if puller is not None:
            puller.stop()


def _nothing(taken: Taken) -> None:
    del taken
