"""How a lead as bought is drawn: its plugs at the parts, and what is left over in hairpins."""

from __future__ import annotations

from fitplan.model.placed import Placement
from fitplan.model.plugged import PLUG
from fitplan.model.solids import Solid, Vec
from fitplan.model.wired import Wire


def plugs_in(placement: Placement) -> tuple[Solid, ...]:
    """Return the bodies of leads that are plugged into a part, in its vehicle's frame."""
    return tuple(
        placement.place.move_solid(room.solid) for room in placement.part.clearances if room.name == PLUG
    )


def surplus_points(wire: Wire) -> tuple[Vec, ...]:
    """Return the corners of a lead's surplus laid to and fro in its box; empty where there is none."""
    lead = wire.lead
    if lead is None or lead.fold is None or wire.inside:
        return ()
    box, radius = lead.fold, wire.outer_mm / 2
    thin, wide, long = sorted(range(3), key=lambda axis: (box.size[axis], axis))
    points: list[Vec] = []
    for hairpin in range(max(int((box.size[thin] + 1e-6) / wire.outer_mm), 1)):
        for across, along in ((0, 0), (0, 1), (1, 1), (1, 0)):
            at = [0.0] * 3
            at[thin] = min(box.low[thin] + radius + hairpin * wire.outer_mm, box.high[thin] - radius)
            at[wide] = box.high[wide] - radius if across else box.low[wide] + radius
            at[long] = box.high[long] - radius if along else box.low[long] + radius
            points.append((at[0], at[1], at[2]))
    return tuple(points)
