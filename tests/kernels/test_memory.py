"""Whatever memory a kernel has, its answer is the true one or it gave up; and giving up travels upwards."""

from __future__ import annotations

import math
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager

import numpy as np
import pytest

import fitplan.packing.engine.candidate_points as candidate_points
import fitplan.routing.trees.tree_search as tree_search
import fitplan.routing.ways.tight as tight_ways
from fitplan.errors import FitplanError
from fitplan.kernels import Kernel
from fitplan.lattice.clear import SizeTest, label_spaces, largest_box, necks
from fitplan.lattice.clear_radius import clear_radius, clear_squares
from fitplan.lattice.cover import cover, covered
from fitplan.lattice.frame import Frame
from fitplan.meshes.groups import groups_of
from fitplan.meshes.surface import Shells, draw_surface, inside_shells, solid_inside
from fitplan.model.wired import Harness
from fitplan.packing.access.long_ways import joined
from fitplan.packing.access.slide import passes, sharing_room, slide_out
from fitplan.packing.engine.candidate_points import lowest_free_point
from fitplan.packing.engine.problem import Shape, Space, Variant
from fitplan.packing.engine.solve import solve
from fitplan.routing.harness.harness import wire_train
from fitplan.routing.harness.track_line import MiddleLine, RunningGear, stand
from fitplan.routing.trees.tree_map import Terminal, TreeUndecidedError
from fitplan.routing.trees.voxel_trees import shortest_tree
from fitplan.routing.ways.shortest_ways import WayMap
from fitplan.routing.ways.taut import Tautener
from fitplan.routing.ways.tight import clear_points, drawn_tight, is_clear
from tests.kernels.test_limits import LIMITS, lowered, too_many
from tests.routing.test_harness import Flow, built_of
from tests.routing.test_voxel_trees import check, tree_map

# The loader's module is hidden behind its function of the same name.
LOADER = sys.modules["fitplan.kernels.load"]
PAGE = 1 << 16


@contextmanager
def memory_of(pages: int, *names: str) -> Iterator[list[str]]:
    """While this lasts, kernels have so many pages beside what they begin with; gives the names begun."""
    plain = LOADER._Instance.__init__
    begun: list[str] = []

    def init(instance: object, name: str, small: bool) -> None:
        plain(instance, name, small)
        if not names or name in names:
            store, memory = instance._store, instance._memory  # type: ignore[attr-defined]
            store.set_limits(memory_size=memory.data_len(store) + pages * PAGE)
            begun.append(name)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(LOADER._Instance, "__init__", init)
        LOADER._own.__dict__.clear()
        try:
            yield begun
        finally:
            LOADER._own.__dict__.clear()


def hall(seed: int, shape: tuple[int, int, int] = (24, 22, 20)) -> np.ndarray:
    """Return a block of free voxels with walls, each with a hole, and some solid voxels."""
    rng = np.random.default_rng(seed)
    free = rng.random(shape) > 0.1
    for x in range(5, shape[0], 5):
        free[x] = False
        y, z = rng.integers(2, shape[1] - 2), rng.integers(2, shape[2] - 2)
        free[x - 1 : x + 2, y - 1 : y + 1, z - 1 : z + 1] = True
    free[0, 0, 0] = free[-1, -1, -1] = True
    free[:2, :2, :2] = free[-2:, -2:, -2:] = True
    return free


def ways(seed: int) -> object:
    """Look for a way with and without costs, lengths from one end, a guide and the way along it."""
    free = hall(seed)
    cost = np.random.default_rng(seed).uniform(1, 9, free.shape)
    goal = tuple(n - 1 for n in free.shape)
    field = WayMap(free)
    plain = field.way((0, 0, 0), goal)
    lengths = field.distances([(0, 0, 0)])
    field.set_cost(cost)
    guide = field.guide([goal], np.ones(free.shape))
    dear = field.way_between([(0, 0, 0)], [goal], guide=guide)
    return [None if way is None else (way.length_mm, way.cost_mm) for way in (plain, dear)], lengths.sum()


def taut(seed: int) -> object:
    """Pull a way taut."""
    free = hall(seed, (64, 60, 60))
    string = Tautener(free, 1.0)
    pulled = string.pull(np.array([(0, 0, 0), (1, 0, 0), (1, 1, 0)]))
    return pulled.length_mm, string.is_free(np.array([(0.0, 0.0, 0.0), (1.0, 1.0, 1.0)]))


