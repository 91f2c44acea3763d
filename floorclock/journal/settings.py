"""What this machine keeps from one class to the next: how its speaker is set up, and what its floor shows.

Invariant: a settings file that cannot be read costs a warning and nothing else; it is only ever replaced whole.
"""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from floorclock.errors import Problem, ResourceError
from floorclock.journal.disk import disk_words, read_file, read_words
from floorclock.journal.files import replace_whole
from floorclock.plan.durations import shown
from floorclock.plan.names import is_refused

FILE = "settings.json"
FARTHEST_OFFSET_MS = 2_000
VIEWS = ("coach", "class")
OUTPUTS = ("auto", "miniaudio", "simpleaudio", "bell", "none")


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """`sound_offset_ms` is how late the speaker sounds; `sound_output` is one of OUTPUTS.

    `sounds` is a folder of the coach's own cues, empty for the shipped ones. `view`, one of VIEWS, is what the floor showed last.
    """

    sound_offset_ms: int = 0
    sound_output: str = "auto"
    sounds: str = ""
    view: str = "coach"


def read_settings(home: Path) -> tuple[Settings, tuple[Problem, ...]]:
    """The settings in a data folder, and what is wrong with them; the usual ones where there are none."""
    path = home / FILE
    try:
        values = json.loads(read_file(path).decode("utf-8"))
    except FileNotFoundError:
        return Settings(), ()
    except (OSError, ValueError, RecursionError) as error:
        words = read_words(error) if isinstance(error, OSError) else "this is no JSON"
        return Settings(), (_warning(path, "", f"cannot be read: {words}", "delete it, or write it again with --tune"),)
    if not isinstance(values, dict):
        return Settings(), (_warning(path, "", "is no JSON object", "delete it"),)
    return _checked(path, values)


def write_settings(home: Path, settings: Settings) -> None:
    """Keeps settings, for this user only.

    Raises:
        ResourceError: the disk refuses them.
    """
    try:
        replace_whole(home / FILE, json.dumps(asdict(settings), indent=2).encode("utf-8"))
    except OSError as error:
        raise ResourceError(f"the settings cannot be kept: {disk_words(error)}") from error


def _checked(path: Path, values: dict[str, Any]) -> tuple[Settings, tuple[Problem, ...]]:
    good: dict[str, Any] = {}
    problems = []
    usual = asdict(Settings())
    for name in values:
        if name not in usual:
            problems.append(_warning(path, name if name.isidentifier() else shown(name), "unknown setting", ", ".join(usual)))
    for name, default in usual.items():
        value = values.get(name, default)
        if _is_good(name, value, default):
            good[name] = value
        else:
            problems.append(_warning(path, name, f"{shown(json.dumps(value))} is no value for it", f"such as {default!r}"))
    return Settings(**good), tuple(problems)


def _is_good(name: str, value: object, default: object) -> bool:
    if type(value) is not type(default):
        return False
    if isinstance(value, int):
        return abs(value) <= FARTHEST_OFFSET_MS
    if isinstance(value, str) and any(is_refused(letter) for letter in value):
        return False
    return value in {"sound_output": OUTPUTS, "view": VIEWS}.get(name, (value,))


def _warning(path: Path, name: str, message: str, hint: str) -> Problem:
    return Problem(str(path), 0, 0, name, message, hint, "warning")
