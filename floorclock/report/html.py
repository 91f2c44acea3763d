"""Pages: HTML that a browser shows, prints and asks no network for.

Invariant: everything from a plan, a roster or a record is text, escaped by the template; the only markup is the pictures'. A page
holds no script and its policy forbids any, and every address beyond itself.
"""

from __future__ import annotations

import base64
import hashlib
from dataclasses import dataclass
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from floorclock.report.colours import DARK, LIGHT, ColourScheme, Ink

HERE = Path(__file__).parent


@dataclass(frozen=True, slots=True)
class PageTable:
    """Rows of cells under headings; the first cell of a row is its heading, and `named` says whether it is an athlete."""

    caption: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    named: bool = True


def rendered(template: str, title: str, **values: object) -> str:
    """A page as text, from its template and what that shows."""
    environment = Environment(
        loader=FileSystemLoader(HERE), autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )
    css = _stylesheet()
    # The page's own styles are let in and nothing else.
    digest = base64.b64encode(hashlib.sha256(css.encode("utf-8")).digest()).decode("ascii")
    policy = f"default-src 'none'; style-src 'sha256-{digest}'; base-uri 'none'; form-action 'none'"
    return environment.get_template(template).render(title=title, css=Markup(css), policy=policy, **values)


def _stylesheet() -> str:
    """Our colours, light and dark on a screen and light on paper, then the layout."""
    marks = "".join(f".f-{ink}{{fill:var(--{ink})}}.s-{ink}{{fill:none;stroke:var(--{ink})}}" for ink in Ink)
    dark = f"@media screen and (prefers-color-scheme: dark){{{_variables(DARK)}}}"
    return f"{_variables(LIGHT)}{dark}{marks}\n" + (HERE / "page.css").read_text(encoding="utf-8")


def _variables(scheme: ColourScheme) -> str:
    inks = "".join(f"--{ink}:{colour};" for ink, colour in scheme.inks.items())
    return f":root{{--ground:{scheme.ground};--raised:{scheme.raised};{inks}}}"