def tighten(seed: int) -> object:
    """Draw a way tight among boxes."""
    rng = np.random.default_rng(seed)
    way = np.cumsum(rng.uniform(-4, 6, (10, 3)), axis=0)
    low = rng.uniform(-10, 30, (20, 3))
    boxes = np.concatenate([low, low + rng.uniform(0.5, 6, (20, 3))], axis=1)
    return drawn_tight(way, boxes, boxes[:0], 1.0, 0.4).round(9).tolist()


def voxels(seed: int) -> object:
    """Measure a block in all ways."""
    free = hall(seed, (48, 30, 30))
    faces = tuple(np.arange(n + 1, dtype=np.float64) for n in free.shape)
    tested = SizeTest(~free, faces)
    names, count = label_spaces(free)
    return (
        names.sum(), count, largest_box(free), len(cover(~free) or ()), tested.position((2.0, 3.0, 2.0)),
        tested.longest((9.0, 2.0, 2.0), 0, 0.5), necks(clear_radius(free, 1.0), 0.3, 3),
    )  # fmt: skip


def clear(seed: int) -> object:
    """Measure clear radii."""
    free = hall(seed, (48, 40, 40))
    return clear_squares(free).sum(), clear_squares(free, to="middle", within=3).sum()


def shell_of(count: int) -> Shells:
    """Return so many closed boxes round the same middle."""
    corners = np.array([[x, y, z] for x in (0, 1) for y in (0, 1) for z in (0, 1)], dtype=np.float64)
    quads = [(0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4), (1, 5, 7, 3)]
    faces = np.array([t for a, b, c, d in quads for t in ((a, b, c), (a, c, d))], dtype=np.int64)
    points = np.concatenate([(corners - 0.5) * (2 + 0.01 * k) + 2 for k in range(count)])
    return Shells(
        points,
        np.concatenate([faces + 8 * k for k in range(count)]),
        np.repeat(np.arange(count, dtype=np.uint32), len(faces)),
        np.array([(2 + 0.01 * k) ** 3 for k in range(count)]),
        np.ones(count, dtype=np.bool_),
        np.ones(count, dtype=np.bool_),
    )


def surface(seed: int) -> object:
    """Draw triangles, look out from points, count shells, join pairs."""
    rng = np.random.default_rng(seed)
    points, faces = rng.uniform(0, 32, (900, 3)), rng.integers(0, 900, (3000, 3))
    frame = Frame((0.0, 0.0, 0.0), (40, 40, 40), 0.8)
    drawn = draw_surface(points, faces, frame)
    shells = shell_of(5)
    solid = solid_inside(shells, Frame((0.0, 0.0, 0.0), (40, 40, 40), 0.1))
    seen = inside_shells(shells, rng.uniform(0, 4, (5000, 3)), 0.1)
    return (
        drawn.touched.sum(), drawn.barriers.sum(), solid.sum(), seen.sum(),
        groups_of(rng.integers(0, 9000, (20_000, 2)), 9000).sum(),
    )  # fmt: skip


def packing(seed: int) -> object:
    """Prove that seven blocks do not fit: the answer, or the honest lack of one."""
    answer = solve(too_many(), seed=seed)
    return "gave up" if answer.status == "not_decided" and answer.proof is None else answer.status


def points(seed: int) -> object:
    """Look for the lowest place of a block among thousands."""
    candidate_points._lowest_free.cache_clear()
    rng = np.random.default_rng(seed)
    low = rng.integers(0, 80, (3000, 3))
    rows = np.concatenate([low, low + rng.integers(1, 20, (3000, 3))], axis=1).tolist()
    space = Space((0, 0, 0, 100, 100, 100), tuple(tuple(row) for row in rows))
    return lowest_free_point(Variant("a", Shape(((0, 0, 0, 3, 3, 3),)), ((0, 0, 0, 97, 97, 97),)), space)


def joining(seed: int) -> object:
    """Look for a tree in a hall: its cost, exact or not."""
    free = hall(seed)
    pins = [(0, 0, 0), (23, 21, 19), (0, 1, 0), (22, 21, 19)]
    tree = shortest_tree(tree_map(free, 0.7), [Terminal((pin,), 1) for pin in pins])
    return None if tree is None else (round(tree.cost_mm, 6), tree.proved)


