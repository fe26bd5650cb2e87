"""How each body form is drawn: layers of patches, barrels, roofs and gaps."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from fitplan.errors import FitplanError
from fitplan.model.solids import Box, Cylinder
from fitplan.model.vehicle import BodySolid, Layer, Opening, Window
from fitplan.units import PLATE, STUD

PORT = 4.8
"""Edge of the holes for wires in mm: a stud's width."""


@dataclass
class Draft:
    """A vehicle while it is drawn; lengths along x and y in studs, heights in plates from the underside."""

    long: int
    wide: int
    base: float
    layers: list[Layer] = field(default_factory=list)
    solids: list[BodySolid] = field(default_factory=list)
    openings: list[Opening] = field(default_factory=list)
    windows: list[Window] = field(default_factory=list)
    height: int = 0
    port_heights: dict[str, float] = field(default_factory=dict)
    load_height: float | None = None
    """How high loads may stand where it is open at the top; None: as is common practice."""

    def layer(self, name: str, plates: int, *patches: tuple[str, int, int, int, int]) -> None:
        """Add a layer of patches (character, first and last x, first and last y), outside elsewhere."""
        if plates <= 0:
            return
        field_ = [["-"] * self.long for _ in range(self.wide)]
        for character, x0, x1, y0, y1 in patches:
            for row in field_[max(y0, 0) : max(y1, 0)]:
                for x in range(max(x0, 0), min(x1, self.long)):
                    row[x] = character
        rows = tuple("".join(row) for row in reversed(field_))
        self.layers.append(Layer(name, round(self.base + self.height * PLATE, 6), plates, rows))
        self.height += plates

    def box(self, x0: float, x1: float, y0: float, y1: float, z0: float, z1: float) -> Box:
        """Return a box from studs along x and y and plates from the underside."""
        low = (x0 * STUD, y0 * STUD, round(self.base + z0 * PLATE, 6))
        return Box(low, (x1 * STUD, y1 * STUD, round(self.base + z1 * PLATE, 6)))

    def roof(self, name: str, x0: int, x1: int, y0: int, y1: int, z0: int, z1: int) -> None:
        """Add an opening upwards over some studs."""
        self.openings.append(Opening(name, self.box(x0, x1, y0, y1, z0, z1), "+z"))

    def gap(self, front: bool, x: int, inset: int, z0: int, z1: int) -> None:
        """Open the end wall whose outer face is at `x` studs, and call the gap a window."""
        if z1 <= z0 or self.wide - 2 * inset <= 0:
            return
        x0, x1 = (x - 1, x) if front else (x, x + 1)
        box = self.box(x0, x1, inset, self.wide - inset, z0, z1)
        self.solids.append(BodySolid(box, "free"))
        name = "front window" if front else "rear window"
        self.windows.append(Window(name, box, "+x" if front else "-x"))


def _ring(x0: int, x1: int, y0: int, y1: int) -> tuple[tuple[str, int, int, int, int], ...]:
    return (("#", x0, x1, y0, y1), (".", x0 + 1, x1 - 1, y0 + 1, y1 - 1))


def draw_box_body(draft: Draft, answers: Mapping[str, int]) -> None:
    """Draw floor, walls and roof over the whole length."""
    walls, long, wide = answers["walls"], draft.long, draft.wide
    draft.layer("floor", 1, ("#", 0, long, 0, wide))
    draft.layer("walls", walls, *_ring(0, long, 0, wide))
    draft.layer("roof", 1, ("#", 0, long, 0, wide))
    draft.roof("roof", 1, long - 1, 1, wide - 1, 1 + walls, 2 + walls)


def draw_windowed_body(draft: Draft, answers: Mapping[str, int]) -> None:
    """Draw a box body with a window at each end."""
    draw_box_body(draft, answers)
    sill, top = 1 + answers["sill"], 1 + min(answers["sill"] + answers["pane"], answers["walls"])
    draft.gap(True, draft.long, 1, sill, top)
    draft.gap(False, 0, 1, sill, top)


def draw_open_body(draft: Draft, answers: Mapping[str, int]) -> None:
    """Draw floor and walls without a roof."""
    walls, long, wide = answers["walls"], draft.long, draft.wide
    draft.layer("floor", 1, ("#", 0, long, 0, wide))
    draft.layer("walls", walls, *_ring(0, long, 0, wide))


