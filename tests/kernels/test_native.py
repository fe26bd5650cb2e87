"""The kernels natively under sanitizers: the same answers to random inputs as in WebAssembly."""

from __future__ import annotations

import os
import random
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

import numpy as np
import pytest

import fitplan.kernels as kernels
import fitplan.packing.engine.candidate_points as candidate_points
import fitplan.packing.engine.free_offsets as free_offsets
import fitplan.packing.engine.search_places as search_places
import fitplan.packing.engine.search_sides as search_sides
from fitplan.budget import Budget
from fitplan.errors import FitplanError
from fitplan.kernels.build import names_of_kernels
from fitplan.lattice.clear import SizeTest, label_spaces, largest_box, necks
from fitplan.lattice.clear_radius import clear_radius
from fitplan.lattice.cover import cover
from fitplan.lattice.frame import Frame
from fitplan.meshes.groups import groups_of
from fitplan.meshes.surface import draw_surface, inside_shells, solid_inside
from fitplan.packing.access.long_ways import long_way
from fitplan.packing.access.slide import passes, sharing_room, slide_out
from fitplan.packing.engine.candidate_points import lowest_free_point
from fitplan.packing.engine.problem import Shape, Space, Variant
from fitplan.packing.engine.solve import solve
from fitplan.routing.harness.track_line import stand, stand_behind
from fitplan.routing.trees.tree_map import Terminal, TreeUndecidedError
from fitplan.routing.trees.voxel_trees import shortest_tree
from fitplan.routing.ways.shortest_ways import WayMap
from fitplan.routing.ways.taut import Tautener
from fitplan.routing.ways.tight import clear_points, drawn_tight, is_clear
from tests.kernels.native import KERNELS, NativeInstance, functions, program, why_not
from tests.kernels.test_limits import LIMITS, real_kind, too_many
from tests.kernels.test_memory import shell_of, tracks
from tests.packing.test_engine_searches import small_case
from tests.routing.test_voxel_trees import small, tree_map

pytestmark = pytest.mark.skipif(bool(why_not()), reason=why_not() or "none")

# The loader's module is hidden behind its function of the same name.
LOADER = __import__("sys").modules["fitplan.kernels.load"]


@contextmanager
def native() -> Iterator[list[str]]:
    """While this lasts, kernels are processes under sanitizers; gives the names of those that were begun."""
    begun: list[str] = []

    class Instance(NativeInstance):
        @classmethod
        def of(cls, name: str) -> NativeInstance:
            begun.append(name)
            return cls(name)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(LOADER, "_Instance", Instance)
        LOADER._own.__dict__.clear()
        free_offsets._pieces.cache_clear()
        candidate_points._lowest_free.cache_clear()
        try:
            yield begun
        finally:
            LOADER._own.__dict__.clear()
            free_offsets._pieces.cache_clear()


def test_every_kernel_is_compiled_and_tried_here() -> None:
    """There is a case below for each kernel, and each exports natively what it exports in WebAssembly."""
    assert set(CASES) == set(names_of_kernels())
    for name in names_of_kernels():
        exported = set(kernels.load(name)._instance._exports)
        assert {"memory", *functions(name)} == exported
        assert program(name).exists()


def test_what_was_compiled_goes_when_the_run_ends(tmp_path: Path) -> None:
    """In a process of its own, whose folder for passing files is an empty one."""
    tried = "from tests.kernels.native import NativeInstance, program\n"
    tried += "one = NativeInstance('clear')\nprint(program('clear'))\n"
    run = subprocess.run(
        [sys.executable, "-c", tried],
        env={**os.environ, "TMPDIR": str(tmp_path)},
        capture_output=True,
        text=True,
        check=True,
    )
    assert Path(run.stdout.strip()).is_relative_to(tmp_path)
    assert list(tmp_path.iterdir()) == []


def test_a_read_beyond_an_array_is_noticed() -> None:
    """The harness sees what it is there for: a map that is said to be larger than it is."""
    with native():
        kernel = kernels.load("voxels")
        cells, out = kernel.empty(8, np.uint8), kernel.empty(1000, np.uint32)
        with pytest.raises(AssertionError, match="AddressSanitizer"):
            kernel.call("box_sums", cells, out, 3, 3, 3)


def free_map(rng: np.random.Generator, low: int = 3, high: int = 9) -> np.ndarray:
    """Return a random block of free and solid voxels."""
    return rng.random(tuple(rng.integers(low, high, 3))) < rng.choice([0.4, 0.75, 0.95])


