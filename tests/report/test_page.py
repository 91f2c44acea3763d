"""The page of a class: valid, self-contained, whole, and proof against any name."""

from __future__ import annotations

import base64
import hashlib
import re
from dataclasses import replace
from importlib.resources import files

import pytest

from floorclock.digest.class_digest import MOST_CALLS, AthleteDigest
from floorclock.pace.advice import Way
from floorclock.pace.flags import Flag
from floorclock.pace.model.forecast import Forecast
from floorclock.report.page import page_html
from tests.pace.sample_class import summary
from tests.report.markup import Page
from tests.report.outlooks import HOSTILE, advice, class_of, to_come, with_outlook


def words(text: str) -> str:
    return " ".join(text.split())


@pytest.fixture(scope="module")
def html() -> str:
    return page_html(with_outlook())


@pytest.fixture(scope="module")
def page(html: str) -> Page:
    return Page(html)


def rows_of(page: Page, caption: str) -> list[str]:
    (table,) = [table for table in page.all("table") if caption in table.text]
    return [words(line) for line in table.text.splitlines() if line.strip()]


class TestTheStandard:
    def test_the_page_reads_without_a_mistake(self, page: Page) -> None:
        assert page.one("html").attributes["lang"] == "en"
        assert page.one("title").text == "Five trips round the harbour"

    def test_the_encoding_stands_where_a_browser_looks_for_it(self, html: str, page: Page) -> None:
        """HTML standard 4.2.5.4: one declaration, whole within the first 1024 bytes."""
        assert [meta.attributes["charset"] for meta in page.all("meta") if "charset" in meta.attributes] == ["utf-8"]
        assert b'<meta charset="utf-8">' in html.encode()[:1024]

    def test_a_reader_of_the_standard_finds_no_error(self, html: str) -> None:
        reader = pytest.importorskip("html5lib", reason="html5lib is not installed")
        reader.HTMLParser(strict=True).parse(html)

    def test_the_policy_lets_in_the_pages_own_styles_and_nothing_else(self, html: str, page: Page) -> None:
        (policy,) = [one.attributes["content"] for one in page.all("meta") if one.attributes.get("http-equiv")]
        style = re.search(r"<style>(.*?)</style>", html, re.S)
        assert style is not None
        digest = base64.b64encode(hashlib.sha256(style.group(1).encode()).digest()).decode()
        assert policy == f"default-src 'none'; style-src 'sha256-{digest}'; base-uri 'none'; form-action 'none'"
        assert page.elements.index(page.one("style")) > [one.name for one in page.elements].index("meta")

    def test_nothing_in_it_names_an_address(self, html: str) -> None:
        assert not re.search(r"https?:|//[a-z]|url\(|@import|@font-face|xmlns", html)

    def test_styles_balance_and_use_only_colours_that_are_given(self, page: Page) -> None:
        css = page.one("style").text
        assert css.count("{") == css.count("}")
        used, given = set(re.findall(r"var\((--\w+)\)", css)), set(re.findall(r"(--\w+):", css))
        assert used == given
        assert "prefers-color-scheme: dark" in css
        assert "@media print" in css

    def test_every_class_that_a_picture_uses_has_a_style(self, page: Page) -> None:
        css = page.one("style").text
        used = {name for one in page.elements if one.name in ("path", "text") for name in one.attributes["class"].split()}
        assert {"f-held", "s-tight", "f-ink", "b"} <= used
        assert all(f".{name}{{" in css or f".{name} {{" in css for name in used)

    def test_template_and_styles_are_data_of_the_package(self) -> None:
        folder = files("floorclock.report")
        assert {"page.html.j2", "page.css"} <= {entry.name for entry in folder.iterdir()}


