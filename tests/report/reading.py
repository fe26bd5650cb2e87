"""Reads a page back: its tables as rows of text, its elements, its scripts."""

from __future__ import annotations

from dataclasses import dataclass, field
from html.parser import HTMLParser


@dataclass
class ReadTable:
    caption: str = ""
    rows: list[list[str]] = field(default_factory=list)

    def column(self, head: str) -> list[str]:
        place = self.rows[0].index(head)
        return [row[place] for row in self.rows[1:]]


class PageReader(HTMLParser):
    def __init__(self, text: str) -> None:
        super().__init__(convert_charrefs=True)
        self.tables: list[ReadTable] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.scripts: list[str] = []
        self.styles: list[str] = []
        self.text = ""
        self._cell: list[str] | None = None
        self._caption: list[str] | None = None
        self._raw = ""
        self._hidden = 0
        self.feed(text)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag in {"script", "style"}:
            self._raw = tag
            (self.scripts if tag == "script" else self.styles).append("")
        if tag == "table":
            self.tables.append(ReadTable())
        elif tag == "caption":
            self._caption = []
        elif tag == "tr":
            self.tables[-1].rows.append([])
        elif tag in {"td", "th"}:
            self._cell = []

    def handle_endtag(self, tag: str) -> None:
        if tag == self._raw:
            self._raw = ""
        if tag == "caption" and self._caption is not None:
            self.tables[-1].caption = "".join(self._caption).strip()
            self._caption = None
        elif tag in {"td", "th"} and self._cell is not None:
            self.tables[-1].rows[-1].append("".join(self._cell).strip())
            self._cell = None

    def handle_data(self, data: str) -> None:
        if self._raw == "script":
            self.scripts[-1] += data
        elif self._raw == "style":
            self.styles[-1] += data
        else:
            self.text += data
            if self._cell is not None:
                self._cell.append(data)
            if self._caption is not None:
                self._caption.append(data)

    def table(self, caption: str) -> ReadTable:
        return next(table for table in self.tables if table.caption == caption)
