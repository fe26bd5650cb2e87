"""Bodies with round and sloping pieces: what is nearest, how deep a hit is, what lies inside."""

from __future__ import annotations

import math

import numpy as np
import pytest

from fitplan.model.solids import AXES, Box, Cylinder, Vec, Wedge
from fitplan.model.vehicle import State
from fitplan.verify.body import Body, BodyPiece, _cells_met, halves, holds
from fitplan.verify.nearest import nearest
from fitplan.verify.overlap import nearest_outline, overlap_boxes
from fitplan.verify.shapes import Disc, Prism, as_prism, eroded, shape_of, swept

HULL = Box((-16, -16, -16), (16, 16, 16))
BLOCK = (HULL, "fixed")


def body_of(*drawn: tuple[Box | Cylinder | Wedge, State], background: State = "free") -> Body:
    pieces = [BodyPiece(shape_of(solid), state, f"{state} {i}") for i, (solid, state) in enumerate(drawn)]
    return Body(HULL, background, pieces)


def turned(values: tuple[float, float, float], axis: int) -> Vec:
    """Return values along an axis and across it in the order x, y, z: (1, 2, 3) about y are (2, 1, 3)."""
    along, first, second = values
    across = [first, second]
    found = [along if i == axis else across.pop(0) for i in range(3)]
    return (found[0], found[1], found[2])


def box(axis: int, low: tuple[float, float, float], high: tuple[float, float, float]) -> Box:
    return Box(turned(low, axis), turned(high, axis))


# -- what a line passes nearest ----------------------------------------------------------------------------


@pytest.mark.parametrize("axis", [0, 1, 2])
@pytest.mark.parametrize("bored", [True, False])
def test_a_line_is_as_far_from_a_round_wall_as_its_nearest_point(axis: int, bored: bool) -> None:
    """In a bore the end that is farther out, beside a post the nearest point; told within 0.07 mm.

    Half the reach lies just below that distance, and finds nothing; half just above it.
    """
    rng = np.random.default_rng(axis)
    # A block beside it cuts the room into cells; it lies farther off than anything that is asked for.
    aside = (box(axis, (-16, -16, 13), (-12, -12, 16)), "fixed")
    round_ = Cylinder(AXES[axis], turned((-16, 1, -2), axis), 32, 9 if bored else 4)
    body = body_of(BLOCK, (round_, "free"), aside) if bored else body_of((round_, "fixed"), aside)
    name = "fixed 0"
    for _ in range(12):
        middle = rng.uniform(-8, 8)
        turns, out = rng.uniform(0, 2 * math.pi, 2), rng.uniform(3, 8, 2) if bored else rng.uniform(5, 8, 2)
        if not bored:
            turns[1] = turns[0] + rng.uniform(-0.5, 0.5)
        ends = [
            (middle + 3 * n, 1 + r * math.cos(t), -2 + r * math.sin(t))
            for n, r, t in zip((-1, 1), out, turns, strict=True)
        ]
        start, end = (turned(one, axis) for one in ends)  # type: ignore[arg-type]
        shares = np.linspace(0, 1, 2001)
        flat = np.array(ends[0][1:]) + shares[:, None] * (np.array(ends[1][1:]) - np.array(ends[0][1:]))
        away = np.hypot(flat[:, 0] - 1, flat[:, 1] + 2)
        true = 9 - away.max() if bored else away.min() - 4
        assert nearest(body, start, end, true - 0.03, ("fixed",)) is None
        found = nearest(body, start, end, true + 0.2, ("fixed",))
        assert found is not None
        assert found[0] == pytest.approx(true, abs=0.07)
        assert found[1].name == name
        assert nearest(body, start, end, true + 0.2, ("removable",)) is None


