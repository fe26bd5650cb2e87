"""A cab turned on its plate, a quarter at a time: the same bricks go for a window, wherever it then looks."""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import replace

import pytest

from fitplan.files.layers import body_of_layers
from fitplan.model.needed import Need
from fitplan.model.solids import Box, Vec
from fitplan.model.vehicle import Vehicle, Window
from fitplan.packing.vehicle.pack import Packer
from fitplan.packing.vehicle.seats import Wanted
from fitplan.packing.vehicle.wider_window import wider_window
from fitplan.units import PLATE, STUD

from .small_trains import hollow
from .test_wider_window import MEANINGS, STEP, cab, eye, fewest


def quarter(vehicle: Vehicle) -> Vehicle:
    """The same vehicle seen after a quarter turn to the left: what was ahead lies on the left, at high y."""
    wide = vehicle.studs_wide
    (window,) = vehicle.windows

    def at(box: Box) -> Box:
        low: Vec = (wide * STUD - box.high[1], box.low[0], box.low[2])
        return Box(low, (wide * STUD - box.low[1], box.high[0], box.high[2]))

    layers = []
    for layer in vehicle.layers:
        cells = layer.rows[::-1]  # by y from low to high
        lines = ["".join(cells[wide - 1 - i][j] for i in range(wide)) for j in range(vehicle.studs_long)]
        layers.append(replace(layer, rows=tuple(lines[::-1])))
    ways = {"+x": "+y", "+y": "-x", "-x": "-y"}
    turned = Window("pane", at(window.box), ways[window.out])  # type: ignore[arg-type]
    plain = hollow("cab", wide, vehicle.studs_long, len(layers) - 2, kind="loco", windows=(turned,))
    return replace(
        plain,
        layers=tuple(layers),
        body=body_of_layers(layers, MEANINGS),
        characters=vehicle.characters,
        removables=vehicle.removables,
    )


def turns(vehicle: Vehicle) -> Iterator[Vehicle]:
    yield vehicle
    for _ in range(3):
        vehicle = quarter(vehicle)
        yield vehicle


@pytest.mark.parametrize("seed", range(6))
def test_as_many_bricks_go_whichever_way_a_window_looks(seed: int) -> None:
    """How many, which they are, and how wide it then is; only the plates may lie another way."""
    rng = random.Random(100 + seed)
    y0, k0 = rng.randint(1, 3), rng.randint(1, 3)
    vehicle = cab((y0, y0 + rng.randint(1, 2), k0, k0 + rng.randint(1, 3)))
    wide, high = rng.randint(25, 44) * STEP, rng.randint(9, 20) * STEP
    lens_w, lens_h = rng.randint(12, 24) * STEP, rng.randint(5, 9) * STEP
    lens = ((wide - lens_w) // (2 * STEP) * STEP, 0.0, lens_w, lens_h)
    part = eye((rng.randint(9, 15) * STEP, wide, high), lens)
    part = replace(part, mount=replace(part.mount, upright=True, turnable=True))
    need = Need("eye", (part,), looks=("cab", "pane"))
    found = []
    for one in turns(vehicle):
        offer = wider_window(Packer({"cab": one}), "cab", Wanted(need, part))
        assert offer is not None
        found.append((offer.size, offer.least, offer.alone))
        assert sum(round(box.volume / (STUD * STUD * PLATE)) for box in offer.out) == offer.size
    best = fewest(vehicle, vehicle.windows[0], part)
    assert found == [(best, best, False)] * 4
