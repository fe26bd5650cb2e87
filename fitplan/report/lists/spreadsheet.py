"""All lists of a plan as one workbook, a sheet each; the same plan gives the same bytes."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Sequence
from datetime import datetime

from openpyxl import Workbook
from openpyxl.cell import Cell as BookCell
from openpyxl.styles import Alignment, Font, PatternFill
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.properties import PageSetupProperties
from openpyxl.writer.excel import ExcelWriter

from fitplan.report.lists.plan_list import Cell, PlanList
from fitplan.report.lists.wording import clean

MOST_CHARACTERS = 32_000
"""A cell of a workbook holds at most 32,767 characters."""
_EPOCH = datetime(2000, 1, 1)
_ZIP_EPOCH = (2000, 1, 1, 0, 0, 0)
_HEAD, _BOLD = PatternFill("solid", fgColor="E3DED2"), Font(bold=True)
_WRAPPED, _TOP = Alignment(wrap_text=True, vertical="top"), Alignment(wrap_text=False, vertical="top")
_WIDEST = 60


def spreadsheet_bytes(sheets: Sequence[PlanList]) -> bytes:
    """Return the lists as an Office Open XML workbook.

    Texts are always text: none is taken for a formula, whatever it starts with. A list without rows gets no
    sheet, unless all are without.
    """
    sheets = [sheet for sheet in sheets if sheet.rows] or sheets
    book = Workbook()
    book.remove(book.worksheets[0])
    for sheet in sheets:
        page = book.create_sheet(sheet.title[:31])
        for column, head in enumerate(sheet.columns, 1):
            cell = page.cell(1, column)
            _put(cell, head)
            cell.font, cell.fill = _BOLD, _HEAD
            cell.alignment = _WRAPPED
            page.column_dimensions[get_column_letter(column)].width = _width(sheet, column - 1)
        for line, row in enumerate(sheet.rows, 2):
            for column, value in enumerate(row, 1):
                cell = page.cell(line, column)
                _put(cell, value)
                cell.alignment = _WRAPPED if isinstance(value, str) else _TOP
        page.freeze_panes = "A2"
        page.auto_filter.ref = page.dimensions
        page.print_title_rows = "1:1"
        page.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)
        page.page_setup.orientation = "landscape"
        page.page_setup.fitToWidth, page.page_setup.fitToHeight = 1, 0
    book.properties.creator = "fitplan"
    book.properties.created = book.properties.modified = _EPOCH
    raw = io.BytesIO()
    with zipfile.ZipFile(raw, "w") as archive:  # `save` would note the hour, and compress in vain
        ExcelWriter(book, archive).write_data()
    return _settled(raw)


def _put(cell: object, value: Cell) -> None:
    assert isinstance(cell, BookCell)
    if value == "":
        return
    if isinstance(value, str):
        text = clean(value)
        cell.value = text if len(text) <= MOST_CHARACTERS else text[: MOST_CHARACTERS - 1] + "…"
        cell.data_type = "s"
        cell.quotePrefix = True
    else:
        cell.value = value


def _width(sheet: PlanList, column: int) -> float:
    longest = max([len(sheet.columns[column]) / 2, *(len(str(row[column])) for row in sheet.rows)])
    return float(min(_WIDEST, max(8, longest + 2)))


def _settled(book: io.BytesIO) -> bytes:
    """Return the archive without the hour of its making: fixed times, entries in their order."""
    out = io.BytesIO()
    with zipfile.ZipFile(book) as before, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as after:
        for name in before.namelist():
            entry = zipfile.ZipInfo(name, _ZIP_EPOCH)
            entry.compress_type = zipfile.ZIP_DEFLATED
            entry.external_attr = 0o600 << 16
            after.writestr(entry, before.read(name))
    return out.getvalue()