@pytest.mark.parametrize("axis", [0, 1, 2])
def test_the_nearest_of_several_is_found(axis: int) -> None:
    """Posts in one cell and a block: whichever is nearest, in whichever order they are drawn."""
    at = [(0, -9.0, 0.0), (0, 9.0, 1.0), (0, 0.0, 10.0)]
    posts = [(Cylinder(AXES[axis], turned((-16, y, z), axis), 32, 3.0), "fixed") for _, y, z in at]
    for order in ((0, 1, 2), (2, 1, 0), (1, 2, 0)):
        body = body_of(*(posts[n] for n in order))  # type: ignore[arg-type]
        for y, z in ((-5.0, 0.0), (5.0, 1.0), (0.0, 6.0), (0.0, 2.0)):
            far = [math.hypot(y - a, z - b) - 3 for _, a, b in at]
            start, end = turned((-1, y, z), axis), turned((1, y, z), axis)
            found = nearest(body, start, end, 8.0, ("fixed",))
            assert found is not None
            assert found[0] == pytest.approx(min(far), abs=0.03)
            assert found[1].name == f"fixed {order.index(int(np.argmin(far)))}"
            assert nearest(body, start, end, min(far) - 0.02, ("fixed",)) is None


@pytest.mark.parametrize("axis", [0, 1, 2])
def test_a_line_beside_a_slope(axis: int) -> None:
    """A wedge of 3 : 4 : 5: a point (d, d) off its slope's middle is 7 / 5 of d away."""
    base, back = [f"+{AXES[i]}" for i in range(3) if i != axis]
    slope = Wedge(box(axis, (-16, -4, -3), (16, 4, 3)), base, back)  # type: ignore[arg-type]
    body = body_of((slope, "fixed"))
    # Its full sides are at the high ends, so the slope faces the low ones: through (-4, 3) and (4, -3).
    for d in (0.5, 1.0, 2.0):
        true = d * 7 / 5
        start, end = turned((-2, -d, -d), axis), turned((2, -d, -d), axis)
        assert nearest(body, start, end, true - 0.02, ("fixed",)) is None
        found = nearest(body, start, end, true + 0.2, ("fixed",))
        assert found is not None
        assert found[0] == pytest.approx(true, abs=0.03)
        inside = nearest(body, turned((-2, d, d), axis), turned((2, d, d), axis), 1.0, ("fixed",))
        assert inside is not None
        assert inside[0] == pytest.approx(0.0, abs=0.03)


@pytest.mark.parametrize("axis", [0, 1, 2])
def test_a_tube_in_a_bore(axis: int) -> None:
    """Three round pieces on one another: a bore of 12, a tube of 9 in it, a free core of 6.

    Between 6 and 9 it is solid: a line inside is as far from it as from the core's rim, one outside from the
    tube's or the bore's, whichever is nearer.
    """
    start = turned((-16, 0, 0), axis)
    tube = [
        (BLOCK),
        (Cylinder(AXES[axis], start, 32, 12), "free"),
        (Cylinder(AXES[axis], start, 32, 9), "removable"),
        (Cylinder(AXES[axis], start, 32, 6), "free"),
    ]
    body = body_of(*tube)  # type: ignore[arg-type]
    for turn in (0.7, 3.9):
        for out, true, name in (
            (1.0, 5.0, "removable 2"),
            (5.0, 1.0, "removable 2"),
            (7.5, 0.0, "removable 2"),
            (10.0, 1.0, "removable 2"),
            (11.5, 0.5, "fixed 0"),
        ):
            spot = (out * math.cos(turn), out * math.sin(turn))
            ends = turned((-0.4, *spot), axis), turned((0.4, *spot), axis)
            if true:
                assert nearest(body, *ends, true - 0.03, ("fixed", "removable")) is None
            found = nearest(body, *ends, true + 0.3, ("fixed", "removable"))
            assert found is not None
            assert found[0] == pytest.approx(true, abs=0.06)
            assert found[1].name == name
            assert (nearest(body, *ends, true + 0.3, ("fixed",)) is not None) == (name == "fixed 0")


