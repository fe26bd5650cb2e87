"""One list of a plan: what it holds, and how it is written as CSV.

`fitplan.report.lists.spreadsheet` writes all of them as a workbook, and the page, the printed sheets and the
terminal show the same rows.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from typing import TypeAlias, TypeVar

from fitplan.report.lists.wording import clean, number

Cell: TypeAlias = str | float | int
Thing = TypeVar("Thing")
Columns: TypeAlias = Sequence[tuple[str, Callable[[Thing], Cell]]]
"""The head of each column, and what it tells of a thing."""
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "＝", "＋", "－", "＠")
"""What makes a spreadsheet take a text for a formula when it stands first in a CSV cell."""


@dataclass(frozen=True)
class PlanList:
    """One list: file name without ending, title, column heads (with units), rows of text and numbers."""

    name: str
    title: str
    columns: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]
    note: str = ""

    def without(self, column: str) -> PlanList:
        """Return the list but for one of its columns."""
        at = self.columns.index(column)
        rows = tuple((*row[:at], *row[at + 1 :]) for row in self.rows)
        return replace(self, columns=(*self.columns[:at], *self.columns[at + 1 :]), rows=rows)


def cell_words(cell: Cell) -> str:
    """Return what stands in a cell for people: a text cleaned, a number with three decimals at most."""
    return clean(cell) if isinstance(cell, str) else number(cell, 3)


def list_of(
    name: str, title: str, columns: Columns[Thing], things: Iterable[Thing], note: str = ""
) -> PlanList:
    """Return a list with one row a thing."""
    heads = tuple(head for head, _ in columns)
    rows = tuple(tuple(tell(thing) for _, tell in columns) for thing in things)
    return PlanList(name, title, heads, rows, note)


def safe_text(text: str) -> str:
    """Return a text that no spreadsheet takes for a formula: cleaned, with an apostrophe where it must."""
    text = clean(text)
    return f"'{text}" if text.lstrip(" ").startswith(FORMULA_STARTS) else text


def csv_bytes(sheet: PlanList) -> bytes:
    """Return a list as CSV (RFC 4180, UTF-8, CRLF); text that looks like a formula gets an apostrophe."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(sheet.columns)
    for row in sheet.rows:
        writer.writerow([safe_text(cell) if isinstance(cell, str) else number(cell, 4) for cell in row])
    return out.getvalue().encode("utf-8")
