"""A flat drawing: shapes and words by what they are for, written as SVG for a page, or drawn by matplotlib as PNG.

Invariant: words are data. In the SVG they are text that a browser lays out; in the PNG they are drawn as they are, never read as
formulas, in fonts that have their letters. A drawing has no ids, no styles and no colours of its own: in a page its classes
take the colours of the page, light or dark. A font is one that has the letters, wherever this machine has one: no letter is drawn
as an empty box where an installed font has it, and one that none has becomes a question mark.
"""

from __future__ import annotations

import io
import unicodedata
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from functools import cache
from typing import Literal
from xml.etree import ElementTree

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.font_manager import fontManager, get_font
from matplotlib.patches import PathPatch
from matplotlib.path import Path as Outline
from matplotlib.patheffects import withStroke
from matplotlib.transforms import Affine2D

from floorclock.report.colours import LIGHT, Ink

FIRST = "DejaVu Sans"
"""Comes with matplotlib, so it is always there."""
_NO_LETTERS = ("last resort", "emoji", "symbol")
"""Fonts that have an empty box or a bitmap for every letter."""


def families_for(words: str) -> list[str]:
    """Font families that together have as many of the letters as this machine can show, the first one first."""
    families = [FIRST]
    missing = _needed(words) - _letters(FIRST)
    for family in _others() if missing else ():
        found = missing & _letters(family)
        if found:
            families.append(family)
            missing -= found
        if not missing:
            break
    return families


def printable(words: str, families: Sequence[str]) -> str:
    """The words with a question mark for every letter that no family has; marks on such a letter go with it."""
    known = frozenset[int]().union(*map(_letters, families))
    kept, lost = [], False
    for letter in words:
        if unicodedata.category(letter)[0] == "M":
            if not lost and ord(letter) in known:
                kept.append(letter)
            continue
        lost = bool(_needed(letter)) and ord(letter) not in known
        kept.append("?" if lost else letter)
    return "".join(kept)


def _needed(words: str) -> set[int]:
    """The letters that leave a mark of their own: spaces and joiners do not."""
    return {ord(letter) for letter in words if unicodedata.category(letter) not in ("Zs", "Cf", "Cc", "Mn")}


@cache
def _others() -> tuple[str, ...]:
    """Every other family, upright sans serif ones first."""
    names = {entry.name for entry in fontManager.ttflist if not any(word in entry.name.lower() for word in _NO_LETTERS)}
    return tuple(sorted(names - {FIRST}, key=lambda name: ("Sans" not in name, "Mono" in name, name)))


@cache
def _letters(family: str) -> frozenset[int]:
    entries = [entry for entry in fontManager.ttflist if entry.name == family]
    plain_first = sorted(entries, key=lambda entry: (entry.style != "normal", str(entry.weight) not in ("400", "normal")))
    try:
        return frozenset(get_font(plain_first[0].fname).get_charmap())
    except (IndexError, OSError, RuntimeError, ValueError):
        # A family that nobody has, or a font file that is gone or broken, has no letters for us.
        return frozenset()


POINTS_PER_INCH = 72
"""At so many dots an inch a point is a pixel: drawings are measured in pixels, from the top left corner."""
PIXELS_WIDE = 1600
HATCH_GAP = 3.5
Anchor = Literal["left", "center", "right"]
Point = tuple[float, float]
_ANCHORS = {"left": "start", "center": "middle", "right": "end"}
_LETTERS = {Outline.MOVETO: "M", Outline.LINETO: "L", Outline.CURVE4: "C", Outline.CLOSEPOLY: "z"}
"""What SVG calls the pieces of an outline."""


@dataclass(frozen=True, slots=True)
class _Stroke:
    """How shapes are drawn that become one path: filled, or stroked with a width."""

    ink: Ink
    width: float | None
    dashed: bool = False


@dataclass(frozen=True, slots=True)
class _Words:
    at: Point
    words: str
    ink: Ink
    size: float
    anchor: Anchor
    bold: bool


