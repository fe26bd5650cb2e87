"""What of a wire lies over couplings, and what its ends are: each piece with figures by hand."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from fitplan.model.wiring import Allowances
from fitplan.routing.harness.chains import PassedSegment
from fitplan.routing.harness.wires import (
    _allowed,
    _comes_out,
    _cut,
    _detours,
    _end,
    _leg,
    _port,
    _straight,
    splices_of,
)
from fitplan.routing.map.ends import NetEnd
from fitplan.routing.map.topology import Portal, Segment, SpliceSpot
from fitplan.routing.negotiation.layout import LaidDetour, LaidSegment, Pulled

NOWHERE = np.zeros((0, 3), dtype=np.int32)
ONE, TWO, LOST = Portal("n", 0, 1), Portal("n", 1, 1), Portal("n", 2, 1)
PIN = NetEnd("n", "p", "p0", "a", (1.0, 2.0, 3.0), "+x")
SPLICE = SpliceSpot("n", "a", (4, 5, 6))
BY = Allowances()
OVER = ((ONE, 10.0, 18.0, 3.0), (TWO, 20.0, 31.0, 5.0))
"""Couplings: on straight track, free, and slack in mm."""


def link(start: Any, end: Any, vehicle: str = "a", forwards: bool = True) -> PassedSegment:
    return PassedSegment(LaidSegment(Segment("n", vehicle, start, end), NOWHERE, (), NOWHERE), forwards)


def material(*links: PassedSegment, **more: Any) -> Any:
    """Return couplings of 10 and 20 mm (with 3 and 5 of slack: 18 and 31 free), and ways of 100 mm each."""
    couplings = {
        portal: SimpleNamespace(
            name=f"J{number + 1}", cavity=lambda portal: 7,
            length=SimpleNamespace(straight_mm=straight, free_mm=free, slack_mm=slack),
        )
        for number, (portal, straight, free, slack) in enumerate(OVER)
    }  # fmt: skip
    ways = {
        id(one.laid): Pulled(((0.0, 0.0, 0.0), (5.0, 1.0, 1.0), (9.0, 9.0, 9.0)), 100.0, 100.0, (90.0, 20.0))
        for one in links
    }
    layout = SimpleNamespace(
        true_points=lambda vehicle, points: tuple(points), true_point=lambda vehicle, point: point,
        couplings={
            portal: SimpleNamespace(
                ahead=ahead, port_ahead=SimpleNamespace(name=f"rear of {ahead}"),
                port_behind=SimpleNamespace(name=f"front of {behind}"),
            )
            for portal, ahead, behind in ((ONE, "a", "b"), (TWO, "b", "c"), (LOST, "c", "d"))
        },
        maps={
            "a": SimpleNamespace(
                frame=SimpleNamespace(center=lambda voxel: tuple(0.12345678 + c for c in voxel))
            )
        },
    )  # fmt: skip
    built = SimpleNamespace(placement=lambda need: None)
    given = {
        "couplings": couplings, "of": lambda laid: ways[id(laid)], "allowances": BY, "layout": layout,
        "built": built, "splices": {SPLICE: "S3"}, "detours": {},
    }  # fmt: skip
    return SimpleNamespace(**{**given, **more})


@pytest.mark.parametrize(
    ("chain", "straight", "free", "slack"),
    [
        ([(PIN, SPLICE)], 0.0, 0.0, 0.0),
        ([(PIN, ONE), (ONE, PIN)], 10.0, 15.0, 3.0),
        ([(PIN, ONE), (ONE, TWO), (TWO, PIN)], 30.0, 41.0, 8.0),
        ([(PIN, ONE)], 5.0, 7.5, 1.5),  # half of what lies over a coupling where a connector parts it
        ([(ONE, PIN)], 5.0, 7.5, 1.5),
        ([(ONE, TWO)], 15.0, 20.5, 4.0),
        ([(PIN, ONE), (ONE, TWO)], 20.0, 28.0, 5.5),
        ([(PIN, LOST)], 0.0, 0.0, 0.0),  # nothing goes on beyond
        ([(LOST, PIN)], 0.0, 0.0, 0.0),
        ([(PIN, LOST), (LOST, PIN)], 0.0, 0.0, 0.0),
    ],
)
def test_what_of_a_wire_lies_over_couplings(chain: Any, straight: float, free: float, slack: float) -> None:
    links = tuple(link(*ends) for ends in chain)
    known = material(*links)
    assert _straight(links, known) == straight
    cut = _cut(links, known)
    told = dict(cut.additions)
    assert told.get("over couplings", 0.0) == free
    assert told.get("slack at couplings", 0.0) == slack
    assert cut.bare_mm == 100.0 * len(links)
    # Of each way one corner turns by more than is counted from on.
    assert told["bends"] == BY.per_bend * len(links)


def test_ends_are_pins_splices_and_cavities() -> None:
    known = material()
    at = (8.0, 8.0, 8.0)
    pin, splice, connector, lost = (_end(node, at, "a", known) for node in (PIN, SPLICE, ONE, LOST))
    assert (pin.kind, pin.owner, pin.pin, pin.at, pin.strip_mm) == ("pin", "p", "p0", PIN.at, BY.strip)
    assert (splice.kind, splice.owner, splice.pin, splice.at) == ("splice", "S3", "", at)
    assert splice.strip_mm == BY.splice_overlap
    assert (connector.kind, connector.owner, connector.pin, connector.at) == ("connector", "J1", "7", at)
    assert connector.strip_mm == BY.strip
    assert (lost.kind, lost.owner, lost.pin) == ("connector", "", "")
    assert [_allowed(node, known).kind for node in (PIN, SPLICE, ONE)] == ["pin", "splice", "connector"]
    assert not any(_allowed(node, known).comes_out for node in (PIN, SPLICE, ONE))


@pytest.mark.parametrize("forwards", [True, False])
def test_legs_and_detours_run_as_the_wire_does(forwards: bool) -> None:
    """Backwards the points come in the other order, and it enters where it would leave."""
    one = link(PIN, ONE, "a", forwards)
    shorter = LaidDetour("why", 2.5, ((0.0, 0.0, 0.0), (9.0, 9.0, 9.0)))
    known = material(one, detours={id(one.laid): shorter})
    leg = _leg(one, known)
    order = slice(None, None, 1 if forwards else -1)
    points: Any = leg.points
    assert points == ((0.0, 0.0, 0.0), (5.0, 1.0, 1.0), (9.0, 9.0, 9.0))[order]
    assert (leg.enters, leg.leaves) == (("", "rear of a") if forwards else ("rear of a", ""))
    (told,) = _detours((one, link(PIN, PIN)), known)
    assert (told.vehicle, told.why, told.more_mm, told.shortest) == ("a", "why", 2.5, shorter.shortest[order])
    assert [_port(ONE, name, known) for name in "ab"] == ["rear of a", "front of b"]
    assert _port(SPLICE, "a", known) == ""


def test_splices_list_the_wires_that_meet_in_them() -> None:
    def wire(number: int, start: tuple[str, str], end: tuple[str, str]) -> Any:
        return SimpleNamespace(
            number=number, start=SimpleNamespace(kind=start[0], owner=start[1]),
            end=SimpleNamespace(kind=end[0], owner=end[1]),
        )  # fmt: skip

    s3, s4, pin = ("splice", "S3"), ("splice", "S4"), ("pin", "S3")
    wires: Any = (wire(1, pin, s3), wire(2, s3, s4), wire(3, s4, pin), wire(4, s3, pin))
    (splice,) = splices_of(material(), wires)
    assert (splice.name, splice.net, splice.vehicle, splice.wires) == ("S3", "n", "a", (1, 2, 4))
    assert splice.at == (4.1235, 5.1235, 6.1235)


@pytest.mark.parametrize("often", [False, True])
@pytest.mark.parametrize("wanted", [False, True])
@pytest.mark.parametrize(
    ("row", "out"),
    [
        (None, False),
        (("cell", True, ("p",), False), True),
        (("cell", False, ("p",), False), False),
        (("cell", True, ("q",), False), False),
        (("p", False, (), True), True),
        (("p", True, (), False), False),
        (("cell", True, (), True), False),
    ],
)
def test_what_comes_out_again(often: bool, wanted: bool, row: Any, out: bool) -> None:
    """What is used often or to be exchanged, what is in the way of such, and what comes out by itself."""
    exchanged = () if row is None else (
        SimpleNamespace(need=row[0], often=row[1], parts_out=row[2], itself=row[3]),
    )  # fmt: skip
    part = SimpleNamespace(access=(SimpleNamespace(often=False), SimpleNamespace(often=often)))
    built: Any = SimpleNamespace(
        placement=lambda need: SimpleNamespace(part=part) if need == "p" else None,
        need_of=lambda placement: SimpleNamespace(exchange=SimpleNamespace(wanted=wanted)),
        exchanged=exchanged,
    )  # fmt: skip
    assert _comes_out("p", built) is (often or wanted or out)
    assert not _comes_out("gone", built)
