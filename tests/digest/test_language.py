"""What the digest says of teams, scores, blocks, rests, loads: from classes that were run event by event."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

import pytest

from floorclock.clock.events import Event, Left, LoadChanged, NotFinished, PartBegun, ResultEntered, ScoreEntered, Tapped
from floorclock.clock.fold import apply
from floorclock.clock.state import ClassState, new_state
from floorclock.digest.build import Label, digest_of
from floorclock.digest.class_digest import ClassDigest
from floorclock.digest.words import rest_words
from floorclock.plan.roster import Athlete
from floorclock.plan.work import Load, LoadUnit
from floorclock.report.export import review_json, splits_csv
from floorclock.report.page import card_facts, page_html
from tests.plan.shipped import session_of

PEOPLE = (
    Athlete(name="Ilka", level="strong", best={"front squat": Load(Fraction(100), LoadUnit.KG)}, note="old knee, ask first"),
    Athlete(name="Bram", level="new", best={"front squat": Load(Fraction(53), LoadUnit.KG)}),
    Athlete(name="Noor", level="new"),
    Athlete(name="Sefa", level="strong"),
)
COUNT_IN_MS = 10_000


def run(parts: str, *events: Event, to_s: float, people: tuple[Athlete, ...] = PEOPLE) -> ClassState:
    """A class whose first part begins at once. The go is at 0:10 of the class clock."""
    state = new_state(session_of(parts), people)
    apply(state, PartBegun(at_ms=0, part=0))
    for event in events:
        assert apply(state, event).took_effect, event
    state.advance(COUNT_IN_MS + round(to_s * 1000))
    return state


def tap(name: str, at_s: float) -> Tapped:
    """A tap so many seconds after the go."""
    return Tapped(at_ms=COUNT_IN_MS + round(at_s * 1000), athlete=name)


def digest(state: ClassState) -> ClassDigest:
    return digest_of(state, Label(class_id="x"))


PAIRS = "  - {kind: for_time, title: Together, cap: 9:00, in: pairs, work: [{move: row, target: 500 m}]}\n"


class TestTeams:
    def made(self) -> ClassDigest:
        return digest(run(PAIRS, tap("Sefa", 100), tap("Bram", 130), to_s=540))

    def test_a_team_is_one_row_under_all_names_and_nobody_else_is_untapped(self) -> None:
        (part,) = self.made().parts
        assert part.result_rows[1:] == (("Ilka + Bram", "2:10.0"), ("Noor + Sefa", "1:40.0"))
        assert part.facts == ("2 of 2 teams with a result",)

    def test_each_members_card_has_the_teams_result_and_no_other_name(self) -> None:
        made = self.made()
        for name in made.athletes:
            ((part, athlete),) = made.parts_of(name)
            facts = dict(card_facts(part, athlete))
            assert facts["shared by"] == "a team of 2"
            assert name in athlete.team
            assert not any(other in words for words in facts.values() for other in made.athletes)

    def test_json_names_the_team_and_csv_stands_under_its_first(self) -> None:
        made = self.made()
        teams = {values["name"]: values["team"] for values in review_json(made)["parts"][0]["athletes"]}
        assert all(name == " + ".join(team) for name, team in teams.items())
        header, *rows, _ = splits_csv(made).split("\r\n")
        assert header.endswith("move,load,score,team")
        assert {line.split(",")[3] for line in rows} == {team[0] for team in teams.values()}


METRES = "  - {kind: amrap, time: 9:00, in: pairs, score: {each: part, unit: metres}, work: [{move: row, target: 500 m}]}\n"


def test_a_team_without_a_result_is_one_row_too_and_a_number_alone_says_nothing_of_rounds() -> None:
    gone, number = Left(at_ms=0, athlete="Sefa"), ScoreEntered(at_ms=600_000, athlete="Ilka", part=0, interval=-1, amount=275)
    state = new_state(session_of(METRES), (*PEOPLE, Athlete(name="Odd"), Athlete(name="Teo")))
    for event in (gone, PartBegun(at_ms=0, part=0), number):
        assert apply(state, event).took_effect, event
    state.advance(600_000)
    (part,) = digest(state).parts
    assert part.result_rows[1:] == (("Ilka + Noor + Teo", "275 m"), ("Bram + Odd", "not entered"))
    assert part.facts == ("1 of 2 teams with a result",)


SCORED = "  - {kind: intervals, work: 0:20, rest: 0:10, sets: 3, score: reps, stations: [{move: air squat, target: max reps}]}\n"


def score(name: str, interval: int, amount: float) -> ScoreEntered:
    return ScoreEntered(at_ms=COUNT_IN_MS + 80_000, athlete=name, part=0, interval=interval, amount=amount)


class TestScores:
    def test_each_set_the_total_and_the_lowest_are_said(self) -> None:
        state = run(SCORED, *(score("Ilka", 2 * at, amount) for at, amount in enumerate((14, 12, 13))), to_s=90)
        made = digest(state)
        (part,) = made.parts
        assert not part.is_timed_by_splits
        assert part.result_rows[:2] == (("athlete", "result", "each set"), ("Ilka", "39 reps, lowest 12", "14  12  13"))
        result = review_json(made)["parts"][0]["athletes"][0]["result"]
        assert (result["score"], result["score_unit"]) == (39, "reps")
        assert result["scores"] == [{"set": 1, "amount": 14}, {"set": 2, "amount": 12}, {"set": 3, "amount": 13}]

    def test_nobody_is_untapped_or_not_finished_for_what_nobody_taps(self) -> None:
        (part,) = digest(run(SCORED, to_s=90)).parts
        assert part.athletes == ()

    def test_a_stray_tap_forecasts_nothing(self) -> None:
        made = digest(run(SCORED, tap("Noor", 12), to_s=40))
        assert all(not athlete.forecast and not athlete.advice for part in made.parts for athlete in part.athletes)


class TestUntilOut:
    PLAN = (
        "  - {kind: rotation, every: 1:00, rounds: 5, until_out: true, rest_margin: 0,"
        " stations: [{move: step-up, target: {start: 9 reps, step: 9}}]}\n"
    )

    def test_full_rounds_and_reps_stand_beside_the_splits_and_nobody_is_called_for_being_out(self) -> None:
        missed = NotFinished(at_ms=COUNT_IN_MS + 119_000, athlete="Ilka", part=0, interval=1)
        reps = ResultEntered(at_ms=COUNT_IN_MS + 119_500, athlete="Ilka", part=0, reps=11)
        (part,) = (made := digest(run(self.PLAN, tap("Ilka", 30), missed, reps, to_s=300))).parts
        ilka = part.athletes[0]
        assert part.is_timed_by_splits
        assert part.has_results
        assert part.result_words(ilka) == "1 round + 11"
        assert [rest_words(taken.split) for taken in ilka.splits] == ["30", "/"]
        assert (ilka.flags, ilka.advice) == ((), ())
        assert made.calls == ()


def test_round_times_are_without_the_athletes_own_rest() -> None:
    """Taps at 1:00, 3:10 and 5:25 with a rest of 1:00 after each round but the last: rounds of 60, 70 and 75 s."""
    plan = "  - {kind: for_time, cap: 12:00, rounds: 3, round_rest: 1:00, work: [{move: row, target: 250 m}]}\n"
    (part,) = digest(run(plan, tap("Ilka", 60), tap("Ilka", 190), tap("Ilka", 325), to_s=720)).parts
    assert part.lap_times_ms(part.athletes[0]) == (60_000, 70_000, 75_000)
    assert part.result_rows[1] == ("Ilka", "5:25.0", "1:00  1:10  1:15")


def test_blocks_have_results_of_their_own_under_titles_that_say_which() -> None:
    plan = (
        "  - kind: repeat\n    times: 2\n    parts:\n"
        "      - {kind: amrap, title: Four, time: 1:00, work: [{move: row, target: 10 cal}]}\n"
        "      - {kind: rest, time: 1:00}\n"
    )
    made = digest(run(plan, tap("Ilka", 40), tap("Ilka", 130), tap("Ilka", 160), to_s=230))
    assert [(part.title, part.result_words(part.athletes[0])) for part in made.recorded] == [
        ("Four, block 1 of 2", "1 round"),
        ("Four, block 2 of 2", "2 rounds"),
    ]


SQUATS = (
    "  - {kind: rotation, together: true, every: 2:00, rounds: 3, stations: [{move: front squat, target: 5 reps, load: 75 %}]}\n"
)
ONCE = "  - {{kind: rotation, together: true, every: 1:00, rounds: 1, stations: [{}]}}\n"
POUNDS, KILOGRAMS = "{move: swing, target: 10 reps, load: 53 lb}", "{move: press, target: 5 reps, load: 20 kg}"
SEVERAL = ONCE.format("{work: [{move: row, target: 200 m}, {move: swing, target: 10 reps, load: 16 kg}]}")
GOBLETS = (
    "  - kind: for_time\n    cap: 8:00\n    rounds: 3\n    work:\n"
    "      - {move: goblet squat, target: 21-15-9 reps, load: {strong: 24 kg, new: 12 kg}}\n"
)
SHARED = PAIRS.replace("row, target: 500 m", "swing, target: 80 reps, load: {strong: 24 kg, new: 16 kg}")
PRESSES = SCORED.replace("score: reps", "score: load").replace("air squat, target: max reps", "press, target: 5 reps")
SQUATTED = (tap("Ilka", 20), tap("Bram", 20), tap("Ilka", 140), tap("Bram", 140), tap("Ilka", 260))
ONE_AND_12 = ResultEntered(at_ms=COUNT_IN_MS + 480_000, athlete="Bram", part=0, rounds=1, reps=12)


@pytest.mark.parametrize(
    ("plan", "events", "volume"),
    [
        # 75 % of 100 kg are 75 kg; 75 % of 53 kg are 39.75, to the nearest 2.5 kg 40.
        (SQUATS, SQUATTED, ["Ilka front squat 15 reps, 1,125 kg", "Bram front squat 10 reps, 400 kg"]),
        (SQUATS, [tap("Noor", 20)], []),
        (ONCE.format(POUNDS), [tap("Noor", 20)], ["Noor swing 10 reps, 530 lb"]),
        # The avoirdupois pound is 0.45359237 kg exactly (1959): 530 of them are 240.4 kg.
        (
            ONCE.format(f"{POUNDS}, {KILOGRAMS}"),
            [tap("Noor", 20), tap("Noor", 80)],
            ["Noor swing 10 reps, 240.4 kg", "Noor press 5 reps, 100 kg"],
        ),
        (SEVERAL, [tap("Noor", 50)], ["Noor swing 10 reps, 160 kg"]),
        # 21-15-9: all 45 at 24 kg for who finished; one round and 12 reps are 33 at 12 kg.
        (
            GOBLETS,
            [tap("Ilka", 200), ONE_AND_12],
            ["Ilka goblet squat 45 reps, 1,080 kg", "Bram goblet squat 33 reps, 396 kg"],
        ),
        (SHARED, [tap("Ilka", 200)], []),
        (PRESSES, [score("Ilka", 0, 40), score("Ilka", 2, 45)], ["Ilka press 10 reps, 425 kg"]),
    ],
    ids=[
        "a percentage of each one's best",
        "a best that nobody knows is in no sum",
        "pounds stay pounds where all are",
        "pounds beside kilograms are kilograms",
        "several moves count each with its own load",
        "work against the clock counts whole rounds and the reps beyond them",
        "a pair at two loads shares its reps nobody knows how",
        "a load that is noted counts with the reps of the plan",
    ],
)
def test_volume_load_is_sets_x_reps_x_weight(plan: str, events: Sequence[Event], volume: list[str]) -> None:
    """How textbooks of strength training define it, such as Haff and Triplett, Essentials of Strength Training and Conditioning,
    2016; from memory. All sums by hand.
    """
    assert [f"{one.athlete} {one.words}" for one in digest(run(plan, *events, to_s=540)).volume] == volume


class TestLoads:
    def test_a_load_is_that_of_the_moment(self) -> None:
        lighter = LoadChanged(
            at_ms=COUNT_IN_MS + 60_000, athlete="Ilka", move="front squat", load=Load(Fraction(60), LoadUnit.KG)
        )
        made = digest(run(SQUATS, tap("Ilka", 20), lighter, tap("Ilka", 140), to_s=360))
        splits = review_json(made)["parts"][0]["athletes"][0]["splits"]
        assert [(split["work"], split["load"]) for split in splits[:2]] == [("5 at 75 kg", 75.0), ("5 at 60 kg", 60.0)]
        assert made.volume[0].amount == 5 * 75 + 5 * 60

    def test_a_load_that_is_noted_is_the_most_of_its_sets(self) -> None:
        made = digest(run(PRESSES, score("Ilka", 0, 40), score("Ilka", 2, 45), to_s=90))
        assert "45 kg at most" in [row[1] for row in made.parts[0].result_rows]

    def test_work_of_several_moves_is_said_whole(self) -> None:
        athletes = review_json(digest(run(SEVERAL, tap("Noor", 50), to_s=60)))["parts"][0]["athletes"]
        works = {split["work"] for values in athletes for split in values["splits"]}
        assert works == {"200 m row + 10 at 16 kg swing"}

    def test_the_load_stands_beside_the_target_on_the_page(self) -> None:
        html = page_html(digest(run(SQUATS, *SQUATTED, to_s=360)))
        assert all(words in html for words in ("front squat at 75 kg", "front squat at 40 kg", "1,125 kg"))


def test_no_note_of_the_coach_is_on_a_page_or_in_what_is_handed_on() -> None:
    made = digest(run(PAIRS, tap("Ilka", 100), to_s=540))
    for text in (page_html(made), splits_csv(made), str(review_json(made))):
        assert "knee" not in text
