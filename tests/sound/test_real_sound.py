"""Real sound: the speaker plays into a sound server, which is recorded, killed, stopped and started again.

Skipped only where PulseAudio is not installed; CI installs it. Tolerances are those of a shared machine; the bench
(`tests/bench/sound_onsets.py`) holds the figures.
"""

from __future__ import annotations

import importlib.util
import math
import os
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pytest

from floorclock.clock.cues import CueName
from floorclock.sound.cueset import load_cues
from floorclock.sound.outputs import BellOutput, MiniaudioOutput, OutputFailed
from floorclock.sound.speaker import Speaker
from tests.sound.pulse_rig import Recording, SoundServer, installed, rise_s

pytestmark = pytest.mark.skipif(not installed(), reason="pulseaudio and pulseaudio-utils are not installed")

ROOT = Path(__file__).parents[2]
CUES, _ = load_cues(None, ROOT / "sounds")


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


def until(condition: Callable[[], bool], limit_s: float) -> float:
    begun = time.monotonic()
    while not condition() and time.monotonic() - begun < limit_s:
        time.sleep(0.01)
    return time.monotonic() - begun


def one_take(server: SoundServer) -> tuple[float, float]:
    """Six pips, an end cue withdrawn as it sounds, and a go that never comes: (the worst error of a pip in ms, silence in s).

    Where a sound is missing or doubled, the error has no bounds.
    """
    recording = Recording(server)
    speaker = Speaker([MiniaudioOutput(("PULSEAUDIO",))], CUES)
    speaker.start()
    try:
        assert speaker.trouble == ""
        first_s = time.monotonic() + 1.0
        instants = [first_s + 0.333 * k for k in range(6)]
        for instant in instants:
            speaker.schedule(instant, CueName.COUNT)
        end_s = instants[-1] + 0.5
        speaker.schedule(end_s, CueName.END)
        speaker.schedule(end_s + 0.9, CueName.GO)
        time.sleep(max(0.0, end_s + 0.4 - time.monotonic()))
        speaker.withdraw()
        withdrawn_s = time.monotonic()
        time.sleep(1.2)
        recording.stop()
    finally:
        speaker.close()
    heard = recording.onsets_s()
    silence_s = recording.last_sound_s() - withdrawn_s
    if len(heard) != len(instants) + 1:
        return math.inf, silence_s
    errors_s = heard[:-1] - rise_s(np.asarray(CUES[CueName.COUNT])) - np.asarray(instants)
    return 1000 * float(np.abs(errors_s).max()), silence_s


def test_cues_are_heard_on_their_instants_and_a_withdrawal_silences_them(server: SoundServer) -> None:
    takes = []
    for _ in range(4):
        worst_ms, silence_s = one_take(server)
        takes.append((round(worst_ms, 2), round(silence_s, 3)))
        # The end cue would have sounded for another 0.9 s, and the go after it. On a machine so busy that it starves the sound
        # server, the server plays a hole, and a pip is late or parted: that is the machine, and it does not strike every take.
        if worst_ms < 5 and silence_s < 0.15:
            return
        assert silence_s < 0.4
    pytest.fail(f"no take was on time: {takes}")


def test_a_killed_sound_server_is_noticed_and_sound_returns_with_it(server: SoundServer) -> None:
    bells: list[float] = []
    speaker = Speaker([MiniaudioOutput(("PULSEAUDIO",)), BellOutput(lambda: bells.append(time.monotonic()))], CUES)
    speaker.start()
    try:
        assert speaker.playing_on == "miniaudio"
        server.kill()
        assert until(lambda: speaker.trouble == "no sound", 3) <= 1.5
        assert until(lambda: speaker.playing_on == "bell", 1) <= 0.6
        instant = time.monotonic() + 0.3
        speaker.schedule(instant, CueName.GO)
        assert until(lambda: bool(bells), 2) <= 0.6
        assert abs(bells[0] - instant) < 0.1
        server.start()
        assert until(lambda: speaker.trouble == "", 5) <= 2.0
        until(lambda: speaker.playing_on == "miniaudio", 1)
        recording = Recording(server)
        speaker.schedule(time.monotonic() + 0.4, CueName.COUNT)
        time.sleep(0.9)
        recording.stop()
        assert len(recording.onsets_s()) == 1
        assert len(bells) == 1
    finally:
        speaker.close()


def test_a_hundred_opens_leave_nothing_behind(server: SoundServer) -> None:
    output = MiniaudioOutput(("PULSEAUDIO",))
    speaker_mixer = Speaker([], CUES)._mixer
    for _ in range(100):
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
    pid = server.pid
    begun = time.monotonic()
    run = subprocess.run(
        [sys.executable, "-c", LEFT_OPEN, *([str(pid)] if stopped else [])],
        cwd=ROOT,
        env=dict(os.environ),
        capture_output=True,
        text=True,
        timeout=20,
    )
    assert (run.returncode, run.stdout.strip()) == (0, "''"), run.stderr
    assert time.monotonic() - begun < 8


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
instants = [time.monotonic() + 0.5, time.monotonic() + 1.0]
for instant in instants:
    speaker.schedule(instant, CueName.COUNT)
speaker.schedule(instants[1] + 0.5, CueName.END)
time.sleep(1.9)
speaker.withdraw()
print(*instants, time.monotonic(), flush=True)
input()
begun = time.monotonic()
while not speaker.trouble and time.monotonic() - begun < 5:
    time.sleep(0.02)
print(time.monotonic() - begun, flush=True)
speaker.close()
"""


@pytest.mark.skipif(
    sys.version_info >= (3, 12) or importlib.util.find_spec("simpleaudio") is None,
    reason="the simpleaudio extra is not installed, or this Python is too new for it",
)
def test_simpleaudio_plays_stops_and_is_missed(server: SoundServer) -> None:
    recording = Recording(server)
    with subprocess.Popen(
        [sys.executable, "-c", ONE_PLAY_A_CUE], cwd=ROOT, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    ) as process:
        assert process.stdin is not None
        assert process.stdout is not None
        *instants, withdrawn_s = map(float, process.stdout.readline().split())
        time.sleep(0.6)
        recording.stop()
        heard = recording.onsets_s()
        server.kill()
        process.stdin.write("\n")
        process.stdin.flush()
        unnoticed_s = float(process.stdout.readline())
    assert process.returncode == 0
    assert len(heard) == 3
    assert np.abs(heard[:2] - np.asarray(instants)).max() < 0.15
    assert recording.last_sound_s() - withdrawn_s < 0.4
    assert unnoticed_s < 2.5
