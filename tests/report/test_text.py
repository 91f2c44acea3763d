"""What a coach reads on a terminal after class."""

from __future__ import annotations

import io
import re
from dataclasses import replace
from datetime import UTC, datetime
from fractions import Fraction
from pathlib import Path

import pytest
from rich.cells import cell_len
from rich.console import Console

from floorclock.clock.splits import Result, Split
from floorclock.digest.build import Label, digest_from
from floorclock.digest.class_digest import ClassDigest
from floorclock.digest.words import result_words, time_words
from floorclock.journal.shelf import ClassEntry
from floorclock.plan.roster import Assignment, Athlete, Roster
from floorclock.plan.session import ForTime, Paced, Rotation, Session
from floorclock.plan.work import Station, Target, Unit
from floorclock.report.text import print_classes, print_review
from floorclock.simulate.athletes import attempt, simulated_athletes
from tests.pace.sample_class import summary
from tests.pace.taps import split
from tests.report.outlooks import class_of, with_outlook


def printed(made: ClassDigest, width: int = 80, *, color: bool = False, encoding: str = "utf-8") -> str:
    file = io.TextIOWrapper(io.BytesIO(), encoding=encoding, newline="")
    console = Console(
        file=file, width=width, force_terminal=color, color_system="standard" if color else None, legacy_windows=False
    )
    print_review(made, console)
    file.flush()
    file.seek(0)
    return file.read()


def line_of(text: str, start: str) -> str:
    return next(line for line in text.splitlines() if line.strip().startswith(start))


def one_rotation(names: list[str], moves: list[str], rounds: int = 5) -> ClassDigest:
    """A simulated class of some size, for the layout."""
    roster = Roster(title="x", athletes=tuple(Athlete(name=name) for name in names))
    stations = tuple(Station(move) for move in moves)
    session = Session(title="x", parts=(Rotation(title="The rotation", every_ms=60_000, rounds=rounds, work=stations),))
    taken = []
    for who in simulated_athletes(roster, 5):
        for number in range(1, rounds + 1):
            for station, move in enumerate(moves):
                took = attempt(who, Assignment(move, Target(Fraction(14), Unit.REPS)), number, 60_000)
                rest = took.status.value if took.split_ms is None else 60 - took.split_ms / 1000
                sign = {"untapped": "?", "not finished": "-"}.get(str(rest), rest)
                taken.append(
                    split(sign, round_number=number, station=station, stations=len(moves), part=0, move=move, athlete=who.name)
                )
    return digest_from(session, roster.athletes, taken, (), label=Label(class_id="x", rehearsal=True), rest_margin_s=15)


def rotation_of(taken: list[Split], names: list[str]) -> ClassDigest:
    """A class of one station, of these splits."""
    part = Rotation(title="The rotation", every_ms=60_000, rounds=4, work=(Station("swing"),))
    athletes = tuple(Athlete(name=name) for name in names)
    return digest_from(Session(title="x", parts=(part,)), athletes, taken, (), label=Label(class_id="x"), rest_margin_s=15)


