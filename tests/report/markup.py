"""Reads a page as a strict reader would: the rules of the HTML standard (WHATWG) that a page of ours can break.

What is checked: that html5lib, which reads as the standard says, finds no error; no block in a phrase (3.2.5.2); unique ids and
references to them (3.2.6, WAI-ARIA 1.2), one `h1` and no skipped level of heading, captions and scopes of tables, and that
nothing asks for anything outside the page.
"""

from __future__ import annotations

from itertools import pairwise
from xml.etree.ElementTree import Element

import html5lib

ADDRESSES = ("src", "srcset", "href", "xlink:href", "action", "data", "poster", "background", "formaction", "ping")
PHRASES_ONLY = frozenset({"p", "h1", "h2", "h3", "h4", "dt", "caption", "figcaption", "summary", "b", "bdi", "span"})
BLOCKS = frozenset({"p", "div", "ul", "dl", "table", "section", "article", "figure", "header", "footer", "h1", "h2", "h3", "h4"})
APART = frozenset({"dt", "dd", "th", "td", "b", "a", "span", "caption"})
"""What stands apart on the page stands apart in the text of what holds it."""


class Page:
    """The elements of a page in order; reading raises at the first thing that is wrong."""

    def __init__(self, text: str) -> None:
        self.elements: list[Element] = list(html5lib.HTMLParser(strict=True, namespaceHTMLElements=False).parse(text).iter())
        for element in self.elements:
            element.tag = element.tag.rpartition("}")[2]
            if element.tag in APART:
                element.tail = " " + (element.tail or "")
        self._check()

    def all(self, name: str) -> list[Element]:
        """Every element of a name."""
        return [element for element in self.elements if element.tag == name]

    def one(self, name: str) -> Element:
        """The only element of a name."""
        (found,) = self.all(name)
        return found

    def by_id(self, name: str) -> Element:
        """The element with an id."""
        (found,) = [element for element in self.elements if element.get("id") == name]
        return found

    def _check(self) -> None:
        ids = [element.attrib["id"] for element in self.elements if "id" in element.attrib]
        assert len(ids) == len(set(ids)), "an id is there twice"
        for element in self.elements:
            assert element.tag not in PHRASES_ONLY or not BLOCKS & {inner.tag for inner in [*element.iter()][1:]}
            self._check_attributes(element, set(ids))
        levels = [int(element.tag[1]) for element in self.elements if element.tag in ("h1", "h2", "h3", "h4", "h5", "h6")]
        assert (levels[0], levels.count(1)) == (1, 1)
        assert all(later <= earlier + 1 for earlier, later in pairwise(levels)), "a level is skipped"
        assert len(self.all("caption")) == len(self.all("table"))
        assert all(cell.get("scope") in ("row", "col") for cell in self.all("th"))
        assert all(picture.get("role") == "img" and picture.get("aria-label") for picture in self.all("svg"))

    def _check_attributes(self, element: Element, ids: set[str]) -> None:
        assert element.tag not in ("script", "link", "img", "iframe", "object", "embed", "base", "form", "audio", "video", "use")
        for name, value in element.attrib.items():
            assert not name.startswith("on"), f"{element.tag} has {name}"
            assert name != "style", f"{element.tag} has a style of its own"
            if name in ADDRESSES:
                assert value.startswith("#"), f"{element.tag} asks for {value}"
                assert value[1:] in ids, f"nothing is called {value}"
            if name in ("aria-labelledby", "aria-describedby"):
                assert set(value.split()) <= ids
            assert "url(" not in value, f"{element.tag} asks for {value}"


def text_of(element: Element) -> str:
    """All its words."""
    return "".join(element.itertext())
