"""What POSIX gives and Windows does not, each with a plain fallback; nothing else asks which system this is.

Invariant: every function here works on every system. Where a system lacks the real thing, the fallback does less and breaks
nothing: a folder that cannot be forced to the disk is left as it is, a signal that there is not is not listened to.
"""

from __future__ import annotations

import contextlib
import errno
import os
import signal
import stat
import sys
import time
from collections.abc import Callable
from pathlib import Path

OPEN_FLAGS: int = getattr(os, "O_CLOEXEC", 0) | getattr(os, "O_BINARY", 0)
"""For every `os.open`: the file is closed in a child process, and no line end is translated."""
NO_WAIT: int = getattr(os, "O_NONBLOCK", 0)
"""For `os.open` of a path that a person named: a pipe without a writer opens at once and can be refused."""
TERMINAL = "CONOUT$" if sys.platform == "win32" else "/dev/tty"
"""The terminal itself, whatever the outputs are redirected to."""

_CANNOT_LOCK = (errno.ENOLCK, errno.EOPNOTSUPP, errno.ENOTSUP, errno.ENOSYS, errno.EINVAL)
_NO_LINKS = (errno.EPERM, errno.EOPNOTSUPP, errno.ENOTSUP, errno.ENOSYS, errno.EMLINK)


class NoLocksError(OSError):
    """The disk knows no locks."""


def lock(descriptor: int, *, shared: bool = False) -> bool:
    """Takes the lock of an open file without waiting; false where somebody else has it. It ends with the descriptor.

    Raises:
        NoLocksError: the disk knows no locks.
        OSError: the disk refuses.
    """
    try:
        return _lock(descriptor, shared)
    except OSError as error:
        if error.errno in _CANNOT_LOCK:
            raise NoLocksError(error.errno, error.strerror) from error
        raise


def sync_file(descriptor: int) -> None:
    """Comes back when everything written to an open file is on the disk itself.

    Raises:
        OSError: the disk refuses.
    """
    if sys.platform == "darwin":
        import fcntl

        # There `fsync` leaves data in the drive's own cache, this does not.
        try:
            fcntl.fcntl(descriptor, fcntl.F_FULLFSYNC)
        except OSError as error:
            if error.errno not in (errno.ENOTSUP, errno.EINVAL, errno.ENOTTY):
                raise
        else:
            return
    os.fsync(descriptor)


def sync_data(descriptor: int) -> None:
    """As `sync_file`, for a file whose length has not changed: its data alone, where the system can tell them apart."""
    if sys.platform == "linux":
        os.fdatasync(descriptor)
    else:
        os.fsync(descriptor)


def sync_folder(folder: Path) -> None:
    """Comes back when the names in a folder are on the disk itself; where there is no way to force them, at once.

    Raises:
        OSError: the disk refuses.
    """
    if sys.platform == "win32":
        return
    descriptor = os.open(folder, os.O_RDONLY | os.O_DIRECTORY | OPEN_FLAGS)
    try:
        os.fsync(descriptor)
    except OSError as error:
        # Some file systems keep no folder of their own to sync; their names are as safe as they can be.
        if error.errno not in (errno.EINVAL, errno.ENOTSUP):
            raise
    finally:
        os.close(descriptor)


def set_mode(descriptor: int, mode: int) -> None:
    """Gives an open file its rights; where rights belong to the folder, nothing is done.

    Raises:
        OSError: the disk refuses.
    """
    if sys.platform != "win32" and stat.S_IMODE(os.fstat(descriptor).st_mode) != mode:
        os.fchmod(descriptor, mode)


def write_at_start(descriptor: int, data: bytes) -> int:
    """Writes over the beginning of an open file; how many bytes.

    Raises:
        OSError: the disk refuses.
    """
    if sys.platform == "win32":
        os.lseek(descriptor, 0, os.SEEK_SET)
        return os.write(descriptor, data)
    return os.pwrite(descriptor, data, 0)


def link_new(source: Path, target: Path) -> None:
    """Gives a file a second name that is free; on a disk without links (a stick) the file is moved there.

    Raises:
        FileExistsError: the name is taken.
        OSError: the disk refuses.
    """
    try:
        os.link(source, target)
    except OSError as error:
        if error.errno not in _NO_LINKS:
            raise
        if os.path.lexists(target):
            raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST), str(target)) from None
        source.rename(target)


def boot_ns() -> int:
    """Nanoseconds since the machine started, with those it slept; without them where the system keeps no such clock."""
    if sys.platform == "linux":
        return time.clock_gettime_ns(time.CLOCK_BOOTTIME)
    return time.monotonic_ns()


def on_stop(stop: Callable[[], object], add: Callable[[int, Callable[[], object]], object]) -> None:
    """Has `stop` called when a command, or a terminal that is closed, asks the program to end.

    `add` is an event loop's `add_signal_handler`; one that cannot listen to signals (on Windows) leaves them to the system.
    """
    for name in ("SIGTERM", "SIGHUP"):
        if hasattr(signal, name):
            with contextlib.suppress(NotImplementedError):
                add(getattr(signal, name), stop)


def halt() -> None:
    """Stops this process until it is told to go on, as a shell's Ctrl+Z does; nothing where programs cannot be stopped."""
    number = getattr(signal, "SIGSTOP", None)
    if number is not None:
        os.kill(os.getpid(), number)


def hung_up(descriptor: int) -> bool:
    """True when the terminal behind a file descriptor is gone; false where the system cannot tell."""
    if sys.platform == "win32":
        return False
    import select

    poll = select.poll()
    poll.register(descriptor, 0)
    gone = select.POLLHUP | select.POLLERR | select.POLLNVAL
    return any(happened & gone for _, happened in poll.poll(0))


if sys.platform == "win32":
    import msvcrt

    _LOCKED_BYTE = 1 << 30
    """Far behind anything that is written: a locked byte cannot be read there."""

    def _lock(descriptor: int, shared: bool) -> bool:
        os.lseek(descriptor, _LOCKED_BYTE, os.SEEK_SET)
        try:
            msvcrt.locking(descriptor, msvcrt.LK_NBLCK, 1)
        except PermissionError:
            return False
        finally:
            os.lseek(descriptor, 0, os.SEEK_SET)
        return True

else:
    import fcntl

    def _lock(descriptor: int, shared: bool) -> bool:
        try:
            fcntl.flock(descriptor, (fcntl.LOCK_SH if shared else fcntl.LOCK_EX) | fcntl.LOCK_NB)
        except BlockingIOError:
            return False
        return True
