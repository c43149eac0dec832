"""A page as its tags and texts, read by the standard library's parser."""

from __future__ import annotations

from html.parser import HTMLParser

VOID = {"meta", "link", "input", "br"}


class Page(HTMLParser):
    """All tags with their attributes, all text, the facts; every tag must be closed in turn."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str]]] = []
        self.texts: list[str] = []
        self.styles: list[str] = []
        self.facts: dict[str, str] = {}
        self._open: list[str] = []
        self._fact = ""
        self.feed(html)
        self.close()
        assert not self._open, self._open

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, {name: value or "" for name, value in attrs}))
        if tag not in VOID:
            self._open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, {name: value or "" for name, value in attrs}))

    def handle_endtag(self, tag: str) -> None:
        assert self._open and self._open[-1] == tag, (tag, self._open[-3:], self.getpos())
        self._open.pop()

    def handle_data(self, data: str) -> None:
        inside = self._open[-1] if self._open else ""
        (self.styles if inside == "style" else self.texts).append(data)
        if inside == "dt":
            self._fact = data.strip()
        elif inside == "dd":
            self.facts[self._fact] = " ".join(data.split())

    @property
    def text(self) -> str:
        """All that is to be read, blanks made single."""
        return " ".join(" ".join(self.texts).split())

    def all(self, tag: str) -> list[dict[str, str]]:
        """Attributes of every tag of one name."""
        return [attributes for name, attributes in self.tags if name == tag]
