"""What of the clear space in and round a body is inside."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fitplan.lattice.frame import Frame
from fitplan.meshes.interior import interior_of, mouths_of
from fitplan.model.solids import Box

PITCH = 1.6
FRAME = Frame((-24.0, -24.0, -24.0), (90, 60, 65), PITCH)
HALL = Box((8.0, 8.0, 3.2), (88.0, 40.0, 51.2))


def window(low, high):
    return FRAME.box_slice(Box(low, high), "inward")


def wagon(*holes, more=()):
    """A closed box of 96 × 48 × 54.4 mm with a hall in it, with holes cut out and more bricks put in."""
    solid = np.zeros(FRAME.shape, bool)
    solid[window((0, 0, 0), (96, 48, 54.4))] = True
    solid[window(HALL.low, HALL.high)] = False
    for box in more:
        solid[window(*box)] = True
    for box in holes:
        solid[window(*box)] = False
    return solid


def volume(block):
    return float(block.sum()) * PITCH**3


def inside(solid, gap=32.0, closed=()):
    return interior_of(~solid, FRAME, gap, closed, 1000.0)


def test_a_closed_hall_is_inside():
    """The hall of a closed box is inside and nothing else, and there is no mouth."""
    solid = wagon()
    found = inside(solid)
    assert volume(found) == pytest.approx(HALL.volume)
    assert mouths_of(found, solid, FRAME) == ()


DOOR = ((88, 8, 3.2), (96, 40, 40.0))


@settings(max_examples=12, deadline=None)
@given(
    low=st.tuples(st.integers(0, 10), st.integers(0, 20)),
    size=st.tuples(st.integers(3, 20), st.integers(3, 16)),
)
def test_a_window_ends_flat_at_the_outer_face(low, size):
    """Whatever the window's place and size, the cavity is the hall and the window up to the outer face."""
    y0, z0 = 8.0 + low[0] * PITCH, 3.2 + low[1] * PITCH
    y1, z1 = min(y0 + size[0] * 1.6, 40.0), min(z0 + size[1] * 1.6, 51.2)
    hole = ((88, y0, z0), (96, y1, z1))
    solid = wagon(hole)
    found = inside(solid)
    assert volume(found) == pytest.approx(HALL.volume + 8 * (y1 - y0) * (z1 - z0))
    (mouth,) = mouths_of(found, solid, FRAME)
    assert mouth.out == "+x"
    assert mouth.box.low == pytest.approx((96, y0, z0))
    assert mouth.width == pytest.approx(min(y1 - y0, z1 - z0))


def test_what_is_wider_than_the_gap_is_open():
    """A door of 32 × 36.8 mm counts as closed at a gap of 32 mm and lets the outside in at 24."""
    solid = wagon(DOOR)
    assert volume(inside(solid, 32.0)) == pytest.approx(HALL.volume + 8 * 32 * 36.8)
    assert volume(inside(solid, 24.0)) < 0.7 * HALL.volume


def test_a_windscreen_round_the_corner():
    """A windscreen over the front and round both corners, without a post, ends below the roof's edge."""
    solid = wagon(((72, 0, 19.2), (96, 48, 44.8)))
    found = inside(solid)
    assert volume(found) == pytest.approx(HALL.volume + (24 * 48 - 16 * 32) * 25.6)


def test_a_wheel_well_is_no_cavity():
    """A well under the floor is outside, with and without a hole of the pivot between it and the hall."""
    raised = [((8, 8, 3.2), (88, 40, 12.8))]
    well = ((16, 8, 0), (48, 40, 9.6))
    hall = HALL.volume - 80 * 32 * 9.6
    assert volume(inside(wagon(well, more=raised))) == pytest.approx(hall)
    pivot = ((24, 16, 9.6), (32, 24, 12.8))
    found = inside(wagon(well, pivot, more=raised))
    # The hole itself is inside, and at most its own way down through the well.
    assert hall + 64 * 3.2 <= volume(found) + 1e-6 <= hall + 64 * 12.8 + 1e-3


def test_holes_in_floor_and_roof_do_not_open_the_hall():
    """Under a hatch and over a hole of the motor the hall is inside from end to end."""
    for low, high in ((51.2, 54.4), (0.0, 3.2)):
        hole = ((40, 16, low), (56, 32, high))
        found = inside(wagon(hole))
        assert volume(found) == pytest.approx(HALL.volume + 16 * 16 * 3.2)


def test_an_open_wagon_has_no_cavity_unless_its_top_is_closed():
    """Without a roof nothing is inside; told that the top counts as closed, the hall is."""
    open_ = wagon(((8, 8, 51.2), (88, 40, 54.4)))
    assert not inside(open_).any()
    assert volume(inside(open_, closed=("+z",))) == pytest.approx(80 * 32 * 51.2)


def test_the_strip_beside_a_hood_is_outside():
    """A strip beside a narrow hood, between higher bodies, is open to the sky: it is outside."""
    solid = wagon(((32, 0, 3.2), (64, 8, 54.4)), more=[((32, 8, 3.2), (64, 16, 54.4))])
    found = inside(solid)
    assert not found[window((32, 0, 3.2), (64, 8, 54.4))].any()
    assert volume(found) == pytest.approx(HALL.volume - 32 * 8 * 48.0)


@pytest.mark.parametrize("deep", [4.8, 8.0])
def test_the_room_below_the_eaves_is_outside(deep):
    """Between an overhanging roof and a running board as far out, the strip outside the windows is outside.

    The wagon is so low that roof and board are closer than the gap.
    """
    solid = np.zeros(FRAME.shape, bool)
    solid[window((0, -deep, 0), (96, 48 + deep, 3.2))] = True
    solid[window((0, -deep, 32.0), (96, 48 + deep, 35.2))] = True
    solid[window((0, 0, 3.2), (96, 48, 32.0))] = True
    solid[window((8, 8, 3.2), (88, 40, 32.0))] = False
    hall = 80 * 32 * 28.8
    windows = [((x, y, 12.8), (x + 9.6, y + 8, 25.6)) for x in (16, 40, 64) for y in (0, 40)]
    for low, high in windows:
        solid[window(low, high)] = False
    found = inside(solid)
    assert volume(found) == pytest.approx(hall + 6 * 9.6 * 8 * 12.8)
    assert {mouth.out for mouth in mouths_of(found, solid, FRAME)} == {"+y", "-y"}
