"""The other form of a bare board: the same with its loose pin rows soldered in, for leads with sockets.

A row of pins on a pitch of 2.54 mm has 2.5 mm of plastic and 6 mm of pin below the board and 1.6 mm of tail
above it; crimped housings on it are about 14 mm long. All from memory, not confirmed.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace

from fitplan.model.part import WIRES_OF_JOINT, Clearance, Part, Pin
from fitplan.model.solids import Box, Vec

ENDING = "-pins"
"""What the id of the pinned form has more than that of the bare one."""
PITCH_MM = 2.54
ACROSS_MM = 1.3
"""Half of how wide a row is, and how far it goes on beyond its last pins."""
BELOW_MM = 8.6
ABOVE_MM = 1.6
HOUSING_MM = 13.4
PIN_G = 0.066
"""What a pin adds to a board, with its share of the plastic."""


def pinned_form(board: Part) -> Part:
    """Return a board with rows of pins pointing down where wires would be soldered in from above.

    Rows are found from the pins: those on one line along or across the board. Room for leads above those pins
    gives way to room for housings below; everything else stays.

    Raises
    ------
    ValueError
        When no pin of the board is soldered from above.
    """
    rows = list(_rows([pin for pin in board.pins if _is_hole(pin)]))
    if not rows:
        raise ValueError(f"{board.id}: no pin is soldered from above")
    under = _underside(board, rows[0][0].at)
    boxes = [_row_box(row, under) for row in rows]
    length = sum(max(box.size[:2]) for box in boxes)
    moved = {pin.name: replace(pin, at=(*pin.at[:2], under - BELOW_MM), exit="-z", joint="header",
                               wires=WIRES_OF_JOINT["header"]) for row in rows for pin in row}  # fmt: skip
    housings = [
        Clearance(
            f"housings {number}",
            "lead",
            Box((*box.low[:2], under - BELOW_MM - HOUSING_MM), (*box.high[:2], under - BELOW_MM)),
        )
        for number, box in enumerate(boxes, 1)
    ]
    return replace(
        board,
        id=board.id + ENDING,
        name=f"{board.name}, pin rows soldered in below",
        envelope=(*board.envelope, *boxes),
        clearances=(*(one for one in board.clearances if not _is_over(one, rows)), *housings),
        pins=tuple(moved.get(pin.name, pin) for pin in board.pins),
        mass_g=round(board.mass_g + PIN_G * length / PITCH_MM, 1),
        source=f"{board.source}; pin rows and housings of about 14 mm from memory, not confirmed",
    )


def _is_hole(pin: Pin) -> bool:
    return pin.joint == "solder" and pin.exit == "+z"


def _rows(pins: Sequence[Pin]) -> Iterator[list[Pin]]:
    """Yield the pins line by line: the longest line first, each pin once."""
    left = list(pins)
    while left:
        lines = [[pin for pin in left if pin.at[axis] == one.at[axis]] for one in left for axis in (1, 0)]
        row = max(lines, key=len)
        yield row
        left = [pin for pin in left if pin not in row]


def _row_box(row: Sequence[Pin], under: float) -> Box:
    """Return a row's plastic, pins and tails as one box, in whole tenths."""
    low = [math.floor((min(pin.at[axis] for pin in row) - ACROSS_MM) * 10 + 1e-6) / 10 for axis in (0, 1)]
    high = [math.ceil((max(pin.at[axis] for pin in row) + ACROSS_MM) * 10 - 1e-6) / 10 for axis in (0, 1)]
    top = row[0].at[2] + ABOVE_MM
    return Box((low[0], low[1], round(under - BELOW_MM, 4)), (high[0], high[1], round(top, 4)))


def _underside(board: Part, hole: Vec) -> float:
    """Return the underside of the board that a hole goes through."""
    tops = [solid.bounds for solid in board.envelope if abs(solid.bounds.high[2] - hole[2]) < 1e-6]
    return max(tops, key=lambda box: box.size[0] * box.size[1]).low[2]


def _is_over(clearance: Clearance, rows: Sequence[Sequence[Pin]]) -> bool:
    """Return whether room for leads is that of pins which now point down."""
    box = clearance.solid.bounds
    return clearance.kind == "lead" and any(
        all(box.low[axis] - 1e-6 <= pin.at[axis] <= box.high[axis] + 1e-6 for axis in range(3))
        for row in rows
        for pin in row
    )
