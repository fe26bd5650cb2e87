"""Brick-built vehicles as a drawing program exports them, with what is true of them.

Bricks are hollow and open below (walls 1.5 mm, tubes, studs) and stand 0.1 mm back from the grid on each
side; each is an object, or all are one. What is a room, and what is brick or a hollow of brick, is known by
how the vehicle was built. Sizes of bricks are common practice, no source.
"""

from __future__ import annotations

import io
import itertools
import random
import zipfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np
import trimesh
from numpy.typing import NDArray
from trimesh.creation import annulus, cylinder

PLAY, WALL, ROOF = 0.1, 1.5, 1.2
SECTIONS = 16
COLOURS = ((180, 40, 40), (230, 200, 60), (60, 90, 150), (90, 90, 95), (220, 220, 215))
UNITS = {"mm": 1.0, "cm": 0.1, "m": 0.001, "inch": 1 / 25.4}
UPS = {
    "+z": np.eye(3),
    "+y": np.array([[1, 0, 0], [0, 0, 1], [0, -1, 0]]),
    "+x": np.array([[0, 0, 1], [1, 0, 0], [0, 1, 0]]),
}
"""Turnings (``turn @ point``) that bring the vehicle's up to this axis of the file."""

HEAD = '<?xml version="1.0" encoding="UTF-8"?>'
CORE = "http://schemas.microsoft.com/3dmanufacturing/core/2015/02"
_PACKAGE = "http://schemas.openxmlformats.org/package/2006"
_MODEL = "application/vnd.ms-package.3dmanufacturing-3dmodel+xml"
TYPES = (
    f'<Types xmlns="{_PACKAGE}/content-types">'
    f'<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
    f'<Default Extension="model" ContentType="{_MODEL}"/></Types>'
)
RELATIONS = (
    f'<Relationships xmlns="{_PACKAGE}/relationships"><Relationship Target="/3D/3dmodel.model" Id="r0" '
    f'Type="http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"/></Relationships>'
)


@dataclass(frozen=True)
class Brick:
    """A brick by its corner (studs, studs, plates) and size (studs, studs, plates)."""

    x: int
    y: int
    z: int
    long: int
    wide: int
    plates: int = 3
    smooth: bool = False
    name: str = ""
    colour: int = 0
    slope: str = ""
    """The side to which a slope falls: +x, -x, +y or -y."""


@dataclass(frozen=True)
class Thing:
    """Something that is no brick: a wheel, a coupler, a figure, a motor."""

    name: str
    mesh: trimesh.Trimesh
    colour: int = 3


@dataclass
class Model:
    """A vehicle of bricks, and its truth: rooms and open rooms as boxes in studs and plates."""

    name: str
    bricks: list[Brick] = field(default_factory=list)
    things: list[Thing] = field(default_factory=list)
    rooms: list[tuple[float, float, float, float, float, float]] = field(default_factory=list)
    """Rooms from corner to corner (studs, studs, plates); room over an open deck among them."""
    floors: int = 0
    """Level of the floor's top in plates, where studs stand in the rooms."""
    axles: tuple[float, ...] = ()
    """Where axles are, in mm."""
    removable: str = ""

    def add(self, *at: int, **more: object) -> None:
        """Add a brick."""
        self.bricks.append(Brick(*at, **more))  # type: ignore[arg-type]

    @property
    def size(self) -> tuple[int, int]:
        """Footprint of the bricks in studs."""
        low = [min(getattr(b, k) for b in self.bricks) for k in ("x", "y")]
        long = max(b.x + b.long for b in self.bricks) - low[0]
        wide = max(b.y + b.wide for b in self.bricks) - low[1]
        return long, wide

    def solids(self) -> list[tuple[NDArray[np.float64], NDArray[np.float64]]]:
        """Return every brick as the full box that it takes up on the grid, in mm."""
        found = []
        for b in self.bricks:
            low = np.array([b.x * 8.0, b.y * 8.0, b.z * 3.2])
            found.append((low, low + np.array([b.long * 8.0, b.wide * 8.0, b.plates * 3.2])))
        return found


