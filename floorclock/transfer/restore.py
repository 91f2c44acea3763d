"""Brings a backup back.

Invariant: every sum is checked before anything is written, and a backup with anything wrong is refused whole. What is here
already stays: a journal is never put over another one, and settings never over settings.
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass, field
from pathlib import Path

from floorclock.errors import ResourceError
from floorclock.journal.disk import Disk, disk_words, private_folder
from floorclock.journal.instants import instant_or_none
from floorclock.journal.kept_lines import lines_of
from floorclock.journal.replacing import replace_whole
from floorclock.journal.settings import FILE as SETTINGS
from floorclock.people.register import FILE as PEOPLE
from floorclock.people.register import TakenDecisions, read_register, register_of, take_decisions
from floorclock.transfer.archive import ABOUT, FORMAT, SUMS, BadBackup, reading, sums_of
from floorclock.transfer.taking_in import Placing, what_was_left


@dataclass(frozen=True, slots=True, kw_only=True)
class Restored:
    """What came back. `same`, `older` and `different` as when an export is taken in.

    `forgotten_since` counts the people who were forgotten here after the backup was made: it may have brought them back.
    """

    file: str
    made: str
    taken: tuple[str, ...] = ()
    same: tuple[str, ...] = ()
    older: tuple[str, ...] = ()
    different: tuple[str, ...] = ()
    decisions: TakenDecisions = field(default_factory=TakenDecisions)
    settings: str = ""
    """What became of the settings, in a few words; empty where there were none."""
    forgotten_since: int = 0

    @property
    def words(self) -> str:
        """What happened, in a few lines."""
        lines = [f"{self.file}, made {self.made}: {len(self.taken)} classes restored, {len(self.same)} were here already."]
        lines += what_was_left(self.older, self.different, self.decisions, "restored")
        if self.settings:
            lines.append(f"Settings: {self.settings}.")
        if self.forgotten_since and self.taken:
            people = "1 person was" if self.forgotten_since == 1 else f"{self.forgotten_since} people were"
            lines.append(
                f"{people} forgotten here since it was made, and may be back in the restored classes: forget them again."
            )
        return "\n".join(lines)


def restore(home: Path, file: Path, *, disk: Disk | None = None) -> Restored:
    """Brings everything back that is not here.

    Raises:
        NotFound: there is no such file.
        InputProblems: it is no whole backup (`BadBackup`), or was changed; nothing was restored.
        ResourceError: it cannot be read, or the disk refuses; each class is there whole or not at all.
    """
    digests, made = _checked(file)
    shelf = Placing(home, disk)
    decisions, settings = TakenDecisions(), ""
    since = sum(1 for when in read_register(home).forgotten if _is_after(when, made))
    with reading(file) as packed:
        for one in packed:
            if one.name in (SUMS, ABOUT):
                continue
            if hashlib.sha256(one.data).hexdigest() != digests.get(one.name):
                raise BadBackup(file, "it was changed while it was read", "do it again")
            if one.class_id:
                shelf.place(one.class_id, one.data)
            elif one.name == PEOPLE:
                found = lines_of(one.data)
                decisions = take_decisions(home, register_of(found.lines, found.damaged), disk=disk)
            elif one.name == SETTINGS:
                settings = _settings(home / SETTINGS, one.data, disk)
    return Restored(
        file=file.name,
        made=made,
        taken=tuple(shelf.taken),
        same=tuple(shelf.same),
        older=tuple(shelf.older),
        different=tuple(shelf.different),
        decisions=decisions,
        settings=settings,
        forgotten_since=since,
    )


def _checked(file: Path) -> tuple[dict[str, str], str]:
    """The sums of a backup in which every one fits, and when it was made."""
    found: dict[str, str] = {}
    about, sums = b"", b""
    with reading(file) as packed:
        for one in packed:
            if sums:
                raise BadBackup(file, "something stands behind its sums")
            if one.name == SUMS:
                sums = one.data
                continue
            found[one.name] = hashlib.sha256(one.data).hexdigest()
            about = one.data if one.name == ABOUT else about
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


def _is_after(when: str, made: str) -> bool:
    one, other = instant_or_none(when), instant_or_none(made)
    return one is not None and other is not None and one > other


def _settings(path: Path, data: bytes, disk: Disk | None) -> str:
    try:
        if not path.exists():
            private_folder(path.parent)
            replace_whole(path, data, disk)
            return "restored"
        return "the same" if path.read_bytes() == data else "this machine has its own, which were left"
    except OSError as error:
        raise ResourceError(f"the settings could not be restored: {disk_words(error)}") from error
