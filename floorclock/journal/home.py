"""Where the records live, and how the files of a class are named.

Invariant: the files of one class differ in their suffix only: `.jsonl` (the journal), `.lock`, `.beat`, `.torn`.
"""

from __future__ import annotations

import contextlib
import secrets
from collections.abc import Mapping
from datetime import datetime
from pathlib import Path

from floorclock.errors import ResourceError
from floorclock.journal.disk import disk_words, private_folder

JOURNAL_SUFFIX = ".jsonl"
MINUTE_LENGTH = len("20261125-1831")
"""The part of a class id that is its minute; ids sort by it."""


def data_home(environ: Mapping[str, str]) -> Path:
    """The data folder: `FLOORCLOCK_HOME`, or the user's own; made if it is missing.

    Raises:
        ResourceError: it cannot be made.
    """
    wish = environ.get("FLOORCLOCK_HOME", "").strip()
    try:
        home = Path(wish).expanduser().absolute() if wish else None
    except RuntimeError as error:
        raise ResourceError(f"the data folder {wish} cannot be found: {error}") from None
    if home is None:
        # Imported on use: whoever names a folder of their own does not need it.
        from platformdirs import user_data_path

        home = user_data_path("floorclock", appauthor=False)
    _made(home)
    return home


def classes_folder(home: Path) -> Path:
    """The folder of the journals in a data folder; made if it is missing, closed to others if it is open to them.

    Raises:
        ResourceError: it cannot be made.
    """
    folder = home / "classes"
    _made(folder)
    if folder.stat().st_mode & 0o077:
        with contextlib.suppress(PermissionError):
            folder.chmod(0o700)
    return folder


def new_journal_path(home: Path, wall: datetime) -> Path:
    """Where the journal of a class that starts now will be. Its stem is the id of the class, such as `20261125-1831-7f3a`: its
    minute, and something to tell two apart.

    Raises:
        ResourceError: the folder cannot be made.
    """
    folder = classes_folder(home)
    while True:
        path = folder / f"{wall:%Y%m%d-%H%M}-{secrets.token_hex(2)}{JOURNAL_SUFFIX}"
        if not path.exists():
            return path


def _made(folder: Path) -> None:
    try:
        private_folder(folder)
    except OSError as error:
        raise ResourceError(f"the data folder {folder} cannot be made: {disk_words(error)}") from error
