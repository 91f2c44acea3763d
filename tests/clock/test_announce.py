"""What is said before the work begins, and when it is over."""

from dataclasses import replace
from fractions import Fraction

import pytest

from floorclock.clock.announce import amount_spoken, announcements
from floorclock.clock.state import new_state
from floorclock.clock.timeline import part_timeline
from floorclock.live.conductor import Conductor, ManualClock
from floorclock.plan.roster import Athlete
from floorclock.plan.session import Amrap, AnyPart, Cues, Intervals, OpenPart
from floorclock.plan.work import Target, Unit
from tests.clock.classes import BRAM, ILKA, STEP, SWING, WALL, HeardSound, harbour, session_of
from tests.live.memory_journal import MemoryJournal


def said(part: AnyPart, groups: tuple[int, ...] = (1,), count_in_ms: int = 10_000) -> list[tuple[int, str]]:
    """(when the words are over, words)."""
    timeline = part_timeline(part, session_of(part, count_in_ms=count_in_ms), groups)
    return [(one.ends_at_ms, one.words) for one in announcements(part, timeline, groups)]


def test_the_next_station_is_said_before_the_count_of_three() -> None:
    assert said(harbour(rounds=1)) == [
        (-3_300, "first, kettlebell swing, 14"),
        (56_700, "next, step-up, 10"),
        (116_700, "next, rest"),
    ]


def test_a_ladder_is_said_with_the_amount_of_its_round_and_the_last_round_has_its_own_signal_first() -> None:
    second_round = said(harbour(rounds=2))[3:5]
    assert second_round == [(180_000 - 6_300, "next, kettlebell swing, 14"), (236_700, "next, step-up, 11")]


def test_with_people_at_several_stations_nobody_is_told_somebody_elses_work() -> None:
    words = [words for _, words in said(harbour(rounds=1), groups=(1, 2))]
    assert words == ["get ready: The harbour", "next station", "next station"]


def test_no_words_where_there_is_no_room_for_them() -> None:
    short = Intervals(title="Short", work_ms=20_000, rest_ms=7_000, sets=3, work=(SWING,))
    assert [at for at, _ in said(short)] == [-3_300]
    assert said(short, count_in_ms=5_000) == []


def test_a_piece_of_work_is_said_by_its_title_and_an_open_part_not_at_all() -> None:
    assert said(Amrap(title="Rising tide", time_ms=60_000, work=(SWING, STEP))) == [(-3_300, "get ready: Rising tide")]
    assert said(OpenPart(title="Warm-up", time_ms=60_000)) == []


@pytest.mark.parametrize(
    ("target", "words"),
    [
        (Target(Fraction(10), Unit.REPS), "10"),
        (Target(Fraction(200), Unit.METRES), "200 metres"),
        (Target(Fraction(25, 2), Unit.CALORIES), "12.5 calories"),
        (Target(Fraction(40), Unit.SECONDS), "40 seconds"),
    ],
)
def test_amounts_are_spoken_with_their_unit(target: Target, words: str) -> None:
    assert amount_spoken(target, 1) == words


def run_with(cues: Cues, athletes: tuple[Athlete, ...] = (ILKA,)) -> tuple[Conductor, ManualClock, HeardSound]:
    """A class with its sound."""
    clock, journal = ManualClock(WALL), MemoryJournal()
    sound = HeardSound(clock)
    session = replace(session_of(harbour()), cues=cues)
    conductor = Conductor(new_state(session, athletes), clock, journal, sound)
    journal.written = conductor.written
    return conductor, clock, sound


def test_words_reach_the_sound_only_where_a_voice_is_wanted() -> None:
    conductor, _, sound = run_with(Cues(voice=True))
    conductor.begin(0)
    assert sound.words[0] == (6.7, "first, kettlebell swing, 14")
    conductor, _, sound = run_with(Cues())
    conductor.begin(0)
    assert sound.words == []


def test_a_pause_takes_words_back_and_they_are_said_again_later_by_as_much() -> None:
    conductor, clock, sound = run_with(Cues(voice=True), (ILKA, replace(BRAM, group=1)))
    conductor.begin(0)
    clock.move_ms(20_000)
    conductor.tick()
    conductor.pause()
    assert [words for _, words in sound.words] == ["first, kettlebell swing, 14"]
    clock.move_ms(7_000)
    conductor.resume(3_000)
    assert sound.words[1] == (66.7 + 7.0 + 0.3 + 3.0, "next, step-up, 10")


def test_attention_sounds_at_once_where_it_is_wanted_and_the_clock_runs() -> None:
    conductor, clock, sound = run_with(Cues())
    conductor.call_attention()
    assert sound.calls == []
    conductor.begin(0)
    clock.move_ms(12_000)
    conductor.call_attention()
    assert [(at_s, cue) for at_s, _, cue in sound.calls if cue == "attention"] == [(12.3, "attention")]
    conductor, _, sound = run_with(Cues(attention=False))
    conductor.begin(0)
    conductor.call_attention()
    assert all(cue != "attention" for _, _, cue in sound.calls)
