"""Brings a backup back.

Invariant: every sum is checked before anything is written, and a backup with anything wrong is refused whole. What is here
already stays: a journal is never put over another one, and settings never over settings.
"""

from __future__ import annotations

import hashlib
import json
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path
from typing import get_args

from floorclock.errors import ResourceError
from floorclock.journal.disk import Disk, disk_words, private_folder, read_file
from floorclock.journal.files import replace_whole
from floorclock.journal.home import JOURNAL_SUFFIX, classes_folder
from floorclock.journal.instants import instant_or_none, read_instant
from floorclock.journal.kept_lines import lines_of
from floorclock.journal.settings import FILE as SETTINGS
from floorclock.journal.whole import Met, UnusableJournal, take_journal
from floorclock.people.register import FILE as PEOPLE
from floorclock.people.register import TakenDecisions, read_register, register_of, take_decisions
from floorclock.transfer.backup import ABOUT, FORMAT, SUMS, BadBackup, packed_files, sums_of


@dataclass(frozen=True, slots=True, kw_only=True)
class Restored:
    """What came back: `taken` were not here, `longer` were here with less in them and are whole now.

    `same` were here already; `older` are here with more in them; `different` are here with another content.
    `forgotten_since` counts the people who were forgotten here after the backup was made: it may have brought them back.
    """

    file: str
    made: str
    taken: tuple[str, ...] = ()
    longer: tuple[str, ...] = ()
    same: tuple[str, ...] = ()
    older: tuple[str, ...] = ()
    different: tuple[str, ...] = ()
    unread: tuple[str, ...] = ()
    """Classes here that cannot be read or changed, with why; what the backup has of them was left out."""
    decisions: TakenDecisions = field(default_factory=TakenDecisions)
    settings: str = ""
    """What became of the settings, in a few words; empty where there were none."""
    forgotten_since: int = 0

    @property
    def words(self) -> str:
        """What happened, in a few lines."""
        lines = [f"{self.file}, made {self.made}: {len(self.taken)} classes restored, {len(self.same)} were here already."]
        if self.longer:
            lines.append(f"Here with less in them, so gone on with: {', '.join(self.longer)}.")
        if self.older:
            lines.append(f"Here with more in them, so left: {', '.join(self.older)}.")
        if self.different:
            lines.append(f"Here with another content, so left as they are: {', '.join(self.different)}.")
        if self.unread:
            lines.append(f"Left out, because what is here cannot be read or changed: {'; '.join(self.unread)}.")
        if self.decisions.taken or self.decisions.left:
            left = f"; {self.decisions.left} go against what was decided here and were left" if self.decisions.left else ""
            lines.append(f"Who is the same person: {self.decisions.taken} decisions restored{left}.")
        if self.settings:
            lines.append(f"Settings: {self.settings}.")
        if self.forgotten_since and self.taken:
            people = "1 person was" if self.forgotten_since == 1 else f"{self.forgotten_since} people were"
            lines.append(
                f"{people} forgotten here since it was made, and may be back in the restored classes: forget them again."
            )
        return "\n".join(lines)


def restore(home: Path, file: Path, *, disk: Disk | None = None) -> Restored:
    """Brings everything back that is not here, and goes on with classes of which less is here.

    Raises:
        NotFound: there is no such file.
        InputProblems: it is no whole backup (`BadBackup`), or was changed; nothing was restored.
        ResourceError: it cannot be read, or the disk refuses; each class is there whole or not at all.
    """
    digests, made = _checked(file)
    folder = classes_folder(home)
    met: dict[str, list[str]] = {name: [] for name in (*get_args(Met), "unread")}
    decisions, settings = TakenDecisions(), ""
    made_at = read_instant(made)
    since = sum(read_instant(when) > made_at for when in read_register(home).forgotten)
    with closing(packed_files(file)) as packed:
        for entry in packed:
            if entry.name in (SUMS, ABOUT):
                continue
            if hashlib.sha256(entry.data).hexdigest() != digests.get(entry.name):
                raise BadBackup(file, "it was changed while it was read", "do it again")
            if entry.class_id:
                try:
                    met[take_journal(folder / f"{entry.class_id}{JOURNAL_SUFFIX}", entry.data, disk)].append(entry.class_id)
                except UnusableJournal as error:
                    met["unread"].append(str(error))
            elif entry.name == PEOPLE:
                decisions = take_decisions(home, register_of(lines_of(entry.data)), disk=disk)
            elif entry.name == SETTINGS:
                settings = _settings(home / SETTINGS, entry.data, disk)
    return Restored(
        file=file.name,
        made=made,
        **{name: tuple(ids) for name, ids in met.items()},
        decisions=decisions,
        settings=settings,
        forgotten_since=since,
    )


def _checked(file: Path) -> tuple[dict[str, str], str]:
    """The sums of a backup in which every one fits, and when it was made."""
    found: dict[str, str] = {}
    about, sums = b"", b""
    with closing(packed_files(file)) as packed:
        for entry in packed:
            if sums:
                raise BadBackup(file, "something stands behind its sums")
            if entry.name == SUMS:
                sums = entry.data
                continue
            found[entry.name] = hashlib.sha256(entry.data).hexdigest()
            about = entry.data if entry.name == ABOUT else about
    if not sums:
        raise BadBackup(file, "its sums are missing: it is torn, or no backup")
    if sums_of(file, sums) != found:
        raise BadBackup(file, "a sum does not fit: a file in it was changed, or is missing")
    try:
        values = json.loads(about)
        made, version = values["made"], values["format"]
    except (ValueError, KeyError, TypeError):
        raise BadBackup(file, "it does not say when it was made") from None
    if version != FORMAT or instant_or_none(made) is None:
        raise BadBackup(file, "it was made by another version of floorclock", "restore it with that one")
    return found, made


def _settings(path: Path, data: bytes, disk: Disk | None) -> str:
    try:
        if not path.exists():
            private_folder(path.parent)
            replace_whole(path, data, disk)
            return "restored"
        return "the same" if read_file(path) == data else "this machine has its own, which were left"
    except OSError as error:
        raise ResourceError(f"the settings could not be restored: {disk_words(error)}") from error
