"""Meshes out: the whole plan for the eye (GLB), dummies of parts and shelves for the printer (STL)."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fitplan.errors import FitplanError
from fitplan.lattice.boxes import ExactSpace, part_boxes
from fitplan.lattice.clear import within_reach
from fitplan.lattice.cover import TENTHS, IntBox
from fitplan.lattice.states import KEEP_CLEAR_BIT
from fitplan.meshes.library import trimesh
from fitplan.meshes.solid_mesh import Triangles, joined, mesh_of, plates_of, skin_of, tube
from fitplan.model.facts import WIRE_COLOURS as SHADES
from fitplan.model.part import Part
from fitplan.model.placed import Placement
from fitplan.model.plan import Plan
from fitplan.model.solids import Box, Cylinder, Solid, Wedge, axis_of
from fitplan.model.train import Train, TrainVehicle
from fitplan.model.vehicle import Vehicle
from fitplan.model.wired import Wire

PRINT_TOLERANCE = 0.2
"""How far each face of a printed dummy stands back (mm); common practice for filament printers, no source."""
_FINE, _COARSE, _COARSE_FROM = 0.2, 0.4, 4.0

Colour = tuple[int, int, int, int]
BRICK: Colour = (150, 150, 158, 70)
REMOVABLE: Colour = (214, 150, 60, 120)
BUILT_IN: Colour = (70, 70, 78, 255)
KEEP_CLEAR: Colour = (200, 60, 60, 30)
SHELF: Colour = (190, 170, 130, 255)
_PARTS: tuple[Colour, ...] = (
    (46, 125, 107, 255), (54, 96, 146, 255), (140, 86, 120, 255), (160, 98, 52, 255), (98, 110, 48, 255),
    (88, 76, 140, 255),
)  # fmt: skip
WIRE_COLOURS: dict[str, Colour] = {
    code: (int(shade[1:3], 16), int(shade[3:5], 16), int(shade[5:7], 16), 255)
    for code, (_, shade) in SHADES.items()
}
"""Colours by their codes of IEC 60757, the same shades as on the page."""


def _trimesh(mesh: Triangles, colour: Colour) -> Any:
    shape = trimesh.Trimesh(mesh.points, mesh.faces, process=False)
    material = trimesh.visual.material.PBRMaterial(
        baseColorFactor=list(colour),
        alphaMode="BLEND" if colour[3] < 255 else "OPAQUE",
        metallicFactor=0.0,
        roughnessFactor=0.8,
        doubleSided=colour[3] < 255,
    )
    shape.visual = trimesh.visual.TextureVisuals(material=material)
    return shape


class SceneBuilder:
    """A scene under construction; nodes stand under the train's own frame in mm, z up."""

    def __init__(self) -> None:
        self.scene: Any = trimesh.Scene()
        # glTF counts in metres with y up.
        self.scene.graph.update(
            frame_to="train",
            frame_from=self.scene.graph.base_frame,
            matrix=np.array([[1e-3, 0, 0, 0], [0, 0, 1e-3, 0], [0, -1e-3, 0, 0], [0, 0, 0, 1.0]]),
        )

    def frame(self, name: str, matrix: NDArray[np.float64]) -> None:
        """Add an empty node."""
        self.scene.graph.update(frame_to=name, frame_from="train", matrix=matrix)

    def add(self, name: str, under: str, mesh: Triangles, colour: Colour) -> None:
        """Add a mesh as a node of its own; an empty one is left out."""
        if len(mesh.faces):
            self.scene.add_geometry(
                _trimesh(mesh, colour), node_name=name, geom_name=name, parent_node_name=under
            )

    def glb(self) -> bytes:
        """Return the scene as a GLB file."""
        data: bytes = self.scene.export(file_type="glb")
        return data


def _matrix(entry: TrainVehicle, start: float) -> NDArray[np.float64]:
    """Return the turn and shift from the vehicle's frame into the train's, on straight track."""
    vehicle = entry.vehicle
    matrix = np.eye(4)
    if entry.turned:
        matrix[0, 0] = matrix[1, 1] = -1.0
        matrix[:2, 3] = (start + vehicle.length, vehicle.width / 2)
    else:
        matrix[:2, 3] = (start, -vehicle.width / 2)
    return matrix