@dataclass
class Drawing:
    """`width` by `height` pixels. What was added first lies under what comes later; words lie above all shapes."""

    width: float
    height: float
    _shapes: dict[_Stroke, list[Outline]] = field(default_factory=dict)
    _texts: list[_Words] = field(default_factory=list)

    def line(self, ink: Ink, *points: Point, width: float = 1.0, dashed: bool = False) -> None:
        """A line through points."""
        self._add(_Stroke(ink, width, dashed), Outline(list(points)))

    def box(
        self, ink: Ink, left: float, top: float, width: float, height: float, *, frame: bool = False, dashed: bool = False
    ) -> None:
        """A filled box, or its frame only."""
        right, bottom = left + width, top + height
        corners = [(left, top), (right, top), (right, bottom), (left, bottom), (left, top)]
        self._add(_Stroke(ink, 1.4 if frame else None, dashed), Outline(corners, closed=True))

    def hatched(self, ink: Ink, left: float, top: float, width: float, height: float) -> None:
        """A box in slanting lines."""
        self.box(ink, left, top, width, height, frame=True)
        slant = HATCH_GAP
        while slant < width + height:
            start = (left + max(0.0, slant - height), top + min(slant, height))
            end = (left + min(slant, width), top + max(0.0, slant - width))
            self.line(ink, start, end, width=1.2)
            slant += HATCH_GAP

    def dot(self, ink: Ink, at: Point, radius: float, *, ring: bool = False) -> None:
        """A filled circle, or a ring."""
        self._add(_Stroke(ink, 1.4 if ring else None), Outline.circle(at, radius))

    def text(
        self, at: Point, words: str, *, ink: Ink = Ink.INK, size: float = 11, anchor: Anchor = "left", bold: bool = False
    ) -> None:
        """Words on one line; `at` is on the base line."""
        if words:
            self._texts.append(_Words(at, words, ink, size, anchor, bold))

    def place(self, other: Drawing, at: Point) -> None:
        """Takes over everything of another drawing, its top left corner at a point of this one."""
        for stroke, outlines in other._shapes.items():
            for outline in outlines:
                self._add(stroke, outline.transformed(Affine2D().translate(*at)))
        for text in other._texts:
            self._texts.append(replace(text, at=(text.at[0] + at[0], text.at[1] + at[1])))

    def svg(self, label: str) -> str:
        """An `svg` element for a page. `label` is what it shows, in words."""
        size = {"width": f"{self.width:g}", "height": f"{self.height:g}"}
        view = {"viewBox": f"0 0 {self.width:g} {self.height:g}", "role": "img", "aria-label": label}
        root = ElementTree.Element("svg", view | size)
        root.extend(_path(stroke, outlines) for stroke, outlines in self._shapes.items())
        root.extend(map(_text, self._texts))
        return ElementTree.tostring(root, encoding="unicode")

    def png(self) -> bytes:
        """The same as a picture, dark on light and 1600 pixels wide."""
        figure = Figure(figsize=(self.width / POINTS_PER_INCH, self.height / POINTS_PER_INCH), dpi=POINTS_PER_INCH)
        axes = figure.add_axes((0, 0, 1, 1))
        axes.set_axis_off()
        axes.set_xlim(0, self.width)
        axes.set_ylim(self.height, 0)
        for layer, (stroke, outlines) in enumerate(self._shapes.items()):
            colour = LIGHT.inks[stroke.ink]
            patch = PathPatch(
                Outline.make_compound_path(*outlines),
                facecolor=colour if stroke.width is None else "none",
                edgecolor="none" if stroke.width is None else colour,
                linewidth=stroke.width or 0,
                linestyle=(0, (3, 2)) if stroke.dashed else "solid",
                zorder=layer,
                clip_on=False,
            )
            axes.add_patch(patch)
        self._write(axes)
        out = io.BytesIO()
        figure.savefig(out, format="png", dpi=POINTS_PER_INCH * PIXELS_WIDE / self.width, facecolor=LIGHT.ground)
        return out.getvalue()

    def _add(self, stroke: _Stroke, outline: Outline) -> None:
        self._shapes.setdefault(stroke, []).append(outline)

    def _write(self, axes: Axes) -> None:
        for text in self._texts:
            families = families_for(text.words)
            drawn = axes.text(
                *text.at,
                printable(text.words, families),
                color=LIGHT.inks[text.ink],
                size=text.size,
                ha=text.anchor,
                va="baseline",
                # Not every other font has bold letters.
                weight="bold" if text.bold and families == [FIRST] else "normal",
                family=families,
                zorder=len(self._shapes) + 1,
                parse_math=False,
            )
            drawn.set_path_effects([withStroke(linewidth=2.5, foreground=LIGHT.ground)])


def _path(stroke: _Stroke, outlines: Iterable[Outline]) -> ElementTree.Element:
    kind = "f" if stroke.width is None else "s"
    made = ElementTree.Element("path", {"class": f"{kind}-{stroke.ink}", "d": "".join(map(_traced, outlines))})
    if stroke.width is not None:
        made.set("stroke-width", f"{stroke.width:g}")
    if stroke.dashed:
        made.set("stroke-dasharray", "3 2")
    return made


def _traced(outline: Outline) -> str:
    """An outline as SVG has it, to a tenth of a pixel."""
    traced = ""
    for points, code in outline.iter_segments(simplify=False):
        numbers = () if code == Outline.CLOSEPOLY else (f"{number:.1f}".removesuffix(".0") for number in points)
        traced += _LETTERS[code] + " ".join(numbers)
    return traced


def _text(one: _Words) -> ElementTree.Element:
    x, y = one.at
    classes = f"f-{one.ink}" + (" b" if one.bold else "")
    made = ElementTree.Element("text", {"class": classes, "x": f"{x:.4g}", "y": f"{y:.5g}", "font-size": f"{one.size:g}"})
    if one.anchor != "left":
        made.set("text-anchor", _ANCHORS[one.anchor])
    made.text = one.words
    return made
