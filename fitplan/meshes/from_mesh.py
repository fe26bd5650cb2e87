"""A vehicle from a mesh: read, scale, align, voxelise, fill, and write down as a body."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from fitplan.errors import FitplanError, InputError, Mistake, nearest_name
from fitplan.lattice.frame import Frame
from fitplan.meshes.blocks import FIXED, FREE, KEEP_CLEAR, MOST_SOLIDS, OUTSIDE, LayeredBody, StateBlock
from fitplan.meshes.built_in import built_in_of
from fitplan.meshes.cut import Cut, cut_of
from fitplan.meshes.fill import GAP, Filled, fill, grown
from fitplan.meshes.hollows import BrickShells, brick_shells_of
from fitplan.meshes.lids import Lid, lid_notes, with_lids
from fitplan.meshes.marks import Mark, codes_of, gathered, mark_of, short_name, without_plan
from fitplan.meshes.merged_objects import merged_objects, parted_by_colour
from fitplan.meshes.mesh_notes import CavitySize as CavitySize
from fitplan.meshes.mesh_notes import MeshOptions as MeshOptions
from fitplan.meshes.mesh_notes import notes_of, sizes_of
from fitplan.meshes.mesh_studs import StudCount, parted, without_studs
from fitplan.meshes.proposals import propose_gaps, propose_openings
from fitplan.meshes.round_body import round_body_of
from fitplan.meshes.rounds import rings_of
from fitplan.meshes.running_gear import (
    FEWEST_BRICKS,
    GearPiece,
    couplings_of,
    gear_named,
    gear_notes,
    gear_questions,
    height_of,
    room_of_wheels,
    wheels_of,
    without_gear,
)
from fitplan.meshes.scale import Fitting, fit_scene
from fitplan.meshes.scene_in import Scene, SceneObject, bounds_of_pieces, read_scene
from fitplan.meshes.surface import Progress, draw_surface, shells_of
from fitplan.meshes.true_faces import level_faces_of, with_true_faces
from fitplan.meshes.vehicle_text import vehicle_yaml
from fitplan.model.facts import BRICK_G_MM3
from fitplan.model.solids import Box, bounds_of
from fitplan.model.studs import floor_studs
from fitplan.model.vehicle import Removable, Vehicle
from fitplan.units import PITCH, PLATE, STUD

_MARGIN = 3
"""Clear voxels round the mesh."""


@dataclass(frozen=True, eq=False)
class MeshVehicle:
    """What came of a mesh.

    Attributes
    ----------
    vehicle
        The vehicle, with proposals for openings, windows and ports that the user confirms.
    notes
        Sentences that say what was found, taken and left out.
    filled
        The voxels before they were put on the vehicle's grid, for figures.
    lids
        What lies over each opening, and whether it lifts off.
    gear
        Wheels, couplings and what else stands out of the bricks.
    height_guessed
        Whether nobody said how high the body stands above the rail, nor do wheels.
    body
        The body as it is written; a sidecar is needed when `sidecar` is True.
    """

    vehicle: Vehicle
    notes: tuple[str, ...]
    cavities: tuple[CavitySize, ...]
    filled: Filled
    block: StateBlock
    body: LayeredBody
    studs: StudCount
    lids: tuple[Lid, ...] = ()
    gear: tuple[GearPiece, ...] = ()
    height_guessed: bool = False

    @property
    def sidecar(self) -> bool:
        """Whether the solids are too many for a text that a person reads."""
        return len(self.body.solids) > MOST_SOLIDS

    def text(self, sidecar_name: str = "") -> str:
        """Return the vehicle file; with `sidecar` the name of the file that holds the boxes is needed."""
        return vehicle_yaml(
            self.vehicle, (*self.notes, *gear_questions(self.gear)), sidecar_name if self.sidecar else ""
        )

    def sidecar_bytes(self) -> bytes:
        """Return the file that holds the boxes."""
        return self.body.sidecar()


def vehicle_from_mesh(
    path: Path, options: MeshOptions | None = None, progress: Progress | None = None
) -> MeshVehicle:
    """Return the vehicle that a mesh file shows.

    Solids are rounded outwards: a voxel that a surface passes through is solid, so what is free is surely
    free. How much room that may hide is said in the notes.

    Raises
    ------
    InputError
        When the file cannot be read, its size is no vehicle's, or it needs more voxels than allowed.
    """
    options = options or MeshOptions()
    tell = progress or (lambda stage, share: None)
    if not any(math.isclose(options.pitch, PITCH * factor) for factor in (2, 1, 0.5, 0.25)):
        raise FitplanError(f"found a pitch of {options.pitch:g} mm; expected 1.6, 0.8, 0.4 or 0.2")
    tell("reading", 0.0)
    read = read_scene(path)
    _known(path, read, options)
    scene = replace(read, pieces=without_plan(read.pieces))
    if planned := len(read.pieces) - len(scene.pieces):
        scene = replace(
            scene, notes=(*scene.notes, f"{planned} parts, shelves and wires of a plan are left out")
        )
    try:
        fitting = fit_scene(scene, options.units, options.up, options.front)
    except ValueError as error:
        raise _refused(path, str(error)) from None
    pieces = [replace(piece, points=fitting.apply(piece.points)) for piece in scene.pieces]
    pieces = merged_objects(pieces, [_kind(piece, options) for piece in pieces])
    pieces = parted_by_colour(pieces, options.removable)
    marks = [mark_of(piece, options.removable) for piece in pieces]
    pieces, marks, gear = without_gear(pieces, marks, fitting.grid, options.objects)
    if not pieces:
        raise _refused(path, "only wheels, couplings and wires", "at least one solid object")
    base, guessed = options.base, False
    if base is None:
        on_rails = fitting.studs > 0 and options.kind != "road"
        base, guessed = height_of(gear, float(bounds_of_pieces(pieces)[0][2]), on_rails)
    frame, shift, level = _frame(pieces, fitting, options, base, path)
    pieces = [replace(piece, points=piece.points + shift) for piece in pieces]
    material = [number for number, mark in enumerate(marks) if mark.role != "keep-clear"]
    if not material:
        raise _refused(path, "only keep-clear objects", "at least one solid object")
    bricks = None
    if fitting.grid is not None:
        tell("bricks", 0.0)
        bricks = brick_shells_of(*gathered(pieces, material), frame, level)
        pieces = _with_bricks(pieces, material, bricks)
    filled = _fill_with(pieces, material, frame, options, tell, bricks)
    codes, names, built = codes_of(pieces, marks, filled, frame)
    tell("body", 0.0)
    cut = cut_of(codes != OUTSIDE, frame)
    off = without_studs(StateBlock(cut.frame, cut.codes(codes), names))
    block = off.block
    drawn = [n for n, mark in enumerate(marks) if mark.role != "built in"]
    points, faces, objects = gathered(pieces, drawn)
    points = points + cut.moved
    body = round_body_of(block, rings_of(points, faces, options.pitch / 2))
    gear = tuple(entry.moved(shift + cut.moved) for entry in gear)
    vehicle = _vehicle(path, block, body, options, gear)
    exact = off.voxels
    if len(body.solids) <= MOST_SOLIDS:
        faces_level = level_faces_of(block, points, faces, objects)
        body, known = with_true_faces(vehicle, block, body, faces_level)
        exact = exact | known | faces_level.full
    built_in, as_it_is = built_in_of(pieces, marks, built, frame, cut.moved)
    # Where every surface beside the cavities lies on the grid, or is known, the drawing is exact.
    rounded = 0.0 if as_it_is and not _uncertain(filled, cut, block, exact) else options.pitch
    vehicle = replace(vehicle, body=body.drawn, built_in=built_in, rounded=rounded)
    ruled = floor_studs(replace(vehicle, floor_finish="studded"))
    studded, more = parted(off.inside, ruled)
    turning = room_of_wheels(gear, block)
    body = replace(body, solids=(*body.solids, *more, *turning))
    vehicle = replace(vehicle, body=body.drawn, floor_finish="studded" if studded else "smooth")
    studs = StudCount(len(off.inside), len(ruled), off.outside, len(more))
    vehicle = _within_hull(vehicle)
    of_bricks = bricks is not None and bricks.bricks >= FEWEST_BRICKS
    low, high = _objects(pieces, marks, bricks if of_bricks else None)
    vehicle, lids = with_lids(vehicle, block, (low + cut.moved, high + cut.moved), of_bricks)
    cavities = sizes_of(block)
    notes = notes_of(scene, fitting, filled, block, body, studs, cavities, options, rounded)
    notes = (
        *notes,
        *lid_notes(lids, of_bricks),
        *_of_bricks(bricks),
        *gear_notes(gear, base if guessed else None),
    )
    if turning:
        notes = (*notes, f"wheels reach into the room in {len(turning)} places: kept clear there")
    tell("body", 1.0)
    return MeshVehicle(vehicle, notes, cavities, filled, block, body, studs, lids, gear, guessed)


def _kind(piece: SceneObject, options: MeshOptions) -> tuple[object, object]:
    """Return what a piece is by its names: only what is the same may be one thing."""
    told = options.objects.get(piece.name) or gear_named(piece.name)
    return mark_of(replace(piece, colour=""), options.removable), told


def _known(path: Path, scene: Scene, options: MeshOptions) -> None:
    """Refuse a word on an object that is not in the file."""
    names = {piece.name for piece in scene.pieces}
    for name in options.objects:
        if name not in names:
            near = nearest_name(name, names) or f"there are {len(names)} objects"
            raise _refused(path, f"no object {name!r}", f"one of the file's objects; {near}")


def _refused(path: Path, found: str, expected: str = "") -> InputError:
    head, _, tail = found.partition("; expected ")
    return InputError([Mistake(path, 0, 0, head, expected or tail or "a mesh of a vehicle")])


def _frame(
    pieces: list[SceneObject], fitting: Fitting, options: MeshOptions, base: float, path: Path
) -> tuple[Frame, NDArray[np.float64], float]:
    """Return a frame on the stud grid with room for the flood, the shift into it, and a plate's level."""
    pitch = options.pitch
    low, high = bounds_of_pieces(pieces)
    period = np.array([STUD, STUD, PLATE])
    if fitting.grid is not None:
        grid = np.array(fitting.grid)
        start = grid + np.floor((low - grid) / period + 1e-3) * period
    else:
        # Without a grid the body stands in the middle of its footprint.
        room = np.ceil((high - low) / period - 1e-6) * period
        start = low - (room - (high - low)) / 2
        start[2] = low[2]
    lowest = start[2] + math.floor((low[2] - start[2]) / pitch + 1e-3) * pitch
    shift = np.array([-start[0], -start[1], base - lowest])
    corner = start + shift - _MARGIN * pitch
    counts = np.ceil((high + shift - corner) / pitch - 1e-3).astype(int) + _MARGIN
    total = int(np.prod(counts.astype(np.float64)))
    if total > options.most_voxels:
        raise _refused(
            path,
            f"a mesh that needs {total / 1e6:.0f} million voxels of {pitch:g} mm",
            f"at most {options.most_voxels / 1e6:.0f} million: declare the units, or take a greater pitch",
        )
    origin = tuple(round(float(c), 6) for c in corner)
    return (
        Frame((origin[0], origin[1], origin[2]), (int(counts[0]), int(counts[1]), int(counts[2])), pitch),
        shift,
        float(start[2] + shift[2]),
    )


