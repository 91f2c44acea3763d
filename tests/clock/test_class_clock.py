"""The class clock: monotonic time minus pauses."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from floorclock.clock.class_clock import NS_PER_MS, ClassClock


def test_a_clock_that_does_not_run_shows_its_frozen_time() -> None:
    clock = ClassClock()
    assert (clock.running, clock.at(0), clock.at(10**15)) == (False, 0, 0)
    clock.freeze(4_321)
    assert clock.at(10**15) == 4_321


def test_a_running_clock_shows_whole_milliseconds_rounded_down() -> None:
    clock = ClassClock()
    clock.run_from(1_000, 5 * NS_PER_MS)
    assert [clock.at(5 * NS_PER_MS + ns) for ns in (0, 999_999, 1_000_000, 1_500_000)] == [1_000, 1_000, 1_001, 1_001]


def test_a_time_before_the_clock_ran_shows_where_it_began() -> None:
    clock = ClassClock()
    clock.run_from(1_000, 5 * NS_PER_MS)
    assert clock.at(0) == 1_000


@given(st.sampled_from([1.0, 2.0, 7.3, 60.0]), st.lists(st.tuples(st.booleans(), st.integers(0, 20_000_000_000)), max_size=40))
def test_class_time_is_the_time_run_times_the_rate_and_never_goes_back(rate: float, steps: list[tuple[bool, int]]) -> None:
    clock, mono_ns, ran_ns, shown = ClassClock(rate), 10**12, 0, [0]
    toggles = 0
    for toggle, ns in steps:
        if toggle:
            toggles += 1
            if clock.running:
                clock.freeze(clock.at(mono_ns))
            else:
                clock.run_from(clock.at(mono_ns), mono_ns)
        mono_ns += ns
        ran_ns += ns * clock.running
        shown.append(clock.at(mono_ns))
    assert all(a <= b for a, b in pairwise(shown))
    # Each freeze drops less than a millisecond.
    assert -1 - toggles <= shown[-1] - ran_ns * rate / NS_PER_MS <= 0.001


@given(st.sampled_from([1.0, 2.0, 7.3, 60.0]), st.integers(0, 10**7), st.integers(0, 10**7))
def test_when_is_the_monotonic_time_at_which_a_class_time_shows(rate: float, from_ms: int, ms: int) -> None:
    clock = ClassClock(rate)
    clock.run_from(from_ms, 10**12)
    when = clock.when(from_ms + ms)
    assert when == pytest.approx(10**12 + ms * NS_PER_MS / rate, abs=1)
    assert clock.at(when + 100) == from_ms + ms