def packing(seed: int) -> object:
    """Solve a small packing problem."""
    problem = (too_many, real_kind)[seed]() if seed < 2 else small_case(seed)
    answer = solve(problem, Budget(10_000_000), seed=seed)
    return (answer.status, dict(answer.placements), dict(answer.steps), answer.work)


def points(seed: int) -> object:
    """Look for the lowest place of a shape among some blocks, in a room and in a flat one."""
    rng = np.random.default_rng(seed)
    low = rng.integers(0, 8, (40, 3))
    rows = np.concatenate([low, low + rng.integers(1, 6, (40, 3))], axis=1).tolist()
    space = Space((0, 0, 0, 12, 12, 12), tuple(tuple(row) for row in rows))
    shape = Shape(((0, 0, 0, 2, 2, 2), (1, 1, 1, 3, 2, 3)))
    rooms = ((0, 0, 3, 9, 9, 3), (0, 0, 0, 9, 10, 9))
    return [lowest_free_point(Variant("a", shape, (room,)), space) for room in rooms]


def voxels(seed: int) -> object:
    """Measure a random block in all ways."""
    rng = np.random.default_rng(seed)
    free = free_map(rng, 1)
    labels, count = label_spaces(free)
    tested = SizeTest(~free, tuple(np.arange(n + 1, dtype=np.float64) for n in free.shape))
    size = tuple(rng.uniform(0.5, 4, 3))
    radius = clear_radius(free, 1.0)
    return (
        labels.tolist(), count, largest_box(free), cover(free, ~free & (rng.random(free.shape) < 0.3)),
        tested.position(size), tested.longest(size, int(rng.integers(3)), 0.25),
        necks(radius, 0.3), radius.tolist(),
    )  # fmt: skip


def ways(seed: int) -> object:
    """Look for ways through a random map, with and without costs, and pull one taut."""
    rng = np.random.default_rng(seed)
    free = free_map(rng)
    field = WayMap(free, 1.0)
    spots = np.argwhere(free).tolist()
    if len(spots) < 2:
        return None
    start, goal = (spots[k] for k in rng.choice(len(spots), 2, replace=False))
    plain = field.way(start, goal, mirrored=tuple(bool(v) for v in rng.integers(0, 2, 3)))
    found: list[object] = [None if plain is None else plain.voxels.tolist(), field.rooms().tolist()]
    other = field.turned((True, True, True))
    found.append(None if other is None else other.voxels.tolist())
    found.append(field.distances([start]).tolist())
    if plain is not None:
        taut = Tautener(free, 1.0)
        found += [taut.pull(plain.voxels).points.tolist(), taut.is_free(np.array([start, goal], dtype=float))]
    field.set_cost(rng.uniform(1, 5, free.shape))
    dear = field.way(start, goal, greed=float(rng.choice([1.0, 1.3])))
    found.append(None if dear is None else dear.voxels.tolist())
    field.set_free([goal], free=False)
    found.append(field.way(start, goal) is None)
    return found


def joining(seed: int) -> object:
    """Flood, merge, keep and walk on a random map, as the search for trees does."""
    free, pins = small(seed, 2 + seed % 4)
    tree = shortest_tree(tree_map(free, 0.7), [Terminal((pin,), 1 + seed % 2) for pin in pins])
    return (
        None
        if tree is None
        else (tree.edges, [way.tolist() for way in tree.ways], tree.splices, tree.cost_mm)
    )


def surface(seed: int) -> object:
    """Draw random triangles, look out of boxes in one another, and join random pairs."""
    rng = np.random.default_rng(seed)
    points = rng.uniform(-3, 9, (12, 3))
    faces = rng.integers(0, 12, (20, 3))
    frame = Frame((0.0, 0.0, 0.0), tuple(int(v) for v in rng.integers(1, 9, 3)), 0.8)
    drawn = draw_surface(points, faces, frame)
    shells = shell_of(1 + seed % 4)
    inside = Frame((0.3, 0.0, 0.0), tuple(int(v) for v in rng.integers(1, 9, 3)), 0.5)
    return (
        drawn.touched.tolist(),
        drawn.barriers.tolist(),
        solid_inside(shells, inside).tolist(),
        inside_shells(shells, rng.uniform(0, 4, (9, 3)), 0.5).tolist(),
        groups_of(rng.integers(0, 12, (9, 2)), 12).tolist(),
    )


