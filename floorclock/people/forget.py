"""Takes a person out of the records, at their wish.

Invariant: each journal is as it was or without them, never half of either; the file of spellings goes last, so that after a
death in the middle the same command, with any of the names, finishes. Backups and exports that were made before are out of
reach; the statement says so.
"""

from __future__ import annotations

import contextlib
from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Protocol

from floorclock.errors import ResourceError, WrongUsage
from floorclock.journal.beat import beat_path
from floorclock.journal.disk import Disk, bytes_if_there, disk_words
from floorclock.journal.files import BESIDE, replace_whole
from floorclock.journal.instants import instant_text
from floorclock.journal.kept_lines import lock_lines
from floorclock.journal.lines import decode, encode, pieces
from floorclock.journal.lock import ClassInUse, ClassLock, is_open
from floorclock.journal.redact import Mentions, Share, without
from floorclock.journal.replay import Plans
from floorclock.live.conductor import SystemClock
from floorclock.people.known import journals_of, known_names, nobody_called
from floorclock.people.register import FORGOTTEN, people_path, read_register
from floorclock.plan.names import plain

MOST_NAMED = 5
ELSEWHERE = (
    "Not reached: backups, exports and pages that were made before, and roster files of your own still hold the name. "
    "Delete them, or make them again; a backup that is restored brings the person back."
)


