"""Where things lie in a vehicle file: openings, windows, ports, faces, pins, couplings and wheels."""

from __future__ import annotations

from fitplan.files.document import Spot
from fitplan.files.entries import Collector
from fitplan.files.on_envelope import leaves_into, point_words
from fitplan.files.vehicle_file import MOST_HIGH, OpeningEntry, PortEntry, VehicleFile, WindowEntry
from fitplan.model.solids import Box

TOUCH = 0.01
"""How far something may stand outside of the hull in mm, to forgive rounding."""


def check_places(entry: VehicleFile, hull: Box, collector: Collector) -> None:
    """Refuse what lies outside of the hull, looks along its own face, or leads back into itself."""
    boxed: list[tuple[str, OpeningEntry | WindowEntry | PortEntry]] = [
        *(("opening", item) for item in entry.openings),
        *(("window", item) for item in entry.windows),
        *(("port", item) for item in entry.ports),
    ]
    for kind, item in boxed:
        what = f"the {kind} {str(item.name)!r}"
        _check_in_hull(item.box.flat_box(), what, item.box.spot, hull, collector)
        if kind != "port":
            _check_area(item.box.flat_box(), item.out, what, item.box.spot, collector)
    for built in entry.built_in:
        for face in built.faces:
            box, what = face.box.flat_box(), f"the face {str(face.name)!r} of {str(built.name)!r}"
            _check_in_hull(box, what, face.box.spot, hull, collector)
            _check_area(box, face.out, what, face.box.spot, collector)
        for block in built.pins:
            for pin in block.pins():
                what = f"the pin {pin.name!r} of {str(built.name)!r}"
                _check_in_hull(Box(pin.at, pin.at), what, block.spot, hull, collector)
                if leaves_into(pin, [item.solid() for item in built.solids]):
                    found = f"{what} at {point_words(pin.at)}, which leaves into it"
                    collector.add(block.spot, found, "an 'exit' that leads out of it")
    for coupling in entry.couplings:
        if coupling.pivot > hull.high[0]:
            _outside_length(f"a coupling pivot at {coupling.pivot:g}", coupling.spot, hull, collector)
    ends = {str(coupling.end): coupling for coupling in entry.couplings}
    if "front" in ends and "rear" in ends and ends["front"].pivot <= ends["rear"].pivot:
        front, rear = ends["front"].pivot, ends["rear"].pivot
        found = f"the front coupling's pivot at {front:g} and the rear one's at {rear:g}"
        collector.add(ends["front"].spot, found, "x counted from the rear end: the rear pivot first")
    for place in entry.wheels.at:
        if place > hull.high[0]:
            kind = "an axle" if entry.wheels.kind == "axles" else "a bogie pivot"
            _outside_length(f"{kind} at {place:g}", entry.wheels.spot, hull, collector)
    if hull.high[2] > MOST_HIGH:
        collector.add(entry.spot, f"a body up to {hull.high[2]:g} mm", f"a body up to {MOST_HIGH:g} mm")
    if entry.mass_center is not None:
        point = entry.mass_center
        span = Box((0.0, 0.0, 0.0), hull.high)
        _check_in_hull(Box(point, point), "the 'mass center'", entry.spot, span, collector)


def _check_in_hull(box: Box, what: str, spot: Spot, hull: Box, collector: Collector) -> None:
    for i, axis in enumerate("xyz"):
        if box.low[i] < hull.low[i] - TOUCH or box.high[i] > hull.high[i] + TOUCH:
            span = (
                f"at {box.low[i]:g}"
                if box.low[i] == box.high[i]
                else f"from {box.low[i]:g} to {box.high[i]:g}"
            )
            collector.add(
                spot,
                f"{what} with {axis} {span}",
                f"{axis} from {hull.low[i]:g} to {hull.high[i]:g}, inside the hull of the vehicle (mm)",
            )


def _check_area(box: Box, out: str, what: str, spot: Spot, collector: Collector) -> None:
    """Refuse a box that is flat across the way that something passes through it."""
    for i, axis in enumerate("xyz"):
        if axis != out[1] and box.size[i] <= 0:
            collector.add(
                spot,
                f"{what} without extent along {axis}",
                f"an extent along {axis}: it looks along {out[1]}",
            )


def _outside_length(found: str, spot: Spot, hull: Box, collector: Collector) -> None:
    collector.add(spot, found, f"x from 0 to {hull.high[0]:g}, the footprint (mm)")