@pytest.mark.parametrize("axis", [0, 1, 2])
def test_what_lies_in_a_tube_is_met_there(axis: int) -> None:
    """The same tube: a thin rod of a millimetre hits it between 6 and 9 and the block beyond 12."""
    start = turned((-16, 0, 0), axis)
    body = body_of(
        BLOCK,  # type: ignore[arg-type]
        (Cylinder(AXES[axis], start, 32, 12), "free"),
        (Cylinder(AXES[axis], start, 32, 9), "removable"),
        (Cylinder(AXES[axis], start, 32, 6), "free"),
    )
    for turn in np.linspace(0, 2 * math.pi, 7):
        for out, met in (
            (5.4, []),
            (5.6, ["removable 2"]),
            (9.4, ["removable 2"]),
            (9.6, []),
            (11.4, []),
            (11.6, ["fixed 0"]),
        ):
            rod = Cylinder(AXES[axis], turned((-4, out * math.cos(turn), out * math.sin(turn)), axis), 8, 0.5)
            hits = body.hits(shape_of(rod), ("fixed", "removable"))
            assert [hit.piece.name for hit in hits] == met, (turn, out)


# -- how deep ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("axis", [0, 1, 2])
def test_a_hit_is_as_deep_as_the_deepest_of_its_cells(axis: int) -> None:
    """A post of 10 mm cut by planes at 3 mm on either side: a cell inside, others on its outline.

    A box over 9 × 6 mm of it is 6 deep in the cell and 3 beside it; one over 1 to 9 mm is 2 and then 6.
    """
    cut = [
        (box(axis, (-16, -3, -16), (16, 3, 16)), "free"),
        (box(axis, (-16, -16, -3), (16, 16, 3)), "free"),
    ]
    post = (Cylinder(AXES[axis], turned((-10, 0, 0), axis), 20, 10), "fixed")
    body = body_of(*cut, post)  # type: ignore[arg-type]
    for low, high, deep in (
        ((-5, -3, -3), (5, 6, 3), 6.0),
        ((-5, 1, -3), (5, 9, 3), 6.0),
        ((-5, -3, -3), (5, 3, 3), 6.0),
        ((-5, -2, -3), (5, 3, 3), 5.0),
        ((-2, -2, -3), (2, 3, 3), 4.0),
    ):
        (hit,) = body.hits(box(axis, low, high), ("fixed",))
        assert hit.piece.name == "fixed 2"
        assert hit.depth == pytest.approx(deep, abs=1e-3)


@pytest.mark.parametrize("axis", [0, 1, 2])
@pytest.mark.parametrize("out", [0.3, 1.0, 2.5])
def test_what_stands_out_of_a_bore_does_so_by_its_farthest_corner(axis: int, out: float) -> None:
    """Of a bore of 10 mm: a box from its middle to (6, 8) is just in it; along that line it stands out."""
    body = body_of(BLOCK, (Cylinder(AXES[axis], turned((-16, 0, 0), axis), 32, 10), "free"))  # type: ignore[arg-type]
    assert body.hits(box(axis, (-5, 0, 0), (5, 6, 8)), ("fixed",)) == []
    grown = 1 + out / 10
    (hit,) = body.hits(box(axis, (-5, 0, 0), (5, 6 * grown, 8 * grown)), ("fixed",))
    assert hit.depth == pytest.approx(out, abs=1e-3)


