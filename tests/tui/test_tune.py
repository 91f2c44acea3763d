"""Lining the beep up with the flash."""

from textual.color import Color

from floorclock.clock.cues import CueName
from floorclock.tui.base.palette import GROUND, INK
from floorclock.tui.tune import AHEAD_S, TuneApp


class FakeBeeper:
    """A speaker that remembers what it was told."""

    trouble = ""

    def __init__(self) -> None:
        self.offset_ms = 0
        self.beeps: list[float] = []
        self.withdrawn = 0

    def schedule(self, at_s: float, cue: CueName) -> None:
        self.beeps.append(at_s)

    def withdraw(self) -> None:
        self.withdrawn += 1


async def test_keys_move_the_sound_and_enter_keeps_what_was_found() -> None:
    beeper = FakeBeeper()
    app = TuneApp(beeper, now=lambda: 100.0)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("right", "right", "pageup", "left")
        assert beeper.offset_ms == 60
        assert "60 ms late" in str(app.words.content)
        assert set(beeper.beeps) == {100.0 + AHEAD_S}
        await pilot.press("enter")
    assert app.return_value == 60


async def test_escape_keeps_nothing_and_takes_the_beep_back() -> None:
    beeper = FakeBeeper()
    app = TuneApp(beeper, now=lambda: 0.0)
    async with app.run_test(size=(40, 12)) as pilot:
        before = beeper.withdrawn
        await pilot.press("left", "escape")
    assert app.return_value is None
    assert beeper.withdrawn > before


async def test_the_flash_lights_the_screen_and_leaves_the_words() -> None:
    """The beat begins dark, and the first flash is due when the first beep is."""
    app = TuneApp(FakeBeeper(), now=lambda: 0.0)
    async with app.run_test(size=(80, 24)) as pilot:
        assert app.light.styles.background == Color.parse(GROUND)
        app.flash()
        await pilot.pause()
        light, words = (app.screen.get_style_at(2, y).bgcolor for y in (0, 22))
        assert light == Color.parse(INK).rich_color
        assert words == Color.parse(GROUND).rich_color
        assert app.light.region.bottom < app.words.region.y == 21
