"""Takes a person out of the records, at their wish.

Invariant: each journal is as it was or without them, never half of either. What is begun stands in a file of its own until all of
it is done (`forgetting.jsonl`), so that after a death or a refusal in the middle the next start, or the same command with any of
the names, finishes. Backups and exports that were made before are out of reach; the statement says so.
"""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Collection
from contextlib import AbstractContextManager
from dataclasses import asdict, dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import Protocol

from floorclock.errors import FloorclockError, ResourceError, WrongUsage
from floorclock.journal.beat import beat_path
from floorclock.journal.disk import Disk, bytes_if_there, disk_words
from floorclock.journal.files import BESIDE, replace_whole
from floorclock.journal.instants import instant_text
from floorclock.journal.kept_lines import append_lines, lock_lines, read_lines
from floorclock.journal.lines import encode, pieces
from floorclock.journal.lock import ClassInUse, ClassLock, is_open
from floorclock.journal.redact import Mentions, PersonShare, without
from floorclock.journal.shelf import journals_of
from floorclock.live.conductor import SystemClock
from floorclock.people.known import known_names, nobody_called
from floorclock.people.register import FORGOTTEN, people_path, spellings_of
from floorclock.plan.names import counted, first_few, plain

FILE = "forgetting.jsonl"
ELSEWHERE = (
    "Not reached: backups, exports and pages that were made before, and roster files of your own still hold the name. "
    "Delete them, or make them again; a backup that is restored brings the person back."
)