class TestReview:
    @pytest.mark.parametrize("width", [80, 120])
    def test_nothing_runs_past_the_edge(self, width: int) -> None:
        assert max(cell_len(line) for line in printed(summary(), width).splitlines()) <= width

    @pytest.mark.parametrize("width", [20, 33, 50, 80, 200])
    def test_every_athlete_and_reason_is_there_at_any_width(self, width: int) -> None:
        text = printed(one_rotation(["Ilka", "Bram", "Liselotte"], ["kettlebell swing", "box step-up"] * 3), width)
        assert max(cell_len(line) for line in text.splitlines()) <= width
        words = "".join(text.split())
        for expected in ("Ilka", "Bram", "Liselotte", "Whototalkto", "Theclassasawhole", "kettlebellswing"):
            assert expected in words

    def test_the_class_is_named_with_its_facts(self) -> None:
        lines = printed(summary()).splitlines()
        assert lines[0].split("   ")[0] == "Five trips round the harbour"
        assert lines[1].strip() == "2026-11-24 19:00   5 athletes   margin 0:15"
        assert "rehearsal" in printed(replace(summary(), rehearsal=True)).splitlines()[1]

    def test_a_line_of_an_athlete_has_medians_rests_least_and_flags(self) -> None:
        assert line_of(printed(summary()), "Bram").split() == [
            "Bram",
            "42.0",
            "▇▆▅!",
            "39.0",
            "▇▆▅!",
            "12",
            "!",
            "tight,",
            "v",
            "fading",
        ]

    def test_an_untapped_athlete_is_unknown_and_no_failure(self) -> None:
        assert line_of(printed(summary()), "Runa").split() == ["Runa", "····", "····", "untapped"]
        calls = printed(summary()).split("Who to talk to")[1]
        assert "Runa" not in calls

    def test_the_second_table_has_every_split_with_slope_spread_and_decrement(self) -> None:
        lines = [line.split() for line in printed(summary()).splitlines() if line.strip().startswith(("Bram", "Odd"))]
        assert lines[2] == ["Bram", "+4.0", "12.7", "16.4", "36", "40", "44", "48", "34", "37", "41", "46"]
        assert lines[3] == ["Odd", "+0.3", "2.0", "1.7", "40", "/", "42", "41", "38", "38", "·", "39"]

    def test_the_rounds_of_everybody_stand_under_one_another(self) -> None:
        rests: dict[str, list[int | str]] = {"Ilka": [41, "?", "?", "-"], "Bram": ["?", 57, "?", "?"]}
        taken = [
            split(rest, round_number=number, part=0, athlete=name)
            for name, row in rests.items()
            for number, rest in enumerate(row, 1)
        ]
        text = printed(rotation_of(taken, list(rests)))
        rows = [line for line in text.splitlines() if line.strip().startswith(("Ilka", "Bram"))]
        assert [row.rstrip().split("   ")[-1].strip() for row in rows if row.endswith(("/", "·")) or " · " in row][-2:] == [
            "19  ·  ·  /",
            "·  3  ·  ·",
        ]

    def test_other_amounts_from_round_to_round_are_said_of_the_figures(self) -> None:
        words = "as if each round had had the last one, in proportion"
        even = [split(30, round_number=number, part=0) for number in (1, 2, 3)]
        falling = [split(30, round_number=number, part=0, amount=amount) for number, amount in enumerate((20, 16, 12), 1)]
        assert words not in " ".join(printed(rotation_of(even, ["Ilka"])).split())
        assert words in " ".join(printed(rotation_of(falling, ["Ilka"])).split())

    def test_narrow_and_wide_say_the_same_of_an_athlete(self) -> None:
        made = one_rotation(["Ilka"], ["swing", "step-up", "push-up"])
        signs = [set(re.findall(r"[▁▂▃▄▅▆▇█!·]{5}|\d+\.\d|[+-]\d+\.\d", printed(made, width))) for width in (40, 120)]
        assert signs[0] == signs[1]
        assert len(signs[0]) > 5

    def test_the_class_as_a_whole_is_counted_in_words(self) -> None:
        text = " ".join(printed(summary()).split())
        assert "The harbour: 1 of the 4 who were tapped held margin and pace, 1 not finished, 1 tight" in text
        assert "1 tight, 2 fading, 9 of 40 intervals not recorded" in text
        assert "not recorded; 2 of 30 tapped intervals were under the margin; no station stands out" in text
        assert "Carry and sit: 5 of 5 with a result, 1 not finished" in text
        assert "Steps: 1 of 5 tapped out" in text

    def test_who_to_talk_to_comes_last_with_reasons(self) -> None:
        calls = " ".join(printed(summary(), 120).split("Who to talk to")[1].split("Next targets")[0].split())
        assert calls.startswith("/ not finished Odd Carry and sit not finished / not finished Odd round 2 at swing not finished")
        assert "! tight Bram under the margin of 15 s in 1 of 4 rounds at swing: rest 24, 20, 16, 12 s; also at step-up" in calls
        assert calls.endswith("This is no medical advice: local rules and qualified staff decide.")

    def test_the_list_of_whom_to_talk_to_ends_and_names_the_others(self) -> None:
        made = class_of([f"Athlete {number}" for number in range(40)], ["swing", "step-up"], 12)
        text = printed(made, 120).split("Who to talk to")[1]
        others = [call.athlete for call in made.calls[12:]]
        assert f"And {len(others)} more with a flag: {', '.join(others[:3])}," in " ".join(text.split())
        assert "in 1 of" not in text.split("more with a flag")[1]

    def test_a_calm_class_calls_nobody(self) -> None:
        session = Session(title="x", parts=(Rotation(title="y", every_ms=60_000, rounds=2, work=(Station("swing"),)),))
        taken = [split(30, part=0), split(30, part=0, round_number=2)]
        calm = digest_from(session, (), taken, (), label=Label(class_id="x"), rest_margin_s=15)
        assert "Nobody. Everybody who was tapped kept the margin and the pace." in printed(calm)

    def test_a_part_that_nobody_tapped_says_so(self) -> None:
        session = Session(title="x", parts=(Rotation(title="y", every_ms=60_000, rounds=1, work=(Station("plank"),)),))
        silent = digest_from(session, (), [split("?", part=0, move="plank")], (), label=Label(class_id="x"), rest_margin_s=0)
        assert "Nobody tapped: 1 intervals are unknown." not in printed(silent)
        assert "Nobody tapped: 1 interval is unknown." in printed(silent)

    def test_an_empty_class_says_so(self) -> None:
        empty = digest_from(summary_session(), (), (), (), label=Label(class_id="x"), rest_margin_s=15)
        assert "Nothing was recorded in it." in printed(empty)

    def test_names_are_data_and_never_markup(self) -> None:
        names = ["[bold red]Ilka[/]", "[/]", "[link=x]Ann", ":bomb:"]
        text = printed(one_rotation(names, ["[i]swing"]), 120)
        assert all(name in text for name in [*names, "[i]swing"])

    def test_wide_names_keep_the_columns_straight(self) -> None:
        text = printed(one_rotation(["山田花子", "Bo", "Ñandú"], ["swing"]), 80)
        found = [
            cell_len(line[: line.index(".")]) for line in text.splitlines() if re.match(r"  (山田|Bo|Ñandú).*[▁-█!·]{5}", line)
        ]
        assert len(found) == 3
        assert len(set(found)) == 1

    def test_every_colour_comes_with_a_word(self) -> None:
        plain, coloured = printed(summary()), printed(summary(), color=True)
        assert "\x1b[" in coloured
        assert re.sub(r"\x1b\[[0-9;]*m", "", coloured) == plain

    def test_a_terminal_without_the_blocks_gets_digits(self) -> None:
        text = printed(summary(), encoding="ascii")
        assert line_of(text, "Bram").split()[2] == "765!"
        assert line_of(text, "Runa").split()[1] == "????"


