"""Pictures of the floor side by side: every phase, three sizes, few and many people, what the class and what the coach sees.

    python -m tests.tui.contact_sheet docs                  docs/floor-80x24.png, docs/floor-160x45.png, docs/floor-240x67.png
    python -m tests.tui.contact_sheet OUT --size 160x45 --scene work --people 16 --view coach --roster harbour-roster.yaml \
        --width 1400                                    one picture, in full: docs/floor.png is that one

Needs Chromium and the font Fira Code (Debian: chromium, fonts-firacode).
"""

from __future__ import annotations

import argparse
import asyncio
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from PIL import Image

from floorclock.clock.events import PartEnded, Paused
from floorclock.clock.state import new_state
from floorclock.plan.roster import Roster
from floorclock.simulate.coach import InventedAthletes
from floorclock.tui.floor.moment import Phase, moment
from floorclock.tui.floor.outlooks import Outlooks
from floorclock.tui.floor.present import FloorContext, Presenter
from floorclock.tui.floor.view import FloorView, Shows
from tests.clock.classes import Run
from tests.plan import shipped
from tests.tui.floor.stage_app import StageApp

SIZES = ((80, 24), (160, 45), (240, 67))
PEOPLE = (6, 16, 40)
VIEWS: tuple[Shows, ...] = ("class", "coach")
THUMB = 400
STEP_MS = 500


@dataclass(frozen=True)
class Scene:
    """An instant of a class: a phase of a part (from 0) and how far that part's clock is then; `paused` stops it there."""

    name: str
    phase: Phase
    part: int = 0
    at_ms: int = 0
    paused: bool = False
    session: str = "harbour"


SCENES = (
    Scene("ready", Phase.READY),
    Scene("open", Phase.OPEN, 0, 150_000),
    Scene("work", Phase.WORK, 1, 60_000 * 9 + 31_500),
    Scene("last-ten", Phase.WORK, 1, 60_000 * 9 + 53_500),
    Scene("paused", Phase.WORK, 1, 60_000 * 9 + 31_500, paused=True),
    Scene("between", Phase.OPEN, 2, 65_000),
    Scene("rest", Phase.REST, 2, 45_000, session="lantern-minutes"),
    Scene("over", Phase.OVER),
)


@lru_cache
def class_at(scene: Scene, people: int, roster: str) -> tuple[Run, Outlooks]:
    """An invented class at that instant."""
    plan = shipped.plan(f"{scene.session}.yaml", roster)
    athletes = plan.roster.athletes[:people]
    run = Run(new_state(plan.session, athletes))
    invented = InventedAthletes(Roster(title="", athletes=athletes), 3)
    for _ in _until(scene, run):
        run.wait(STEP_MS)
        invented.run(run.conductor)
    if scene.paused:
        run.send(Paused)
    outlooks = Outlooks(run.state)
    while not outlooks.settled:
        outlooks.follow(run.state.now_ms)
    return run, outlooks


def view_of(scene: Scene, people: int, shows: Shows, roster: str) -> FloorView:
    """The floor of that class, as one of its two views shows it."""
    run, outlooks = class_at(scene, people, roster)
    outside = FloorContext(wall="18:42", offer="3 from earlier classes" if scene.phase is Phase.READY else "")
    return Presenter(run.state, outlooks, shows).view(run.state.now_ms, len(run.outcomes), outside)


def _until(scene: Scene, run: Run) -> Iterator[None]:
    """Lets class time pass; the coach goes on to the next part at once."""
    while not (scene.phase is Phase.READY or (run.state.over and scene.phase is Phase.OVER)):
        here = moment(run.state, run.state.now_ms)
        if (
            here.run is not None
            and here.run.index == scene.part
            and here.position_ms >= scene.at_ms
            and here.phase is scene.phase
        ):
            return
        going_on = here.phase in (Phase.READY, Phase.BETWEEN) or (here.phase is Phase.OPEN and here.run is not None)
        early = here.run is not None and here.run.index == scene.part and scene.phase is Phase.OPEN
        if going_on and not early:
            if run.state.next_part is None:
                run.send(PartEnded)
            else:
                run.conductor.begin(run.state.next_part)
        yield


async def svg_of(app: StageApp, size: tuple[int, int]) -> str:
    """A screen as Textual draws it."""
    async with app.run_test(size=size) as pilot:
        await pilot.pause()
        await pilot.pause()
        return app.export_screenshot(title="floorclock")


def drawn(svgs: list[str], across: int, width: int, out: Path) -> None:
    """The pictures in rows on one page, `width` pixels each."""
    browser = shutil.which("chromium") or shutil.which("chromium-browser") or "google-chrome"
    with tempfile.TemporaryDirectory() as folder:
        home = Path(folder)
        for number, svg in enumerate(svgs):
            (home / f"{number}.svg").write_text(svg, encoding="utf-8")
        images = "".join(f"<img src='{number}.svg' width={width}>" for number in range(len(svgs)))
        style = f"body{{margin:0;background:#333;width:{across * width}px;line-height:0}}"
        (home / "page.html").write_text(f"<style>{style}</style>{images}", encoding="utf-8")
        viewbox = svgs[0].partition('viewBox="')[2].partition('"')[0].split()
        high = round(width * float(viewbox[3]) / float(viewbox[2]))
        rows = -(-len(svgs) // across)
        command = [browser, "--headless", "--no-sandbox", "--hide-scrollbars", f"--screenshot={out.resolve()}"]
        size = f"--window-size={across * width},{rows * high + rows}"
        subprocess.run([*command, size, (home / "page.html").as_uri()], check=True, capture_output=True)
    Image.open(out).convert("RGB").quantize(48).save(out, optimize=True)


def main() -> None:
    """Draws the sheets, or one picture."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("out", type=Path)
    parser.add_argument("--size")
    parser.add_argument("--scene", action="append")
    parser.add_argument("--people", type=int, action="append")
    parser.add_argument("--view", action="append")
    parser.add_argument("--roster", default="full-house.csv")
    parser.add_argument("--width", type=int, default=THUMB)
    asked = parser.parse_args()
    asked.out.mkdir(parents=True, exist_ok=True)
    sizes = [(int(asked.size.split("x")[0]), int(asked.size.split("x")[1]))] if asked.size else SIZES
    columns = [(people, shows) for people in asked.people or PEOPLE for shows in asked.view or VIEWS]
    scenes = [scene for scene in SCENES if not asked.scene or scene.name in asked.scene]
    for size in sizes:
        apps = [StageApp(view_of(scene, *at, asked.roster)) for scene in scenes for at in columns]
        svgs = [asyncio.run(svg_of(app, size)) for app in apps]
        drawn(svgs, len(columns), asked.width, asked.out / f"floor-{size[0]}x{size[1]}.png")


if __name__ == "__main__":
    main()
