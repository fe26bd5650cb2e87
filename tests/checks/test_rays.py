"""Rays against solids: exact solid angles, and every kind of solid against its own definition."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fitplan.checks.rays import Obstacle, cone, first_hits, spread
from fitplan.model.solids import AXES, DIRECTIONS, Box, Cylinder, Solid, Wedge
from fitplan.model.spans import span, spans

ORIGIN = (0.0, 0.0, 0.0)


def share(obstacles: list[Obstacle], half: float = 30.0, count: int = 20_000) -> float:
    """Share of a cone along x from the origin that meets something."""
    rays = cone((1.0, 0.0, 0.0), half, count)
    return float(np.isfinite(first_hits(np.zeros_like(rays), rays, obstacles).distance).mean())


def cap(half: float) -> float:
    """Solid angle of a cone: 2π(1 − cos α), textbook."""
    return 2 * math.pi * (1 - math.cos(math.radians(half)))


@pytest.mark.parametrize(("distance", "radius"), [(50.0, 5.0), (50.0, 20.0), (10.0, 1.0), (10.0, 3.0)])
def test_disc_hides_its_solid_angle(distance: float, radius: float) -> None:
    """A disc across the beam hides (1 − cos β)/(1 − cos α), exactly known for a cone in a cone."""
    disc = Cylinder("x", (distance, 0.0, 0.0), 1.0, radius)
    beta = math.degrees(math.atan(radius / distance))
    assert share([Obstacle(disc, "disc")]) == pytest.approx(cap(beta) / cap(30.0), rel=0.01)


@pytest.mark.parametrize(("wide", "high"), [(4.0, 4.0), (10.0, 2.0), (20.0, 20.0)])
def test_plate_hides_its_solid_angle(wide: float, high: float) -> None:
    """A plate hides 4·arcsin(ab/√((a² + 4d²)(b² + 4d²))) of the beam, the pyramid's solid angle."""
    d = 40.0
    plate = Box((d, -wide / 2, -high / 2), (d + 1, wide / 2, high / 2))
    exact = 4 * math.asin(wide * high / math.sqrt((wide**2 + 4 * d**2) * (high**2 + 4 * d**2)))
    assert share([Obstacle(plate, "plate")]) == pytest.approx(exact / cap(30.0), rel=0.015)


def test_half_of_the_beam() -> None:
    """A wall beside the axis hides half of the beam, and a hole cut into a wall lets a cone through."""
    wall = Box((10.0, 0.0, -100.0), (11.0, 100.0, 100.0))
    assert share([Obstacle(wall, "wall")]) == pytest.approx(0.5, abs=0.003)
    whole = Box((10.0, -100.0, -100.0), (12.0, 100.0, 100.0))
    hole = Cylinder("x", (9.0, 0.0, 0.0), 5.0, 12.0 * math.tan(math.radians(20.0)))
    holed = [Obstacle(whole, "wall"), Obstacle(hole, "hole", stops=False)]
    assert share(holed) == pytest.approx(1 - cap(20.0) / cap(30.0), rel=0.01)


def test_later_solids_replace_earlier_ones() -> None:
    """What is drawn into a hole stands in the way again; a hole drawn before the wall does not count."""
    wall = Obstacle(Box((10.0, -50.0, -50.0), (12.0, 50.0, 50.0)), "wall")
    hole = Obstacle(Box((9.0, -50.0, -50.0), (13.0, 50.0, 50.0)), "hole", stops=False)
    assert share([wall, hole]) == 0.0
    assert share([hole, wall]) == 1.0
    plug = Obstacle(Box((11.0, -50.0, -50.0), (11.5, 50.0, 50.0)), "plug")
    hits = first_hits(np.zeros((1, 3)), np.array([[1.0, 0.0, 0.0]]), [wall, hole, plug])
    assert (hits.distance[0], hits.index[0]) == (11.0, 2)
    thin = Obstacle(Box((9.0, -50.0, -50.0), (11.0, 50.0, 50.0)), "half a hole", stops=False)
    hits = first_hits(np.zeros((1, 3)), np.array([[1.0, 0.0, 0.0]]), [wall, thin])
    assert (hits.distance[0], hits.index[0]) == (11.0, 0)


@given(st.floats(1.0, 89.0), st.sampled_from(DIRECTIONS))
@settings(max_examples=40, deadline=None)
def test_cone_is_a_cone(half: float, direction: str) -> None:
    """Rays are unit vectors within the half angle, even about the axis, with the mean cosine of a cap."""
    axis = {"x": (1.0, 0, 0), "y": (0, 1.0, 0), "z": (0, 0, 1.0)}[direction[1]]
    axis = tuple(v if direction[0] == "+" else -v for v in axis)  # type: ignore[assignment]
    rays = cone(axis, half, 2000)
    assert np.allclose(np.linalg.norm(rays, axis=1), 1.0)
    cosines = rays @ np.array(axis)
    assert cosines.min() >= math.cos(math.radians(half)) - 1e-12
    assert cosines.mean() == pytest.approx((1 + math.cos(math.radians(half))) / 2, abs=1e-3)
    aside = rays.mean(axis=0) - cosines.mean() * np.array(axis)
    assert np.abs(aside).max() < 5e-3


