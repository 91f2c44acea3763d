"""Real sound: the speaker plays into a sound server, which is recorded, killed, stopped and started again.

Skipped only where PulseAudio is not installed; CI installs it. Nothing here is timed: a shared machine may be late. The bench
(`tests/bench/floor_sound.py`) holds the figures.
"""

from __future__ import annotations

import importlib.util
import os
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from floorclock.clock.cues import CueName
from floorclock.sound.cueset import load_cues
from floorclock.sound.outputs import BellOutput, MiniaudioOutput, OutputFailed
from floorclock.sound.speaker import Speaker
from tests.end_to_end.terminal import until
from tests.plan.shipped import CHECKOUT, SOUNDS
from tests.sound.pulse_rig import Recording, SoundServer, installed

pytestmark = pytest.mark.skipif(not installed(), reason="pulseaudio and pulseaudio-utils are not installed")

CUES, _ = load_cues(None, SOUNDS)


@pytest.fixture(autouse=True)
def silence() -> None:
    """Real sound is the point here, and it goes to a private server."""


@pytest.fixture
def server(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[SoundServer]:
    """A private sound server that this process plays to."""
    folder = tmp_path / "pulse"
    folder.mkdir(mode=0o700)
    server = SoundServer(folder)
    for name, value in server.env.items():
        monkeypatch.setenv(name, value)
    with server:
        yield server


def one_take(server: SoundServer) -> tuple[int, bool]:
    """Six pips, an end cue withdrawn as it sounds, and a go that never comes: (sounds heard, whether the go was one)."""
    recording = Recording(server)
    speaker = Speaker([MiniaudioOutput(("PULSEAUDIO",))], CUES)
    speaker.start()
    try:
        assert speaker.trouble == ""
        first_s = time.monotonic() + 1.0
        instants = [first_s + 0.25 * k for k in range(6)]
        for instant in instants:
            speaker.schedule(instant, CueName.COUNT)
        end_s = instants[-1] + 0.5
        speaker.schedule(end_s, CueName.END)
        speaker.schedule(end_s + 0.9, CueName.GO)
        time.sleep(max(0.0, end_s + 0.4 - time.monotonic()))
        speaker.withdraw()
        time.sleep(1.2)
        recording.stop()
    finally:
        speaker.close()
    return len(recording.sounds()), recording.last_sound_s() > end_s + 0.9


def test_every_cue_is_heard_once_and_a_withdrawal_silences_what_is_to_come(server: SoundServer) -> None:
    takes = []
    for _ in range(4):
        heard, go_heard = one_take(server)
        assert not go_heard
        takes.append(heard)
        # A machine so busy that it starves the sound server parts a pip; that does not strike every take.
        if heard == 7:
            return
    pytest.fail(f"sounds heard instead of seven: {takes}")


def test_a_killed_sound_server_is_noticed_and_sound_returns_with_it(server: SoundServer) -> None:
    bells: list[float] = []
    speaker = Speaker([MiniaudioOutput(("PULSEAUDIO",)), BellOutput(lambda: bells.append(time.monotonic()))], CUES)
    speaker.start()
    try:
        assert speaker.playing_on == "miniaudio"
        server.kill()
        until(lambda: (speaker.trouble, speaker.playing_on) == ("no sound", "bell"), "the bell in its place")
        speaker.schedule(time.monotonic() + 0.3, CueName.GO)
        until(lambda: len(bells) == 1, "a bell")
        server.start()
        until(lambda: (speaker.trouble, speaker.playing_on) == ("", "miniaudio"), "sound again")
        recording = Recording(server)
        speaker.schedule(time.monotonic() + 0.4, CueName.COUNT)
        time.sleep(0.9)
        recording.stop()
        assert len(recording.sounds()) == len(bells) == 1
    finally:
        speaker.close()


def test_seventy_opens_leave_nothing_behind(server: SoundServer) -> None:
    """What the library forgets would make about the sixtieth fail."""
    output = MiniaudioOutput(("PULSEAUDIO",))
    speaker_mixer = Speaker([], CUES)._mixer
    for _ in range(70):
        output.open(speaker_mixer)
        output.close()
    assert output.backend == "PulseAudio"


def test_without_a_server_opening_fails_instead_of_playing_to_nobody(server: SoundServer) -> None:
    server.kill()
    with pytest.raises(OutputFailed, match="no sound device"):
        MiniaudioOutput(("PULSEAUDIO",)).open(Speaker([], CUES)._mixer)


LEFT_OPEN = """
import os, signal, sys
from pathlib import Path
from floorclock.clock.cues import CueName
from floorclock.sound.cueset import load_cues
from floorclock.sound.outputs import MiniaudioOutput
from floorclock.sound.speaker import Speaker
speaker = Speaker([MiniaudioOutput(("PULSEAUDIO",))], load_cues(None, Path("sounds"))[0])
speaker.start()
print(repr(speaker.trouble), flush=True)
if len(sys.argv) > 1:
    os.kill(int(sys.argv[1]), signal.SIGSTOP)
"""


@pytest.mark.parametrize("stopped", [False, True], ids=["server well", "server hangs"])
def test_a_speaker_left_open_never_hangs_the_end_of_the_program(server: SoundServer, stopped: bool) -> None:
    command = [sys.executable, "-c", LEFT_OPEN, *([str(server.pid)] if stopped else [])]
    run = subprocess.run(command, cwd=CHECKOUT, env=dict(os.environ), capture_output=True, text=True, timeout=60)
    assert (run.returncode, run.stdout.strip()) == (0, "''"), run.stderr


ONE_PLAY_A_CUE = """
import time
from pathlib import Path
from floorclock.clock.cues import CueName
from floorclock.sound.cueset import load_cues
from floorclock.sound.outputs import SimpleaudioOutput
from floorclock.sound.speaker import Speaker
speaker = Speaker([SimpleaudioOutput()], load_cues(None, Path("sounds"))[0])
speaker.start()
assert speaker.trouble == "", speaker.trouble
for ahead_s, cue in ((0.5, CueName.COUNT), (1.0, CueName.COUNT), (1.5, CueName.END), (2.4, CueName.GO)):
    speaker.schedule(time.monotonic() + ahead_s, cue)
time.sleep(1.9)
speaker.withdraw()
time.sleep(1.0)
print("played", flush=True)
input()
while not speaker.trouble:
    time.sleep(0.02)
speaker.close()
"""


@pytest.mark.skipif(
    sys.version_info >= (3, 12) or importlib.util.find_spec("simpleaudio") is None,
    reason="the simpleaudio extra is not installed, or this Python is too new for it",
)
def test_simpleaudio_plays_stops_and_is_missed(server: SoundServer) -> None:
    recording = Recording(server)
    command = [sys.executable, "-c", ONE_PLAY_A_CUE]
    with subprocess.Popen(command, cwd=CHECKOUT, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == "played\n"
        recording.stop()
        server.kill()
        process.communicate("\n", timeout=60)
    assert process.returncode == 0
    assert len(recording.sounds()) == 3
