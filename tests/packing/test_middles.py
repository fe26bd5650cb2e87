"""A ranger is held to the middle of its window, and brought there where other parts make way."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fitplan.model.electrical import Ranger
from fitplan.model.needed import Need
from fitplan.model.part import Mount, Part
from fitplan.model.solids import Box
from fitplan.model.vehicle import Window
from fitplan.packing.vehicle.pack import Packer
from fitplan.packing.vehicle.seats import Wanted
from fitplan.planning.lens_middles import with_lenses_in_the_middle
from fitplan.planning.run_state import PlanningRun
from tests.packing.small_trains import block, hollow, train_of

SLIT = Window("slit", Box((88.0, 8.0, 19.2), (96.0, 40.0, 51.2)), "+x")


def eye() -> Part:
    """Return a ranger, 8 mm wide, that looks forwards with all of its front."""
    mount = Mount(looks="+x", lens=Box((10.0, 0.0, 0.0), (10.0, 8.0, 20.0)), turnable=False)
    figures = Ranger("sound", 15.0, 20.0, 3000.0, 60.0)
    return replace(block("eye", (10.0, 8.0, 20.0), mount=mount), electrical=(figures,))


@pytest.mark.parametrize(("wide", "comes"), [(8.0, True), (12.0, True), (20.0, False)])
def test_a_ranger_comes_to_the_middle_where_what_lies_beside_it_leaves_it(wide: float, comes: bool) -> None:
    """Beside it stands a block as long as the room, 32 mm wide: past 12 mm the middle is not to be had."""
    body = hollow("van", 12, 6, 10, windows=(SLIT,))
    needs = (
        Need("eye", (eye(),), looks=("van", "slit")),
        Need("load", (block("load", (80.0, wide, 12.0), mount=Mount(turnable=False)),)),
    )
    train = train_of((body,), needs)
    wanted = tuple(Wanted(need, need.candidates[0]) for need in needs)
    packed = Packer({"van": body}).pack_as_it_is("van", wanted)
    assert packed.verdict == "fits"
    (found,) = with_lenses_in_the_middle(PlanningRun.of(train), train, (packed,))
    lens = next(place for place in found.placements if place.need == "eye").bounds
    assert (lens.center[1] == pytest.approx(24.0, abs=0.06)) == comes
    if not comes:
        assert found is packed
