"""Draws sample floors at given sizes, to be looked at.

`python -m tests.bench.floor_preview [--out FOLDER] [--size 160x45 ...] [--only SCENE ...]` writes SVG,
and PNG where Chromium is there.
"""

from __future__ import annotations

import argparse
import asyncio
import re
import shutil
import subprocess
import tempfile
from pathlib import Path

from floorclock.tui.floor.view import FloorView
from tests.tui.floor.sample_views import floor_view
from tests.tui.floor.stage_app import StageApp

SIZES = ("20x6", "40x12", "80x24", "100x30", "160x45", "240x67", "400x100")
SCENES: dict[str, FloorView] = {
    "work14": floor_view(14),
    "work24": floor_view(24),
    "work40": floor_view(40),
    "lane6": floor_view(6, lane=True),
    "odd14": floor_view(14, odd_names=True),
    "rest24": floor_view(24, "rest", lane=True),
    "count": floor_view(24, "count"),
    "paused": floor_view(24, "paused"),
    "brief": floor_view(14, "ready", brief=True),
    "open": floor_view(6, "open", lane=True),
    "over": floor_view(14, "over"),
}


async def svg_of(view: FloorView, width: int, height: int) -> str:
    """The floor as SVG."""
    app = StageApp(view)
    async with app.run_test(size=(width, height)) as pilot:
        await pilot.pause()
        return app.export_screenshot()


def png_of(svg: Path, png: Path) -> None:
    """Has Chromium draw the SVG at its own size."""
    box = re.search(r'viewBox="0 0 ([\d.]+) ([\d.]+)"', svg.read_text(encoding="utf-8"))
    chromium = shutil.which("chromium")
    if box is None or chromium is None:
        return
    wide, high = (round(float(part)) for part in box.groups())
    with tempfile.TemporaryDirectory() as profile:
        flags = [
            "headless",
            "no-sandbox",
            "disable-gpu",
            "disable-quic",
            "no-first-run",
            "disable-background-networking",
            "disable-component-update",
            "disable-sync",
            "hide-scrollbars",
        ]
        command = [chromium, *(f"--{flag}" for flag in flags), f"--user-data-dir={profile}"]
        command += [f"--screenshot={png}", f"--window-size={wide},{high}", svg.as_uri()]
        subprocess.run(command, check=True, capture_output=True, timeout=60)


def main() -> None:
    """Writes an SVG and a PNG for every scene and size."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--out", type=Path, default=Path(tempfile.gettempdir()) / "floor_png")
    parser.add_argument("--size", nargs="*", default=SIZES)
    parser.add_argument("--only", nargs="*", default=list(SCENES))
    options = parser.parse_args()
    options.out.mkdir(parents=True, exist_ok=True)
    for name in options.only:
        for size in options.size:
            width, height = (int(part) for part in size.split("x"))
            svg = options.out / f"{name}_{size}.svg"
            svg.write_text(asyncio.run(svg_of(SCENES[name], width, height)), encoding="utf-8")
            png_of(svg, svg.with_suffix(".png"))
            print(svg.with_suffix(".png"))


if __name__ == "__main__":
    main()
