"""The conductor: pauses, sleeps, crashes, speed, and what it tells the sound; all under a manual clock."""

from __future__ import annotations

from collections.abc import Callable
from random import Random

import pytest

from floorclock.clock.events import ClassEnded, PartBegun, PartEnded, Paused, Skipped
from floorclock.clock.fold import fold
from floorclock.clock.outcome import What
from floorclock.clock.state import new_state
from floorclock.live.conductor import CALL_AHEAD_S, SLEPT_MS, SOUND_AHEAD_MS, SOUND_STEP_MS, ManualClock
from floorclock.plan.session import AnyPart, OpenPart
from tests.clock.classes import BRAM, FAST, ILKA, WALL, LaggingJournal, Run, harbour, session_of

REST_AS_NEEDED = OpenPart(title="Rest as needed", time_ms=30_000)


def a_run(*parts: AnyPart, count_in_ms: int = 10_000, rate: float = 1.0, lag: bool = False) -> Run:
    session = session_of(*parts, count_in_ms=count_in_ms)
    journal = LaggingJournal(ManualClock(WALL), Random(0), 0) if lag else None
    return Run(new_state(session, (ILKA, BRAM)), rate=rate, journal=journal)


def at(seconds: float, *parts: AnyPart, count_in_ms: int = 0, lag: bool = False) -> Run:
    """A class that has run for a while."""
    run = a_run(*(parts or (harbour(),)), count_in_ms=count_in_ms, lag=lag)
    run.conductor.begin(0)
    run.wait(0)
    run.wait(seconds * 1000)
    return run


def told(run: Run, after_ms: int = -1) -> list[tuple[int, str]]:
    return [(cue.at_ms, str(cue.name)) for cue in run.told if cue.at_ms > after_ms]


def heard(run: Run, after_ms: int) -> list[tuple[int, str]]:
    return sorted(signal for signal in run.sound.heard(run.state.now_ms) if signal[0] > after_ms)


Step = float | Callable[[Run], None]
"""Milliseconds that pass, or what the coach does."""


def pause(run: Run) -> None:
    run.conductor.pause()


def resume(count_ms: int) -> Step:
    return lambda run: run.conductor.resume(count_ms)


def skip(run: Run) -> None:
    run.send(Skipped)


def asleep(run: Run) -> None:
    run.clock.sleep_ms(600_000)


def carry_on(run: Run) -> None:
    run.conductor.carry_on(600_000, 0, 3_000)


def end_part(run: Run) -> None:
    run.send(PartEnded)


def begin_second(run: Run) -> None:
    run.conductor.begin(1)


def pips(first_ms: int) -> list[tuple[int, str]]:
    return [(first_ms + 1_000 * k, "count") for k in range(3)]


HARBOUR, RESUME = harbour(), resume(3_000)
COURSES: dict[str, tuple[float, list[AnyPart], list[Step], int, list[tuple[int, str]]]] = {
    "a pause with a count": (30, [HARBOUR], [pause, 45_000, RESUME, 3_800], 20_000, [*pips(30_300), (33_300, "go")]),
    "a pause in a rest leads back into it": (25, [FAST], [pause, RESUME, 3_300], 20_000, [*pips(25_300), (28_300, "rest")]),
    "a pause without a count repeats no cue": (60, [HARBOUR], [pause, 5_000, resume(0), 1_000], 59_000, [(60_000, "go")]),
    "a skip cuts a count": (30, [HARBOUR], [pause, RESUME, 1_500, skip, 5_000], 29_999, [*pips(30_300)[:2], (31_500, "go")]),
    "the end of a part cuts a count": (30, [HARBOUR] * 2, [pause, RESUME, 1_500, end_part, 10_000], 31_300, [(31_500, "end")]),
    "a skip in a pause is silent": (30, [HARBOUR], [pause, skip, 10_000], 0, []),
    "until the class goes on": (30, [HARBOUR], [pause, skip, 10_000, resume(0), 100], 0, [(30_000, "go")]),
    "a part ended early": (30, [HARBOUR, REST_AS_NEEDED], [end_part, 31_000], 0, [(30_000, "end"), (60_000, "attention")]),
    "an open part by itself": (79, [FAST, REST_AS_NEEDED], [1_000, 40_000], 78_000, [(80_000, "end"), (110_000, "attention")]),
    "carried on from where it stopped": (
        30,
        [HARBOUR],
        [asleep, 0, carry_on, 23_400],
        30_000,
        [*pips(30_300), (33_300, "go"), (53_300, "last_ten")],
    ),
    "a part begun as the last one ends": (80, [FAST, FAST], [begin_second, 100], 79_000, [(80_000, "end"), (80_000, "go")]),
}


