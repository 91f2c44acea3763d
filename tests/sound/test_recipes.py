"""The shipped cues against what is published about signals that are to be heard and told apart.

Published: BS.1770 loudness (ITU-R BS.1770-4 annex 1: a 997 Hz sine at full scale in one front channel reads -3.01 LKFS; known
from memory, and reproduced by the library used here); the highest true peak of -1 dBTP (EBU R 128); ISO 8201's three-pulse
pattern (as in the Ontario building code, appendix A-3.2.4.18(2)); first half second discriminable (MIL-STD-1472, 5.3.4.3);
fundamentals under 2,500 Hz for older ears (from memory of ISO 24500, unsure; our own limit).
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from pyebur128 import pyebur128 as r128  # type: ignore[import-untyped,unused-ignore]

from floorclock.clock.cues import CueName
from floorclock.sound.recipes import RECIPES, Note, PeakError, cook, make_cues, momentary_lkfs
from floorclock.sound.samples import RATE, Floats, as_floats, read_wav
from tests.plan.shipped import SOUNDS
from tests.sound.pulse_rig import stretches

APART = 0.4
"""The least unlikeness of a pair (see `unlikeness`): 0 is the same, 1 is nothing in common."""
THIRD_OCTAVES = 1000.0 * 2.0 ** (np.arange(-4, 12) / 3)
"""Band centres from 400 Hz to 12.7 kHz."""


def picture(pcm: Floats, start_s: float) -> Floats:
    """Energy in third octaves by steps of 25 ms of half a second: what a listener has by then; of unit length."""
    frame, piece = RATE // 40, np.zeros(RATE // 2)
    heard = pcm[int(start_s * RATE) :][: len(piece)]
    piece[: len(heard)] = heard
    frames = piece.reshape(-1, frame) * np.hanning(frame)
    power = np.abs(np.fft.rfft(frames, axis=1)) ** 2
    hertz = np.fft.rfftfreq(frame, 1 / RATE)
    bands = [power[:, (hertz >= f / 2 ** (1 / 6)) & (hertz < f * 2 ** (1 / 6))].sum(axis=1) for f in THIRD_OCTAVES]
    flat: Floats = np.sqrt(np.asarray(bands)).ravel()
    return flat / np.linalg.norm(flat)


def unlikeness(one: Floats, other: Floats) -> float:
    """From 0 (the same) to 1 (nothing in common): 1 minus the cosine of the two pictures, at the best fit within 50 ms."""
    shifts: Sequence[float] = (0.0, 0.025, 0.05)
    fits: list[Any] = [picture(one, a) @ picture(other, b) for a in shifts for b in shifts if a == 0 or b == 0]
    return float(1 - max(fits))


def pulses(pcm: Floats) -> list[tuple[float, float]]:
    """(start, length) in seconds of every stretch of sound; a pause of less than 20 ms does not part two."""
    return [(first / RATE, (last - first + 1) / RATE) for first, last in stretches(np.abs(pcm) > 0.02, RATE // 50)]


def calls_for_evacuation(heard: list[tuple[float, float]]) -> bool:
    """Whether three pulses in a row are on for 0.5 s and off for 0.5 s between, each within 10 %.

    ISO 8201's three-pulse pattern, tolerances as in the Ontario building code, appendix A-3.2.4.18(2).
    """
    for k in range(len(heard) - 2):
        three = heard[k : k + 3]
        gaps = [three[j + 1][0] - three[j][0] - three[j][1] for j in (0, 1)]
        if all(0.45 <= length <= 0.55 for _, length in three) and all(0.45 <= gap <= 0.55 for gap in gaps):
            return True
    return False


def cue(name: CueName) -> Floats:
    return as_floats(read_wav(SOUNDS / f"{name}.wav"))


def measured(sound: Floats) -> tuple[float, float]:
    """(highest momentary loudness in LKFS, true peak in dBTP) by libebur128."""
    mode: Any = r128.MeasurementMode
    state = r128.R128State(1, RATE, mode.MODE_M | mode.MODE_TRUE_PEAK)
    padded = np.concatenate((sound, np.zeros(RATE * 2 // 5)))
    loudest = -math.inf
    for at in range(0, len(padded), RATE // 100):
        piece = np.ascontiguousarray(padded[at : at + RATE // 100])
        state.add_frames(piece, len(piece))
        loudest = max(loudest, r128.get_loudness_momentary(state))
    return loudest, 20 * math.log10(r128.get_true_peak(state, 0))


def sine(hertz: float, length_s: float) -> Floats:
    return np.sin(2 * np.pi * hertz * np.arange(int(length_s * RATE)) / RATE)


def test_the_meter_reads_the_published_997_hertz_value() -> None:
    loudness, peak = measured(sine(997, 5))
    assert loudness == pytest.approx(-3.01, abs=0.01)
    assert peak == pytest.approx(0, abs=0.1)


def test_our_own_loudness_agrees_with_the_library() -> None:
    for hertz in (100, 440, 997, 2000, 5000):
        assert momentary_lkfs(sine(hertz, 1)) == pytest.approx(measured(sine(hertz, 1))[0], abs=0.05)


def test_all_cues_are_equally_loud_within_one_unit_and_peak_under_minus_one() -> None:
    values = {name: measured(cue(name)) for name in CueName}
    loudness = [value for value, _ in values.values()]
    assert max(loudness) - min(loudness) <= 1.0, values
    assert max(peak for _, peak in values.values()) <= -1.0, values


def pitches(sound: Floats) -> list[float]:
    """The strongest frequency of each 50 ms that are not near silence."""
    step = RATE // 20
    found = []
    for at in range(0, len(sound) - step + 1, step // 2):
        piece = sound[at : at + step]
        if np.sqrt(np.mean(piece**2)) > 0.02:
            spectrum = np.abs(np.fft.rfft(piece * np.hanning(step), 8 * step))
            found.append(float(np.argmax(spectrum)) * RATE / (8 * step))
    return found


@pytest.mark.parametrize("name", CueName)
def test_fundamentals_lie_between_500_and_2500_hertz_and_are_those_of_the_table(name: CueName) -> None:
    found = pitches(cue(name))
    assert found
    assert all(500 <= pitch <= 2500 for pitch in found)
    for note in RECIPES[name]:
        low, high = sorted((note.pitch_hz, note.to_hz or note.pitch_hz))
        assert any(low * 0.97 <= pitch <= high * 1.03 for pitch in found), (note, found)


def test_each_pair_is_told_apart_in_its_first_half_second() -> None:
    pairs = itertools.combinations(CueName, 2)
    assert [(first, second) for first, second in pairs if unlikeness(cue(first), cue(second)) < APART] == []


def test_the_ears_of_these_tests_know_the_same_cue_and_the_evacuation_pattern() -> None:
    go = cue(CueName.GO)
    assert unlikeness(go, 0.3 * go) == pytest.approx(0, abs=1e-9)
    assert unlikeness(go, np.concatenate((np.zeros(RATE // 40), go))) < 0.05
    for on_s, off_s, times, calls in ((0.5, 0.5, 3, True), (0.15, 0.85, 3, False), (0.5, 0.5, 2, False)):
        pattern = np.tile(np.concatenate((0.3 * sine(1000, on_s), np.zeros(int(off_s * RATE)))), times)
        assert calls_for_evacuation(pulses(pattern)) is calls


@pytest.mark.parametrize("name", CueName)
def test_no_cue_calls_for_evacuation_however_often_it_comes(name: CueName) -> None:
    sound = cue(name)
    for every_s in (0.5, 0.75, 1.0, 1.5):
        repeated = np.zeros(round((3 * every_s + 2) * RATE))
        for k in range(3):
            at = round(k * every_s * RATE)
            repeated[at : at + len(sound)] += sound
        assert not calls_for_evacuation(pulses(repeated)), every_s
    assert not any(0.45 <= length <= 0.55 for _, length in pulses(sound))


def test_the_count_and_its_go_do_not_call_for_evacuation() -> None:
    start = np.zeros(5 * RATE)
    for at_s, name in ((0, CueName.COUNT), (1, CueName.COUNT), (2, CueName.COUNT), (3, CueName.GO)):
        start[at_s * RATE : at_s * RATE + len(cue(name))] += cue(name)
    heard = pulses(start)
    assert not calls_for_evacuation(heard)
    # As in the six-pip time signal: short, short, short, and the start of the long one is the instant.
    assert [round(begin, 2) for begin, _ in heard] == [0, 1, 2, 3]
    assert heard[3][1] > 4 * heard[2][1]


def test_a_cue_is_at_half_of_its_level_within_two_milliseconds_of_its_start() -> None:
    for name in set(CueName) - {CueName.ATTENTION}:
        sound = np.abs(cue(name))
        assert np.argmax(sound >= sound[: RATE // 50].max() / 2) <= RATE * 2 // 1000, name


def test_made_again_the_files_are_the_same_bytes_as_the_shipped_ones(tmp_path: Path) -> None:
    made = make_cues(tmp_path / "sounds")
    assert {path.stem for path in made} == set(CueName)
    for path in made:
        assert path.read_bytes() == (SOUNDS / path.name).read_bytes(), path.name


def test_a_row_too_pointed_to_be_as_loud_as_the_others_is_refused() -> None:
    with pytest.raises(PeakError, match="dB too high"):
        cook((Note(1000, 10),))
