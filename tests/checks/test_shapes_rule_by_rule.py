"""Rays, rooms, gaps and ways out at the limits of each rule; figures by hand and in closed form."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import product

import numpy as np
import pytest

from fitplan.checks.access import _allowed, check_access
from fitplan.checks.connector_bodies import (
    ConnectorPose,
    CouplingGap,
    _angle,
    _in_gap,
    _parted,
    _threaded,
    least_gap,
    lies_in,
    lyings,
)
from fitplan.checks.curve_settings import CurveSettings
from fitplan.checks.curves import (
    _above,
    _beside,
    _far_end,
    _least_radius,
    _neighbours,
    _radius_for,
    _row,
    _too_sharp,
    throw_of,
)
from fitplan.checks.drive import drive_findings, sunk_mm
from fitplan.checks.gaps import blocked_share, check_gaps, wheels_above_floor
from fitplan.checks.lift_out import _close, _long, short_wires
from fitplan.checks.on_curve import middle_radius, on_one_circle, pivot_radius, pivots, stands
from fitplan.checks.outline import Outline, hull_gap, hull_of, outline_of
from fitplan.checks.places import check_places
from fitplan.checks.preferences import _surface, _thick, _ways, check_preferences
from fitplan.checks.rays import Obstacle, _across, cone, first_hits, spread
from fitplan.checks.safety import SafetySettings, _room_to_swell, is_small
from fitplan.checks.scene import (
    axles,
    body_obstacles,
    coupling_solids,
    obstacles_of,
    placed_obstacles,
    wheel_solids,
)
from fitplan.checks.wire_clearance import hanging_bundles, least_distance, wheel_room, wires_at_wheels
from fitplan.model.built import BuiltTrain
from fitplan.model.found import Finding
from fitplan.model.hands import least_coupling_wire
from fitplan.model.needed import Exchange, Preference
from fitplan.model.operation import Track
from fitplan.model.part import Part
from fitplan.model.placed import Piece, Placement, Rebuild, Shelf
from fitplan.model.solids import Cylinder, Place, Vec, Wedge, pose_named
from fitplan.model.train import TrainVehicle
from fitplan.model.vehicle import BodySolid, BuiltIn, Coupling, Opening, Removable, Vehicle, Wheels, Window
from fitplan.model.ways_in import Exchanged, WayOut
from fitplan.model.wired import Crossing, Harness, Leg, Wire
from tests.checks.test_connector_bodies import coupled, pair
from tests.checks.test_lift_out import PIN, lifted
from tests.circuit.sample_parts import box, need, net, part, train, vehicle
from tests.circuit.test_leads import wire


def built(
    *shapes: Vehicle, track: Track | None = None, parts: tuple[Placement, ...] = (), **more: object
) -> BuiltTrain:
    vehicles = [TrainVehicle(f"v{i}", one) for i, one in enumerate(shapes or (vehicle(),))]
    made = train([need(one.need, one.part) for one in parts], [], vehicles, track=track or Track(320.0))
    harness = more.pop("harness", Harness())
    return BuiltTrain(made, parts, harness, (), **more)  # type: ignore[arg-type]


def laid(
    name: str = "x", at: Vec = (40.0, 14.0, 19.2), size: Vec = (20.0, 10.0, 5.0), where: str = "v0"
) -> Placement:
    return Placement(name, part(name, size=size), where, Place(pose_named("+x+y+z"), at), "body")


# -- rays --------------------------------------------------------------------------------------------------


def hit(
    obstacles: list[Obstacle], origin: Vec = (0.0, 0.0, 0.0), along: Vec = (1.0, 0.0, 0.0)
) -> tuple[float, int]:
    found = first_hits(np.array([origin]), np.array([along]), obstacles)
    return float(found.distance[0]), int(found.index[0])


def solid(x0: float, x1: float, stops: bool = True) -> Obstacle:
    return Obstacle(box(x0, -1, -1, x1, 1, 1), f"{x0}", stops)


@pytest.mark.parametrize(
    ("obstacles", "distance", "index"),
    [
        ([], math.inf, -1),
        ([solid(3, 5)], 3.0, 0),
        ([solid(-5, -3)], math.inf, -1),
        ([solid(-1, 5)], 0.0, 0),  # begun inside
        ([solid(-5, 0)], math.inf, -1),  # left where it begins
        ([solid(3, 5), solid(2, 4)], 2.0, 1),
        ([solid(3, 5), solid(3, 4)], 3.0, 0),  # of two at one place the first
        ([solid(3, 6), solid(2, 4, False)], 4.0, 0),  # a hole in what was drawn before
        ([solid(2, 4, False), solid(3, 6)], 3.0, 1),  # not in what is drawn later
        ([solid(3, 6), solid(2, 7, False)], math.inf, -1),
        ([solid(3, 6), solid(2, 4, False), solid(4, 5, False)], 5.0, 0),  # holes that meet
        ([solid(3, 6), solid(4, 5, False), solid(2, 4, False)], 5.0, 0),
        ([solid(3, 6), solid(4, 5, False)], 3.0, 0),
        ([solid(3, 6), solid(2, 4, False), solid(3.5, 3.7)], 3.5, 2),  # drawn into the hole
        ([solid(3, 4), solid(2, 4, False), solid(8, 9)], 8.0, 2),
    ],
)
def test_what_a_ray_meets_among_solids_and_holes(
    obstacles: list[Obstacle], distance: float, index: int
) -> None:
    """Boxes along one line, later ones over earlier; distances count in the ray's own length."""
    assert hit(obstacles) == pytest.approx((distance, index))
    assert hit(obstacles, along=(2.0, 0.0, 0.0)) == pytest.approx((distance / 2, index))


@pytest.mark.parametrize(
    ("y", "met"), [(0.0, True), (1.0, True), (1.001, False), (-1.0, True), (-1.001, False)]
)
def test_a_ray_along_a_face(y: float, met: bool) -> None:
    """Level with a face it still meets the box; beside it not."""
    assert math.isfinite(hit([solid(3, 5)], (0.0, y, 0.0))[0]) is met


