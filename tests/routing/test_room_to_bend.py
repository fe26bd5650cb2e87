"""Corners without room for the smallest bend radius are led round; told is only what has no way round."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fitplan.checks.wire_bends import bend_findings
from fitplan.files.catalogue import read_catalogue
from fitplan.model.built import BuiltTrain
from fitplan.model.found import Finding
from fitplan.model.needed import Need
from fitplan.model.nets import Net, PinRef
from fitplan.model.part import Part
from fitplan.model.placed import Placement
from fitplan.model.solids import Place, poses
from fitplan.model.wired import Harness, Leg, WireEnd
from fitplan.routing.harness.harness import wire_train
from fitplan.routing.negotiation.vehicle_wiring import BEND_ROUNDS
from fitplan.routing.ways.bend_room import bends_of
from tests.packing.small_trains import block, hollow, train_of
from tests.routing.test_harness import FLOOR, Flow

HIGH = 22.4
"""Of the inside: what is as high cannot be passed above."""


def walled(walls: dict[str, tuple[float, float, float, float]]) -> BuiltTrain:
    """Return a wagon with walls (x, y, length, width), and pins close on either side of y = 24 at x = 46."""
    blocks: dict[str, tuple[Part, float, float]] = {}
    for name, (x, y, length, width) in walls.items():
        blocks[name] = (block(name, (length, width, HIGH)), x, y)
    for name, y, aside in (("p", 14.4, 6.8), ("q", 25.6, 1.2)):
        part = block(name, (8.0, 8.0, 6.0), pins=1)
        pins = (replace(part.pins[0], at=(1.0, aside, 6.0)),)
        blocks[name] = (replace(part, pins=pins), 46.0, y)
    needs = tuple(Need(name, (part,)) for name, (part, _, _) in blocks.items())
    net = Net("n", "supply", (PinRef("p", "p0"), PinRef("q", "p0")))
    base = train_of((replace(hollow("a", 12, 6, 7, kind="loco"), ports=()),), needs)
    train = replace(base, nets=(net,), catalogue={**read_catalogue(), **{n: b[0] for n, b in blocks.items()}})
    placements = tuple(
        Placement(name, part, "a", Place(poses()[0], (x, y, FLOOR)), "the body")
        for name, (part, x, y) in blocks.items()
    )
    return BuiltTrain(train, placements, Harness(), ())


END = WireEnd("connector", "c", "1", "a", (0.0, 0.0, 0.0), 3.0)
PLATE = (24.0, 23.2, 32.0, 1.6)
"""A thin wall between the pins that ends at x = 56: the way round its end is a hairpin."""
FAT = (16.0, 18.0, 8.0, 12.0)
"""What the other end of the wall has: a wire turns there in two wide corners."""


def wire(built: BuiltTrain) -> tuple[Harness, tuple[Finding, ...]]:
    """Return the harness and what is said of bends."""
    harness = wire_train(built, {"n": Flow(10.0, 10.0)}).harness
    bends = [bends_of(wire, leg) for wire in harness.wires for leg in wire.legs]
    return harness, bend_findings(bends)[0]


def cautions(findings: tuple[Finding, ...]) -> list[Finding]:
    """Return the findings that are more than notes."""
    return [finding for finding in findings if finding.severity != "note"]


def test_a_hairpin_is_led_round_in_a_wide_curve() -> None:
    """Where there is room beside the end of a wall the wire turns with its radius, a little longer."""
    harness, findings = wire(walled({"plate": PLATE, "fat": FAT}))
    assert cautions(findings) == []
    (only,) = harness.wires
    bends = bends_of(only, only.legs[0])
    assert bends.tightest_mm >= 2 * only.outer_mm - 1e-6
    assert max(point[0] for point in only.legs[0].points) > 56.5


def test_the_tightest_corner_is_told_where_the_wire_runs() -> None:
    """Two corners of a thick cable count as the one that they are cut from; told is a point of the way."""
    harness, _ = wire(walled({"plate": PLATE, "fat": FAT}))
    leg = Leg("a", ((0.0, 0.0, 0.0), (12.0, 0.0, 0.0), (18.0, 6.0, 0.0), (18.0, 20.0, 0.0)))
    thick = replace(harness.wires[0], outer_mm=6.0, legs=(leg,), start=END, end=END)
    x, y, z = bends_of(thick, leg).at
    assert (round(x, 6), round(y, 6), z) == (15.0, 3.0, 0.0)


def test_the_longer_way_with_room_is_taken() -> None:
    """Where the hairpin has no room for a curve the wire goes round the other end, though that is longer."""
    # A post leaves room for the wire at the end of the wall, and none for a wider curve.
    post = (59.2, 16.0, 4.0, 16.0)
    beyond = {
        "plate": PLATE,
        "fat": FAT,
        "post": post,
        "left": (59.2, 8.0, 4.0, 8.0),
        "right": (59.2, 32.0, 4.0, 8.0),
    }
    harness, findings = wire(walled(beyond))
    assert cautions(findings) == []
    (only,) = harness.wires
    assert min(point[0] for point in only.legs[0].points) < 16.0
    assert only.bare_mm > 60.0


def test_a_corner_that_cannot_be_avoided_is_told() -> None:
    """With the other end closed off the hairpin stays, and is a caution with its place."""
    post = (59.2, 16.0, 4.0, 16.0)
    shut = (8.0, 23.2, 16.0, 1.6)
    walls = {
        "plate": PLATE, "shut": shut, "post": post,
        "left": (59.2, 8.0, 4.0, 8.0), "right": (59.2, 32.0, 4.0, 8.0),
    }  # fmt: skip
    harness, findings = wire(walled(walls))
    assert harness.unreached == ()
    (caution,) = cautions(findings)
    assert caution.figure < caution.limit
    assert caution.where.startswith("a at 5")


@pytest.mark.parametrize("rounds", [0, BEND_ROUNDS])
def test_rounds_are_what_makes_the_difference(rounds: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Without a second look the hairpin is there and told; with it, it is gone."""
    monkeypatch.setattr("fitplan.routing.negotiation.vehicle_wiring.BEND_ROUNDS", rounds)
    _, findings = wire(walled({"plate": PLATE, "fat": FAT}))
    assert bool(cautions(findings)) == (rounds == 0)