def slide(seed: int) -> object:
    """Slide out from among thousands of plates, and go from one to the next."""
    rng = np.random.default_rng(seed)
    low = rng.integers(-500, 500, (9000, 3))
    plates = np.concatenate([low, low + np.array([2, 30, 30])], axis=1)
    beside = plates[~((plates[:, :3] < 0) & (plates[:, 3:] > 0)).all(axis=1)]
    reached = joined(plates.astype(np.int32), np.arange(9000) < 5)
    shared = int(sharing_room(plates[::2], plates[1::2]).sum())
    return slide_out(beside, "+x", 600), int(reached.sum()), passes(beside, "+x", 0), shared


def tracks(rng: np.random.Generator, count: int) -> tuple[MiddleLine, np.ndarray, list[RunningGear]]:
    """Return random tracks of three curvatures and gradients, a place on each, and two vehicles' gear."""
    curves = rng.choice([0.0, 1 / 320, -1 / 250], (3, count))
    kinks = rng.uniform(-100, 100, (2, count))
    slopes = rng.choice([0.0, 0.04, -0.06], (3, count))
    line = MiddleLine(
        before=curves[0], after=curves[1], kink=kinks[0], rise=slopes[0], further=curves[2],
        span=np.abs(kinks[1]), fall=slopes[1], hump=np.abs(kinks[1]) / 2, slope=slopes[2],
    )  # fmt: skip
    bogies = float(rng.choice([0.0, 24.0]))
    return line, rng.uniform(-200, 300, count), [RunningGear(40.0, 120.0), RunningGear(45.0, 118.0, bogies)]


def track(seed: int) -> object:
    """Stand a vehicle on thousands of tracks."""
    line, at, gears = tracks(np.random.default_rng(seed), 9000)
    return stand(line, gears[1], at).up.sum()


CASES: dict[str, Callable[[int], object]] = {
    "ways": ways, "taut": taut, "voxels": voxels, "clear": clear, "surface": surface,
    "packing_places": packing, "packing_sides": packing, "joining": joining, "tighten": tighten,
    "slide": slide, "track": track, "lowest_point": points,
}  # fmt: skip


ALL_AT_ONCE = {"tighten"}
"""Kernels whose room is part of what they begin with: they ask for no more, and never give up for it."""


@pytest.mark.parametrize("name", sorted(CASES))
def test_with_little_memory_a_kernel_is_right_or_gives_up(name: str) -> None:
    """Page by page: the true answer, or MemoryError (of packing: not decided); both come, nothing else."""
    case = CASES[name]
    expected = case(3)
    came: set[str] = set()
    for pages in (0, 1, 2, 3, 4, 6, 8, 12, 16, 24, 32, 48, 64, 96, 128, 256):
        with memory_of(pages, name) as begun:
            try:
                answer = case(3)
            except MemoryError:
                answer = "gave up"
        assert begun
        if answer == "gave up":
            came.add("gave up")
        elif name == "joining" and answer != expected:  # greedy alone, and said so
            assert isinstance(answer, tuple)
            assert isinstance(expected, tuple)
            assert not answer[1]
            assert answer[0] >= expected[0]
        else:
            assert answer == expected
            came.add("right")
        if pages >= 16 and came == {"gave up", "right"}:
            break
    assert came == ({"right"} if name in ALL_AT_ONCE else {"gave up", "right"})


def test_every_kernel_is_tried() -> None:
    """No kernel is left out above."""
    from fitplan.kernels.build import names_of_kernels

    assert sorted(CASES) == names_of_kernels()


# -- the limits of the kernels for trees, strings, blocks and surfaces ----------------------------------


@pytest.mark.parametrize("to", [0, 1, 2, 3])
def test_too_few_terminals_for_the_search_of_trees(monkeypatch, to: int) -> None:
    """With fewer terminals kept than there are a tree is found another way, or the answer is open."""
    free = hall(1)
    pins = [(0, 0, 0), (23, 21, 19), (0, 1, 0), (22, 21, 19)]
    terminals = [Terminal((pin,), 1) for pin in pins]
    best = shortest_tree(tree_map(free, 0.7), terminals)
    assert best is not None
    assert best.proved
    for count in (2, 3, 4):
        with lowered(monkeypatch, "terminal_most", to):
            try:
                tree = shortest_tree(tree_map(free, 0.7), terminals[:count])
            except (MemoryError, TreeUndecidedError):
                continue
        assert tree is not None
        check(tree, terminals[:count])
        if count == 4:
            assert not tree.proved
            assert tree.cost_mm >= best.cost_mm


