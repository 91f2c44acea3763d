"""What a coach reads on a terminal after class."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest
from rich.cells import cell_len

from floorclock.clock.splits import Split
from floorclock.digest.class_digest import ClassDigest
from floorclock.journal.shelf import ClassEntry
from floorclock.plan.session import Rotation
from floorclock.plan.work import Station
from floorclock.report.text import print_classes, print_review
from tests.pace.sample_class import summary
from tests.pace.taps import split
from tests.report.outlooks import class_of, digested, with_outlook
from tests.report.printing import as_printed, lines_of, printed


def text_of(made: ClassDigest, width: int = 80, *, color: bool = False, encoding: str = "utf-8") -> str:
    return printed(lambda console: print_review(made, console), width, color=color, encoding=encoding)


def words_of(made: ClassDigest, width: int = 80) -> str:
    """The text on one line: a table may break one anywhere."""
    return " ".join(text_of(made, width).split())


def line_of(text: str, start: str) -> str:
    return next(line for line in text.splitlines() if line.strip().startswith(start))


def rotation_of(taken: list[Split], *names: str) -> ClassDigest:
    """A class of one station, of these splits."""
    part = Rotation(title="The rotation", every_ms=60_000, rounds=4, work=(Station("swing"),))
    return digested(part, taken=taken, people=names)


class TestReview:
    def test_a_class_is_printed_whole(self) -> None:
        """Part by part: medians with a picture of the rests, least rest and flags, `·` where nobody tapped and no failure; every
        split under that of the round before, with slope, spread and decrement; results with round times. Then the class as a
        whole, who to talk to with reasons, what is to come with its span, what to change by station, the load of who rated.
        """
        assert lines_of(text_of(with_outlook())) == as_printed("class")
        assert "Next targets" in text_of(summary())
        assert "rehearsal" in text_of(replace(summary(), rehearsal=True)).splitlines()[1]

    @pytest.mark.parametrize("width", [20, 33, 50, 80, 120, 200])
    def test_everything_is_there_at_any_width_and_nothing_runs_past_the_edge(self, width: int) -> None:
        names, moves = ("Ilka", "Bram", "Liselotte"), [f"{move} {number}" for move in ("swing", "row") for number in range(3)]
        for made, wanted in ((with_outlook(), ["load252"]), (class_of(names, moves, 5), [*names, "Whototalkto", "swing1"])):
            text = text_of(made, width)
            assert max(cell_len(line) for line in text.splitlines()) <= width
            assert [words for words in wanted if words not in "".join(text.split())] == []

    def test_the_rounds_of_everybody_stand_under_one_another(self) -> None:
        rests: dict[str, list[int | str]] = {"Ilka": [41, "?", "?", "-"], "Bram": ["?", 57, "?", "?"]}
        taken = [
            split(rest, round_number=number, part=0, athlete=name)
            for name, row in rests.items()
            for number, rest in enumerate(row, 1)
        ]
        rows = [line.rstrip() for line in text_of(rotation_of(taken, *rests)).splitlines()]
        assert [row.split("   ")[-1].strip() for row in rows if row.endswith(("·  ·  /", "·  ·"))] == [
            "19  ·  ·  /",
            "·  3  ·  ·",
        ]

    def test_other_amounts_from_round_to_round_are_said_of_the_figures(self) -> None:
        words = "as if each round had had the last one, in proportion"
        even = [split(30, round_number=number, part=0) for number in (1, 2, 3)]
        falling = [split(30, round_number=number, part=0, amount=amount) for number, amount in enumerate((20, 16, 12), 1)]
        assert words not in words_of(rotation_of(even, "Ilka"))
        assert words in words_of(rotation_of(falling, "Ilka"))

    def test_narrow_and_wide_say_the_same_of_an_athlete(self) -> None:
        made = class_of(["Ilka"], ["swing", "step-up", "push-up"], 5)
        signs = [set(re.findall(r"[▁▂▃▄▅▆▇█!·]{5}|\d+\.\d|[+-]\d+\.\d", text_of(made, width))) for width in (40, 120)]
        assert signs[0] == signs[1]
        assert len(signs[0]) > 5

    def test_the_list_of_whom_to_talk_to_ends_and_names_the_others(self) -> None:
        made = class_of([f"Athlete {number}" for number in range(40)], ["swing", "step-up"], 12)
        calls = words_of(made, 120).split("Who to talk to")[1]
        others = [call.athlete for call in made.calls[12:]]
        assert f"And {len(others)} more with a flag: {', '.join(others[:3])}," in calls
        assert "in 1 of" not in calls.split("more with a flag")[1]

    def test_a_calm_class_calls_nobody_and_of_one_that_nobody_tapped_nothing_is_known(self) -> None:
        calm = rotation_of([split(30, part=0), split(30, part=0, round_number=2)])
        assert "Nobody. Everybody who was tapped kept the margin and the pace." in text_of(calm)
        assert "Nobody tapped: 1 interval is unknown." in text_of(rotation_of([split("?", part=0)]))
        assert "Nobody tapped: 2 intervals are" in text_of(rotation_of([split("?", part=0), split("?", part=0, round_number=2)]))
        assert "Nothing was recorded in it." in text_of(rotation_of([]))

    def test_nothing_is_said_of_what_is_not_known(self) -> None:
        made = summary()
        unknown = tuple(replace(part, athletes=tuple(replace(one, advice=()) for one in part.athletes)) for part in made.parts)
        assert words_of(replace(made, parts=unknown, load=())).endswith("local rules and qualified staff decide.")

    def test_names_are_data_and_never_markup(self) -> None:
        names = ["[bold red]Ilka[/]", "[/]", "[link=x]Ann", ":bomb:"]
        text = text_of(class_of(names, ["[i]swing"], 5), 120)
        assert all(name in text for name in [*names, "[i]swing"])

    def test_wide_names_keep_the_columns_straight(self) -> None:
        lines = text_of(class_of(["山田花子", "Bo", "Ñandú"], ["swing"], 5)).splitlines()
        found = [cell_len(line[: line.index(".")]) for line in lines if re.match(r"  (山田|Bo|Ñandú).*[▁-█!·]{5}", line)]
        assert len(found) == 3
        assert len(set(found)) == 1

    def test_every_colour_comes_with_a_word(self) -> None:
        plain, coloured = text_of(summary()), text_of(summary(), color=True)
        assert "\x1b[" in coloured
        assert re.sub(r"\x1b\[[0-9;]*m", "", coloured) == plain

    def test_a_terminal_without_the_blocks_gets_digits(self) -> None:
        text = text_of(summary(), encoding="ascii")
        assert line_of(text, "Bram").split()[2] == "765!"
        assert line_of(text, "Runa").split()[1] == "????"


def entry(**changes: object) -> ClassEntry:
    known = ClassEntry(
        path=Path("20261124-1900-harb"),
        started=datetime(2026, 11, 24, 19, 0, tzinfo=UTC),
        session="[b]Five trips[/b]",
        athletes=16,
    )
    return replace(known, **changes)  # type: ignore[arg-type]


def test_each_class_has_a_line_with_its_status() -> None:
    found = [
        entry(),
        entry(ended=False),
        entry(rehearsal=True),
        entry(rehearsal=True, ended=False, damage=2),
        entry(started=None, damage=1),
    ]
    text = printed(lambda console: print_classes(found, console), 120)
    head, *rows = [re.split(r" {2,}", line.rstrip()) for line in text.splitlines()]
    assert head == ["class", "started", "session", "athletes", "status"]
    assert [row[-1] for row in rows] == [
        "complete",
        "interrupted",
        "rehearsal",
        "rehearsal, interrupted, 2 damaged lines",
        "complete, 1 damaged line",
    ]
    assert rows[0][:4] == ["20261124-1900-harb", "2026-11-24 19:00", "[b]Five trips[/b]", "16"]
    assert rows[4][1] == "not known"


def test_a_long_title_folds_at_eighty_columns() -> None:
    long = entry(session="A session with a very long title " * 3)
    text = printed(lambda console: print_classes([long], console), 80)
    assert max(len(line) for line in text.splitlines()) <= 80
    assert "2026-11-24 19:00" in text
    assert "".join(text.split()).count("title") == 3