def hollow_box(low: tuple[float, float, float], high: tuple[float, float, float]) -> trimesh.Trimesh:
    """A box open below, with walls and a roof: one closed surface."""
    (x0, y0, z0), (x1, y1, z1) = low, high
    outer = [(x, y, z) for z in (z0, z1) for x, y in ((x0, y0), (x1, y0), (x1, y1), (x0, y1))]
    a0, b0, a1, b1, c1 = x0 + WALL, y0 + WALL, x1 - WALL, y1 - WALL, z1 - ROOF
    inner = [(x, y, z) for z in (z0, c1) for x, y in ((a0, b0), (a1, b0), (a1, b1), (a0, b1))]
    quads = [(4, 5, 6, 7), (15, 14, 13, 12)]
    for i in range(4):
        j = (i + 1) % 4
        quads += [(i, j, 4 + j, 4 + i), (8 + j, 8 + i, 12 + i, 12 + j), (j, i, 8 + i, 8 + j)]
    faces = [(q[0], q[1], q[2]) for q in quads] + [(q[0], q[2], q[3]) for q in quads]
    # The inner ceiling looks down.
    return trimesh.Trimesh(np.array(outer + inner), np.array(faces), process=False)


def prism(b: Brick) -> trimesh.Trimesh:
    """A slope: full at its base, falling to nothing on one side, with a lip of a plate."""
    x0, y0, z0 = b.x * 8 + PLAY, b.y * 8 + PLAY, b.z * 3.2
    x1, y1, z1 = (b.x + b.long) * 8 - PLAY, (b.y + b.wide) * 8 - PLAY, (b.z + b.plates) * 3.2
    lip = z0 + 1.5
    top = {
        "+x": (z1, lip, lip, z1),
        "-x": (lip, z1, z1, lip),
        "+y": (z1, z1, lip, lip),
        "-y": (lip, lip, z1, z1),
    }[b.slope]
    corners = [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]
    points = [(x, y, z0) for x, y in corners] + [(x, y, z) for (x, y), z in zip(corners, top, strict=True)]
    quads = [(3, 2, 1, 0), (4, 5, 6, 7)] + [(i, (i + 1) % 4, 4 + (i + 1) % 4, 4 + i) for i in range(4)]
    faces = [(q[0], q[1], q[2]) for q in quads] + [(q[0], q[2], q[3]) for q in quads]
    return trimesh.Trimesh(np.array(points, dtype=float), np.array(faces), process=False)


def brick_mesh(b: Brick) -> trimesh.Trimesh:
    """A brick with studs, and with tubes (two and more wide) or pins (one wide) inside."""
    if b.slope:
        return prism(b)
    low = (b.x * 8 + PLAY, b.y * 8 + PLAY, b.z * 3.2)
    high = ((b.x + b.long) * 8 - PLAY, (b.y + b.wide) * 8 - PLAY, (b.z + b.plates) * 3.2)
    found = [hollow_box(low, high)]
    tall = b.plates * 3.2 - ROOF
    if b.long > 1 and b.wide > 1:
        for i, j in itertools.product(range(1, b.long), range(1, b.wide)):
            tube = annulus(2.4, 3.25, tall, sections=SECTIONS)
            tube.apply_translation(((b.x + i) * 8, (b.y + j) * 8, b.z * 3.2 + tall / 2))
            found.append(tube)
    elif b.long > 1 or b.wide > 1:
        for i in range(1, max(b.long, b.wide)):
            pin = cylinder(1.6, tall, sections=SECTIONS)
            x, y = (b.x + i, b.y + 0.5) if b.long > 1 else (b.x + 0.5, b.y + i)
            pin.apply_translation((x * 8, y * 8, b.z * 3.2 + tall / 2))
            found.append(pin)
    if not b.smooth:
        for i, j in itertools.product(range(b.long), range(b.wide)):
            stud = cylinder(2.4, 1.7, sections=SECTIONS)
            stud.apply_translation(((b.x + i + 0.5) * 8, (b.y + j + 0.5) * 8, high[2] + 0.85))
            found.append(stud)
    return trimesh.util.concatenate(found)


def wheel(x: float, y: float, z: float, radius: float = 8.5, width: float = 6.0) -> trimesh.Trimesh:
    """A wheel on an axle across the vehicle, in mm."""
    disc = cylinder(radius, width, sections=24)
    disc.apply_transform(trimesh.transformations.rotation_matrix(np.pi / 2, (1, 0, 0)))
    disc.apply_translation((x, y, z))
    return disc


# -- how vehicles are built -------------------------------------------------------------------------------


def course(model: Model, z: int, x0: int, y0: int, x1: int, y1: int, most: int, **more: object) -> None:
    """Add a row of bricks one wide round a rectangle, at most so many studs long."""
    for y in (y0, y1 - 1):
        for x in range(x0, x1, most):
            model.add(x, y, z, min(most, x1 - x), 1, **more)
    for x in (x0, x1 - 1):
        for y in range(y0 + 1, y1 - 1, most):
            model.add(x, y, z, 1, min(most, y1 - 1 - y), **more)