def draw_flat_body(draft: Draft, answers: Mapping[str, int]) -> None:
    """Draw a floor and the room for a load on it."""
    load, long, wide = answers["load"], draft.long, draft.wide
    draft.layer("floor", answers["floor"], ("#", 0, long, 0, wide))
    draft.layer("room for the load", load, (".", 0, long, 0, wide))
    draft.port_heights |= {
        "rear": draft.base + answers["floor"] * PLATE,
        "front": draft.base + answers["floor"] * PLATE,
    }
    draft.load_height = round(draft.base + (answers["floor"] + load) * PLATE, 6)


def draw_hood_body(draft: Draft, answers: Mapping[str, int]) -> None:
    """Draw a cab between or behind hoods that stand back at their sides."""
    long, wide, hood, cab = draft.long, draft.wide, answers["hood"], answers["cab"]
    ahead, inset = answers["ahead"], answers["inset"]
    if ahead + cab > long:
        raise FitplanError(
            f"found a cab of {cab} studs behind {ahead} studs of hood; expected at most {long} together"
        )
    c1 = long - ahead
    c0 = c1 - cab
    more = max(answers["walls"] - hood - 1, 0)
    hoods = [span for span in ((0, c0 + 1), (c1 - 1, long)) if span[1] - span[0] > 2]
    draft.layer("floor", 1, ("#", 0, long, 0, wide))
    walls: list[tuple[str, int, int, int, int]] = list(_ring(c0, c1, 0, wide))
    for x0, x1 in hoods:
        walls += [("#", x0, x1, inset, wide - inset)]
    for x0, x1 in hoods:
        # The hood is open to the cab, so that what lies in it can reach into the cab.
        walls += [(".", x0 + (x0 == 0), x1 - (x1 == long), inset + 1, wide - inset - 1)]
    walls += [(".", c0 + 1, c1 - 1, 1, wide - 1)]
    draft.layer("hood and cab", hood, *walls)
    lids = tuple(("#", x0, x1, inset, wide - inset) for x0, x1 in hoods)
    draft.layer("roof of the hood", 1, *lids, *_ring(c0, c1, 0, wide))
    draft.layer("upper part of the cab", more, *_ring(c0, c1, 0, wide))
    draft.layer("roof of the cab", 1, ("#", c0, c1, 0, wide))
    for x0, x1 in hoods:
        name = "rear hood" if x0 == 0 else "front hood"
        start, end = (x0 + 1, c0) if x0 == 0 else (c1, x1 - 1)
        draft.roof(name, start, end, inset + 1, wide - inset - 1, 1 + hood, 2 + hood)
    draft.roof("cab roof", c0 + 1, c1 - 1, 1, wide - 1, 2 + hood + more, 3 + hood + more)


def draw_boiler_body(draft: Draft, answers: Mapping[str, int]) -> None:
    """Draw a cab with a barrel before it that opens into it."""
    long, wide, cab, walls = draft.long, draft.wide, answers["cab"], answers["walls"]
    if cab > long - 4:
        raise FitplanError(
            f"found a cab of {cab} studs; expected at most {long - 4}, so that a boiler is left"
        )
    draft.layer("floor", 1, ("#", 0, long, 0, wide))
    draft.layer("cab", walls, *_ring(0, cab, 0, wide))
    draft.layer("cab roof", 1, ("#", 0, cab, 0, wide))
    _barrel(draft, answers, cab - 1, long, cab)
    draft.roof("cab roof", 1, cab - 1, 1, wide - 1, 1 + walls, 2 + walls)


def draw_tank_body(draft: Draft, answers: Mapping[str, int]) -> None:
    """Draw a barrel on a floor."""
    draft.layer("floor", 1, ("#", 0, draft.long, 0, draft.wide))
    _barrel(draft, answers, 0, draft.long, 1)


