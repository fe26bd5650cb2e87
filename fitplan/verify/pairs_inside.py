"""Whether a connector drawn into a vehicle passes its port, has room behind it, and comes out again."""

from __future__ import annotations

from fitplan.model.built import BuiltTrain
from fitplan.model.solids import axis_of, is_forward, plane_of
from fitplan.model.wired import Crossing
from fitplan.verify.overlap import overlap
from fitplan.verify.result import Tally
from fitplan.verify.scene import BLOCKED, Site, core_of

NEAR = 0.1


def drawn_in(built: BuiltTrain, crossing: Crossing, sheet: Tally) -> float:
    """Check the box of a pair that is drawn into a vehicle; return what each side is longer for it (mm)."""
    if crossing.pair is None:
        return 0.0
    sheet.count("pairs drawn in")
    inside, part = crossing.pair, built.train.catalogue.get(crossing.connector)
    ports = {crossing.ahead: crossing.port_ahead, crossing.behind: crossing.port_behind}
    shape = next((one.vehicle for one in built.train.vehicles if one.name == inside.vehicle), None)
    named = ports.get(inside.vehicle, "")
    port = shape.port(named) if shape is not None else None
    if part is None or port is None:
        message = f"its pair is drawn into {inside.vehicle}, behind no port of this coupling"
        sheet.problem("crossing", crossing.name, message)
        return 0.0
    axis, forwards = axis_of(port.out), is_forward(port.out)
    size, edges = part.bounds.size, inside.box.size
    across = sorted(edge for i, edge in enumerate(edges) if i != axis)
    hole = sorted(port.opening)
    if abs(edges[axis] - size[0]) > NEAR or any(
        abs(a - b) > NEAR for a, b in zip(across, sorted(size[1:]), strict=True)
    ):
        sheet.problem("crossing", crossing.name, "its pair is drawn in at another size than it has")
    if across[0] > hole[0] + NEAR or across[1] > hole[1] + NEAR:
        message = f"its pair of {across[1]:.1f} × {across[0]:.1f} mm does not pass {port.name}"
        sheet.problem("crossing", crossing.name, message, across[1], "mm")
    behind = (
        port.box.low[axis] - inside.box.high[axis] if forwards else inside.box.low[axis] - port.box.high[axis]
    )
    if behind < -NEAR:
        sheet.problem("crossing", crossing.name, f"its pair does not lie behind {port.name}", behind, "mm")
    deep = abs(plane_of(port.box, port.out) - inside.box.center[axis])
    if inside.more_mm < deep - 0.1:
        message = f"its pair lies {deep:.1f} mm in, and its wires are {inside.more_mm:.1f} mm longer"
        sheet.problem("crossing", crossing.name, message, deep - inside.more_mm, "mm")
    return inside.more_mm


def check_pairs_inside(built: BuiltTrain, sites: dict[str, Site], sheet: Tally) -> None:
    """Check that a pair that is drawn into a vehicle runs into nothing there."""
    for crossing in built.harness.crossings:
        site = sites.get(crossing.pair.vehicle) if crossing.pair is not None else None
        if crossing.pair is None or site is None:
            continue
        core = core_of(crossing.pair.box)
        names = [hit.piece.name for hit in site.body.hits(core, BLOCKED)]
        names += [part.name for part in site.parts if any(overlap(core, shape) for shape in part.envelope)]
        for name in dict.fromkeys(names):
            sheet.problem("crossing", crossing.name, f"its pair in {site.name} runs into {name}")