def test_a_ray_through_a_cylinder_and_along_it() -> None:
    """Lying across: it enters at c − √(r² − h²); along its axis at its end, inside the radius alone."""
    across = [Obstacle(Cylinder("y", (10.0, -5.0, 0.0), 10.0, 4.0), "c")]
    for high in (0.0, 2.0, -3.9):
        assert hit(across, (0.0, 0.0, high))[0] == pytest.approx(10 - math.sqrt(16 - high**2))
    assert hit(across, (0.0, 0.0, 4.01))[0] == math.inf
    assert hit(across, (0.0, 5.01, 0.0))[0] == math.inf
    along = [Obstacle(Cylinder("x", (10.0, 0.0, 0.0), 10.0, 4.0), "c")]
    for aside, met in ((0.0, 10.0), (3.99, 10.0), (4.01, math.inf)):
        assert hit(along, (0.0, aside, 0.0))[0] == met
    slanted = hit(along, (0.0, 0.0, 0.0), (1.0, 0.5, 0.0))[0]
    assert slanted == math.inf  # 5 mm aside where it begins


@pytest.mark.parametrize("back", ["+x", "-x"])
def test_a_ray_through_a_wedge(back: str) -> None:
    """10 mm long and high, its full faces below and at one end: its slope is met at 10 − z of the way."""
    wedge = [Obstacle(Wedge(box(10, -5, 0, 20, 5, 10), "-z", back), "w")]  # type: ignore[arg-type]
    for z in (2.0, 5.0, 9.0):
        away = 10.0 + (z if back == "+x" else 0.0)
        assert hit(wedge, (0.0, 0.0, z))[0] == pytest.approx(away)
        assert hit(wedge, (30.0, 0.0, z), (-1.0, 0.0, 0.0))[0] == pytest.approx(
            10.0 if back == "+x" else 10 + z
        )
    for x in (12.0, 17.0):
        height = x - 10 if back == "+x" else 20 - x
        assert hit(wedge, (x, 0.0, 50.0), (0.0, 0.0, -1.0))[0] == pytest.approx(50 - height)
    # Level with the slope it passes above and meets below.
    up = 1.0 if back == "+x" else -1.0
    for off, met in ((0.1, False), (-0.1, True)):
        start = (9.0, 0.0, -1.0 + off) if back == "+x" else (21.0, 0.0, -1.0 + off)
        assert math.isfinite(hit(wedge, start, (up, 0.0, 1.0))[0]) is met


def test_rays_of_a_cone_are_unit_and_even() -> None:
    """Whatever the length of the axis; about any axis two more at right angles, of length one."""
    for axis in ((1.0, 0.0, 0.0), (0.0, 3.0, 4.0), (-2.0, 1.0, 0.5)):
        one, other = _across(axis)
        assert np.linalg.norm(one) == pytest.approx(1.0)
        assert np.linalg.norm(other) == pytest.approx(1.0)
        assert float(one @ other) == pytest.approx(0.0, abs=1e-12)
        assert float(one @ np.array(axis)) == pytest.approx(0.0, abs=1e-12)
        rays = cone(axis, 20.0, 500)
        assert np.linalg.norm(rays, axis=1) == pytest.approx(1.0)
        cosines = rays @ (np.array(axis) / np.linalg.norm(axis))
        assert cosines.min() >= math.cos(math.radians(20)) - 1e-12
        assert cosines.mean() == pytest.approx((1 + math.cos(math.radians(20))) / 2, abs=1e-6)
    flat = spread(box(2, 3, 4, 5, 9, 4), 400)
    assert (flat[:, 2] == 4).all()
    assert flat.mean(axis=0) == pytest.approx((3.5, 6.0, 4.0), abs=0.05)
    for side, low, high in ((0, 2.0, 5.0), (1, 3.0, 9.0)):
        steps = np.diff(np.sort(flat[:, side])) / (high - low)
        assert steps.max() < 5 / 400


# -- scenes ------------------------------------------------------------------------------------------------


def test_all_that_stands_in_a_vehicle() -> None:
    """Body with bricks that are out, things built in, wheels, couplings, parts and shelves but for one."""
    motor = BuiltIn("motor", "motor", (box(60, 20, 20, 80, 30, 30),))
    more = (
        BodySolid(box(20, 8, 20, 24, 16, 24), "removable", "pane"),
        BodySolid(box(30, 8, 20, 34, 16, 24), "keep-clear"),
    )
    shape = vehicle(body=(*vehicle().body, *more), built_in=(motor,), removables=(Removable("pane", 1.0),))
    shelf = Shelf("plates", (Piece("plate", box(90, 8, 19.2, 98, 16, 22.4)),), 2)
    parts = (laid("a"), replace(laid("b"), shelf=shelf), laid("other", where="v1"))
    one = built(shape, vehicle(), parts=parts)
    found = obstacles_of(one, "v0", "a")
    names = [entry.name for entry in found]
    counts = {"body": 7, "pane": 1, "motor": 1, "coupling": 2, "a": 0, "b": 1, "shelf": 1, "other": 0}
    assert {name: names.count(name) for name in counts} == counts
    assert names.count("wheel") == 8
    assert [entry.stops for entry in found if entry.name == "pane"] == [True]
    assert [entry.stops for entry in body_obstacles(shape, frozenset({"pane"})) if entry.name == "pane"] == [
        False
    ]
    assert [entry.stops for entry in found[:8]].count(False) == 2
    assert {entry.name for entry in placed_obstacles(one, "v0", frozenset({"b"}))} == {"a", "shelf"}


