"""Sheets of one paper, filled from the top: tables in one or two columns, sections one after another."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from typing import Literal, TypeAlias

from fitplan.report.drawings.drawing import Drawing, Pen
from fitplan.report.drawings.layer_frame import BODY
from fitplan.report.drawings.pdf import wrapped
from fitplan.report.lists.meter_list import READING
from fitplan.report.lists.plan_list import PlanList
from fitplan.report.sheets.sheet_table import (
    head_height,
    table_columns,
    table_row_height,
    word_widths,
    write_head,
    write_row,
)

Paper: TypeAlias = Literal["A4", "Letter"]
PAPERS: dict[Paper, tuple[float, float]] = {"A4": (297.0, 210.0), "Letter": (279.4, 215.9)}
"""Width and height in mm, lying: ISO 216 and ANSI/ASME Y14.1."""
EDGE = 9.0
TOP = 20.0
BOTTOM = 13.0
GUTTER = 8.0
"""Between two columns of one list."""
_NEARLY = 1.2
"""A list that is wider than half a sheet by this factor at most is squeezed into half of it."""
_HEADING = 6.4
"""Height of a title within a sheet, in mm."""
_LINE = 5.0
"""Height of a line of text under a list, in mm."""
_HEADS = 14.0
"""Height of a list's title and heads, in mm."""
_LEAST = 70.0
"""A section is begun on a sheet that has so much room left, in mm."""


@dataclass
class Pad:
    """Sheets of one paper, filled from the top; a new one is begun when the next thing does not fit."""

    paper: Paper
    train: str
    pages: list[Drawing] = field(default_factory=list)
    y: float = 0.0
    title: str = ""

    @property
    def page(self) -> Drawing:
        """The sheet that is being filled."""
        return self.pages[-1]

    @property
    def width(self) -> float:
        """Room across, in mm."""
        return PAPERS[self.paper][0] - 2 * EDGE

    @property
    def room(self) -> float:
        """Room left on the sheet, in mm."""
        return PAPERS[self.paper][1] - BOTTOM - self.y

    def turn(self, title: str) -> None:
        """Begin a new sheet."""
        wide, high = PAPERS[self.paper]
        self.pages.append(Drawing(wide, high, title))
        self.title, self.y = title, TOP

    def keep(self, height: float) -> None:
        """Begin a new sheet with the same title when less than ``height`` is left on this one."""
        if height > self.room and self.y > TOP:
            self.turn(self.title)

    def write(
        self, lines: Iterable[str], size: float, base: float, step: float, *,
        indent: float = 0.0, bold: bool = False, ink: str = "ink",
    ) -> None:  # fmt: skip
        """Write lines one below another: the first's base line ``base`` mm further down, ``step`` between."""
        for line in lines:
            self.page.text(EDGE + indent, self.y + base, line, size, bold=bold, ink=ink)
            self.y += step

    def section(self, title: str, heading: bool = False, first: float = 0.0) -> None:
        """Go on with something else on this sheet where there is room for a piece of it, else on a new one.

        ``heading``: write its title where it does not stand at the head of the sheet. ``first``: height in mm
        of what comes first, which stays with its title.
        """
        if self.room < max(_LEAST, first + _HEADING):
            self.turn(title)
        elif heading:
            self._heading(title)
        self.title = title

    def table(self, sheet: PlanList, ticks: bool = False, heading: bool = True, boxes: str = "") -> None:
        """Write a list over as many sheets as it takes; a narrow one in two columns where one is not enough.

        ``ticks`` puts a box before each row, ``boxes`` one into each cell of the column of this name.
        """
        indent = 6.0 if ticks else 0.0
        half = (self.width - GUTTER) / 2
        columns = table_columns(sheet, self.width - indent, boxes)
        heights = [table_row_height(row, columns) for row in sheet.rows]
        twice = (
            sum(column.width for column in columns) + indent <= _NEARLY * half
            and sum(word_widths(sheet)) + indent <= half
            and sum(heights) + _HEADS > self.room
        )
        if twice:
            columns = table_columns(sheet, half - indent, boxes)
        else:
            columns = table_columns(sheet, self.width - indent, boxes, widest=self.width)
        heights = [table_row_height(row, columns) for row in sheet.rows]
        above = (_HEADING if heading else 0.0) + head_height(columns)
        lines = wrapped(sheet.note, BODY, self.width) if sheet.note else []
        # What is said under a list begins on the sheet that its last row is on.
        said = _LINE if lines else 0.0
        self.keep(above + (heights[0] if heights else 6.0) + (said if len(heights) < 2 else 0.0))
        left, second, foot = EDGE, False, 0.0
        if heading:
            self._heading(sheet.title)
        top = self.y
        self.y += write_head(self.page, columns, left + indent, self.y)
        if not sheet.rows:
            self.page.text(left + indent, self.y + 3.6, "none", BODY, ink="soft")
            self.y += 6.0
        for number, (row, high) in enumerate(zip(sheet.rows, heights, strict=True), 1):
            if high + (said if twice or number == len(heights) else 0.0) > self.room:
                if twice and not second:
                    left, second, foot = EDGE + half + GUTTER, True, self.y
                    self.y = top
                else:
                    self.turn(self.title)
                    self._heading(f"{sheet.title}, continued")
                    left, second, foot, top = EDGE, False, 0.0, self.y
                self.y += write_head(self.page, columns, left + indent, self.y)
            if ticks:
                self.page.rect(left + 0.6, self.y + 0.9, 3.2, 3.2, Pen("ink", 0.3))
            write_row(self.page, row, columns, left + indent, self.y, high)
            if boxes:
                place = sheet.columns.index(boxes)
                x = left + indent + sum(column.width for column in columns[:place])
                self.page.rect(x + 1.0, self.y + 0.5, columns[place].width - 2.0, 4.3, Pen("ink", 0.25))
            self.y += high
        self.y = max(self.y, foot)
        for line in lines:
            self.keep(_LINE)
            self.page.text(EDGE + indent, self.y + 3.8, line, BODY, ink="soft")
            self.y += _LINE
        self.y += _LINE

    def _heading(self, text: str) -> None:
        self.page.text(EDGE, self.y + 4.4, text, 4.0, bold=True)
        self.y += _HEADING


def without_empty(sheet: PlanList) -> PlanList:
    """Return a list without the columns that hold nothing, but for that of the readings."""
    keep = [
        place
        for place, name in enumerate(sheet.columns)
        if name == READING or any(row[place] != "" for row in sheet.rows)
    ]
    columns = tuple(sheet.columns[place] for place in keep)
    return replace(sheet, columns=columns, rows=tuple(tuple(row[i] for i in keep) for row in sheet.rows))
