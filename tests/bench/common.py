"""What the benchmarks share: figures with what they must be, timers, and floors in pseudo-terminals that are read all the time.

Invariant: a figure is only reported; nothing here fails because a machine was busy.
"""

from __future__ import annotations

import atexit
import contextlib
import os
import pty
import re
import select
import signal
import subprocess
import sys
import tempfile
import termios
import time
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import KW_ONLY, dataclass
from functools import lru_cache
from itertools import islice, product
from operator import itemgetter
from pathlib import Path
from typing import Final, Self

from floorclock.plan.roster import Athlete, Roster, give_keys
from floorclock.tui.run import TEXTUAL_FPS

TITLE: Final = "A long bench class"
WARM_UP_S: Final = 15.0
"""After its first picture a floor opens the sound, asks the records and looks at the plan again, once."""
COMMAND: Final = "from floorclock.cli.app import main; main()"
BARE: Final = ("-m", "tests.bench.floor_bare")


class NotHere(Exception):
    """This machine lacks something that a benchmark needs."""


@dataclass(frozen=True)
class Figure:
    """One line of the table: `most` is the target of the value, `most_times` that of its ratio to the baseline."""

    what: str
    value: float
    unit: str
    _: KW_ONLY
    baseline: float | None = None
    most: float | None = None
    most_times: float | None = None

    @property
    def ratio(self) -> float | None:
        """The value by the baseline."""
        return self.value / self.baseline if self.baseline else None

    @property
    def verdict(self) -> str:
        """`ok`, `NOT MET`, or nothing where there is no target."""
        judged = [(self.value, self.most), (self.ratio, self.most_times)]
        met = [value <= most for value, most in judged if value is not None and most is not None]
        return "" if not met else "ok" if all(met) else "NOT MET"

    def line(self) -> str:
        """What, value, baseline, ratio, target, verdict, in columns."""
        target = f"<= {self.most:g} {self.unit}" if self.most is not None else ""
        if self.most_times is not None:
            target = f"<= {self.most_times:g} x"
        baseline = f"{self.baseline:.2f}" if self.baseline is not None else ""
        ratio = f"{self.ratio:.2f} x" if self.ratio is not None else ""
        return f"{self.what:<58} {self.value:>9.2f} {self.unit:<6} {baseline:>9} {ratio:>8}  {target:<10} {self.verdict}".rstrip()


HEADING: Final = f"{'what':<58} {'value':>9} {'unit':<6} {'baseline':>9} {'ratio':>8}  {'target':<10}"


def took_ms(work: Callable[[], object], times: int = 1, clock: Callable[[], float] = time.process_time) -> float:
    """How long something takes, the quickest of so many times, by the processor or by another clock in seconds."""
    quickest_s = float("inf")
    for _ in range(times):
        began_s = clock()
        work()
        quickest_s = min(quickest_s, clock() - began_s)
    return 1000 * quickest_s


def quantile(values: Sequence[float], share: float) -> float:
    """The value below which that share of the values lies."""
    ordered = sorted(values)
    return ordered[min(len(ordered) - 1, int(share * len(ordered)))]


def medians(runs: Sequence[Mapping[str, float]]) -> dict[str, float]:
    """The median of each figure over several runs."""
    return {name: quantile([run[name] for run in runs], 0.5) for name in runs[0]}


@lru_cache(maxsize=1)
def compiled_folder() -> str:
    """Where the programs of this run keep what they compile; gone when it ends."""
    folder = tempfile.TemporaryDirectory(prefix="floorclock-bench-")
    atexit.register(folder.cleanup)
    return folder.name


class Program:
    """A Python program in a pseudo-terminal of its own. Somebody has to read it: `read`, or `watch` for several at once.

    It ends with its `with` at the latest: a bare app whose terminal is gone would keep a core busy for ever.
    """

    def __init__(self, arguments: Sequence[str], *, width: int = 160, height: int = 45, home: Path) -> None:
        self.terminal, theirs = pty.openpty()
        termios.tcsetwinsize(theirs, (height, width))
        told = {"TERM": "xterm-256color", "COLORTERM": "truecolor", "TEXTUAL_FPS": TEXTUAL_FPS, "FLOORCLOCK_HOME": str(home)}
        environment = {**os.environ, **told, "PYTHONPYCACHEPREFIX": compiled_folder()}
        # What is compiled once stays compiled for a coach; some development machines do without.
        environment.pop("PYTHONDONTWRITEBYTECODE", None)
        self.began_s = time.monotonic()
        self._process = subprocess.Popen(
            [sys.executable, *arguments], stdin=theirs, stdout=theirs, stderr=theirs, start_new_session=True, env=environment
        )
        os.close(theirs)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.end()

    def read(self, timeout_s: float) -> bytes:
        """What it wrote, or nothing within that time, or once it has ended."""
        if not select.select([self.terminal], [], [], max(0.0, timeout_s))[0]:
            return b""
        try:
            return os.read(self.terminal, 1 << 16)
        except OSError:
            return b""

    def wait_for(self, words: str, timeout_s: float = 30.0) -> tuple[float, bytes]:
        """Reads until the words have come; the monotonic time of that, and everything read."""
        seen = b""
        while time.monotonic() < self.began_s + timeout_s:
            data = self.read(0.5)
            now_s = time.monotonic()
            seen += data
            if words.encode() in seen:
                return now_s, seen
        raise SystemExit(f"{words!r} never came; the last of what did: {seen[-400:]!r}")

    def press(self, key: str) -> float:
        """Writes a key; the monotonic time just before it."""
        now_s = time.monotonic()
        os.write(self.terminal, key.encode())
        return now_s

    def cpu_s(self) -> float:
        """The CPU time it has taken so far, with that of its children that have ended."""
        fields = Path(f"/proc/{self._process.pid}/stat").read_text(encoding="utf-8").rpartition(") ")[2].split()
        return sum(int(ticks) for ticks in fields[11:15]) / os.sysconf("SC_CLK_TCK")

    def rss_mb(self) -> float:
        """The memory that it holds."""
        pages = int(Path(f"/proc/{self._process.pid}/statm").read_text(encoding="utf-8").split()[1])
        return pages * os.sysconf("SC_PAGE_SIZE") / 1e6

    def end(self, by: signal.Signals = signal.SIGKILL) -> None:
        """Ends it, once; with SIGTERM it says goodbye first."""
        if self._process.returncode is not None:
            return
        with contextlib.suppress(ProcessLookupError):
            self._process.send_signal(by)
        until_s = time.monotonic() + 10
        while self._process.poll() is None and time.monotonic() < until_s:
            self.read(0.05)
        self._process.kill()
        self._process.wait()
        os.close(self.terminal)