@pytest.mark.parametrize(("begun_s", "parts", "steps", "after_ms", "cues"), COURSES.values(), ids=COURSES.keys())
def test_what_is_told_and_heard(
    begun_s: float, parts: list[AnyPart], steps: list[Step], after_ms: int, cues: list[tuple[int, str]]
) -> None:
    run = at(begun_s, *parts)
    for step in steps:
        step(run) if callable(step) else run.wait(step)
    assert told(run, after_ms) == heard(run, after_ms) == cues


def test_the_class_clock_stands_until_the_first_part_begins() -> None:
    run = a_run(harbour())
    run.wait(60_000)
    run.conductor.pause()
    run.conductor.resume(3_000)
    run.wait(60_000)
    assert (run.state.now_ms, run.journal.events) == (0, [])
    run.conductor.begin(0)
    run.wait(2_500)
    assert run.state.now_ms == 2_500


def test_a_class_that_sleeps_through_a_whole_part_still_tells_every_cue_once() -> None:
    run = at(3600)
    whole = run.state.runs[0].timeline.cues
    assert told(run) == [(cue.at_ms, str(cue.name)) for cue in whole if cue.at_ms >= 0]


def test_a_pause_stops_the_class_where_it_stood_when_the_key_was_read() -> None:
    run = at(30)
    run.clock.move_ms(700)
    run.conductor.pause(run.clock.monotonic_ns() - 300_000_000)
    run.wait(600_000)
    assert (run.state.paused, run.state.now_ms, run.conductor.class_ms()) == (True, 30_400, 30_400)
    run.conductor.pause()
    assert [type(event) for event in run.journal.events] == [PartBegun, Paused]


def test_a_pause_is_never_stamped_before_what_has_come_about_already() -> None:
    run = at(30)
    run.conductor.pause(run.clock.monotonic_ns() - 5_000_000_000)
    assert run.journal.events[-1] == Paused(at_ms=30_000)


@pytest.mark.parametrize(
    ("paused_at_s", "count_ms"), [(30, 3_000), (30, 1_000), (30, 2_500), (8.5, 3_000), (7, 3_000), (6.9, 3_000)]
)
def test_every_cue_of_a_count_is_handed_to_the_sound_with_notice(paused_at_s: float, count_ms: int) -> None:
    """Sound needs 250 ms to bring a cue on its instant (measured, see `SOUND_AHEAD_MS` and `CALL_AHEAD_S`)."""
    run = at(paused_at_s, count_in_ms=10_000)
    run.conductor.pause()
    run.wait(20_000)
    resumed_s = run.clock.monotonic_ns() / 1e9
    run.conductor.resume(count_ms)
    run.conductor.tick()
    coming = [at_s - resumed_s for at_s, _, _ in run.sound.calls if at_s > resumed_s - 0.001]
    assert min(coming) == pytest.approx(CALL_AHEAD_S + count_ms % 1000 / 1000)


def test_until_its_count_begins_the_whole_of_it_lies_ahead() -> None:
    run = at(30)
    run.conductor.pause()
    run.conductor.resume(3_000)
    until = [run.state.runs[0].hold_until_ms(at_ms) for at_ms in (29_999, 30_000, 30_200, 30_300, 30_301, 33_299, 33_300)]
    assert until == [None, 33_000, 33_200, 33_300, 33_300, 33_300, None]


@pytest.mark.parametrize("paused_at_s", [4, 8.5, 7, 6.8])
def test_a_pause_in_the_count_in_goes_back_far_enough_to_count_again(paused_at_s: float) -> None:
    run = at(paused_at_s, count_in_ms=10_000)
    run.conductor.pause()
    run.conductor.resume(3_000)
    paused_ms = round(paused_at_s * 1000)
    before = len(run.told)
    run.wait(10_000)
    names = [str(cue.name) for cue in run.told[before:] if cue.at_ms <= paused_ms + 6_000]
    assert names[:4] == ["count"] * 3 + ["go"]
    assert run.state.runs[0].position_ms(paused_ms + 10_000) == 10_000 - max(3_300, 10_000 - paused_ms)


def test_ending_a_part_in_a_pause_ends_the_pause() -> None:
    run = at(30, harbour(), REST_AS_NEEDED)
    run.conductor.pause()
    run.wait(5_000)
    run.send(PartEnded)
    run.wait(4_000)
    assert (run.state.paused, run.state.now_ms) == (False, 34_000)


