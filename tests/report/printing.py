"""What a report prints, at a width; what a drawing holds, read back from its SVG."""

from __future__ import annotations

import io
from collections.abc import Callable
from pathlib import Path
from xml.etree import ElementTree

from rich.console import Console

from floorclock.report.drawing import Drawing

PRINTED = Path(__file__).parent / "printed"
"""What whole reports look like. Read one with a coach's eyes before another takes its place."""


def printed(report: Callable[[Console], None], width: int = 100, *, color: bool = False, encoding: str = "utf-8") -> str:
    """The text of a report. The console reads markup, which that of the commands does not: names must be data on any."""
    file = io.TextIOWrapper(io.BytesIO(), encoding=encoding, newline="")
    colors = "standard" if color else None
    report(Console(file=file, width=width, force_terminal=color, color_system=colors, legacy_windows=False))  # type: ignore[arg-type]
    file.flush()
    file.seek(0)
    return file.read()


def lines_of(text: str) -> list[str]:
    """The lines, without spaces at their ends."""
    return [line.rstrip() for line in text.splitlines()]


def as_printed(name: str) -> list[str]:
    """The lines of a text in the folder `printed`."""
    return (PRINTED / f"{name}.txt").read_text(encoding="utf-8").splitlines()


def texts(drawing: Drawing) -> list[str]:
    """Every text of it, in order."""
    return [element.text or "" for element in ElementTree.fromstring(drawing.svg("x")).iter("text")]


def shapes(drawing: Drawing, kind: str, *, dashed: bool = False) -> int:
    """How many shapes are drawn with a class such as `f-held`, dashed or not."""
    paths = ElementTree.fromstring(drawing.svg("x")).iter("path")
    return sum(
        path.attrib["d"].count("M")
        for path in paths
        if path.attrib["class"] == kind and ("stroke-dasharray" in path.attrib) == dashed
    )
