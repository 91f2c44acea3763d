"""What is said before the work begins, and when it is over."""

from dataclasses import replace
from fractions import Fraction

import pytest

from floorclock.clock.announce import amount_spoken, announcements
from floorclock.clock.state import new_state
from floorclock.clock.timeline import part_timeline
from floorclock.plan.session import Amrap, AnyPart, Cues, Intervals, OpenPart
from floorclock.plan.work import Target, Unit
from tests.clock.classes import BRAM, ILKA, STEP, SWING, Run, harbour, session_of


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


def run_with(cues: Cues) -> Run:
    return Run(new_state(replace(session_of(harbour()), cues=cues), (ILKA, replace(BRAM, group=1))))


def test_words_reach_the_sound_only_where_a_voice_is_wanted_and_a_pause_takes_them_back_and_moves_them() -> None:
    silent, run = run_with(Cues()), run_with(Cues(voice=True))
    silent.conductor.begin(0)
    assert silent.sound.words == []
    run.conductor.begin(0)
    assert run.sound.words[0] == (6.7, "first, kettlebell swing, 14")
    run.wait(20_000)
    run.conductor.pause()
    assert [words for _, words in run.sound.words] == ["first, kettlebell swing, 14"]
    run.clock.move_ms(7_000)
    run.conductor.resume(3_000)
    assert run.sound.words[1] == (66.7 + 7.0 + 0.3 + 3.0, "next, step-up, 10")


@pytest.mark.parametrize(("wanted", "heard_at_s"), [(True, [12.3]), (False, [])])
def test_attention_sounds_at_once_where_it_is_wanted_and_the_clock_runs(wanted: bool, heard_at_s: list[float]) -> None:
    run = run_with(Cues(attention=wanted))
    run.conductor.call_attention()
    assert run.sound.calls == []
    run.conductor.begin(0)
    run.clock.move_ms(12_000)
    run.conductor.call_attention()
    assert [at_s for at_s, _, cue in run.sound.calls if cue == "attention"] == heard_at_s
