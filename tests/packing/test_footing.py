"""Places at which a part stands on the body alone, against every place counted out."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fitplan.model.needed import Need
from fitplan.model.solids import Box, Place, pose_named
from fitplan.model.vehicle import BodySolid
from fitplan.packing.engine.problem import PackingProblem
from fitplan.packing.vehicle import footing
from fitplan.packing.vehicle.footing import with_a_footing
from fitplan.packing.vehicle.pack import Packer
from fitplan.packing.vehicle.packed_items import item_of
from fitplan.packing.vehicle.seats import Wanted
from tests.packing.small_trains import block, hollow


def test_a_slab_beside_a_ledge_stands_where_its_middle_lies_over_something() -> None:
    """On a ledge of a stud at the rear a slab of 40 mm tips, wherever it lies; on the floor it never does."""
    ledge = BodySolid(Box((8.0, 8.0, 19.2), (16.0, 40.0, 28.8)), "fixed")
    vehicle = hollow("v", 14, 6, 10)
    vehicle = replace(vehicle, body=(*vehicle.body, ledge))
    part = block("slab", (40.0, 20.0, 6.0))
    wanted, packer = Wanted(Need("slab", (part,)), part), Packer({"v": vehicle})
    item = item_of(wanted, packer.seats("v", wanted), vehicle, "outward", access=False)
    cavity = packer.cavity("v")
    kept = with_a_footing(cavity, PackingProblem((cavity.sure,), (item,)), item, part)
    assert 0 < len(kept.variants) <= len(item.variants)
    for variant in kept.variants:
        assert variant.domain
        for offset in variant.domain:
            x, y, z = (value / 10 for value in offset[:3])
            lies = Place(pose_named(variant.key), (x, y, z)).move_solid(part.envelope[0])
            assert isinstance(lies, Box)
            middle = lies.center[0]
            on_floor = abs(lies.low[2] - 19.2) < 0.11 and lies.low[0] > 15.9
            on_ledge = abs(lies.low[2] - 28.8) < 0.11 and 8.0 <= middle <= 16.0
            assert on_floor or on_ledge, (variant.key, lies)
    nowhere = block("lath", (90.0, 20.0, 6.0))
    only = Wanted(Need("lath", (nowhere,)), nowhere)
    lath = item_of(only, packer.seats("v", only), vehicle, "outward", access=False)
    lying = replace(lath, variants=tuple(v for v in lath.variants if v.key == "+x+y+z"))
    assert with_a_footing(cavity, PackingProblem((cavity.sure,), (lying,)), lying, nowhere) is lying


def test_of_very_many_places_some_are_kept_evenly(monkeypatch: pytest.MonkeyPatch) -> None:
    """No more than there may be, from the first to the last of all, and each of them stands."""
    vehicle = hollow("v", 14, 6, 10)
    part = block("slab", (20.0, 10.0, 6.0))
    wanted, packer = Wanted(Need("slab", (part,)), part), Packer({"v": vehicle})
    item = item_of(wanted, packer.seats("v", wanted), vehicle, "outward", access=False)
    cavity = packer.cavity("v")
    problem = PackingProblem((cavity.sure,), (item,))
    every = {one.key: one.domain for one in with_a_footing(cavity, problem, item, part).variants}
    for most in (1, 2, 5):
        monkeypatch.setattr(footing, "MOST_FOOTINGS", most)
        for variant in with_a_footing(cavity, problem, item, part).variants:
            assert 0 < len(variant.domain) <= most
            assert set(variant.domain) <= set(every[variant.key])
            assert variant.domain[0] == every[variant.key][0]
            assert most == 1 or variant.domain[-1] == every[variant.key][-1]
