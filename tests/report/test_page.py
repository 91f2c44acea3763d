"""The page of a class: valid, self-contained, whole, and proof against any name."""

from __future__ import annotations

import base64
import hashlib
import re
from dataclasses import replace
from importlib.resources import files

import pytest

from floorclock.digest.class_digest import MOST_CALLS
from floorclock.pace.advice import Way
from floorclock.report.page import page_html
from tests.odd_names import ODD_NAMES
from tests.pace.sample_class import summary
from tests.report.markup import Page, text_of
from tests.report.outlooks import advice, class_of, with_outlook
from tests.report.printing import as_printed


def words(text: str) -> str:
    return " ".join(text.split())


@pytest.fixture(scope="module")
def html() -> str:
    return page_html(with_outlook())


@pytest.fixture(scope="module")
def page(html: str) -> Page:
    return Page(html)


def shown(text: str) -> list[str]:
    return [words(line) for line in text.splitlines() if line.strip()]


class TestTheStandard:
    def test_the_page_reads_without_a_mistake(self, page: Page) -> None:
        assert page.one("html").attrib["lang"] == "en"
        assert text_of(page.one("title")) == "Five trips round the harbour"

    def test_the_encoding_stands_where_a_browser_looks_for_it(self, html: str, page: Page) -> None:
        """HTML standard 4.2.5.4: one declaration, whole within the first 1024 bytes."""
        assert [meta.attrib["charset"] for meta in page.all("meta") if "charset" in meta.attrib] == ["utf-8"]
        assert b'<meta charset="utf-8">' in html.encode()[:1024]

    def test_the_policy_lets_in_the_pages_own_styles_and_nothing_else(self, html: str, page: Page) -> None:
        (policy,) = [element.attrib["content"] for element in page.all("meta") if element.get("http-equiv")]
        style = re.search(r"<style>(.*?)</style>", html, re.S)
        assert style is not None
        digest = base64.b64encode(hashlib.sha256(style.group(1).encode()).digest()).decode()
        assert policy == f"default-src 'none'; style-src 'sha256-{digest}'; base-uri 'none'; form-action 'none'"
        assert page.elements.index(page.one("style")) > [element.tag for element in page.elements].index("meta")

    def test_nothing_in_it_names_an_address(self, html: str) -> None:
        assert not re.search(r"https?:|//[a-z]|url\(|@import|@font-face|xmlns", html)

    def test_styles_balance_and_use_only_colours_that_are_given(self, page: Page) -> None:
        css = text_of(page.one("style"))
        assert css.count("{") == css.count("}")
        used, given = set(re.findall(r"var\((--\w+)\)", css)), set(re.findall(r"(--\w+):", css))
        assert used == given
        assert "prefers-color-scheme: dark" in css
        assert "@media print" in css

    def test_every_class_that_a_picture_uses_has_a_style(self, page: Page) -> None:
        css = text_of(page.one("style"))
        used = {name for element in page.elements if element.tag in ("path", "text") for name in element.attrib["class"].split()}
        assert {"f-held", "s-tight", "f-ink", "b"} <= used
        assert all(f".{name}{{" in css or f".{name} {{" in css for name in used)

    def test_template_and_styles_are_data_of_the_package(self) -> None:
        folder = files("floorclock.report")
        assert {"page.html.j2", "page.css"} <= {entry.name for entry in folder.iterdir()}


