"""A class as one page: HTML that a browser shows, prints and asks no network for.

Invariant: everything from a plan, a roster or a record is text, escaped by the template; the page holds no script and its
policy forbids any, and every address beyond itself.
"""

from __future__ import annotations

import base64
import hashlib
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from floorclock.digest.summary import ClassSummary
from floorclock.digest.words import ASK_FIRST, CALM, PERSONAL, STOP, UNKNOWN
from floorclock.journal.write_atomically import write_atomically
from floorclock.report.colours import DARK, LIGHT, Ink, Scheme
from floorclock.report.page_view import page_view

HERE = Path(__file__).parent


def write_page(summary: ClassSummary, path: Path) -> None:
    """Writes the page of a class: one file, for a browser or a printer.

    Raises:
        WrongUsage: the folder does not exist, or something stands there that is no ordinary file.
        ResourceError: the disk does not take it.
    """
    write_atomically(path, page_html(summary).encode("utf-8"))


def page_html(summary: ClassSummary) -> str:
    """The page as text."""
    environment = Environment(
        loader=FileSystemLoader(HERE), autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )
    environment.filters["markup"] = Markup
    css = stylesheet()
    return environment.get_template("page.html.j2").render(
        it=page_view(summary),
        css=Markup(css),
        policy=policy(css),
        ask_first=ASK_FIRST,
        calm=CALM,
        unknown=UNKNOWN,
        stop=STOP,
        personal=PERSONAL,
    )


def policy(css: str) -> str:
    """A Content Security Policy that lets the page's own styles in and nothing else."""
    digest = base64.b64encode(hashlib.sha256(css.encode("utf-8")).digest()).decode("ascii")
    return f"default-src 'none'; style-src 'sha256-{digest}'; base-uri 'none'; form-action 'none'"


def stylesheet() -> str:
    """The styles of the page: our colours, light and dark on a screen and light on paper, then the layout."""
    marks = "".join(f".f-{ink}{{fill:var(--{ink})}}.s-{ink}{{fill:none;stroke:var(--{ink})}}" for ink in Ink)
    dark = f"@media screen and (prefers-color-scheme: dark){{{_variables(DARK)}}}"
    return f"{_variables(LIGHT)}{dark}{marks}\n" + (HERE / "page.css").read_text(encoding="utf-8")


def _variables(scheme: Scheme) -> str:
    inks = "".join(f"--{ink}:{colour};" for ink, colour in scheme.inks.items())
    return f":root{{--ground:{scheme.ground};--raised:{scheme.raised};{inks}}}"
