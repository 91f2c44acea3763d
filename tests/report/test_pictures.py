"""The picture for the chat group."""

from __future__ import annotations

import io
from dataclasses import replace

from PIL import Image

from floorclock.clock.splits import Result
from floorclock.digest.class_digest import AthleteDigest, ClassDigest, PartDigest
from floorclock.report.pictures import called_in_picture, picture
from tests.odd_names import ODD_NAMES
from tests.pace.sample_class import summary
from tests.report.outlooks import class_of, with_outlook
from tests.report.printing import texts


def test_it_is_a_png_1600_pixels_wide() -> None:
    data = picture(summary()).png()
    assert data.startswith(b"\x89PNG\r\n\x1a\n")
    with Image.open(io.BytesIO(data)) as opened:
        assert opened.size[0] == 1600
        assert 500 < opened.size[1] < 4000
        assert opened.info.get("Author") is None


def test_it_has_the_class_and_what_it_did_together_and_nobodys_flags() -> None:
    said = texts(picture(summary()))
    assert said[0] == "Five trips round the harbour"
    assert "2026-11-24 19:00    5 athletes" in said
    assert "The harbour" in said
    assert any(words.startswith("Together: ") for words in said)
    assert not any(
        mark in words for words in said for mark in ("tight", "fading", "runs out", "not finished", "untapped", "margin")
    )
    assert "no medical advice: local rules and qualified staff decide" in " ".join(said)


def reached(*, is_ranked: bool = False) -> ClassDigest:
    """Two with a result and one who ran into the cap."""
    results = {"Ilka": Result(athlete="Ilka", part=0, time_ms=360_000), "Bram": Result(athlete="Bram", part=0, time_ms=300_000)}
    results["Odd"] = Result(athlete="Odd", part=0, rounds=3, reps=5, not_finished=True)
    people = tuple(AthleteDigest(name=name, result=result) for name, result in results.items())
    part = PartDigest(index=0, kind="for_time", title="Carry and sit", athletes=people, is_ranked=is_ranked)
    return replace(summary(), parts=(part,), athletes=tuple(results), calls=())


def test_it_says_what_everybody_reached_as_on_the_board_and_ranked_only_where_the_plan_wants_it() -> None:
    said = texts(picture(reached()))
    assert [words for words in said if words in ("Ilka", "Bram", "Odd")] == ["Ilka", "Bram", "Odd"]
    assert ("5:00.0" in said, "3 rounds + 5" in said) == (True, True)
    said = texts(picture(reached(is_ranked=True)))
    assert [words for words in said if words in ("Ilka", "Bram", "Odd")] == ["Bram", "Ilka", "Odd"]


def test_without_names_nobody_is_in_it() -> None:
    said = texts(picture(reached(), names=False))
    assert [name for name in ("Ilka", "Bram", "Odd") if any(name in words for words in said)] == []


def test_no_rating_of_anybody_is_in_it() -> None:
    assert not any("effort" in words or "load" in words for words in texts(picture(with_outlook())))


def test_a_rehearsal_says_so() -> None:
    assert any("REHEARSAL" in words for words in texts(picture(replace(summary(), rehearsal=True))))


def test_of_a_name_with_a_letter_that_no_font_has_the_others_are_drawn() -> None:
    assert called_in_picture("Ilka Aho") == "Ilka Aho"
    assert called_in_picture("Who?") == "Who?"
    # U+10FFFE and U+10FFFF are no characters (The Unicode Standard, 23.7): no font has them.
    assert called_in_picture("\U0010fffe Runa") == "Runa"
    assert called_in_picture("\U0010fffe\U0010ffff") == "an athlete"


def test_names_of_any_kind_can_be_drawn() -> None:
    assert len(picture(class_of(ODD_NAMES, ["$row$"], 6)).png()) > 10_000


def test_a_class_without_anything_recorded_has_a_picture() -> None:
    assert len(picture(replace(summary(), parts=(), calls=(), athletes=())).png()) > 1_000
