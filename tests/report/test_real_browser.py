"""The page in a real browser, where there is one: its policy holds, and a card can be printed alone."""

from __future__ import annotations

import re
import shutil
import subprocess
from pathlib import Path

import pytest

from floorclock.report.page import write_page
from tests.report.outlooks import HOSTILE, class_of, with_outlook

BROWSER = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
pytestmark = pytest.mark.skipif(BROWSER is None, reason="no browser on this machine")


def browse(tmp_path: Path, address: str, *options: str) -> subprocess.CompletedProcess[str]:
    words = [str(BROWSER), "--headless", "--no-sandbox", "--disable-gpu", f"--user-data-dir={tmp_path / 'profile'}"]
    logged = [*words, "--enable-logging=stderr", "--v=0", *options, address]
    return subprocess.run(logged, capture_output=True, text=True, timeout=90, check=False)


def pages_printed(tmp_path: Path, address: str) -> int:
    paper = tmp_path / "out.pdf"
    browse(tmp_path, address, f"--print-to-pdf={paper}", "--no-pdf-header-footer")
    return len(re.findall(rb"/Type\s*/Page\b", paper.read_bytes()))


def test_the_browser_finds_nothing_against_the_policy_and_styles_are_taken(tmp_path: Path) -> None:
    write_page(class_of(HOSTILE, ["<b>row</b>"], 3), tmp_path / "out.html")
    shown = browse(tmp_path, (tmp_path / "out.html").as_uri(), "--dump-dom")
    assert "Nine &lt;i&gt;quays&lt;/i&gt;" in shown.stdout
    assert "CONSOLE" not in shown.stderr
    foreign = (tmp_path / "out.html").read_text(encoding="utf-8").replace("</body>", "<style>p{color:red}</style></body>")
    (tmp_path / "foreign.html").write_text(foreign, encoding="utf-8")
    assert "Content Security Policy" in browse(tmp_path, (tmp_path / "foreign.html").as_uri(), "--dump-dom").stderr


def test_one_card_is_printed_alone_and_all_of_them_each_on_its_own_page(tmp_path: Path) -> None:
    write_page(with_outlook(), tmp_path / "out.html")
    address = (tmp_path / "out.html").as_uri()
    assert pages_printed(tmp_path, f"{address}#card-2") == 1
    assert pages_printed(tmp_path, address) >= 5 + 1
