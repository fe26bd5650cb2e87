"""Where studs stand, found apart from the lattice, and that both find the same."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fitplan.lattice.space import VehicleSpace
from fitplan.model.solids import Box, Cylinder, Wedge
from fitplan.model.studs import floor_studs as studs_of_the_lattice
from fitplan.model.vehicle import BodySolid
from fitplan.verify.scene import drawn_body
from fitplan.verify.shapes import Disc, Prism, shape_of
from fitplan.verify.studs import upright_span
from tests.packing.small_trains import hollow


def studs_found(vehicle, removed: frozenset[str] = frozenset()) -> list[tuple[float, float, float]]:
    pieces = drawn_body(vehicle, removed)
    return [
        (*piece.shape.profile.center, piece.shape.low)
        for piece in pieces
        if isinstance(piece.shape, Prism)
        and isinstance(piece.shape.profile, Disc)
        and piece.shape.profile.radius == 2.4
    ]


def test_studs_stand_on_the_floor_of_the_cavity() -> None:
    """A studded wagon of 4 × 3 studs inside has twelve studs on its floor, a smooth one none."""
    smooth = hollow("wagon", 6, 5, 6)
    assert studs_found(smooth) == []
    studded = replace(smooth, floor_finish="studded")
    expected = {(8 * i + 4.0, 8 * j + 4.0, 19.2) for i in range(1, 5) for j in range(1, 4)}
    assert set(studs_found(studded)) == expected


@pytest.mark.parametrize(
    ("wide", "along", "studs"),
    [(3.2, "x", 0), (4.8, "x", 0), (4.8, "y", 0), (5.2, "x", 1), (8.0, "x", 1), (8.0, "y", 1)],
)
def test_in_a_hole_stands_no_stud(wide: float, along: str, studs: int) -> None:
    """A brick with a hole of 3.2 or 4.8 mm has a smooth bore; a gap of a brick's width shows the stud."""
    wagon = replace(hollow("wagon", 7, 5, 6), floor_finish="studded")
    before = set(studs_found(wagon))
    wall, hole = (
        Box((24.0, 8.0, 19.2), (32.0, 32.0, 38.4)),
        Box((24.0, 20 - wide / 2, 22.4), (32.0, 20 + wide / 2, 25.6)),
    )
    if along == "y":
        wall = Box((8.0, 16.0, 19.2), (48.0, 24.0, 38.4))
        hole = Box((28 - wide / 2, 16.0, 22.4), (28 + wide / 2, 24.0, 25.6))
    wagon = replace(wagon, body=(*wagon.body, BodySolid(wall, "fixed"), BodySolid(hole, "free")))
    found = set(studs_found(wagon))
    assert found == {
        (s.solid.start[0], s.solid.start[1], s.solid.start[2]) for s in studs_of_the_lattice(wagon)
    }
    assert len(found - before) == studs
    assert all(z == 22.4 for _, _, z in found - before)


def test_a_wire_passes_the_hole_of_a_brick_on_a_studded_floor() -> None:
    """In its whole height of 3.2 mm."""
    wagon = replace(hollow("wagon", 7, 5, 6), floor_finish="studded")
    wall, hole = Box((24.0, 8.0, 19.2), (32.0, 32.0, 38.4)), Box((24.0, 18.4, 23.2), (32.0, 21.6, 26.4))
    wagon = replace(wagon, body=(*wagon.body, BodySolid(wall, "fixed"), BodySolid(hole, "free")))
    space = VehicleSpace.of(wagon)
    assert space.wire_free("outward")[space.frame.box_slice(hole, "inward")].all()


SOLIDS = st.one_of(
    st.builds(
        lambda x, y, z, dx, dy, dz: Box((x, y, z), (x + dx, y + dy, z + dz)),
        *[st.integers(0, 40).map(float)] * 2,
        st.integers(12, 40).map(float),
        *[st.integers(2, 20).map(float)] * 3,
    ),
    st.builds(
        lambda axis, x, y, z, length, radius: Cylinder(axis, (x, y, z), length, radius),
        st.sampled_from("xyz"),
        *[st.integers(0, 40).map(float)] * 2,
        st.integers(20, 40).map(float),
        *[st.integers(3, 20).map(float)] * 2,
    ),
    st.builds(
        lambda x, y, z, dx, dz, base, back: Wedge(Box((x, y, z), (x + dx, y + 17.0, z + dz)), base, back),
        *[st.integers(0, 30).map(float)] * 2,
        st.integers(12, 40).map(float),
        *[st.integers(3, 20).map(float)] * 2,
        st.sampled_from(("+z", "-z")),
        st.sampled_from(("+x", "-x")),
    ),
)
STATES = st.sampled_from(("fixed", "removable", "keep-clear", "free", "outside"))


@given(st.lists(st.tuples(SOLIDS, STATES), max_size=5), st.booleans())
@settings(max_examples=80, deadline=None)
def test_both_ways_of_finding_studs_agree(drawn: list, out: bool) -> None:
    """On bodies drawn at random the lattice's studs are the checker's studs, with bricks in or out."""
    plain = hollow("wagon", 6, 5, 6, removable=(("brick", Box((8, 8, 19.2), (16, 16, 28.8)), 1.0),))
    body = tuple(BodySolid(solid, state, "brick" if state == "removable" else "") for solid, state in drawn)
    vehicle = replace(plain, floor_finish="studded", body=(*plain.body, *body))
    removed = frozenset({"brick"}) if out else frozenset()
    theirs = {
        tuple(round(value, 3) for value in stud.solid.start)
        for stud in studs_of_the_lattice(vehicle, removed)
    }
    ours = {tuple(round(value, 3) for value in spot) for spot in studs_found(vehicle, removed)}
    assert ours == theirs


def test_an_upright_line_through_solids() -> None:
    """Through a box its height, through a lying cylinder its chord, through a slope up to its face."""
    assert upright_span(Box((0, 0, 2), (4, 4, 9)), 1, 1) == (2, 9)
    assert upright_span(Box((0, 0, 2), (4, 4, 9)), 5, 1) is None
    low, high = upright_span(shape_of(Cylinder("x", (0, 0, 0), 10, 5)), 5, 3)
    assert (low, high) == (pytest.approx(-4, abs=1e-5), pytest.approx(4, abs=1e-5))
    low, high = upright_span(shape_of(Wedge(Box((0, 0, 0), (8, 4, 6)), "-z", "-x")), 2, 2)
    assert (low, high) == (0, pytest.approx(4.5, abs=1e-5))
    assert upright_span(shape_of(Cylinder("z", (0, 0, 1), 10, 5)), 3, 3.9) == (1, 11)
    assert upright_span(shape_of(Cylinder("z", (0, 0, 1), 10, 5)), 3, 4.1) is None


def test_an_upper_deck_over_a_free_tunnel_is_studded() -> None:
    """Floor and deck each bear twelve studs; a deck that is drawn as smooth bears none."""
    bare = replace(hollow("wagon", 6, 5, 9), floor_finish="studded")
    for smooth in (False, True):
        deck = BodySolid(Box((8, 8, 32), (40, 32, 35.2)), "fixed", smooth=smooth)
        found = studs_found(replace(bare, body=(*bare.body, deck)))
        levels = [level for _, _, level in found]
        assert (levels.count(19.2), levels.count(35.2), len(levels)) == (12, 0 if smooth else 12, len(levels))