def test_wheels_and_couplings_in_mm() -> None:
    """Axles at half the wheelbase of each bogie; wheels 5 mm wide outside a gauge of 38; bars 8 by 6 mm."""
    shape = vehicle()
    assert axles(shape) == [28.0, 52.0, 124.0, 148.0]
    plain = replace(shape, wheels=replace(shape.wheels, kind="axles"))
    assert axles(plain) == [40.0, 136.0]
    assert axles(replace(shape, wheels=replace(shape.wheels, bogie_wheelbase=0.0))) == [40.0, 136.0]
    first, second = wheel_solids(shape, 38.0)[:2]
    assert (first.bounds.low, first.bounds.high) == ((19.5, 0.0, 0.0), (36.5, 5.0, 17.0))
    assert (second.bounds.low, second.bounds.high) == ((19.5, 43.0, 0.0), (36.5, 48.0, 17.0))
    front, rear = coupling_solids(shape)
    assert (front.low, front.high) == ((176.0, 20.0, 7.0), (180.0, 28.0, 13.0))
    assert (rear.low, rear.high) == ((-4.0, 20.0, 7.0), (0.0, 28.0, 13.0))


def test_pivots_and_their_radii() -> None:
    shape = vehicle()
    assert pivots(shape) == (40.0, 136.0)
    bare = replace(shape, wheels=replace(shape.wheels, at=()))
    assert pivots(bare) == (88.0, 88.0)
    assert pivot_radius(shape, 300.0) == pytest.approx(math.sqrt(300**2 - 12**2))
    assert middle_radius(shape, 300.0) == pytest.approx(math.sqrt(300**2 - 12**2 - 48**2))
    assert pivot_radius(replace(shape, wheels=replace(shape.wheels, kind="axles")), 300.0) == 300.0
    assert pivot_radius(shape, 10.0) == middle_radius(shape, 30.0) == 0.0


@pytest.mark.parametrize("turned", [False, True])
def test_vehicles_stand_as_far_apart_as_they_are_coupled(turned: bool) -> None:
    """On straight track, whatever wheels each has, and whichever stands for the others."""
    odd = vehicle("odd", wheels=Wheels("axles", (10.0, 60.0), (True, False), 8.5))
    made = train(
        [], [], [TrainVehicle("a", vehicle()), TrainVehicle("b", odd, turned), TrainVehicle("c", vehicle())]
    )
    for reference in "abc":
        where = stands(made, None, reference)
        fronts = {
            name: where[name].place(0.0 if name == "b" and turned else 176.0, 24.0)[0] for name in "abc"
        }
        assert fronts["a"] - fronts["b"] == pytest.approx(176.0 + 8.0)
        assert fronts["b"] - fronts["c"] == pytest.approx(176.0 + 8.0)
        assert all(where[name].place(88.0, 24.0)[1] == pytest.approx(0.0) for name in "abc")


@pytest.mark.parametrize(("radius", "count"), [(None, 3), (90.0, 3), (86.0, 2), (50.0, 1), (-90.0, 3)])
def test_who_stands_on_one_circle(radius: float | None, count: int) -> None:
    """Three vehicles of 176 mm, 8 mm apart, are 544 mm; two are 360: 2πR at 86.6 and 57.3 mm."""
    one = built(vehicle(), vehicle(), vehicle())
    for name in ("v0", "v2"):
        assert len(on_one_circle(one.train, radius, name)) == count
    middle = 3 if count > 1 else 1
    assert len(on_one_circle(one.train, radius, "v1")) == middle


# -- outlines and curves -----------------------------------------------------------------------------------


def test_hulls_and_gaps_of_outlines() -> None:
    """Square and point beside it; what lies on an edge is no corner; two points and less are as they are."""
    square = hull_of(np.array([(0, 0), (4, 0), (4, 4), (0, 4), (2, 0), (2, 2), (4, 4)], dtype=float))
    assert square.tolist() == [[0, 0], [4, 0], [4, 4], [0, 4]]
    assert hull_of(np.array([(1, 1), (0, 0), (1, 1)], dtype=float)).tolist() == [[0, 0], [1, 1]]
    for dx, dy, gap in ((7, 0, 3.0), (7, 8, 5.0), (3, 0, -1.0), (4, 0, 0.0), (0, -6, 2.0), (3, 2, -1.0)):
        assert hull_gap(square, square + np.array([dx, dy])) == pytest.approx(gap)
        assert hull_gap(square + np.array([dx, dy]), square) == pytest.approx(gap)
    turned = hull_of(np.array([(8, 2), (10, 0), (12, 2), (10, 4)], dtype=float))
    assert hull_gap(square, turned) == pytest.approx(4.0)
    # Of a square turned by 45° an edge lies over the upper right corner, 2 mm off along both axes.
    assert hull_gap(square, turned - np.array([3.0, 3.0])) == pytest.approx(math.sqrt(2))


def test_bands_of_an_outline() -> None:
    """What reaches into a slice counts, what ends at its edge does not; none in an empty one."""
    low, high = box(0, 0, 0, 10, 10, 3), box(4, 4, 3, 30, 6, 8)
    corners = [list(product(*zip(b.low, b.high, strict=True))) for b in (low, high)]
    outline = Outline(np.array([*corners[0], *corners[1]], dtype=float), ("a",) * 8 + ("b",) * 8)
    bands = outline.bands(np.array([0.0, 3.0, 6.0, 8.0, 9.0]))
    assert [len(one) for one in bands] == [4, 4, 4, 0]
    assert bands[0][:, 0].max() == 10.0
    assert (bands[1][:, 0].min(), bands[1][:, 0].max()) == (4.0, 30.0)
    both = outline.bands(np.array([2.0, 4.0]))[0]
    assert (both[:, 0].min(), both[:, 0].max()) == (0.0, 30.0)


def test_an_outline_counts_wires_as_thick_as_they_are() -> None:
    """A wire of 1 mm at 50 mm beside the middle reaches half a millimetre farther; in its own vehicle."""
    legs = (Leg("v0", ((80.0, 70.0, 30.0), (90.0, 70.0, 30.0))),)
    one = built(harness=Harness((replace(wire(1, "n", "a.x", "b.y"), legs=legs, outer_mm=1.0),)))
    outline = outline_of(one, "v0")
    assert outline.points[:, 1].max() == 70.5
    assert "wire 1 (n)" in outline.names
    assert "wire 1 (n)" not in outline_of(built(vehicle(), vehicle(), harness=one.harness), "v1").names
    empty = built(
        vehicle(body=(BodySolid(box(0, 0, 0, 1, 1, 1), "free"),), wheels=Wheels("axles", (), (), 8.5))
    )
    assert set(outline_of(empty, "v0").names) == {"body"}


