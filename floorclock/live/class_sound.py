"""The speaker of a floor: set up from what the coach and the machine say, opened after the first picture, silenced by a key.

Invariant: nothing here keeps a class from running; what is wrong with the sound is told in words and the class goes on.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from floorclock.clock.announce import announcements
from floorclock.clock.cues import CueName
from floorclock.clock.timeline import part_timeline
from floorclock.errors import WrongUsage
from floorclock.journal.settings import FARTHEST_OFFSET_MS, OUTPUTS, Settings
from floorclock.live import shipped
from floorclock.plan.session import Session
from floorclock.platform.system import TERMINAL

if TYPE_CHECKING:
    from floorclock.sound.outputs import SoundOutput
    from floorclock.sound.samples import Pcm
    from floorclock.sound.speaker import Speaker


VOLUME_STEP = 10


@dataclass(frozen=True, kw_only=True)
class SoundOptions:
    """How a run should sound. `output` is one of `settings.OUTPUTS` or the name of a WAV file; `sounds` the coach's own cues."""

    output: str = "auto"
    offset_ms: int = 0
    sounds: Path | None = None


def options_from(settings: Settings, output: str | None, offset_ms: int | None, sounds: Path | None) -> SoundOptions:
    """What the command line says, and where it says nothing, what this machine's settings say.

    Raises:
        WrongUsage: the command line asks for something that there is not.
    """
    if output is not None and output not in OUTPUTS and not output.endswith(".wav"):
        raise WrongUsage(f"--sound takes {', '.join(OUTPUTS)} or the name of a .wav file, not {output}")
    if offset_ms is not None and abs(offset_ms) > FARTHEST_OFFSET_MS:
        raise WrongUsage(f"--sound-offset is at most {FARTHEST_OFFSET_MS} ms; `floorclock cues --tune` finds it")
    own = sounds if sounds is not None else Path(settings.sounds) if settings.sounds else None
    return SoundOptions(
        output=settings.sound_output if output is None else output,
        offset_ms=settings.sound_offset_ms if offset_ms is None else offset_ms,
        sounds=own,
    )


def outputs_for(output: str, ring: Callable[[], None]) -> Sequence[SoundOutput]:
    """The outputs to try, in order; the bell stands in while a device is missing. None where no sound is wanted."""
    from floorclock.sound.outputs import BellOutput, MiniaudioOutput, SimpleaudioOutput, WavOutput

    if output.endswith(".wav"):
        return [WavOutput(Path(output))]
    chosen: dict[str, Sequence[SoundOutput]] = {
        "auto": [MiniaudioOutput(), BellOutput(ring)],
        "miniaudio": [MiniaudioOutput(), BellOutput(ring)],
        "simpleaudio": [SimpleaudioOutput(), BellOutput(ring)],
        "bell": [BellOutput(ring)],
        "none": [],
    }
    return chosen[output]


class ClassSound:
    """What a conductor calls; made before there is a device."""

    def __init__(self, options: SoundOptions, ring: Callable[[], None]) -> None:
        self._options = options
        self._ring = ring
        self._speaker: Speaker | None = None
        self._defect = ""
        self._spoken: dict[str, Pcm] = {}
        self._volume = 100
        self.quiet = False
        self.problems: list[str] = []

    def open(self) -> None:
        """Makes the speaker and starts it. May take a moment where a device hangs: not for the screen's thread."""
        try:
            self._speaker = self._opened()
        except Exception as error:  # noqa: BLE001 - whatever it is, the class goes on, and the coach has to be told
            self._defect = "no sound"
            self.problems.append(f"{self._defect}, the bell rings instead: {error!r}")
            self._speaker = self._bell_alone()

    def _opened(self) -> Speaker:
        from floorclock.sound.cueset import load_cues
        from floorclock.sound.speaker import Speaker

        cues, problems = load_cues(self._options.sounds, shipped.folder("sounds"))
        self.problems += [str(problem) for problem in problems]
        outputs = outputs_for(self._options.output, self._ring)
        speaker = Speaker(outputs, cues, volume=self._volume, offset_ms=self._options.offset_ms)
        speaker.start()
        return speaker

    def _bell_alone(self) -> Speaker:
        from floorclock.sound.samples import silence
        from floorclock.sound.speaker import Speaker

        speaker = Speaker(outputs_for("bell", self._ring), dict.fromkeys(CueName, silence(1)))
        speaker.start()
        return speaker

    @property
    def volume(self) -> int:
        """In percent from 0 to 100: what the plan says, until somebody changes it. It is heard within a tenth of a second."""
        return self._volume

    @volume.setter
    def volume(self, percent: int) -> None:
        self._volume = max(0, min(100, percent))
        if self._speaker is not None:
            self._speaker.volume = self._volume

    def change_volume(self, steps: int) -> int:
        """Louder by so many steps of a tenth, or quieter where `steps` is negative; gives the new volume in percent."""
        self.volume += VOLUME_STEP * steps
        return self.volume

    def learn(self, words: Collection[str]) -> None:
        """Has words spoken beforehand; without a speech engine it says so once, and cues stay."""
        from floorclock.sound.voice import spoken

        for said in words:
            try:
                self._spoken[said] = spoken(said)
            except Exception as error:  # noqa: BLE001 - a speech engine can write anything; cues go on without a voice
                self.problems.append(f"no voice: {error}")
                return

    @property
    def trouble(self) -> str:
        """`no sound`, `sound off`, or nothing."""
        if self.quiet:
            return "sound off"
        return self._defect or (self._speaker.trouble if self._speaker else "")

    def schedule(self, at_s: float, cue: CueName) -> None:
        """A cue at a monotonic time; not while the coach wants quiet."""
        if self._speaker is not None and not self.quiet:
            self._speaker.schedule(at_s, cue)

    def say(self, ends_at_s: float, words: str) -> None:
        """Words that were learnt, over at a monotonic time."""
        pcm = self._spoken.get(words)
        if self._speaker is not None and not self.quiet and pcm is not None:
            self._speaker.say(ends_at_s, pcm)

    def withdraw(self) -> None:
        """Everything that is to come."""
        if self._speaker is not None:
            self._speaker.withdraw()

    def close(self) -> None:
        """Lets go of the device."""
        if self._speaker is not None:
            self._speaker.close()


def words_of(session: Session, groups: Collection[int]) -> tuple[str, ...]:
    """Everything that may be said in a session, each once, in the order of the plan; nothing where no voice is wanted."""
    if not session.cues.voice:
        return ()
    timelines = ((part, part_timeline(part, session, groups)) for part in session.parts)
    said = (announcement.words for part, line in timelines for announcement in announcements(part, line, groups))
    return tuple(dict.fromkeys(said))


def ring_bell() -> None:
    """Rings the bell of the terminal."""
    with open(TERMINAL, "wb", buffering=0) as terminal:
        terminal.write(b"\a")