class TestWhatItSays:
    def test_it_says_all_of_a_class(self, page: Page) -> None:
        """The facts; who to talk to with reasons; each part with who held and who did not, which station did it, and the rests as
        a table beside their picture; results, what to change with a sign for its way, effort and load, what is not rated too. A
        card for each has pace, forecast, reasons and load. Cautions stand at the end and on every card.
        """
        assert shown(text_of(page.one("body"))) == as_printed("page")

    def test_a_rehearsal_says_so_on_top_and_on_every_card(self) -> None:
        page = Page(page_html(replace(summary(), rehearsal=True)))
        assert sum(element.get("class") == "badge" for element in page.all("strong")) == 1 + 5

    def test_the_list_of_whom_to_talk_to_ends_where_nobody_would_talk_to_all_and_names_the_others(self) -> None:
        made = class_of([f"Athlete {number}" for number in range(40)], ["swing"], 12)
        assert len(made.calls) > MOST_CALLS
        page = Page(page_html(made))
        (calls,) = [element for element in page.all("ul") if element.get("class") == "calls"]
        assert len(shown(text_of(calls))) == MOST_CALLS
        rest = made.calls[MOST_CALLS:]
        said = words(text_of(page.one("main"))).replace(" ,", ",").replace(" .", ".")
        assert f"And {len(rest)} more with a flag: {', '.join(call.athlete for call in rest)}. Their cards say why." in said

    def test_who_does_another_move_is_never_shown_the_stations_with_their_number(self) -> None:
        """A guarded move may not be theirs: a coach who copies the page must not give it to them."""
        made = with_outlook()
        harbour = made.parts[1]
        bram = next(athlete for athlete in harbour.athletes if athlete.name == "Bram")
        taken = tuple(
            replace(one, split=replace(one.split, move="deadlift")) if one.split.station == 0 else one for one in bram.splits
        )
        ahead = tuple(
            replace(one, slot=replace(one.slot, move="deadlift")) if one.slot.station == 0 else one for one in bram.forecast
        )
        told = (advice(1, Way.KEEP, 10), advice(0, Way.LESS, 8, move="deadlift", own_move="deadlift"))
        instead = replace(bram, splits=taken, forecast=ahead, advice=told)
        athletes = tuple(instead if athlete.name == "Bram" else athlete for athlete in harbour.athletes)
        page = Page(page_html(replace(made, calls=(), parts=(made.parts[0], replace(harbour, athletes=athletes)))))
        table = next(table for table in page.all("table") if "what to give; ↓ less" in text_of(table))
        assert shown(text_of(table))[1:] == ["athlete swing step-up", "Bram deadlift 8 ↓ 10 ="]
        card = words(text_of(page.by_id("card-2")))
        assert "deadlift 8 ↓ drop to 8 reps?" in card
        assert "round deadlift step-up" in card
        assert "swing" not in card

    def test_a_card_speaks_of_nobody_else(self, page: Page) -> None:
        for number, name in enumerate(("Ilka", "Bram", "Sefa", "Odd", "Runa"), start=1):
            card = text_of(page.by_id(f"card-{number}"))
            assert [other for other in ("Ilka", "Bram", "Sefa", "Odd", "Runa") if other in card] == [name]

    def test_every_picture_has_a_table_beside_it(self, page: Page) -> None:
        for picture in page.all("svg"):
            assert re.search("the table .* says the same", picture.attrib["aria-label"])
        assert len(page.all("svg")) == 1 + 5

    def test_of_a_class_with_nothing_recorded_and_of_a_calm_one_the_page_says_so(self) -> None:
        empty = replace(summary(), parts=(), calls=(), athletes=(), load=())
        assert "Nobody is known to need it: no split was taken." in text_of(Page(page_html(empty)).one("main"))
        calm = class_of(["Ilka"], ["swing"], 2)
        assert "Everybody who was tapped kept the margin" in text_of(Page(page_html(calm)).one("main"))


class TestNames:
    def test_names_are_text_wherever_they_stand(self) -> None:
        html = page_html(class_of(ODD_NAMES, ["<b>row</b>", "squat $a$"], 4))
        page = Page(html)
        cards = [words(text_of(element)) for element in page.all("h3") if element.get("id", "").startswith("name-")]
        assert cards == [words(name) for name in ODD_NAMES]
        assert page.all("script") == []
        assert "Nine <i>quays</i>" in text_of(page.one("h1"))
        assert page.all("i") == []

    def test_names_stand_in_the_picture_as_text(self) -> None:
        page = Page(page_html(class_of(ODD_NAMES, ["row"], 3)))
        drawn = [text_of(element) for element in page.all("text")]
        assert all(any(text.startswith(name[:10]) for text in drawn) for name in ODD_NAMES)

    def test_a_name_never_turns_its_neighbours_round(self) -> None:
        page = Page(page_html(class_of(["עדי", "Bo"], ["row"], 3)))
        assert all(any(text_of(element) == name for element in page.all("bdi")) for name in ("עדי", "Bo"))


class TestTheWhole:
    @pytest.mark.parametrize(("stations", "rounds"), [(6, 5), (1, 30)])
    def test_forty_athletes_in_thirty_intervals_are_small_and_quick(self, stations: int, rounds: int) -> None:
        names = [f"Athlete {number}" for number in range(40)]
        made = class_of(names, [f"move {number}" for number in range(stations)], rounds)
        html = page_html(made)
        assert len(html.encode()) < 2_500_000
        assert len(Page(html).all("article")) == 40

    def test_the_same_class_gives_the_same_page(self) -> None:
        assert page_html(with_outlook()) == page_html(with_outlook())