def test_bricks_that_may_go_count_in_an_outline_as_long_as_they_are_in() -> None:
    """By their own name; what is clear does not count."""
    high = BodySolid(box(80, 20, 67.2, 96, 28, 90), "removable", "chimney")
    clear = BodySolid(box(80, 20, 90, 96, 28, 120), "free")
    one = built(vehicle(body=(*vehicle().body, high, clear), removables=(Removable("chimney", 1.0),)))
    outline = outline_of(one, "v0")
    assert outline.points[:, 2].max() == 90.0
    assert "chimney" in outline.names
    gone = replace(one, rebuilds=(Rebuild("v0", ("chimney",), (), 1.0, 1.0, "yes"),))
    assert outline_of(gone, "v0").points[:, 2].max() == 67.2


@pytest.mark.parametrize("side", [24.0, -24.0])
def test_the_throw_of_a_thin_body(side: float) -> None:
    """A plank of 160 mm at one side: inwards at its middle, outwards at its ends, by Pythagoras."""
    shape = vehicle(body=(BodySolid(box(8, 24 + side - 1, 20, 168, 24 + side + 1, 30), "fixed"),))
    one = built(shape)
    outline = outline_of(one, "v0")
    throw = throw_of(shape, outline, 300.0)
    m = middle_radius(shape, 300.0)
    assert throw.inside == pytest.approx(300 - (m - 25))
    assert throw.outside == pytest.approx(math.hypot(m + 25, 80) - 300)
    assert (throw.inside_by, throw.outside_by) == ("body", "body")


def test_a_vehicle_beside_the_structure() -> None:
    """Just at the half width it passes; more, and the least radius at which it would, to 10 mm."""
    shape = vehicle()
    throw = throw_of(shape, outline_of(built(shape), "v0"), 320.0)
    reach = max(throw.inside, throw.outside)
    for half, severities in ((reach, {"note"}), (reach - 0.01, {"note", "stop"})):
        one = built(shape, track=Track(320.0, structure_half_width=half))
        found = list(_beside(one, one.train.vehicles[0], throw))
        assert {entry.severity for entry in found} == severities
    wide = built(shape, track=Track(200.0, structure_half_width=30.0))
    radius = _radius_for(wide, wide.train.vehicles[0], 30.0)
    for r, clears in ((radius, True), (radius - 16.0, False)):
        t = throw_of(shape, outline_of(wide, "v0"), r)
        assert (max(t.inside, t.outside) <= 30.0) is clears
    assert radius % 10 == 0
    assert _radius_for(wide, wide.train.vehicles[0], 20.0) == 0.0
    far = throw_of(shape, outline_of(wide, "v0"), 200.0)
    inner, outer = _beside(wide, wide.train.vehicles[0], far)
    for entry, reach in ((inner, far.inside), (outer, far.outside)):
        assert (entry.severity, entry.figure) == ("stop", round(reach, 1))
        assert (
            f"narrower there by {1.1 * (reach - 30):.1f} mm, or clear the structure to {reach:.0f} mm"
            in entry.remedy
        )
        assert f"at least {radius:.0f} mm radius" in entry.remedy


def test_wheels_that_stand_wider_than_a_curve() -> None:
    shape = vehicle()
    assert _least_radius(shape) == (96 + 24) / 2
    found = _too_sharp(TrainVehicle("v", shape), 60.0)
    assert (found.figure, found.limit) == (60.0, 60.0)
    assert "more than 60 mm radius" in found.remedy
    assert _far_end(shape, 40.0, 136.0) == 88.0
    assert _far_end(shape, 40.0, 100.0) == 106.0
    row = _row(shape, "v", throw_of(shape, outline_of(built(shape), "v0"), 320.0), 320.0)
    m = middle_radius(shape, 320.0)
    assert row[1:3] == (round(320 - m, 1), round(math.hypot(m, 88) - 320, 1))


@pytest.mark.parametrize(("height", "severity"), [(67.2, "note"), (67.1, "stop")])
def test_what_stands_highest(height: float, severity: str) -> None:
    one = built(track=Track(320.0, structure_height=height))
    found = _above(one, one.train.vehicles[0], outline_of(one, "v0"))
    assert (found.severity, found.figure, found.limit) == (severity, 67.2, height)
    assert ("lower body by 0.1 mm" in found.remedy) is (severity == "stop")


def hooked(length: float) -> Vehicle:
    return vehicle(couplings=(Coupling("front", 168.0, 10.0, length), Coupling("rear", 8.0, 10.0, length)))


@pytest.mark.parametrize(("gap", "severity"), [(0.5, "note"), (0.49, "stop"), (-1.0, "stop")])
def test_neighbours_on_straight_track(gap: float, severity: str) -> None:
    """Twice the length of a coupling lies between them, 1 mm is enough; longer by half millimetres."""
    one = built(hooked(gap), hooked(gap), track=Track(0.0))
    outlines = {name: outline_of(one, name) for name in ("v0", "v1")}
    (found,) = _neighbours(one, outlines, CurveSettings())
    assert (found.severity, found.limit) == (severity, 1.0)
    assert found.figure == pytest.approx(2 * gap, abs=0.01)
    if severity == "stop":
        longer = math.ceil((1.0 - 2 * gap) * 2 - 1e-9) / 2
        assert found.remedy.startswith(f"lengthen the coupling by {longer:.1f} mm")
        assert ("overlap by 2.0 mm" in found.message) is (gap < 0)


