from __future__ import annotations

from floorclock.tui.floor.dialogs.offered import Offered
from floorclock.tui.floor.view import OfferView
from tests.odd_names import A_FEW
from tests.tui.floor.dialogs.floor_behind import UNANSWERED, answer_to, look_at

OFFERS = tuple(
    OfferView(name, "kettlebell swing", "14 reps", f"{8 + at} reps", f"{at + 2} classes: about 9 s of rest in round 5")
    for at, name in enumerate(("Ilka", "Bram", "Noor"))
)


async def test_enter_gives_all_escape_none() -> None:
    assert await answer_to(Offered(OFFERS), "enter") == (0, 1, 2)
    assert await answer_to(Offered(OFFERS), "escape") is None


async def test_space_and_arrows_choose_which() -> None:
    assert await answer_to(Offered(OFFERS), "space", "enter") == (1, 2)
    assert await answer_to(Offered(OFFERS), "down", "space", "down", "space", "space", "enter") == (0, 2)


async def test_a_letter_is_no_answer() -> None:
    assert await answer_to(Offered(OFFERS), "i") == UNANSWERED


async def test_every_line_says_whose_from_what_to_what_and_the_chosen_one_why() -> None:
    lines = await look_at(Offered(OFFERS), "down")
    words = "\n".join(lines)
    assert any("▐X▌ Bram" in line and "14 reps → 9 reps" in line for line in lines)
    assert "3 classes: about 9 s of rest in round 5" in words
    assert "Enter gives 3 of 3" in words


async def test_forty_offers_scroll_on_a_small_screen() -> None:
    offers = [OfferView(f"{name} {at}", "row", "200 m", "180 m") for at in range(40) for name in A_FEW[:1]]
    lines = await look_at(Offered(offers), "end", *["down"] * 39, size=(80, 24))
    assert any("39" in line and "→ 180 m" in line for line in lines)
