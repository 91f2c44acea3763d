"""Start groups: nobody waits for kit, as good as the best of all ways; smallest changes; waves, loads, wishes, a latecomer."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace

import pytest

from floorclock.plan.kit_needs import fitting_group, kit_needs
from floorclock.plan.read_roster import read_roster
from floorclock.plan.read_session import read_session
from floorclock.plan.roster import Athlete, Roster
from floorclock.plan.session import Rotation, Session
from floorclock.plan.start_groups import SmallestChange, place, recount, smallest_changes, with_kit, with_options
from tests.plan.small_classes import SmallClass, brute_force, figures_of, small_class


@pytest.mark.parametrize("seed", range(20))
def test_start_groups_of_small_classes_are_as_good_as_the_best_of_all(seed: int) -> None:
    """Every assignment of people to groups is looked at; `make bench` does it for 500 classes."""
    one = small_class(seed)
    placed = place(one.session, one.roster)
    assert figures_of(one, placed) == brute_force(one)
    assert placed.proven


@pytest.mark.parametrize("seed", [3, 10, 11, 16, 25])
def test_more_kit_is_the_least_that_helps_and_never_under_the_average(seed: int) -> None:
    """Whoever comes round once makes the average: ceil(use / stations) of a kind are needed in some window."""
    one = small_class(seed)
    assert brute_force(one) is None
    (change,) = (change for change in smallest_changes(one.session, one.roster) if change.kit)
    for part, table in zip(one.session.parts, one.tables, strict=True):
        stations = len(part.stations)
        for kind, has in one.has.items():
            total = sum(use.get(kind, 0) for row in table for use in row)
            if isinstance(part, Rotation) and part.count >= stations:
                more = sum(many for bought, many in change.kit.items() if bought == kind or bought.endswith(f" {kind}"))
                assert more >= math.ceil(total / stations) - has
    enough = brute_force(bought(one, change.kit))
    assert enough is not None
    for kind in change.kit:
        less = brute_force(bought(one, {**change.kit, kind: change.kit[kind] - 1}))
        assert less is None or less[0] > enough[0]


def bought(one: SmallClass, kit: Mapping[str, int]) -> SmallClass:
    has = {kind: many + kit.get(kind, 0) for kind, many in one.has.items()}
    has["bell"] += sum(many for kind, many in kit.items() if kind.endswith(" bell"))
    return replace(one, has=has)


def plan(text: str) -> Session:
    session, problems = read_session(f"session: x\n{text}", "plan.yaml")
    assert session is not None, problems
    return session


def people(text: str, session: Session | None = None) -> Roster:
    roster, problems = read_roster("athletes:\n" + "".join(f"  - {{{line}}}\n" for line in text.split("; ")), "r.yaml", session)
    assert roster is not None, problems
    return roster


BOXES = """kit: {box: %d}
parts:
  - kind: rotation
    every: 1:00
    rounds: 1
    stations:
      - {move: box jump, kit: box, options: [{name: step-up, move: step-up}]}
      - {move: sit-up, kit: box, options: [{name: floor, move: sit-up on the floor}]}
      - rest
"""
SIX = "name: A; name: B; name: C; name: D; name: E; name: F"


def words(session: Session, roster: Roster) -> list[str]:
    return [change.words for change in smallest_changes(session, roster)]


def test_where_kit_is_short_the_smallest_changes_are_said() -> None:
    """By hand: six people in three groups of two, two stations with a box each: four at once."""
    assert place(plan(BOXES % 4), people(SIX)).groups
    session = plan(BOXES % 2)
    assert not place(session, people(SIX)).groups
    more, options = smallest_changes(session, people(SIX))
    assert (more.words, more.kit) == ("two more boxes", {"box": 2})
    assert len(options.options) == 6, "twelve turns at a box in three windows, and two boxes for six of them"
    eased = with_options(people(SIX).athletes, options.options)
    assert place(session, replace(people(SIX), athletes=tuple(eased))).groups
    assert place(with_kit(session, more.kit), people(SIX)).groups


def test_only_easier_options_that_somebody_may_do_are_offered() -> None:
    """The order of the file is that of the coach, from the hardest to the easiest."""
    text = BOXES % 3
    guarded = text.replace("move: step-up}", "move: step-up, guarded: true}").replace(
        "name: floor,", "name: floor, guarded: true,"
    )
    assert [change.kit for change in smallest_changes(plan(guarded), people(SIX))] == [{"box": 1}]


def test_a_wish_is_given_up_where_that_alone_is_enough() -> None:
    session = plan("kit: {box: 1}\nparts:\n  - {kind: rotation, every: 1:00, rounds: 1, stations: [{move: a, kit: box}, rest]}\n")
    roster = people("name: A, with: [B]; name: B")
    assert not place(session, roster).groups
    assert words(session, roster) == ["one more box", "A and B in two groups"]
    against = people("name: A, not_with: [B]; name: B, with: [C]; name: C, with: [A]")
    assert not place(plan(BOXES % 9), against).groups
    assert "A and B in one group" in words(plan(BOXES % 9), against)


LOADS = """kit: {bell: {16 kg: 2, 24 kg: %d}}
parts:
  - kind: rotation
    every: 1:00
    rounds: 1
    stations: [{move: swing, kit: bell, load: {strong: 24 kg, new: 16 kg}}, rest]