def test_after_the_last_part_the_grace_for_a_late_tap_comes_to_its_end() -> None:
    run = at(80, FAST)
    run.wait(60_000)
    assert run.state.over
    assert run.conductor.class_ms() == 140_000
    run.conductor.tap("Ilka")
    assert run.outcomes[-1][1].what is What.NOTHING_TO_TAP


def test_the_end_of_the_class_is_told_and_after_it_nothing_sounds_and_no_tap_counts() -> None:
    run = at(30)
    run.send(ClassEnded)
    run.wait(60_000)
    assert told(run, 0) == heard(run, 0) == [(30_000, "end")]
    assert (run.state.over, run.state.ended_by_coach, run.state.now_ms) == (True, True, 30_000)
    assert not run.conductor.class_clock.running
    run.conductor.tap("Ilka")
    assert run.outcomes[-1][1].what is What.NOTHING_TO_TAP


def test_a_sleeping_machine_pauses_the_class_where_it_stopped_and_says_for_how_long() -> None:
    run = at(30)
    run.clock.sleep_ms(600_000)
    run.wait(5)
    assert (run.slept, run.state.paused, run.state.now_ms) == ([600_000], True, 30_005)
    run.wait(5)
    assert run.slept == [600_000]


@pytest.mark.parametrize(("naps_ms", "slept"), [([SLEPT_MS - 1], []), ([SLEPT_MS], [SLEPT_MS]), ([900, 900, 900], [2_700])])
def test_naps_are_noticed_once_they_add_up(naps_ms: list[int], slept: list[int]) -> None:
    run = at(30)
    for nap in naps_ms:
        run.clock.sleep_ms(nap)
        run.wait(10)
    assert run.slept == slept


def test_a_sleep_in_a_pause_needs_no_question() -> None:
    run = at(30)
    run.conductor.pause()
    run.clock.sleep_ms(600_000)
    run.wait(5)
    run.conductor.resume(0)
    run.wait(5)
    assert (run.slept, run.state.paused) == ([], False)


def test_carrying_on_from_where_the_clock_would_be_jumps_and_stays_silent_about_what_was_missed() -> None:
    run = at(30)
    run.clock.sleep_ms(100_000)
    run.wait(0)
    run.conductor.carry_on(100_000, 100_000, 3_000)
    run.wait(0)
    assert (run.state.paused, run.state.now_ms, run.state.runs[0].position_ms(130_000)) == (False, 130_000, 130_000)
    run.wait(60_000)
    assert told(run, 30_000) == heard(run, 30_000)
    assert told(run, 30_000)[0] == (170_000, "last_ten")
    due_s = [at_s for at_s, at_ms, _ in run.sound.calls if at_ms == 170_000]
    # 30 s had passed on the machine's clock when the class jumped to 130 s.
    assert due_s == [pytest.approx(30 + 170 - 130)]


def test_a_jump_over_the_end_of_a_part_ends_it() -> None:
    run = at(30, FAST, REST_AS_NEEDED)
    run.conductor.pause()
    run.conductor.carry_on(600_000, 600_000, 3_000)
    run.wait(10)
    assert run.state.run is not None
    assert (run.state.run.part, run.state.run.begun_ms) == (REST_AS_NEEDED, 80_000)
    assert told(run, 30_000) == []


def recovered(run: Run) -> Run:
    """The class after a crash: folded from its journal, at the last event."""
    again = Run(fold(new_state(run.state.session, (ILKA, BRAM)), run.journal.events))
    again.journal.events = list(run.journal.events)
    return again


def test_a_class_that_was_killed_while_it_ran_comes_back_with_its_taps_and_its_count() -> None:
    run = at(30)
    run.conductor.tap("Ilka")
    run.wait(20_000)
    again = recovered(run)
    again.wait(60_000)
    assert (again.state.paused, again.state.now_ms) == (False, 30_000)
    again.conductor.carry_on(80_000, 0, 3_000)
    again.wait(3_800)
    assert [str(cue.name) for cue in again.told] == ["count", "count", "count", "go"]
    assert again.state.runs[0].position_ms(again.state.now_ms) == 30_500
    assert ("Ilka", 0) in again.state.runs[0].marks
    assert recovered(again).state.runs == again.state.runs


@pytest.mark.parametrize("rate", [0.5, 10.0])
def test_speed_runs_the_class_clock_faster_and_the_sounds_with_it(rate: float) -> None:
    run = a_run(harbour(), count_in_ms=0, rate=rate)
    run.conductor.begin(0)
    while run.state.now_ms < 60_000:
        run.wait(50)
    assert run.clock.monotonic_ns() / 1e9 == pytest.approx(60 / rate, abs=0.06)
    due_s = [at_s for at_s, at_ms, _ in run.sound.calls if at_ms == 60_000]
    assert due_s == [pytest.approx(60 / rate)]