def test_a_tree_that_was_not_found_is_not_a_tree_that_is_not_there(monkeypatch) -> None:
    """Without room for the exact search and with a greedy one that fails, the answer is open."""
    free = np.ones((9, 9, 3), dtype=np.bool_)
    sites = np.zeros_like(free)
    pins = [(0, 0, 0), (8, 0, 0), (0, 8, 0), (8, 8, 0)]
    terminals = [Terminal((pin,), 1) for pin in pins]
    assert shortest_tree(tree_map(free, 0.7, sites), terminals) is None  # no splice anywhere: proved
    monkeypatch.setattr(tree_search, "_MOST_BYTES", 0)
    with pytest.raises(TreeUndecidedError):
        shortest_tree(tree_map(free, 0.7, sites), terminals)


@pytest.mark.parametrize("to", [0, 1, 2, 5, 100])
def test_few_points_of_a_string(monkeypatch, to: int) -> None:
    """A kernel that keeps fewer points than a way has says so; it never calls a free way blocked."""
    free = np.ones((30, 3, 3), dtype=np.bool_)
    way = np.array([(x, x % 2, 0) for x in range(30)])
    plain = Tautener(free, 1.0).pull(way)
    assert plain.length_mm == pytest.approx(np.hypot(29, 1))
    with lowered(monkeypatch, "point_most", to):
        string = Tautener(free, 1.0)
        if to < len(way):
            with pytest.raises(MemoryError):
                string.pull(way)
        else:
            assert plain.length_mm - 1e-9 <= string.pull(way).length_mm <= 29 * 2**0.5 + 1e-9


@pytest.mark.parametrize("to", [0, 1, 2])
def test_few_edges_round_a_corner_only_leave_a_string_longer(monkeypatch, to: int) -> None:
    """Where a triangle meets more edges than are kept, the way is true and no shorter than the taut one."""
    free = np.ones((9, 9, 5), dtype=np.bool_)
    free[4, :6, :] = False
    way = WayMap(free, 1.0).way((0, 0, 2), (8, 0, 2))
    assert way is not None
    taut_mm = Tautener(free, 1.0).pull(way.voxels).length_mm
    with lowered(monkeypatch, "hit_most", to):
        pulled = Tautener(free, 1.0).pull(way.voxels)
    assert taut_mm - 1e-9 <= pulled.length_mm <= way.length_mm + 1e-9
    assert Tautener(free, 1.0).is_free(pulled.points)


@pytest.mark.parametrize(("name", "to"), [("vertex_most", 0), ("vertex_most", 3), ("zone_most", 0)])
def test_few_vertices_and_zones_leave_a_way_as_it_was(monkeypatch, name: str, to: int) -> None:
    """A kernel that keeps fewer corners, or fewer zones, draws nothing tight and calls nothing clear."""
    wall = np.array([[4.0, -9.0, -9.0, 5.0, 2.0, 9.0]])
    zone = np.array([[-1.0, -1.0, -1.0, 1.0, 1.0, 1.0]])
    way = np.array([[0.0, 0.0, 0.0], [3.0, 5.0, 0.0], [6.0, 5.0, 0.0], [9.0, 0.0, 0.0]])
    tight = drawn_tight(way, wall, zone, 0.5, 0.1)
    # Two tangents, an arc round each upper corner of the wall, and 1 mm above it.
    tangent, arc = math.sqrt(20 - 0.25), 0.5 * (math.atan2(2, 4) + math.asin(0.5 / math.sqrt(20)))
    length = np.linalg.norm(np.diff(tight, axis=0), axis=1).sum()
    assert 0 <= length - (2 * (tangent + arc) + 1) < 0.02
    assert is_clear(way[0], way[1], wall, zone, 0.5, 0.1)
    whole = np.full((4, 4, 2), (0, 4), dtype=np.uint32)
    assert clear_points([way[:, 0]] * 3, whole, wall, zone, 0.5, 0.1).any()
    with lowered(monkeypatch, name, to):
        monkeypatch.setattr(tight_ways, "shared", Kernel)
        assert (drawn_tight(way, wall, zone, 0.5, 0.1) == way).all()
        if name == "zone_most":
            assert not is_clear(way[0], way[1], wall, zone, 0.5, 0.1)
            assert not clear_points([way[:, 0]] * 3, whole, wall, zone, 0.5, 0.1).any()


