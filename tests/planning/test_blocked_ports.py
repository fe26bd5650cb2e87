"""Parts in ports that wires pass are seen before wires are tried."""

from __future__ import annotations

from dataclasses import replace

from fitplan.model.built import BuiltTrain
from fitplan.model.needed import Need
from fitplan.model.placed import Placement
from fitplan.model.solids import Place, pose_named
from fitplan.model.wired import Harness
from fitplan.planning.blocked_ports import with_blocked_ports
from tests.packing.small_trains import block, hollow, train_of


def test_a_part_in_a_port_counts_only_where_wires_pass_it() -> None:
    """The wagon's front hole lies towards the loco; its rear hole leads nowhere."""
    loco, wagon = hollow("loco", 12, 6, 10, kind="loco"), hollow("wagon", 12, 6, 10)
    part = block("b", (16.0, 6.0, 5.0))
    needs = (Need("one", (part,)), Need("other", (part,)))
    train = train_of((loco, wagon), needs, (("wire", ("one.p0", "other.p0")),))
    stand = pose_named("+x+y+z")
    ahead = Placement("one", part, "loco", Place(stand, (30.0, 12.0, 19.2)), "the body")
    inside = Placement("other", part, "wagon", Place(stand, (40.0, 12.0, 19.2)), "the body")
    at = {"rear": (-2.0, 21.0, 19.2), "front": (85.0, 21.0, 19.2)}
    built = BuiltTrain(train, (ahead, inside), Harness(), ())
    assert with_blocked_ports(built) == frozenset()
    for where, blocked in (("rear", frozenset()), ("front", frozenset({"wagon"}))):
        moved = replace(inside, place=Place(stand, at[where]))
        assert with_blocked_ports(replace(built, placements=(ahead, moved))) == blocked
