"""What a machine keeps about its speaker."""

import json
from pathlib import Path

import pytest

from floorclock.errors import ResourceError
from floorclock.journal.settings import Settings, read_settings, write_settings


def test_without_a_file_the_usual_settings_hold_and_nothing_is_said(tmp_path: Path) -> None:
    assert read_settings(tmp_path) == (Settings(), ())


def test_what_is_written_is_read_again_and_only_the_user_can(tmp_path: Path) -> None:
    kept = Settings(sound_offset_ms=180, sound_output="bell", sounds="/home/coach/cues", view="class")
    write_settings(tmp_path, kept)
    assert read_settings(tmp_path) == (kept, ())
    assert (tmp_path / "settings.json").stat().st_mode & 0o777 == 0o600


@pytest.mark.parametrize(
    ("values", "path", "kept"),
    [
        ({"sound_offset_ms": "late", "sound_output": "bell"}, "sound_offset_ms", Settings(sound_output="bell")),
        ({"sound_offset_ms": 99_999}, "sound_offset_ms", Settings()),
        ({"sound_offset_ms": True}, "sound_offset_ms", Settings()),
        ({"sound_output": "trumpet", "sound_offset_ms": 20}, "sound_output", Settings(sound_offset_ms=20)),
        ({"view": "everything", "sound_offset_ms": 20}, "view", Settings(sound_offset_ms=20)),
        ({"sound_ofset_ms": 20}, "sound_ofset_ms", Settings()),
    ],
)
def test_a_wrong_setting_costs_a_warning_and_itself(tmp_path: Path, values: dict[str, object], path: str, kept: Settings) -> None:
    (tmp_path / "settings.json").write_text(json.dumps(values), encoding="utf-8")
    settings, (problem,) = read_settings(tmp_path)
    assert settings == kept
    assert (problem.path, problem.severity) == (path, "warning")


@pytest.mark.parametrize("text", ["{", "[1]", "\x00", '"x"'])
def test_a_file_that_is_no_settings_costs_one_warning(tmp_path: Path, text: str) -> None:
    (tmp_path / "settings.json").write_text(text, encoding="utf-8")
    settings, problems = read_settings(tmp_path)
    assert settings == Settings()
    assert len(problems) == 1


def test_a_disk_that_refuses_is_told_in_words(tmp_path: Path) -> None:
    with pytest.raises(ResourceError, match="the settings cannot be kept"):
        write_settings(tmp_path / "nowhere", Settings())
