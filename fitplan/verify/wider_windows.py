"""Whether what is proposed for a window would do: bricks that are there, a place that is free, a true count.

That no fewer bricks would do is taken on trust.
"""

from __future__ import annotations

from dataclasses import replace

from fitplan.model.needed import Need
from fitplan.model.part import Part
from fitplan.model.placed import Placement
from fitplan.model.plan import Plan
from fitplan.model.solids import Box
from fitplan.model.train import TrainVehicle
from fitplan.model.vehicle import STATES, BodySolid
from fitplan.model.wider_window import WiderWindow
from fitplan.units import PLATE, STUD
from fitplan.verify.fit import check_fit
from fitplan.verify.mounts import check_mounts
from fitplan.verify.overlap import overlap
from fitplan.verify.result import Tally
from fitplan.verify.scene import SOLID, Site, standing
from fitplan.verify.shapes import eroded, shape_of

_NEAR = 1e-3


def check_wider_windows(plan: Plan, sites: dict[str, Site], sheet: Tally) -> None:
    """Check each proposal against the body as it is drawn."""
    left_out = {need for need, _ in plan.unplaced}
    needs = {need.name: need for need in plan.built.train.needs}
    for offer in plan.wider_windows:
        sheet.count("wider windows")
        where = f"{offer.window} of {offer.vehicle}"
        need, site = needs.get(offer.need), sites.get(offer.vehicle)
        if need is None or site is None or offer.need not in left_out:
            sheet.problem("wider window", where, f"is for {offer.need}, which does not lack a place there")
            continue
        part = next((one for one in need.candidates if one.id == offer.part_id), None)
        if part is None or need.looks != (offer.vehicle, offer.window):
            sheet.problem("wider window", where, f"{offer.part_id} is not what {offer.need} asks for there")
            continue
        _bricks(offer, site, where, sheet)
        _goes_in(offer, site, need, part, sheet)
    if plan.wider_windows:
        sheet.trust("least widening of windows", len(plan.wider_windows), "that no fewer bricks would do")


def _bricks(offer: WiderWindow, site: Site, where: str, sheet: Tally) -> None:
    """Check that what goes is bricks on the grid, each counted once, and that what is added rests on some."""
    cells = 0
    for box in offer.out:
        counts = [size / step for size, step in zip(box.size, (STUD, STUD, PLATE), strict=True)]
        whole = [round(count) for count in counts]
        if min(whole) < 1 or max(abs(a - b) for a, b in zip(counts, whole, strict=True)) > _NEAR:
            sheet.problem("wider window", where, "what goes is not whole studs and plates")
        cells += whole[0] * whole[1] * whole[2]
        core = eroded(shape_of(box), _NEAR)
        others = tuple(state for state in STATES if state != "fixed")
        if core is not None and site.body.hits(core, others):
            sheet.problem("wider window", where, "what goes is not all fixed bricks")
    pairs = [(one, two) for n, one in enumerate(offer.out) for two in offer.out[n + 1 :]]
    if any(overlap(shape_of(one), shape_of(two)) for one, two in pairs):
        sheet.problem("wider window", where, "bricks that go are told twice")
    if cells != offer.size:
        sheet.problem("wider window", where, f"tells {offer.size} studs × plates; {cells} go")
    if not 0 <= offer.least <= offer.size:
        sheet.problem("wider window", where, f"at least {offer.least} go, and {offer.size} do")
    for plate in offer.plates:
        below = Box((plate.low[0], plate.low[1], plate.low[2] - PLATE), (*plate.high[:2], plate.low[2]))
        core = eroded(shape_of(below), _NEAR)
        if core is None or not site.body.hits(core, SOLID):
            sheet.problem("wider window", where, "a plate that closes the gap rests on nothing")


def _goes_in(offer: WiderWindow, site: Site, need: Need, part: Part, sheet: Tally) -> None:
    """Check that the part has its room and its view once the bricks are out."""
    vehicle = site.vehicle
    windows = tuple(
        replace(one, box=offer.outline) if one.name == offer.window else one for one in vehicle.windows
    )
    body = (*vehicle.body, *(BodySolid(box, "free") for box in offer.out))
    changed = TrainVehicle(site.name, replace(vehicle, body=body, windows=windows))
    # What carries it there is added when it is planned, not here.
    loose = replace(part, mount=replace(part.mount, needs_support=False))
    placement = Placement(offer.need, loose, offer.vehicle, offer.place, "")
    then = Site(changed, site.removed | frozenset(offer.remove), (standing(placement),))
    pane = eroded(shape_of(offer.outline), _NEAR)
    hits = then.body.hits(pane, SOLID) if pane is not None else []
    # Studs of the bricks below may stand in it: what they hide is told of the part's own view.
    if any("stud" not in hit.piece.name for hit in hits):
        where = f"{offer.window} of {offer.vehicle}"
        sheet.problem("wider window", where, "would not be open as wide as it is told")
    check_fit(then, sheet)
    check_mounts(then, {need.name: need}, sheet)
