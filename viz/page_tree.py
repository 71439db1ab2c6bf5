"""An HTML page of ours read back as a tree, for setting it on paper."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from html.parser import HTMLParser

VOID = frozenset({"meta", "br", "img", "input", "hr"})


@dataclass(slots=True)
class PageElement:
    """An element with what stands in it: texts and elements in their order."""

    name: str
    attributes: dict[str, str] = field(default_factory=dict)
    inside: list[PageElement | str] = field(default_factory=list)

    @property
    def kinds(self) -> set[str]:
        """Its classes."""
        return set(self.attributes.get("class", "").split())

    @property
    def elements(self) -> list[PageElement]:
        """The elements right in it."""
        return [part for part in self.inside if isinstance(part, PageElement)]

    def find(self, name: str) -> Iterator[PageElement]:
        """All elements of a name in it, however deep."""
        for part in self.elements:
            if part.name == name:
                yield part
            yield from part.find(name)

    def text(self) -> str:
        """All of its text, blanks joined."""
        told = "".join(part if isinstance(part, str) else _told(part) for part in self.inside)
        return re.sub(r"\s+", " ", told).strip()


def _told(part: PageElement) -> str:
    """Text of an element in a line; lines to write on and badges are set apart."""
    if "blank" in part.kinds:
        return "_" * (34 if "long" in part.kinds else 12)
    apart = part.name in ("br", "small") or "badge" in part.kinds
    return f" {part.text()} " if apart else part.text() if part.name == "td" else _kept_blanks(part)


def _kept_blanks(part: PageElement) -> str:
    return "".join(inner if isinstance(inner, str) else _told(inner) for inner in part.inside)


class _PageTreeReader(HTMLParser):
    """Builds the tree."""

    def __init__(self) -> None:
        super().__init__()
        self.root = PageElement("page")
        self.open = [self.root]

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """An element begins in the one that is open, and is open from now on where it may hold anything."""
        element = PageElement(tag, {name: value or "" for name, value in attrs})
        self.open[-1].inside.append(element)
        if tag not in VOID:
            self.open.append(element)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """An element that is closed at once, as those of drawings are."""
        self.open[-1].inside.append(PageElement(tag, {name: value or "" for name, value in attrs}))

    def handle_endtag(self, tag: str) -> None:
        """The innermost open element of that name ends, and all that stands open in it."""
        if any(element.name == tag for element in self.open[1:]):
            while self.open.pop().name != tag:
                pass

    def handle_data(self, data: str) -> None:
        """Text in the element that is open."""
        self.open[-1].inside.append(data)


def page_tree(markup: str) -> PageElement:
    """The tree of a page.

    Examples
    --------
    >>> tree = page_tree("<p>Water <b>warm</b></p><p>Air</p>")
    >>> [part.text() for part in tree.find("p")]
    ['Water warm', 'Air']
    """
    reader = _PageTreeReader()
    reader.feed(markup)
    reader.close()
    return reader.root