def _barrel(draft: Draft, answers: Mapping[str, int], x0: int, x1: int, hollow_from: int) -> None:
    """Lay a hollow cylinder on the floor; its hollow begins at `hollow_from` or, in a cab, runs into it."""
    outer, wall = answers["diameter"] / 2, float(answers["wall"])
    if 2 * outer > draft.wide * STUD or 2 * wall >= 2 * outer:
        raise FitplanError(
            f"found a barrel of {2 * outer:g} mm with walls of {wall:g} mm; expected a diameter of at most"
            f" {draft.wide * STUD:g} mm (wide) and thinner walls"
        )
    middle, height = draft.wide * STUD / 2, draft.base + PLATE + outer
    start = x0 * STUD
    first = (x0 if x0 else hollow_from) * STUD
    end = (x1 - 1) * STUD
    # A wire leaves through the middle of the barrel's end.
    draft.solids.append(BodySolid(Cylinder("x", (start, middle, height), x1 * STUD - start, outer), "fixed"))
    draft.solids.append(BodySolid(Cylinder("x", (first, middle, height), end - first, outer - wall), "free"))
    for end_name, flat in (("rear", x0 == 0), ("front", True)):
        if flat:
            draft.port_heights[end_name] = height - PORT / 2
    top = round(height + outer, 6)
    half = outer - wall
    lid = Box((hollow_from * STUD, middle - half, height), (end, middle + half, top))
    draft.openings.append(Opening("upper half of the barrel", lid, "+z", often=False))


def draw_car_body(draft: Draft, answers: Mapping[str, int]) -> None:
    """Draw bonnet, cabin and boot."""
    long, wide = draft.long, draft.wide
    hood, cabin, low, high = answers["hood"], answers["cabin"], answers["low"], answers["high"]
    if hood + cabin > long:
        raise FitplanError(
            f"found {hood} studs of bonnet and {cabin} of cabin; expected at most {long} together (long)"
        )
    c1 = long - hood
    c0 = c1 - cabin
    draft.layer("floor", 1, ("#", 0, long, 0, wide))
    draft.layer("lower body", low, *_ring(0, long, 0, wide))
    lids = tuple(("#", x0, x1, 0, wide) for x0, x1 in ((0, c0), (c1, long)) if x1 > x0)
    draft.layer("bonnet and boot lid", 1, *lids, *_ring(c0, c1, 0, wide))
    draft.layer("cabin", high, *_ring(c0, c1, 0, wide))
    draft.layer("cabin roof", 1, ("#", c0, c1, 0, wide))
    if hood > 1:
        draft.roof("bonnet", c1, long - 1, 1, wide - 1, 1 + low, 2 + low)
    if c0 > 1:
        draft.roof("boot lid", 1, c0, 1, wide - 1, 1 + low, 2 + low)
    draft.roof("cabin roof", c0 + 1, c1 - 1, 1, wide - 1, 2 + low + high, 3 + low + high)


def draw_lorry_body(draft: Draft, answers: Mapping[str, int]) -> None:
    """Draw a cab and a box behind it, each with its own roof."""
    long, wide, cab, walls, cargo = draft.long, draft.wide, answers["cab"], answers["walls"], answers["cargo"]
    if cab > long - 4:
        raise FitplanError(f"found a cab of {cab} studs; expected at most {long - 4}, so that a load is left")
    c0 = long - cab
    low = min(walls, cargo)
    draft.layer("floor", 1, ("#", 0, long, 0, wide))
    draft.layer("walls", low, *_ring(0, c0, 0, wide), *_ring(c0, long, 0, wide))
    parts = {c0: (0, c0, cargo), long: (c0, long, walls)}
    above = [(x0, x1, tall) for x0, x1, tall in parts.values() if tall > low]
    ending = [(x0, x1) for x0, x1, tall in parts.values() if tall == low]
    lids = tuple(("#", x0, x1, 0, wide) for x0, x1 in ending)
    rings = tuple(patch for x0, x1, _ in above for patch in _ring(x0, x1, 0, wide))
    draft.layer("lower roof" if above else "roof", 1, *lids, *rings)
    for x0, x1, tall in above:
        draft.layer("upper walls", tall - low - 1, *_ring(x0, x1, 0, wide))
        draft.layer("upper roof", 1, ("#", x0, x1, 0, wide))
    for name, x0, x1, tall in (("load roof", 0, c0, cargo), ("cab roof", c0, long, walls)):
        top = max(tall, low + 1) if tall > low else tall
        draft.roof(name, x0 + 1, x1 - 1, 1, wide - 1, 1 + top, 2 + top)
