"""A filled-in list of readings: the CSV of the meter sequence, with what the meter showed."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Mapping
from pathlib import Path

from fitplan.errors import InputError, Mistake
from fitplan.files.document import read_text, shown
from fitplan.model.meter import Quantity

_OVER = frozenset({"ol", "o.l", "o.l.", "0l", "open", "inf", "∞", "overload"})
"""What meters show, and people write, for more than the range (common practice)."""
_TIMES = {"": 1.0, "m": 1e-3, "k": 1e3, "M": 1e6}
_UNITS: dict[str, Quantity] = {"Ω": "Ω", "ohm": "Ω", "ohms": "Ω", "V": "V", "A": "mA"}
_NUMBER = re.compile(r"([+\-−]?(?:\d+(?:[.,]\d*)?|[.,]\d+))\s*([mkM]?)\s*(Ω|ohms?|V|A)?")
"""A number with a point or a comma, perhaps m, k or M, perhaps a unit."""
_EXPECTED = "a number such as 0.4, 1.2k, 5.02 V or 38 mA, or OL for an open circuit"


def read_readings(path: Path, quantities: Mapping[int, Quantity]) -> dict[int, float]:
    """Return the readings of a file by the number of their test: in Ω, V or mA; an open circuit is infinite.

    Rows with an empty reading are left out.

    Parameters
    ----------
    quantities
        What each test of the plan measures, by its number.

    Raises
    ------
    InputError
        With every row that cannot be understood: file, line, found, expected.
    """
    text = read_text(path)
    head = text.split("\n", 1)[0]
    delimiter = max(",;\t", key=head.count)
    rows = csv.reader(io.StringIO(text), delimiter=delimiter)
    mistakes: list[Mistake] = []
    found: dict[int, float] = {}
    try:
        columns = [name.strip().lower() for name in next(rows, [])]
        for name in ("no.", "reading"):
            if name not in columns:
                raise InputError([Mistake(path, 1, 1, f"no column {name!r}", "columns 'no.' and 'reading'")])
        places = columns.index("no."), columns.index("reading")
        for row in rows:
            line = rows.line_num
            if not any(cell.strip() for cell in row):
                continue
            number, reading = (row[place].strip() if place < len(row) else "" for place in places)
            test = int(number) if number.isascii() and number.isdecimal() and len(number) < 7 else 0
            if test not in quantities:
                expected = f"the number of a test of this plan, 1 to {max(quantities, default=0)}"
                mistakes.append(Mistake(path, line, 1, shown(number), expected))
            elif test in found:
                mistakes.append(Mistake(path, line, 1, f"test {test} a second time", "each test once"))
            elif reading:
                value = _value(reading, quantities[test])
                if value is None:
                    mistakes.append(
                        Mistake(path, line, 1, shown(reading), f"in {quantities[test]} {_EXPECTED}")
                    )
                else:
                    found[test] = value
    except csv.Error as error:
        mistakes.append(
            Mistake(path, rows.line_num, 1, f"no CSV ({error})", "the filled-in list of readings")
        )
    if mistakes:
        raise InputError(mistakes)
    return found


def _value(text: str, quantity: Quantity) -> float | None:
    """Return a reading in the test's unit; None where it is none."""
    if text.lower().removesuffix("Ω".lower()).strip() in _OVER:
        return float("inf") if quantity == "Ω" else None
    match = _NUMBER.fullmatch(text)
    if match is None:
        return None
    digits, prefix, unit = match.groups()
    value = float(digits.replace(",", ".").replace("−", "-")) * _TIMES[prefix]
    if unit is not None and _UNITS[unit] != quantity:
        return None
    if quantity == "mA" and (unit == "A" or prefix):
        value *= 1000
    return value
