"""Cavities of vehicles: sizes, balls, necks and the parts that fit."""

from dataclasses import replace

import numpy as np
import pytest

from fitplan.meshes.cavities import cavities_of
from fitplan.model.part import Mount, Part
from fitplan.model.solids import Box
from fitplan.model.vehicle import BodySolid
from tests.lattice.bodies import BARREL, SHELL, WALL, vehicle


def part(name, size, **mount):
    return Part(name, name, "controller", (Box((0, 0, 0), size),), 1.0, "invented", mount=Mount(**mount))


def test_one_hall():
    """The hall of a closed box has its closed form, its own box, and a ball that touches both side walls."""
    (cavity,) = cavities_of(vehicle((*SHELL,)))
    assert cavity.volume_mm3 == pytest.approx(48 * 16 * 32)
    assert cavity.boxes[0] == Box((8, 8, 19.2), (56, 24, 51.2))
    assert len(cavity.boxes) == 1
    assert cavity.bounds == cavity.boxes[0]
    assert 8.0 - 0.8 <= cavity.ball.radius <= 8.0
    assert cavity.necks == ()


def test_two_halls_and_the_door_between():
    """A wall with a door makes one space with a neck as wide as the door; without the door there are two."""
    wall = BodySolid(Box((32, 8, 19.2), (36, 24, 51.2)), "fixed")
    door = BodySolid(Box((32, 12.8, 25.6), (36, 19.2, 35.2)), "free")
    (both,) = cavities_of(vehicle((*SHELL, wall, door)))
    assert both.volume_mm3 == pytest.approx(48 * 16 * 32 - 4 * 16 * 32 + 4 * 6.4 * 9.6)
    (neck,) = both.necks
    assert 32 <= neck.at[0] <= 36
    assert 6.4 - 0.8 <= neck.width <= 6.4
    assert [box.size for box in both.boxes[:2]] == [pytest.approx((24, 16, 32)), pytest.approx((20, 16, 32))]
    one, two = cavities_of(vehicle((*SHELL, wall)))
    assert one.volume_mm3 == pytest.approx(24 * 16 * 32)
    assert two.volume_mm3 == pytest.approx(20 * 16 * 32)
    assert one.necks == two.necks == ()


def test_taking_a_wall_out_makes_one_hall():
    """What a removable wall takes comes back when it is taken out."""
    (with_wall,) = cavities_of(vehicle((*SHELL, WALL)))
    (without,) = cavities_of(vehicle((*SHELL, WALL)), removed=["inner wall"])
    assert without.volume_mm3 - with_wall.volume_mm3 == pytest.approx(8 * 16 * 9.6)


def test_parts_that_fit_as_boxes():
    """A part passes when its box fits in a pose that it allows, to the tenth of a millimetre."""
    parts = [
        part("long", (48.0, 16.0, 32.0)),
        part("too long", (48.1, 16.0, 32.0)),
        part("turned", (16.0, 32.0, 48.0)),
        part("may not turn", (16.0, 32.0, 48.0), turnable=False),
        part("upright", (16.0, 48.0, 32.0), upright=True),
        part("upright and too high", (16.0, 32.0, 48.0), upright=True),
    ]
    (cavity,) = cavities_of(vehicle((*SHELL,)), parts)
    assert cavity.parts == ("long", "turned", "upright")


def test_a_round_cavity_is_measured_from_within():
    """In a bore the volume, the box and the ball stay below their closed forms, and near them."""
    (cavity,) = cavities_of(vehicle(BARREL))
    assert 0.95 * 48 * np.pi * 12.5**2 < cavity.volume_mm3 < 48 * np.pi * 12.5**2
    # The largest rectangle in a circle is a square of area 2r².
    box = cavity.boxes[0]
    assert 0.95 * 2 * 12.5**2 * 48 < box.volume <= 2 * 12.5**2 * 48
    assert 12.5 - 2 * 0.8 < cavity.ball.radius <= 12.5


def test_small_spaces_are_left_out_and_unknown_bricks_refused():
    """Spaces below the least volume are not listed; an unknown brick is a KeyError."""
    pocket = BodySolid(Box((2, 2, 20), (6, 6, 24)), "free")
    assert len(cavities_of(vehicle((*SHELL, pocket)))) == 1
    assert len(cavities_of(vehicle((*SHELL, pocket)), least_mm3=60)) == 2
    with pytest.raises(KeyError):
        cavities_of(vehicle(), removed=["roof"])


def test_studs_take_their_room():
    """On a studded floor the largest box stands on the studs."""
    (cavity,) = cavities_of(replace(vehicle((*SHELL,)), floor_finish="studded"))
    assert cavity.boxes[0].low[2] == pytest.approx(19.2 + 1.7)
