"""Files that leave the data folder: made beside, then put in their place under their name.

Invariant: what stands under the name is whole; it is for its owner's eyes only, for it holds names.
"""

from __future__ import annotations

import contextlib
import os
import shutil
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import IO

from floorclock.errors import ResourceError, WrongUsage
from floorclock.journal.disk import Disk, disk_words, open_private


@contextlib.contextmanager
def new_folder(folder: Path) -> Iterator[Path]:
    """A folder to fill, which gets its name when all went well; it may be there already, if it is empty.

    Raises:
        WrongUsage: something is there, or the folder above it is missing.
        ResourceError: the disk refuses; nothing is left.
    """
    if not folder.parent.is_dir():
        raise WrongUsage(f"there is no folder {folder.parent}")
    if folder.exists() and not (folder.is_dir() and not any(folder.iterdir())):
        raise WrongUsage(f"{folder} is there already; name a new folder")
    made = None
    try:
        made = Path(tempfile.mkdtemp(prefix=f".{folder.name[:40]}.", suffix=".new", dir=folder.parent))
        yield made
        for path in made.iterdir():
            _sync(path)
        Disk().sync_folder(made)
        made.rename(folder)
        Disk().sync_folder(folder.parent)
    except OSError as error:
        raise ResourceError(f"{folder} cannot be written: {disk_words(error)}") from error
    finally:
        if made is not None:
            shutil.rmtree(made, ignore_errors=True)


@contextlib.contextmanager
def new_file(path: Path) -> Iterator[IO[bytes]]:
    """A file to write, which gets its name when all went well.

    Raises:
        WrongUsage: something is there, or the folder is missing.
        ResourceError: the disk refuses; nothing is left.
    """
    if not path.parent.is_dir():
        raise WrongUsage(f"there is no folder {path.parent}")
    if path.exists() or path.is_symlink():
        raise WrongUsage(f"{path} is there already; name a new file")
    beside = None
    try:
        descriptor, name = tempfile.mkstemp(prefix=f".{path.name[:40]}.", suffix=".new", dir=path.parent)
        beside = Path(name)
        with os.fdopen(descriptor, "wb") as file:
            yield file
            file.flush()
            Disk().sync(file.fileno())
        # A link and not a rename: what came there meanwhile is not written over.
        os.link(beside, path)
        Disk().sync_folder(path.parent)
    except FileExistsError:
        raise WrongUsage(f"{path} is there already; name a new file") from None
    except OSError as error:
        raise ResourceError(f"{path} cannot be written: {disk_words(error)}") from error
    finally:
        if beside is not None:
            with contextlib.suppress(OSError):
                beside.unlink()


def open_text(path: Path) -> IO[str]:
    """A new text file for its owner only, in UTF-8, line ends as they are written.

    Raises:
        OSError: the disk refuses.
    """
    return os.fdopen(open_private(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL), "w", encoding="utf-8", newline="")


def _sync(path: Path) -> None:
    descriptor = os.open(path, os.O_RDONLY | os.O_CLOEXEC)
    try:
        Disk().sync(descriptor)
    finally:
        os.close(descriptor)
