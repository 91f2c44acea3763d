"""What a drawing holds, read back from its SVG."""

from __future__ import annotations

from xml.etree import ElementTree

from floorclock.report.drawing import Drawing


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