class Index(Protocol):
    """A store that was made from the journals. `shown` names it to people, without a password."""

    shown: str

    def forget(self, names: Collection[str], class_ids: Collection[str]) -> None:
        """Takes the names out, rows and all, and makes these classes again from their journals."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PersonRecords:
    """What the records hold, or held, of a person: in which classes, how much, under which spellings.

    `classes` has their rehearsals too, `rehearsals` those alone. `in_plans` are classes whose plan has the name in its text,
    `unended` those that can still go on. `files` counts torn ends that went whole.
    """

    name: str
    spellings: tuple[str, ...]
    classes: tuple[str, ...]
    share: PersonShare
    rehearsals: tuple[str, ...]
    in_plans: tuple[str, ...]
    unended: tuple[str, ...]
    begun: tuple[str, ...]
    """Classes that an earlier forgetting, which was not finished, had set out to change."""
    unread: tuple[str, ...]
    """Classes that cannot be looked into, with why."""
    files: int = 0

    def _begin(self, verb: str, more: str = "") -> list[str]:
        """`Ilka is in 3 classes and 11 rehearsals: 2 splits, 0 results, 1 effort rating.`, and a line with the spellings."""
        # A page of theirs counts the classes alone.
        many = {"class": len(self.classes) - len(self.rehearsals), "rehearsal": len(self.rehearsals)}
        where = " and ".join(counted(number, noun) for noun, number in many.items() if number) or counted(0, "class")
        share = {"split": self.share.splits, "result": self.share.results, "effort rating": self.share.efforts}
        lines = [f"{self.name} {verb} {where}: {', '.join(counted(number, noun) for noun, number in share.items())}{more}."]
        return lines + ([f"{len(self.spellings)} spellings: {', '.join(self.spellings)}."] if len(self.spellings) > 1 else [])

    @property
    def would_go(self) -> str:
        """What would go, in a few lines."""
        lines = self._begin("is in")
        if self.unended:
            lines.append(f"Not ended yet: {first_few(self.unended)}. End it first ({_ends(self.unended[0])}).")
        if self.begun:
            lines.append("It was begun before and not finished: the index and the spellings may hold the name still.")
        lines += _unread_words(self.unread)
        return "\n".join(lines + _plan_words(self.in_plans))

    @property
    def went(self) -> str:
        """The statement of what was removed."""
        lines = self._begin("was taken out of", f", {counted(self.share.lines, 'line')} in all")
        if self.share.fragments or self.files:
            torn = counted(self.share.fragments + self.files, "damaged or torn piece")
            lines.append(f"{torn} of journals that held or could hold the name went too.")
        lines += _plan_words(self.in_plans)
        lines += _unread_words(self.unread)
        return "\n".join([*lines, "What everybody else did in these classes stands as it was.", ELSEWHERE])


def what_is_kept(home: Path, name: str) -> PersonRecords:
    """What the records hold of a person, under every spelling that was merged. Changes nothing.

    Raises:
        NotFound: nobody of that name is in the records; names the nearest.
        ResourceError: the disk does not give the file of spellings.
    """
    begun = _begun(home, name)
    spellings = tuple(dict.fromkeys((*spellings_of(home, name), *begun.names)))
    unread: list[str] = []
    classes: list[str] = []
    rehearsals: list[str] = []
    in_plans: list[str] = []
    unended: list[str] = []
    share = PersonShare()
    for path in journals_of(home):
        try:
            redacted = without(_bytes_of(path), spellings)
        except ResourceError as error:
            unread.append(str(error))
            continue
        in_plans += [path.stem] if redacted.in_plan else []
        if redacted.share is not None:
            classes.append(path.stem)
            rehearsals += [path.stem] if redacted.rehearsal else []
            unended += [] if redacted.ended else [path.stem]
            share += redacted.share
    if not classes and not _decisions(home, spellings)[1] and not begun.names:
        raise nobody_called(name, known_names(home))
    return PersonRecords(
        name=spellings[0],
        spellings=spellings,
        classes=tuple(classes),
        share=share,
        rehearsals=tuple(rehearsals),
        in_plans=tuple(in_plans),
        unended=tuple(unended),
        begun=begun.classes,
        unread=tuple(unread),
    )


def forget(
    home: Path, name: str, *, index: Index | None = None, wall: datetime | None = None, disk: Disk | None = None
) -> PersonRecords:
    """Takes a person out of every journal, of the index and of the file of spellings; says what went.

    Raises:
        NotFound: nobody of that name is in the records.
        WrongUsage: a class of theirs has not ended; nothing was changed then.
        ResourceError: a class of theirs is open in a floor, or the disk or the index refuses. What was done until then is done:
            the next start (`finish_forgetting`), or the same command, does the rest.
    """
    kept = what_is_kept(home, name)
    _refuse_what_goes_on(home, kept)
    wall, disk = wall or SystemClock().wall(), disk or Disk()
    classes_of_theirs = tuple(dict.fromkeys((*kept.begun, *kept.classes)))
    _set_out(home, _Begun(kept.spellings, classes_of_theirs, "" if index is None else index.shown), wall, disk)
    share, files = PersonShare(), 0
    classes: list[str] = []
    for path in journals_of(home):
        if path.stem not in kept.classes and not _hold(_beside(path), kept.spellings):
            continue
        took, torn = _take_out_of(path, kept.spellings, disk)
        files += torn
        if took is not None:
            share += took
            classes.append(path.stem)
    if index is not None:
        try:
            index.forget(kept.spellings, classes_of_theirs)
        except FloorclockError as error:
            left = "the journals are done; the index may hold the name still, the spellings do"
            raise ResourceError(f"not finished, {left}: {error}; the next start goes on with it, or the same command") from error
    _drop_decisions(home, kept.spellings, wall, disk)
    _done(home, kept.spellings, disk)
    rehearsals = tuple(class_id for class_id in classes if class_id in kept.rehearsals)
    return replace(kept, classes=tuple(classes), share=share, rehearsals=rehearsals, files=files)


def finish_forgetting(home: Path, open_index: Callable[[], AbstractContextManager[Index]]) -> tuple[str, ...]:
    """Goes on with every forgetting that was begun and not finished; what is to be told of it, nothing where there was none.

    Whatever is in the way is told and not raised: it stops nobody's class.
    """
    told: list[str] = []
    for begun in _all_begun(home):
        name = begun.names[0]
        try:
            with open_index() as index:
                if begun.index not in ("", index.shown):
                    raise ResourceError(f"{begun.index} may hold the name still; floorclock forget with --store does the rest")
                forget(home, name, index=index)
            told.append(f"taking {name} out of the records was not finished; it is now")
        except FloorclockError as error:
            told.append(f"taking {name} out of the records is not finished: {error}")
    return tuple(told)


@dataclass(frozen=True, slots=True)
class _Begun:
    """A forgetting on its way: the names, the classes that held them, and the index to be brought up to date."""

    names: tuple[str, ...] = ()
    classes: tuple[str, ...] = ()
    index: str = ""


def _all_begun(home: Path) -> tuple[_Begun, ...]:
    found = []
    for line in read_lines(home / FILE):
        names, classes = line.get("names"), line.get("classes")
        if isinstance(names, list) and names and isinstance(classes, list):
            found.append(_Begun(tuple(map(str, names)), tuple(map(str, classes)), str(line.get("index", ""))))
    return tuple(found)


def _begun(home: Path, name: str) -> _Begun:
    return next((begun for begun in _all_begun(home) if plain(name) in begun.names), _Begun())


def _set_out(home: Path, begun: _Begun, wall: datetime, disk: Disk) -> None:
    """Notes what is to be done, before anything is."""
    path = home / FILE
    with lock_lines(path):
        if begun in _all_begun(home):
            return
        try:
            append_lines(path, [{"at": instant_text(wall), **asdict(begun)}], disk)
        except ResourceError as error:
            raise ResourceError(f"nothing was changed; {error}") from error


def _done(home: Path, names: Collection[str], disk: Disk) -> None:
    path = home / FILE
    try:
        with lock_lines(path):
            left = [line for line in read_lines(path) if not set(line.get("names", ())) & set(names)]
            if left:
                replace_whole(path, b"".join(encode(line) for line in left), disk)
            else:
                _remove([path], disk)
    except OSError as error:
        raise ResourceError(f"all is taken out but the note that it was begun: {disk_words(error)}; do it again") from error


def _bytes_of(path: Path) -> bytes:
    return bytes_if_there(path, f"the journal of class {path.stem}")


def _refuse_what_goes_on(home: Path, kept: PersonRecords) -> None:
    for class_id in kept.classes:
        path = home / "classes" / f"{class_id}.jsonl"
        if is_open(path):
            raise ClassInUse(class_id, 0)
    if kept.unended:
        raise WrongUsage(
            f"{kept.name} is in {first_few(kept.unended)}, which has not ended: "
            f"end it first ({_ends(kept.unended[0])}); nothing was changed"
        )


def _take_out_of(path: Path, spellings: Collection[str], disk: Disk) -> tuple[PersonShare | None, int]:
    """Takes the person out of one class, under its lock; what went of the journal, and how many files beside it."""
    try:
        with ClassLock.take(path):
            # Read again: only now can nobody add to it.
            redacted = without(_bytes_of(path), spellings)
            if redacted.share is not None and not redacted.ended:
                raise WrongUsage(f"class {path.stem} has not ended: end it first ({_ends(path.stem)})")
            files = _remove(_beside(path), disk)
            if redacted.share is not None and redacted.data.strip():
                replace_whole(path, redacted.data, disk)
            elif redacted.share is not None:
                _remove([path], disk)
            return redacted.share, files
    except OSError as error:
        raise ResourceError(f"class {path.stem} could not be changed: {disk_words(error)}") from error


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


def _decisions(home: Path, spellings: Collection[str]) -> tuple[bytes, bool]:
    """The file of spellings without what names a person, and whether anything does."""
    mentions = Mentions(spellings)
    kept: list[bytes] = []
    named = False
    for piece in pieces(_bytes_of(people_path(home))):
        if piece.ends:
            if kept and not kept[-1].endswith(b"\n"):
                kept.append(piece.data)
        elif mentions.stand_in_piece(piece):
            named = True
        else:
            kept.append(piece.data)
    return b"".join(kept), named


def _drop_decisions(home: Path, spellings: Collection[str], wall: datetime, disk: Disk) -> None:
    """Takes the person out of the file of spellings; that somebody was forgotten, and when, stays."""
    path = people_path(home)
    try:
        with lock_lines(path):
            data, _ = _decisions(home, spellings)
            if data and not data.endswith(b"\n"):
                data += b"\n"
            _remove([path.with_suffix(".torn")], disk)
            replace_whole(path, data + encode({"at": instant_text(wall), "event": FORGOTTEN}), disk)
    except OSError as error:
        raise ResourceError(f"the spellings could not be taken out: {disk_words(error)}; do it again") from error


def _ends(class_id: str) -> str:
    return f"floorclock resume {class_id}, then F10"


def _plan_words(ids: tuple[str, ...]) -> list[str]:
    if not ids:
        return []
    return [f"The name stands in the text of the plan of {first_few(ids)}: that is the coach's own text, and it was left alone."]


def _unread_words(unread: tuple[str, ...]) -> list[str]:
    return [f"Not looked into, so they may hold the name still: {'; '.join(unread)}."] if unread else []