def tight(seed: int) -> object:
    """Draw a way tight among boxes, with zones, look along a piece, and tell which points are clear."""
    rng = np.random.default_rng(seed)
    way = np.cumsum(rng.uniform(-4, 6, (10, 3)), axis=0)
    low = rng.uniform(-10, 30, (20, 3))
    boxes = np.concatenate([low, low + rng.uniform(0.5, 6, (20, 3))], axis=1)
    zones = boxes[:3] + np.array([-3.0] * 3 + [3.0] * 3)
    drawn = drawn_tight(way, boxes, zones, 1.0, 0.4)
    lines = [np.sort(rng.uniform(-12, 32, n)) for n in (7, 9, 5)]
    spans = np.sort(rng.integers(0, 6, (7, 9, 2)), axis=-1).astype(np.uint32)
    clear = clear_points(lines, spans, boxes, zones, 1.0, 0.4)
    return drawn.round(9).tolist(), is_clear(way[0], way[1], boxes, zones, 1.0, 0.4), clear.tolist()


def slide(seed: int) -> object:
    """Slide out from among random plates, and come out past them by any number of moves."""
    rng = np.random.default_rng(seed)
    low = rng.integers(-30, 30, (40, 3))
    wide = rng.integers(10, 50, (40, 3))
    wide[np.arange(40), rng.integers(0, 3, 40)] = 2
    plates = np.concatenate([low, low + wide], axis=1)
    beside = plates[~((plates[:, :3] < 0) & (plates[:, 3:] > 0)).all(axis=1)]
    way = long_way(beside, np.array([-90] * 3 + [90] * 3), "-y", 80)
    open_at = [passes(beside, "-y", at) for at in (-40, 0, 20)]
    return slide_out(beside, "-y", 80), way, open_at, sharing_room(plates[:9], plates[9:] + 7).tolist()


def track(seed: int) -> object:
    """Stand two coupled vehicles on random tracks, some of them too far apart for their drawbar."""
    rng = np.random.default_rng(seed)
    line, at, gears = tracks(rng, 20)
    ahead = stand(line, gears[0], at)
    behind = stand_behind(line, ahead, (8.0, 12.0), gears[1], (152.0, 12.0), 24.0, at - 200.0)
    return line.at(at).tolist(), ahead.up.tolist(), behind.rear.tolist(), behind.rear_at.tolist()


CASES = {
    "clear": voxels, "voxels": voxels, "ways": ways, "taut": ways, "surface": surface, "joining": joining,
    "packing_places": packing, "packing_sides": packing, "tighten": tight, "slide": slide,
    "track": track, "lowest_point": points,
}  # fmt: skip


@pytest.mark.parametrize("case", sorted(set(CASES.values()), key=lambda case: case.__name__))
def test_random_inputs_break_no_rule_and_give_the_same_answers(case) -> None:
    """Each seed's answer under sanitizers is the one in WebAssembly, and the kernels meant were run."""
    seeds = range(12)
    expected = [case(seed) for seed in seeds]
    with native() as begun:
        for seed in seeds:
            assert case(seed) == expected[seed], seed
    assert {name for name, mine in CASES.items() if mine is case} <= set(begun)


@pytest.mark.parametrize(("source", "name"), LIMITS)
def test_lowered_limits_write_nowhere(source: str, name: str) -> None:
    """With each limit of a kernel lowered, what is written stays within bounds."""
    rng = random.Random(f"{source} {name}")
    with native() as begun, pytest.MonkeyPatch.context() as patch:
        plain = kernels.Kernel.__init__

        def init(kernel: kernels.Kernel, which: str) -> None:
            plain(kernel, which)
            if which == source:
                kernel.call(f"limit_{name}", rng.randint(0, 3))

        patch.setattr(kernels.Kernel, "__init__", init)
        for seed in range(4):
            with suppress(MemoryError, FitplanError, TreeUndecidedError):  # it gave up
                CASES[source](seed)
        assert source in begun
    assert (KERNELS / f"{source}.c").exists()


@pytest.mark.parametrize(
    ("module", "name"),
    [
        (search_places, "MOST_LEVELS"),
        (search_places, "MOST_EDGES"),
        (search_places, "ARENA_BOXES"),
        (search_sides, "MOST_NUMBERS"),
        (search_sides, "MOST_LEVELS"),
        (free_offsets, "MOST_PIECES"),
    ],
)
def test_small_buffers_are_never_overrun(module, name: str) -> None:
    """With each buffer that a packing kernel is given next to nothing, what is written stays within it."""
    with native() as begun, pytest.MonkeyPatch.context() as patch:
        for seed in range(6):
            patch.setattr(module, name, (1, 2, 3, 5, 8, 13)[seed])
            free_offsets._pieces.cache_clear()
            packing(seed)
        assert begun