def inside(solid: Solid, points: np.ndarray) -> np.ndarray:
    """Whether points lie in a solid, by its definition."""
    match solid:
        case Box():
            return np.all((points >= solid.low) & (points <= solid.high), axis=1)
        case Cylinder():
            along = AXES.index(solid.axis)
            rest = [i for i in range(3) if i != along]
            near = np.hypot(*(points[:, i] - solid.start[i] for i in rest)) <= solid.radius
            height = points[:, along] - solid.start[along]
            return near & (height >= 0) & (height <= solid.length)
        case Wedge():
            shares = np.zeros(len(points))
            for face in (solid.base, solid.back):
                axis = AXES.index(face[1])  # type: ignore[arg-type]
                low, size = solid.box.low[axis], solid.box.size[axis]
                share_ = (points[:, axis] - low) / size
                shares += share_ if face[0] == "-" else 1 - share_
            return inside(solid.box, points) & (shares <= 1)


numbers = st.floats(-20.0, 20.0)
sizes = st.floats(2.0, 20.0)
boxes = st.builds(
    lambda x, y, z, a, b, c: Box((x, y, z), (x + a, y + b, z + c)),
    numbers,
    numbers,
    numbers,
    sizes,
    sizes,
    sizes,
)
solids: st.SearchStrategy[Solid] = st.one_of(
    boxes,
    st.builds(
        lambda axis, x, y, z, length, radius: Cylinder(axis, (x, y, z), length, radius),
        st.sampled_from(AXES), numbers, numbers, numbers, sizes, sizes,
    ),
    st.builds(
        Wedge, boxes, st.sampled_from(DIRECTIONS[:2]), st.sampled_from(DIRECTIONS[2:]),
    ),
)  # fmt: skip


@given(st.lists(st.tuples(solids, st.booleans()), min_size=1, max_size=4), st.integers(0, 10_000))
@settings(max_examples=60, deadline=None)
def test_hits_are_those_of_small_steps(made: list[tuple[Solid, bool]], seed: int) -> None:
    """The first hit is where a walk in small steps first finds that the last solid drawn there stops rays."""
    rng = np.random.default_rng(seed)
    obstacles = [Obstacle(solid, str(i), stops) for i, (solid, stops) in enumerate(made)]
    origins = rng.uniform(-40.0, 40.0, (12, 3))
    targets = rng.uniform(-15.0, 15.0, (12, 3))
    rays = (targets - origins) / np.linalg.norm(targets - origins, axis=1)[:, None]
    hits = first_hits(origins, rays, obstacles)
    steps = np.arange(0.0, 120.0, 0.05)
    for origin, ray, distance in zip(origins, rays, hits.distance, strict=True):
        points = origin + steps[:, None] * ray
        solid = np.zeros(len(points), dtype=bool)
        for one in obstacles:
            solid[inside(one.solid, points)] = one.stops
        walked = steps[np.argmax(solid)] if solid.any() else math.inf
        if math.isfinite(walked):
            assert distance <= walked + 1e-6
            # The walk may step over what is thinner than a step, never the other way round.
            if walked - distance > 0.051:
                middle = origin + (distance + 1e-6) * ray
                last = [o.stops for o in obstacles if inside(o.solid, middle[None] + 0.0)[0]]
                assert not last or last[-1]
        elif math.isfinite(distance):
            run = origin + (distance + np.linspace(0.0, 0.05, 50)[:, None]) * ray
            assert any(inside(o.solid, run).any() for o in obstacles if o.stops)


def test_spread_covers_a_lens() -> None:
    """Points on a flat lens lie on it, fill it evenly and have their middle at its middle."""
    points = spread(Box((5.0, 0.0, 2.0), (5.0, 10.0, 6.0)), 4096)
    assert np.all(points[:, 0] == 5.0)
    assert np.allclose(points.mean(axis=0), [5.0, 5.0, 4.0], atol=0.02)
    counts, _, _ = np.histogram2d(points[:, 1], points[:, 2], bins=(8, 4), range=((0, 10), (2, 6)))
    assert counts.min() > 0.9 * 4096 / 32
    assert counts.max() < 1.1 * 4096 / 32


def test_rays_back_and_forth_meet_what_lies_on_either_side() -> None:
    """Most rays go forwards; the few that go backwards meet a box there, and none of the others does."""
    rays = np.array([(1.0, 0.0, 0.0)] * 3 + [(-1.0, 0.0, 0.0), (0.0, 1.0, 0.0)])
    behind, beside = Box((-12.0, -1.0, -1.0), (-10.0, 1.0, 1.0)), Box((-1.0, 5.0, -1.0), (1.0, 6.0, 1.0))
    met = first_hits(np.zeros_like(rays), rays, [Obstacle(behind, "behind"), Obstacle(beside, "beside")])
    assert met.distance.tolist() == [math.inf] * 3 + [10.0, 5.0]
    assert met.index.tolist()[3:] == [0, 1]


def test_many_solids_at_once_as_one_by_one() -> None:
    rng = np.random.default_rng(7)
    origins, directions = rng.integers(-9, 10, (2, 60, 3)).astype(float)
    box = Box((-3.0, -2.0, -1.0), (4.0, 2.0, 5.0))
    solids = [box, Cylinder("y", (1.0, -4.0, 2.0), 6.0, 2.0), Box((0.0, 0.0, 0.0), (1.0, 6.0, 1.0)), box]
    for known, solid in zip(spans(origins, directions, solids), solids, strict=True):
        assert np.array_equal(known, span(origins, directions, solid))
    assert spans(origins, directions, []) == []
