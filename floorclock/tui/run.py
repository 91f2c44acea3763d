"""Puts a class on the wall: the terminal, the sound and the floor around an open class, and every way out of it.

Invariant: however the floor ends (a key, a signal, a closed terminal, a defect), the journal is closed whole first.
"""

from __future__ import annotations

import gc
import os
import sys
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from floorclock.errors import ResourceError
from floorclock.journal.settings import read_settings, write_settings
from floorclock.live.class_sound import ClassSound, SoundOptions, ring_bell, words_of
from floorclock.live.conductor import SystemClock
from floorclock.live.opening import OpenClass, resume_class, start_class
from floorclock.live.plan_files import Plan
from floorclock.tui.options import RunOptions

if TYPE_CHECKING:
    from floorclock.pace.prior import Prior
    from floorclock.plan.session import Session
    from floorclock.tui.floor.desk import Autopilot
    from floorclock.tui.floor.view import Shows

TEXTUAL_FPS = "1000"
ONE_THREAD = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS")
"""The arithmetic of the pacing is small: threads for it would only wake up beside the sound and the screen."""
SWITCH_INTERVAL_S = 0.0005
LOG_BYTES = 256 * 1024


def import_floor() -> None:
    """Imports what the floor needs, while the plan is being read elsewhere."""
    os.environ.setdefault("TEXTUAL_FPS", TEXTUAL_FPS)
    for name in ONE_THREAD:
        os.environ.setdefault(name, "1")


def keep_waits_short() -> None:
    """Sets this process up for taps that show at once."""
    sys.setswitchinterval(SWITCH_INTERVAL_S)
    # What stands by now stays to the end: going through all of it for garbage would stop the floor for a twelfth of a second.
    gc.freeze()
    gc.enable()


def need_terminal(what: str = "the floor needs a terminal; `floorclock rehearse` plays a class without one") -> None:
    """Refuses to draw where nobody can look, and says what there is instead.

    Raises:
        ResourceError: standard input or output is no terminal.
    """
    if not (sys.stdin.isatty() and sys.stdout.isatty()):
        raise ResourceError(what)


def run_on_the_wall(plan: Plan, home: Path, options: RunOptions) -> OpenClass:
    """Runs a new class until the coach leaves; gives the class, closed."""
    sound = ClassSound(options.sound, ring_bell)
    opened = start_class(
        plan,
        home,
        SystemClock(),
        sound,
        rate=options.rate,
        rehearsal=options.autopilot is not None or options.rate != 1.0,
        margin_ms=options.margin_ms,
        cues=options.cues,
    )
    _show(opened, sound, badge=options.badge, autopilot=options.autopilot, remark=options.remark)
    return opened


def resume_on_the_wall(path: Path, options: SoundOptions) -> OpenClass:
    """Carries on an interrupted class until the coach leaves; gives the class, closed."""
    sound = ClassSound(options, ring_bell)
    opened = resume_class(path, SystemClock(), sound)
    damage = [f"{opened.damage} lines of the journal could not be read; all others count"] if opened.damage else []
    if opened.conductor.state.paused and opened.away_ms is None:
        damage.append("paused, as the coach left it: space goes on")
    rate = opened.conductor.class_clock.rate
    _show(opened, sound, badge="" if rate == 1 else f"rehearsal x{rate:g}", notices=damage)
    return opened


def _show(
    opened: OpenClass,
    sound: ClassSound,
    *,
    badge: str,
    autopilot: Autopilot | None = None,
    notices: Sequence[str] = (),
    remark: Callable[[], str] = lambda: "",
) -> None:
    import_floor()
    from floorclock.sound.quiet import quiet_stderr
    from floorclock.tui.base.safe_driver import SafeDriver, watch_terminal
    from floorclock.tui.floor.app import FloorApp
    from floorclock.tui.floor.desk import FloorSettings

    def badges() -> str:
        saved = f"NOT SAVED: {opened.trouble}" if opened.trouble else ""
        followed = "second screen" if opened.writer.followed else ""
        return "  ".join(word for word in (saved, sound.trouble, followed, badge) if word)

    home = opened.path.parent.parent
    log = home / "floor.log"
    shown_first = _shown_first(opened.session, home)

    def beat() -> None:
        opened.beat()
        _trim(log)

    sound.volume = opened.session.cues.volume
    groups = {athlete.group for athlete in opened.conductor.state.present} or {1}
    settings = FloorSettings(
        badges=badges,
        attach=opened.queue.attach,
        away_ms=opened.away_ms,
        autopilot=autopilot,
        mute=lambda quiet: _mute(sound, opened, quiet),
        change_volume=sound.change_volume,
        beat=beat,
        driver=SafeDriver,
        notices=list(notices),
        preparations=[sound.open, lambda: sound.learn(words_of(opened.session, groups))],
        sound_problems=sound.problems,
        prior=lambda: _prior(opened),
        remark=remark,
        shows=shown_first,
    )
    keep_waits_short()
    status: int | None = 0
    with quiet_stderr(log):
        app = FloorApp(opened.conductor, settings)
        watch_terminal(lambda: _terminal_gone(opened))
        try:
            app.run()
            status = app.return_code
        finally:
            sound.close()
            lost = opened.close()
            if settings.shows != shown_first:
                _remember_view(home, settings.shows)
    if lost:
        raise ResourceError(f"{lost} events never reached the disk: {opened.trouble or 'no room'}")
    if status:
        raise ResourceError("the floor crashed; `floorclock resume` carries the class on")


def _prior(opened: OpenClass) -> Prior:
    """What earlier classes say of who is on the roster. Takes its time, so it is asked for once the floor stands."""
    from floorclock.insight.history import ask_history, prior_of
    from floorclock.pace.prior import NO_PRIOR

    home, names = opened.path.parent.parent, [athlete.name for athlete in opened.roster.athletes]
    return ask_history(home, lambda store: prior_of(store, names, before=opened.started), NO_PRIOR)


def _shown_first(session: Session, home: Path) -> Shows:
    """What the plan says, or what the coach switched to last on this machine."""
    return "class" if (session.view or read_settings(home)[0].view) == "class" else "coach"


def _remember_view(home: Path, shows: Shows) -> None:
    # A disk that refuses costs one key the next time.
    with suppress(ResourceError):
        write_settings(home, replace(read_settings(home)[0], view=shows))


def _trim(log: Path) -> None:
    """An audio library that looks for its device all day says the same things all day."""
    with suppress(OSError):
        if log.stat().st_size > LOG_BYTES:
            os.truncate(log, 0)


def _mute(sound: ClassSound, opened: OpenClass, quiet: bool) -> None:
    sound.quiet = quiet
    opened.conductor.resound()


def _terminal_gone(opened: OpenClass) -> None:
    """The window was closed: what is on its way is written, and the process ends without the screen that is not there."""
    opened.close()
    os._exit(0)