def add_vehicle(stage: SceneBuilder, name: str, vehicle: Vehicle, under: str) -> None:
    """Add a vehicle's body, each removable brick, what is kept clear and what is built in."""
    space = ExactSpace.of(replace(vehicle, built_in=()))
    fixed = space.solid()
    for brick in space.names:
        own = space.removable(brick)
        fixed &= ~own
        stage.add(f"{name}/removable: {brick}", under, plates_of(own, space.faces), REMOVABLE)
    stage.add(f"{name}/body", under, plates_of(fixed, space.faces), BRICK)
    kept_clear = ((space.bits & np.uint64(KEEP_CLEAR_BIT)) != 0) & ~space.solid()
    stage.add(f"{name}/keep-clear", under, plates_of(kept_clear, space.faces), KEEP_CLEAR)
    for built in vehicle.built_in:
        meshes = [mesh_of(solid) for solid in built.solids]
        stage.add(f"{name}/built in: {built.name}", under, joined(meshes), BUILT_IN)


def plan_glb(plan: Plan) -> bytes:
    """Return the whole plan as GLB, on straight track.

    Nodes: one for each vehicle by its name, and under it ``NAME/body`` (see-through), ``NAME/removable:
    BRICK``, ``NAME/built in: THING``, ``NAME/part: NEED``, ``NAME/shelf: NEED`` and ``NAME/wire N: NET``, in
    the colour of the wire. In metres with y up, as the format asks.
    """
    stage = SceneBuilder()
    train = plan.built.train
    starts = train.starts()
    for entry in train.vehicles:
        stage.frame(entry.name, _matrix(entry, starts[entry.name]))
        add_vehicle(stage, entry.name, entry.vehicle, entry.name)
    for number, placement in enumerate(plan.built.placements):
        _add_part(stage, placement, _PARTS[number % len(_PARTS)])
    for wire in plan.built.harness.wires:
        _add_wire(stage, wire, train)
    return stage.glb()


def _add_part(stage: SceneBuilder, placement: Placement, colour: Colour) -> None:
    vehicle = placement.vehicle
    moved = [mesh_of(placement.place.move_solid(solid)) for solid in placement.part.envelope]
    stage.add(f"{vehicle}/part: {placement.need}", vehicle, joined(moved), colour)
    if placement.shelf is not None:
        stage.add(
            f"{vehicle}/shelf: {placement.need}",
            vehicle,
            joined([mesh_of(box) for box in placement.shelf.boxes]),
            SHELF,
        )


def _add_wire(stage: SceneBuilder, wire: Wire, train: Train) -> None:
    names = {entry.name for entry in train.vehicles}
    colour = WIRE_COLOURS.get(wire.colour, (200, 60, 160, 255))
    seen: dict[str, int] = {}
    for leg in wire.legs:
        if leg.vehicle not in names:
            continue
        seen[leg.vehicle] = seen.get(leg.vehicle, 0) + 1
        more = f" ({seen[leg.vehicle]})" if seen[leg.vehicle] > 1 else ""
        name = f"{leg.vehicle}/wire {wire.number}: {wire.net}{more}"
        stage.add(name, leg.vehicle, tube(leg.points, wire.outer_mm / 2), colour)


def dummy_stl(part: Part, tolerance: float = PRINT_TOLERANCE) -> dict[str, bytes]:
    """Return STL files to print a part's envelope as a block, and its clearances as a second body.

    Each face stands back by `tolerance`, so that the block goes where the part goes. Keys are file names:
    ``ID.stl`` and, where the part has clearances, ``ID-clearance.stl``, both in the part's frame.

    Raises
    ------
    FitplanError
        When nothing is left of the envelope, or a body comes out with holes.
    """
    files = {f"{part.id}.stl": _stl(printable(part.envelope, tolerance), part.id)}
    room = tuple(clearance.solid for clearance in part.clearances)
    if room:
        files[f"{part.id}-clearance.stl"] = _stl(printable(room, tolerance), f"{part.id} clearance")
    return files


def shelf_stl(shelf: Sequence[Box], tolerance: float = PRINT_TOLERANCE) -> bytes:
    """Return an STL file of a shelf, its sides standing back by `tolerance`, flat on the bed at the origin.

    Several boxes that touch become one body.

    Raises
    ------
    FitplanError
        When nothing is left of it.
    """
    low = [min(box.low[i] for box in shelf) for i in range(3)]
    high = [max(box.high[i] for box in shelf) for i in range(3)]
    dx, dy = high[0] - low[0], high[1] - low[1]
    if min(dx, dy) <= 2 * tolerance or high[2] <= low[2]:
        raise FitplanError(f"found a shelf of {dx:g} × {dy:g} mm; expected more than twice {tolerance:g} mm")
    if len(shelf) == 1:
        return _stl(
            mesh_of(Box((0, 0, 0), (dx - 2 * tolerance, dy - 2 * tolerance, high[2] - low[2]))), "shelf"
        )
    moved = [
        Box(
            (box.low[0] - low[0], box.low[1] - low[1], box.low[2] - low[2]),
            (box.high[0] - low[0], box.high[1] - low[1], box.high[2] - low[2]),
        )
        for box in shelf
    ]
    return _stl(printable(tuple(moved), tolerance), "shelf")


