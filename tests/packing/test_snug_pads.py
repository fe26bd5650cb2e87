"""Pads under what is round or drawn to hundredths touch it, as points on it say and as the checker finds."""

from __future__ import annotations

import math
import random
from dataclasses import replace

import pytest

from fitplan.model.part import Mount, Part
from fitplan.model.placed import NOTHING, Placement
from fitplan.model.solids import Box, Cylinder, Place, Solid, pose_named
from fitplan.packing.access.way_in import assembly_order
from fitplan.packing.vehicle.lowering import Carried
from fitplan.packing.vehicle.shelves import with_shelves

from .small_trains import hollow
from .test_additions import wrong

BODY = hollow("v", 10, 6, 12)
"""Smooth inside, from x = y = 8 mm and z = 19.2 mm on."""
FLOOR = 192


def _part(*solids: Solid) -> Placement:
    made = Part("eye", "eye", "ranger", solids, 2.0, "invented for a test", mount=Mount())
    return Placement("eye", made, "v", Place(pose_named("+x+y+z"), (0.0, 0.0, 0.0)), NOTHING)


def _padded(place: Placement, *pads: tuple[int, int, int, int, int, int]) -> tuple[Box, ...]:
    found, *_ = with_shelves(BODY, frozenset(), [place], [Carried("eye", 0, "shelf", pads=pads)])
    assert found.shelf is not None
    assert not [text for text in wrong(BODY, found) if "touch" in text or "runs into" in text]
    assert not assembly_order(BODY, (found,)).blocked  # it does not lie in its own pad
    return found.shelf.boxes


@pytest.mark.parametrize("seed", range(40))
def test_a_pad_beside_the_lowest_line_of_what_is_round_reaches_up_to_it(seed: int) -> None:
    """By points all over the underside: none lies lower over the pad, and one as low as its top."""
    dice = random.Random(seed)
    radius = dice.choice([2.5, 2.95, 8.1])
    axis = dice.choice("xy")
    at = [dice.randint(240, 400) / 10, dice.randint(200, 260) / 10]
    floor = FLOOR / 10 + dice.randint(4, 25) / 10
    round_one = Cylinder("x" if axis == "x" else "y", (at[0], at[1], floor + radius), 12.5, radius)
    lowest = math.floor(floor * 10 + 1e-6)
    across = 1 if axis == "x" else 0
    aside = round(at[across] * 10) + dice.randint(-16, 4)  # a tenth or more of it under the lowest strip
    spans = [(round(at[0] * 10), round(at[0] * 10) + 125), (round(at[1] * 10), round(at[1] * 10) + 125)]
    spans[across] = (aside, aside + 19)
    (pad,) = _padded(_part(round_one), (spans[0][0], spans[1][0], FLOOR, spans[0][1], spans[1][1], lowest))
    offs = [pad.low[across] + k / 2000 * (pad.high[across] - pad.low[across]) for k in range(2001)]
    under = [
        floor + radius - math.sqrt(radius**2 - (off - at[across]) ** 2)
        for off in offs
        if abs(off - at[across]) <= radius
    ]
    assert pad.high[2] == pytest.approx(min(under), abs=1e-5)


def test_a_pad_reaches_up_to_what_is_drawn_to_hundredths() -> None:
    """The underside at 21.25 mm, its box at 21.2; under what is drawn to tenths a pad stays as it was."""
    board = Box((24.0, 20.0, 21.25), (44.0, 30.0, 22.85))
    (pad,) = _padded(_part(board), (240, 200, FLOOR, 440, 300, 212))
    assert (pad.low[2], pad.high[2]) == pytest.approx((19.2, 21.25))
    (pad,) = _padded(_part(replace(board, low=(24.0, 20.0, 21.2))), (240, 200, FLOOR, 440, 300, 212))
    assert pad == Box((24.0, 20.0, 19.2), (44.0, 30.0, 21.2))