def summary_session() -> Session:
    return Session(title="x", parts=(Rotation(title="y", every_ms=60_000, rounds=1, work=(Station("swing"),)),))


def results(part: ForTime | Paced, *reached: Result, names: tuple[str, ...] = ()) -> list[str]:
    athletes = tuple(Athlete(name=name) for name in names)
    ranked = Session(title="x", parts=(part,), ranked=True)
    made = digest_from(ranked, athletes, (), reached, label=Label(class_id="x"), rest_margin_s=15)
    text = printed(made).split("\n  athlete ")[1].split("The class as a whole")[0]
    return [line.split()[0] for line in text.splitlines()[1:] if line.strip()]


class TestResults:
    def test_finishers_come_by_time_then_rounds_and_reps_then_the_rest(self) -> None:
        part = ForTime(title="x", cap_ms=540_000, rounds=4, work=())
        assert results(
            part,
            Result(athlete="Unfinished", part=0, not_finished=True, rounds=3),
            Result(athlete="Three", part=0, rounds=3, reps=2),
            Result(athlete="ThreeMore", part=0, rounds=3, reps=12),
            Result(athlete="Slow", part=0, time_ms=400_000),
            Result(athlete="Fast", part=0, time_ms=300_000),
            names=("Unknown",),
        ) == ["Fast", "Slow", "ThreeMore", "Three", "Unfinished", "Unknown"]

    def test_another_piece_of_work_is_another_order(self) -> None:
        part = ForTime(title="x", cap_ms=540_000, rounds=4, work=())
        quick = Result(athlete="Short", part=0, time_ms=200_000, choice="shorter")
        assert results(part, quick, Result(athlete="Full", part=0, time_ms=500_000)) == ["Full", "Short"]

    def test_who_stays_longer_at_a_beat_stands_higher(self) -> None:
        part = Paced(title="x", beats_per_minute=Fraction(96), time_ms=180_000)
        early, late = Result(athlete="Early", part=0, time_ms=60_000), Result(athlete="Late", part=0, time_ms=90_000)
        assert results(part, early, late, names=("Stayed",)) == ["Stayed", "Late", "Early"]

    def test_words_of_a_result(self) -> None:
        _, _, finisher, amrap, paced, _ = summary().parts
        said = [
            (finisher, Result(athlete="x", part=2, time_ms=372_480), "6:12.4"),
            (finisher, Result(athlete="x", part=2, rounds=1), "1 round"),
            (finisher, Result(athlete="x", part=2, rounds=3, not_finished=True), "/ not finished: 3 rounds"),
            (amrap, Result(athlete="x", part=3, rounds=9, reps=4), "9 rounds + 4"),
            (amrap, Result(athlete="x", part=3, reps=4), "0 rounds + 4"),
            (paced, Result(athlete="x", part=4, time_ms=61_900, rounds=1, reps=8), "stopped at 1:01.9, 1 stage, 8 shuttles"),
            (amrap, None, "untapped"),
            (paced, None, "did not stop (no tap)"),
        ]
        assert [result_words(result, part.kind) for part, result, _ in said] == [words for _, _, words in said]

    def test_a_number_that_nobody_typed_was_not_entered(self) -> None:
        assert result_words(None, "rotation", "load") == "not entered"
        done = Result(athlete="x", part=0, scores=((1, Fraction(60)),))
        assert result_words(done, "rotation", "load") == "60 kg"

    def test_times_are_cut_off_as_a_stopwatch_does(self) -> None:
        assert [time_words(ms) for ms in (999, 59_999, 60_000, 750_049)] == ["0:00.9", "0:59.9", "1:00.0", "12:30.0"]

    def test_rounds_are_shown_each_by_itself(self) -> None:
        assert line_of(printed(summary()).split("Carry and sit")[1], "Ilka").split()[-4:] == ["1:28", "1:30", "1:31", "1:31"]