class TestWhatItSays:
    def test_the_head_has_the_facts_of_the_class(self, page: Page) -> None:
        head = words(page.all("header")[0].text)
        for fact in ("2026-11-24 19:00", "5 athletes", "Rest margin 0:15", "2026-11-24-1900-harbour"):
            assert fact in head
        assert "rehearsal" not in head

    def test_a_rehearsal_says_so_on_top_and_on_every_card(self) -> None:
        page = Page(page_html(replace(summary(), rehearsal=True)))
        assert sum(one.attributes.get("class") == "badge" for one in page.all("strong")) == 1 + 5

    def test_who_to_talk_to_comes_with_the_reason(self, page: Page) -> None:
        (calls,) = [one for one in page.all("ul") if one.attributes.get("class") == "calls"]
        said = [words(line) for line in calls.text.splitlines() if line.strip()]
        assert said[0] == "/ not finished Odd Carry and sit not finished"
        assert any(line.startswith("! tight Bram under the margin of 15 s in 1 of 4 rounds at swing") for line in said)

    def test_who_held_and_who_did_not_and_which_station_did_it(self, page: Page) -> None:
        said = words(page.one("main").text)
        assert (
            "held Ilka / not finished Odd ! tight Bram v fading Bram, Sefa untapped Runa "
            "which station 2 of 30 tapped intervals were under the margin; no station stands out" in said
        )

    def test_a_forecast_is_said_to_be_one_and_stands_apart_from_what_happened(self) -> None:
        made = with_outlook()
        harbour = made.parts[1]

        def flagged(name: str, ahead: Forecast | None) -> AthleteDigest:
            one = next(one for one in harbour.athletes if one.name == name)
            return replace(one, flags=(Flag.RUNS_OUT,), runs_out=ahead)

        people = (flagged("Bram", to_come(0, 5, 50)), flagged("Sefa", None))
        page = Page(page_html(replace(made, parts=(replace(harbour, athletes=people),))))
        assert "x forecast to run out Bram x ran out Sefa" in words(page.one("main").text)

    def test_the_list_of_whom_to_talk_to_ends_where_nobody_would_talk_to_all_and_names_the_others(self) -> None:
        made = class_of([f"Athlete {number}" for number in range(40)], ["swing"], 12)
        assert len(made.calls) > MOST_CALLS
        page = Page(page_html(made))
        (calls,) = [one for one in page.all("ul") if one.attributes.get("class") == "calls"]
        assert len([line for line in calls.text.splitlines() if line.strip()]) == MOST_CALLS
        rest = made.calls[MOST_CALLS:]
        said = words(page.one("main").text).replace(" ,", ",").replace(" .", ".")
        assert f"And {len(rest)} more with a flag: {', '.join(call.athlete for call in rest)}. Their cards say why." in said

    def test_who_does_another_move_is_never_shown_the_stations_with_their_number(self) -> None:
        """A guarded move may not be theirs: a coach who copies the page must not give it to them."""
        made = with_outlook()
        harbour = made.parts[1]
        bram = next(one for one in harbour.athletes if one.name == "Bram")
        taken = tuple(
            replace(one, split=replace(one.split, move="deadlift")) if one.split.station == 0 else one for one in bram.splits
        )
        ahead = tuple(
            replace(one, slot=replace(one.slot, move="deadlift")) if one.slot.station == 0 else one for one in bram.forecast
        )
        told = (advice(1, Way.KEEP, 10), advice(0, Way.LESS, 8, move="deadlift", own_move="deadlift"))
        instead = replace(bram, splits=taken, forecast=ahead, advice=told)
        athletes = tuple(instead if one.name == "Bram" else one for one in harbour.athletes)
        page = Page(page_html(replace(made, calls=(), parts=(made.parts[0], replace(harbour, athletes=athletes)))))
        assert rows_of(page, "what to give; ↓ less")[1:] == ["athlete swing step-up", "Bram deadlift 8 ↓ 10 ="]
        card = words(page.by_id("card-2").text)
        assert "deadlift 8 ↓ drop to 8 reps?" in card
        assert "round deadlift step-up" in card
        assert "swing" not in card

    def test_the_table_beside_the_rest_picture_says_the_same(self, page: Page) -> None:
        rows = rows_of(page, "rest of each round in s")
        assert "Odd 20, /, 18, 19 22, 22, ?, 21 18 / not finished" in rows
        assert "Bram 24, 20, 16, 12! 26, 23, 19, 14! 12 ! tight, v fading" in rows
        assert "Runa ?, ?, ?, ? ?, ?, ?, ? untapped" in rows

    def test_results_stand_in_order_with_the_same_work_together(self, page: Page) -> None:
        rows = rows_of(page, "Carry and sit: results")
        assert [row.split()[0] for row in rows[2:]] == ["Ilka", "Bram", "Sefa", "Odd", "Runa"]

    def test_next_targets_have_a_sign_for_their_way(self, page: Page) -> None:
        assert rows_of(page, "what to give; ↓ less")[1:] == ["athlete swing step-up", "Bram 8 ↓ 10 ="]

    def test_effort_and_load_are_said_and_what_is_not_rated_too(self, page: Page) -> None:
        rows = rows_of(page, "Effort (each athlete's own rating")
        assert rows[2:] == ["Ilka 6 42 252", "Bram not rated 42"]

    def test_a_card_has_pace_forecast_reasons_and_load(self, page: Page) -> None:
        card = words(page.by_id("card-2").text)
        for fact in (
            "pace 4.0 s slower each round",
            "likely goes in round 5",
            "forecast 50 s (45 to 55; margin kept: unlikely)",
            "effort not rated, 42 minutes",
        ):
            assert fact in card
        assert "drop to 8 reps?" in card
        assert "likely (92%)" in card
        assert "36.0 / 24" in card

    def test_a_card_speaks_of_nobody_else(self, page: Page) -> None:
        for number, name in enumerate(("Ilka", "Bram", "Sefa", "Odd", "Runa"), start=1):
            card = page.by_id(f"card-{number}").text
            assert [other for other in ("Ilka", "Bram", "Sefa", "Odd", "Runa") if other in card] == [name]

    def test_the_usual_cautions_stand_on_the_page_and_on_every_card(self, page: Page) -> None:
        for place in (page.one("footer"), *page.all("article")):
            said = words(place.text)
            for caution in ("Sharp or chest pain", "dizziness", "no medical advice", "local rules and qualified staff decide"):
                assert caution in said
        assert "personal data" in page.one("footer").text

    def test_every_picture_has_a_table_beside_it(self, page: Page) -> None:
        for picture in page.all("svg"):
            assert re.search("the table .* says the same", picture.attributes["aria-label"])
        assert len(page.all("svg")) == 1 + 5

    def test_a_class_without_anything_recorded_is_a_valid_page(self) -> None:
        empty = replace(summary(), parts=(), calls=(), athletes=(), load=())
        assert "Nobody is known to need it: no split was taken." in Page(page_html(empty)).one("main").text

    def test_a_calm_class_says_that_nobody_needs_a_word(self) -> None:
        calm = class_of(["Ilka"], ["swing"], 2)
        assert calm.calls == ()
        assert "Everybody who was tapped kept the margin" in Page(page_html(calm)).one("main").text


class TestNames:
    def test_names_are_text_wherever_they_stand(self) -> None:
        html = page_html(class_of(HOSTILE, ["<b>row</b>", "squat $a$"], 4))
        page = Page(html)
        cards = [words(one.text) for one in page.all("h3") if one.attributes.get("id", "").startswith("name-")]
        assert cards == [words(name) for name in HOSTILE]
        assert page.all("script") == []
        assert "Nine <i>quays</i>" in page.one("h1").text
        assert page.all("i") == []

    def test_names_stand_in_the_picture_as_text(self) -> None:
        page = Page(page_html(class_of(HOSTILE, ["row"], 3)))
        drawn = [one.text for one in page.all("text")]
        assert all(any(text.startswith(name[:10]) for text in drawn) for name in HOSTILE)

    def test_a_name_never_turns_its_neighbours_round(self) -> None:
        page = Page(page_html(class_of(["עדי", "Bo"], ["row"], 3)))
        assert all(any(one.text == name for one in page.all("bdi")) for name in ("עדי", "Bo"))


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