def watch(programs: Sequence[Program], until_s: float, on_bytes: Callable[[Program, bytes], None] = lambda _, __: None) -> None:
    """Reads several programs up to a monotonic time."""
    by_terminal = {program.terminal: program for program in programs}
    while (left_s := until_s - time.monotonic()) > 0:
        for terminal in select.select(list(by_terminal), [], [], left_s)[0]:
            on_bytes(by_terminal[terminal], by_terminal[terminal].read(0))


def play(programs: Sequence[Program], seconds: float, keys: Iterable[tuple[float, Program, str]] = ()) -> None:
    """Reads several programs for so long; a key is pressed so many seconds from now."""
    began_s = time.monotonic()
    for at_s, program, key in sorted(keys, key=itemgetter(0)):
        watch(programs, began_s + at_s)
        program.press(key)
    watch(programs, began_s + seconds)


def cpu_percents(programs: Sequence[Program], seconds: float, keys: Iterable[tuple[float, Program, str]] = ()) -> list[float]:
    """What each takes of a core over the same time, while keys are pressed."""
    before = [program.cpu_s() for program in programs]
    play(programs, seconds, keys)
    return [100 * (program.cpu_s() - was) / seconds for program, was in zip(programs, before, strict=True)]


_TOKENS: Final = re.compile(r"\x1b\[(\d+);(\d+)H|\x1b\[[0-?]*[ -/]*[@-~]|\x1b\][^\x07]*\x07|\x1b[^\[\]]|([^\x00-\x1f\x7f]+)")
_HALF: Final = re.compile(rb"\x1b(\[[0-?]*[ -/]*|\][^\x07]*)?\Z")


class Picture:
    """The characters on a terminal that a floor is drawn on: what is placed with a cursor address, a cell each."""

    def __init__(self, width: int, height: int) -> None:
        self.rows = [[" "] * width for _ in range(height)]
        self._tail = b""
        self._x = self._y = 0

    def feed(self, data: bytes) -> None:
        """Draws bytes as they come, cut anywhere."""
        data = self._tail + data
        half = _HALF.search(data)
        self._tail = data[half.start() :] if half else b""
        for token in _TOKENS.finditer(data[: len(data) - len(self._tail)].decode("utf-8", "replace")):
            row, column, text = token.groups()
            if row is not None:
                self._x, self._y = int(column) - 1, int(row) - 1
            for character in text or "":
                if self._y < len(self.rows) and self._x < len(self.rows[self._y]):
                    self.rows[self._y][self._x] = character
                self._x += 1

    def find(self, words: str) -> tuple[int, int] | None:
        """The row and the column of the words; None where they are not in sight."""
        places = ((y, "".join(row).find(words)) for y, row in enumerate(self.rows))
        return next(((y, x) for y, x in places if x >= 0), None)


def bench_roster(people: int) -> Roster:
    """So many invented athletes, each with a key, none with a name that is part of another's."""
    names = ("".join(letters) for letters in product("BDFGKLMNPR", "aeiou", ("lin", "mar")))
    return Roster(title="bench", athletes=give_keys(tuple(Athlete(name=name) for name in islice(names, people))))


def rotation(
    rounds: int, stations: Sequence[str], *, title: str = TITLE, every: str = "60s", margin: str = "15s", count_in: str = "0s"
) -> str:
    """The text of a session that is one rotation; a station is `rest` or like `move: row, target: 10 reps`."""
    work = ", ".join(station if station == "rest" else f"{{{station}}}" for station in stations)
    part = f"{{kind: rotation, title: Round and round, every: {every}, rounds: {rounds}, stations: [{work}]}}"
    return f"session: {title}\nrest_margin: {margin}\ncount_in: {count_in}\nparts: [{part}]\n"


THREE: Final = ("move: kettlebell swing, target: 14 reps", "move: step-up, target: 10 reps", "move: push-up, target: 8 reps")
HOUR: Final = rotation(20, THREE, margin="9s")


def run_command(home: Path, text: str, people: int, *options: str, sound: str = "none", code: str = COMMAND) -> tuple[str, ...]:
    """The arguments of `floorclock run` on a session with so many invented athletes; its files are put into the data folder."""
    home.mkdir(parents=True, exist_ok=True)
    plan, who = home / "bench.yaml", home / "bench.csv"
    plan.write_text(text, encoding="utf-8")
    # Who has no key is given one, as in `bench_roster`.
    who.write_text("\n".join(["name", *(athlete.name for athlete in bench_roster(people).athletes)]), encoding="utf-8")
    return ("-c", code, "run", str(plan), "--roster", str(who), "--sound", sound, *options)