# -- inside ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", range(9))
def test_boxes_lie_in_a_prism_where_all_their_corners_do(seed: int) -> None:
    """A prism is convex: corners are asked one by one, by right angles and straight lines."""
    rng = np.random.default_rng(seed)
    axis, kind = seed % 3, seed // 3
    first, second = (i for i in range(3) if i != axis)
    planes = [np.sort(rng.uniform(-9, 9, 9)) for _ in range(3)]
    low, high = (
        np.stack(np.meshgrid(*(line[part] for line in planes), indexing="ij"), axis=-1).reshape(-1, 3)
        for part in (slice(None, -1), slice(1, None))
    )
    if kind == 0:
        prism = shape_of(Cylinder(AXES[axis], turned((-6, 1.5, -1), axis), 11, 6))
    elif kind == 1:
        sign = "+-"[seed % 2]
        prism = shape_of(
            Wedge(box(axis, (-6, -7, -5), (5, 7, 5)), f"{sign}{AXES[first]}", f"+{AXES[second]}")  # type: ignore[arg-type]
        )
    else:
        prism = as_prism(box(axis, (-6, -7, -5), (5, 6, 7)), axis)
    assert isinstance(prism, Prism)

    def inside(spot: np.ndarray) -> bool:
        u, v, along = spot[first], spot[second], spot[axis]
        if not -6 <= along <= 5:
            return False
        if kind == 0:
            return math.hypot(u - 1.5, v + 1) <= 6
        if kind == 1:
            full = (u + 7) / 14 if sign == "+" else (7 - u) / 14
            return abs(u) <= 7 and abs(v) <= 5 and full + (v + 5) / 10 >= 1
        return -7 <= u <= 6 and -5 <= v <= 7

    corners = [
        [inside(np.where([n & 1, n & 2, n & 4], b, a)) for n in range(8)]
        for a, b in zip(low, high, strict=True)
    ]
    touched, found = (mask.ravel() for mask in _cells_met(prism, planes))
    assert found.tolist() == [all(row) for row in corners]
    assert touched.tolist() == overlap_boxes(prism, low, high).tolist()
    assert 0 < found.sum() < touched.sum() < 512
    points = rng.uniform(-9, 9, (200, 3))
    assert [holds(prism, tuple(p)) for p in points] == [inside(p) for p in points]
    # On the surface and 2e-7 mm beyond it, along its axis.
    spot = turned((5, 1.5, 2), axis)
    assert holds(prism, spot)
    assert not holds(prism, turned((5 + 2.5e-7, 1.5, 2), axis))


@pytest.mark.parametrize("axis", [0, 1, 2])
def test_a_box_is_halved_across_an_axis(axis: int) -> None:
    whole = Box((1, 2, 3), (4, 6, 8))
    one, other = halves(whole, axis, whole.low[axis] + 1)
    assert one.low == whole.low
    assert other.high == whole.high
    assert one.high[axis] == other.low[axis] == whole.low[axis] + 1
    assert one.volume + other.volume == pytest.approx(whole.volume)


@pytest.mark.parametrize("spot", [(3.0, 4.0), (4.0, 4.0), (3.0, 9.0)])
def test_the_nearest_point_of_a_rim_from_inside(spot: tuple[float, float]) -> None:
    """From the middle any will do; from elsewhere the one straight on, a millimetre off the middle too."""
    disc = Disc((3.0, 4.0), 7.0)
    found = nearest_outline(spot, disc)
    assert math.dist(found, disc.center) == pytest.approx(7.0)
    assert math.dist(found, spot) == pytest.approx(7.0 - math.dist(spot, disc.center))


def test_what_is_eroded_to_a_line_is_gone_or_flat() -> None:
    """A bar 10 × 4 mm as a polygon: 2 mm off every side leave nothing inside, 1.9 mm a strip."""
    bar = as_prism(Box((0, 0, 0), (10, 4, 20)), 2)
    flat = eroded(bar, 2.0)
    assert flat is None or min(flat.bounds.size) == pytest.approx(0.0)
    strip = eroded(bar, 1.9)
    assert strip is not None
    assert strip.bounds.low == pytest.approx((1.9, 1.9, 1.9))
    assert strip.bounds.high == pytest.approx((8.1, 2.1, 18.1))
    assert eroded(bar, 2.1) is None


@pytest.mark.parametrize("axis", [0, 1, 2])
@pytest.mark.parametrize("far", [0.0, 0.5, 1.0, 2.0])
def test_a_box_sweeps_as_far_as_it_moves(axis: int, far: float) -> None:
    """Whole millimetres and parts of one, either way; by nothing it stays what it is."""
    box = Box((1, 2, 3), (4, 6, 8))
    for sign in "+-":
        (found,) = swept(box, f"{sign}{AXES[axis]}", far)  # type: ignore[arg-type]
        low, high = list(box.low), list(box.high)
        if sign == "+":
            high[axis] += far
        else:
            low[axis] -= far
        assert (found.bounds.low, found.bounds.high) == (tuple(low), tuple(high))
        round_ = shape_of(Cylinder(AXES[axis], (1.0, 2.0, 3.0), 5.0, 2.0))
        bounds = [one.bounds for one in swept(round_, f"{sign}{AXES[axis]}", far)]  # type: ignore[arg-type]
        assert max(one.size[axis] for one in bounds) == pytest.approx(5.0 + far)
