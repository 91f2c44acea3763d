"""The picture for the chat group."""

from __future__ import annotations

import io
from dataclasses import replace
from pathlib import Path

from PIL import Image

from floorclock.digest.class_digest import MOST_CALLS
from floorclock.report.pictures import called_in_picture, picture, write_picture
from tests.pace.sample_class import summary
from tests.report.drawn import texts
from tests.report.outlooks import HOSTILE, class_of, with_outlook


def test_it_is_a_png_1600_pixels_wide(tmp_path: Path) -> None:
    write_picture(summary(), tmp_path / "out.png")
    data = (tmp_path / "out.png").read_bytes()
    assert data.startswith(b"\x89PNG\r\n\x1a\n")
    with Image.open(io.BytesIO(data)) as opened:
        assert opened.size[0] == 1600
        assert 500 < opened.size[1] < 4000
        assert opened.info.get("Author") is None


def test_it_has_the_class_the_rests_and_who_needs_a_word() -> None:
    said = texts(picture(summary()))
    assert said[0] == "Five trips round the harbour"
    assert "2026-11-24 19:00    5 athletes    margin 0:15" in said
    assert "The harbour" in said
    assert said.count("Bram") == 2
    assert "! tight" in said
    assert "no medical advice: local rules and qualified staff decide" in " ".join(said)


def test_without_names_an_athlete_is_their_number_on_the_board() -> None:
    said = texts(picture(summary(), names=False))
    assert [name for name in ("Ilka", "Bram", "Sefa", "Odd", "Runa") if any(name in words for words in said)] == []
    assert said.count("athlete 2") == 2


def test_no_rating_of_anybody_is_in_it() -> None:
    assert not any("effort" in words or "load" in words for words in texts(picture(with_outlook())))


def test_a_rehearsal_says_so() -> None:
    assert any("REHEARSAL" in words for words in texts(picture(replace(summary(), rehearsal=True))))


def test_many_calls_are_cut_short_and_counted() -> None:
    made = class_of([f"Athlete {number}" for number in range(40)], ["swing"], 12)
    assert len(made.calls) > MOST_CALLS
    assert f"and {len(made.calls) - MOST_CALLS} more" in texts(picture(made))


def test_a_name_with_a_letter_that_no_font_has_comes_with_its_number() -> None:
    assert called_in_picture("Ilka Aho", 1) == "Ilka Aho"
    assert called_in_picture("Who?", 2) == "Who?"
    # U+10FFFE and U+10FFFF are no characters (The Unicode Standard, 23.7): no font has them.
    assert called_in_picture("\U0010fffe Runa", 12) == "12 Runa"
    assert called_in_picture("\U0010fffe\U0010ffff", 13) == "athlete 13"
    assert called_in_picture("Runa", 12, names=False) == "athlete 12"


def test_names_of_any_kind_can_be_drawn(tmp_path: Path) -> None:
    write_picture(class_of(HOSTILE, ["$row$"], 6), tmp_path / "out.png")
    assert (tmp_path / "out.png").stat().st_size > 10_000


def test_a_class_without_anything_recorded_has_a_picture(tmp_path: Path) -> None:
    write_picture(replace(summary(), parts=(), calls=(), athletes=()), tmp_path / "out.png")
    assert (tmp_path / "out.png").stat().st_size > 1_000