def _objects(
    pieces: list[SceneObject], marks: list[Mark], bricks: BrickShells | None
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the corners (n, 3) of what the body is made of: bricks and other shells, or else objects."""
    if bricks is not None:
        return bricks.low, bricks.high
    bounds = [piece.bounds for piece, mark in zip(pieces, marks, strict=True) if mark.role == "body"]
    corners = np.array(bounds, dtype=np.float64).reshape(-1, 2, 3)
    return corners[:, 0], corners[:, 1]


def _of_bricks(bricks: BrickShells | None) -> list[str]:
    """Say how many bricks were known for what they are, and where their hollows are in doubt."""
    if bricks is None or not bricks.bricks:
        return []
    said = [f"{bricks.bricks} bricks on the grid, {bricks.hollow_bricks} of them hollow below: drawn full"]
    for long, wide in bricks.doubtful:
        said.append(
            f"a hollow shell of {long} × {wide} studs has no tubes inside: taken for a brick; if it is a lid"
            " over a room, close it to a body of one piece"
        )
    return said


def _with_bricks(pieces: list[SceneObject], chosen: list[int], bricks: BrickShells) -> list[SceneObject]:
    """Return the pieces that were gathered with their points moved onto the grid, each brick an object."""
    result = list(pieces)
    points = np.cumsum([len(pieces[number].points) for number in chosen])[:-1]
    faces = np.cumsum([len(pieces[number].faces) for number in chosen])[:-1]
    parts = zip(chosen, np.split(bricks.points, points), np.split(bricks.brick, faces), strict=True)
    for number, own, brick in parts:
        _, numbered = np.unique(brick, return_inverse=True)
        numbered = numbered.reshape(-1) + (0 if (brick == 0).any() else 1)
        result[number] = replace(pieces[number], points=own, bricks=numbered.astype(np.int64))
    return result


def _fill_with(
    pieces: list[SceneObject],
    chosen: list[int],
    frame: Frame,
    options: MeshOptions,
    tell: Progress,
    bricks: BrickShells | None,
) -> Filled:
    """Draw the pieces, tell their shells apart, and fill."""
    points, faces, objects = gathered(pieces, chosen)
    surface = draw_surface(points, faces, frame, tell)
    tell("shells", 0.0)
    shells = shells_of(points, faces, objects)
    tell("inside", 0.0)
    return fill(
        surface,
        shells,
        gap=options.gap or GAP,
        closed=options.closed,
        least_mm3=options.least_cavity,
        hollow=bricks.hollow if bricks is not None else None,
    )


def _uncertain(filled: Filled, cut: Cut, block: StateBlock, exact: NDArray[np.bool_]) -> bool:
    """Tell whether some voxel beside a cavity is taken only in part, so that the cavity may be wider.

    Studs and level faces that are drawn as what they are do not count, nor does what is built in.
    """
    partly = (cut.block(filled.touched) & ~exact & (block.codes >= FIXED)) | (block.codes == KEEP_CLEAR)
    return bool((grown(block.codes == FREE) & partly).any())


def _within_hull(vehicle: Vehicle) -> Vehicle:
    """Return a vehicle as high as its body, once true levels are known, with no roof or gap beyond that."""
    solids = [entry.solid for entry in vehicle.body]
    solids += [solid for built in vehicle.built_in for solid in built.solids]
    top = bounds_of(tuple(solids)).high[2]

    def cut(box: Box) -> Box:
        low, high = (min(end[2], top) for end in (box.low, box.high))
        return Box((box.low[0], box.low[1], low), (box.high[0], box.high[1], high))

    return replace(
        vehicle,
        top=top,
        openings=tuple(replace(o, box=cut(o.box)) for o in vehicle.openings),
        windows=tuple(replace(w, box=cut(w.box)) for w in vehicle.windows if w.box.low[2] < top),
        ports=tuple(replace(p, box=cut(p.box)) for p in vehicle.ports if p.box.low[2] < top),
    )


def _vehicle(
    path: Path, block: StateBlock, body: LayeredBody, options: MeshOptions, gear: tuple[GearPiece, ...]
) -> Vehicle:
    drawn = body.drawn
    bounds = bounds_of(tuple(entry.solid for entry in drawn))
    pitch = block.frame.pitch
    studs_long, studs_wide = (round(block.frame.shape[axis] * pitch / STUD) for axis in (0, 1))
    length = studs_long * STUD
    solid = block.codes >= FIXED
    center = block.frame.centers(np.argwhere(solid)).mean(axis=0) if solid.any() else np.array(bounds.center)
    gaps = propose_gaps(block)
    return Vehicle(
        name=options.name or short_name(path.stem.replace("-", " ").replace("_", " ")),
        kind=options.kind,
        studs_long=studs_long,
        studs_wide=studs_wide,
        base=bounds.low[2],
        top=bounds.high[2],
        floor_finish="smooth",
        body=drawn,
        layers=body.layers,
        removables=tuple(Removable(name, 1.0) for name in block.names),
        openings=propose_openings(block),
        windows=gaps.windows,
        ports=gaps.ports,
        couplings=() if options.kind == "road" else couplings_of(gear, length, bounds.low[2] + PLATE),
        wheels=wheels_of(gear, length),
        built_in=(),
        mass_g=float(max(1.0, round(float(solid.sum()) * pitch**3 * BRICK_G_MM3))),
        mass_center=tuple(round(float(c), 1) for c in center),  # type: ignore[arg-type]
        characters=tuple((character, f"{state} {name}".strip()) for character, (state, name) in body.legend),
    )  # fmt: skip