def entry(**changes: object) -> ClassEntry:
    known = ClassEntry(
        path=Path("20261124-1900-harb"),
        started=datetime(2026, 11, 24, 19, 0, tzinfo=UTC),
        session="[b]Five trips[/b]",
        athletes=16,
        rehearsal=False,
        ended=True,
        damage=0,
    )
    return replace(known, **changes)  # type: ignore[arg-type]


class TestClasses:
    def test_each_class_has_a_line_with_its_status(self) -> None:
        file = io.StringIO()
        found = [
            entry(),
            entry(ended=False),
            entry(rehearsal=True),
            entry(rehearsal=True, ended=False, damage=2),
            entry(started=None, damage=1),
        ]
        print_classes(found, Console(file=file, width=120))
        head, *lines = [line.rstrip() for line in file.getvalue().splitlines()]
        assert head.split() == ["class", "started", "session", "athletes", "status"]
        assert [re.split(r" {2,}", line)[-1] for line in lines] == [
            "complete",
            "interrupted",
            "rehearsal",
            "rehearsal, interrupted, 2 damaged lines",
            "complete, 1 damaged line",
        ]
        assert re.split(r" {2,}", lines[0])[:4] == ["20261124-1900-harb", "2026-11-24 19:00", "[b]Five trips[/b]", "16"]
        assert "not known" in lines[4]

    def test_a_long_title_folds_at_eighty_columns(self) -> None:
        file = io.StringIO()
        print_classes([entry(session="A session with a very long title " * 3)], Console(file=file, width=80))
        assert max(len(line) for line in file.getvalue().splitlines()) <= 80
        assert "2026-11-24 19:00" in file.getvalue()
        assert "".join(file.getvalue().split()).count("title") == 3


class TestWhatComesNext:
    def said(self, width: int = 100) -> list[str]:
        return [" ".join(line.split()) for line in printed(with_outlook(), width).splitlines()]

    def test_a_forecast_has_its_span_and_the_round_in_which_the_margin_goes(self) -> None:
        lines = self.said(200)
        assert lines[lines.index("What is to come") + 1] == (
            "Bram the margin likely goes in round 5, swing round 6: 54 s (49 to 59; margin kept: unlikely), "
            "step-up round 6: 46 s (42 to 51; margin kept: too close to call)"
        )

    def test_targets_come_in_the_order_of_the_stations_with_a_sign_for_the_way(self) -> None:
        lines = self.said()
        assert lines[lines.index("What to change") + 1] == "Bram swing 8 ↓, step-up 10 ="
        assert "Next targets" in printed(summary())

    def test_load_is_said_and_what_was_not_rated_too(self) -> None:
        lines = self.said()
        at = lines.index("Effort and load")
        assert lines[at + 1 : at + 3] == ["Ilka effort 6 x 42 minutes = load 252", "Bram effort not rated, 42 minutes"]

    def test_nothing_is_said_of_what_is_not_known(self) -> None:
        made = summary()
        unknown = tuple(replace(part, athletes=tuple(replace(one, advice=()) for one in part.athletes)) for part in made.parts)
        text = printed(replace(made, parts=unknown, load=()))
        assert text.rstrip().endswith("local rules and qualified staff decide.")

    def test_it_comes_after_who_to_talk_to(self) -> None:
        text = printed(with_outlook())
        places = [text.index(title) for title in ("Who to talk to", "What is to come", "What to change", "Effort and load")]
        assert places == sorted(places)

    @pytest.mark.parametrize("width", [20, 40, 80])
    def test_nothing_runs_past_the_edge(self, width: int) -> None:
        text = printed(with_outlook(), width)
        assert max(cell_len(line) for line in text.splitlines()) <= width
        assert "load252" in "".join(text.split())
