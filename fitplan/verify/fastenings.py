"""Whether what keeps parts from sliding and tipping is there, has room, stands on studs, and is enough.

Parts that would tip must have tape under them, or a finding; so must each way in which a load on an open deck
may slide: what bricks beside it hold is measured here between plain boxes.
"""

from __future__ import annotations

from collections import Counter

from fitplan.model.built import BuiltTrain
from fitplan.model.facts import mass_of, sideways_n
from fitplan.model.found import Finding
from fitplan.model.placed import NOTHING, TAPE_MM2_PER_G, TAPE_WIDTH, Fastening, Piece
from fitplan.model.solids import Box, Direction, axis_of, is_forward
from fitplan.units import STUD
from fitplan.verify.levers import borne_sideways
from fitplan.verify.mounts import resting_on
from fitplan.verify.overlap import bounds_overlap, overlap
from fitplan.verify.result import Tally
from fitplan.verify.scene import PlacedPart, Site, core_of
from fitplan.verify.shelves import check_piece
from fitplan.verify.straps import check_strap
from fitplan.verify.toppling import check_toppling

NEAR = 0.01
_TAPE_HOLDS_G = 20.0
_PAST_MIDDLE = 1.8
_LEAST_FACE = 3.0
"""A brick faces what it holds over at least so many mm, across and upright."""


def check_fastenings(
    built: BuiltTrain, sites: dict[str, Site], findings: tuple[Finding, ...], sheet: Tally
) -> None:
    """Check every fastening, and that nothing which would tip is without one or a finding."""
    told = {entry.where for entry in findings if entry.subject == "support" and entry.severity != "note"}
    stops = {entry.where for entry in findings if entry.subject == "support" and entry.severity == "stop"}
    check_toppling(built, sites, told, sheet)
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
            if way == "+z":
                check_strap(site, part, entry, sheet)
            elif not any(_holds(part, whole, axis, forwards) for whole in _columns(entry)):
                sheet.problem("fastening", site.name, f"no brick holds {entry.need} towards {way}")
            elif "+z" not in entry.ways:
                _bears(site, part, entry, way, sheet)
        for number, brick in enumerate(entry.bricks):
            _room(site, part, brick, entry.bricks[:number], sheet)
    taped = Counter(entry.need for entry in built.fastenings if entry.tape_mm)
    strapped = {entry.need for entry in built.fastenings if "+z" in entry.ways}
    for site in sites.values():
        for part in site.parts:
            if taped[part.name] > 1:
                sheet.problem("fastening", site.name, f"{part.name} is taped {taped[part.name]} times")
            light = mass_of(part.placement.part) <= _TAPE_HOLDS_G
            if (
                not part.placement.steady
                and part.name not in strapped
                and not (light and taped[part.name])
                and f"{part.name} in {site.name}" not in told
            ):
                sheet.problem("fastening", site.name, f"{part.name} would tip, and nothing is said of it")
            if not light and site.vehicle.load_top and f"{part.name} in {site.name}" not in told:
                _pushed(site, part, [one for one in built.fastenings if one.need == part.name], sheet)
            if not light and part.name not in strapped and f"{part.name} in {site.name}" not in told:
                _at_its_edge(site, part, sheet)
            if part.placement.carried_by == NOTHING and f"{part.name} in {site.name}" not in stops:
                sheet.problem("fastening", site.name, f"nothing carries {part.name}, and no stop says so")


def _pushed(site: Site, part: PlacedPart, held: list[Fastening], sheet: Tally) -> None:
    """Check that the studs under a heavy load bear a push where nothing but tape keeps it from sliding."""
    bears = borne_sideways(part)
    taped = [way for entry in held if entry.tape_mm for way in entry.ways]
    push = sideways_n(part.placement.part)
    if taped and bears is not None and bears < push * 0.95 - NEAR:
        message = f"{push:.2f} N push {part.name}; the studs under it bear {bears:.2f} N, and nothing is said"
        sheet.problem("fastening", site.name, message, push - bears, "N")


def _at_its_edge(site: Site, part: PlacedPart, sheet: Tally) -> None:
    """Check that what carries a heavy part on an addition does not end just under its middle."""
    shelf = part.placement.shelf
    if shelf is None or shelf.kind in ("clip", "hanger", "wall") or not part.placement.steady:
        return
    under, past = resting_on(site, part), 0.0
    if under:
        reach = [max(box.high[i] for box in under) - part.center[i] for i in (0, 1)]
        reach += [part.center[i] - min(box.low[i] for box in under) for i in (0, 1)]
        past = min(reach)
    if past < _PAST_MIDDLE:
        message = f"what carries {part.name} reaches {past:.1f} mm past its middle, and nothing says so"
        sheet.problem("fastening", site.name, message, past, "mm")


def _bears(site: Site, part: PlacedPart, entry: Fastening, way: Direction, sheet: Tally) -> None:
    """Check that the studs of some stack bear a push at 1 g and the pull of a lead, as a lever too."""
    axis, forwards = axis_of(way), is_forward(way)
    push = sideways_n(part.placement.part)
    best = 0.0
    for whole in _columns(entry):
        studs = whole.size[0] * whole.size[1] / STUD**2
        for shape in part.envelope:
            if _faces(shape.bounds, whole, axis, forwards):
                met = (max(shape.bounds.low[2], whole.low[2]) + min(shape.bounds.high[2], whole.high[2])) / 2
                lever = studs * whole.size[axis] / 2 / max(met - whole.low[2], NEAR)
                best = max(best, min(studs, lever))
    if best < push * 0.95 - NEAR:
        message = (
            f"{push:.2f} N push {entry.need} towards {way}; the studs of what holds it bear {best:.2f} N"
        )
        sheet.problem("fastening", site.name, message, push - best, "N")


def _columns(entry: Fastening) -> list[Box]:
    """Return bricks that stand on each other as one box each: what they hold may lie before two of them."""
    columns: dict[tuple[float, ...], list[Box]] = {}
    for one in entry.bricks:
        columns.setdefault((*one.box.low[:2], *one.box.high[:2]), []).append(one.box)
    return [
        Box(
            (*boxes[0].low[:2], min(box.low[2] for box in boxes)),
            (*boxes[0].high[:2], max(box.high[2] for box in boxes)),
        )
        for boxes in columns.values()
    ]


def _tape(site: Site, part: PlacedPart, entry: Fastening, sheet: Tally) -> None:
    mass = mass_of(part.placement.part)
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
    asked = 0 if brick.name == "pad" else round(brick.box.size[0] * brick.box.size[1] / STUD**2)
    for other in below:
        if overlap(core_of(brick.box), core_of(other.box)):
            sheet.problem("fastening", site.name, f"two bricks beside {part.name} overlap")
    # The plate of a strap lies on the stacks before it.
    bridging = brick.name.startswith("plate") and any(
        abs(other.box.high[2] - brick.box.low[2]) < NEAR for other in below
    )
    if seats < asked and not bridging and not any(_carries(other.box, brick.box) for other in below):
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
