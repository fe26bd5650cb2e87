"""A window that is to be made wider, as one looks at it from outside: as it is, and afterwards.

Both views are at 1:1. Bricks at the outside are filled, what lies farther in is lighter; what comes out is
hatched, what closes the gap is marked as new, and the part stands where it will.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from fitplan.model.plan import Plan
from fitplan.model.solids import Box, Direction, axis_of, is_forward
from fitplan.model.vehicle import BodySolid, Vehicle
from fitplan.model.wider_window import WiderWindow
from fitplan.report.drawings.drawing import Drawing, Pen
from fitplan.report.drawings.pdf import fitted, text_width
from fitplan.report.drawings.slices import BUILT_IN, cells_of
from fitplan.report.lists.wording import number
from fitplan.units import STUD

_GAP = 14.0
HEAD = 7.0
_FOOT = 12.0
_LINE = 5.0
_OUT = Pen("stop", 0.3)
_NEW = Pen("new-edge", 0.35, "new")
_PART = Pen("part-edge", 0.3, "part", opacity=0.85)
FRONT, BEHIND, REMOVABLE = (
    Pen(None, 0, "faint"),
    Pen(None, 0, "brick"),
    Pen(None, 0, "keep"),
)


def window_drawings(plan: Plan) -> tuple[Drawing, ...]:
    """Return for each window that is to be made wider its end of the vehicle, before and after."""
    return tuple(_drawn(plan, offer) for offer in plan.wider_windows)


def _drawn(plan: Plan, offer: WiderWindow) -> Drawing:
    vehicle = plan.built.train.vehicle(offer.vehicle).vehicle
    window = next(one for one in vehicle.windows if one.name == offer.window)
    part = next(one for one in plan.built.train.need(offer.need).candidates if one.id == offer.part_id)
    face = FaceView(vehicle, window.out)
    kept = tuple(
        replace(entry, state="free") if entry.removable in offer.remove and entry.removable else entry
        for entry in vehicle.body
    )
    later = replace(vehicle, body=(*kept, *(BodySolid(box, "free") for box in offer.out)))
    gone = [
        entry.solid.bounds for entry in vehicle.body if entry.removable and entry.removable in offer.remove
    ]
    key = _key_lines(offer, 2 * face.width + _GAP)
    sheet = Drawing(
        2 * face.width + _GAP,
        face.height + HEAD + _FOOT + (len(key) - 1) * _LINE,
        f"{offer.window} of {offer.vehicle}, from outside: as it is, and wide enough for {offer.need}",
    )
    for column, (title, body) in enumerate((("as it is", vehicle), ("afterwards", later))):
        x = column * (face.width + _GAP)
        sheet.text(x, HEAD - 2.2, title, 3.6, bold=True)
        draw_wall(sheet, face, body, x, (BEHIND,))
        if column:
            for solid in part.envelope:
                left, top, wide, high = face.flat(offer.place.move_solid(solid).bounds)
                sheet.rect(x + left, HEAD + top, wide, high, _PART)
        draw_wall(sheet, face, body, x, (FRONT, REMOVABLE))
        marks = (
            [(box, _NEW) for box in offer.plates] if column else [(box, _OUT) for box in (*offer.out, *gone)]
        )
        for box, pen in marks:
            left, top, wide, high = face.flat(box)
            sheet.rect(x + left, HEAD + top, wide, high, pen)
            if not column:
                sheet.hatch(x + left, HEAD + top, wide, high, pen)
        frame = offer.outline if column else window.box
        left, top, wide, high = face.flat(frame)
        sheet.rect(x + left, HEAD + top, wide, high, Pen("ink", 0.35, dash=(1.6, 1.0)))
        sheet.rect(x, HEAD, face.width, face.height, Pen("ink", 0.3))
        said = f"window {number(wide)} × {number(high)} mm"
        sheet.text(x, HEAD + face.height + 4.6, fitted(said, 3.6, face.width + _GAP), 3.6)
    for row, line in enumerate(key):
        sheet.text(0, HEAD + face.height + 9.6 + row * _LINE, line, 3.6)
    return sheet


def _key_lines(offer: WiderWindow, width: float) -> list[str]:
    """Return what the marks of a drawing mean, in lines no wider than it."""
    marks = ["hatched: bricks that come out"] * bool(offer.out or offer.remove)
    marks += ["orange: plates to put in"] * bool(offer.plates)
    marks += ["dashed: the window", f"blue: {offer.need}"]
    if max(offer.hidden_before, offer.hidden_after) >= 0.005:
        before, after = (f"{100 * share:.0f} %" for share in (offer.hidden_before, offer.hidden_after))
        marks.append(f"hidden of its beam: {before}, then {after}")
    lines: list[str] = []
    for mark in marks:
        longer = f"{lines[-1]}; {mark}" if lines else mark
        if lines and text_width(longer, 3.6) <= width:
            lines[-1] = longer
        else:
            lines.append(fitted(mark, 3.6, width))
    return lines


class FaceView:
    """One side of a vehicle as it is seen from outside, flat, in mm from its upper left corner."""

    def __init__(self, vehicle: Vehicle, out: Direction) -> None:
        self._hull, self._axis = vehicle.outline, axis_of(out)
        self._across = 1 - self._axis
        self.forwards = is_forward(out)
        # From the front the vehicle's left is at the right; from the left side its front is at the left.
        self.turned = self.forwards == (self._axis == 1)
        self.width, self.height = self._hull.size[self._across], self._hull.size[2]

    def flat(self, box: Box) -> tuple[float, float, float, float]:
        """Return left, top, width and height of a box's outline."""
        low, high = box.low[self._across], box.high[self._across]
        left = self._hull.high[self._across] - high if self.turned else low - self._hull.low[self._across]
        return left, self._hull.high[2] - box.high[2], high - low, box.size[2]

    @property
    def axes(self) -> tuple[int, int]:
        """The axis that is looked along, and the one across."""
        return self._axis, self._across


