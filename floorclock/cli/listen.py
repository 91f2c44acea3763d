"""The cues without a class: listed and played one by one, or rendered to a file as the plan says."""

from __future__ import annotations

import os
import time
from collections.abc import Callable
from pathlib import Path

from floorclock.clock.cues import MEANING, CueName
from floorclock.clock.sheet import planned_ms, run_sheet
from floorclock.errors import Problem, ResourceError
from floorclock.live import shipped
from floorclock.live.class_sound import SoundOptions, outputs_for, ring_bell
from floorclock.plan.session import Session
from floorclock.sound.cueset import load_cues
from floorclock.sound.outputs import render_wav
from floorclock.sound.quiet import quiet_stderr
from floorclock.sound.samples import RATE
from floorclock.sound.speaker import Speaker

APART_S = 1.6
LEAD_S = 0.4


def session_cues(session: Session) -> tuple[list[tuple[int, CueName]], int]:
    """Every cue of a session at its millisecond, parts and count-ins one after the other as planned, and the whole length.

    An open part without a time takes none.
    """
    cues: list[tuple[int, CueName]] = []
    start_ms = 0
    for item in run_sheet(session):
        go_ms = start_ms + item.timeline.count_in_ms
        cues += [(go_ms + cue.at_ms, cue.name) for cue in item.timeline.cues]
        start_ms = go_ms + planned_ms(item)
    return cues, start_ms


def render_session(session: Session, path: Path, own: Path | None = None) -> tuple[int, tuple[Problem, ...]]:
    """Writes the sound of a session as a WAV file; gives its length in milliseconds, and what is wrong with the coach's own cues.

    Raises:
        ResourceError: the file cannot be written.
    """
    sounds, problems = load_cues(own, shipped.folder("sounds"))
    cues, length_ms = session_cues(session)
    longest_ms = 1000 * max(map(len, sounds.values())) // RATE + 1
    within = [(at_ms, name) for at_ms, name in cues if at_ms <= length_ms]
    render_wav(within, length_ms + longest_ms, sounds, path, session.cues.volume)
    return length_ms, problems


def play_cues(say: Callable[[str], None], options: SoundOptions) -> None:
    """Says and plays each cue. Without a sound device it only says them."""
    speaker, problems = _speaker(options)
    try:
        heard = not speaker.trouble and bool(speaker.playing_on)
        for name in CueName:
            say(f"{name:<11} {MEANING[name]}")
            if heard:
                speaker.schedule(time.monotonic() + LEAD_S, name)
                time.sleep(APART_S)
        for problem in problems:
            say(str(problem))
        if not heard and options.output != "none":
            say("no sound device was found, so nothing was played")
    finally:
        speaker.close()


def tune(options: SoundOptions) -> int | None:
    """Lets the coach line the beep up with a flash; gives the offset in milliseconds, None where nothing is to be kept.

    Raises:
        ResourceError: there is no sound to line up.
    """
    from floorclock.tui.base.safe_driver import SafeDriver
    from floorclock.tui.tune import TuneApp

    with quiet_stderr(Path(os.devnull)):
        speaker, _ = _speaker(options)
        try:
            if speaker.trouble or not speaker.playing_on:
                raise ResourceError("no sound device was found, so there is nothing to line up")
            return TuneApp(speaker, SafeDriver).run()
        finally:
            speaker.close()


def _speaker(options: SoundOptions) -> tuple[Speaker, tuple[Problem, ...]]:
    sounds, problems = load_cues(options.sounds, shipped.folder("sounds"))
    speaker = Speaker(outputs_for(options.output, ring_bell)[:1], sounds, offset_ms=options.offset_ms)
    # What an audio library prints while it looks for a device is of no use to whoever listens.
    with quiet_stderr(Path(os.devnull)):
        speaker.start()
    return speaker, problems