def deck(model: Model, z: int, long: int, wide: int, piece: tuple[int, int] = (4, 2), **more: object) -> None:
    """Add a floor or a roof of plates."""
    for x, y in itertools.product(range(0, long, piece[0]), range(0, wide, piece[1])):
        model.add(x, y, z, min(piece[0], long - x), min(piece[1], wide - y), plates=1, **more)


def cut(model: Model, x0: int, y0: int, z0: int, x1: int, y1: int, z1: int) -> None:
    """Take out what lies in a box (studs, studs, plates); bricks of a wall are cut to what is left."""
    left: list[Brick] = []
    for b in model.bricks:
        apart = (
            b.x >= x1
            or b.x + b.long <= x0
            or b.y >= y1
            or b.y + b.wide <= y0
            or b.z >= z1
            or b.z + b.plates <= z0
        )
        if apart:
            left.append(b)
            continue
        if b.x < x0:
            left.append(replace(b, long=x0 - b.x))
        if b.x + b.long > x1:
            left.append(replace(b, x=x1, long=b.x + b.long - x1))
        if b.long == 1 and b.y < y0:
            left.append(replace(b, wide=y0 - b.y))
        if b.long == 1 and b.y + b.wide > y1:
            left.append(replace(b, y=y1, wide=b.y + b.wide - y1))
    model.bricks = left


def van(long: int = 16, wide: int = 6, courses: int = 3, most: int = 4, smooth: bool = False) -> Model:
    """A closed van: floor, walls with a window at the front and two at the sides, roof."""
    model = Model(f"van {long} × {wide}")
    deck(model, 0, long, wide, smooth=smooth)
    for k in range(courses):
        course(model, 1 + 3 * k, 0, 0, long, wide, most, colour=k % 2)
    cut(model, long - 1, 2, 4, long, wide - 2, 7)
    cut(model, 4, wide - 1, 4, 6, wide, 7)
    deck(model, 1 + 3 * courses, long, wide, colour=2)
    model.rooms.append((1, 1, 1, long - 1, wide - 1, 1 + 3 * courses))
    model.floors = 1
    return model


def open_wagon(long: int = 14, wide: int = 6, courses: int = 2, most: int = 4) -> Model:
    """A deck with sides and no roof."""
    model = Model(f"open wagon {long} × {wide}")
    deck(model, 0, long, wide)
    for k in range(courses):
        course(model, 1 + 3 * k, 0, 0, long, wide, most, colour=3)
    model.rooms.append((1, 1, 1, long - 1, wide - 1, 1 + 3 * courses))
    model.floors = 1
    return model


def tank_engine(long: int = 18, wide: int = 6) -> Model:
    """A cab with an open back window behind a low hood, on a chassis of hollow bricks."""
    model = Model(f"tank engine {long} × {wide}")
    for x in range(0, long, 2):
        model.add(x, 1, 0, 2, wide - 2, plates=3)
    deck(model, 3, long, wide)
    for k in range(2):
        course(model, 4 + 3 * k, 6, 0, long, wide, 6, colour=1)
    for k in range(4):
        course(model, 4 + 3 * k, 0, 0, 6, wide, 4, colour=2)
    cut(model, 0, 2, 10, 1, wide - 2, 13)
    for x in range(6, long, 4):
        model.add(x, 0, 10, min(4, long - x), wide, plates=1, colour=1)
    deck(model, 16, 6, wide, piece=(6, 2))
    model.rooms.append((7, 1, 4, long - 1, wide - 1, 10))
    model.rooms.append((1, 1, 4, 5, wide - 1, 16))
    model.floors = 4
    return model


def cab(long: int = 12, wide: int = 8) -> Model:
    """A cab with a doorway on each side and a windscreen."""
    model = Model(f"cab {long} × {wide}")
    deck(model, 0, long, wide, piece=(6, 2))
    for k in range(4):
        course(model, 1 + 3 * k, 0, 0, long, wide, 4, colour=4)
    cut(model, 5, 0, 1, 7, 1, 10)
    cut(model, 5, wide - 1, 1, 7, wide, 10)
    cut(model, long - 1, 2, 7, long, wide - 2, 10)
    deck(model, 13, long, wide, piece=(6, 4), smooth=True)
    model.rooms.append((1, 1, 1, long - 1, wide - 1, 13))
    model.floors = 1
    return model


def sloped(long: int = 16, wide: int = 6) -> Model:
    """A van whose front falls away in slopes, with a level roof behind."""
    model = van(long, wide, 3)
    model.name = f"slopes {long} × {wide}"
    for y in range(0, wide, 2):
        model.add(long, y, 1, 2, 2, plates=3, slope="+x", colour=2)
        model.add(long, y, 0, 2, 2, plates=1)
    return model