def draw_wall(sheet: Drawing, face: FaceView, vehicle: Vehicle, x: float, pens: Collection[Pen]) -> None:
    """Draw what stands nearest, as far as it is drawn with one of some pens."""
    cells = cells_of(vehicle)
    along, across = face.axes
    solid = np.moveaxis(cells.solid, (along, across, 2), (0, 1, 2))
    marks = np.moveaxis(cells.removable, (along, across, 2), (0, 1, 2))
    if face.forwards:
        solid, marks = solid[::-1], marks[::-1]
    cuts = cells.cuts[along]
    depth = (cuts[-1] - cuts[1:])[::-1] if face.forwards else cuts[:-1] - cuts[0]
    first = solid.argmax(axis=0)
    there = solid.any(axis=0)
    mark = np.take_along_axis(marks, first[None], axis=0)[0]
    kinds: NDArray[np.int64] = np.where(depth[first] < STUD / 2, 1, 2)
    kinds = np.where((mark >= 0) & (mark != BUILT_IN), 3, kinds)
    kinds = np.where(there, kinds, 0)
    pen_of = {1: FRONT, 2: BEHIND, 3: REMOVABLE}
    wide, high = cells.cuts[across], cells.cuts[2]
    for k in range(kinds.shape[1]):
        start = 0
        for end in range(1, len(kinds) + 1):
            if end < len(kinds) and kinds[end, k] == kinds[start, k]:
                continue
            kind = int(kinds[start, k])
            if kind and pen_of[kind] in pens:
                low, top = [0.0, 0.0, float(high[k])], [0.0, 0.0, float(high[k + 1])]
                low[across], top[across] = float(wide[start]), float(wide[end])
                box = Box((low[0], low[1], low[2]), (top[0], top[1], top[2]))
                left, above, long, tall = face.flat(box)
                sheet.rect(x + left, HEAD + above, long, tall, pen_of[kind])
            start = end
