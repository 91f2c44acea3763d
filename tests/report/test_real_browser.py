"""The page in a real browser, where there is one: its policy holds, and a card can be printed alone."""

from __future__ import annotations

import re
import shutil
import subprocess
from dataclasses import replace
from pathlib import Path

import pytest

from floorclock.digest.class_digest import Call, ClassDigest
from floorclock.pace.advice import Way
from floorclock.pace.flags import Flag
from floorclock.report.page import page_html
from tests.odd_names import ODD_NAMES
from tests.report.outlooks import advice, class_of, with_outlook

BROWSER = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
pytestmark = pytest.mark.skipif(BROWSER is None, reason="no browser on this machine")


def browse(tmp_path: Path, address: str, *options: str) -> subprocess.CompletedProcess[str]:
    words = [str(BROWSER), "--headless", "--no-sandbox", "--disable-gpu", f"--user-data-dir={tmp_path / 'profile'}"]
    logged = [*words, "--enable-logging=stderr", "--v=0", *options, address]
    return subprocess.run(logged, capture_output=True, text=True, timeout=90, check=False)


def page_at(tmp_path: Path, made: ClassDigest) -> str:
    """The address of a page that was written."""
    (tmp_path / "out.html").write_text(page_html(made), encoding="utf-8")
    return (tmp_path / "out.html").as_uri()


def pages_printed(tmp_path: Path, address: str) -> int:
    paper = tmp_path / "out.pdf"
    browse(tmp_path, address, f"--print-to-pdf={paper}", "--no-pdf-header-footer")
    return len(re.findall(rb"/Type\s*/Page\b", paper.read_bytes()))


def test_the_browser_finds_nothing_against_the_policy_and_styles_are_taken(tmp_path: Path) -> None:
    shown = browse(tmp_path, page_at(tmp_path, class_of(ODD_NAMES, ["<b>row</b>"], 3)), "--dump-dom")
    assert "Nine &lt;i&gt;quays&lt;/i&gt;" in shown.stdout
    assert "CONSOLE" not in shown.stderr
    foreign = (tmp_path / "out.html").read_text(encoding="utf-8").replace("</body>", "<style>p{color:red}</style></body>")
    (tmp_path / "foreign.html").write_text(foreign, encoding="utf-8")
    assert "Content Security Policy" in browse(tmp_path, (tmp_path / "foreign.html").as_uri(), "--dump-dom").stderr


def test_one_card_is_printed_alone_and_all_of_them_each_on_its_own_page(tmp_path: Path) -> None:
    address = page_at(tmp_path, with_outlook())
    assert pages_printed(tmp_path, f"{address}#card-2") == 1
    assert pages_printed(tmp_path, address) >= 5 + 1


def test_a_card_of_five_stations_is_one_sheet_of_paper_however_badly_it_went(tmp_path: Path) -> None:
    made = class_of(["Ilka", "Bram"], [f"a long name of a move {number}" for number in range(5)], 6)
    part = made.parts[0]
    words = "next time start at 3 reps, then 1 more each round"
    told = tuple(replace(advice(0, Way.LESS, 8), station=at, words=words) for at in range(5))
    why = ", ".join(f"round {number} at a long name of a move 4" for number in range(1, 7))
    calls = tuple(Call(athlete.name, 0, Flag.NOT_FINISHED, f"{why} not finished") for athlete in part.athletes)
    athletes = tuple(replace(athlete, flags=tuple(Flag), advice=told) for athlete in part.athletes)
    address = page_at(tmp_path, replace(made, parts=(replace(part, athletes=athletes),), calls=calls))
    assert pages_printed(tmp_path, f"{address}#card-1") == 1


def test_the_heading_of_the_rests_stands_on_the_sheet_of_its_picture(tmp_path: Path) -> None:
    """Forty rows fill a sheet: the heading must not stay behind alone, and the class takes few sheets before the cards."""
    made = class_of([f"Athlete {number}" for number in range(40)], [f"move {at}" for at in range(5)], 6)
    assert pages_printed(tmp_path, page_at(tmp_path, made)) <= 40 + 6
