"""Whether every part has the room that it was given: against parts, body and the hull."""

from __future__ import annotations

from itertools import combinations

from fitplan.model.solids import Box
from fitplan.verify.overlap import bounds_overlap, overlap, way_out
from fitplan.verify.result import Tally
from fitplan.verify.scene import BLOCKED, SOLID, TOLERANCE, PlacedPart, Site, core_of
from fitplan.verify.shapes import Shape


def check_fit(site: Site, sheet: Tally) -> None:
    """Check all parts of a vehicle against each other and against its body."""
    for part in site.parts:
        _inside_hull(site, part, sheet)
        _against_body(site, part, sheet)
        _clearances_against_body(site, part, sheet)
    for one, two in combinations(site.parts, 2):
        sheet.count("pairs of parts")
        _envelopes(site, one, two, sheet)
        _clearances(site, one, two, sheet)
        _clearances(site, two, one, sheet)


def _inside_hull(site: Site, part: PlacedPart, sheet: Tally) -> None:
    sheet.count("parts inside their vehicle's hull")
    hull = site.vehicle.hull
    for axis, name in enumerate("xyz"):
        out = max(hull.low[axis] - part.bounds.low[axis], part.bounds.high[axis] - hull.high[axis])
        if out > TOLERANCE:
            message = f"{part.name} stands {out:.2f} mm out of the hull along {name}"
            sheet.problem("hull", site.name, message, out, "mm")


def _against_body(site: Site, part: PlacedPart, sheet: Tally) -> None:
    for shape in part.core:
        sheet.count("envelope solids against a body")
        for hit in site.body.hits(shape, BLOCKED):
            depth = hit.depth + TOLERANCE
            message = f"{part.name} runs {depth:.3f} mm into {_body_name(hit.piece.name)}{_at(hit.region)}"
            sheet.problem("body", site.name, message, depth, "mm")


def _clearances_against_body(site: Site, part: PlacedPart, sheet: Tally) -> None:
    for clearance, shape in part.clearances:
        if clearance.needed != "always" or clearance.kind == "lens":
            continue  # what a lens needs is a free view, which the mounts are checked for
        sheet.count("clearances against a body")
        for hit in site.body.hits(core_of(shape), (*SOLID, "keep-clear")):
            message = (
                f"the {clearance.name} clearance of {part.name} is {hit.depth:.3f} mm short:"
                f" {_body_name(hit.piece.name)} is in it{_at(hit.region)}"
            )
            sheet.problem("clearance", site.name, message, hit.depth, "mm")


def _envelopes(site: Site, one: PlacedPart, two: PlacedPart, sheet: Tally) -> None:
    sheet.count("pairs of envelope solids", len(one.envelope) * len(two.envelope))
    worst = _deepest(one.core, two.envelope, one.bounds, two.bounds)
    if worst is not None:
        depth, way = worst
        message = f"{one.name} and {two.name} overlap; clear when one moves {depth:.3f} mm towards {way}"
        sheet.problem("overlap", site.name, message, depth, "mm")


def _clearances(site: Site, one: PlacedPart, two: PlacedPart, sheet: Tally) -> None:
    for clearance, shape in one.clearances:
        if clearance.needed != "always":
            continue
        sheet.count("clearances against parts")
        worst = _deepest((core_of(shape),), two.envelope, shape.bounds, two.bounds)
        if worst is not None:
            message = f"{two.name} stands {worst[0]:.3f} mm in the {clearance.name} clearance of {one.name}"
            sheet.problem("clearance", site.name, message, worst[0], "mm")


def _deepest(
    first: tuple[Shape, ...], second: tuple[Shape, ...], bounds: Box, other_bounds: Box
) -> tuple[float, str] | None:
    """Return the worst overlap of two unions: the least way out of it in mm, and where to."""
    if not bounds_overlap(bounds, other_bounds):
        return None
    found = [way_out(one, two) for one in first for two in second if overlap(one, two)]
    if not found:
        return None
    depth, way = max(found)
    return depth + TOLERANCE, way


def _body_name(name: str) -> str:
    if name in ("fixed", "removable"):
        return f"{name} bricks"
    return f"{name} space" if name in ("keep-clear", "outside") else name


def _at(region: Box) -> str:
    x, y, z = region.center
    return f" at x {x:.1f}, y {y:.1f}, z {z:.1f}"
