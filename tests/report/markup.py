"""Reads a page as a strict reader would: the rules of the HTML standard (WHATWG) that a page of ours can break.

What is checked: void elements and nesting (13.1.2), unique ids and references to them (3.2.6, WAI-ARIA 1.2), one `h1` and no
skipped level of heading, captions and scopes of tables, and that nothing asks for anything outside the page.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from html.parser import HTMLParser
from itertools import pairwise

VOID = frozenset({"area", "base", "br", "col", "embed", "hr", "img", "input", "link", "meta", "source", "track", "wbr"})
ADDRESSES = ("src", "srcset", "href", "xlink:href", "action", "data", "poster", "background", "formaction", "ping")
PHRASES_ONLY = frozenset({"p", "h1", "h2", "h3", "h4", "dt", "caption", "figcaption", "summary", "b", "bdi", "span"})
BLOCKS = frozenset({"p", "div", "ul", "dl", "table", "section", "article", "figure", "header", "footer", "h1", "h2", "h3", "h4"})


@dataclass
class Element:
    """One element: its attributes and the text directly and deeper in it."""

    name: str
    attributes: dict[str, str]
    text: str = ""
    inside: list[str] = field(default_factory=list)


class Page(HTMLParser):
    """The elements of a page in order; reading raises AssertionError at the first thing that is wrong."""

    def __init__(self, text: str) -> None:
        super().__init__(convert_charrefs=True)
        self.elements: list[Element] = []
        self._open: list[Element] = []
        self.doctype = ""
        self.feed(text)
        self.close()
        assert not self._open, f"never closed: {[one.name for one in self._open]}"
        self._check()

    def handle_decl(self, decl: str) -> None:
        self.doctype = decl

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        names = [name for name, _ in attrs]
        assert len(names) == len(set(names)), f"{tag} has an attribute twice"
        inside = [one.name for one in self._open]
        if tag in BLOCKS:
            assert not PHRASES_ONLY & set(inside), f"{tag} in {inside}"
        if tag == "a":
            assert "a" not in inside
        element = Element(tag, {name: value or "" for name, value in attrs}, inside=inside)
        self.elements.append(element)
        if tag not in VOID:
            self._open.append(element)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        assert "svg" in [one.name for one in self._open], f"<{tag}/> outside a picture"
        self.handle_starttag(tag, attrs)
        self.handle_endtag(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self._open, f"</{tag}> closes nothing"
        assert self._open[-1].name == tag, f"</{tag}> while {self._open[-1].name} is open"
        self._open.pop()
        if tag in ("dt", "dd", "th", "td", "b", "a", "span", "caption"):
            # What stands apart on the page stands apart in the text of what holds it.
            self.handle_data(" ")

    def handle_data(self, data: str) -> None:
        for element in self._open:
            element.text += data

    def all(self, name: str) -> list[Element]:
        """Every element of a name."""
        return [element for element in self.elements if element.name == name]

    def one(self, name: str) -> Element:
        """The only element of a name."""
        (found,) = self.all(name)
        return found

    def by_id(self, name: str) -> Element:
        """The element with an id."""
        (found,) = [element for element in self.elements if element.attributes.get("id") == name]
        return found

    def _check(self) -> None:
        assert self.doctype.lower() == "doctype html"
        ids = [element.attributes["id"] for element in self.elements if "id" in element.attributes]
        assert len(ids) == len(set(ids)), "an id is there twice"
        for element in self.elements:
            self._check_attributes(element, set(ids))
        levels = [int(element.name[1]) for element in self.elements if element.name in ("h1", "h2", "h3", "h4", "h5", "h6")]
        assert levels[0] == 1
        assert levels.count(1) == 1
        assert all(later <= earlier + 1 for earlier, later in pairwise(levels)), "a level is skipped"
        assert len(self.all("caption")) == len(self.all("table"))
        assert all(cell.attributes.get("scope") in ("row", "col") for cell in self.all("th"))
        assert all(picture.attributes.get("role") == "img" and picture.attributes["aria-label"] for picture in self.all("svg"))

    def _check_attributes(self, element: Element, ids: set[str]) -> None:
        assert element.name not in ("script", "link", "img", "iframe", "object", "embed", "base", "form", "audio", "video", "use")
        for name, value in element.attributes.items():
            assert not name.startswith("on"), f"{element.name} has {name}"
            assert name != "style", f"{element.name} has a style of its own"
            if name in ADDRESSES:
                assert value.startswith("#"), f"{element.name} asks for {value}"
                assert value[1:] in ids, f"nothing is called {value}"
            if name in ("aria-labelledby", "aria-describedby"):
                assert set(value.split()) <= ids
            assert "url(" not in value, f"{element.name} asks for {value}"