def test_neighbours_that_are_not_judged_keep_no_others_from_it() -> None:
    """One that does not go round, and two that have nothing at one height, before a pair that is judged."""
    wide = replace(
        hooked(0.4), wheels=replace(vehicle().wheels, at=(20.0, 130.0))
    )  # goes round 67 mm and more
    for first, track in ((wide, Track(65.0)), (flat(0.0), Track(0.0))):
        others = (hooked(0.4), hooked(0.4)) if track.radius else (flat(40.0), flat(40.0))
        one = built(first, *others, track=track)
        outlines = {name: outline_of(one, name) for name in ("v0", "v1", "v2")}
        assert [each.where for each in _neighbours(one, outlines, CurveSettings())] == ["v1 and v2"]


def flat(at: float) -> Vehicle:
    """A body 8 mm high at some height, without wheels."""
    body = (BodySolid(box(0, 0, at, 176, 48, at + 8), "fixed"),)
    return replace(hooked(0.4), body=body, wheels=Wheels("axles", (), (), 8.5))


# -- wheels and wires --------------------------------------------------------------------------------------


@pytest.mark.parametrize("radius", [0.0, 320.0])
@pytest.mark.parametrize("base", [0.0, 24.0])
def test_the_room_of_wheels(radius: float, base: float) -> None:
    """Unturned on straight track or without bogies; else the corners of each wheel turned by the swing."""
    shape = vehicle(wheels=Wheels("bogies", (40.0, 136.0), (True, False), 8.5, base))
    rooms = wheel_room(shape, 38.0, radius)
    assert len(rooms) == 3 * (4 if base else 2)
    right, left, rod = rooms[:3]
    x = 40.0 - base / 2
    if not radius or not base:
        assert (right.low, right.high) == ((x - 8.5, 0.0, 0.0), (x + 8.5, 5.0, 17.0))
        assert (left.low, left.high) == ((x - 8.5, 43.0, 0.0), (x + 8.5, 48.0, 17.0))
        assert (rod.low, rod.high) == ((x - 8.5, 5.0, 6.0), (x + 8.5, 43.0, 11.0))
        return
    swing = math.asin(48 / 320)
    assert right.low[1] == pytest.approx(24 - (24 * math.cos(swing) + (8.5 + 12) * math.sin(swing)))
    assert right.high[1] == pytest.approx(24 - (19 * math.cos(swing) - (8.5 + 12) * math.sin(swing)))
    along = 8.5 * math.cos(swing) + 24 * math.sin(swing) + 12 * (1 - math.cos(swing))
    assert right.low[0] == pytest.approx(x - along)
    small = replace(shape, wheels=replace(shape.wheels, wheel_radius=1.0))
    assert (wheel_room(small, 38.0, 0.0)[2].low[2], wheel_room(small, 38.0, 0.0)[2].high[2]) == (0.0, 2.0)


@pytest.mark.parametrize(
    ("points", "distance"),
    [
        ([(0, 0, 0)], math.sqrt(300)),
        ([(0, 15, 15), (30, 15, 15)], 0.0),
        ([(0, 0, 15), (40, 0, 15)], 10.0),
        ([(0, 15, 30), (15, 15, 24), (40, 15, 40)], 4.0),
        ([(0, 15, 15), (7, 15, 15)], 3.0),
        ([(23, 24, 15), (40, 40, 15)], 5.0),
        ([(0, 20, 25), (30, 20, 25), (30, 20, 60)], 5.0),
    ],
)
def test_how_near_a_way_comes_to_a_box(points: list[Vec], distance: float) -> None:
    """A cube from 10 to 20 mm: by edges, faces and corners; of several boxes the nearest."""
    way = np.array(points, dtype=float)
    cube, far = box(10, 10, 10, 20, 20, 20), box(500, 0, 0, 510, 9, 9)
    for boxes in ([cube], [far, cube], [cube, far]):
        assert least_distance(way, boxes) == pytest.approx(distance, abs=1e-6)


def low_wire(height: float, y: float = 24.0) -> Wire:
    return replace(
        wire(1, "n", "a.x", "b.y"), outer_mm=1.0, legs=(Leg("v0", ((80.0, y, height), (96.0, y, height))),)
    )


@pytest.mark.parametrize(
    ("height", "severity", "gap"), [(2.5, "note", 2.0), (2.4, "stop", 1.9), (0.1, "stop", -0.4)]
)
def test_wires_over_the_rail_head(height: float, severity: str, gap: float) -> None:
    """From the underside of the lowest wire; 2 mm are enough; told with its number, never below nothing."""
    high = replace(low_wire(40.0), number=2)
    one = built(harness=Harness((high, low_wire(height))))
    wheels, rail = wires_at_wheels(one, one.train.vehicles[0], CurveSettings())
    assert (rail.severity, rail.limit) == (severity, 2.0)
    assert rail.figure == pytest.approx(gap)
    assert rail.where == "v0, wire 1 (n)"
    assert f"within {max(gap, 0):.1f} mm of the rail head" in rail.message
    assert wheels.limit == 1.0
    assert list(wires_at_wheels(built(), one.train.vehicles[0], CurveSettings())) == []
    bare = replace(vehicle(), wheels=Wheels("axles", (), (), 8.5))
    none = built(bare, harness=Harness((low_wire(height),)))
    (only,) = wires_at_wheels(none, none.train.vehicles[0], CurveSettings())
    assert "the rail head" in only.message


@pytest.mark.parametrize(
    ("sag", "clip", "severity"),
    [(2.0, False, "note"), (1.99, False, "stop"), (2.0, True, "caution"), (-0.5, True, "stop")],
)
def test_bundles_that_hang(sag: float, clip: bool, severity: str) -> None:
    at = Crossing("J", "v0", "v1", "p", "q", (1,), 3.0, 20.0, 40.0, "curve", sag, clip)
    (found,) = hanging_bundles(built(vehicle(), vehicle(), harness=Harness(crossings=(at,))), CurveSettings())
    assert (found.severity, found.figure, found.limit) == (severity, sag, 2.0)
    if severity == "stop":
        assert found.remedy.startswith(f"use ports {math.ceil(2 - sag)} mm farther up")
    assert found.remedy.startswith("clip it up") is (severity == "caution")