"""


@pytest.mark.parametrize("heavy", [1, 2])
def test_each_load_is_its_own_kind_of_kit(heavy: int) -> None:
    """Three bells for four people in two groups are enough, and who swings 24 kg takes turns at the one that there is."""
    roster = people("name: A, level: strong; name: B, level: strong; name: C, level: new; name: D, level: new")
    placed = place(plan(LOADS % heavy), roster)
    assert placed.groups["A"] != placed.groups["B"]
    together = replace(roster, athletes=(replace(roster.athletes[0], together=frozenset("B")), *roster.athletes[1:]))
    assert bool(place(plan(LOADS % heavy), together).groups) is (heavy == 2)
    if heavy == 1:
        assert "one more 24 kg bell" in words(plan(LOADS % heavy), together)
        assert ("24 kg bell", 2, 0) in [(need.kit, need.needed, need.has) for need in kit_needs(plan(LOADS % 0), roster)]


def test_what_is_carried_is_as_little_as_can_be_and_is_said() -> None:
    """Two stations with a box each, three groups of one: two boxes could stay, one has to be carried each time."""
    three = people("name: A; name: B; name: C")
    assert place(plan(BOXES % 2), three).carried == ()
    one_box = plan((BOXES % 1).replace("- rest", "- rest\n      - rest\n      - rest"))
    placed = place(one_box, people("name: A; name: B"))
    assert [(one.kit, one.pieces, one.stations) for one in placed.carried] == [("box", 1, (0, 1))]


def test_last_weeks_groups_stay_where_nothing_speaks_against_it() -> None:
    roster = people("name: A, group: 3; name: B, group: 1; name: C, group: 2; name: D; name: E; name: F, group: 3")
    placed = place(plan(BOXES % 9), roster)
    assert {name: placed.groups[name] for name in "ABCF"} == {"A": 3, "B": 1, "C": 2, "F": 3}


WAVES = """kit: {rower: 4}
parts:
  - kind: for_time
    cap: 20:00
    rounds: 1
    wave_every: %s
    work: [{move: row, target: 2:15, kit: rower}, {move: sit-up, target: 1:15}]
"""
TWELVE = "; ".join(f"name: P{number}" for number in range(12))


def test_waves_are_as_few_as_keep_everybody_from_waiting_for_a_machine() -> None:
    """2:15 at a rower with a spread of 8 %: after 2:15 + 1.28 x 11 s nine in ten have left it, and four more begin."""
    placed = place(plan(WAVES % "2:30"), people(TWELVE))
    assert sorted(placed.groups.values()) == [1] * 4 + [2] * 4 + [3] * 4
    assert max(place(plan(WAVES % "1:30"), people(TWELVE)).groups.values()) == 6
    twice = plan((WAVES % "1:00").replace("rounds: 1", "rounds: 2"))
    assert not place(twice, people(SIX)).groups
    (later,) = (change for change in smallest_changes(twice, people(SIX)) if change.wave_every_ms)
    assert later == SmallestChange(words="wave_every: 3:00, in three waves", wave_every_ms=180_000, last_wave_ms=360_000)


def test_one_number_holds_for_all_rotations_and_waves() -> None:
    """Who begins at the second station of one part begins at the second of the other, and rows in the second wave."""
    session = plan((BOXES % 4) + (WAVES % "2:30").split("parts:\n")[1].replace("kit: rower", "kit: box"))
    placed = place(session, people(SIX.replace("; name: F", "")))
    assert set(placed.groups.values()) <= {1, 2, 3}
    assert recount(session, people(SIX.replace("; name: F", "")).athletes, placed.groups, 3).short == ()


@pytest.mark.parametrize(
    ("groups", "boxes", "expected"),
    [((1, 1, 2), 9, 3), ((1, 2, 2, 3), 9, 1), ((1, 2, 3), 3, 1), ((1, 1), 9, 1), ((), 9, 1), ((1, 1, 2, 3, 3), 3, 2)],
)
def test_somebody_at_the_door_is_put_where_they_fit(groups: tuple[int, ...], boxes: int, expected: int) -> None:
    """Least waiting first, then the smallest group, then the first; a class without groups stays without."""
    here = [Athlete(name=str(at), group=group) for at, group in enumerate(groups)]
    assert fitting_group(plan(BOXES % boxes), here, Athlete(name="New"), range(1, 4)) == expected