def double_deck(long: int = 16, wide: int = 8) -> Model:
    """Two rooms above one another."""
    model = Model(f"double deck {long} × {wide}")
    deck(model, 0, long, wide)
    for k in range(3):
        course(model, 1 + 3 * k, 0, 0, long, wide, 4)
    deck(model, 10, long, wide, colour=1)
    for k in range(3):
        course(model, 11 + 3 * k, 0, 0, long, wide, 8, colour=1)
    cut(model, long - 1, 3, 4, long, wide - 3, 7)
    cut(model, long - 1, 3, 14, long, wide - 3, 17)
    deck(model, 20, long, wide, colour=2)
    model.rooms += [(1, 1, 1, long - 1, wide - 1, 10), (1, 1, 11, long - 1, wide - 1, 20)]
    return model


def wheel_wells(long: int = 18, wide: int = 6) -> Model:
    """A van on a frame with wells for wheels below its floor, open to the sides and below."""
    model = Model(f"wheel wells {long} × {wide}")
    for x in (0, 8, long - 2):
        model.add(x, 0, 0, 2, wide, plates=3, colour=3)
    deck(model, 3, long, wide)
    for k in range(3):
        course(model, 4 + 3 * k, 0, 0, long, wide, 6)
    deck(model, 13, long, wide)
    model.rooms.append((1, 1, 4, long - 1, wide - 1, 13))
    model.floors = 4
    return model


def with_wheels(model: Model, radius: float = 8.5, named: bool = True) -> Model:
    """Put four wheels and two couplers below and before a model; bricks move up."""
    long, wide = model.size
    lift = 4
    model.bricks = [replace(b, z=b.z + lift) for b in model.bricks]
    model.rooms = [(a, b, c + lift, d, e, f + lift) for a, b, c, d, e, f in model.rooms]
    model.floors += lift
    model.axles = (24.0, long * 8.0 - 24.0)
    for x, y in itertools.product(model.axles, (6.0, wide * 8.0 - 6.0)):
        model.things.append(Thing("wheel" if named else "", wheel(x, y, radius, radius)))
    for x in (-6.0, long * 8.0 + 6.0):
        hook = trimesh.creation.box((14.0, 6.0, 5.0))
        hook.apply_translation((x, wide * 4.0, 9.0))
        model.things.append(Thing("coupling" if named else "coupler", hook))
    model.name += " on wheels"
    return model


def with_figure(model: Model) -> Model:
    """Set a figure into the first room."""
    x0, y0, z0, *_ = model.rooms[0]
    figure = cylinder(4.0, 20.0, sections=SECTIONS)
    figure.apply_translation((x0 * 8 + 8, y0 * 8 + 8, z0 * 3.2 + 10.0))
    model.things.append(Thing("figure: driver", figure))
    model.name += " with a figure"
    return model


def with_motor(model: Model) -> Model:
    """Build a motor block of two materials into the first room."""
    x0, y0, z0, *_ = model.rooms[0]
    block = trimesh.creation.box((32.0, 16.0, 9.6))
    block.apply_translation((x0 * 8 + 16, y0 * 8 + 8, z0 * 3.2 + 4.8))
    model.things.append(Thing("built in: motor", block))
    model.name += " with a motor"
    return model


def with_loose_wall(model: Model) -> Model:
    """Make one side of the upper course removable: several bricks of two colours, one object."""
    wide = model.size[1]
    mine = [
        b
        for b in model.bricks
        if b.y == wide - 1 and b.wide == 1 and b.z == model.floors + 3 and b.plates == 3
    ]
    model.bricks = [replace(b, name="removable: side") if b in mine else b for b in model.bricks]
    model.removable = "side" if mine else ""
    model.name += " with a loose side"
    return model


def models() -> tuple[Callable[[], Model], ...]:
    """Return thirty vehicles."""
    return (
        van, lambda: van(20, 8, 4), lambda: van(12, 6, 2, 8), lambda: van(24, 6, 3, 12, True), lambda: van(18,
        7, 3, 2), open_wagon, lambda: open_wagon(20, 8, 1), lambda: open_wagon(10, 6, 3, 2), lambda:
        open_wagon(16, 6, 2, 8), tank_engine, lambda: tank_engine(22, 8), lambda: tank_engine(16, 6), cab,
        lambda: cab(10, 6), lambda: cab(14, 8), sloped, lambda: sloped(20, 8), double_deck, lambda:
        double_deck(20, 6), wheel_wells, lambda: wheel_wells(22, 8), lambda: with_wheels(van()), lambda:
        with_wheels(open_wagon(16, 6), 10.0, False), lambda: with_wheels(cab()), lambda: with_figure(cab()),
        lambda: with_figure(open_wagon()), lambda: with_motor(van()), lambda: with_motor(tank_engine(20, 8)),
        lambda: with_loose_wall(van(16, 6, 3)), lambda: with_loose_wall(cab(16, 8)),
    )  # fmt: skip


