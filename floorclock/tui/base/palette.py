"""The colours and the textures of the floor.

Invariant: whatever a colour says is also said by a word or a shape; text keeps a contrast of 4.5 on its ground, big shapes 3
(WCAG 2.2, 1.4.3 and 1.4.11; `tests/tui/base/test_palette.py` works it out). Hues are those of Okabe and Ito (2008), which
people with colour-vision deficiencies tell apart.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

from rich.style import Style

GROUND: Final = "#0A0C0F"
RAISED: Final = "#20242A"
"""Just dark enough that terminals of 16 colours take it for the ground: their grey would swallow the text on it."""
INK: Final = "#F4F3EE"
DIM: Final = "#A3A9B0"

ORANGE: Final = "#E69F00"
SKY_BLUE: Final = "#56B4E9"
BLUISH_GREEN: Final = "#009E73"
YELLOW: Final = "#F0E442"
VERMILLION: Final = "#D55E00"
REDDISH_PURPLE: Final = "#CC79A7"

Mood = Literal["ready", "count", "work", "margin", "rest", "paused", "open", "over"]
"""What kind of time it is now; each mood has a colour and a word or a shape, never a colour alone. `margin` is work in the time
that should be rest."""

Texture = Literal["solid", "louvre", "slats", "checks"]
"""How a big shape is filled: without a gap, in lying stripes, in standing stripes, in squares. Told apart without any colour."""

TEXTURE_GLYPH: Final[dict[Texture, str]] = {"solid": " ", "louvre": "▄", "slats": "▌", "checks": "▚"}
"""What fills one cell of a shape. Solid is a coloured ground: a full block would show seams between the cells."""

DENSE_GLYPH: Final[dict[Texture, str]] = {"slats": "▊", "checks": "▜"}
"""The same for shapes of a few rows, which would fall apart in the wider stripes; those without one here are solid."""


@dataclass(frozen=True, slots=True)
class MoodLook:
    """How one mood is drawn: `fill` is a coloured ground, `stroke` a coloured glyph on the dark ground."""

    colour: str
    texture: Texture
    fill: Style
    stroke: Style

    def cell(self, *, dense: bool = False) -> tuple[str, Style]:
        """What fills a cell inside a big shape, and its style; `dense` for shapes of a few rows."""
        glyph = (DENSE_GLYPH if dense else TEXTURE_GLYPH).get(self.texture, " ")
        return glyph, self.fill if glyph == " " else self.stroke


def _look(colour: str, texture: Texture) -> MoodLook:
    return MoodLook(colour, texture, Style(color=GROUND, bgcolor=colour), Style(color=colour, bgcolor=GROUND))


LOOKS: Final[dict[Mood, MoodLook]] = {
    "ready": _look(BLUISH_GREEN, "solid"),
    "count": _look(ORANGE, "solid"),
    "work": _look(YELLOW, "solid"),
    "margin": _look(VERMILLION, "checks"),
    "rest": _look(SKY_BLUE, "louvre"),
    "paused": _look(REDDISH_PURPLE, "slats"),
    "open": _look(INK, "solid"),
    "over": _look(DIM, "louvre"),
}

INK_BLOCK: Final = Style(bgcolor=GROUND)
"""A whole cell of a letter on a coloured plate."""
LETTER_BLOCK: Final = Style(bgcolor=INK)
"""A whole cell of a letter on the dark ground."""
DIM_BLOCK: Final = Style(bgcolor=DIM)
"""The same of a letter that needs no eye: who is done, a rest."""
BLANK: Final = Style(color=INK, bgcolor=GROUND)
TEXT: Final = BLANK
STRONG: Final = Style(color=INK, bgcolor=GROUND, bold=True)
FAINT: Final = Style(color=DIM, bgcolor=GROUND)
CAP: Final = Style(color=INK, bgcolor=RAISED, bold=True)
CAP_FAINT: Final = Style(color=DIM, bgcolor=RAISED)
CHOSEN: Final = Style(color=GROUND, bgcolor=INK)
ALERT: Final = Style(color=VERMILLION, bgcolor=GROUND, bold=True)
ALERT_PLATE: Final = Style(color=GROUND, bgcolor=VERMILLION)
TRACK: Final = Style(color=DIM, bgcolor=RAISED)
MARK: Final = Style(color=INK, bgcolor=RAISED, bold=True)

ALL_STYLES: Final[tuple[Style, ...]] = (
    BLANK, STRONG, FAINT, CAP, CAP_FAINT, CHOSEN, ALERT, ALERT_PLATE, TRACK, MARK,
    *(style for look in LOOKS.values() for style in (look.fill, look.stroke)),
)  # fmt: skip
"""Every style that the floor writes with, for the contrast check."""
