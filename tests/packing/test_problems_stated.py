"""Problems that are stated wrongly are refused, each for its own reason; flat boxes of offsets are right."""

from __future__ import annotations

import re

import pytest

from fitplan.packing.engine.problem import (
    IntBox,
    Item,
    ItemClearance,
    PackingProblem,
    Shape,
    Space,
    Variant,
    anywhere,
    block,
    blocks,
)

HULL: IntBox = (0, 0, 0, 30, 20, 10)
CUBE: IntBox = (0, 0, 0, 4, 4, 4)
POINT: IntBox = (3, 3, 3, 3, 3, 3)


def item(
    *solid: IntBox, domain: tuple[IntBox, ...] = (POINT,), space: int = 0, room: IntBox | None = None
) -> Item:
    clearances = (ItemClearance(room, clear_of_obstacles=True),) if room is not None else ()
    return Item("one", (Variant("v", Shape(solid, clearances), domain, space),))


FLAT: list[IntBox] = [
    (0, 0, 0, 0, 4, 4),
    (0, 0, 0, 4, 0, 4),
    (0, 0, 0, 4, 4, 0),
    (4, 0, 0, 0, 4, 4),
    (0, 4, 0, 4, 0, 4),
    (0, 0, 4, 4, 4, 0),
]


def refused(made: object, words: str) -> None:
    with pytest.raises(ValueError, match=re.escape(words)):
        made()  # type: ignore[operator]


def test_problems_that_are_right() -> None:
    one = item(CUBE, domain=(POINT, (1, 2, 3, 1, 5, 3)), room=(4, 0, 0, 5, 4, 4))
    two = PackingProblem((Space(HULL), Space(HULL)), (one, block("two", (2, 3, 4), Space(HULL), 1)))
    assert [entry.name for entry in two.items] == ["one", "two"]
    assert two.only(["two", "three"]).items == two.items[1:]
    assert len(two.items[1].variants) == 6
    assert len(block("cube", (3, 3, 3), Space(HULL)).variants) == 1
    assert [v.key for v in block("long", (25, 2, 2), Space(HULL)).variants] == ["25×2×2"]


@pytest.mark.parametrize("flat", FLAT)
def test_boxes_without_volume_are_refused_wherever_they_stand(flat: IntBox) -> None:
    words = f"box {flat} has no volume"
    refused(lambda: Space(flat), words)
    refused(lambda: Space(HULL, (CUBE, flat)), words)
    refused(lambda: Space(HULL, walls=(flat,)), words)
    refused(lambda: PackingProblem((Space(HULL),), (item(CUBE, flat),)), f"one: {words}")
    refused(lambda: PackingProblem((Space(HULL),), (item(CUBE, room=flat),)), f"one: {words}")


@pytest.mark.parametrize("axis", [0, 1, 2])
def test_boxes_of_offsets_may_be_flat_but_not_turned_inside_out(axis: int) -> None:
    box = [3, 3, 3, 5, 5, 5]
    box[axis + 3] = 3
    flat: IntBox = (box[0], box[1], box[2], box[3], box[4], box[5])
    PackingProblem((Space(HULL),), (item(CUBE, domain=(flat,)),))
    box[axis + 3] = 2
    turned: IntBox = (box[0], box[1], box[2], box[3], box[4], box[5])
    refused(
        lambda: PackingProblem((Space(HULL),), (item(CUBE, domain=(POINT, turned)),)),
        "one: a domain box is turned inside out",
    )


@pytest.mark.parametrize("space", [-1, 1, 2])
def test_a_space_that_is_not_there_is_refused(space: int) -> None:
    refused(lambda: PackingProblem((Space(HULL),), (item(CUBE, space=space),)), f"one: no space {space}")
    refused(lambda: PackingProblem((Space(HULL),), (item(),)), "one: a shape needs a solid box")
    refused(lambda: PackingProblem((Space(HULL),), (item(CUBE), item(CUBE))), "two items share a name")


def test_offsets_that_keep_a_shape_in_a_hull() -> None:
    """A shape 4 long from 2 to 6: from -2 on, up to 24; as long as the hull one offset; longer none."""
    assert anywhere(Shape(((2, -1, 0, 6, 3, 4),)), HULL) == ((-2, 1, 0, 24, 17, 6),)
    assert anywhere(Shape(((0, 0, 0, 30, 20, 10),)), HULL) == ((0, 0, 0, 0, 0, 0),)
    for wide in ((31, 20, 10), (30, 21, 10), (30, 20, 11)):
        assert anywhere(Shape(((0, 0, 0, *wide),)), HULL) == ()
    assert len(blocks([(1, 2, 3), (2, 2, 2)], Space(HULL)).items) == 2
