"""A first plan: for every set of answers it reads, times and checks without a word."""

from __future__ import annotations

from itertools import combinations, product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from floorclock.plan.check import check_files
from floorclock.plan.durations import UnreadableError
from floorclock.plan.new_plan import KINDS, LEAST_MINUTES, MOST_MINUTES, MOST_PEOPLE, Answers, Kind, new_plan, read_kind, read_kit

KITS = ("kettlebell", "box", "rower", "dumbbell", "tyre")
SETS = [kit for many in range(len(KITS) + 1) for kit in combinations(KITS, many)]


def said(answers: Answers) -> list[str]:
    """What `check` says of the plan, for so many people in four start groups."""
    people = "name,group\n" + "".join(f"Athlete {number},{number % 4 + 1}\n" for number in range(answers.people))
    checked = check_files(new_plan(answers).encode(), "new.yaml", people.encode(), "who.csv")
    assert checked.class_time_ms is not None
    assert checked.time_ms + checked.count_in_ms <= checked.class_time_ms
    return [str(problem) for problem in checked.problems if problem.file == "new.yaml"]


@pytest.mark.no_cover  # Slow to trace; the test after it reaches the same lines.
@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("minutes", [LEAST_MINUTES, 45, 60, MOST_MINUTES])
def test_every_combination_of_answers_checks_clean(kind: Kind, minutes: int) -> None:
    for kit, (people, each) in product(SETS, [(1, 1), (6, 2), (16, 4), (MOST_PEOPLE, 9), (MOST_PEOPLE, MOST_PEOPLE)]):
        answers = Answers(minutes=minutes, people=people, kind=kind, kit=dict.fromkeys(kit, each))
        assert said(answers) == [], answers


@settings(max_examples=40, deadline=None)
@given(
    st.integers(LEAST_MINUTES, MOST_MINUTES),
    st.integers(1, MOST_PEOPLE),
    st.sampled_from(KINDS),
    st.dictionaries(st.sampled_from(KITS), st.integers(1, 40)),
)
def test_so_do_all_between(minutes: int, people: int, kind: Kind, kit: dict[str, int]) -> None:
    assert said(Answers(minutes=minutes, people=people, kind=kind, kit=kit)) == []


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("minutes", [LEAST_MINUTES, 45, 50, 60, 75, 90, MOST_MINUTES])
def test_the_hour_that_was_asked_for_is_filled(kind: Kind, minutes: int) -> None:
    """But for a fifth of it, at least eight minutes, to change over and to pack up, as rounds are whole."""
    text = new_plan(Answers(minutes=minutes, people=12, kind=kind, kit={"kettlebell": 12}))
    made = check_files(text.encode(), "new.yaml", None, "")
    free = minutes - (made.time_ms + made.count_in_ms) / 60_000
    assert 3 <= free <= max(8, minutes / 5)


def test_the_file_explains_itself() -> None:
    text = new_plan(Answers(minutes=60, people=12, kind="rotation", kit={"kettlebell": 4}))
    assert text.count("#") > 5
    assert "kettlebell swing" in text
    assert "kettlebell swing" not in new_plan(Answers(minutes=60, people=12, kind="rotation", kit={"kettlebell": 2}))


@pytest.mark.parametrize(
    ("text", "kit"),
    [
        ("", {}),
        ("none", {}),
        ("8 kettlebells, 6 boxes", {"kettlebell": 8, "box": 6}),
        ("rower: 4,jump rope 12", {"rower": 4, "jump rope": 12}),
    ],
)
def test_kit_as_a_coach_types_it(text: str, kit: dict[str, int]) -> None:
    assert read_kit(text) == kit


@pytest.mark.parametrize(
    ("typed", "hint"),
    [
        ("some bells", "write it like"),
        ("8", "write it like"),
        ("8 box, 2 boxes", "write each once"),
        ("{a: b} 3", "write it like"),
        ("0 boxes", "at least 1"),
    ],
)
def test_kit_that_is_none_says_what_to_write(typed: str, hint: str) -> None:
    with pytest.raises(UnreadableError) as raised:
        read_kit(typed)
    assert hint in raised.value.hint


def test_a_kind_as_a_coach_types_it() -> None:
    assert [read_kind(text) for text in ("rotation", "For time", " AMRAP")] == ["rotation", "for_time", "amrap"]
    with pytest.raises(UnreadableError, match="did you mean rotation"):
        read_kind("rotaton")