# -- how they are exported ---------------------------------------------------------------------------------


@dataclass(frozen=True)
class Export:
    """How a drawing program writes a model."""

    ending: str = ".glb"
    one: bool = False
    unit: str = "mm"
    up: str = "+z"
    mirrored: bool = False
    coloured: bool = True


def exports(seed: int, count: int) -> Iterator[Export]:
    """Yield ways to export, each ending, unit and up again and again."""
    draw = random.Random(seed)
    for number in range(count):
        ending = (".glb", ".obj", ".stl", ".ply", ".3mf")[number % 5]
        one = ending in (".stl", ".ply") or draw.random() < 0.3
        unit = draw.choice(list(UNITS)) if ending != ".3mf" else draw.choice(["mm", "cm"])
        yield Export(ending, one, unit, draw.choice(list(UPS)), draw.random() < 0.3, draw.random() < 0.5)


def pieces_of(model: Model) -> list[tuple[str, int, trimesh.Trimesh]]:
    """Return name, colour and mesh of each object; bricks of one name are one object."""
    named: dict[str, list[trimesh.Trimesh]] = {}
    found: list[tuple[str, int, trimesh.Trimesh]] = []
    for number, b in enumerate(model.bricks):
        if b.name:
            named.setdefault(b.name, []).append(brick_mesh(b))
        else:
            found.append((f"brick {number}", b.colour, brick_mesh(b)))
    found += [(name, 1, trimesh.util.concatenate(meshes)) for name, meshes in named.items()]
    found += [
        (f"{t.name}{'' if ':' in t.name else f' {n}'}".strip(), t.colour, t.mesh.copy())
        for n, t in enumerate(model.things)
    ]
    return found


def write(model: Model, export: Export, folder: Path) -> Path:
    """Write a model as a mesh file and return its path."""
    path = folder / f"model{export.ending}"
    turn = np.eye(4)
    turn[:3, :3] = (
        UPS[export.up] @ (np.diag([1, -1, 1]) if export.mirrored else np.eye(3)) * UNITS[export.unit]
    )
    turn[:3, 3] = np.array([3.7, -11.3, 5.9]) * UNITS[export.unit]
    scene = trimesh.Scene()
    whole = []
    for name, colour, mesh in pieces_of(model):
        mesh.apply_transform(turn)
        if export.coloured:
            mesh.visual.vertex_colors = (*COLOURS[colour], 255)
        whole.append(mesh)
        scene.add_geometry(mesh, node_name=name, geom_name=name)
    if export.one:
        merged = trimesh.util.concatenate(whole)
        if export.ending == ".3mf":
            path.write_bytes(_three_mf([("model", merged)], export.unit))
        else:
            merged.export(path)
    elif export.ending == ".3mf":
        path.write_bytes(
            _three_mf([(n, m) for (n, _, _), m in zip(pieces_of(model), whole, strict=True)], export.unit)
        )
    else:
        scene.export(path)
    return path


def _three_mf(meshes: list[tuple[str, trimesh.Trimesh]], unit: str) -> bytes:
    """Write a 3MF core archive by hand: objects by name, and the unit that it declares."""
    words = {"mm": "millimeter", "cm": "centimeter", "m": "meter", "inch": "inch"}
    out = [
        HEAD,
        f'<model unit="{words[unit]}" xmlns="{CORE}"><resources>',
    ]
    for number, (name, mesh) in enumerate(meshes, 1):
        out.append(f'<object id="{number}" name="{name}" type="model"><mesh><vertices>')
        out += [f'<vertex x="{x:.6g}" y="{y:.6g}" z="{z:.6g}"/>' for x, y, z in mesh.vertices.tolist()]
        out.append("</vertices><triangles>")
        out += [f'<triangle v1="{a}" v2="{b}" v3="{c}"/>' for a, b, c in mesh.faces.tolist()]
        out.append("</triangles></mesh></object>")
    items = "".join(f'<item objectid="{n}"/>' for n in range(1, len(meshes) + 1))
    out.append(f"</resources><build>{items}</build></model>")
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("[Content_Types].xml", HEAD + TYPES)
        archive.writestr("_rels/.rels", HEAD + RELATIONS)
        archive.writestr("3D/3dmodel.model", "\n".join(out))
    return stream.getvalue()
