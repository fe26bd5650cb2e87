"""Whether what is proposed for a window would do: bricks that are there, a place that is free, a true count.

That no fewer bricks would do is taken on trust.
"""

from __future__ import annotations

import math
from dataclasses import replace

from fitplan.model.electrical import Ranger
from fitplan.model.needed import Need
from fitplan.model.part import Part
from fitplan.model.placed import Placement
from fitplan.model.plan import Plan
from fitplan.model.solids import Box, axis_of
from fitplan.model.train import TrainVehicle
from fitplan.model.vehicle import STATES, BodySolid, State
from fitplan.model.wider_window import WiderWindow
from fitplan.units import PLATE, STUD
from fitplan.verify.fit import check_fit
from fitplan.verify.mounts import check_mounts
from fitplan.verify.overlap import overlap
from fitplan.verify.result import Tally
from fitplan.verify.scene import SOLID, Site, standing
from fitplan.verify.shapes import eroded, shape_of

_FIXED: tuple[State, ...] = ("fixed",)
_NEAR = 1e-3
_LINES, _THIN = 40, 0.01
_SAMPLED = 0.03
"""Shares by lines through 40 × 40 cells are this near to the true ones."""


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
        # A brick may have a hole for wires.
        others = tuple(state for state in STATES if state not in ("fixed", "free"))
        if core is not None and (site.body.hits(core, others) or not site.body.hits(core, _FIXED)):
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
    as_it_is = Site(site.entry, site.removed, ())
    for told, body_of in ((offer.hidden_before, as_it_is), (offer.hidden_after, then)):
        found = _hidden(offer, body_of, part)
        if abs(found - told) > _SAMPLED:
            message = (
                f"tells that bricks hide {told:.2f} of the beam; by lines along it {found:.2f} is hidden"
            )
            sheet.problem("wider window", f"{offer.window} of {offer.vehicle}", message, found - told)
    check_fit(then, sheet)
    check_mounts(then, {need.name: need}, sheet)


def _hidden(offer: WiderWindow, site: Site, part: Part) -> float:
    """Return the share of the beam that bricks hide, by lines along it at the middles of many cells."""
    ranger = part.figure(Ranger)
    window = next(one for one in site.vehicle.windows if one.name == offer.window)
    if ranger is None or part.mount.lens is None:
        return offer.hidden_after
    lens = offer.place.move_solid(part.mount.lens).bounds
    along, forwards = axis_of(window.out), window.out[0] == "+"
    outside = window.box.high[along] if forwards else window.box.low[along]
    front = lens.high[along] if forwards else lens.low[along]
    wide = math.tan(math.radians(min(ranger.half_angle_deg, 60.0))) * abs(outside - front)
    across = [axis for axis in range(3) if axis != along]
    lines = [
        [lens.low[axis] - wide + (n + 0.5) * (lens.size[axis] + 2 * wide) / _LINES for n in range(_LINES)]
        for axis in across
    ]
    hit = count = 0
    for a in lines[0]:
        for b in lines[1]:
            gaps = [
                max(lens.low[axis] - at, at - lens.high[axis], 0.0)
                for axis, at in zip(across, (a, b), strict=True)
            ]
            if math.hypot(*gaps) > wide:
                continue
            count += 1
            low, high = [0.0] * 3, [0.0] * 3
            low[along], high[along] = sorted((front, outside))
            for axis, at in zip(across, (a, b), strict=True):
                low[axis], high[axis] = at - _THIN, at + _THIN
            line = eroded(shape_of(Box((low[0], low[1], low[2]), (high[0], high[1], high[2]))), _NEAR)
            hit += line is not None and bool(site.body.hits(line, SOLID))
    return hit / count if count else 0.0
