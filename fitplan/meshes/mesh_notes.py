"""What may be said about a mesh, and what is said of what came of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from fitplan.lattice.clear import label_spaces, largest_box
from fitplan.meshes.blocks import FREE, MOST_SOLIDS, LayeredBody, StateBlock
from fitplan.meshes.fill import Filled
from fitplan.meshes.interior import mouths_of
from fitplan.meshes.mesh_studs import StudCount
from fitplan.meshes.scale import Fitting
from fitplan.meshes.scene_in import Scene
from fitplan.model.solids import PLACE_WORDS, Box, Cylinder, Direction
from fitplan.model.vehicle import Kind
from fitplan.units import PITCH, in_studs


@dataclass(frozen=True)
class MeshOptions:
    """What the user may say about a mesh.

    Attributes
    ----------
    units
        ``mm``, ``cm``, ``m``, ``inch``, ``stud`` …; empty: found by the grid.
    up, front
        Which way of the file points up and to the front; None: found out.
    gap
        Gaps up to this width (mm) count as closed; 0: `fill.GAP`.
    closed
        Sides of the model that count as closed, such as ``+z`` for an open wagon.
    base
        Height in mm of the mesh's lowest point above the rail head (or the road); None: found out.
    least_cavity
        Smaller clear spaces in mm³ are left out.
    removable
        Object names or colours (``#rrggbb``) and the name of the removable brick that they stand for, beside
        objects named ``removable: NAME`` and ``keep-clear``.
    objects
        What objects of the file are, by name: ``wheel``, ``coupling``, ``apart`` or ``body``.
    most_voxels
        A mesh that needs more is refused.
    """

    name: str = ""
    kind: Kind = "loco"
    units: str = ""
    up: Direction | None = None
    front: Direction | None = None
    pitch: float = PITCH
    gap: float = 0.0
    closed: tuple[Direction, ...] = ()
    base: float | None = None
    least_cavity: float = 1000.0
    removable: Mapping[str, str] = field(default_factory=dict)
    objects: Mapping[str, Literal["wheel", "coupling", "apart", "body"]] = field(default_factory=dict)
    most_voxels: int = 40_000_000


@dataclass(frozen=True)
class CavitySize:
    """A clear space inside: its volume surely and at most (mm³) and the largest box in it."""

    volume_mm3: float
    largest: Box


def sizes_of(block: StateBlock) -> tuple[CavitySize, ...]:
    """Return the sizes of the clear spaces inside, the largest first."""
    names, count = label_spaces(block.codes == FREE)
    voxel = block.frame.pitch**3
    found = []
    for number in range(1, count + 1):
        own = names == number
        box = largest_box(own)
        low = [o + n * block.frame.pitch for o, n in zip(block.frame.origin, box[:3], strict=True)]
        high = [o + n * block.frame.pitch for o, n in zip(block.frame.origin, box[3:], strict=True)]
        largest = Box((low[0], low[1], low[2]), (high[0], high[1], high[2]))
        found.append(CavitySize(float(own.sum()) * voxel, largest))
    return tuple(sorted(found, key=lambda size: -size.volume_mm3))


def notes_of(
    scene: Scene,
    fitting: Fitting,
    filled: Filled,
    block: StateBlock,
    body: LayeredBody,
    studs: StudCount,
    cavities: tuple[CavitySize, ...],
    options: MeshOptions,
    rounded: float,
) -> tuple[str, ...]:
    """Return sentences for the user: what was found, taken and left out."""
    pitch = block.frame.pitch
    notes = [f"drawn from a mesh of {scene.face_count} triangles in {len(scene.pieces)} objects"]
    notes += [*scene.notes, *fitting.said]
    least, most = filled.solid_bounds_mm3()
    notes.append(
        f"solid: between {least / 1000:.1f} and {most / 1000:.1f} cm³;"
        f" solids are rounded outwards to {pitch:g} mm"
    )
    notes += [_shells(filled), _gap(filled, options)]
    if options.closed:
        notes.append("taken as closed: " + ", ".join(options.closed))
    if rounded:
        notes.append(f"the hollow may be up to {pitch:g} mm wider on each side than it is drawn")
    if filled.sheets:
        notes.append(f"surfaces without thickness were drawn {pitch:g} mm thick ({filled.sheets} voxels)")
    if filled.filled:
        notes.append(
            f"{filled.filled} closed spaces smaller than {options.least_cavity / 1000:g} cm³"
            f" ({filled.filled_mm3 / 1000:.1f} cm³ together) count as solid"
        )
    rounds = sum(isinstance(entry.solid, Cylinder) for entry in body.solids) - studs.drawn
    if rounds:
        notes.append(f"{rounds} round walls along an axis were recognised and drawn as cylinders")
    if studs.inside and studs.drawn < studs.inside:
        notes.append(f"floor: each of its {studs.floor_cells} cells has a stud, so the floor is studded")
    elif studs.inside:
        notes.append(
            f"floor: {studs.inside} studs on {studs.floor_cells} floor cells, so they are drawn one by one"
        )
    if studs.outside:
        notes.append(f"{studs.outside} studs on outer faces are left out: nothing is put there")
    for number, cavity in enumerate(cavities, 1):
        x, y, z = cavity.largest.size
        notes.append(
            f"cavity {number}: at least {cavity.volume_mm3 / 1000:.1f} cm³; largest box {in_studs(x)} long,"
            f" {in_studs(y)} wide, {z:.1f} mm high"
        )
    if not cavities:
        notes.append("no cavity was found: the model is solid, or open (try closed sides, or a greater gap)")
    if len(body.solids) > MOST_SOLIDS:
        notes.append(f"the body is {len(body.solids)} boxes, which go into a file beside the vehicle file")
    notes.append("openings, windows and ports are proposals: confirm or correct them")
    notes.append("wheels, couplings and mass are guesses: measure yours")
    return tuple(notes)


def _shells(filled: Filled) -> str:
    """Say how it was decided what is solid."""
    count, torn = filled.shells, filled.torn
    if not torn:
        return f"what is solid is decided shell by shell: all {count} are closed" if count > 1 else (
            "what is solid is decided by one closed shell"
        )  # fmt: skip
    return (
        f"{torn} of {count} shells have holes or loose edges: holes are closed over their rims; what bulges"
        " over one is not known, and what loose faces hold is decided by most of six lines of sight"
    )


def _gap(filled: Filled, options: MeshOptions) -> str:
    """Say which gaps count as closed, and which of them there were."""
    taken = f"gaps up to {filled.gap:g} mm count as closed" + (
        "" if options.gap else " (four studs, the widest door or windscreen; name a gap if that is wrong)"
    )
    mouths = mouths_of(filled.cavity, filled.solid, filled.frame)
    if not mouths:
        return f"{taken}; there was none to close"
    side = PLACE_WORDS[mouths[0].out]
    return f"{taken}; the widest of {len(mouths)} is {mouths[0].width:.1f} mm, {side}"