class Index(Protocol):
    """A store that was made from the journals."""

    def forget(self, names: Collection[str], class_ids: Collection[str]) -> None:
        """Takes the names out, rows and all, and makes these classes again from their journals."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """What the records hold of a person: in which classes, how much, under which spellings.

    `in_plans` are classes whose plan has the name in its text; `unended` are classes of theirs that can still go on.
    """

    name: str
    spellings: tuple[str, ...]
    classes: tuple[str, ...]
    share: Share
    in_plans: tuple[str, ...] = ()
    unended: tuple[str, ...] = ()
    decisions: int = 0
    """Lines in the file of spellings that name them."""

    @property
    def words(self) -> str:
        """What would go, in a few lines."""
        lines = [f"{self.name} is in {_counted(len(self.classes), 'class', 'classes')}: {_share_words(self.share)}."]
        lines += _spelling_words(self.spellings)
        if self.unended:
            lines.append(f"Not ended yet: {_listed(self.unended)}. End it first (floorclock resume {self.unended[0]}).")
        return "\n".join(lines + _plan_words(self.in_plans))


@dataclass(frozen=True, slots=True, kw_only=True)
class Forgotten:
    """What was taken out. `spellings`, `classes` and `share` as in `Kept`; `files` counts torn ends that went whole."""

    name: str
    spellings: tuple[str, ...]
    classes: tuple[str, ...]
    share: Share
    in_plans: tuple[str, ...] = ()
    files: int = 0
    decisions: int = 0

    @property
    def words(self) -> str:
        """The statement of what was removed."""
        lines = [
            f"{self.name} was taken out of {_counted(len(self.classes), 'class', 'classes')}: {_share_words(self.share)}, "
            f"{_counted(self.share.lines, 'line', 'lines')} in all."
        ]
        lines += _spelling_words(self.spellings)
        if self.share.fragments or self.files:
            torn = _counted(self.share.fragments + self.files, "damaged or torn piece", "damaged or torn pieces")
            lines.append(f"{torn} of journals that held or could hold the name went too.")
        lines += _plan_words(self.in_plans)
        return "\n".join([*lines, "What everybody else did in these classes stands as it was.", ELSEWHERE])


def what_is_kept(home: Path, name: str) -> Kept:
    """What the records hold of a person, under every spelling that was merged. Changes nothing.

    Raises:
        NotFound: nobody of that name is in the records; names the nearest.
        ResourceError: the disk does not give a journal.
    """
    spellings, plans = _spellings(home, name), Plans()
    classes: list[str] = []
    in_plans: list[str] = []
    unended: list[str] = []
    share = Share()
    for path in journals_of(home):
        parting = without(_bytes_of(path), spellings, plans)
        in_plans += [path.stem] if parting.in_plan else []
        if parting.share is not None:
            classes.append(path.stem)
            unended += [] if parting.ended else [path.stem]
            share += parting.share
    decisions = len(_decisions(home, spellings)[1])
    if not classes and not decisions:
        raise nobody_called(name, known_names(home))
    return Kept(
        name=spellings[0],
        spellings=spellings,
        classes=tuple(classes),
        share=share,
        in_plans=tuple(in_plans),
        unended=tuple(unended),
        decisions=decisions,
    )


def forget(
    home: Path, name: str, *, index: Index | None = None, wall: datetime | None = None, disk: Disk | None = None
) -> Forgotten:
    """Takes a person out of every journal, of the index and of the file of spellings; says what went.

    Raises:
        NotFound: nobody of that name is in the records.
        WrongUsage: a class of theirs has not ended; nothing was changed then.
        ResourceError: a class of theirs is open in a floor, or the disk refuses. What was done until then is done: the same
            command again does the rest.
    """
    kept = what_is_kept(home, name)
    _refuse_what_goes_on(home, kept)
    share, files, plans = Share(), 0, Plans()
    classes: list[str] = []
    for path in journals_of(home):
        if path.stem not in kept.classes and not _hold(_beside(path), kept.spellings):
            continue
        took, torn = _take_out_of(path, kept.spellings, plans, disk or Disk())
        files += torn
        if took is not None:
            share += took
            classes.append(path.stem)
    if index is not None:
        index.forget(kept.spellings, classes)
    decisions = _drop_decisions(home, kept.spellings, wall or SystemClock().wall(), disk or Disk())
    return Forgotten(
        name=kept.name,
        spellings=kept.spellings,
        classes=tuple(classes),
        share=share,
        in_plans=kept.in_plans,
        files=files,
        decisions=decisions,
    )


def _spellings(home: Path, name: str) -> tuple[str, ...]:
    return read_register(home).spellings(plain(name))


def _bytes_of(path: Path) -> bytes:
    return bytes_if_there(path, f"the journal of class {path.stem}")


def _refuse_what_goes_on(home: Path, kept: Kept) -> None:
    for class_id in kept.classes:
        path = home / "classes" / f"{class_id}.jsonl"
        if is_open(path):
            raise ClassInUse(class_id, 0)
    if kept.unended:
        raise WrongUsage(
            f"{kept.name} is in {_listed(kept.unended)}, which has not ended: end it first (floorclock resume {kept.unended[0]});"
            " nothing was changed"
        )


def _take_out_of(path: Path, spellings: Collection[str], plans: Plans, disk: Disk) -> tuple[Share | None, int]:
    """Takes the person out of one class, under its lock; what went of the journal, and how many files beside it."""
    try:
        lock = ClassLock.take(path)
    except OSError as error:
        raise ResourceError(f"class {path.stem} cannot be changed: {disk_words(error)}") from error
    try:
        # Read again: only now can nobody add to it.
        parting = without(_bytes_of(path), spellings, plans)
        if parting.share is not None and not parting.ended:
            raise WrongUsage(f"class {path.stem} has not ended: end it first (floorclock resume {path.stem})")
        files = _remove(_beside(path), disk)
        if parting.share is not None and parting.data.strip():
            replace_whole(path, parting.data, disk)
        elif parting.share is not None:
            _remove([path], disk)
        return parting.share, files
    except OSError as error:
        raise ResourceError(f"class {path.stem} could not be changed: {disk_words(error)}") from error
    finally:
        lock.release()


def _beside(path: Path) -> list[Path]:
    """What a class leaves beside its journal: torn ends, a file that a death left half made, where its clock stood."""
    return [path.with_suffix(".torn"), path.with_suffix(BESIDE), beat_path(path)]


def _hold(paths: list[Path], spellings: Collection[str]) -> bool:
    mentions = Mentions(spellings)
    return any(mentions.are_words_of(_bytes_of(path)) for path in paths if path.is_file())


def _remove(paths: list[Path], disk: Disk) -> int:
    removed = 0
    for path in paths:
        with contextlib.suppress(FileNotFoundError):
            path.unlink()
            removed += 1
    if removed:
        disk.sync_folder(paths[0].parent)
    return removed


def _decisions(home: Path, spellings: Collection[str]) -> tuple[bytes, list[bytes]]:
    """The file of spellings without what names a person, and what does."""
    mentions = Mentions(spellings)
    kept: list[bytes] = []
    gone: list[bytes] = []
    for piece in pieces(_bytes_of(people_path(home))):
        if piece.ends:
            if kept and not kept[-1].endswith(b"\n"):
                kept.append(piece.data)
        elif mentions.stand_in(decode(piece.data)) if piece.whole else mentions.are_words_of(piece.data):
            gone.append(piece.data)
        else:
            kept.append(piece.data)
    return b"".join(kept), gone


def _drop_decisions(home: Path, spellings: Collection[str], wall: datetime, disk: Disk) -> int:
    """Takes the person out of the file of spellings; that somebody was forgotten, and when, stays."""
    path = people_path(home)
    lock = lock_lines(path)
    try:
        data, gone = _decisions(home, spellings)
        if data and not data.endswith(b"\n"):
            data += b"\n"
        _remove([path.with_suffix(".torn")], disk)
        replace_whole(path, data + encode({"at": instant_text(wall), "event": FORGOTTEN}), disk)
        return len(gone)
    except OSError as error:
        raise ResourceError(f"the spellings could not be taken out: {disk_words(error)}; do it again") from error
    finally:
        lock.release()


def _counted(count: int, one: str, several: str) -> str:
    return f"{count} {one if count == 1 else several}"


def _share_words(share: Share) -> str:
    words = [
        _counted(share.splits, "split", "splits"),
        _counted(share.results, "result", "results"),
        _counted(share.efforts, "effort rating", "effort ratings"),
    ]
    return ", ".join(words)


def _spelling_words(spellings: tuple[str, ...]) -> list[str]:
    return [f"{len(spellings)} spellings: {', '.join(spellings)}."] if len(spellings) > 1 else []


def _plan_words(ids: tuple[str, ...]) -> list[str]:
    if not ids:
        return []
    return [f"The name stands in the text of the plan of {_listed(ids)}: that is the coach's own text, and it was left alone."]


def _listed(ids: tuple[str, ...]) -> str:
    more = len(ids) - MOST_NAMED
    return ", ".join(ids[:MOST_NAMED]) + (f" and {more} more" if more > 0 else "")