def printable(solids: tuple[Solid, ...], tolerance: float) -> Triangles:
    """Return a closed mesh of a union of solids, eroded by `tolerance` (mm, a multiple of 0.1).

    One solid is kept as it is shaped. Several are joined on the tenths of a millimetre, cylinders and wedges
    as stairs of 0.2 or 0.4 mm within them.

    Raises
    ------
    FitplanError
        When nothing is left.
    """
    if len(solids) == 1:
        return mesh_of(_shrunk(solids[0], tolerance))
    large = any(isinstance(solid, Cylinder) and solid.radius > _COARSE_FROM for solid in solids)
    boxes = part_boxes(solids, "inward", _COARSE if large else _FINE)
    mesh = _eroded(boxes, round(tolerance * TENTHS))
    if len(mesh.faces) and trimesh.Trimesh(mesh.points, mesh.faces, process=False).is_watertight:
        return mesh
    # Thin solids side by side, or solids that meet along an edge alone: bodies of their own.
    return joined([mesh_of(_shrunk(solid, tolerance)) for solid in solids])


def _shrunk(solid: Solid, tolerance: float) -> Solid:
    match solid:
        case Box():
            x0, y0, z0 = (c + tolerance for c in solid.low)
            x1, y1, z1 = (c - tolerance for c in solid.high)
            small: Solid = Box((x0, y0, z0), (x1, y1, z1))
        case Cylinder():
            start = [c + tolerance * (axis == solid.axis) for axis, c in zip("xyz", solid.start, strict=True)]
            small = Cylinder(
                solid.axis,
                (start[0], start[1], start[2]),
                solid.length - 2 * tolerance,
                solid.radius - tolerance,
            )
        case _:
            small = _shrunk_wedge(solid, tolerance)
    if min(small.bounds.size) <= 0:
        raise FitplanError(
            f"found nothing left of a part after {tolerance:g} mm print tolerance; expected less"
        )
    return small


def _shrunk_wedge(solid: Wedge, tolerance: float) -> Solid:
    """Move the two full faces, the ends and the slope of a wedge inwards."""
    axes = {axis_of(face): face[0] for face in (solid.base, solid.back)}
    one, other = (solid.box.size[axis] for axis in axes)
    # Along each leg the slope comes back by tolerance / sin of its angle there, and the corner by tolerance.
    slope = math.hypot(one, other)
    low, high = list(solid.box.low), list(solid.box.high)
    for axis in range(3):
        if axis not in axes:
            low[axis], high[axis] = low[axis] + tolerance, high[axis] - tolerance
            continue
        size = solid.box.size[axis]
        rest = one + other - size
        short = tolerance * (slope / rest + size / rest)
        if axes[axis] == "-":
            low[axis], high[axis] = low[axis] + tolerance, high[axis] - short
        else:
            low[axis], high[axis] = low[axis] + short, high[axis] - tolerance
    small: Solid = Wedge(Box((low[0], low[1], low[2]), (high[0], high[1], high[2])), solid.base, solid.back)
    return small


def _eroded(boxes: list[IntBox], reach: int) -> Triangles:
    """Erode a union of boxes by a cube of half edge `reach` (tenths) and return its skin in mm."""
    edges = []
    for axis in range(3):
        cuts = {box[i] for box in boxes for i in (axis, axis + 3)}
        edges.append(
            np.array(sorted({c + side for c in cuts for side in (-reach, 0, reach)}), dtype=np.int64)
        )
    cells = np.zeros(tuple(len(line) - 1 for line in edges), dtype=np.bool_)
    for box in boxes:
        window = tuple(
            slice(int(np.searchsorted(line, box[axis])), int(np.searchsorted(line, box[axis + 3])))
            for axis, line in enumerate(edges)
        )
        cells[window] = True
    left = cells & ~within_reach(~cells, edges, reach)
    faces = []
    for axis, line in enumerate(edges):
        # Slices that repeat the one before need no cut of their own.
        rows = np.moveaxis(left, axis, 0)
        keep = np.r_[True, (rows[1:] != rows[:-1]).any(axis=(1, 2))]
        left = np.compress(keep, left, axis=axis)
        faces.append(line[np.r_[keep, True]] / TENTHS)
    return skin_of(left, faces)


def _stl(mesh: Triangles, name: str) -> bytes:
    shape = trimesh.Trimesh(mesh.points, mesh.faces, process=False)
    if not shape.is_watertight or shape.volume <= 0:
        raise FitplanError(f"found holes in the mesh of {name}; expected a closed body (a defect of fitplan)")
    data: bytes = shape.export(file_type="stl")
    return data
