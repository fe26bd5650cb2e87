"""Whether a strap lies over its part, less than a plate above it, on feet beside it that are not lifted off.

A foot is every cell of the plate that lies on a stack, or on a stud of the body. Feet on both sides share
what lifts the strap by the rule of the lever; feet on one side turn about their far edge, and the plate must
reach past the part's middle. A stud holds 1 N (common practice, no source).
"""

from __future__ import annotations

from collections import defaultdict

from fitplan.model.facts import sideways_n
from fitplan.model.placed import Fastening
from fitplan.model.solids import Box
from fitplan.units import PLATE, STUD, STUD_HEIGHT
from fitplan.verify.pressed import check_pressed
from fitplan.verify.result import Tally
from fitplan.verify.scene import SOLID, PlacedPart, Site

NEAR = 0.01
_PAST = 1.9
_SHARE = 0.95


def check_strap(site: Site, part: PlacedPart, entry: Fastening, sheet: Tally) -> None:
    """Check where a strap lies and what it bears."""
    plates = [piece.box for piece in entry.bricks if piece.name.startswith("plate")]
    over = max(plates, key=lambda box: box.high[2]) if plates else None
    if over is None or not _lies_over(part, over):
        sheet.problem("fastening", site.name, f"nothing lies over {entry.need}, which is said to be strapped")
        return
    feet = _feet(site, part, over, [piece.box for piece in entry.bricks if piece.box != over])
    bears = max((_bears(part, over, feet, axis) for axis in (0, 1)), default=0.0)
    lifts = sideways_n(part.placement.part)
    if bears <= 0.0:
        sheet.problem("fastening", site.name, f"the strap over {entry.need} lies on nothing that holds it")
    elif bears < _SHARE * lifts - NEAR:
        message = f"{lifts:.2f} N lift the strap over {entry.need}; its studs bear {bears:.2f} N"
        sheet.problem("fastening", site.name, message, lifts - bears, "N")
    if not part.placement.steady:
        check_pressed(site, part, entry, over, feet, sheet)


def _lies_over(part: PlacedPart, over: Box) -> bool:
    near = -NEAR <= over.low[2] - part.bounds.high[2] < PLATE
    return near and any(
        all(
            min(shape.bounds.high[i], over.high[i]) - max(shape.bounds.low[i], over.low[i]) > NEAR
            for i in (0, 1)
        )
        for shape in part.envelope
    )


def _feet(
    site: Site, part: PlacedPart, over: Box, stacks: list[Box]
) -> dict[tuple[int, int], list[tuple[float, float]]]:
    """Return the middles of cells that a plate lies on, by the axis and the side of the part they are at."""
    found: dict[tuple[int, int], list[tuple[float, float]]] = defaultdict(list)
    bounds = part.bounds
    for i in range(round(over.size[0] / STUD)):
        for j in range(round(over.size[1] / STUD)):
            at = (over.low[0] + (i + 0.5) * STUD, over.low[1] + (j + 0.5) * STUD)
            if not any(_carries(box, at, over.low[2]) for box in stacks) and not _on_stud(site, at, over):
                continue
            for axis in (0, 1):
                if at[axis] + STUD / 2 <= bounds.low[axis] + NEAR:
                    found[axis, -1].append(at)
                elif at[axis] - STUD / 2 >= bounds.high[axis] - NEAR:
                    found[axis, 1].append(at)
    return found


def _carries(stack: Box, at: tuple[float, float], height: float) -> bool:
    inside = all(stack.low[i] < at[i] < stack.high[i] for i in (0, 1))
    return inside and abs(stack.high[2] - height) < NEAR


def _on_stud(site: Site, at: tuple[float, float], over: Box) -> bool:
    """Return whether a stud of the body goes into a plate at a point."""
    return site.body.state_at((*at, over.low[2] + STUD_HEIGHT / 2)) in SOLID


def _bears(
    part: PlacedPart, over: Box, feet: dict[tuple[int, int], list[tuple[float, float]]], axis: int
) -> float:
    """Return what lifts a strap that runs along an axis off its studs, in N; 0 where it has no feet there."""
    middle = part.center[axis]
    before, after = ([at[axis] for at in feet.get((axis, side), ())] for side in (-1, 1))
    if before and after:
        low, high = sum(before) / len(before), sum(after) / len(after)
        return min(
            len(before) * (high - low) / max(high - middle, NEAR),
            len(after) * (high - low) / max(middle - low, NEAR),
        )
    one = before or after
    reach = over.high[axis] - middle if before else middle - over.low[axis]
    if not one or reach < _PAST:
        return 0.0
    edge = min(one) - STUD / 2 if before else max(one) + STUD / 2
    return sum(abs(at - edge) for at in one) / max(abs(middle - edge), NEAR)
