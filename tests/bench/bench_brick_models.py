"""Vehicles exported brick by brick in every way: shares converted, brick claimed clear, room missed.

``python -m tests.bench.bench_brick_models [COUNT]`` takes COUNT of the 14,400 exports (30 vehicles in five
formats, four units, up three ways, as one object and as many, mirrored, coloured), spread evenly over them;
120 when not given. ``... pairs [FIRST STEP]`` takes so many that every vehicle meets every format, unit,
way up and so on, and each of these every other, at least once. Exports of one vehicle that tell the same
must give the same vehicle file, byte for byte. ``... plans [FIRST [LAST]]`` checks and plans the 30
vehicles, each with a controller. ``... large`` measures 2,000 bricks, beside trimesh's own loader and
voxeliser.
"""

from __future__ import annotations

import itertools
import random
import resource
import subprocess
import sys
import tempfile
from collections import Counter, defaultdict
from collections.abc import Iterator
from dataclasses import asdict
from pathlib import Path
from statistics import median
from time import process_time

import trimesh

from fitplan import plan_train, read_train, verdict
from fitplan.meshes.from_mesh import MeshVehicle
from fitplan.model.part import Part
from fitplan.model.plan import Plan
from fitplan.model.solids import Box
from fitplan.model.vehicle import Vehicle
from fitplan.units import PLATE, STUD
from tests.meshes.brick_models import UNITS, UPS, Export, Model, exports, models, van, write
from tests.meshes.test_brick_models import compare, convert

ENDINGS = (".glb", ".obj", ".stl", ".ply", ".3mf")
SOUPS = (".stl", ".ply")
NEAR = 0.1
"""Lengths in mm that differ by no more are the same."""
TRAIN = """train: One vehicle with a controller
vehicles:
  - {name: wagon, file: vehicle.yaml}
needs:
  - name: brain
    choose: {family: controller, parts: [controller-stamp-5v, controller-compact-5v]}
  - {name: cells, choose: {family: cells, parts: [cells-aaa-4-stack, cells-aaa-4], volts: 6}}
  - {name: switch, part: switch-slide-small}
nets:
  - {name: ground, role: ground, joins: [cells.minus, brain.GND]}
  - {name: cells plus, role: supply, joins: [cells.plus, switch.a]}
  - {name: switched, role: supply, joins: [switch.b, brain.raw]}
track: {radius: 40 studs, gradient: 1, gauge: 38}
running: {speed: 200, deceleration: 600, reading interval: 0.05, command delay: 0.15, hours: 1}
wiring: {signal wire: wire-awg28, power wire: wire-awg26}
"""


def all_exports() -> Iterator[tuple[int, Export]]:
    """Yield every model's number with every way to export it that its format knows."""
    flags = (False, True)
    for ending, unit, up, one, mirrored, coloured in itertools.product(
        ENDINGS, UNITS, UPS, flags, flags, flags
    ):
        for number in range(len(models())):
            # Triangles alone are one object; STL and the core of 3MF know no colours.
            bare = ending in (".stl", ".3mf")
            yield number, Export(ending, one or ending in SOUPS, unit, up, mirrored, coloured and not bare)


def pairs() -> list[tuple[int, Export]]:
    """Return few exports in which each two values that can go together do, drawn greedily."""
    left = {pair for export in set(all_exports()) for pair in _pairs(*export)}
    draw = random.Random(1)
    every = sorted(set(all_exports()), key=lambda entry: (entry[0], str(entry[1])))
    chosen = []
    while left:
        best = max(draw.sample(every, 400), key=lambda entry: len(left & _pairs(*entry)))
        if met := left & _pairs(*best):
            chosen.append(best)
            left -= met
    return chosen


def _pairs(number: int, export: Export) -> set[tuple[tuple[str, object], ...]]:
    values = {"vehicle": number, **asdict(export)}
    return set(itertools.combinations(values.items(), 2))


def corrections(model: Model, export: Export, made: MeshVehicle, vehicle: Vehicle) -> list[str]:
    """Return what a person would have to correct, masses left out."""
    found = []
    if (vehicle.studs_long, vehicle.studs_wide) != model.size:
        found.append("footprint")
    closed = [room for room in made.cavities if vehicle.top - room.largest.high[2] > 0.1]
    if closed and not vehicle.openings and not model.name.startswith("open wagon"):
        found.append("openings")
    if model.axles:
        found += _running_gear(model, vehicle)
    if model.removable and not export.one and [r.name for r in vehicle.removables] != [model.removable]:
        found.append("removable")
    motors = sum("motor" in thing.name for thing in model.things)
    if motors and not export.one and sum("motor" in b.name for b in vehicle.built_in) != motors:
        found.append("built in")
    # Studs that are drawn one by one need no hand.
    if (
        vehicle.floor_finish != "studded"
        and not made.studs.drawn
        and not all(b.smooth for b in model.bricks if b.z + b.plates == model.floors)
    ):
        found.append("floor finish")
    return found


