"""Tables with more columns than a screen takes: told row by row, so that no word is broken."""

from __future__ import annotations

from collections.abc import Sequence

from rich.cells import cell_len
from rich.console import Group, RenderableType
from rich.padding import Padding
from rich.text import Text

_BETWEEN = 3
"""Blank columns between two columns of a table, and beside the outer ones together."""


def widths(columns: Sequence[str], rows: Sequence[Sequence[str]], width: int) -> list[int] | None:
    """Return how wide each column is on a screen so many characters wide; None where a word would be broken.

    What the longest words leave goes to the columns that want it most.
    """
    wanted, found = [], []
    for texts in zip(columns, *rows, strict=True):
        wanted.append(max(cell_len(text) for text in texts))
        found.append(max(cell_len(word) for text in texts for word in (*text.split(), "")))
    spare = width - _BETWEEN * len(found) - sum(found)
    if spare < 0:
        return None
    while spare and (short := [place for place, least in enumerate(found) if least < wanted[place]]):
        found[max(short, key=lambda place: wanted[place] - found[place])] += 1
        spare -= 1
    return found


def row_by_row(title: str, columns: Sequence[str], rows: Sequence[Sequence[str]]) -> RenderableType:
    """Return a table as a paragraph a row: two cells as its head, then each figure with its name."""
    blocks: list[RenderableType] = [Text(title, style="italic", justify="center")] if title else []
    for row in rows:
        head = Text(row[0], style="bold")
        head.append(f"  {row[1]}" if len(row) > 1 else "", style="not bold default")
        said = (f"{name}: {cell}" for name, cell in zip(columns[2:], row[2:], strict=True) if cell)
        # A figure stays on one line with its name.
        figures = Text("; ".join(text.replace(" ", "\u00a0") if len(text) < 30 else text for text in said))
        blocks += [head, Padding(figures, (0, 0, 0, 2))]
    return Group(*blocks, Text())
