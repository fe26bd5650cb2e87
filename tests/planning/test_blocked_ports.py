"""Parts in ports that wires pass are seen before wires are tried."""

from __future__ import annotations

from dataclasses import replace

from fitplan.model.built import BuiltTrain
from fitplan.model.needed import Need
from fitplan.model.placed import Placement
from fitplan.model.solids import Place, pose_named
from fitplan.model.vehicle import BodySolid
from fitplan.model.wired import Harness
from fitplan.packing.vehicle.pack import Packer
from fitplan.packing.vehicle.seats import Wanted
from fitplan.planning.blocked_ports import with_blocked_ports
from fitplan.planning.wire_wishes import wishes_of
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


def test_loose_places_keep_out_of_the_ports_that_wires_pass() -> None:
    """Wishes name the openings that are passed; a part that is wanted at one lies before it, never in it."""
    loco, wagon = hollow("loco", 12, 6, 10, kind="loco"), hollow("wagon", 12, 6, 10)
    front, rear = wagon.ports
    wagon = replace(wagon, body=(*wagon.body, *(BodySolid(port.box, "free") for port in wagon.ports)))
    part = block("b", (5.0, 5.0, 3.0))
    needs = (Need("one", (part,)), Need("other", (part,)))
    train = train_of((loco, wagon), needs, (("wire", ("one.p0", "other.p0")),))
    stand = pose_named("+x+y+z")
    ahead = Placement("one", part, "loco", Place(stand, (30.0, 12.0, 19.2)), "the body")
    inside = Placement("other", part, "wagon", Place(stand, (40.0, 12.0, 19.2)), "the body")
    built = BuiltTrain(train, (ahead, inside), Harness(), ())
    wishes = wishes_of(built, train.vehicle("wagon"))
    kept = {one.box: one.weight for one in wishes.clear}
    assert rear.box not in kept
    # Wired to the far end of the opening, the part would lie in it.
    at_the_mouth = replace(wishes, nets=tuple(replace(net, points=(front.mouth,)) for net in wishes.nets))
    blocked = []
    for clear in (wishes.clear, tuple(one for one in wishes.clear if one.box != front.box)):
        asked = replace(at_the_mouth, clear=clear)
        found = Packer({"wagon": wagon}).pack_roomily("wagon", [Wanted(needs[1], part)], frozenset(), asked)
        assert found is not None
        blocked.append(with_blocked_ports(replace(built, placements=(ahead, *found.placements))))
    assert blocked == [frozenset(), frozenset({"wagon"})]
