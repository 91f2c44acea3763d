"""From a save to the findings beside the editor, against looking at the plan once."""

from __future__ import annotations

import asyncio
import os
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from statistics import median

from floorclock.digest.draft import draft_of
from floorclock.tui.edit import WALL, EditApp
from tests.bench.common import Figure, took_ms
from tests.plan.shipped import SESSIONS

MOST_MS = 100.0
SAVES = 20
ROSTER = SESSIONS / "full-house.csv"


def figures() -> Iterator[Figure]:
    """The median of some saves."""
    with tempfile.TemporaryDirectory() as folder:
        saves_ms = asyncio.run(_saves(Path(folder) / "plan.yaml"))
    text, people = (SESSIONS / "harbour.yaml").read_bytes(), ROSTER.read_bytes()
    look_ms = median(
        took_ms(lambda: draft_of(text, "plan.yaml", people, "who.csv", WALL), clock=time.perf_counter) for _ in range(SAVES)
    )
    yield Figure("save to findings, 40 athletes", median(saves_ms), "ms", baseline=look_ms, most=MOST_MS)


async def _saves(plan: Path) -> list[float]:
    text = (SESSIONS / "harbour.yaml").read_text(encoding="utf-8")
    plan.write_text(text, encoding="utf-8")
    app, took = EditApp(plan, ROSTER), []
    async with app.run_test(size=(160, 45)) as pilot:
        await pilot.pause()
        for number in range(SAVES):
            before = app.looks
            plan.with_suffix(".new").write_text(text + f"# {number}\n", encoding="utf-8")
            began = time.perf_counter()
            os.replace(plan.with_suffix(".new"), plan)
            while app.looks == before:
                await asyncio.sleep(0.001)
            took.append(1000 * (time.perf_counter() - began))
            await asyncio.sleep(0.05)
    return took
