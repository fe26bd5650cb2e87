"""The lattice beside general-purpose libraries in the same run: drawing, labels, largest box, distances.

Run ``python tests/bench/bench_lattice.py``.  The others:

- numpy with the plain definition for drawing solids (each voxel's middle, so it is not conservative);
- scipy ``ndimage.label`` for connected spaces and ``distance_transform_edt`` for clear radii;
- scikit-image has no largest empty box; the reference is the same search in plain numpy, on a coarser field.
"""

from __future__ import annotations

import sys
from pathlib import Path
from time import perf_counter

import numpy as np
from scipy import ndimage

sys.path.insert(0, str(Path(__file__).parents[2]))

from fitplan.files.read import read_vehicle
from fitplan.lattice import ExactSpace, VehicleSpace, draw, obstacle_boxes
from fitplan.lattice.clear import label_spaces, largest_box
from fitplan.lattice.clear_radius import clear_squares
from fitplan.lattice.frame import Frame
from fitplan.model.solids import Cylinder

EXAMPLES = Path(__file__).parents[2] / "examples"


def timed(work, repeat: int = 3) -> tuple[float, object]:
    """Return the least time in ms, and the answer."""
    best, answer = float("inf"), None
    for _ in range(repeat):
        begin = perf_counter()
        answer = work()
        best = min(best, (perf_counter() - begin) * 1000)
    return best, answer


def line(what: str, ours: float, other: str, theirs: float) -> None:
    """Print one comparison."""
    print(f"{what:44} {ours:9.1f} ms   {other:34} {theirs:9.1f} ms   ratio {theirs / ours:6.1f}")


def drawing() -> None:
    """Draw a boiler, exactly and by the middles."""
    frame = Frame((0.0, 0.0, 0.0), (280, 80, 120))
    boiler = Cylinder("x", (10.0, 32.0, 48.0), 200.0, 21.3)
    ours, _ = timed(lambda: draw(boiler, frame, "outward"))

    def middles() -> np.ndarray:
        x, y, z = np.meshgrid(*(frame.edges(axis)[:-1] + 0.4 for axis in range(3)), indexing="ij")
        return (np.hypot(y - 32.0, z - 48.0) < 21.3) & (x > 10.0) & (x < 210.0)

    theirs, _ = timed(middles)
    line("draw a boiler into 2.7 million voxels", ours, "numpy, middles only", theirs)


def plain_largest(clear: np.ndarray) -> float:
    """Largest empty box in plain numpy: all pairs of levels along two axes, longest run along the third."""
    best = 0
    for x0 in range(clear.shape[0]):
        slab = np.ones(clear.shape[1:], dtype=bool)
        for x1 in range(x0, clear.shape[0]):
            slab &= clear[x1]
            for y0 in range(clear.shape[1]):
                strip = np.ones(clear.shape[2], dtype=bool)
                for y1 in range(y0, clear.shape[1]):
                    strip &= slab[y1]
                    edges = np.flatnonzero(np.diff(np.concatenate(([0], strip.view(np.int8), [0]))))
                    if len(edges):
                        run = int((edges[1::2] - edges[::2]).max())
                        best = max(best, run * (x1 - x0 + 1) * (y1 - y0 + 1))
    return float(best)


def main() -> None:
    """Print all comparisons."""
    vehicle = read_vehicle(EXAMPLES / "harbour-line" / "shunter.yaml")
    ours, space = timed(lambda: VehicleSpace.of(vehicle))
    free = space.free()
    print(
        f"shunter: {free.size} voxels, {len(vehicle.body)} solids, drawn in {ours:.1f} ms both ways at once"
    )
    for rounding in ("outward", "inward"):
        ours, boxes = timed(lambda rounding=rounding: obstacle_boxes(vehicle, rounding=rounding))
        print(f"shunter as boxes in tenths, {rounding}: {len(boxes)} boxes in {ours:.1f} ms")
    drawing()

    ours, (_, count) = timed(lambda: label_spaces(free))
    theirs, (_, expected) = timed(lambda: ndimage.label(free))
    assert count == expected
    line("connected spaces of the shunter", ours, "scipy.ndimage.label", theirs)

    ours, squares = timed(lambda: clear_squares(free, to="middle"))
    theirs, distance = timed(lambda: ndimage.distance_transform_edt(free))
    assert np.allclose(np.sqrt(squares / 4), distance)
    line("distances in the shunter (exact)", ours, "scipy distance_transform_edt", theirs)

    random = np.random.default_rng(1)
    clear = random.random((24, 18, 16)) > 0.02
    ours, box = timed(lambda: largest_box(clear))
    theirs, volume = timed(lambda: plain_largest(clear), 1)
    assert box.volume == volume
    line("largest empty box, 24 × 18 × 16", ours, "numpy, all pairs of levels", theirs)
    ours, box = timed(lambda: largest_box(free))
    print(f"largest empty box of the shunter in voxels: {box.size} in {ours:.1f} ms")
    exact = ExactSpace.of(vehicle)
    ours, box = timed(lambda: largest_box(exact.free(), exact.faces))
    print(f"largest empty box of the shunter in tenths of a mm ({exact.bits.size} cells): {ours:.1f} ms")


if __name__ == "__main__":
    main()