# -- connectors at couplings -------------------------------------------------------------------------------


def test_the_ways_in_which_a_pair_lies() -> None:
    """Six turnings of 24 × 17 × 7 mm, with leads of 4 mm at both ends; a millimetre to both bodies."""
    one = pair(length=24.0, width=17.0, height=7.0)
    sizes = [(way.along, way.across, way.upright) for way in lyings(one)]
    assert sorted(sizes) == sorted(
        [(32, 17, 7), (32, 7, 17), (7, 32, 17), (17, 32, 7), (7, 17, 32), (17, 7, 32)]
    )
    gap = CouplingGap(9.0, 48.0, 51.0)
    assert gap.needed(ConnectorPose("x", 7.0, 32.0, 17.0)) == 9.0
    assert lies_in(one, gap) == lyings(one)[2]
    assert lies_in(one, replace(gap, long=8.99)) is None
    pinched = replace(gap, pinch=0.1)
    assert pinched.needed(ConnectorPose("x", 7.0, 32.0, 17.0)) == pytest.approx(12.2)
    assert least_gap(one, pinched) == pytest.approx(7 + 2 + 1.7)  # upright it takes 17 mm across alone
    assert least_gap(one, replace(gap, high=31.0)) == 9.0
    assert least_gap(one, replace(gap, high=31.0, wide=31.9)) == 34.0  # along the train alone
    assert least_gap(one, replace(gap, wide=5.0)) == math.inf


def test_the_angle_between_two_bodies() -> None:
    """Each coupling 92 mm from its body's middle; turned round the other end counts."""
    ahead, behind = TrainVehicle("a", vehicle()), TrainVehicle("b", vehicle())
    m = middle_radius(vehicle(), 320.0)
    assert _angle(320.0, ahead, behind) == pytest.approx(2 * math.atan2(92.0, m))
    assert _angle(0.0, ahead, behind) == 0.0
    assert _angle(0.5, ahead, behind) > 0
    long = replace(vehicle(), wheels=replace(vehicle().wheels, at=(20.0, 136.0)))  # its middle at 78 mm
    m_long = middle_radius(long, 320.0)
    for turned, apart in ((False, 78 + 4), (True, 176 - 78 + 4)):
        one = TrainVehicle("a", long, turned)
        assert _angle(320.0, one, behind) == pytest.approx(math.atan2(apart, m_long) + math.atan2(92.0, m))
        two = TrainVehicle("b", long, turned)
        other = 176 - 78 + 4 if not turned else 78 + 4
        assert _angle(320.0, ahead, two) == pytest.approx(math.atan2(other, m_long) + math.atan2(92.0, m))


def test_what_is_said_of_a_pair_at_a_coupling() -> None:
    """How it lies; what would where it does not; how much longer the coupling, and how thick one may be."""

    def said(gap: CouplingGap, *others: Part) -> Finding:
        one = coupled(20.0, pair(), *others)
        return _in_gap(one, one.harness.crossings[0], pair(), gap)

    fits = said(CouplingGap(20.0, 48.0, 51.0))
    assert (fits.severity, fits.figure, fits.limit) == ("note", 8.6, 20.0)
    assert "lies across the train in the gap of 20 mm" in fits.message
    tight = said(CouplingGap(7.96, 48.0, 51.0, 0.001))
    assert (tight.figure, tight.limit) == (8.6, 8.0)
    tight = said(CouplingGap(8.0, 48.0, 51.0))
    assert (tight.severity, tight.figure, tight.limit) == ("stop", 8.6, 8.0)
    assert "one of at most 6.0 mm thick" in tight.remedy
    assert "lengthen the coupling by 1 mm" in tight.remedy
    assert (
        "take thin, which lies in it" in said(CouplingGap(8.0, 48.0, 51.0), pair("thin", height=5.0)).remedy
    )
    shut = said(CouplingGap(2.0, 48.0, 51.0))
    assert "the bodies all but touch" in shut.remedy
    assert "at most 0.1 mm thick" in said(CouplingGap(2.1, 48.0, 51.0)).remedy
    nowhere = said(CouplingGap(20.0, 5.0, 5.0))
    assert "lengthen" not in nowhere.remedy


def test_joints_and_ports_of_a_pair() -> None:
    """A joint holds the pair and lets it be drawn apart; a housing passes a hole either way round."""
    one = pair()
    for often in ("daily", "seldom"):
        needed = least_coupling_wire(one, often)  # type: ignore[arg-type]
        for free, told in ((needed, 0), (needed - 0.005, 0), (needed - 0.02, 1)):
            at = replace(coupled(20.0, one).harness.crossings[0], free_mm=free)
            found = list(_parted(at, one, often))  # type: ignore[arg-type]
            assert len(found) == told
            for entry in found:
                assert (entry.figure, entry.limit) == (round(free, 1), round(needed, 1))
    for hole, count in ((17.4, 0), (17.3, 2)):
        made = coupled(20.0, one, hole=hole)
        at = made.harness.crossings[0]
        ends = ((made.train.vehicles[0], at.port_ahead), (made.train.vehicles[1], at.port_behind))
        told_ = list(_threaded(at, one, ends))
        assert len(told_) == count
        assert all((entry.figure, entry.limit) == (17.4, 17.3) for entry in told_)
    assert list(_threaded(at, one, ((made.train.vehicles[0], "none"),))) == []


# -- gaps, things in bricks, zones -------------------------------------------------------------------------


