"""The plain account of where a shape can lie, against every offset looked at in turn."""

from __future__ import annotations

import itertools

from hypothesis import given, settings
from hypothesis import strategies as st

from fitplan.packing.engine.candidate_points import lowest_free_point
from fitplan.packing.engine.problem import IntBox, Shape, Space, Variant

EDGE = 7
corners = st.integers(0, EDGE - 1)
lengths = st.integers(1, 4)


@st.composite
def boxes(draw: st.DrawFn) -> IntBox:
    """Give a box within a cube of seven units."""
    low = [draw(corners) for _ in range(3)]
    high = [min(start + draw(lengths), EDGE) for start in low]
    return (low[0], low[1], low[2], high[0], high[1], high[2])


def is_free(point: tuple[int, int, int], shape: Shape, space: Space) -> bool:
    """Tell whether a shape at an offset overlaps no obstacle."""
    return not any(
        all(
            own[axis] + point[axis] < box[axis + 3] and own[axis + 3] + point[axis] > box[axis]
            for axis in range(3)
        )
        for own in shape.solid
        for box in space.obstacles
    )


@given(st.lists(boxes(), max_size=12), st.lists(lengths, min_size=3, max_size=3), st.booleans())
@settings(max_examples=60)
def test_a_free_point_is_found_exactly_when_there_is_one(
    obstacles: list[IntBox], size: list[int], stepped: bool
) -> None:
    """The answer is none exactly when every whole offset meets an obstacle; else it is a free offset."""
    solid: tuple[IntBox, ...] = ((0, 0, 0, size[0], size[1], size[2]),)
    if stepped:
        solid += ((0, 0, size[2], 1, 1, size[2] + 1),)
    shape = Shape(solid)
    space = Space((0, 0, 0, EDGE, EDGE, EDGE), tuple(obstacles))
    reach = [EDGE - shape.bounds[axis + 3] for axis in range(3)]
    variant = Variant("as it is", shape, ((0, 0, 0, reach[0], reach[1], reach[2]),))
    free = [
        (x, y, z)
        for x, y, z in itertools.product(*(range(end + 1) for end in reach))
        if is_free((x, y, z), shape, space)
    ]
    found = lowest_free_point(variant, space)
    assert (found is None) == (not free)
    assert found is None or found in free
    # Of the free ones the first in order: x before y before z.
    assert found is None or found == min(free)
