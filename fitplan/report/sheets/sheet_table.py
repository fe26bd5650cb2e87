"""Tables on printed sheets: column widths from what stands in them, rows as high as their text."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fitplan.report.drawings.drawing import Drawing, Pen
from fitplan.report.drawings.pdf import text_width, wrapped
from fitplan.report.lists.plan_list import Cell, PlanList, cell_words

SIZE = 3.55
"""10 pt."""
LINE = 4.5
_PAD = 1.6
WIDEST = 70.0
"""A column is no wider as long as its text can go on below, in mm."""
_NARROWEST = 9.0
_MOST_LINES = 14
"""A cell may be so many lines high; a window that is to be made wider takes ten."""
_STEP = 3.0
"""Room is shared out among columns in pieces of so many mm."""
_LONGEST_WORD = 34.0
"""Words up to this width are not broken where room is shared out."""
_RAGGED = 1.12
"""Broken into lines, a text takes so much more than its own length."""
_BOX = 18.0
"""Width of a box to write into, in mm."""


@dataclass(frozen=True)
class TableColumn:
    """A column: its head, its width in mm, and whether it holds numbers only."""

    head: str
    width: float
    numeric: bool


def table_columns(sheet: PlanList, room: float, boxes: str = "", widest: float = WIDEST) -> list[TableColumn]:
    """Return columns no wider together than ``room`` mm: wide ones give way first.

    ``boxes`` names the column that is written into by hand.
    """
    natural: list[float] = []
    numeric: list[bool] = []
    for place, head in enumerate(sheet.columns):
        cells = [row[place] for row in sheet.rows]
        words = max((text_width(word, SIZE, True) for word in head.split()), default=0.0)
        longest = max((text_width(cell_words(cell)[:300], SIZE) for cell in cells), default=0.0)
        least = _BOX if head == boxes else _NARROWEST
        natural.append(min(widest, max(least, words, longest)) + 2 * _PAD)
        numeric.append(bool(cells) and all(isinstance(cell, int | float) for cell in cells))
    ways = (
        [natural] if sum(natural) <= room else [_cut_down(natural, room), _shared_out(sheet, natural, room)]
    )
    tables = []
    for widths in ways:
        squeeze = min(1.0, room / max(sum(widths), 1e-9))
        columns = [
            TableColumn(head, width * squeeze, is_number)
            for head, width, is_number in zip(sheet.columns, widths, numeric, strict=True)
        ]
        lines = [table_row_height(row, columns) for row in sheet.rows] if len(ways) > 1 else []
        tables.append((sum(lines), columns))
    return min(tables, key=lambda table: table[0])[1]


def word_widths(sheet: PlanList) -> list[float]:
    """Return for each column how wide it must be so that no word is broken but very long ones, in mm."""
    widths = []
    for place, head in enumerate(sheet.columns):
        words = {word for row in sheet.rows for word in cell_words(row[place])[:300].split()}
        longest = max((text_width(word, SIZE) for word in words), default=0.0)
        head_word = max((text_width(word, SIZE, True) for word in head.split()), default=0.0)
        widths.append(max(_NARROWEST, head_word, min(longest, _LONGEST_WORD)) + 2 * _PAD)
    return widths


def _cut_down(natural: Sequence[float], room: float) -> list[float]:
    """Cut the widest columns down to one width."""
    limit = max(natural, default=0.0)
    while sum(min(width, limit) for width in natural) > room and limit > 8:
        limit -= 0.5
    return [min(width, limit) for width in natural]


def _shared_out(sheet: PlanList, natural: Sequence[float], room: float) -> list[float]:
    """Share the room out so that the rows together are low: millimetres go where they save most lines."""
    texts = [[cell_words(cell)[:300] for cell in row] for row in sheet.rows]
    long = np.array([[text_width(text, SIZE) for text in row] for row in texts]).reshape(len(texts), -1)
    widths = [min(wide, least) for wide, least in zip(natural, word_widths(sheet), strict=True)]
    lines = np.ceil(long * _RAGGED / (np.array(widths) - 2 * _PAD))
    while room - sum(widths) >= _STEP:
        best: tuple[float, int, int] | None = None
        for place in range(len(widths)):
            for steps in (1, 3, 6):
                wider = widths[place] + steps * _STEP
                if wider > natural[place] + _STEP or sum(widths) + steps * _STEP > room:
                    break
                tried = lines.copy()
                tried[:, place] = np.ceil(long[:, place] * _RAGGED / (wider - 2 * _PAD))
                saved = float(lines.max(axis=1).sum() - tried.max(axis=1).sum()) / steps
                # where no row gets lower yet, a shorter column still brings that nearer
                saved += 0.01 * float(lines[:, place].sum() - tried[:, place].sum()) / steps
                if saved > 0 and (best is None or saved > best[0]):
                    best = (saved, place, steps)
        if best is None:
            break
        widths[best[1]] += best[2] * _STEP
        lines[:, best[1]] = np.ceil(long[:, best[1]] * _RAGGED / (widths[best[1]] - 2 * _PAD))
    return widths


def table_row_height(row: Sequence[Cell], columns: Sequence[TableColumn]) -> float:
    """Return how high a row is, in mm."""
    lines = max((len(_lines(cell, column)) for cell, column in zip(row, columns, strict=True)), default=1)
    return max(1, lines) * LINE + 1.3


def head_height(columns: Sequence[TableColumn]) -> float:
    """Return how high the heads of a table are, in mm."""
    return max((len(lines) for lines in _heads(columns)), default=1) * LINE + 1.5


def _heads(columns: Sequence[TableColumn]) -> list[list[str]]:
    return [wrapped(column.head, SIZE, column.width - 2 * _PAD, bold=True, most=4) for column in columns]


def write_head(page: Drawing, columns: Sequence[TableColumn], x: float, y: float) -> float:
    """Write the heads of a table and return how high they are, in mm."""
    heads, high = _heads(columns), head_height(columns)
    for column, lines in zip(columns, heads, strict=True):
        for place, line in enumerate(lines):
            base = y + high - 1.6 - (len(lines) - 1 - place) * LINE
            if column.numeric:
                page.text(x + column.width - _PAD, base, line, SIZE, "end", bold=True, ink="soft")
            else:
                page.text(x + _PAD, base, line, SIZE, bold=True, ink="soft")
        x += column.width
    left = x - sum(column.width for column in columns)
    page.line(left, y + high, x, y + high, Pen("ink", 0.35))
    return high


def write_row(
    page: Drawing, row: Sequence[Cell], columns: Sequence[TableColumn], x: float, y: float, high: float
) -> None:
    """Write one row with a fine line under it."""
    left = x
    for cell, column in zip(row, columns, strict=True):
        for place, line in enumerate(_lines(cell, column)):
            base = y + 4.0 + place * LINE
            if isinstance(cell, int | float):
                page.text(x + column.width - _PAD, base, line, SIZE, "end")
            else:
                page.text(x + _PAD, base, line, SIZE)
        x += column.width
    page.line(left, y + high, x, y + high, Pen("grid", 0.15))


def _lines(cell: Cell, column: TableColumn) -> list[str]:
    return wrapped(cell_words(cell), SIZE, column.width - 2 * _PAD, most=_MOST_LINES)
