"""The drawing order of a body, resolved exactly."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fitplan.model.solids import Box, Cylinder, Solid, Wedge
from fitplan.model.vehicle import State
from fitplan.verify.body import Body, BodyPiece
from fitplan.verify.nearest import nearest
from fitplan.verify.overlap import overlap
from fitplan.verify.shapes import shape_of

from .given_solids import BOXES, HALVES, SOLIDS

HULL = Box((-16, -16, -16), (16, 16, 16))
STATES: tuple[State, ...] = ("fixed", "keep-clear", "free")
DRAWN = st.lists(st.tuples(SOLIDS, st.sampled_from(STATES)), min_size=1, max_size=6)
POINTS = st.tuples(HALVES, HALVES, HALVES)


def body_of(*drawn: tuple[Solid, State], background: State = "free") -> Body:
    pieces = [BodyPiece(shape_of(solid), state, f"{state} {i}") for i, (solid, state) in enumerate(drawn)]
    return Body(HULL, background, pieces)


def solid_points(shape: object, low: np.ndarray, high: np.ndarray, seed: int, count: int) -> list:
    points = np.random.default_rng(seed).uniform(low, high, (count, 3))
    grains = [Box(tuple(p - 1e-4), tuple(p + 1e-4)) for p in points]
    return [p for p, grain in zip(points, grains, strict=True) if overlap(shape, grain)]


@given(DRAWN, SOLIDS, st.sampled_from(STATES))
@settings(max_examples=60, deadline=None)
def test_hits_agree_with_points_asked_one_by_one(drawn: list, solid: Solid, wanted: State) -> None:
    """Sampled points of a shape, each asked from the drawing order, show hits only where hits are claimed."""
    body, shape = body_of(*drawn), shape_of(solid)
    hits = body.hits(shape, (wanted,))
    points = solid_points(shape, np.array(solid.bounds.low), np.array(solid.bounds.high), 6, 40)
    states = [body.state_at(tuple(p)) for p in points]
    if wanted in states:
        assert hits or near_an_outline(drawn, [p for p, s in zip(points, states, strict=True) if s == wanted])
    for hit in hits:
        # Some point of the region is a point of the shape in the wanted state.
        low, high = np.array(hit.region.low), np.array(hit.region.high)
        tries = np.random.default_rng(7).uniform(low, high, (3000, 3))
        assert (
            any(
                body.state_at(tuple(p)) == wanted and overlap(shape, Box(tuple(p - 1e-6), tuple(p + 1e-6)))
                for p in tries
            )
            or min(hit.region.size) < 0.2
        )


def test_all_of_a_stud_is_touched() -> None:
    """A stud that a wall beside it cuts into cells carries over its whole breadth, not over one cell."""
    stud = Cylinder("z", (0.0, 0.0, 0.0), 1.7, 2.4)
    wall = Box((-1.0, 5.0, 0.0), (0.8, 6.0, 8.0))
    body = body_of((stud, "fixed"), (wall, "fixed"))
    found = body.regions(shape_of(Box((-8.0, -8.0, 1.4), (8.0, 4.0, 5.0))), ("fixed",))
    assert min(box.low[0] for box in found) == pytest.approx(-2.4)
    assert max(box.high[0] for box in found) == pytest.approx(2.4)
    assert {box.high[2] for box in found} == {1.7}


def near_an_outline(drawn: list, points: list) -> bool:
    grown = [Box(tuple(p - 0.05), tuple(p + 0.05)) for p in points]
    return all(any(overlap(shape_of(solid), box) for solid, _ in drawn) for box in grown)


def test_a_round_cell_lies_in_a_round_boiler() -> None:
    """A cylinder fits a free boiler bored into a fixed block exactly; grown by 0.01 mm it cuts the wall."""
    drawn = [(Box((-14, -14, -14), (14, 14, 14)), "fixed"), (Cylinder("x", (-14, 0, 0), 28, 10), "free")]
    body = body_of(*drawn)
    for axis_offset, radius, free in ((0.0, 10.0, True), (3.0, 7.0, True), (3.0, 7.01, False)):
        cell = shape_of(Cylinder("x", (-10, axis_offset, 0), 20, radius))
        assert (body.hits(cell, ("fixed",)) == []) is free
    square = shape_of(Box((-10, -6, -8), (10, 6, 8)))
    assert body.hits(square, ("fixed",)) == []
    assert body.hits(shape_of(Box((-10, -6, -8), (10, 6, 8.05))), ("fixed",))


def test_a_boiler_beside_a_cab_is_one_space() -> None:
    """A box that reaches from a boiler into a cab touches no wall, whichever of the two was bored first."""
    block: tuple[Solid, State] = (Box((-14, -14, -14), (14, 14, 14)), "fixed")
    boiler: tuple[Solid, State] = (Cylinder("x", (-14, 0, 0), 14, 10), "free")
    cab: tuple[Solid, State] = (Box((0, -12, -12), (14, 12, 12)), "free")
    for drawn in ((block, boiler, cab), (block, cab, boiler)):
        body = body_of(*drawn)
        assert body.hits(shape_of(Box((-8, -6, -7.9), (8, 6, 7.9))), ("fixed",)) == []
        assert body.hits(shape_of(Box((-8, -6, -8.2), (8, 6, 8.2))), ("fixed",))
        assert body.hits(shape_of(Box((0, -12, -12), (8, 12, 12))), ("fixed",)) == []


def test_what_is_drawn_later_governs() -> None:
    """Fixed over free over fixed: the innermost block is hit, the gap round it is not."""
    body = body_of(
        (Box((-10, -10, -10), (10, 10, 10)), "fixed"),
        (Box((-8, -8, -8), (8, 8, 8)), "free"),
        (Cylinder("z", (0, 0, -4), 8, 2), "fixed"),
    )
    assert body.hits(shape_of(Box((3, 3, -4), (8, 8, 4))), ("fixed",)) == []
    (hit,) = body.hits(shape_of(Box((1, -1, -1), (3, 1, 1))), ("fixed",))
    assert hit.piece.name == "fixed 2"
    assert hit.depth == pytest.approx(1.0, abs=0.01)
    assert body.state_at((0, 0, 0)) == "fixed"
    assert body.state_at((5, 0, 0)) == "free"
    assert body.state_at((9, 0, 0)) == "fixed"


def test_a_slope_roof_is_cut_exactly() -> None:
    """A box touches the underside of a wedge roof at 3:4:5 and hits it when it stands 0.01 mm higher."""
    body = body_of((Wedge(Box((0, -5, 0), (8, 5, 6)), "+z", "+x"), "fixed"))
    for height, free in ((3.0, True), (3.01, False)):
        low = shape_of(Box((0, -2, 0), (4, 2, height)))
        assert (body.hits(low, ("fixed",)) == []) is free


@given(DRAWN, POINTS, POINTS)
@settings(max_examples=60, deadline=None)
def test_nearest_agrees_with_points_of_the_body(drawn: list, start: tuple, end: tuple) -> None:
    """No sampled fixed point is nearer to a line than the distance that is claimed."""
    body = body_of(*drawn)
    found = nearest(body, start, end, 2.0, ("fixed",))
    distance = found[0] if found else 2.0
    points = np.random.default_rng(8).uniform(
        np.minimum(start, end) - 2, np.maximum(start, end) + 2, (400, 3)
    )
    first, step = np.array(start), np.array(end) - np.array(start)
    square = float(step @ step)
    share = np.clip((points - first) @ step / square, 0, 1) if square else np.zeros(len(points))
    away = np.linalg.norm(points - first - share[:, None] * step, axis=1)
    for point, d in zip(points, away, strict=True):
        if d < distance - 0.06:
            assert body.state_at(tuple(point)) != "fixed"


@pytest.mark.parametrize("slope", [0.0, 0.3])
def test_a_wire_beside_a_boiler_wall(slope: float) -> None:
    """Inside a bore of radius 10 a line at 7 mm from the axis is 3 mm from the wall; outside it, too."""
    block: tuple[Solid, State] = (Box((-14, -14, -14), (14, 14, 14)), "fixed")
    body = body_of(block, (Cylinder("x", (-14, 0, 0), 28, 10), "free"))
    turn = (7 * math.cos(slope), 7 * math.sin(slope))
    found = nearest(body, (-10, *turn), (10, *turn), 6.0, ("fixed",))
    assert found is not None
    assert found[0] == pytest.approx(3.0, abs=0.04)
    assert nearest(body, (-10, *turn), (10, *turn), 2.9, ("fixed",)) is None
    tank = body_of((Cylinder("x", (-10, 0, 0), 20, 5), "fixed"))
    outside = nearest(tank, (-10, *turn), (10, *turn), 6.0, ("fixed",))
    assert outside is not None
    assert outside[0] == pytest.approx(2.0, abs=0.04)


def test_a_piece_that_is_drawn_over_hides_nothing_of_what_lies_below() -> None:
    """A tank with a bore in it, of which a smaller one was drawn first: it lies round the bore alone."""
    tank, first = Cylinder("x", (-10, 0, 0), 20, 10), Cylinder("x", (-10, 6.9, 0), 20, 2)
    body = body_of((tank, "fixed"), (first, "free"), (Cylinder("x", (-10, 5, 0), 20, 4), "free"))
    found = nearest(body, (0, 8.2, 1.6), (0.5, 8.2, 1.6), 2.0, ("fixed",))
    assert found is not None
    assert found[0] == pytest.approx(4 - math.hypot(3.2, 1.6), abs=0.03)
    assert found[1] is body.pieces[1]


def test_a_wall_as_thin_as_paper_has_two_sides() -> None:
    body = body_of((Box((1, -9, -9), (1.05, 9, 9)), "fixed"))
    assert body.hits(shape_of(Box((0.5, 0, 0), (1.04, 2, 2))), ("fixed",))
    assert body.hits(shape_of(Box((1.01, 0, 0), (2, 2, 2))), ("fixed",))
    assert not body.hits(shape_of(Box((1.06, 0, 0), (2, 2, 2))), ("fixed",))
    assert not body.hits(shape_of(Box((0, 0, 0), (0.99, 2, 2))), ("fixed",))


@given(DRAWN, BOXES)
@settings(max_examples=40, deadline=None)
def test_every_point_has_one_state(drawn: list, box: Box) -> None:
    """A box inside the hull lies in at least one state, and in none but the states of its points."""
    body = body_of(*drawn)
    shape = shape_of(box)
    assert any(body.hits(shape, (state,)) for state in STATES)
