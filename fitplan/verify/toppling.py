"""Whether a heavy load that stands tall on an open deck is said to topple, where nothing holds it."""

from __future__ import annotations

from fitplan.model.built import BuiltTrain
from fitplan.model.facts import mass_of
from fitplan.model.solids import Box
from fitplan.units import STUD
from fitplan.verify.mounts import resting_on
from fitplan.verify.result import Tally
from fitplan.verify.scene import PlacedPart, Site

_HEAVY_G, _JOLT_G = 20.0, 0.3
_BETWEEN_STUDS, _SHARE = 4.2, 0.95


def check_toppling(built: BuiltTrain, sites: dict[str, Site], told: set[str], sheet: Tally) -> None:
    """Check that what topples over an edge of its foot in a jolt has a finding, tape or a strap.

    Parameters
    ----------
    told
        Where findings of support stand, as "part in vehicle".
    """
    for site in sites.values():
        if not site.vehicle.load_top:
            continue
        for part in site.parts:
            placement, need = part.placement, built.need_of(part.placement)
            if not placement.part.mount.needs_support or need.is_held or not placement.steady:
                continue
            if mass_of(placement.part) <= _HEAVY_G or f"{part.name} in {site.name}" in told:
                continue
            if placement.shelf is not None and placement.shelf.kind in ("clip", "hanger", "wall"):
                continue
            held = [entry for entry in built.fastenings if entry.need == part.name]
            if any("+z" in entry.ways for entry in held):
                continue
            sheet.count("loads that stand")
            bears = 2.0 if any(entry.tape_mm for entry in held) else 1.0
            bricks = [piece.box for entry in held for piece in entry.bricks]
            for axis in (0, 1):
                for sign in (1, -1):
                    at = bears * _lean(site, part, axis, sign)
                    if at < _JOLT_G * _SHARE and not _beside(site, part, bricks, axis, sign):
                        way = "+-"[sign < 0] + "xy"[axis]
                        message = f"{part.name} topples towards {way} at {at:.2f} g, and nothing says so"
                        sheet.problem("fastening", site.name, message, at, "g")


def _lean(site: Site, part: PlacedPart, axis: int, sign: int) -> float:
    """Return how far its middle is from the edge of its foot, over how high it stands above it.

    A foot on studs reaches as far as the part between two of them.
    """
    bounds = part.bounds
    edges = [sign * (box.high[axis] if sign > 0 else box.low[axis]) for box in resting_on(site, part)]
    if not edges:
        return 0.0
    side = sign * (bounds.high[axis] if sign > 0 else bounds.low[axis])
    edge = min(max(edges) + _BETWEEN_STUDS, side)
    return max(edge - sign * part.center[axis], 0.0) / (part.center[2] - bounds.low[2])


def _beside(site: Site, part: PlacedPart, bricks: list[Box], axis: int, sign: int) -> bool:
    """Return whether anything solid stands within a stud beside a load."""
    bounds = part.bounds
    low, high = bounds.low[axis], bounds.high[axis]
    beside = bounds.with_span(axis, *((high, high + STUD) if sign > 0 else (low - STUD, low)))
    others = [shape.bounds for other in site.parts if other is not part for shape in other.envelope]
    body = [one.solid.bounds for one in site.vehicle.body if one.state in ("fixed", "removable")]
    return any(
        all(box.low[i] < beside.high[i] and box.high[i] > beside.low[i] for i in range(3))
        for box in (*bricks, *others, *body)
    )