def test_every_limit_of_a_kernel_is_lowered_here_or_beside() -> None:
    """A limit that is new wants a test that shrinks it."""
    beside = {"items", "item_most", "in_column"}  # in test_limits.py
    here = {"terminal_most", "point_most", "hit_most", "vertex_most", "zone_most", "shell_most"}
    assert {name for _, name in LIMITS} == here | beside


def test_more_boxes_than_are_kept_are_none_or_an_error() -> None:
    """A cover stops at its limit and one that is needed says so; at the limit itself it is whole."""
    cells = np.zeros((9, 3, 3), dtype=np.bool_)
    cells[::2] = True
    assert cover(cells, most=4) is None
    with pytest.raises(FitplanError, match="more than 4 boxes"):
        covered(cells, most=4)
    whole = np.zeros_like(cells)
    for box in covered(cells, most=5):
        whole[box.x0 : box.x1, box.y0 : box.y1, box.z0 : box.z1] = True
    assert (whole == cells).all()


def test_more_necks_than_there_is_room_for_are_all_told() -> None:
    """With room for one, or none, all are found."""
    free = np.zeros((31, 7, 7), dtype=np.bool_)
    for x in range(1, 30, 6):
        free[x : x + 5, 1:6, 1:6] = True
        free[x + 5 : x + 6, 3, 3] = True
    free[30] = False
    radius = clear_radius(free, 1.0)
    assert len(necks(radius, 0.5)) == 4
    assert necks(radius, 0.5, 0) == necks(radius, 0.5, 1) == necks(radius, 0.5)


def test_more_shells_round_a_place_than_can_be_counted_are_refused(monkeypatch) -> None:
    """127 shells in one another are counted; one more is an error and not a wrong answer."""
    frame = Frame((0.0, 0.0, 0.0), (8, 8, 8), 0.5)
    # The widest is 3.26 wide round the middle of the frame: it holds six voxels' middles along each axis.
    assert solid_inside(shell_of(127), frame).sum() == 6**3
    with pytest.raises(FitplanError, match="127 closed shells"):
        solid_inside(shell_of(128), frame)
    with lowered(monkeypatch, "shell_most", 1), pytest.raises(FitplanError):
        solid_inside(shell_of(2), frame)


def test_a_number_that_is_not_kept_is_refused() -> None:
    """Pairs that name what is beyond the last are refused by the kernel that joins them."""
    kernel = Kernel("surface")
    pairs, parents = kernel.put(np.array([[0, 5]], dtype=np.uint32)), kernel.empty(5, np.uint32)
    assert kernel.call("join", pairs, 1, parents, 5) == 0


def test_what_is_too_far_to_be_squared_counts_as_nowhere() -> None:
    """In a row of 40,000 voxels no radius wraps round: near the wall it is exact, far off it is endless."""
    free = np.ones((1, 1, 40_000), dtype=np.bool_)
    free[0, 0, 0] = False
    radius = clear_radius(free, 1.0).ravel()
    np.testing.assert_allclose(radius[:16_000], np.maximum(np.arange(16_000) - 0.5, 0))
    assert (radius[17_000:] == np.inf).all()


# -- upwards -------------------------------------------------------------------------------------------


PINS = {"p": ("a", 12.0, 8.0), "q": ("a", 60.0, 8.0), "r": ("a", 90.0, 30.0)}


def harness_of_three() -> Harness:
    """Return the harness of three pins on one net."""
    built = built_of(PINS, {"n": ["p.p0", "q.p0", "r.p0"]}, style="tree")
    return wire_train(built, {net.name: Flow(10.0, 10.0) for net in built.train.nets}).harness


@pytest.mark.parametrize("name", ["ways", "joining", "clear"])
def test_a_harness_without_memory_is_not_decided(name: str) -> None:
    """Where a kernel of routing has no memory, no wire is laid, and each net is told as open."""
    assert not harness_of_three().unreached
    with memory_of(0, name) as begun:
        harness = harness_of_three()
    assert begun
    assert harness.unreached
    assert all(one.undecided for one in harness.unreached)
    assert not harness.wires


@pytest.mark.parametrize("name", ["point_most", "terminal_most"])
def test_a_harness_without_room_in_a_buffer_is_not_decided(monkeypatch, name: str) -> None:
    """The same where strings may have no point, or trees no terminal."""
    with lowered(monkeypatch, name, 0):
        harness = harness_of_three()
    assert harness.unreached
    assert all(one.undecided for one in harness.unreached)
    assert not harness.wires
