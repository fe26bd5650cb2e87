"""Whether what keeps parts from sliding and tipping is there, has room, stands on studs, and is enough.

Parts that would tip must have tape under them, or a finding; so must each way in which a load on an open deck
may slide: what bricks beside it hold is measured here between plain boxes.
"""

from __future__ import annotations

from fitplan.model.electrical import CellPack
from fitplan.model.plan import NOTHING, TAPE_MM2_PER_G, TAPE_WIDTH, BuiltTrain, Fastening, Finding, Piece
from fitplan.model.solids import Box, axis_of, is_forward
from fitplan.units import STUD
from fitplan.verify.overlap import bounds_overlap, overlap
from fitplan.verify.result import Tally
from fitplan.verify.scene import PlacedPart, Site, core_of
from fitplan.verify.shelves import check_piece

NEAR = 0.01
_LEAST_FACE = 3.0
"""A brick faces what it holds over at least so many mm, across and upright."""


def check_fastenings(
    built: BuiltTrain, sites: dict[str, Site], findings: tuple[Finding, ...], sheet: Tally
) -> None:
    """Check every fastening, and that nothing which would tip is without one or a finding."""
    told = {entry.where for entry in findings if entry.subject == "support" and entry.severity != "note"}
    stops = {entry.where for entry in findings if entry.subject == "support" and entry.severity == "stop"}
    for entry in built.fastenings:
        sheet.count("fastenings")
        site = sites.get(entry.vehicle)
        part = next((one for one in site.parts if one.name == entry.need), None) if site is not None else None
        if site is None or part is None:
            sheet.problem("fastening", entry.vehicle, f"{entry.need} is fastened, and is not there")
            continue
        if bool(entry.bricks) == bool(entry.tape_mm) or (entry.bricks and not entry.ways):
            sheet.problem("fastening", site.name, f"{entry.need} is held by bricks or by tape, one of both")
        if entry.tape_mm:
            _tape(site, part, entry, sheet)
        for way in entry.ways if entry.bricks else ():
            axis, forwards = axis_of(way), is_forward(way)
            if not any(_holds(part, brick.box, axis, forwards) for brick in entry.bricks):
                sheet.problem("fastening", site.name, f"no brick holds {entry.need} towards {way}")
        for number, brick in enumerate(entry.bricks):
            _room(site, part, brick, entry.bricks[:number], sheet)
    held = {entry.need for entry in built.fastenings if not entry.ways}
    for site in sites.values():
        for part in site.parts:
            if (
                not part.placement.steady
                and part.name not in held
                and f"{part.name} in {site.name}" not in told
            ):
                sheet.problem("fastening", site.name, f"{part.name} would tip, and nothing is said of it")
            if part.placement.carried_by == NOTHING and f"{part.name} in {site.name}" not in stops:
                sheet.problem("fastening", site.name, f"nothing carries {part.name}, and no stop says so")


def _tape(site: Site, part: PlacedPart, entry: Fastening, sheet: Tally) -> None:
    pack = part.placement.part.figure(CellPack)
    mass = part.placement.part.mass_g + (pack.cells * pack.cell_mass_g if pack is not None else 0.0)
    if entry.tape_mm * TAPE_WIDTH < mass * TAPE_MM2_PER_G - NEAR:
        message = f"{entry.tape_mm:.0f} mm of tape are too little for the {mass:.0f} g of {part.name}"
        sheet.problem("fastening", site.name, message, mass * TAPE_MM2_PER_G / TAPE_WIDTH, "mm")


def _holds(part: PlacedPart, brick: Box, axis: int, forwards: bool) -> bool:
    """Return whether a brick stands before any solid of a part.

    The box round the whole part would not tell: a brick may stand beside what protrudes, close to a face
    further back, and it holds nothing where that box is empty.
    """
    return any(_faces(shape.bounds, brick, axis, forwards) for shape in part.envelope)


def _faces(part: Box, brick: Box, axis: int, forwards: bool) -> bool:
    """Return whether a brick stands before a side of a solid, no more than a stud away."""
    gap = brick.low[axis] - part.high[axis] if forwards else part.low[axis] - brick.high[axis]
    across = 1 - axis
    shared = [min(part.high[i], brick.high[i]) - max(part.low[i], brick.low[i]) for i in (across, 2)]
    return -NEAR <= gap <= STUD + NEAR and min(shared) >= _LEAST_FACE


def _carries(low: Box, high: Box) -> bool:
    """Return whether a box lies on another of the same outline."""
    pairs = [(low.low[i], high.low[i]) for i in (0, 1)] + [(low.high[i], high.high[i]) for i in (0, 1)]
    return all(abs(a - b) < NEAR for a, b in [*pairs, (low.high[2], high.low[2])])


def _room(site: Site, part: PlacedPart, brick: Piece, below: tuple[Piece, ...], sheet: Tally) -> None:
    """Check that a brick is as large as its name says, stands on studs, and runs into nothing."""
    seats = check_piece(site, part.name, brick, sheet)
    asked = round(brick.box.size[0] * brick.box.size[1] / STUD**2)
    for other in below:
        if overlap(core_of(brick.box), core_of(other.box)):
            sheet.problem("fastening", site.name, f"two bricks beside {part.name} overlap")
    if seats < asked and not any(_carries(other.box, brick.box) for other in below):
        message = f"the {brick.name} beside {part.name} stands on {seats} studs, not on {asked}"
        sheet.problem("fastening", site.name, message, seats, "studs")
    core = core_of(brick.box)
    for near in site.parts:
        for clearance, shape in near.clearances:
            if bounds_overlap(brick.box, shape.bounds) and overlap(core, shape):
                message = f"the {brick.name} beside {part.name} stands in {clearance.name} of {near.name}"
                sheet.problem("fastening", site.name, message)
    for name, box in site.shelves:
        if overlap(core, core_of(box)):
            sheet.problem(
                "fastening", site.name, f"the {brick.name} beside {part.name} runs into what carries {name}"
            )
