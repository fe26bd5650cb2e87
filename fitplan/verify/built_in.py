"""What is built into a vehicle and drawn into its bricks: told, and worked out in closed form here."""

from __future__ import annotations

from collections.abc import Sequence

from fitplan.model.found import Finding
from fitplan.verify.body import Body, BodyPiece
from fitplan.verify.result import Tally
from fitplan.verify.scene import SOLID, Site, core_of
from fitplan.verify.shapes import shape_of

_TOLD_MM, _SILENT_MM = 1.0, 0.3
"""Deeper than the first a plan must tell it, less deep than the second it must not."""


def check_built_in(site: Site, findings: Sequence[Finding], sheet: Tally) -> None:
    """Check that a plan tells of each thing built in that lies deep in bricks, and of no other."""
    vehicle = site.vehicle
    pieces = [
        BodyPiece(shape_of(entry.solid), entry.state, entry.state, entry.smooth) for entry in vehicle.body
    ]
    body = Body(vehicle.hull, "outside", pieces)
    told = {one.where for one in findings if one.subject == "asked" and one.unit == "mm"}
    for item in vehicle.built_in:
        sheet.count("things built in against bricks")
        hits = [hit for solid in item.solids for hit in body.hits(core_of(shape_of(solid)), SOLID)]
        depth = max((min(hit.region.size) for hit in hits), default=0.0)
        where = f"{item.name} in {site.name}"
        if depth > _TOLD_MM and where not in told:
            sheet.problem("built in", where, f"lies {depth:.1f} mm deep in bricks, untold", depth, "mm")
        elif depth < _SILENT_MM and where in told:
            sheet.problem("built in", where, "is said to lie in bricks; nothing is where it lies")
