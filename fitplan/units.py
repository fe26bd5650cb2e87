"""Lengths: millimetres inside, studs, plates, bricks or millimetres in what a user writes.

Stud pitch, plate and brick height, stud size and the play of a brick are common practice, no source.
"""

from __future__ import annotations

import re

STUD = 8.0
"""Pitch of the stud grid in mm."""
PLATE = 3.2
"""Height of a plate in mm."""
BRICK = 9.6
"""Height of a brick in mm: three plates."""
STUD_HEIGHT = 1.7
"""How far a stud stands proud, in mm."""
STUD_DIAMETER = 4.8
"""Diameter of a stud in mm."""
PLAY = 0.1
"""How far each upright face of a brick stands back from the stud grid, in mm: n studs measure 8n − 0.2."""
PITCH = 0.8
"""Pitch of the lattice in mm: the largest that divides stud, plate and brick exactly."""

_UNITS = {
    "stud": STUD, "studs": STUD,
    "plate": PLATE, "plates": PLATE,
    "brick": BRICK, "bricks": BRICK,
    "mm": 1.0, "cm": 10.0, "m": 1000.0,
}  # fmt: skip
UNIT_NAMES = tuple(_UNITS)
_TERM = re.compile(r"\s*([+-]?\s*(?:\d+(?:\.\d+)?|\.\d+))\s*([A-Za-z]+)")


def parse_length(text: str | float) -> float:
    """Return a length in mm from ``"3 studs 1 plate"``, ``"2 studs - 0.2 mm"`` or a number (mm).

    Raises
    ------
    ValueError
        When the text is not a sum of numbers with units; the message says what was found and expected.
    """
    if isinstance(text, bool):
        raise ValueError("found a yes/no value; expected a length such as 3 studs 1 plate or 14.5 mm")
    if isinstance(text, int | float):
        return float(text)
    position, total, terms = 0, 0.0, 0
    while position < len(text.rstrip()):
        match = _TERM.match(text, position)
        if match is None or (unit := _UNITS.get(match[2].lower())) is None:
            raise ValueError(
                f"found {text!r}; expected a length such as 3 studs 1 plate or 14.5 mm"
                f" (units: {', '.join(UNIT_NAMES)})"
            )
        total += float(match[1].replace(" ", "")) * unit
        terms += 1
        position = match.end()
    if terms == 0:
        raise ValueError("found an empty text; expected a length such as 3 studs 1 plate or 14.5 mm")
    return round(total, 6)


def in_studs(length: float) -> str:
    """Return a horizontal length for people: ``"44.8 mm (5.6 studs)"``."""
    return f"{length:.1f} mm ({length / STUD:.1f} studs)"