def test_cues_are_handed_to_the_sound_two_minutes_ahead_and_once() -> None:
    run = at(0.001)
    for _ in range(200):
        run.wait(700)
    now_ms, cues = run.state.now_ms, run.state.runs[0].timeline.cues
    handed = {at_ms for _, at_ms, _ in run.sound.calls}
    assert {cue.at_ms for cue in cues if now_ms < cue.at_ms <= now_ms + SOUND_AHEAD_MS - SOUND_STEP_MS} <= handed
    assert max(handed) <= now_ms + SOUND_AHEAD_MS < cues[-1].at_ms
    assert len(run.sound.calls) == len(set(run.sound.calls))


def test_a_pause_silences_what_was_coming_before_the_journal_has_answered() -> None:
    run = at(30, lag=True)
    assert max(at_ms for _, at_ms, _ in run.sound.calls) > 30_000
    run.conductor.pause()
    assert max(at_ms for _, at_ms, _ in run.sound.calls) <= 30_000
    assert not run.state.paused
    run.clock.move_ms(10_000)
    run.conductor.tick()
    assert max(at_ms for _, at_ms, _ in run.sound.calls) <= 30_000


def test_a_tap_shows_only_once_the_journal_has_it_and_time_waits_for_it() -> None:
    run = at(30, lag=True)
    run.conductor.tap("Ilka")
    for _ in range(10):
        run.clock.move_ms(5_000)
        run.conductor.tick()
    assert (run.state.now_ms, run.state.runs[0].marks) == (30_000, {})
    run.wait(0)
    assert (run.state.now_ms, run.state.runs[0].marks["Ilka", 0].split_ms) == (80_000, 30_000)


def test_a_command_given_after_a_later_tap_is_stamped_with_it_and_ends_no_class() -> None:
    """A key that waited in a stalled screen may have been read before a tap from elsewhere that is already on its way."""
    run = at(30, lag=True)
    run.clock.move_ms(1_000)
    run.conductor.tap("Ilka")
    run.conductor.pause(run.clock.monotonic_ns() - 500_000_000)
    run.wait(1_000)
    assert run.journal.events[-1] == Paused(at_ms=31_000)
    assert (run.state.paused, run.state.now_ms) == (True, 31_000)


def test_a_part_that_is_begun_while_a_pause_is_on_its_way_is_refused_and_the_clock_stands() -> None:
    run = at(90, FAST, FAST, lag=True)
    run.conductor.pause()
    run.conductor.begin(1)
    run.wait(0)
    run.wait(5_000)
    assert [outcome.what for _, outcome in run.outcomes] == [What.DONE, What.DONE, What.REFUSED]
    assert (run.state.paused, run.state.now_ms) == (True, 90_000)


def test_commands_out_of_order_are_a_defect_of_the_caller() -> None:
    run = at(5, lag=True)
    run.send(Skipped)
    with pytest.raises(AssertionError, match="in order"):
        run.conductor.send(Skipped(at_ms=4_000))


def test_listeners_hear_of_every_event_with_what_came_of_it() -> None:
    run = at(30)
    run.conductor.tap("Ilka")
    run.conductor.tap("Ilka")
    run.conductor.tap("Wim")
    assert [outcome.what for _, outcome in run.outcomes] == [What.DONE, What.COUNTED, What.ALREADY, What.UNKNOWN]
    assert [type(event) for event, _ in run.outcomes] == [type(event) for event in run.journal.events]


def test_a_tap_is_stamped_with_the_time_its_bytes_were_read_and_never_later_than_now() -> None:
    run = at(29.1)
    read_ns = run.clock.monotonic_ns()
    run.wait(900)
    run.conductor.tap("Bram", read_ns)
    assert run.state.runs[0].marks["Bram", 0].split_ms == 29_100
    run.conductor.tap("Ilka", run.clock.monotonic_ns() + 3_600_000_000_000)
    assert run.journal.events[-1].at_ms == run.conductor.class_ms() == 30_000
    run.wait(1_000)
    assert run.state.now_ms == 31_000


def test_an_old_claim_on_its_way_does_not_hold_the_clock_and_a_new_one_does() -> None:
    """What was shown cannot be taken back; what is still to be shown waits for the disk."""
    run = at(30, lag=True)
    run.conductor.tap("Ilka", run.clock.monotonic_ns() - 20_000_000_000)
    run.clock.move_ms(2_000)
    run.conductor.tick()
    assert run.state.now_ms == 32_000
    run.conductor.tap("Bram")
    run.clock.move_ms(2_000)
    run.conductor.tick()
    assert run.state.now_ms == 32_000