@pytest.mark.parametrize(("share", "told"), [(0.5, False), (0.52, True), (1.0, True)])
def test_windows_that_are_brick_by_more_than_half(share: float, told: bool) -> None:
    """A window of 20 mm in a wall with a hole of the rest beside it."""
    hole = BodySolid(box(168, 10 + 20 * share, 30, 176, 30, 50), "outside") if share < 1 else None
    gap = Window("gap", box(168, 10, 30, 176, 30, 50), "+x")
    shape = vehicle(body=(*vehicle().body, *([hole] if hole else [])), windows=(gap,))
    assert blocked_share(shape, gap.box, "+x") == pytest.approx(share, abs=0.012)
    found = [one for one in check_gaps(built(shape)).findings if "window" in one.message]
    assert bool(found) is told
    for one in found:
        assert one.figure == pytest.approx(share, abs=0.012)
        assert one.figure == round(one.figure, 3)
        assert one.limit == 0.5
        assert ("solid brick" in one.message) is (share == 1.0)
    flat = replace(gap, box=box(172, 10, 30, 172, 30, 50))
    assert blocked_share(shape, flat.box, "+x") == pytest.approx(share, abs=0.012)
    inwards = blocked_share(shape, gap.box, "-x")
    assert inwards == pytest.approx(share, abs=0.012)


@pytest.mark.parametrize(("radius", "above"), [(9.6, 0.0), (9.7, 0.2), (12.0, 4.8)])
def test_wheels_over_a_floor(radius: float, above: float) -> None:
    """Tops at 2r, over a floor whose top is 19.2 mm."""
    shape = vehicle(wheels=Wheels("bogies", (40.0, 136.0), (True, False), radius, 24.0))
    # Wheels 5 mm wide whose middles lie 10 mm within the walls, which are 8 mm thick.
    assert wheels_above_floor(shape, 23.0) == pytest.approx(above, abs=2e-3)
    told = check_gaps(built(shape, track=Track(320.0, gauge=23.0))).findings
    found = [one for one in told if "wheels" in one.where]
    assert [one.figure for one in found] == ([round(above, 2)] if above else [])
    assert all(f"reach {2 * radius:g} mm above the rail" in one.message for one in found)


@pytest.mark.parametrize(("deep", "told"), [(0.4, False), (0.6, True), (3.0, True)])
def test_things_that_are_sunk_in_bricks(deep: float, told: bool) -> None:
    """From above into the floor whose top is 19.2 mm; half a millimetre is rounding."""
    motor = BuiltIn("motor", "motor", (box(60, 20, 19.2 - deep, 80, 30, 30),))
    shape = vehicle(built_in=(motor,))
    assert sunk_mm(shape, motor) == pytest.approx(deep, rel=0.03)
    found = [one for one in drive_findings(built(shape).train) if "deep" in one.message]
    assert bool(found) is told
    assert all((one.figure, one.limit) == (round(sunk_mm(shape, motor), 1), 0.5) for one in found)
    wall = BuiltIn("lamp", "lamp", (box(60, 4, 30, 80, 30, 40),))
    assert sunk_mm(shape, wall) == pytest.approx(4.0, abs=0.05)
    assert sunk_mm(shape, BuiltIn("x", "lamp", ())) == 0.0


def test_small_parts_by_the_cylinder() -> None:
    """31.7 mm across the two shorter sides, 57.1 mm long (EN 71-1): just in it is small."""
    for size, small in (
        ((57.1, 20.0, 20.0), True),
        ((57.2, 20.0, 20.0), False),
        ((19.0, 25.0, 25.37), True),
        ((25.4, 19.2, 40.0), False),
        ((10.0, 57.0, 30.0), True),
    ):
        assert is_small(part("x", size=size)) is small
    assert is_small(part("x", size=(30.0, 40.0, 50.0)), SafetySettings(50.0, 50.0))


@pytest.mark.parametrize(("room", "severity"), [(0.41, "note"), (0.39, "stop")])
def test_room_for_a_pouch_to_swell(room: float, severity: str) -> None:
    """5 mm thick it grows by 0.4 mm; the least over each of its two faces, added up."""
    beam = BodySolid(box(60, 8, 24.2 + room, 70, 40, 30), "fixed")
    far = BodySolid(box(40, 8, 26, 50, 40, 30), "fixed")
    one = built(
        vehicle(body=(*vehicle().body, beam, far)),
        parts=(laid("cell", (40.0, 10.0, 19.2), (40.0, 25.0, 5.0)),),
    )
    found = _room_to_swell(one, one.placements[0], SafetySettings())
    assert (found.severity, found.limit) == (severity, 0.4)
    assert found.figure == pytest.approx(room, abs=0.011)
    free = built(parts=(laid("cell", (40.0, 10.0, 19.2), (40.0, 25.0, 5.0)),))
    assert _room_to_swell(free, free.placements[0], SafetySettings()).figure == 100.0


def test_parts_without_a_place_are_each_told() -> None:
    """Beside those that have one, with their nets; a net of others is none of theirs."""
    made = train(
        [need("a", part("a")), need("b", part("b")), need("c", part("c"))],
        [net("x", "supply", "a.p", "b.p"), net("y", "signal", "b.q"), net("z", "signal", "c.p")],
        [TrainVehicle("v0", vehicle())],
    )
    one = BuiltTrain(made, (laid("a"),), Harness(), ())
    first, second = check_places(one, (("c", "no room"),)).findings
    assert first.message == "b has no place; x and y go without it"
    assert second.message == "c has no place: no room; z goes without it"
    assert (first.figure, first.limit, first.remedy[:20]) == (0.0, 1.0, "allow a smaller part")


# -- wishes, ways out --------------------------------------------------------------------------------------


def test_ways_over_the_sphere_and_points_of_faces() -> None:
    """No steeper than 60°, of length one, even in height and all round; each face its share of points."""
    ways = _ways()
    assert np.linalg.norm(ways, axis=1) == pytest.approx(1.0)
    top = math.sin(math.radians(60))
    assert ways[:, 2].max() == pytest.approx(top * (1 - 1 / 64))
    assert np.diff(ways[:, 2]) == pytest.approx(-2 * top / 64)
    assert np.abs(ways.mean(axis=0)).max() < 0.02
    points, normals = _surface(laid(size=(20.0, 10.0, 5.0)))
    for axis, side, plane, area in (
        (0, 1, 60.05, 50),
        (0, -1, 39.95, 50),
        (1, 1, 24.05, 100),
        (2, -1, 19.15, 200),
    ):
        mine = normals[:, axis] == side
        assert points[mine][:, axis] == pytest.approx(plane)
        assert mine.sum() == round(96 * area / 700)
    thick = _thick(box(8, 10, 20, 8, 30, 40))
    assert (thick.low, thick.high) == ((7.9, 10.0, 20.0), (8.1, 30.0, 40.0))