def _running_gear(model: Model, vehicle: Vehicle) -> list[str]:
    """Return what is wrong of wheels, couplings and height, whichever end was taken for the front."""
    found = []
    wheel = next(thing.mesh for thing in model.things if thing.name in ("wheel", ""))
    hook = next(thing.mesh for thing in model.things if thing.name in ("coupling", "coupler"))
    long = vehicle.length
    turned = [sorted(at if way > 0 else long - at for at in vehicle.wheels.at) for way in (1, -1)]
    if not any(
        len(at) == len(model.axles) and max(abs(a - b) for a, b in zip(at, model.axles, strict=True)) < NEAR
        for at in turned
    ):
        found.append("axles")
    if abs(2 * vehicle.wheels.wheel_radius - float(wheel.extents[2])) > NEAR:
        found.append("wheels")
    height, out = float(hook.bounds[:, 2].mean()), -float(hook.bounds[0, 0])
    if any(abs(c.height - height) > NEAR or abs(c.length - out) > NEAR for c in vehicle.couplings):
        found.append("couplings")
    if abs(vehicle.base - min(brick.z for brick in model.bricks) * PLATE) > NEAR:
        found.append("height")
    return found


def spread(count: int) -> list[tuple[int, Export]]:
    """Return so many exports, spread evenly over all of them."""
    everything = list(all_exports())
    # A step without a common factor with the sizes of the loops, so that all values of each occur.
    return [everything[(k * 7919) % len(everything)] for k in range(count)]


def written_bytes(made: MeshVehicle) -> bytes:
    """Return what is written of a vehicle but the sentences on how it was read."""
    lines = made.text("vehicle.npz").split("\n")
    text = "\n".join(line for line in lines if not line.startswith("#"))
    return text.encode() + (made.sidecar_bytes() if made.sidecar else b"")


def table(chosen: list[tuple[int, Export]]) -> int:
    """Print the shares by format; return 1 when an aim is missed."""
    rows: dict[str, Counter[str]] = defaultdict(Counter)
    hand: Counter[str] = Counter()
    missed: dict[str, float] = defaultdict(float)
    spent: list[float] = []
    asked: Counter[str] = Counter()
    files: dict[tuple[int, bool, bool], set[bytes]] = defaultdict(set)
    met: Counter[tuple[int, bool, bool]] = Counter()
    with tempfile.TemporaryDirectory() as name:
        for number, export in chosen:
            row = rows[export.ending]
            row["tried"] += 1
            model = models()[number]()
            begun = process_time()
            try:
                made, vehicle = convert(model, export, Path(name))
            except Exception as error:
                print(f"{model.name}, {export}: {type(error).__name__}: {error}")
                continue
            row["converted"] += 1
            spent.append(process_time() - begun)
            # Units, the way up, colours and the format tell the same; names and the hand do not.
            kind = (number, export.one, export.mirrored)
            files[kind].add(written_bytes(made))
            met[kind] += 1
            asked["height above the rail, axles, couplings"] += made.height_guessed
            found = compare(model, vehicle)
            row["false"] += found.false_clear > 0
            missed[export.ending] = max(missed[export.ending], found.missed)
            wrong = corrections(model, export, made, vehicle)
            row["hand"] += bool(wrong)
            hand.update(wrong)
            if wrong or found.false_clear or found.missed > 0.01:
                print(f"{model.name}, {export}: {found} {', '.join(wrong)}", flush=True)
    print(f"{'format':8}{'tried':>7}{'converted':>11}{'brick clear':>13}{'most missed':>13}{'by hand':>9}")
    for ending, row in sorted(rows.items()):
        shares = f"{row['converted']:11}{row['false']:13}{missed[ending]:13.2%}{row['hand']:9}"
        print(f"{ending:8}{row['tried']:7}{shares}")
    print("to correct by hand:", dict(hand) or "nothing but masses")
    print("asked for, as no wheels are drawn:", dict(asked) or "nothing")
    several = [kind for kind, count in met.items() if count > 1]
    same = sum(len(files[kind]) == 1 for kind in several)
    print(f"the same bytes from other formats, units, ways up, colours: {same} of {len(several)} vehicles")
    distinct = len(set(all_exports()))
    print(f"{len(chosen)} exports, {len(chosen) / distinct:.1%} of the {distinct} that differ")
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"written, converted and read back: {median(spent):.2f} s CPU in the median, peak {peak:.0f} MB")
    total = sum(rows.values(), Counter())
    return int(
        total["converted"] < total["tried"]
        or total["false"] > 0
        or max(missed.values()) > 0.01
        or same < len(several)
    )


