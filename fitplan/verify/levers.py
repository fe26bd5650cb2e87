"""What the studs under an addition bear: a part's weight beside its foot, and a push sideways in a tumble.

A foot is where the lowest piece stands, either end of a plate over two stacks, the top of what hangs. It
turns over an edge, and each of its studs holds 1 N in the middle of its foot (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Sequence

from fitplan.model.facts import G_M_S2, mass_of
from fitplan.model.placed import Shelf
from fitplan.model.solids import Box
from fitplan.units import STUD
from fitplan.verify.result import Tally
from fitplan.verify.scene import PlacedPart, Site

NEAR = 0.01
_MORE = 1.1
_SEATED = ("plates", "bracket", "clip", "bridge", "hanger")


def check_levers(site: Site, part: PlacedPart, shelf: Shelf, studs: int, sheet: Tally) -> None:
    """Check that a part beside the foot of a bracket, a side stud or a stack from the roof does not lift it.

    Parameters
    ----------
    studs
        On how many studs of the body it was found to stand, or to hang.
    """
    if shelf.kind not in ("bracket", "clip", "hanger") or not studs:
        return
    ((foot, count),) = _feet(shelf, studs)
    weight = mass_of(part.placement.part) / 1000 * G_M_S2
    hung = shelf.kind == "hanger"
    for axis in (0, 1):
        half = foot.size[axis] / 2
        away = abs(part.center[axis] - foot.center[axis])
        arm = away + half if hung else away - half
        if weight * arm > _MORE * count * half:
            held = f"the {weight:.2f} N of {part.name}, {away:.0f} mm beside them"
            message = f"{count} studs of what carries it, at 1 N each, do not hold {held}"
            sheet.problem("shelf", site.name, message, weight * arm, "N mm")


def borne_sideways(part: PlacedPart) -> float | None:
    """Return which push (N) at the middle of a part the studs under it bear; None where it stands on none."""
    shelf = part.placement.shelf
    if shelf is None or shelf.kind not in _SEATED:
        return None
    feet = _feet(shelf, shelf.studs)
    level = max(box.high[2] for box, _ in feet) if shelf.kind == "hanger" else min(b.low[2] for b, _ in feet)
    height = max(abs(part.center[2] - level), NEAR)
    bears = float(sum(count for _, count in feet))
    for axis in (0, 1):
        for edge in (min(box.low[axis] for box, _ in feet), max(box.high[axis] for box, _ in feet)):
            bears = min(bears, sum(count * abs(box.center[axis] - edge) for box, count in feet) / height)
    return bears


def _feet(shelf: Shelf, studs: int) -> Sequence[tuple[Box, int]]:
    """Return where an addition stands or hangs, and on how many studs each."""
    boxes = [piece.box for piece in shelf.pieces if piece.name not in ("pad", "studs", "block")]
    if shelf.kind == "hanger":
        return ((max(boxes, key=lambda box: box.high[2]), studs),)
    if shelf.kind != "bridge":
        return ((min(boxes, key=lambda box: box.low[2]), studs),)
    plate = max(boxes, key=lambda box: max(box.size[:2]))
    axis = 0 if plate.size[0] > plate.size[1] else 1
    found = []
    low, high = plate.low[axis], plate.high[axis]
    for end in (plate.with_span(axis, low, low + STUD), plate.with_span(axis, high - STUD, high)):
        over = [
            box
            for box in boxes
            if all(abs(box.low[i] - end.low[i]) < NEAR for i in (0, 1)) and box is not plate
        ]
        lowest = min((box.low[2] for box in over), default=plate.low[2])
        found.append((end.with_span(2, lowest, plate.high[2]), studs // 2))
    return found