def test_wishes_are_counted_where_there_are_several() -> None:
    """The rank and how many; of a part without a place nothing; what is hidden to three digits."""
    one = built(parts=(laid("a"), laid("b", (80.0, 14.0, 19.2))))
    wishes = (Preference("a", "near", "b"), Preference("lost", "near", "b"), Preference("b", "hidden", ""))
    found = check_preferences(replace(one, train=replace(one.train, preferences=wishes))).findings
    assert [entry.message.split(",")[0] for entry in found] == ["wish 1 of 3", "wish 3 of 3"]
    close = built(parts=(laid("a", (40.0, 19.5, 19.2)), laid("b", (80.0, 19.4, 19.2))))
    for pair_, good in (
        (close, True),
        (built(parts=(close.placements[0], laid("b", (80.0, 18.6, 19.2)))), False),
    ):
        same = (Preference("a", "same side as", "b"),)
        (side,) = check_preferences(replace(pair_, train=replace(pair_.train, preferences=same))).findings
        assert side.severity == ("note" if good else "caution")
    alone = check_preferences(replace(one, train=replace(one.train, preferences=wishes[:1]))).findings
    assert alone[0].message.startswith("a near b: 40 mm")


def test_points_along_a_way() -> None:
    """No farther apart than 2 mm, evenly on each stretch; its corners among them; its length kept."""
    way = np.array([(0, 0, 0), (5, 0, 0), (5, 0.5, 0), (5, 0.5, -4)], dtype=float)
    close = _close(way)
    expected = [(0, 0, 0), (5 / 3, 0, 0), (10 / 3, 0, 0), (5, 0, 0), (5, 0.5, 0), (5, 0.5, -2), (5, 0.5, -4)]
    assert close.shape == (7, 3)
    assert close == pytest.approx(np.array(expected))
    assert _long(close) == pytest.approx(9.5) == _long(way)


def test_the_lid_that_is_open_stops_no_wire() -> None:
    """A wire as long as its straight line: over an opening it passes, through the wall beside not."""
    way = (90.0, 24.0, 20.0)
    base = lifted(200.0, way)
    assert short_wires(base, base.exchanged[0]) == ()
    lid = Opening("hatch", box(0, 0, 40, 176, 48, 42), "+z")
    shape = base.train.vehicles[0].vehicle
    roof = replace(shape, body=(*shape.body, BodySolid(box(0, 0, 40, 176, 48, 42), "fixed")), openings=(lid,))
    opened = replace(base, train=replace(base.train, vehicles=(TrainVehicle("v", roof),)))
    entry = replace(base.exchanged[0], last=replace(base.exchanged[0].last, opening="hatch"))  # type: ignore[type-var]
    tight = lifted(math.hypot(30.0, 70.0) + 0.5, way)  # along the moves it would want 91.6 mm
    opened = replace(opened, harness=tight.harness)
    assert short_wires(opened, entry) == ()
    assert PIN[2] == 30.0
    # A brick that comes out first is no wall; one that stays is.
    brick = BodySolid(box(0, 0, 40, 176, 48, 42), "removable", "lid")
    shut = replace(shape, body=(*shape.body, brick), removables=(Removable("lid", 1.0),))
    walled = replace(opened, train=replace(base.train, vehicles=(TrainVehicle("v", shut),)))
    entry = replace(base.exchanged[0], bricks=("lid",))
    assert short_wires(walled, entry) == ()
    assert len(short_wires(walled, base.exchanged[0])) == 1


OUT = WayOut(("cells",), "roof", (("+z", 40.0),))


def reached(entry: Exchanged, allowed: Exchange | None = None) -> Finding:
    cells = replace(need("cells", part("holder")), exchange=allowed or Exchange())
    made = train([cells, need("board", part("board"))], [], [TrainVehicle("v", vehicle())])
    return check_access(BuiltTrain(made, (), Harness(), (), exchanged=(entry,))).findings[0]


@pytest.mark.parametrize(
    ("parts", "bricks", "words"),
    [
        (0, 0, "nothing but a lid"),
        (1, 0, "1 part"),
        (2, 0, "2 parts"),
        (0, 1, "1 brick"),
        (1, 2, "1 part and 2 bricks"),
    ],
)
def test_what_may_come_out_in_words(parts: int, bricks: int, words: str) -> None:
    assert (
        _allowed(replace(need("x", part("x")), exchange=Exchange(parts_out=parts, bricks_out=bricks)))
        == words
    )


def test_what_must_be_reached_in_words() -> None:
    """Often or when building; not reached at all; with the part itself out."""
    plain = Exchanged("cells", "v", "cells", True, True, True, last=OUT)
    assert "cells must be reached in everyday use: with roof opened" in reached(plain).message
    other = replace(plain, access="switch", cells=False, last=replace(OUT, parts=()), often=False)
    assert "switch of cells must be reached when building or debugging" in reached(other).message
    lost = reached(replace(plain, reached=False, last=None))
    assert (lost.severity, lost.figure, lost.limit) == ("stop", 0.0, 1.0)
    assert "an opening that may be opened for it" in lost.message
    lost = reached(replace(plain, reached=False, last=None, often=False))
    assert (lost.severity, "any opening" in lost.message) == ("caution", True)
    itself = replace(plain, access="socket", cells=False, often=False, bricks=("lid",))
    found = reached(itself)
    assert (found.severity, found.figure, found.limit) == ("caution", 2.0, 0.0)
    assert "lift it out with its wires on" in found.remedy
