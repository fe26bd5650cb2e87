"""Vehicles exported brick by brick in every way: shares converted, brick claimed clear, room missed.

``python -m tests.bench.bench_brick_models [COUNT]`` takes COUNT of the 14,400 exports (30 vehicles in five
formats, four units, up three ways, as one object and as many, mirrored, coloured), spread evenly over them;
120 when not given. ``... plans`` checks and plans each of the 30 with a controller. ``... large`` measures
2,000 bricks, beside trimesh's own loader and voxeliser.
"""

from __future__ import annotations

import itertools
import resource
import subprocess
import sys
import tempfile
from collections import Counter, defaultdict
from collections.abc import Iterator
from pathlib import Path
from statistics import median
from time import process_time

import trimesh

from fitplan import plan_train, read_train, verdict
from fitplan.meshes.from_mesh import MeshVehicle
from fitplan.model.vehicle import Vehicle
from tests.meshes.brick_models import UNITS, UPS, Export, Model, exports, models, van, write
from tests.meshes.test_brick_models import compare, convert

ENDINGS = (".glb", ".obj", ".stl", ".ply", ".3mf")
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
            # A triangle soup knows neither objects nor colours.
            yield number, Export(ending, one or ending in (".stl", ".ply"), unit, up, mirrored, coloured)


def corrections(model: Model, export: Export, made: MeshVehicle, vehicle: Vehicle) -> list[str]:
    """Return what a person would have to correct, masses left out."""
    found = []
    if (vehicle.studs_long, vehicle.studs_wide) != model.size:
        found.append("footprint")
    closed = [room for room in made.cavities if vehicle.top - room.largest.high[2] > 0.1]
    if closed and not vehicle.openings and not model.name.startswith("open wagon"):
        found.append("openings")
    if model.axles and len(vehicle.wheels.at) != len(model.axles):
        found.append("axles")
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


def table(count: int) -> int:
    """Print the shares by format; return 1 when an aim is missed."""
    everything = list(all_exports())
    # A step without a common factor with the sizes of the loops, so that all values of each occur.
    chosen = [everything[(k * 7919) % len(everything)] for k in range(count)]
    rows: dict[str, Counter[str]] = defaultdict(Counter)
    hand: Counter[str] = Counter()
    missed: dict[str, float] = defaultdict(float)
    spent: list[float] = []
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
            found = compare(model, vehicle)
            row["false"] += found.false_clear > 0
            missed[export.ending] = max(missed[export.ending], found.missed)
            wrong = corrections(model, export, made, vehicle)
            row["hand"] += bool(wrong)
            hand.update(wrong)
            if wrong or found.false_clear or found.missed > 0.01:
                print(f"{model.name}, {export}: {found} {', '.join(wrong)}")
    print(f"{'format':8}{'tried':>7}{'converted':>11}{'brick clear':>13}{'most missed':>13}{'by hand':>9}")
    for ending, row in sorted(rows.items()):
        shares = f"{row['converted']:11}{row['false']:13}{missed[ending]:13.2%}{row['hand']:9}"
        print(f"{ending:8}{row['tried']:7}{shares}")
    print("to correct by hand:", dict(hand) or "nothing but masses")
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"written, converted and read back: {median(spent):.2f} s CPU in the median, peak {peak:.0f} MB")
    total = sum(rows.values(), Counter())
    return int(total["converted"] < total["tried"] or total["false"] > 0 or max(missed.values()) > 0.01)


def plans() -> int:
    """Check and plan each vehicle with a controller; print the verdicts."""
    said: Counter[str] = Counter()
    for number, (build, export) in enumerate(zip(models(), exports(7, len(models())), strict=True)):
        with tempfile.TemporaryDirectory() as name:
            model = build()
            convert(model, export, Path(name))
            path = Path(name) / "train.yaml"
            path.write_text(TRAIN, encoding="utf-8")
            checked = subprocess.run(
                [sys.executable, "-m", "fitplan", "check", str(path)], capture_output=True, check=False
            )
            told = verdict(plan_train(read_train(path)))
            said[f"check {checked.returncode}"] += 1
            said[told.split(",")[0].split(":")[0]] += 1
            print(f"{number:2} {model.name:36} check {checked.returncode}   {told}", flush=True)
    print(dict(said))
    return 0


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
        case ["plans"]:
            return plans()
        case ["large"]:
            return large()
        case [("fitplan" | "trimesh") as way, path]:
            return one_large(way, Path(path))
    return table(int(words[0]) if words else 120)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
