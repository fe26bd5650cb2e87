"""Whether parts and wires keep out of the zones that the train shuts to them.

Rules, with their tolerances: a part's solids reach no deeper than `scene.TOLERANCE` into a zone without
parts, unless its need is named there or its place was fixed by hand; a wire's middle line keeps off a zone
without wires by its radius or 0.4 mm, whichever is less (0.05 mm).
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from itertools import pairwise

from fitplan.model.built import BuiltTrain
from fitplan.verify.distance import line_to_shape
from fitplan.verify.overlap import overlap
from fitplan.verify.result import Tally
from fitplan.verify.scene import TOLERANCE, Site
from fitplan.verify.wires import MIDDLE
from fitplan.verify.wires import TOLERANCE as NEAR


def check_zones(built: BuiltTrain, sites: Mapping[str, Site], sheet: Tally) -> None:
    """Check every part against the zones of its vehicle, and every wire against those of its legs."""
    whole = {need.name for need in built.train.needs if need.pinned is not None and need.pinned.is_whole}
    for site in sites.values():
        parts_keep_out(site, whole, sheet)
    for wire in built.harness.wires:
        for leg in wire.legs:
            for zone in sites[leg.vehicle].vehicle.zones if leg.vehicle in sites else ():
                if zone.wires:
                    continue
                sheet.count("wires against zones")
                away = min(line_to_shape(one, two, zone.box) for one, two in pairwise(leg.points))
                if away < min(wire.outer_mm / 2, MIDDLE) - NEAR:
                    message = f"{wire.label} passes {away:.2f} mm from the zone"
                    message += f" {zone.name}, which is shut to wires"
                    sheet.problem("zone", leg.vehicle, message, away, "mm")


def parts_keep_out(site: Site, whole: Collection[str], sheet: Tally) -> None:
    """Check the parts of a vehicle against its zones; those in ``whole`` are where the user wants them."""
    for zone in site.vehicle.zones:
        for part in site.parts:
            if not zone.shuts_out(part.name) or part.name in whole:
                continue
            sheet.count("parts against zones")
            if any(overlap(shape, zone.box) for shape in part.core):
                message = f"{part.name} stands in the zone {zone.name}, which is shut to it"
                sheet.problem("zone", site.name, message, TOLERANCE, "mm")