def plans(first: int = 0, last: int = 29) -> int:
    """Check and plan each vehicle with a controller; print the verdicts, held against how it was built."""
    said: Counter[str] = Counter()
    for number, (build, export) in enumerate(zip(models(), exports(7, len(models())), strict=True)):
        if not first <= number <= last:
            continue
        with tempfile.TemporaryDirectory() as name:
            model = build()
            convert(model, export, Path(name))
            path = Path(name) / "train.yaml"
            path.write_text(TRAIN, encoding="utf-8")
            checked = subprocess.run(
                [sys.executable, "-m", "fitplan", "check", str(path)], capture_output=True, check=False
            )
            plan = plan_train(read_train(path))
            true = _true(model, plan)
            said[f"check {checked.returncode}"] += 1
            said[true] += 1
            print(
                f"{number:2} {model.name:36} check {checked.returncode}   {true}   {verdict(plan)}",
                flush=True,
            )
    print(dict(said))
    return int(any("check" not in word and not word.startswith((PLACED, REFUSED)) for word in said))


PLACED, REFUSED = "in a true room", "refused, truly"


def _true(model: Model, plan: Plan) -> str:
    """Return whether the controller and its cells lie in the rooms that the model has, or cannot."""
    rooms = [
        Box((x0 * STUD, y0 * STUD, z0 * PLATE), (x1 * STUD, y1 * STUD, z1 * PLATE))
        for x0, y0, z0, x1, y1, z1 in model.rooms
    ]
    placed = {p.need: p for p in plan.built.placements if p.need in ("brain", "cells")}
    needs = [need for need in plan.built.train.needs if need.name in ("brain", "cells")]
    beyond = [need.name for need in needs if not any(_goes_in(part, rooms) for part in need.candidates)]
    if len(placed) < len(needs) and not beyond:
        return "refused, and it is not known why"
    if "brain" not in placed:
        return REFUSED
    vehicle = plan.built.train.vehicles[0].vehicle
    lowest = min(b.z for b in model.bricks) * PLATE
    solid = [(Box(tuple(low), tuple(high))) for low, high in model.solids()]
    solid += [Box(*(tuple(end) for end in thing.mesh.bounds)) for thing in model.things]
    for way, hand in itertools.product((False, True), repeat=2):
        boxes = [
            _turned(s.bounds, vehicle, way, hand, lowest - vehicle.base)
            for p in placed.values()
            for s in p.solids
        ]
        if not any(_overlap(box, brick) > NEAR for box in boxes for brick in solid):
            return PLACED if len(placed) == len(needs) else f"{PLACED}; {' and '.join(beyond)} {REFUSED}"
    return "within a brick"


def _goes_in(part: Part, rooms: list[Box]) -> bool:
    """Tell whether the box round a part goes into some room, turned in some way."""
    size = sorted(part.bounds.size)
    return any(all(a <= b for a, b in zip(size, sorted(room.size), strict=True)) for room in rooms)


def _turned(box: Box, vehicle: Vehicle, way: bool, hand: bool, up: float) -> Box:
    low, high = list(box.low), list(box.high)
    for axis, turned, whole in ((0, way, vehicle.length), (1, hand, vehicle.width)):
        if turned:
            low[axis], high[axis] = whole - high[axis], whole - low[axis]
    return Box((low[0], low[1], low[2] + up), (high[0], high[1], high[2] + up))


def _overlap(one: Box, other: Box) -> float:
    """Return how deep two boxes lie in one another, in mm; 0 and below where they are apart."""
    return min(
        min(one.high[axis], other.high[axis]) - max(one.low[axis], other.low[axis]) for axis in range(3)
    )


def large() -> int:
    """Measure some 2,000 bricks with studs, each way in a process of its own."""
    with tempfile.TemporaryDirectory() as name:
        path = write(_large(), Export(), Path(name))
        for way in ("fitplan", "trimesh"):
            subprocess.run([sys.executable, "-m", "tests.bench.bench_brick_models", way, path], check=True)
    return 0


def _large() -> Model:
    """A long van with walls of bricks and a hold full of plates, of some 2,000 bricks."""
    model = van(48, 10, 9, 2)
    for z in range(1, 21):
        for x in range(2, 46, 2):
            for y in range(2, 8, 2):
                model.add(x, y, z, 2, 2, plates=1)
    return model


def one_large(way: str, path: Path) -> int:
    """Run one way and print its figures."""
    begin = process_time()
    if way == "fitplan":
        from fitplan.meshes.from_mesh import vehicle_from_mesh

        made = vehicle_from_mesh(path)
        what = f"{len(made.body.solids)} solids, file to vehicle"
    else:
        scene = trimesh.load_scene(path, process=False)
        mesh = scene.to_geometry()
        mesh.voxelized(0.8)
        what = f"{len(mesh.faces)} triangles of {len(scene.geometry)} bricks, load and voxels of the surface"
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"{way:8} {process_time() - begin:7.2f} s CPU   peak {peak:6.0f} MB   {what}", flush=True)
    return 0


def main(words: list[str]) -> int:
    """Choose what to print."""
    match words:
        case ["plans", *numbers]:
            return plans(*map(int, numbers))
        case ["pairs", *shard]:
            first, step = (int(word) for word in shard) if shard else (0, 1)
            return table(pairs()[first::step])
        case ["large"]:
            return large()
        case [("fitplan" | "trimesh") as way, path]:
            return one_large(way, Path(path))
    return table(spread(int(words[0]) if words else 120))


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
